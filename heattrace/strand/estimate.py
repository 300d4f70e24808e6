"""Estimated composition along a part, from the shares of its heats and what each heat contains.

Linear mixing. An estimate never replaces a cast analysis; for `GUIDE_ONLY` it is only a guide, since those react or are
lost in tundish and mould (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction

from heattrace.strand.record import HeatKey
from heattrace.strand.traced import TracedPart

Content = tuple[Decimal | Fraction | None, Decimal | Fraction | None]
"""(low, high) of one element in one heat, mass %; None is not bounded."""

GUIDE_ONLY = frozenset({"Al", "Als", "Ca", "Ti", "N", "H", "O"})


def estimate(
    shares: Mapping[HeatKey, float], contents: Mapping[HeatKey, Content], floor: float = 1e-4
) -> tuple[Fraction | None, Fraction | None]:
    """Low and high of one element in a mix of heats [mass %], exact for the shares given.

    Parameters
    ----------
    shares : Mapping[HeatKey, float], [share]
        Made to sum to 1 exactly.
    contents : Mapping[HeatKey, Content], [mass %]
        A heat that is absent, or None on one side, leaves that side of the mix unknown, unless its share is below
        `floor`: then the others speak for it.

    Examples
    --------
    0.75 of a heat with 0.02 and 0.25 of one with 1.12, by hand 0.015 + 0.28:

    >>> low, high = estimate({"A": 0.75, "B": 0.25}, {"A": (Decimal("0.02"),) * 2, "B": (Decimal("1.12"),) * 2})
    >>> float(low), float(high)
    (0.295, 0.295)
    """
    sides = []
    for side in (0, 1):
        total, weight, known = Fraction(0), Fraction(0), True
        for heat, share in shares.items():
            if share <= 0.0:
                continue
            content = contents.get(heat, (None, None))[side]
            if content is None:
                known = known and share < floor
                continue
            total += Fraction(share) * Fraction(content)
            weight += Fraction(share)
        sides.append(total / weight if known and weight else None)
    return sides[0], sides[1]


def composition_along(
    part: TracedPart, contents: Mapping[str, Mapping[HeatKey, Content]], elements: Iterable[str] | None = None
) -> dict[str, dict[str, tuple[Fraction | None, Fraction | None]]]:
    """Low and high of every element at `head`, `mean` and `tail` of a part [mass %].

    `contents` is by element, then by heat.
    """
    ends = {
        "head": {share.heat_id: share.head for share in part.shares},
        "mean": {share.heat_id: share.mean for share in part.shares},
        "tail": {share.heat_id: share.tail for share in part.shares},
    }
    return {
        element: {end: estimate(shares, contents[element]) for end, shares in ends.items()}
        for element in (contents if elements is None else elements)
    }
