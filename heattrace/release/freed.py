"""What a release frees: the pieces of a heat by what may be done with them now, and why."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any

from heattrace.store.reader import Reader
from heattrace.tracing.numbered import HEAT, Found
from heattrace.tracing.qualities import standing_of_parts
from heattrace.tracing.quality import RELEASED
from heattrace.tracing.requirements import Wanted, parts_wanted, share_floor

PIECES_OF_HEATS = """
SELECT p.part_id, p.piece_no, q.cast_class FROM share s JOIN placement q ON q.placement_id = s.placement_id
JOIN part p ON p.part_id = q.part_id
WHERE s.heat_id IN ({keys}) AND s.greatest >= :floor AND p.kind = 'piece' AND {live:q} AND {live:p}
GROUP BY p.part_id, p.piece_no, q.cast_class ORDER BY p.piece_no
"""
PIECE = """
SELECT p.part_id, p.piece_no, q.cast_class FROM part p LEFT JOIN placement q ON q.part_id = p.part_id AND {live:q}
WHERE p.part_id IN ({keys}) AND {live:p}
"""


@dataclass(slots=True)
class Freed:
    """Pieces after a release: the promised lists."""

    free: list[str] = field(default_factory=list)
    held: list[dict[str, str]] = field(default_factory=list)
    transition: list[str] = field(default_factory=list)
    other_orders: list[dict[str, str]] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """The promised `release` data."""
        return {
            "free": self.free,
            "held": self.held,
            "transition": self.transition,
            "other_orders": self.other_orders,
        }

    @property
    def needs_a_person(self) -> bool:
        """Whether any piece is not free."""
        return bool(self.held or self.transition or self.other_orders)


def pieces_freed(
    reader: Reader, subjects: Sequence[Found], decided_for: Collection[str], decided: Wanted | None = None
) -> Freed:
    """Every piece of the subjects in one list: free; held or undecided and why; transition; for other orders.

    A piece named by a person is told of for the requirement it was `decided` for, the pieces of a heat for their own.
    """
    rows = {
        row["part_id"]: row
        for row in reader.by_keys(
            PIECES_OF_HEATS, [s.id for s in subjects if s.kind == HEAT], floor=share_floor(reader)
        )
    }
    rows |= {row["part_id"]: row for row in reader.by_keys(PIECE, [s.id for s in subjects if s.kind != HEAT])}
    wanted = parts_wanted(reader, rows)
    if decided is not None:
        wanted |= {s.id: decided for s in subjects if s.kind != HEAT}
    standing = standing_of_parts(reader, rows)
    freed = Freed()
    for part_id, row in sorted(rows.items(), key=lambda pair: pair[1]["piece_no"] or ""):
        number = row["piece_no"] or f"part {part_id}"
        uses = wanted[part_id]
        quality = standing.of_part(part_id, uses)
        if quality.value == RELEASED:
            freed.free.append(number)
        elif uses is not None and uses.text not in decided_for:
            freed.other_orders.append({"piece_no": number, "requirement": uses.text})
        elif row["cast_class"] == "transition" and not quality.kinds() & {"hold", "rejected", "event", "product"}:
            freed.transition.append(number)
        else:
            freed.held.append({"piece_no": number, "because": quality.because})
    return freed


def pieces_barred(reader: Reader, hold_id: int) -> list[str]:
    """Numbers of the pieces a hold bears on: those it lies on, for whatever use, and those its heats reach."""
    from heattrace.release.evidence import held_subjects

    held = held_subjects(reader, hold_id)
    rows = {row["part_id"]: row for row in reader.by_keys(PIECES_OF_HEATS, held.heat_ids, floor=1)}
    rows |= {row["part_id"]: row for row in reader.by_keys(PIECE, held.part_ids)}
    wanted = parts_wanted(reader, rows)
    standing = standing_of_parts(reader, rows)
    number = f"H-{hold_id}"
    found = [
        row["piece_no"] or f"part {part_id}"
        for part_id, row in rows.items()
        if part_id in held.part_ids or any(c.ref == number for c in standing.of_part(part_id, wanted[part_id]).causes)
    ]
    return sorted(found)
