"""A piece traced back: where it lay in the cast, the heats in it, their record, what was decided and where it went."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from typing import Any

from heattrace.judging.estimate import Fit
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import DEGREES, KILOGRAMS, METRES, shown_at, written
from heattrace.store.works import works_value, works_zone
from heattrace.tracing import questions as q
from heattrace.tracing.analyses import samples_of_parts
from heattrace.tracing.chemistry import chemistry_of_heats
from heattrace.tracing.chemistry_questions import READINGS
from heattrace.tracing.estimates import estimates_of_parts
from heattrace.tracing.fits import ORDERED, fits_of, roles_of, wanted_of_decisions
from heattrace.tracing.holdings import hold_json, holds_on_part
from heattrace.tracing.judged_piece import fit_json
from heattrace.tracing.placed import NO_PLACE, bounds_json, position_json, reasons_json
from heattrace.tracing.qualities import marks, standing_of_parts
from heattrace.tracing.requirements import Wanted, parts_wanted
from heattrace.tracing.steel import UNPLACED, Steel, steel_of
from heattrace.tracing.whereabouts import whereabouts_of
from heattrace.values import dataclass

_MILLION = 1e6


@dataclass(frozen=True, slots=True)
class TracedPiece:
    """A piece traced back: `data` as promised for `trace PIECE`, and how it stands to what it is ordered for.

    `fit` has every limit at every position; where there is no order it is that of the planned grade. `run_to_m` is
    where the last part of its strand run ends, metres of the strand.
    """

    data: dict[str, Any]
    fit: Fit | None
    run_to_m: float | None


def trace_piece(reader: Reader, part_id: int) -> TracedPiece:
    """Trace a piece back.

    Lengths and shares are numbers as stored; what a person or an instrument wrote is a text with its digits. Beside
    the promised keys stand `requirement`, `grade`, `aliases`, `origin` and `position` of the piece.

    Raises
    ------
    NotFound
        There is no such part.
    """
    zone = works_zone(reader)
    steel = steel_of(reader, part_id)
    wanted = parts_wanted(reader, [part_id])[part_id]
    decisions = [
        *reader.by_keys(q.DECISIONS_ON_PARTS, [part_id]),
        *reader.by_keys(q.DECISIONS_ON_HEATS, sorted(steel.heat_ids)),
    ]
    chemistry = chemistry_of_heats(reader, steel.heat_ids)
    estimate = estimates_of_parts(reader, [steel.estimated], chemistry).get(steel.estimated) if steel.heats else None
    name = steel.part["piece_no"] or f"part {part_id}"
    fits = fits_of(reader, estimate, roles_of(reader, wanted, steel.heat_ids, decisions), name)
    cast_ids = frozenset(key for known in chemistry.values() for key in known.cast_ids())
    samples = [s for h in steel.heat_ids for s in chemistry[h].samples]
    samples += [s for s in samples_of_parts(reader, [part_id]) if s.heat_id not in chemistry]
    head = _head(reader, steel, wanted, decisions, zone)
    family = head.pop("family")
    data = {
        **head,
        "composition": {} if estimate is None else estimate.as_json(),
        "fits": [fit_json(fit, role) for role, _, fit in fits],
        "samples": [sample.as_json(zone, cast_ids) for sample in samples],
        "temperatures": temperatures_json(reader, steel.heat_ids, zone),
        "events": [] if steel.place is None else _events(reader, steel.place, zone),
        "holds": [hold_json(hold, zone) for hold in holds_on_part(reader, part_id)],
        "decisions": [decision_json(row, _subject(row, steel), zone) for row in decisions],
        "family": family,
        "dispatch": _dispatch(reader.all(q.MOVEMENTS, part=part_id), zone),
        "certificates": certificates_json(reader, part_id),
        "findings": [f.as_json() for known in chemistry.values() for f in known.choice.findings],
    }
    ranked = sorted(fits, key=lambda fit: (fit[1] != wanted, fit[0] != ORDERED))
    return TracedPiece(data, ranked[0][2] if ranked else None, _run_to(reader, steel.place))


def _run_to(reader: Reader, place: Row | None) -> float | None:
    if place is None:
        return None
    run = {"sequence": place["sequence_id"], "strand": place["strand_no"], "run": place["run_no"]}
    end = reader.scalar(q.RUN_END, **run)
    return None if end is None else end / _MILLION


def piece_head(reader: Reader, part_id: int) -> dict[str, Any]:
    """The part of a trace that says what a piece is and where it lay: no chemistry, no decisions.

    Raises
    ------
    NotFound
        There is no such part.
    """
    zone = works_zone(reader)
    steel = steel_of(reader, part_id)
    decisions = [
        *reader.by_keys(q.DECISIONS_ON_PARTS, [part_id]),
        *reader.by_keys(q.DECISIONS_ON_HEATS, sorted(steel.heat_ids)),
    ]
    return _head(reader, steel, parts_wanted(reader, [part_id])[part_id], decisions, zone)


def _head(
    reader: Reader, steel: Steel, wanted: Wanted | None, decisions: Sequence[Row], zone: tzinfo
) -> dict[str, Any]:
    place, part_id = steel.place, steel.part["part_id"]
    return {
        "piece": _piece(reader, steel, wanted, decisions),
        "cast_position": None if place is None else position_json(place, zone),
        "heats": [_heat_json(row, steel.shares) for row in steel.heats],
        "bounds": None if place is None else bounds_json(place["speed_bounds"], zone),
        "class": place["cast_class"] if place is not None else "undetermined",
        "class_reasons": reasons_json(place["class_reasons"]) if place is not None else [NO_PLACE],
        **_numbers(steel),
        "family": {
            "parents": [_kin(row, zone) for row in reader.all(q.PARENTS, part=part_id)],
            "children": [_kin(row, zone) for row in reader.all(q.CHILDREN, part=part_id)],
        },
    }


def _piece(reader: Reader, steel: Steel, wanted: Wanted | None, decisions: Sequence[Row]) -> dict[str, Any]:
    part, place = steel.part, None if steel.of_parent else steel.place
    part_id = part["part_id"]
    standing = standing_of_parts(reader, [part_id])
    asked = dict.fromkeys([wanted, *wanted_of_decisions(reader, decisions)])
    qualities = [
        {"requirement": None if uses is None else uses.text, "quality": found.value, "because": found.because}
        for uses in asked
        for found in (standing.of_part(part_id, uses),)
    ]
    zone = works_zone(reader)
    aliases = [
        {"alias": row["written"], "owner": row["owner"], "from": shown_at(row["from_at"], zone),
         "to": shown_at(row["to_at"], zone)}
        for row in reader.all(q.ALIASES_OF_PART, part=part_id)
    ]  # fmt: skip
    return {
        "piece_no": part["piece_no"],
        "kind": part["kind"],
        "form": part["form"],
        "section": None if place is None else place["section"],
        "length_hot_m": None if place is None else place["length_hot_um"] / _MILLION,
        "length_cold_m": None if place is None else place["length_cold_um"] / _MILLION,
        "mass_kg": None if place is None else place["mass_g"] / 1000,
        "mass_weighed_kg": _weighed(reader, part),
        "length_measured_m": _measured(reader, part),
        "quality": qualities[0]["quality"],
        "qualities": qualities,
        "requirement": None if wanted is None else wanted.text,
        "grade": None if wanted is None else wanted.grade,
        "whereabouts": whereabouts_of(reader, [part_id]).get(part_id),
        "origin": part["origin"],
        "aliases": aliases,
        "position": _position_words(steel),
    }


def _position_words(steel: Steel) -> str:
    if steel.place is None:
        return UNPLACED
    return f"position of {steel.place['piece_no'] or 'the part'} it was made from" if steel.of_parent else "recorded"


def _cut(reader: Reader, part: Row) -> Row | None:
    if part["cut_no"] is None:
        return None
    return reader.one(
        q.CUT_OF_PART, sequence=part["sequence_id"], strand=part["strand_no"], run=part["run_no"], cut=part["cut_no"]
    )


def _weighed(reader: Reader, part: Row) -> str | None:
    row = reader.one(q.WEIGHTS, part=part["part_id"]) or _cut(reader, part)
    return None if row is None else written(row["mass_g"], row["mass_text"], KILOGRAMS)


def _measured(reader: Reader, part: Row) -> str | None:
    row = _cut(reader, part)
    return None if row is None else written(row["measured_length_um"], row["measured_length_text"], METRES)


def _heat_json(row: Row, shares: bool) -> dict[str, Any]:
    def of(name: str) -> float | None:
        return row[name] / _MILLION if shares and row[name] is not None else None

    return {
        "heat_no": row["heat_no"],
        "share_mean": of("mean"),
        "share_head": of("head"),
        "share_tail": of("tail"),
        "share_min": of("least"),
        "share_max": of("greatest"),
        "uncertainty_head": of("uncertainty_head"),
        "uncertainty_tail": of("uncertainty_tail"),
        "grade": row["requirement"] or row["grade_text"],
    }


def _numbers(steel: Steel) -> dict[str, Any]:
    """The heat numbers of a part; one from before the record, or made from several, bears its only heat's."""
    if steel.place is not None:
        place = steel.place
        return {
            "majority_heat": place["majority_heat"],
            "late_heat": place["late_heat"],
            "heat_no": place["heat_no"],
            "heat_no_rule": place["heat_no_rule"],
        }
    only = steel.heats[0]["heat_no"] if len(steel.heats) == 1 else None
    return {"majority_heat": only, "late_heat": only, "heat_no": only, "heat_no_rule": "pure" if only else "decision"}


def temperatures_json(reader: Reader, heat_ids: Sequence[int], zone: tzinfo) -> list[dict[str, Any]]:
    """The promised `temperatures` of some heats, in time."""
    return [
        {
            "heat_no": row["heat_no"],
            "place": row["place"],
            "tundish": row["tundish"],
            "read_at": shown_at(row["read_at"], zone),
            "temperature_c": written(row["temperature_dc"], row["temperature_text"], DEGREES),
        }
        for row in reader.by_keys(READINGS, sorted(set(heat_ids)))
    ]


def _events(reader: Reader, place: Row, zone: tzinfo) -> list[dict[str, Any]]:
    wanting = frozenset(works_value(reader, "event-wants-check"))
    run = {"sequence": place["sequence_id"], "strand": place["strand_no"], "run": place["run_no"]}
    return [
        {
            "event_no": f"E-{row['event_id']}",
            "kind": row["kind"],
            "from_m": row["from_um"] / _MILLION,
            "to_m": row["to_um"] / _MILLION,
            "from_at": shown_at(row["from_at"], zone),
            "to_at": shown_at(row["to_at"], zone),
            "open_end": bool(row["open_end"]),
            "wants_check": row["kind"] in wanting,
            "amount": row["amount"],
            "unit": row["unit"],
            "note": row["note"],
        }
        for row in reader.all(q.EVENTS_ON_RUN, **run)
        if marks(row, place)
    ]


def decision_json(row: Row, subject: str, zone: tzinfo) -> dict[str, Any]:
    """The promised object of one decision, and what it was made on."""
    return {
        "decision_no": f"D-{row['decision_id']}",
        "kind": row["kind"],
        "requirement": row["requirement"],
        "by": row["by"],
        "at": shown_at(row["at"], zone),
        "signed": row["signature_id"] is not None,
        "qualifier": row["qualifier"] or None,
        "verdict": row["verdict"],
        "reason": row["reason"],
        "note": row["note"],
        "subject": subject,
        "countersign_by": shown_at(row["countersign_by"], zone),
    }


def _subject(row: Row, steel: Steel) -> str:
    heats = {heat["heat_id"]: heat["heat_no"] for heat in steel.heats}
    if row["on_part"]:
        return f"piece {steel.part['piece_no']}"
    return f"heat {heats[row['subject']]}"


def _kin(row: Row, zone: tzinfo) -> dict[str, Any]:
    return {
        "piece_no": row["piece_no"],
        "manner": row["manner"],
        "position": row["position"],
        "mass_kg": written(row["mass_g"], None, KILOGRAMS),
        "at": shown_at(row["at"], zone),
    }


def _dispatch(movements: Sequence[Row], zone: tzinfo) -> dict[str, Any] | None:
    loads = [row for row in movements if row["delivery_note"] is not None]
    if not loads:
        return None
    last = loads[-1]
    return {
        "delivery_note": last["delivery_note"],
        "customer": last["customer"],
        "order_no": last["order_no"],
        "line": last["line"],
        "dispatched_at": shown_at(last["dispatched_at"], zone),
    }


def certificates_json(reader: Reader, part_id: int) -> list[dict[str, Any]]:
    """The promised `certificates`; `supported` is null until the claims are compared with the record."""
    found = {row["certificate_id"]: row for row in reader.all(q.CERTIFICATES_OF_PART, part=part_id)}
    return [
        {"certificate_no": r["certificate_no"], "type": r["type"], "state": r["state"], "supported": None}
        for r in found.values()
    ]
