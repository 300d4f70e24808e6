"""One unit of work: everything is written with its ledger entry, or nothing is."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

from heattrace.config import now_ms
from heattrace.errors import HeattraceError
from heattrace.store import ledger
from heattrace.store.engine import open_file, plain_faults
from heattrace.store.reader import Reader

if TYPE_CHECKING:
    from sqlmodel import SQLModel


class Work:
    """A write transaction that ends in exactly one ledger entry, or leaves no trace.

    `entry_no` is the entry being written; every row written here carries it. What belongs into the ledger goes into
    `payload` before `commit`.
    """

    def __init__(
        self, connection: sqlite3.Connection, *, by: str, action: str, subject: str, now: int, name: str = ""
    ) -> None:
        self.connection = connection
        self.reader = Reader(connection, name=name)
        self.by = by
        self.action = action
        self.subject = subject
        self.now = now
        self.payload: dict[str, Any] = {}
        self.entry_no: int = int(self.reader.scalar("SELECT coalesce(max(entry_no), 0) + 1 FROM ledger"))
        self.committed = False

    def add(self, record: SQLModel) -> int:
        """Write one record and give its key; its `entry_no` is set here."""
        table = type(record).__table__  # type: ignore[attr-defined]
        names, values = [], []
        for column in table.columns:
            value = getattr(record, column.key, None)
            if value is None and column.name == "entry_no":
                value = self.entry_no
            if value is None:
                continue
            names.append(column.name)
            values.append(value)
        statement = f"INSERT INTO {table.name} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})"
        key = self.connection.execute(statement, values).lastrowid
        return int(key or 0)

    def bulk_insert(self, table: str, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> int:
        """Write many rows of one table at once; give how many. Sort them by key: random order is several times slower.

        Rows carry every named column, `entry_no` too where the table has it.
        """
        statement = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
        return self.connection.executemany(statement, rows).rowcount

    def next_key(self, table: str, column: str) -> int:
        """The first free surrogate key; safe because this transaction holds the write lock."""
        return int(self.reader.scalar(f"SELECT coalesce(max({column}), 0) + 1 FROM {table}"))

    def end(self, table: str, column: str, keys: Iterable[int]) -> int:
        """End rows by key: superseded or undone by the entry being written; give how many."""
        return self.connection.executemany(
            f"UPDATE {table} SET ended_no = ? WHERE {column} = ? AND ended_no IS NULL",
            [(self.entry_no, key) for key in keys],
        ).rowcount

    def commit(self) -> int:
        """Write the ledger entry and make everything durable; give the entry's number."""
        entry = ledger.next_entry(
            self.reader, at=self.now, by=self.by, action=self.action, subject=self.subject, payload=self.payload
        )
        self.connection.execute(ledger.INSERT, entry.row())
        self.connection.execute("COMMIT")
        self.committed = True
        return entry.entry_no


@contextmanager
def begin_work(db: str, *, by: str, action: str, subject: str, now: int | None = None) -> Iterator[Work]:
    """Open a database for one unit of work.

    Leaving the block without `commit` forgets everything. The write lock is taken at once, so that two writers wait
    for each other instead of failing half-way.

    Raises
    ------
    DatabaseRefused
        The database cannot be opened or written, the disk is full, or another writer held it for more than 30 seconds.
    """
    connection, path = open_file(db)
    try:
        with plain_faults(path):
            connection.execute("BEGIN IMMEDIATE")
            work = Work(
                connection, by=by, action=action, subject=subject, now=now_ms() if now is None else now, name=str(path)
            )
            try:
                yield work
            except BaseException as error:
                if isinstance(error, HeattraceError):
                    error.practice = work.reader.is_practice()
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise
        if work.committed:
            _look_to_statistics(connection)
        elif connection.in_transaction:
            connection.execute("ROLLBACK")
    finally:
        connection.close()


def _look_to_statistics(connection: sqlite3.Connection) -> None:
    # The work is durable by now: another writer that holds the lock, or a full disk, must not make it look failed.
    with suppress(sqlite3.OperationalError):
        connection.execute("PRAGMA analysis_limit=1000")
        connection.execute("PRAGMA optimize")
