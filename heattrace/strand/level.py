"""The mass of steel in a tundish over time: which ladles are open, and how fast the mass changes while one is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from heattrace.strand.record import Cast, CastUnreadable, HeatKey, Pour, Tundish


@dataclass(frozen=True, slots=True)
class OpenLadle:
    """A pour with its end filled in: a ladle without one is open to the book's last time."""

    pour: Pour
    opened: float
    closed: float

    @property
    def rate(self) -> float | None:
        """Recorded tonnes per open minute; None where the poured mass is not known or the ladle never stood open."""
        if self.pour.poured_t is None or self.closed <= self.opened:
            return None
        return self.pour.poured_t / (self.closed - self.opened)


@dataclass(frozen=True, slots=True)
class TundishStart:
    """Start of a tundish: the minute, the mass that holds there, the heat it is, and later readings in time order."""

    at: float
    mass_t: float
    heat: HeatKey
    readings: tuple[tuple[float, float], ...]
    working_mass_t: float
    nominal: bool


def ladles_over(cast: Cast, label: str, last_time: float) -> tuple[OpenLadle, ...]:
    """Pours into one tundish by opening. Raises CastUnreadable for one that closes before it opens."""
    found = []
    for pour in cast.pours:
        if pour.tundish != label:
            continue
        closed = last_time if pour.closed is None else pour.closed
        if closed < pour.opened:
            raise CastUnreadable(
                f"heat {pour.heat} over tundish {label}: closed at minute {closed:g}, before it opened at "
                f"{pour.opened:g}; correct the pours sheet"
            )
        found.append(OpenLadle(pour, pour.opened, closed))
    return tuple(sorted(found, key=lambda ladle: ladle.opened))


def inflow_weights(ladles: Sequence[OpenLadle]) -> tuple[float, ...]:
    """How ladles that are open together share the inflow; sums to 1.

    By poured mass per open minute where every one of them is known, else equally.
    """
    rates = [ladle.rate for ladle in ladles]
    known = [rate for rate in rates if rate is not None]
    total = sum(known)
    if len(known) < len(rates) or total <= 0.0:
        return tuple(1.0 / len(ladles) for _ in ladles)
    return tuple(rate / total for rate in known)


def inflow_mix(ladles: Sequence[OpenLadle], index: Mapping[HeatKey, int]) -> tuple[float, ...]:
    """Shares of all heats in the inflow of the open ladles."""
    mix = [0.0] * len(index)
    for ladle, weight in zip(ladles, inflow_weights(ladles), strict=True):
        mix[index[ladle.pour.heat]] += weight
    return tuple(mix)


def start_of(tundish: Tundish, ladles: Sequence[OpenLadle], first_feed: float | None) -> TundishStart:
    """When and with what a tundish starts.

    The mass at start holds at the earliest of its first pour, first feed and first reading; a reading at that very
    moment stands instead of it. Steel counted there is not counted again as poured.

    Raises
    ------
    CastUnreadable
        No pour, feed or reading at all; no heat to name for the steel at the start; a mass below zero.
    """
    readings = dict(sorted(tundish.readings))
    times = [ladle.opened for ladle in ladles[:1]] + list(readings)[:1] + ([] if first_feed is None else [first_feed])
    if not times:
        raise CastUnreadable(
            f"tundish {tundish.label}: no pour, no feed and no reading; take it out or complete the book"
        )
    heat = tundish.heat_at_start
    if heat is None and ladles:
        heat = ladles[0].pour.heat
    if heat is None:
        raise CastUnreadable(
            f"tundish {tundish.label}: no heat was poured into it and heat_at_start is empty; fill one in"
        )
    at = min(times)
    mass = readings.pop(at, tundish.mass_at_start_t)
    working = tundish.mass_at_start_t if tundish.working_mass_t is None else tundish.working_mass_t
    if min(mass, working, tundish.stagnant_mass_t, *readings.values(), 0.0) < 0.0:
        raise CastUnreadable(
            f"tundish {tundish.label}: a mass below zero; correct the tundishes or tundish_masses sheet"
        )
    return TundishStart(at, mass, heat, tuple(readings.items()), working, nominal=not tundish.readings)


def open_slope(mass_t: float, target_t: float, stretches: Sequence[tuple[float, bool, float]]) -> float | None:
    """Change of the tundish mass while a ladle is open, up to the next reading [t/min].

    Parameters
    ----------
    mass_t, target_t : float, [t]
        Mass of the model now and of the next reading.
    stretches : Sequence[tuple[float, bool, float]]
        (minutes, a ladle is open, tonnes the strands draw) of the stretches up to the reading.

    Returns
    -------
    float | None
        None where no ladle is open before the reading: nothing can take the difference.

    Notes
    -----
    Without an open ladle the mass falls by what the strands draw; the remaining change is spread evenly over the time
    a ladle is open.

    Examples
    --------
    From 30 t to 30 t in 10 min, the ladle shut for 2 of them while 5 t are drawn: 5 t over 8 min.

    >>> open_slope(30.0, 30.0, [(8.0, True, 20.0), (2.0, False, 5.0)])
    0.625
    """
    minutes = sum(width for width, is_open, _ in stretches if is_open)
    if minutes <= 0.0:
        return None
    fallen = sum(drawn for _, is_open, drawn in stretches if not is_open)
    return (target_t - mass_t + fallen) / minutes
