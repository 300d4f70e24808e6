"""Imports as wholes: listed, shown, and undone while nothing else in the record rests on them."""

from __future__ import annotations

import json
from typing import Any

from heattrace.errors import NotFound, Refused, WrongUsage
from heattrace.intake.loading.slip import counted
from heattrace.store.reader import Reader, Row
from heattrace.store.work import Work

# Tables whose rows say which import brought them, in the order a person would name them.
BROUGHT = (
    "edition", "permitted_deviation", "order_line", "order_limit", "heat_record", "sample", "analysis", "temperature",
    "addition", "cast_record", "part", "event", "fitting", "oscillation", "delivery_note", "movement", "weight",
    "inspection", "alias", "parentage",
)  # fmt: skip

_BATCHES = """
SELECT b.batch_id, b.file, b.sha256, b.profile, b.profile_edition, b.kind, b.at, b.entry_no, b.ended_no, l.by,
  c.state, c.rows_read, c.rows_taken, c.rows_same, c.rows_contested, c.rows_bench, c.slip, u.at AS undone_at,
  u.by AS undone_by,
  (SELECT count(*) FROM bench_row r WHERE r.batch_id = b.batch_id AND {live:r} AND NOT EXISTS
    (SELECT 1 FROM bench_event e WHERE e.bench_id = r.bench_id AND {live:e})) AS waiting
FROM batch b JOIN batch_count c ON c.batch_id = b.batch_id JOIN ledger l ON l.entry_no = b.entry_no
LEFT JOIN ledger u ON u.entry_no = b.ended_no
"""
ALL = f"{_BATCHES} ORDER BY b.batch_id"
ONE = f"{_BATCHES} WHERE b.batch_id = :batch_id"
_SETTLED = """
SELECT DISTINCT e.entry_no FROM bench_event e JOIN bench_row r ON r.bench_id = e.bench_id
WHERE r.batch_id = :batch_id AND e.state IN ('fixed', 'attached') AND {live:e}
"""


def batch_number(text: str) -> int:
    """The whole number of `I-12`.

    Raises
    ------
    WrongUsage
        It is no such number.
    """
    bare = text.strip().upper().removeprefix("I-")
    if not bare.isascii() or not bare.isdigit() or len(bare) > 12:
        raise WrongUsage(f'"{text}": the number of an import such as I-12 was expected; "heattrace batch list"')
    return int(bare)


def batch_row(reader: Reader, batch_id: int) -> Row:
    """One import with its counts.

    Raises
    ------
    NotFound
        There is none of that number.
    """
    row = reader.one(ONE, batch_id=batch_id)
    if row is None:
        raise NotFound(f'no import I-{batch_id}; "heattrace batch list" lists them')
    return row


def state_of(row: Row) -> str:
    """taken, taken-with-bench, or undone."""
    return "undone" if row["ended_no"] is not None else str(row["state"])


def rows_of(row: Row) -> dict[str, int]:
    """The promised `rows` of an import."""
    return counted(
        taken=row["rows_taken"], same=row["rows_same"], contested=row["rows_contested"], bench=row["rows_bench"]
    )


def slip_of(row: Row) -> dict[str, Any]:
    """Notes and findings of an import's slip."""
    slip: dict[str, Any] = json.loads(row["slip"])
    return slip


def facts_of(reader: Reader, batch_id: int) -> dict[str, int]:
    """How many live rows of each table the import brought, where the table says so."""
    counts = {}
    for table in BROUGHT:
        sql = f"SELECT count(*) FROM {table} x WHERE x.batch_id = :batch_id AND {{live:x}}"
        if found := int(reader.scalar(sql, batch_id=batch_id)):
            counts[table] = found
    return counts


def undo(work: Work, batch_id: int) -> dict[str, int]:
    """Undo an import as a whole: its rows are ended, what they took the place of stands again; nothing is deleted.

    Gives the rows ended, by table.

    Raises
    ------
    Refused
        It was undone before, or a fact of another import, a cast analysis, a decision or a hold rests on it; each is
        named in a finding.
    """
    from heattrace.intake.batches.undoing import Undoing

    row = batch_row(work.reader, batch_id)
    if row["ended_no"] is not None:
        raise Refused(f"I-{batch_id} was undone before; the same file may be imported again")
    entries = {int(row["entry_no"])}
    entries |= {int(r["entry_no"]) for r in work.reader.all(_SETTLED, batch_id=batch_id)}
    undoing = Undoing(work, batch_id, entries)
    standing = undoing.in_the_way()
    if standing:
        listed = "; ".join(f"{f.subject}: {f.seen}" for f in standing[:4])
        more = f" and {len(standing) - 4} more" if len(standing) > 4 else ""
        raise Refused(
            f"I-{batch_id} cannot be undone: {listed}{more}. Undo or settle these first; nothing was changed",
            findings=standing,
        )
    ended, back = undoing.carry_out()
    work.payload = {
        "batch": batch_id, "file": row["file"], "sha256": row["sha256"], "profile": row["profile"],
        "ended": ended, "put_back": back,
    }  # fmt: skip
    return ended
