"""Files in: profiles, batches, the bench, clocks."""

from __future__ import annotations

from heattrace.schema.columns import (
    Row,
    ended,
    entered,
    index,
    instant,
    key,
    live_unique,
    number,
    octets,
    one_of,
    table,
    text,
    whole,
)


class Profile(Row, table=True):
    """How a source writes its files, by edition."""

    __tablename__ = "profile"
    __table_args__ = table("profiles of sources", live_unique("profile_name", "name"))
    profile_id: int | None = key()
    name: str = number("name")
    edition: int = whole("edition, from 1")
    takes: str = number("kind of file it reads")
    body: str = text("TOML as given")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Batch(Row, table=True):
    """One import of one file; what came of its rows stands in `batch_count`."""

    __tablename__ = "batch"
    __table_args__ = table("imports as wholes", live_unique("batch_sha256", "sha256", "profile"))
    batch_id: int | None = key("I- number")
    file: str = text("file name")
    sha256: str = text("digest of the file")
    profile: str = number("profile")
    profile_edition: int = whole("its edition; 0 is the shipped one")
    kind: str = number("kind of file")
    at: int = instant("when taken")
    entry_no: int = entered()
    ended_no: int | None = ended()


class BatchCount(Row, table=True):
    """What came of the rows of one import; written last, when they are counted."""

    __tablename__ = "batch_count"
    __table_args__ = table("counts and slips of imports", one_of("state", "taken", "taken-with-bench"))
    batch_id: int = key("import", to="batch.batch_id")
    state: str = number("taken or taken-with-bench")
    rows_read: int = whole("rows read")
    rows_taken: int = whole("rows taken")
    rows_same: int = whole("rows known already")
    rows_contested: int = whole("rows that contradict known ones")
    rows_bench: int = whole("rows set aside")
    slip: str = text("findings and notes of the import slip, canonical JSON")
    entry_no: int = entered()
    ended_no: int | None = ended()


class BenchRow(Row, table=True):
    """A row that was not let in, with its original bytes."""

    __tablename__ = "bench_row"
    __table_args__ = table("rows set aside", index("bench_row_batch", "batch_id"))
    bench_id: int | None = key("B- number")
    batch_id: int = whole("import", to="batch.batch_id")
    sheet: str = number("sheet; empty for a single table")
    row_no: int = whole("physical line or sheet row, from 1")
    column_name: str | None = text("the file's own header text; empty for the whole row", null=True)
    value: str | None = text("what was found there", null=True)
    code: str = number("finding code")
    message: str = text("what, found, expected")
    next: str = text("next step")
    header: str = text("header cells of its table, canonical JSON")
    cells: str = text("cells as read, canonical JSON")
    raw: bytes = octets("original bytes of the row")
    entry_no: int = entered()
    ended_no: int | None = ended()


class BenchEvent(Row, table=True):
    """What became of a row set aside."""

    __tablename__ = "bench_event"
    __table_args__ = table(
        "what became of rows set aside",
        one_of("state", "fixed", "attached", "void"),
        index("bench_event_row", "bench_id"),
    )
    bench_event_id: int | None = key()
    bench_id: int = whole("row", to="bench_row.bench_id")
    state: str = number("fixed, attached or void")
    changes: str = text("cells set, canonical JSON")
    reason: str = number("reason code")
    note: str | None = text("note", null=True)
    by: str = text("who, as stated")
    at: int = instant("when")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Clock(Row, table=True):
    """A source's clock."""

    __tablename__ = "clock"
    __table_args__ = table("clocks of sources", live_unique("clock_name", "name"))
    clock_id: int | None = key()
    name: str = number("name of the clock")
    entry_no: int = entered()
    ended_no: int | None = ended()


class ClockOffset(Row, table=True):
    """How far a clock is off, from a moment on."""

    __tablename__ = "clock_offset"
    __table_args__ = table("dated offsets of clocks", index("clock_offset_clock", "clock_id"))
    clock_offset_id: int | None = key()
    clock_id: int = whole("clock", to="clock.clock_id")
    from_at: int = instant("holds from")
    offset_ms: int = whole("to be added to that clock's times [ms]")
    evidence: str = text("paired moments it was found from, canonical JSON")
    entry_no: int = entered()
    ended_no: int | None = ended()
