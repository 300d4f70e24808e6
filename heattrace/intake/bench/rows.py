"""Rows set aside: written with their original bytes, and found again."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from heattrace.errors import NotFound, WrongUsage
from heattrace.intake.loading.slip import BenchLine
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.records import BenchFault
from heattrace.store.ledger import canonical
from heattrace.store.reader import Reader, Row
from heattrace.store.work import Work

# What the steps of intake say where the number of the bench row goes.
PLACEHOLDER = "NUMBER"
_COMMANDS = ("bench fix", "bench attach", "bench void")

_COLUMNS = (
    "bench_id", "batch_id", "sheet", "row_no", "column_name", "value", "code", "message", "next", "header", "cells",
    "raw", "entry_no",
)  # fmt: skip
_ROWS = """
SELECT b.*, t.file, t.profile, t.profile_edition, t.kind, t.at,
  coalesce((SELECT e.state FROM bench_event e WHERE e.bench_id = b.bench_id AND {live:e}
    ORDER BY e.bench_event_id DESC LIMIT 1), 'waiting') AS state
FROM bench_row b JOIN batch t ON t.batch_id = b.batch_id WHERE {live:b}
"""
ALL = f"{_ROWS} ORDER BY b.bench_id"
OF_BATCH = f"{_ROWS} AND b.batch_id = :batch_id ORDER BY b.bench_id"
ONE = f"{_ROWS} AND b.bench_id = :bench_id"
EVENTS = """
SELECT e.state, e.changes, e.reason, e.note, e.by, e.at FROM bench_event e
WHERE {live:e} AND e.bench_id = :bench_id ORDER BY e.bench_event_id
"""


def set_aside(
    work: Work, batch_id: int, faults: Sequence[BenchFault], headers: Mapping[str, Sequence[str]], profile: Profile,
    *, workbook: bool,
) -> list[BenchLine]:  # fmt: skip
    """Write rows set aside, with their original bytes, and give them with their numbers."""
    first = work.next_key("bench_row", "bench_id")
    lines, rows = [], []
    for number, fault in enumerate(faults, start=first):
        bench_no = f"B-{number}"
        step = with_number(fault.next, bench_no)
        header = list(headers.get(fault.sheet, headers.get("", ())))
        cells = cells_of(fault.raw, profile, workbook=workbook)
        rows.append(
            (
                number, batch_id, fault.sheet, fault.row, fault.column, fault.value, fault.code, fault.message, step,
                canonical(header), canonical(cells), fault.raw, work.entry_no,
            )
        )  # fmt: skip
        lines.append(
            BenchLine(
                bench_no, fault.sheet, fault.row, fault.column, fault.value, fault.code, fault.message, step
            )
        )  # fmt: skip
    if rows:
        work.bulk_insert("bench_row", _COLUMNS, rows)
    return lines


def with_number(step: str, bench_no: str) -> str:
    """A next step with the number of its bench row, as a command that can be typed."""
    for command in _COMMANDS:
        step = step.replace(f"heattrace {command}", command)
        step = step.replace(f"{command} {PLACEHOLDER}", f"heattrace {command} {bench_no}")
    return step


def cells_of(raw: bytes, profile: Profile, *, workbook: bool) -> list[str]:
    """The cells of a row from its original bytes; bytes that are no text in the file's encoding are one cell."""
    if workbook:
        return raw.decode("utf-8", "surrogatepass").split("\t")
    try:
        text = raw.decode(profile.encoding)
    except UnicodeDecodeError:
        return [raw.decode("latin-1")]
    try:
        return next(csv.reader(io.StringIO(text, newline=""), delimiter=profile.delimiter), [])
    except csv.Error:
        return [text]


def bench_number(text: str) -> int:
    """The whole number of `B-12`.

    Raises
    ------
    WrongUsage
        It is no such number.
    """
    bare = text.strip().upper().removeprefix("B-")
    if not bare.isascii() or not bare.isdigit() or len(bare) > 12:
        raise WrongUsage(f'"{text}": the number of a bench row such as B-12 was expected; "heattrace bench list"')
    return int(bare)


def bench_row(reader: Reader, bench_id: int) -> Row:
    """A row set aside, with its import and its state.

    Raises
    ------
    NotFound
        There is none of that number.
    """
    row = reader.one(ONE, bench_id=bench_id)
    if row is None:
        raise NotFound(f'no row B-{bench_id} on the bench; "heattrace bench list --all" lists them')
    return row


def line_of(row: Row) -> BenchLine:
    """A stored row as every answer shows it."""
    return BenchLine(
        f"B-{row['bench_id']}", row["sheet"], row["row_no"], row["column_name"], row["value"] or "", row["code"],
        row["message"], row["next"],
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class BenchStory:
    """What became of a row set aside: state, cells set, reason, note, who, when [ms UTC]."""

    state: str
    changes: dict[str, str]
    reason: str
    note: str | None
    by: str
    at: int

    def as_json(self, at: str | None) -> dict[str, Any]:
        """The object shown; `at` is the moment as printed."""
        return {
            "state": self.state, "changes": self.changes, "reason": self.reason, "note": self.note, "by": self.by,
            "at": at,
        }  # fmt: skip


def story_of(reader: Reader, bench_id: int) -> list[BenchStory]:
    """Everything that became of a row set aside, in order."""
    return [
        BenchStory(r["state"], json.loads(r["changes"]), r["reason"], r["note"], r["by"], r["at"])
        for r in reader.all(EVENTS, bench_id=bench_id)
    ]
