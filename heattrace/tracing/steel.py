"""What a part is made of: its place, the heats in it, and where both are taken from when they are not its own."""

from __future__ import annotations

from heattrace.errors import NotFound
from heattrace.store.reader import Reader, Row
from heattrace.tracing import questions as q
from heattrace.tracing.lineage import sources_of
from heattrace.values import dataclass

UNPLACED = "position not recorded"


@dataclass(frozen=True, slots=True)
class Steel:
    """What a part is made of. `place` is its own placement, or that of the one part it was made from (`of_parent`).

    `heats` are rows of shares, or of heats alone where shares are not recorded. `estimated` is the part whose shares
    give the composition.
    """

    part: Row
    place: Row | None
    of_parent: bool
    heats: tuple[Row, ...]
    shares: bool
    estimated: int

    @property
    def heat_ids(self) -> list[int]:
        """Keys of its heats, in heat order."""
        return [row["heat_id"] for row in self.heats]


def steel_of(reader: Reader, part_id: int) -> Steel:
    """What a part is made of.

    Raises
    ------
    NotFound
        There is no such part.
    """
    part = reader.one(q.PART, part=part_id)
    if part is None:
        raise NotFound(f"no part {part_id}")
    place = reader.one(q.PLACEMENT, part=part_id)
    if place is not None:
        heats = reader.all(q.SHARES, placement=place["placement_id"])
        return Steel(part, place, False, tuple(heats), True, part_id)
    heats = reader.all(q.EARLIER_HEATS, part=part_id)
    sources = [row for s in sources_of(reader, [part_id])[part_id] if (row := reader.one(q.PLACEMENT, part=s))]
    if len(sources) == 1 and not heats:
        shares = reader.all(q.SHARES, placement=sources[0]["placement_id"])
        return Steel(part, sources[0], True, tuple(shares), True, sources[0]["part_id"])
    known = {row["heat_id"]: row for row in heats}
    for source in sources:
        for row in reader.all(q.SHARES, placement=source["placement_id"]):
            known.setdefault(row["heat_id"], row)
    return Steel(part, None, bool(sources), tuple(known.values()), False, part_id)
