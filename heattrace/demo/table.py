"""A table of texts, as a practice file holds it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Table:
    """Header and rows of texts; `numbers` names the columns that a workbook keeps as numbers with their decimals."""

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[str] = frozenset()

    def column(self, name: str) -> list[str]:
        """The texts of one column."""
        place = self.header.index(name)
        return [row[place] for row in self.rows]

    def by_name(self) -> list[dict[str, str]]:
        """The rows as mappings from header to text."""
        return [dict(zip(self.header, row, strict=True)) for row in self.rows]


def table(name: str, header: str, rows: Iterable[Mapping[str, str]], numbers: str = "") -> Table:
    """Make a table; `header` and `numbers` are names between blanks, a column a row does not name is empty."""
    names = tuple(header.split())
    filled = []
    for row in rows:
        unknown = set(row) - set(names)
        if unknown:
            raise ValueError(f"{name}: no column {', '.join(sorted(unknown))}")
        filled.append(tuple(row.get(column, "") for column in names))
    return Table(name, names, tuple(filled), frozenset(numbers.split()))


def instant(moment: datetime) -> str:
    """RFC 3339 with offset, to the second."""
    return moment.isoformat(timespec="seconds")
