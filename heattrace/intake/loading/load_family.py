"""Pieces that were not cast under this record: rolled from others, or made before the record began."""

from __future__ import annotations

from typing import Any

from heattrace.intake.loading.load_dispatch import whereabouts
from heattrace.intake.loading.load_orders import customer_named
from heattrace.intake.loading.load_pieces import rows_with_parts
from heattrace.intake.loading.load_temperatures import sheet_counts
from heattrace.intake.loading.moments import moment, not_yet
from heattrace.intake.loading.numbers import KnownHeat, Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import BenchFault, FileContent, Ident, RowRecord
from heattrace.store.reader import Row
from heattrace.store.recorded import KILOGRAMS, to_whole
from heattrace.store.work import Work

# Where a piece may be when the mill takes it.
MAY_BE_ROLLED = frozenset(("cut", "in-yard", "charged", "charged-hot", "rolled"))
# Series of heats named by pieces from before the record, where the works has no rule that tells.
EARLIER = "earlier"
POSITIONS = ("head", "middle", "tail")

_FAMILY = """
SELECT f.parentage_id, f.mass_g, f.at, f.position FROM parentage f
WHERE {live:f} AND f.parent_id = :parent AND f.child_id = :child AND f.manner = 'rolled'
"""
_EARLIER = """
SELECT p.part_id, h.heat_no, d.delivery_note FROM part p
LEFT JOIN earlier_heat e ON e.part_id = p.part_id AND {live:e} LEFT JOIN heat h ON h.heat_id = e.heat_id
LEFT JOIN movement m ON m.part_id = p.part_id AND {live:m} AND m.delivery_note_id IS NOT NULL
LEFT JOIN delivery_note d ON d.delivery_note_id = m.delivery_note_id
WHERE {live:p} AND p.part_id = :key
"""
_NOTE = "SELECT d.* FROM delivery_note d WHERE {live:d} AND d.delivery_note = :note"


def load_rolling(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write what was rolled: the product as a part of its own, made from its parent, and the parent as used up.

    It is recorded only: whether the parent was free to be charged is not asked here.
    """
    sheet = content.sheets["rolling"]
    numbers = Numbers(work.reader)
    placed, bench = rows_with_parts(sheet, batch, numbers, "parent_no")
    counts = LoadCounts()
    for row, parent in placed:
        fault = _roll(work, numbers, row, parent, batch, counts)
        if fault is not None:
            bench.append(fault)
    return sheet_counts(sheet, counts, bench)


def _roll(
    work: Work, numbers: Numbers, row: RowRecord, parent: Row, batch: BatchInHand, counts: LoadCounts
) -> BenchFault | None:
    from heattrace.schema.parts import Movement, Parentage

    rolled, child_no, position = row.values["rolled_at"], row.values["child_no"], row.values.get("position")
    mass = to_whole(row.values["mass_kg"].text, KILOGRAMS)[0]
    if not_yet(rolled, work.now, numbers.zone):
        step = "Mend it: bench fix NUMBER --set rolled_at=TIME --reason TYPING"
        return batch.fault(row, "rolled_at", "ROW29", "a moment that has come", step)
    if position is not None and position not in POSITIONS:
        step = "Mend it: bench fix NUMBER --set position=head --reason TYPING"
        return batch.fault(row, "position", "ROW40", f"one of {', '.join(POSITIONS)}", step)
    child = numbers.part(child_no)
    if not isinstance(child, Unknown):
        known = work.reader.one(_FAMILY, parent=parent["part_id"], child=child["part_id"])
        if known is not None and (known["mass_g"], known["at"], known["position"]) == (mass, rolled.utc_ms, position):
            counts.same += 1
            return None
        if known is not None or child["origin"] != "rolled":
            step = "Mend it: bench fix NUMBER --set child_no=NUMBER --reason TYPING"
            return batch.fault(row, "child_no", "REC19", "a number no other piece or rolling bears", step)
    place = whereabouts(work, parent)
    if place not in MAY_BE_ROLLED:
        step = f"Look at it: heattrace trace {parent['piece_no']}"
        return batch.fault(row, "parent_no", "REC18", f"a piece that could be rolled; this one is {place}", step)
    child_id = (
        int(child["part_id"]) if not isinstance(child, Unknown) else _new_part(work, row, child_no, "rolled", batch)
    )
    numbers.forget_part(child_no.normal)
    own: dict[str, Any] = {"batch_id": batch.batch_id, "row_no": row.row}
    work.add(
        Parentage(
            parent_id=parent["part_id"], child_id=child_id, manner="rolled", position=position, mass_g=mass,
            at=rolled.utc_ms, **own,
        )
    )  # fmt: skip
    if place != "rolled":
        at = {"at": rolled.utc_ms, "at_offset": rolled.offset_min}
        work.add(Movement(part_id=parent["part_id"], whereabouts="rolled", **at, **own))
    counts.taken += 1
    return None


def _new_part(work: Work, row: RowRecord, number: Ident, origin: str, batch: BatchInHand) -> int:
    from heattrace.schema.parts import Part

    return work.add(
        Part(
            kind="piece", origin=origin, piece_no=number.normal, written_no=number.original.strip(),
            batch_id=batch.batch_id, row_no=row.row,
        )
    )  # fmt: skip


def load_earlier_pieces(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write pieces from before the record began: their heat, and their load where it is known.

    Their heat is made where the record does not have it: this file is what is known of it.
    """
    sheet = content.sheets["earlier-pieces"]
    numbers = Numbers(work.reader)
    counts, bench = LoadCounts(), []
    for row in sheet.rows:
        fault = _take_earlier(work, numbers, row, batch, counts)
        if fault is not None:
            bench.append(fault)
    return sheet_counts(sheet, counts, bench)


def _take_earlier(
    work: Work, numbers: Numbers, row: RowRecord, batch: BatchInHand, counts: LoadCounts
) -> BenchFault | None:
    from heattrace.schema.parts import EarlierHeat

    values = row.values
    piece, heat_no = values["piece_no"], values["heat_no"]
    if not_yet(values.get("dispatched_at"), work.now, numbers.zone):
        step = "Mend it: bench fix NUMBER --set dispatched_at=DAY --reason TYPING"
        return batch.fault(row, "dispatched_at", "ROW29", "a day that has come", step)
    if values.get("delivery_note") is not None and not values.get("customer"):
        step = "Mend it: bench fix NUMBER --set customer=NAME --reason TYPING"
        return batch.fault(row, "customer", "ROW72", "the customer of that delivery note", step)
    known = work.reader.one("SELECT p.part_id FROM part p WHERE {live:p} AND p.piece_no = :no", no=piece.normal)
    if known is not None:
        before = work.reader.one(_EARLIER, key=known["part_id"])
        note = values["delivery_note"].normal if values.get("delivery_note") is not None else None
        if before is not None and (before["heat_no"], before["delivery_note"]) == (heat_no.normal, note):
            counts.same += 1
            return None
        step = f"Look at it: heattrace trace {piece.normal}"
        return batch.fault(row, "piece_no", "REC19", "a piece number the record does not have yet", step)
    heat_id = _earlier_heat(work, numbers, row)
    if isinstance(heat_id, Unknown):
        return batch.fault(row, "heat_no", heat_id.code, heat_id.wanted, heat_id.step)
    part_id = _new_part(work, row, piece, "earlier", batch)
    numbers.forget_part(piece.normal)
    work.add(EarlierHeat(part_id=part_id, heat_id=heat_id))
    fault = _earlier_load(work, numbers, row, part_id, batch)
    counts.taken += 1
    return fault


def _earlier_heat(work: Work, numbers: Numbers, row: RowRecord) -> int | Unknown:
    from heattrace.schema.heats import Heat

    ident = row.values["heat_no"]
    sent = moment(row.values.get("dispatched_at"), numbers.zone)
    if numbers.heats(ident.normal):
        heat = numbers.heat(ident, sent[0], later=True)
        return heat.heat_id if isinstance(heat, KnownHeat) else heat
    series = numbers.series_of(ident.normal, None, None) or EARLIER
    key = work.add(Heat(heat_no=ident.normal, series=series, written_no=ident.original.strip()))
    numbers.forget_heat(ident.normal)
    return key


def _earlier_load(work: Work, numbers: Numbers, row: RowRecord, part_id: int, batch: BatchInHand) -> BenchFault | None:
    from heattrace.schema.parts import DeliveryNote, Movement

    values = row.values
    note, sent = values.get("delivery_note"), moment(values.get("dispatched_at"), numbers.zone)
    if note is None and sent[0] is None and not values.get("customer"):
        return None
    note_id, said = None, f"to {values['customer']}" if values.get("customer") else None
    if note is not None:
        customer = customer_named(work, values["customer"])
        known = work.reader.one(_NOTE, note=note.normal)
        if known is not None and known["customer_id"] == customer:
            note_id = int(known["delivery_note_id"])
        elif known is not None:
            said = f"delivery note {note.normal}, {said}"
        else:
            note_id = work.add(
                DeliveryNote(
                    delivery_note=note.normal, customer_id=customer, dispatched_at=sent[0], dispatched_offset=sent[1],
                    batch_id=batch.batch_id,
                )
            )  # fmt: skip
    work.add(
        Movement(
            part_id=part_id, whereabouts="dispatched", at=sent[0], at_offset=sent[1], delivery_note_id=note_id,
            note=said if note_id is None else None, batch_id=batch.batch_id, row_no=row.row,
        )
    )  # fmt: skip
    return None
