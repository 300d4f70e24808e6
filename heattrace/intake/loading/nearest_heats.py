"""Which open heats a number may have meant, with how the numbers differ and how far apart the moments lie.

Nothing is picked: the list is for a person.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heattrace.store.reader import Reader
from heattrace.tracing.slips import Slip, slips

MOST_SHOWN = 3
# A heat tapped further away was hardly meant, however alike its number looks (engineering default).
NEAR_MS = 3 * 86_400_000

_NEAR = """
SELECT h.heat_no, h.series, coalesce(r.tapped_at,
  (SELECT min(p.opened_at) FROM pour p WHERE p.heat_id = h.heat_id AND {live:p})) AS at,
  (SELECT t.state FROM heat_state t WHERE t.heat_id = h.heat_id AND {live:t} ORDER BY t.heat_state_id DESC LIMIT 1)
    AS state
FROM heat h LEFT JOIN heat_record r ON r.heat_id = h.heat_id AND {live:r}
WHERE {live:h} AND h.heat_no IN (%s)
"""


@dataclass(frozen=True, slots=True)
class NearHeat:
    """A heat whose number is near; `after_ms` is how long after its tapping the row's moment lies."""

    heat_no: str
    series: str
    slip: Slip
    after_ms: int | None

    def words(self) -> str:
        """`41878 (signs 4 and 5 swapped; tapped 1 h 10 min before)`."""
        about = self.slip.words
        if self.after_ms is not None:
            about += f"; tapped {span_words(abs(self.after_ms))} {'before' if self.after_ms >= 0 else 'after'}"
        return f"{self.heat_no} ({about})"


def nearest_heats(reader: Reader, number: str, at: int | None) -> list[NearHeat]:
    """Open heats near a number: those of that time first, then the likeliest slip, then the nearest; at most three."""
    variants = {slip.number: slip for slip in reversed(slips(number))}
    names = sorted(variants)
    rows = []
    for start in range(0, len(names), 400):
        lot = names[start : start + 400]
        marks = ",".join(f":n{i}" for i in range(len(lot)))
        rows += reader.all(_NEAR.replace("%s", marks), **{f"n{i}": name for i, name in enumerate(lot)})
    near = [
        NearHeat(
            row["heat_no"],
            row["series"],
            variants[row["heat_no"]],
            None if at is None or row["at"] is None else at - row["at"],
        )
        for row in rows
        if row["state"] in (None, "open")
    ]
    return sorted(near, key=_order)[:MOST_SHOWN]


def _order(heat: NearHeat) -> tuple[bool, int, int, str]:
    far = heat.after_ms is None or abs(heat.after_ms) > NEAR_MS
    return (far, heat.slip.rank, abs(heat.after_ms or 0), heat.heat_no)


def near_words(near: Sequence[NearHeat]) -> str:
    """The list in one sentence; empty where there is none."""
    return "" if not near else "Nearest open heats: " + ", ".join(heat.words() for heat in near) + "."


def span_words(ms: int) -> str:
    """A span of time for a person.

    >>> span_words(4_200_000), span_words(90_000), span_words(3 * 86_400_000)
    ('1 h 10 min', '2 min', '3 d')
    """
    minutes = round(ms / 60_000)
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 48 * 60:
        return f"{minutes // 60} h {minutes % 60} min" if minutes % 60 else f"{minutes // 60} h"
    return f"{round(minutes / 1440)} d"
