"""Bounds of parts where a casting speed is unknown: the model gone through at both ends of the speed's bracket.

A higher speed in a gap puts a cut's place at a later meniscus time and washes the tundish faster, so both move the
share of a newer heat the same way and the two ends of the bracket bound it; a middle heat that peaks inside the gap can
lie a little beyond.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from heattrace.strand.record import StrandRules
from heattrace.strand.timeline import SAME_PLACE_M
from heattrace.strand.traced import Bounds, ClassReason, PartBounds, ShareBounds, TracedPart
from heattrace.strand.transition import UNDETERMINED


def _span(values: Iterable[float]) -> Bounds:
    found = list(values)
    return min(found), max(found)


def with_bounds(
    nominal: Sequence[TracedPart], others: Sequence[Sequence[TracedPart]], rules: StrandRules
) -> tuple[TracedPart, ...]:
    """Parts with bounds where an unknown speed reaches them: in their own window, or through the mix by the list floor.

    A part past the unknown stretch keeps its meniscus times but not its metres: it has bounds and no flag. A part whose
    class differs between the ends of the bracket is undetermined.
    """
    tables = [{part.cut_no: part for part in parts} for parts in others]
    bounded = []
    for part in nominal:
        all_of = [part, *(table[part.cut_no] for table in tables if part.cut_no in table)]
        touched = any(reason.code == "unknown-speed" for one in all_of for reason in one.class_reasons)
        bounds = _bounds(all_of)
        moved = max(high - low for share in bounds.shares for low, high in (share.mean, share.head, share.tail))
        if not touched and moved < rules.list_floor:
            shifted = max(high - low for low, high in (bounds.from_m, bounds.to_m)) > SAME_PLACE_M
            bounded.append(replace(part, bounds=bounds) if shifted else part)
            continue
        reasons = part.class_reasons
        if all(reason.code != "unknown-speed" for reason in reasons):
            words = "an unknown casting speed reaches the part through its place or the mix; see the bounds"
            reasons = (*reasons, ClassReason("unknown-speed", words))
        part = replace(part, bounds=bounds, class_reasons=reasons)
        if len({(one.class_, one.heat if one.heat_no_rule == "pure" else None) for one in all_of}) > 1:
            part = replace(part, class_=UNDETERMINED, heat=None, heat_no_rule="decision")
        bounded.append(part)
    return tuple(bounded)


def _bounds(parts: Sequence[TracedPart]) -> PartBounds:
    """Envelope of one part over all passes."""
    rows = zip(*(part.shares for part in parts), strict=True)
    return PartBounds(
        from_m=_span(part.from_m for part in parts),
        to_m=_span(part.to_m for part in parts),
        meniscus_from=_span(part.meniscus_from for part in parts),
        meniscus_to=_span(part.meniscus_to for part in parts),
        mass_t=_span(part.mass_t for part in parts),
        shares=tuple(
            ShareBounds(
                heat_id=row[0].heat_id,
                mean=_span(share.mean for share in row),
                head=_span(share.head for share in row),
                tail=_span(share.tail for share in row),
                anywhere=(min(share.least for share in row), max(share.greatest for share in row)),
            )
            for row in rows
        ),
    )
