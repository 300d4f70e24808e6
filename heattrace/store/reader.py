"""Reading by plain SQL, on a bare database connection: no table classes, no heavy imports."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from types import TracebackType
from typing import Any, Self

from heattrace.errors import HeattraceError

Row = sqlite3.Row

_LIVE = re.compile(r"\{live:(\w+)\}")

# An entry number beyond every ledger: "as the record stands now".
NOW = None


@lru_cache(maxsize=512)
def expand(sql: str, as_of: int | None) -> str:
    """Put the condition for `{live:alias}`: the row stands now, or stood when entry `as_of` had been written."""
    if as_of is None:
        return _LIVE.sub(r"\1.ended_no IS NULL", sql)
    return _LIVE.sub(
        rf"(\1.entry_no <= {int(as_of)} AND (\1.ended_no IS NULL OR \1.ended_no > {int(as_of)}))",
        sql,
    )


def listed(numbers: Iterable[int]) -> str:
    """Whole numbers as the inside of an SQL list; an empty list matches nothing."""
    return ",".join(str(int(n)) for n in numbers) or "NULL"


class Reader:
    """A database connection that only reads.

    SQL is written for both databases: `:name` parameters, `{live:alias}` for rows that stand. A statement that takes a
    list of row keys holds `{keys}`.
    """

    def __init__(self, connection: sqlite3.Connection, *, name: str = "", as_of: int | None = None) -> None:
        self.connection = connection
        self.name = name
        self.as_of = as_of
        self._practice: bool | None = None

    def cursor(self, sql: str, parameters: dict[str, Any]) -> sqlite3.Cursor:
        """Run a statement and give its cursor."""
        cursor = self.connection.cursor()
        cursor.row_factory = sqlite3.Row
        return cursor.execute(expand(sql, self.as_of), parameters)

    def all(self, sql: str, /, **parameters: Any) -> list[Row]:
        """All rows."""
        return self.cursor(sql, parameters).fetchall()

    def one(self, sql: str, /, **parameters: Any) -> Row | None:
        """The first row, or None."""
        row: Row | None = self.cursor(sql, parameters).fetchone()
        return row

    def scalar(self, sql: str, /, **parameters: Any) -> Any:
        """The first column of the first row, or None."""
        row = self.cursor(sql, parameters).fetchone()
        return None if row is None else row[0]

    def by_keys(self, sql: str, keys: Sequence[int], /, **parameters: Any) -> Iterator[Row]:
        """Rows of a statement that holds `{keys}`, asked in lots so that no statement grows without bound."""
        for start in range(0, len(keys), 900):
            yield from self.cursor(sql.replace("{keys}", listed(keys[start : start + 900])), parameters)

    def is_practice(self) -> bool:
        """Whether the database is marked practice."""
        if self._practice is None:
            self._practice = self.scalar("SELECT value FROM file_mark WHERE name = 'practice'") == "yes"
        return self._practice

    def close(self) -> None:
        """Close the connection."""
        self.connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if isinstance(error, HeattraceError):
            error.practice = self.is_practice()
        self.close()
