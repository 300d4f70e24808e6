"""The column types of every table: whole number, text, bytes, flag, instant, each with its comment.

Each type is INTEGER / TEXT / BLOB on SQLite (STRICT tables) and BIGINT / TEXT / BYTEA on PostgreSQL. Fractions never
enter a table: masses are grams, strand positions micrometres, temperatures tenths of a degree C, times milliseconds
UTC, shares millionths, contents parts per billion; where a recorded text has other digits it stands beside the number.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Text,
)
from sqlalchemy.dialects import postgresql
from sqlmodel import Field, SQLModel

WHOLE = BigInteger().with_variant(Integer(), "sqlite")
TEXT = Text()
# Numbers of the plant sort byte by byte on both databases.
NUMBER = Text().with_variant(postgresql.TEXT(collation="C"), "postgresql")
OCTETS = LargeBinary()

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Row(SQLModel):
    """Base of every table."""

    metadata = MetaData(naming_convention=NAMING)


def _links(to: str | None) -> list[ForeignKey]:
    # No cascades anywhere: a record is never deleted, and a cascade could delete children in a batch change.
    return [ForeignKey(to)] if to else []


def key(comment: str = "surrogate key", *, to: str | None = None) -> Any:
    """Whole-number primary key; with `to` also a reference."""
    return Field(default=None, sa_column=Column(WHOLE, *_links(to), primary_key=True, comment=comment))


def key_number(comment: str) -> Any:
    """Text primary key."""
    return Field(sa_column=Column(NUMBER, primary_key=True, nullable=False, comment=comment))


def whole(comment: str, *, to: str | None = None, null: bool = False) -> Any:
    """Whole number; `to` names the column it refers to."""
    column: Column[Any] = Column(WHOLE, *_links(to), nullable=null, comment=comment)
    return Field(default=None, sa_column=column) if null else Field(sa_column=column)


def text(comment: str, *, null: bool = False) -> Any:
    """Free text."""
    column: Column[Any] = Column(TEXT, nullable=null, comment=comment)
    return Field(default=None, sa_column=column) if null else Field(sa_column=column)


def number(comment: str, *, null: bool = False) -> Any:
    """A number or word of the plant, compared and sorted byte by byte."""
    column: Column[Any] = Column(NUMBER, nullable=null, comment=comment)
    return Field(default=None, sa_column=column) if null else Field(sa_column=column)


def octets(comment: str, *, null: bool = False) -> Any:
    """Bytes as they came."""
    column: Column[Any] = Column(OCTETS, nullable=null, comment=comment)
    return Field(default=None, sa_column=column) if null else Field(sa_column=column)


def flag(comment: str) -> Any:
    """0 or 1."""
    return Field(default=0, sa_column=Column(WHOLE, nullable=False, comment=comment))


def instant(comment: str, *, null: bool = False) -> Any:
    """A moment, milliseconds since 1970-01-01T00:00:00Z."""
    return whole(f"{comment} [ms UTC]", null=null)


def offset(comment: str = "offset from UTC the source wrote beside that moment [min]", *, null: bool = True) -> Any:
    """Offset of the source's clock face from UTC, minutes."""
    return whole(comment, null=null)


def entered() -> Any:
    """The ledger entry that wrote the row.

    No reference: the entry is written last, and a deferred one would make SQLite read every table at each commit. The
    insert guards hold the number to the entry being written, and `db check` looks at all of them.
    """
    return whole("ledger entry that wrote this row")


def ended() -> Any:
    """The ledger entry that superseded or undid the row; no reference either."""
    return whole("ledger entry that superseded or undid this row", null=True)


def one_of(column: str, *words: str) -> CheckConstraint:
    """Named check that a column holds one of the words."""
    listed = ", ".join(f"'{w}'" for w in words)
    return CheckConstraint(f"{column} IN ({listed})", name=column)


def check(name: str, condition: str) -> CheckConstraint:
    """Named check."""
    return CheckConstraint(condition, name=name)


def live_unique(name: str, *columns: str, also: str = "") -> Index:
    """Unique among rows not ended (partial unique index on both databases)."""
    from sqlalchemy import text as sql

    where = "ended_no IS NULL" + (f" AND {also}" if also else "")
    return Index(f"uq_{name}", *columns, unique=True, sqlite_where=sql(where), postgresql_where=sql(where))


def index(name: str, *columns: str, where: str = "") -> Index:
    """Named index; with `where` over the rows of that condition only."""
    from sqlalchemy import text as sql

    if not where:
        return Index(f"ix_{name}", *columns)
    return Index(f"ix_{name}", *columns, sqlite_where=sql(where), postgresql_where=sql(where))


def table(comment: str, *items: Any, rowid: bool = True) -> tuple[Any, ...]:
    """`__table_args__`: constraints and indexes, STRICT, the table's comment."""
    options: dict[str, Any] = {"comment": comment, "sqlite_strict": True}
    if not rowid:
        options["sqlite_with_rowid"] = False
    return (*items, options)
