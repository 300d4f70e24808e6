"""The course of the mix along one strand run: which moment of which tank each metre of it left."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from heattrace.strand.mixing import Shares, TankInterval
from heattrace.strand.timeline import SAME_PLACE_M


@dataclass(frozen=True, slots=True)
class StrandSegment:
    """Strand from `from_m` to `to_m`, of one section, that left one tank interval from minute `tau_from` to `tau_to`.

    Place and tank minute are linear in each other. Without plug mass the tank minute is the meniscus minute.
    """

    tundish: str
    from_m: float
    to_m: float
    mu: float
    tank: TankInterval
    tau_from: float
    tau_to: float

    def tau(self, s: float) -> float:
        """Tank minute of a place, held to the segment."""
        width = self.to_m - self.from_m
        part = min(1.0, max(0.0, (s - self.from_m) / width)) if width > 0.0 else 0.0
        return self.tau_from + (self.tau_to - self.tau_from) * part

    def at(self, s: float) -> Shares:
        """Shares at a place."""
        return self.tank.at(self.tau(s))

    def mean(self, from_m: float, to_m: float) -> Shares:
        """Mean shares by mass between two places of the segment."""
        return self.tank.mean(self.tau(from_m), self.tau(to_m))

    def slope(self, s: float) -> Shares:
        """Change of the shares along the strand [1/m]."""
        width = self.to_m - self.from_m
        if width <= 0.0:
            return tuple(0.0 for _ in self.tank.start)
        rate = (self.tau_to - self.tau_from) / width
        return tuple(rate * change for change in self.tank.slope(self.tau(s)))


@dataclass(frozen=True, slots=True)
class ShareStep:
    """A jump of the shares at one place: `change` per heat, and whether two tundishes meet there."""

    place_m: float
    change: Shares
    joint: bool

    @property
    def greatest(self) -> float:
        """Greatest jump of any heat's share."""
        return max((abs(value) for value in self.change), default=0.0)


@dataclass(frozen=True, slots=True)
class StrandCourse:
    """All segments of a run from its head to its tail, without a gap."""

    segments: tuple[StrandSegment, ...]
    steps: tuple[ShareStep, ...]
    _ends: tuple[float, ...] = field(repr=False)

    def shares_at(self, s: float, *, tail: bool = False) -> Shares:
        """Shares at a place: the limit from above (a head), or with `tail` the limit from below.

        Raises IndexError for a run without a metre of steel.
        """
        return self._segment(s, tail).at(s)

    def slope_at(self, s: float, *, tail: bool = False) -> Shares:
        """Change of the shares along the strand [1/m], from the same side as `shares_at`."""
        return self._segment(s, tail).slope(s)

    def tundish_at(self, s: float, *, tail: bool = False) -> str:
        """Label of the tundish a place was fed from."""
        return self._segment(s, tail).tundish

    def _segment(self, s: float, tail: bool) -> StrandSegment:
        if tail:
            i = bisect_left(self._ends, s - SAME_PLACE_M)
        else:
            i = bisect_right(self._ends, s + SAME_PLACE_M)
        return self.segments[min(i, len(self.segments) - 1)]

    def within(self, from_m: float, to_m: float) -> Iterator[tuple[StrandSegment, float, float]]:
        """Segments that overlap an interval, each with the overlapping places, head first."""
        i = bisect_right(self._ends, from_m)
        while i < len(self.segments) and self.segments[i].from_m < to_m:
            segment = self.segments[i]
            low, high = max(from_m, segment.from_m), min(to_m, segment.to_m)
            if high > low:
                yield segment, low, high
            i += 1

    def tonnes(self, from_m: float, to_m: float) -> Shares:
        """Tonnes of every heat in an interval, exact integral."""
        terms: list[tuple[float, ...]] = []
        for segment, low, high in self.within(from_m, to_m):
            mass = segment.mu * (high - low)
            terms.append(tuple(mass * share for share in segment.mean(low, high)))
        return tuple(math.fsum(column) for column in zip(*terms, strict=True))

    def steps_between(self, from_m: float, to_m: float) -> tuple[ShareStep, ...]:
        """Jumps that lie inside an interval, not at its ends."""
        return tuple(step for step in self.steps if from_m + SAME_PLACE_M < step.place_m < to_m - SAME_PLACE_M)


def course_of(segments: Sequence[StrandSegment], noted_step: float = 1e-9) -> StrandCourse:
    """Course of a run from its segments in any order; jumps of at least `noted_step` of a share are noted."""
    ordered = tuple(sorted(segments, key=lambda segment: (segment.from_m, segment.to_m)))
    steps = []
    for before, after in itertools.pairwise(ordered):
        joint = before.tundish != after.tundish
        if before.tank is after.tank and before.tau_to == after.tau_from and not joint:
            continue
        left, right = before.tank.at(before.tau_to), after.tank.at(after.tau_from)
        change = tuple(b - a for a, b in zip(left, right, strict=True))
        step = ShareStep(after.from_m, change, joint)
        if joint or step.greatest >= noted_step:
            steps.append(step)
    return StrandCourse(ordered, tuple(steps), tuple(segment.to_m for segment in ordered))
