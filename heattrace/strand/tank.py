"""The steel in a tundish as it goes: mixing mass, stagnant mass, and a plug of steel before each strand."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from heattrace.strand.course import StrandSegment
from heattrace.strand.mixing import Shares, TankInterval, dilute

SAME_MASS_T = 1e-12

LEAST_PLUG_T = 1e-6
"""A plug of less than a gram is none."""


@dataclass(frozen=True, slots=True)
class StrandDraw:
    """What one run draws in a stretch of constant rates: its strand from `from_m` to `to_m` of `mu` t/m."""

    run: tuple[int, int]
    from_m: float
    to_m: float
    mu: float

    @property
    def tonnes(self) -> float:
        """Steel drawn [t]."""
        return self.mu * (self.to_m - self.from_m)


@dataclass(slots=True)
class _Parcel:
    """Steel in a plug: `tonnes` that left the mixed tank evenly from minute `tau_from` to `tau_to`."""

    tonnes: float
    tank: TankInterval
    tau_from: float
    tau_to: float


class SteelInTundish:
    """State of one tundish. Tonnes by heat are kept apart for the balance: what came in, what was lost.

    Below stagnant plus plug mass the whole tank is one mix; when it fills again, stagnant mass and plugs take that mix.
    """

    def __init__(
        self, label: str, at: float, mass_t: float, shares: Shares, stagnant_t: float, plugs_t: dict[int, float]
    ) -> None:
        self.label = label
        self.mass_t = mass_t
        self.shares = shares
        self.stagnant_t = stagnant_t
        self.plugs_t = {strand: plug for strand, plug in plugs_t.items() if plug > LEAST_PLUG_T}
        self.apart_t = stagnant_t + math.fsum(self.plugs_t.values())
        self.intervals: list[TankInterval] = []
        self.segments: dict[tuple[int, int], list[StrandSegment]] = {}
        self.lost: list[Shares] = []
        self.taken_out_t = 0.0
        self.short_t = 0.0
        self._stagnant: Shares = shares
        self._queues: dict[int, deque[_Parcel]] = {}
        self.whole = mass_t < self.apart_t
        if not self.whole:
            self._set_apart(at)

    @property
    def mixing_t(self) -> float:
        """Mass that takes part in the mixing [t]."""
        return max(0.0, self.mass_t if self.whole else self.mass_t - self.apart_t)

    def left(self) -> Shares:
        """Tonnes of every heat now in the tundish."""
        terms = [tuple(self.mixing_t * share for share in self.shares)]
        if not self.whole:
            terms.append(tuple(self.stagnant_t * share for share in self._stagnant))
            terms += self._parcel_tonnes()
        return add_up(terms, len(self.shares))

    def lost_by_heat(self) -> Shares:
        """Tonnes of every heat taken out as loss; below zero where strands drew on an empty tundish."""
        return add_up(self.lost, len(self.shares))

    def jump(self, at: float, mass_t: float, inflow: Shares) -> float:
        """Bring the mass to `mass_t` at one moment; what is added is diluted in, what is taken out is loss.

        Returns the tonnes added (0 when steel was taken out).
        """
        added = mass_t - self.mass_t
        if added >= 0.0:
            self.shares = dilute(self.mixing_t, self.shares, added, inflow)
            self.mass_t = mass_t
            if self.whole and self.mass_t >= self.apart_t:
                self._set_apart(at)
            return added
        self.taken_out_t -= added
        if not self.whole and mass_t < self.apart_t:
            self._lose(self.mixing_t, self.shares)
            self.mass_t = self.apart_t
            self._merge()
        self._lose(self.mass_t - mass_t, self.shares)
        self.mass_t = mass_t
        return 0.0

    def advance(self, t0: float, t1: float, slope: float | None, inflow: Shares, draws: Sequence[StrandDraw]) -> float:
        """Go from minute t0 to t1. `slope` is the change of mass while a ladle is open [t/min]; None is no inflow.

        An inflow that would be negative is steel taken out at the present mix. Returns the tonnes poured in.
        """
        width = t1 - t0
        if width <= 0.0:
            return 0.0
        drawn = math.fsum(draw.tonnes for draw in draws)
        q_draw = drawn / width
        q_in, q_loss = 0.0, 0.0
        if slope is not None:
            balance = slope + q_draw
            q_in, q_loss = max(0.0, balance), max(0.0, -balance)
            if q_loss * width <= SAME_MASS_T:
                q_loss = 0.0
        self.taken_out_t += q_loss * width
        start, rest, change = t0, list(draws), q_in - q_loss - q_draw
        while start < t1:
            if not self.whole and change < 0.0 and self.apart_t > 0.0 and self.mass_t - self.apart_t <= SAME_MASS_T:
                self._merge()
            stop = self._next_change(start, t1, change)
            now, rest = _split(rest, start, stop, t1)
            self._stretch(start, stop, q_in, q_loss, q_draw, inflow, now)
            start = stop
            if self.whole and change > 0.0 and self.mass_t >= self.apart_t - SAME_MASS_T:
                self._set_apart(stop)
        return q_in * width

    def _next_change(self, start: float, t1: float, slope: float) -> float:
        """Minute at which the tank becomes whole, parts again or runs empty; t1 where none comes before."""
        if slope == 0.0 or (slope < 0.0 and self.mass_t <= SAME_MASS_T):
            return t1
        wanted = 0.0 if self.whole and slope < 0.0 else self.apart_t
        at = start + (wanted - self.mass_t) / slope
        return at if start < at < t1 else t1

    def _stretch(
        self,
        t0: float,
        t1: float,
        q_in: float,
        q_loss: float,
        q_draw: float,
        inflow: Shares,
        draws: Sequence[StrandDraw],
    ) -> None:
        """One closed-form interval."""
        width = t1 - t0
        after = self.mass_t + (q_in - q_loss - q_draw) * width
        empty = self.mass_t <= SAME_MASS_T and after < -SAME_MASS_T
        if empty:
            mix = inflow if q_in > 0.0 else self.shares
            tank = TankInterval(t0, t1, 0.0, 0.0, q_draw, mix, mix)
            short = (q_draw + q_loss - q_in) * width
            self._lose(-short, mix)
            self.short_t += short
        else:
            tank = TankInterval(t0, t1, self.mixing_t, q_in, q_draw + q_loss, self.shares, inflow)
        self.intervals.append(tank)
        for draw in draws:
            self._draw(draw, tank)
        if q_loss > 0.0:
            self._lose(q_loss * width, tank.mean(t0, t1))
        self.shares = tank.at(t1)
        self.mass_t = max(0.0, after)

    def _draw(self, draw: StrandDraw, tank: TankInterval) -> None:
        """Steel to a strand: straight from the tank, or from the far end of its plug as the tank fills the near end."""
        found = self.segments.setdefault(draw.run, [])
        queue = self._queues.get(draw.run[0])
        if queue is None:
            found.append(StrandSegment(self.label, draw.from_m, draw.to_m, draw.mu, tank, tank.t0, tank.t1))
            return
        need = draw.tonnes
        queue.append(_Parcel(need, tank, tank.t0, tank.t1))
        place = draw.from_m
        while need > 0.0:  # the queue holds plug and draw together and never runs dry
            parcel, tau_from = queue[0], queue[0].tau_from
            if parcel.tonnes <= need:
                need -= queue.popleft().tonnes
                tau_to = parcel.tau_to
            else:
                tau_to = tau_from + (parcel.tau_to - tau_from) * (need / parcel.tonnes)
                parcel.tonnes, parcel.tau_from, need = parcel.tonnes - need, tau_to, 0.0
            reach = draw.to_m - need / draw.mu
            if reach > place:
                found.append(StrandSegment(self.label, place, reach, draw.mu, parcel.tank, tau_from, tau_to))
                place = reach

    def _parcel_tonnes(self) -> list[Shares]:
        return [
            tuple(parcel.tonnes * share for share in parcel.tank.mean(parcel.tau_from, parcel.tau_to))
            for queue in self._queues.values()
            for parcel in queue
        ]

    def _merge(self) -> None:
        """Stagnant mass and plugs go into one mix with the rest."""
        tonnes = self.left()
        total = math.fsum(tonnes)
        if total > 0.0:
            self.shares = tuple(value / total for value in tonnes)
        self._queues.clear()
        self.whole = True

    def _set_apart(self, at: float) -> None:
        """Stagnant mass and plugs take the present mix."""
        self.whole = False
        self._stagnant = self.shares
        still = TankInterval(at, at, 0.0, 0.0, 0.0, self.shares, self.shares)
        self._queues = {strand: deque([_Parcel(plug, still, at, at)]) for strand, plug in self.plugs_t.items()}

    def _lose(self, tonnes: float, mix: Shares) -> None:
        self.lost.append(tuple(tonnes * share for share in mix))


def _split(
    draws: Iterable[StrandDraw], start: float, stop: float, t1: float
) -> tuple[list[StrandDraw], list[StrandDraw]]:
    """Draws up to `stop` and after it; rates are constant, so places divide as the time does."""
    if stop >= t1:
        return list(draws), []
    part = (stop - start) / (t1 - start)
    now, later = [], []
    for draw in draws:
        middle = draw.from_m + (draw.to_m - draw.from_m) * part
        now.append(StrandDraw(draw.run, draw.from_m, middle, draw.mu))
        later.append(StrandDraw(draw.run, middle, draw.to_m, draw.mu))
    return now, later


def add_up(terms: Iterable[Shares], width: int) -> Shares:
    """Sum of vectors without loss of digits; zeros where there is none."""
    rows = list(terms)
    return tuple(math.fsum(column) for column in zip(*rows, strict=True)) if rows else (0.0,) * width
