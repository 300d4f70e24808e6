"""Loads sent away into the record: the delivery note, and a movement of every piece on it.

One file is one load. The load is recorded as it left; a finding names every piece that was not released for its order
line. Refusing such a load before it leaves is not done here.
"""

from __future__ import annotations

from typing import Any

from heattrace.findings import Finding
from heattrace.intake.loading.load_orders import customer_named
from heattrace.intake.loading.moments import not_yet
from heattrace.intake.loading.numbers import Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.faults import refusal
from heattrace.intake.reading.records import BenchFault, FileContent, RowRecord
from heattrace.store.work import Work

# Where a piece may be when a lorry takes it; a returned piece goes to the yard first.
MAY_LEAVE = frozenset(("cut", "in-yard", None))

_NOTE = """
SELECT d.*, c.name AS customer FROM delivery_note d JOIN customer c ON c.customer_id = d.customer_id
WHERE {live:d} AND d.delivery_note = :note
"""
_ON_NOTE = """
SELECT m.part_id, m.order_line_id, m.at FROM movement m
WHERE {live:m} AND m.delivery_note_id = :key AND m.whereabouts = 'dispatched'
"""


def load_dispatch(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the load of a file.

    Raises
    ------
    FileRefused
        More than one delivery note or customer in the file, or a delivery note known for another customer.
    """
    sheet = content.sheets["dispatch"]
    counts = LoadCounts(bench=list(sheet.bench), findings=list(sheet.findings), same=sheet.repeated)
    if not sheet.rows:
        return counts
    load = _Load(work, batch, sheet.rows)
    parts: list[tuple[int, int, RowRecord]] = []
    for row in sheet.rows:
        found = load.take(row)
        if isinstance(found, BenchFault):
            counts.bench.append(found)
        elif found is None:
            counts.same += 1
        else:
            parts.append(found)
    counts.taken = len(parts)
    load.write(parts)
    counts.findings += not_released(work, batch, [(part, line, row) for part, line, row in parts])
    return counts


class _Load:
    """One load being written."""

    def __init__(self, work: Work, batch: BatchInHand, rows: list[RowRecord]) -> None:
        self.work, self.batch = work, batch
        self.numbers = Numbers(work.reader)
        _check_one_load(batch, rows)
        first = rows[0]
        self.note, self.customer = first.values["delivery_note"].normal, first.values["customer"]
        self.known = work.reader.one(_NOTE, note=self.note)
        if self.known is not None and self.known["customer"] != self.customer:
            raise refusal(
                [
                    Finding(
                        "REC19", batch.subject(first, "delivery_note"), f"{self.note} for {self.customer}",
                        f"{self.known['customer']}, for whom this delivery note is known", "Look at the paper",
                    )
                ]
            )  # fmt: skip
        self.on_note: dict[int, tuple[int | None, int | None]] = {}
        if self.known is not None:
            rows_known = work.reader.all(_ON_NOTE, key=self.known["delivery_note_id"])
            self.on_note = {r["part_id"]: (r["order_line_id"], r["at"]) for r in rows_known}

    def take(self, row: RowRecord) -> tuple[int, int, RowRecord] | BenchFault | None:
        """Part and order line of a row; None where the record has it on this load already."""
        values, batch = row.values, self.batch
        part = self.numbers.part(values["piece_no"])
        if isinstance(part, Unknown):
            return batch.fault(row, "piece_no", part.code, part.wanted, part.step)
        line = self.numbers.order_line(values["order_no"], values["line"])
        if isinstance(line, Unknown):
            return batch.fault(row, "line", line.code, line.wanted, line.step)
        at = values["dispatched_at"]
        if self.on_note.get(part["part_id"]) == (line["order_line_id"], at.utc_ms):
            return None
        if line["customer"] != self.customer:
            wanted = f"{line['customer']}, whose order {values['order_no'].normal}/{values['line'].normal} is"
            step = "Mend it: bench fix NUMBER --set line=LINE --reason TYPING"
            return batch.fault(row, "customer", "REC17", wanted, step)
        if not_yet(at, self.work.now, self.numbers.zone):
            step = "Mend it: bench fix NUMBER --set dispatched_at=TIME --reason TYPING"
            return batch.fault(row, "dispatched_at", "ROW29", "a moment that has come", step)
        place = whereabouts(self.work, part)
        if part["kind"] != "piece" or place not in MAY_LEAVE:
            is_now = place if part["kind"] == "piece" else f"a {part['kind']}"
            step = f"Look at it: heattrace trace {part['piece_no']}"
            return batch.fault(row, "piece_no", "REC18", f"a piece in the yard; this one is {is_now}", step)
        return int(part["part_id"]), int(line["order_line_id"]), row

    def write(self, parts: list[tuple[int, int, RowRecord]]) -> None:
        """Write the delivery note where it is new, and a movement of each piece."""
        if not parts:
            return
        from heattrace.schema.parts import DeliveryNote

        at = parts[0][2].values["dispatched_at"]
        if self.known is not None:
            note_id = int(self.known["delivery_note_id"])
        else:
            note_id = self.work.add(
                DeliveryNote(
                    delivery_note=self.note, customer_id=customer_named(self.work, self.customer),
                    dispatched_at=at.utc_ms, dispatched_offset=at.offset_min, batch_id=self.batch.batch_id,
                )
            )  # fmt: skip
        columns = (
            "part_id", "whereabouts", "at", "at_offset", "delivery_note_id", "order_line_id", "batch_id", "row_no",
            "entry_no",
        )  # fmt: skip
        rows = []
        for part_id, line_id, row in parts:
            left = row.values["dispatched_at"]
            rows.append(
                (part_id, "dispatched", left.utc_ms, left.offset_min, note_id, line_id, self.batch.batch_id, row.row,
                 self.work.entry_no)
            )  # fmt: skip
        self.work.bulk_insert("movement", columns, rows)


def _check_one_load(batch: BatchInHand, rows: list[RowRecord]) -> None:
    first = rows[0]
    for row in rows[1:]:
        for column in ("delivery_note", "customer"):
            one, other = (getattr(r.values[column], "normal", r.values[column]) for r in (first, row))
            if one != other:
                wanted = f"{one}, as in row {first.row}: one file is one load"
                step = "Send each load as a file of its own"
                raise refusal([Finding("REC19", batch.subject(row, column), str(other), wanted, step)])


def whereabouts(work: Work, part: Any) -> str | None:
    """Where a part is now."""
    from heattrace.tracing.whereabouts import whereabouts_of

    return whereabouts_of(work.reader, [part["part_id"]])[part["part_id"]]


def not_released(work: Work, batch: BatchInHand, parts: list[tuple[int, int, RowRecord]]) -> list[Finding]:
    """A finding for every piece that is not released for the order line it went for."""
    from heattrace.tracing.qualities import qualities_of_parts
    from heattrace.tracing.requirements import wanted_lines

    if not parts:
        return []
    lines = wanted_lines(work.reader, {line for _, line, _ in parts})
    qualities = qualities_of_parts(work.reader, [p for p, _, _ in parts], {p: lines[line] for p, line, _ in parts})
    step = "It is recorded as it left; find out why it could leave, and where it is now"
    found = []
    for part, line, row in parts:
        quality = qualities[part]
        if quality.value != "released":
            number, because = row.values["piece_no"].normal, f" ({quality.because})" if quality.because else ""
            seen = f"{number} is {quality.value} for {lines[line].text}{because}"
            found.append(batch.finding(row, "piece_no", "REC34", seen, "released", step))
    return found
