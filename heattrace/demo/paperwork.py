"""Orders, loads and letters of the invented works."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta

from heattrace.demo.casting import Cast, Part
from heattrace.demo.order_of_import import DISPATCHES, STORY
from heattrace.demo.plant import CUSTOMERS, ORDER_LINES, WORKS, ZONE, OrderLine
from heattrace.demo.table import Table, instant, table

# A load holds plain pieces only: nearly all of one heat, and away from every event of its strand.
_PLAIN_SHARE = 0.96
_EVENT_MARGIN_M = 3.5
_START_MARGIN_M = 8.0
_LOADS = {"LN-3041": ("25R041", 16, 3), "LN-3044": ("25R048", 10, 4), "LN-3052": ("25R053", 4, 5)}


def orders() -> Table:
    """The order lines."""
    return table(
        "orders",
        "order_no line ordered_at customer grade form section thickness_mm length_m mass_t document options",
        (
            {
                "order_no": o.order_no, "line": o.line, "ordered_at": o.ordered_at, "customer": o.customer.name,
                "grade": o.grade, "form": o.form, "section": o.section, "thickness_mm": o.thickness_mm,
                "length_m": o.length_m, "mass_t": o.mass_t, "document": "3.1", "options": o.options,
            }
            for o in ORDER_LINES
        ),
    )  # fmt: skip


def loads(casts: Sequence[Cast]) -> Iterator[tuple[str, Table]]:
    """The dispatch files by path: each a load of plain pieces of one heat, for that heat's order line."""
    for step in DISPATCHES:
        note = step.path.rsplit("/", 1)[1].removesuffix(".csv")
        heat_no, count, days = _LOADS[note]
        cast = next(c for c in casts if any(h.heat_no == heat_no for h in c.plan.heats))
        heat = next(h for h in cast.plan.heats if h.heat_no == heat_no)
        order = next(o for o in ORDER_LINES if (o.order_no, o.line) == (heat.order_no, heat.line))
        chosen = _plain_pieces(cast, heat_no)
        chosen.sort(key=lambda p: (p.piece_no != STORY.complaint_piece, p.from_s, p.strand_no))
        yield step.path, _load(cast, note, order, sorted(p.piece_no for p in chosen[:count]), days)


def _load(cast: Cast, note: str, order: OrderLine, pieces: Sequence[str], days: int) -> Table:
    left = (cast.plan.first_open + timedelta(days=days)).replace(hour=10, minute=25)
    return table(
        "dispatch",
        "delivery_note customer order_no line piece_no dispatched_at",
        (
            {
                "delivery_note": note, "customer": order.customer.name, "order_no": order.order_no, "line": order.line,
                "piece_no": piece, "dispatched_at": instant(left),
            }
            for piece in pieces
        ),
    )  # fmt: skip


def _plain_pieces(cast: Cast, heat_no: str) -> list[Part]:
    heat = next(k for k, h in enumerate(cast.plan.heats) if h.heat_no == heat_no)
    return [p for p in cast.parts if p.piece_no and p.least[heat] >= _PLAIN_SHARE and not _touched(cast, p)]


def _touched(cast: Cast, part: Part) -> bool:
    """Whether an event, a start or an end lies on the piece or near it."""
    strand = next(s for s in cast.strands if s.plan.strand_no == part.strand_no)
    end_m = strand.cuts[-1].tail_m
    if part.cut.head_m < _START_MARGIN_M or part.cut.tail_m > end_m - _START_MARGIN_M:
        return True
    for event in cast.plan.events:
        if event.strand_no not in (0, part.strand_no) or event.from_min < 0:
            continue
        device = float(event.device_distance_m or 0)
        low = strand.metres(round(event.from_min * 60)) - device - _EVENT_MARGIN_M
        high = strand.metres(round(event.to_min * 60)) - device + _EVENT_MARGIN_M
        if part.cut.head_m < high and part.cut.tail_m > low:
            return True
    return False


def complaint() -> str:
    """The note of a complaint, its piece number as somebody read it."""
    return f"""Complaint, taken by telephone 2025-04-22 09:40 (+02:00)

From:            {STORY.complaint_customer}
Piece as read:   {STORY.complaint_as_read}
Delivery note:   LN-3044
Says:            longitudinal crack on one face of a forged bar, about 0.4 m from the head end of the bloom.
Asks:            which heat, where in the cast, and which other blooms they should set aside.

The number was painted by hand and read from a photograph.
"""


def about() -> str:
    """What the folder is."""
    customers = ", ".join(f"{c.name} in {c.town}" for c in CUSTOMERS)
    return f"""Practice data of {WORKS}, an invented works.

No plant, customer, order, heat or person here is real, and no number is a measurement. The grades are those of the
shipped grade book; the steel is invented. Never release steel on anything found in this folder.

Customers, invented: {customers}.
Zone of the works: {ZONE}. Cast in March 2025 on two machines: west (five strands, 12 m radius) and north (two strands).
Made by heattrace.demo.files.write_demo_files, seeded; written anew it gives the same files.
"""
