"""Backup and verified restore; a restore only ever writes a new file."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from heattrace.errors import DatabaseRefused
from heattrace.store.engine import open_file, refuse_network_share
from heattrace.store.ledger import verify_chain
from heattrace.store.migrate import copy_file
from heattrace.store.reader import Reader


def back_up(db: str, to: Path) -> tuple[int, str]:
    """Copy the database to a new file and check the copy; give its size in bytes and its ledger tip.

    Raises
    ------
    DatabaseRefused
        The target exists or cannot be written, or the copy does not hold.
    """
    connection, _ = open_file(db, any_schema=True)
    with closing(connection):
        return _copy_checked(connection, to)


def restore(backup: Path, to: Path) -> tuple[int, str]:
    """Copy a backup to a new file and check it; give its size in bytes and its ledger tip.

    Raises
    ------
    DatabaseRefused
        The target exists, or the backup is foreign, newer, damaged, or its ledger is broken.
    """
    connection, _ = open_file(str(backup), any_schema=True)
    with closing(connection):
        return _copy_checked(connection, to)


def _copy_checked(source: sqlite3.Connection, to: Path) -> tuple[int, str]:
    if to.exists() or to.is_symlink():
        raise DatabaseRefused(f"{to}: exists; only a new file is ever written. Name another")
    if not to.parent.is_dir():
        raise DatabaseRefused(f"{to}: the folder {to.parent} does not exist")
    refuse_network_share(to)
    making = to.with_name(to.name + ".making")
    making.unlink(missing_ok=True)
    try:
        copy_file(source, making)
        with closing(sqlite3.connect(making)) as copy:
            problem = copy.execute("PRAGMA integrity_check").fetchone()[0]
            chain = verify_chain(Reader(copy))
            if problem != "ok" or chain.broken_at is not None:
                words = problem if problem != "ok" else f"the ledger is broken at entry {chain.broken_at}"
                raise DatabaseRefused(f"the copy does not hold ({words}); nothing was left at {to}")
        making.rename(to)
    except sqlite3.DatabaseError as fault:
        raise DatabaseRefused(f"the file cannot be copied ({fault}); nothing was left at {to}") from None
    finally:
        for left in (making, Path(f"{making}-wal"), Path(f"{making}-shm"), Path(f"{making}-journal")):
            left.unlink(missing_ok=True)
    return to.stat().st_size, chain.tip
