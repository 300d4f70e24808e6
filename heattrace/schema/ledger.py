"""The ledger, its checkpoints, and what marks a database file as ours."""

from __future__ import annotations

from heattrace.schema.columns import Row, check, flag, instant, key, key_number, number, table, text, whole


class Ledger(Row, table=True):
    """One chained entry per changing command."""

    __tablename__ = "ledger"
    __table_args__ = table("append-only chain: one entry per changing command")
    entry_no: int | None = key("number of the entry, from 1 without gaps")
    at: int = instant("when it was written")
    by: str = text("who wrote, as stated")
    action: str = number("command words")
    subject: str = text("what it was about")
    form: int = whole("version of the canonical payload text")
    payload: str = text("canonical JSON of what was done; an import holds the digest of its content and its counts")
    clock_back: int = flag("the computer's clock stood before the entry before this one")
    previous: str = text("digest of the entry before (64 zeros for the first)")
    digest: str = text("SHA-256 over form, number, time, person, action, subject, payload and previous digest")


class Checkpoint(Row, table=True):
    """A signed Merkle root over the entries since the last checkpoint."""

    __tablename__ = "checkpoint"
    __table_args__ = table("signed Merkle roots of ledger entries", check("span", "from_entry <= to_entry"))
    checkpoint_id: int | None = key()
    from_entry: int = whole("first entry covered")
    to_entry: int = whole("last entry covered")
    root: str = text("Merkle root, hexadecimal SHA-256")
    signature_id: int | None = whole("signature over the root", null=True, to="signature.signature_id")
    entry_no: int = whole("ledger entry that wrote this row")


class FileMark(Row, table=True):
    """Facts of the file itself."""

    __tablename__ = "file_mark"
    __table_args__ = table("facts of the database itself: made by, practice or not", rowid=False)
    name: str = key_number("name of the fact")
    value: str = text("its value")


class Element(Row, table=True):
    """Number of each element symbol."""

    __tablename__ = "element"
    __table_args__ = table("element symbols by number; Al is total, Als acid-soluble aluminium")
    element_id: int | None = key("fixed number of the element")
    symbol: str = number("symbol")
