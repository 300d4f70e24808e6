"""Where parts are now and to whom they went, by their movements."""

from __future__ import annotations

from collections.abc import Iterable

from heattrace.store.reader import Reader
from heattrace.tracing import questions as q
from heattrace.values import dataclass

# Where a part is that nobody has moved since it came to be; of one from before the record that is not known.
_UNMOVED = {"cast": "cut", "recut": "cut", "rolled": "in-yard"}


@dataclass(frozen=True, slots=True)
class Load:
    """The load that took a part away."""

    delivery_note: str
    customer: str


def whereabouts_of(reader: Reader, part_ids: Iterable[int]) -> dict[int, str | None]:
    """Where each part is now; None where the record does not say."""
    keys = sorted(set(part_ids))
    found: dict[int, str | None] = {
        row["part_id"]: _UNMOVED.get(row["origin"]) for row in reader.by_keys(q.ORIGINS_OF, keys)
    }
    for row in reader.by_keys(q.WHEREABOUTS_OF, keys):
        found[row["part_id"]] = row["whereabouts"]
    return found


def loads_of(reader: Reader, part_ids: Iterable[int]) -> dict[int, Load]:
    """The last load of each part that was dispatched."""
    return {
        row["part_id"]: Load(row["delivery_note"], row["customer"])
        for row in reader.by_keys(q.LOADS_OF, sorted(set(part_ids)))
    }
