"""Traced parts as the record keeps them: whole micrometres, milliseconds, grams and millionths."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from heattrace.store.ledger import canonical
from heattrace.strand.traced import Bounds, PartBounds, TracedCast, TracedPart
from heattrace.tracing.cast_record import RecordedCast

PLACEMENT = (
    "sequence_id", "strand_no", "run_no", "section", "tundish", "tundishes", "from_um", "to_um", "meniscus_from",
    "meniscus_to", "clamped_at", "clock_offset", "transit_ms", "length_hot_um", "length_cold_um", "mass_g",
    "residual_um", "stop_marks", "uncertainty_um", "speed_bounds", "cast_class", "class_reasons", "majority_heat_id",
    "late_heat_id", "heat_id", "heat_no_rule",
)  # fmt: skip
SHARE = ("heat_id", "mean", "head", "tail", "least", "greatest", "uncertainty_head", "uncertainty_tail")

ShareRow = tuple[int, ...]


def millionths(value: float) -> int:
    """Metres as micrometres, tonnes as grams, shares as millionths: whole, ties to even."""
    return round(value * 1e6)


def _um(values: tuple[float | None, ...]) -> list[int | None]:
    return [None if value is None else millionths(value) for value in values]


def placement_of(part: TracedPart, recorded: RecordedCast, heat_numbers: Mapping[Any, str]) -> dict[str, Any]:
    """The columns of a placement that the trace gives."""
    transit, residual = part.transit_min, part.residual_mm
    reasons = []
    for reason in part.class_reasons:
        low, high = _um((reason.from_m, reason.to_m))
        reasons.append({"code": reason.code, "words": reason.words, "from_um": low, "to_um": high})
    return {
        "sequence_id": recorded.sequence_id,
        "strand_no": part.strand_no,
        "run_no": part.run_no,
        "section": part.section,
        "tundish": part.tundish,
        "tundishes": canonical(list(part.tundishes)),
        "from_um": millionths(part.from_m),
        "to_um": millionths(part.to_m),
        "meniscus_from": recorded.ms(part.meniscus_from),
        "meniscus_to": recorded.ms(part.meniscus_to),
        "clamped_at": None if part.clamped is None else recorded.ms(part.clamped),
        "clock_offset": recorded.offset_min,
        "transit_ms": None if transit is None else round(transit * 60_000),
        "length_hot_um": millionths(part.length_hot_m),
        "length_cold_um": millionths(part.length_cold_m),
        "mass_g": millionths(part.mass_t),
        "residual_um": None if residual is None else round(residual * 1000),
        "stop_marks": canonical(_um(part.stop_marks_m)),
        "uncertainty_um": millionths(part.uncertainty_m),
        "speed_bounds": None if part.bounds is None else canonical(_bounds(part.bounds, recorded, heat_numbers)),
        "cast_class": part.class_,
        "class_reasons": canonical(reasons),
        "majority_heat_id": part.majority_heat,
        "late_heat_id": part.late_heat,
        "heat_id": part.heat,
        "heat_no_rule": part.heat_no_rule,
    }


def shares_of(part: TracedPart, floor: float) -> list[ShareRow]:
    """The share rows of a part, by heat_id, in the order of `SHARE`; heats below the floor everywhere are left out."""
    rows = []
    for share in part.listed(floor):
        values = (share.mean, share.head, share.tail, share.least, share.greatest)
        doubts = (share.uncertainty_head, share.uncertainty_tail)
        rows.append((int(share.heat_id), *(millionths(value) for value in values + doubts)))
    return sorted(rows)


def _bounds(bounds: PartBounds, recorded: RecordedCast, heat_numbers: Mapping[Any, str]) -> dict[str, Any]:
    def whole(pair: Bounds) -> list[int]:
        return [millionths(pair[0]), millionths(pair[1])]

    def moments(pair: Bounds) -> list[int]:
        return [recorded.ms(pair[0]), recorded.ms(pair[1])]

    return {
        "from_um": whole(bounds.from_m),
        "to_um": whole(bounds.to_m),
        "meniscus_from": moments(bounds.meniscus_from),
        "meniscus_to": moments(bounds.meniscus_to),
        "mass_g": whole(bounds.mass_t),
        "shares": [
            {
                "heat_no": heat_numbers[share.heat_id],
                "mean": whole(share.mean),
                "head": whole(share.head),
                "tail": whole(share.tail),
                "anywhere": whole(share.anywhere),
            }
            for share in bounds.shares
        ],
    }


def heat_numbers(traced: TracedCast) -> dict[Any, str]:
    """Number of every heat of a cast by its key."""
    return {heat.heat_id: heat.heat_no for heat in traced.heats}
