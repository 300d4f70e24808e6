"""Shares of the heats along one part of a strand: head, tail, mean by mass, extremes, and their doubt from place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heattrace.strand.course import ShareStep, StrandCourse
from heattrace.strand.mixing import Shares
from heattrace.strand.record import HeatInfo
from heattrace.strand.timeline import SAME_PLACE_M
from heattrace.strand.traced import PartShare


@dataclass(frozen=True, slots=True)
class SharesAlong:
    """The mix along an interval of a strand.

    `tonnes` by heat is the exact integral, `mean` its shares. `head` and `tail` are the limits from inside. `knots` are
    the shares at the ends of every stretch of one formula, between which each share only rises or only falls, so that
    their extremes are the extremes of the whole interval. `steps` lie inside.
    """

    tonnes: Shares
    mean: Shares
    head: Shares
    tail: Shares
    knots: tuple[Shares, ...]
    steps: tuple[ShareStep, ...]

    def least(self) -> Shares:
        """Smallest share of every heat anywhere."""
        return tuple(min(column) for column in zip(*self.knots, strict=True))

    def greatest(self) -> Shares:
        """Greatest share of every heat anywhere."""
        return tuple(max(column) for column in zip(*self.knots, strict=True))

    def greatest_older(self, place: int) -> float:
        """Greatest sum, anywhere, of the shares of all heats older than the one at `place` in heat order."""
        return max(sum(knot[:place]) for knot in self.knots)


def shares_along(course: StrandCourse, from_m: float, to_m: float) -> SharesAlong:
    """The mix between two places of a run. A part without length has the mix of its place."""
    if to_m - from_m <= SAME_PLACE_M:
        here = course.shares_at(to_m, tail=True)
        zero = tuple(0.0 for _ in here)
        tonnes = course.tonnes(from_m, to_m) if to_m > from_m else zero
        return SharesAlong(tonnes or zero, here, here, here, (here,), ())
    head, tail = course.shares_at(from_m), course.shares_at(to_m, tail=True)
    knots = [head, tail]
    for segment, low, high in course.within(from_m, to_m):
        if high - low > SAME_PLACE_M:
            knots.append(segment.at(low))
            knots.append(segment.at(high))
    tonnes = course.tonnes(from_m, to_m)
    total = sum(tonnes)
    mean = tuple(value / total for value in tonnes)
    return SharesAlong(tonnes, mean, head, tail, tuple(knots), course.steps_between(from_m, to_m))


def share_doubt(course: StrandCourse, s: float, place_doubt_m: float, *, tail: bool) -> Shares:
    """Uncertainty of every share at an end of a part from the uncertainty of its place [share].

    |dx/ds| u_s, with dx/ds = (mu n / M)(1 - x) for the new heat at constant mass and n equal strands; a step of the mix
    within u_s of the end is added whole.
    """
    doubt = [abs(value) * place_doubt_m for value in course.slope_at(s, tail=tail)]
    if place_doubt_m > 0.0:
        for step in course.steps:
            if abs(step.place_m - s) <= place_doubt_m:
                doubt = [value + abs(change) for value, change in zip(doubt, step.change, strict=True)]
    return tuple(min(1.0, value) for value in doubt)


def part_shares(
    along: SharesAlong, heats: Sequence[HeatInfo], doubt_head: Shares, doubt_tail: Shares
) -> tuple[PartShare, ...]:
    """Every heat's share of a part, in heat order."""
    least, greatest = along.least(), along.greatest()
    return tuple(
        PartShare(
            heat_id=heat.heat_id,
            mean=along.mean[i],
            head=along.head[i],
            tail=along.tail[i],
            least=least[i],
            greatest=greatest[i],
            uncertainty_head=doubt_head[i],
            uncertainty_tail=doubt_tail[i],
        )
        for i, heat in enumerate(heats)
    )
