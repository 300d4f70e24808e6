"""Which rows of the record refer to a row, found through the foreign keys of the tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

from heattrace.store.reader import Reader
from heattrace.values import dataclass

# Looked up by everybody, belonging to nobody.
_LOOKED_UP = frozenset(("ledger", "element", "result_form"))


@dataclass(frozen=True, slots=True)
class Reference:
    """A column of a table that refers to another table's key."""

    table: str
    column: str
    to: str
    key: str


@cache
def references() -> tuple[Reference, ...]:
    """Every reference between tables, parents first, but those to the ledger and to look-up tables."""
    from heattrace.schema.tables import metadata

    return tuple(
        Reference(table.name, column.name, link.column.table.name, link.column.name)
        for table in metadata().sorted_tables
        for column in table.columns
        for link in column.foreign_keys
        if link.column.table.name not in _LOOKED_UP
    )


@cache
def columns_of() -> dict[str, tuple[str, ...]]:
    """Columns of every table, parents before the tables that refer to them."""
    from heattrace.schema.tables import metadata

    return {table.name: tuple(c.name for c in table.columns) for table in metadata().sorted_tables}


@cache
def key_of() -> dict[str, str]:
    """The first key column of every table; of a table of facts it is the whole key."""
    from heattrace.schema.tables import metadata

    return {table.name: next(iter(table.primary_key.columns)).name for table in metadata().sorted_tables}


@cache
def lender_of() -> dict[str, Reference]:
    """Tables without entry numbers of their own, and the reference to the row that lends them (results: analysis)."""
    lent: dict[str, Reference] = {}
    for reference in references():
        own = columns_of()[reference.table]
        if "entry_no" not in own and reference.column == key_of()[reference.table]:
            lent[reference.table] = reference
    return lent


@cache
def fact_tables() -> tuple[str, ...]:
    """Tables whose rows can be ended, parents first."""
    return tuple(name for name, columns in columns_of().items() if "ended_no" in columns)


def citing(reader: Reader, table: str, keys: Iterable[int]) -> Iterator[tuple[Reference, int, int]]:
    """Live rows that refer to some rows of a table: reference, key of the referring row, key referred to.

    A row without entry numbers stands as long as the row that lends them; it is given by that row's reference.
    """
    wanted = sorted(set(keys))
    for reference in references():
        if reference.to != table:
            continue
        sql = _question(reference)
        if sql is not None:
            for row in reader.by_keys(sql, wanted):
                yield reference, int(row[0]), int(row[1])


def _question(reference: Reference) -> str | None:
    name, column = reference.table, reference.column
    lender = lender_of().get(name)
    if lender is None:
        live = " AND {live:x}" if "ended_no" in columns_of()[name] else ""
        return f"SELECT x.{key_of()[name]}, x.{column} FROM {name} x WHERE x.{column} IN ({{keys}}){live}"
    if lender == reference:
        return None
    return (
        f"SELECT x.{lender.column}, x.{column} FROM {name} x JOIN {lender.to} y ON y.{lender.key} = x.{lender.column} "
        f"WHERE x.{column} IN ({{keys}}) AND {{live:y}}"
    )
