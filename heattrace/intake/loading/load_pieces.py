"""What is entered about pieces into the record: weighings, inspections, other numbers."""

from __future__ import annotations

from typing import Any

from heattrace.intake.loading.known_rows import KnownRows
from heattrace.intake.loading.load_temperatures import sheet_counts
from heattrace.intake.loading.moments import moment, not_yet
from heattrace.intake.loading.numbers import Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import BenchFault, FileContent, RowRecord, SheetContent
from heattrace.store.reader import Row
from heattrace.store.recorded import KILOGRAMS, shown_at, to_whole
from heattrace.store.work import Work

_WEIGHTS = "SELECT * FROM weight w WHERE {live:w} AND w.part_id IN ({keys})"
_INSPECTIONS = "SELECT * FROM inspection i WHERE {live:i} AND i.part_id IN ({keys})"
_ALIASES = "SELECT * FROM alias a WHERE {live:a} AND a.alias = :alias AND a.owner = :owner"


def load_weights(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write weighings; one is known by piece and moment."""
    sheet = content.sheets["weights"]
    numbers = Numbers(work.reader)
    placed, bench = rows_with_parts(sheet, batch, numbers)
    known = work.reader.by_keys(_WEIGHTS, sorted({part["part_id"] for _, part in placed}))
    rows = KnownRows(work, batch, "weight", "weight_id", ("part_id", "weighed_at"), known)
    for row, part in placed:
        weighed = row.values["weighed_at"]
        if not_yet(weighed, work.now, numbers.zone):
            step = "Mend it: bench fix NUMBER --set weighed_at=TIME --reason TYPING"
            bench.append(batch.fault(row, "weighed_at", "ROW29", "a moment that has come", step))
            continue
        whole, text = to_whole(row.values["mass_kg"].text, KILOGRAMS)
        values: dict[str, Any] = {
            "part_id": part["part_id"], "weighed_at": weighed.utc_ms, "weighed_offset": weighed.offset_min,
            "mass_g": whole, "mass_text": text,
        }  # fmt: skip
        rows.put(row, values, {"mass_g": "mass_kg"})
    return sheet_counts(sheet, rows.write(), bench)


def load_inspections(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write inspections; one is known by piece, scheme, edition, item and reader."""
    sheet = content.sheets["inspections"]
    placed, bench = rows_with_parts(sheet, batch, Numbers(work.reader))
    known = work.reader.by_keys(_INSPECTIONS, sorted({part["part_id"] for _, part in placed}))
    by = ("part_id", "scheme", "edition", "item", "read_by")
    rows = KnownRows(work, batch, "inspection", "inspection_id", by, known)
    for row, part in placed:
        said = {name: row.values.get(name) for name in (*by[1:], "rating", "second_reader", "image_sha256")}
        rows.put(row, {"part_id": part["part_id"]} | said, {"rating": "rating", "image_sha256": "image_sha256"})
    return sheet_counts(sheet, rows.write(), bench)


def load_aliases(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write other numbers of pieces with their validity.

    A number that is another piece's own, or another piece's alias of the same owner at the same time, goes to the
    bench. The same alias stated with another end takes the known one's place.
    """
    sheet = content.sheets["aliases"]
    numbers = Numbers(work.reader)
    placed, bench = rows_with_parts(sheet, batch, numbers)
    counts = LoadCounts()
    for row, part in placed:
        fault = _take_alias(work, numbers, row, part, batch, counts)
        if fault is not None:
            bench.append(fault)
    return sheet_counts(sheet, counts, bench)


def _take_alias(
    work: Work, numbers: Numbers, row: RowRecord, part: Row, batch: BatchInHand, counts: LoadCounts
) -> BenchFault | None:
    from heattrace.schema.parts import Alias

    alias, owner = row.values["alias"], row.values["owner"]
    start, end = (moment(row.values.get(name), numbers.zone)[0] for name in ("from", "to"))
    assert start is not None
    own = work.reader.one("SELECT p.part_id FROM part p WHERE {live:p} AND p.piece_no = :no", no=alias.normal)
    step = "Mend it: bench fix NUMBER --set alias=NUMBER --reason TYPING"
    if own is not None and own["part_id"] != part["part_id"]:
        return batch.fault(row, "alias", "REC19", "a number that is not another piece's own", step)
    for known in work.reader.all(_ALIASES, alias=alias.normal, owner=owner):
        if known["part_id"] == part["part_id"] and known["from_at"] == start:
            if known["to_at"] == end:
                counts.same += 1
                return None
            work.end("alias", "alias_id", [known["alias_id"]])
        elif known["part_id"] != part["part_id"] and _overlap(known, start, end):
            until = f" until {shown_at(known['to_at'], numbers.zone)}" if known["to_at"] is not None else ""
            since = shown_at(known["from_at"], numbers.zone)
            wanted = f"a number {owner} does not give another piece, as it does since {since}{until}"
            return batch.fault(row, "alias", "REC19", wanted, step)
    work.add(
        Alias(
            part_id=part["part_id"], alias=alias.normal, written=alias.original.strip(), owner=owner, from_at=start,
            to_at=end, batch_id=batch.batch_id, row_no=row.row,
        )
    )  # fmt: skip
    counts.taken += 1
    return None


def _overlap(known: Row, start: int, end: int | None) -> bool:
    return (end is None or known["from_at"] < end) and (known["to_at"] is None or start < known["to_at"])


def rows_with_parts(
    sheet: SheetContent, batch: BatchInHand, numbers: Numbers, column: str = "piece_no"
) -> tuple[list[tuple[RowRecord, Row]], list[BenchFault]]:
    """Rows whose piece is known; the others as bench faults."""
    placed, bench = [], []
    for row in sheet.rows:
        part = numbers.part(row.values[column])
        if isinstance(part, Unknown):
            bench.append(batch.fault(row, column, part.code, part.wanted, part.step))
        else:
            placed.append((row, part))
    return placed, bench
