"""The tundish as one mixed tank, in closed form over an interval of constant rates.

dM/dt = q_in - q_out and M dx/dt = q_in (y - x); x is a vector of shares over all heats of the sequence. With
u = t - t0 and z = (q_in - q_out) u / M0 the solution x = y + (x0 - y) E(u) has

    E(u) = exp(-(q_in u / M0) L(z)),   L(z) = ln(1 + z) / z,   L(0) = 1

which is (M/M0)^-p with p = q_in/(q_in - q_out) where the rates differ and exp(-q_in u / M0) where they are equal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

Shares = tuple[float, ...]
"""Shares of all heats in heat order; they sum to 1."""


def log_ratio(z: float) -> float:
    """ln(1 + z) / z, continued to 1 at z = 0 and to infinity at z = -1.

    >>> log_ratio(0.0), round(log_ratio(1.0), 6)
    (1.0, 0.693147)
    """
    if abs(z) < 1e-8:
        return 1.0 - z / 2.0
    if z <= -1.0:
        return math.inf
    return math.log1p(z) / z


def _mean_decay(w: float) -> float:
    """(1 - exp(-w)) / w, continued to 1 at w = 0."""
    if w == 0.0:
        return 1.0
    return -math.expm1(-w) / w


@dataclass(frozen=True, slots=True)
class TankInterval:
    """A mixed tank between `t0` and `t1` [min]: mass at t0 [t], rates [t/min], shares at t0 and of the inflow.

    A tank without mass takes the mix of its inflow at once; a tank without inflow keeps its mix.

    Examples
    --------
    One tank of constant mass, step response after one mean residence time, 1 - exp(-1) = 0.63212 (Levenspiel,
    Chemical Reaction Engineering, 3rd ed., p. 327):

    >>> tank = TankInterval(0.0, 30.0, mass_t=30.0, q_in=2.0, q_out=2.0, start=(1.0, 0.0), inflow=(0.0, 1.0))
    >>> round(tank.at(15.0)[1], 5)
    0.63212
    """

    t0: float
    t1: float
    mass_t: float
    q_in: float
    q_out: float
    start: Shares
    inflow: Shares

    def mass_at(self, t: float) -> float:
        """Mixing mass at minute `t` [t], never below zero."""
        return max(0.0, self.mass_t + (self.q_in - self.q_out) * (t - self.t0))

    def remaining(self, t: float) -> float:
        """E: the part of the difference to the inflow that is still there at minute `t` (1 at t0, towards 0)."""
        u = t - self.t0
        if self.q_in <= 0.0 or u <= 0.0:
            return 1.0
        if self.mass_t <= 0.0:
            return 0.0
        ratio = log_ratio((self.q_in - self.q_out) * u / self.mass_t)
        return 0.0 if ratio == math.inf else math.exp(-(self.q_in * u / self.mass_t) * ratio)

    def mean_remaining(self, from_t: float, to_t: float) -> float:
        """Mean of E between two minutes, exact.

        From `from_t` on, with M1 and E1 there and u the width, the integral of E is
        E1 u L(z) (1 - exp(-w)) / w with w = q_out u L(z) / M1.
        """
        first = self.remaining(from_t)
        u = to_t - from_t
        if u <= 0.0 or self.q_in <= 0.0 or first == 0.0:
            return first
        mass = self.mass_at(from_t)
        if mass <= 0.0:
            return 0.0
        ratio = log_ratio((self.q_in - self.q_out) * u / mass)
        if ratio == math.inf:
            # emptied just at to_t: u L -> infinity, so the integral tends to E1 M1 / q_out
            return first * mass / (self.q_out * u)
        return first * ratio * _mean_decay(self.q_out * u * ratio / mass)

    def at(self, t: float) -> Shares:
        """Shares at minute `t`."""
        return self._blend(self.remaining(t))

    def mean(self, from_t: float, to_t: float) -> Shares:
        """Mean shares between two minutes, by time; by mass too, since the outflow is constant."""
        return self._blend(self.mean_remaining(from_t, to_t))

    def slope(self, t: float) -> Shares:
        """Change of the shares at minute `t` [1/min]: q_in (y - x) / M."""
        mass = self.mass_at(t)
        if self.q_in <= 0.0 or mass <= 0.0:
            return tuple(0.0 for _ in self.start)
        rate = self.q_in / mass
        return tuple(rate * (y - x) for x, y in zip(self.at(t), self.inflow, strict=True))

    def time_of_remaining(self, wanted: float) -> float:
        """Minute at which E falls to `wanted` (0 < wanted <= 1), not later than t1; infinity where it never does."""
        if wanted >= 1.0:
            return self.t0
        if self.remaining(self.t1) > wanted:
            return math.inf
        if self.mass_t <= 0.0 or self.q_in <= 0.0:
            return self.t0
        depth = -math.log(wanted) * self.mass_t / self.q_in  # = u L(z) = M0/(q_in-q_out) ln(1+z)
        rate = (self.q_in - self.q_out) / self.mass_t
        u = depth if abs(rate * depth) < 1e-12 else math.expm1(rate * depth) / rate
        return min(self.t1, self.t0 + u)

    def _blend(self, part: float) -> Shares:
        if part >= 1.0:
            return self.start
        if part <= 0.0:
            return self.inflow
        return tuple(y + (x - y) * part for x, y in zip(self.start, self.inflow, strict=True))


def dilute(mass_t: float, shares: Shares, added_t: float, added: Shares) -> Shares:
    """Shares after an addition at one moment: the mix by mass.

    Two masses without any steel give the added mix.

    >>> dilute(22.0, (1.0, 0.0), 10.0, (0.0, 1.0))
    (0.6875, 0.3125)
    """
    total = mass_t + added_t
    if added_t <= 0.0:
        return shares
    if total <= 0.0 or mass_t <= 0.0:
        return added
    return tuple((mass_t * x + added_t * y) / total for x, y in zip(shares, added, strict=True))
