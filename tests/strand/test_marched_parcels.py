"""Piece by piece against a simulation marched in small steps of time, written apart from the model.

Every step pours a little steel in, draws a little to each strand, and pushes each strand's plug by what it drew; the
metres cast in the step take the mix that comes out. Its error falls with the step; 0.005 min gives about 1e-4.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.record import Cast, Feed, Pour, Tundish
from tests.strand.make_cast import MU, cuts_at, make_cast, make_run

STEP = 0.005


@dataclass
class MarchedTank:
    """A tank by its label: mass wanted at every minute (None: no ladle, it falls), mix of the inflow, stagnant mass."""

    wanted: Callable[[float], float | None]
    inflow: Callable[[float], tuple[float, ...]]
    mass: float
    mix: list[float]
    stagnant: float = 0.0


@dataclass
class MarchedStrand:
    speed: Callable[[float], float]
    fed_from: Callable[[float], str | None]
    plug: float = 0.0


def march(
    tanks: dict[str, MarchedTank], strands: list[MarchedStrand], minutes: float
) -> list[list[tuple[float, tuple]]]:
    """(metres, mix) of every strand, step by step."""
    apart = {label: tank.stagnant for label, tank in tanks.items()}
    queues: list[deque] = []
    for strand in strands:
        label = strand.fed_from(0.0) or "T1"
        queues.append(deque([[strand.plug, tuple(tanks[label].mix)]] if strand.plug else []))
        apart[label] += strand.plug
    cast: list[list[tuple[float, tuple]]] = [[] for _ in strands]
    for k in range(round(minutes / STEP)):
        t = (k + 0.5) * STEP
        drawn = dict.fromkeys(tanks, 0.0)
        for number, strand in enumerate(strands):
            label, mass = strand.fed_from(t), strand.speed(t) * STEP * MU
            if label is None or mass == 0.0:
                continue
            drawn[label] += mass
            out = tuple(tanks[label].mix)
            if strand.plug:
                queues[number].append([mass, out])
                need, total = mass, [0.0] * len(out)
                while need > 1e-15:
                    part = min(need, queues[number][0][0])
                    total = [a + part * b for a, b in zip(total, queues[number][0][1], strict=True)]
                    queues[number][0][0] -= part
                    need -= part
                    if queues[number][0][0] <= 1e-15:
                        queues[number].popleft()
                out = tuple(value / mass for value in total)
            cast[number].append((strand.speed(t) * STEP, out))
        for label, tank in tanks.items():
            wanted = tank.wanted(t + STEP / 2.0)
            poured = 0.0 if wanted is None else wanted - (tank.mass - drawn[label])
            mixing = tank.mass - apart[label] - drawn[label]
            y = tank.inflow(t)
            tank.mix = [(mixing * x + poured * b) / (mixing + poured) for x, b in zip(tank.mix, y, strict=True)]
            tank.mass += poured - drawn[label]
    return cast


def mean_between(metres: list[tuple[float, tuple]], low: float, high: float) -> list[float]:
    place, total = 0.0, [0.0] * len(metres[0][1])
    for width, mix in metres:
        overlap = min(high, place + width) - max(low, place)
        if overlap > 0.0:
            total = [a + overlap * b for a, b in zip(total, mix, strict=True)]
        place += width
    return [value / (high - low) for value in total]


def level_drop_and_three_heats() -> tuple[Cast, dict[str, MarchedTank], list[MarchedStrand]]:
    """Ladles late at 40 and 80: the level falls, then jumps back; strand 2 slow; a middle heat of 30 minutes."""
    pours = (Pour("H1", "T1", 0.0, 40.0), Pour("H2", "T1", 46.0, 75.0), Pour("H3", "T1", 80.0))
    slow = make_run(2, speeds=((0.0, 0.6),), cuts=cuts_at(*range(27, 120, 11)))
    cast = make_cast([make_run(cuts=cuts_at(*range(17, 120, 7))), slow], pours=pours, last_time=120.0)

    def wanted(t: float) -> float | None:
        return None if 40.0 < t < 46.0 or 75.0 < t < 80.0 else 10.0

    def inflow(t: float) -> tuple[float, ...]:
        return (1.0, 0.0, 0.0) if t < 43.0 else (0.0, 1.0, 0.0) if t < 77.0 else (0.0, 0.0, 1.0)

    tank = MarchedTank(wanted, inflow, 10.0, [1.0, 0.0, 0.0])
    return (
        cast,
        {"T1": tank},
        [MarchedStrand(lambda _: 1.0, lambda _: "T1"), MarchedStrand(lambda _: 0.6, lambda _: "T1")],
    )


def late_strand_stagnant_and_plugs() -> tuple[Cast, dict[str, MarchedTank], list[MarchedStrand]]:
    """Two strands, the second late and with a stop, stagnant steel and plugs, the mass read to rise and fall."""
    readings = ((0.0, 12.0), (50.0, 15.0), (100.0, 9.0))
    tundish = Tundish("T1", 12.0, stagnant_mass_t=1.5, readings=readings)
    pours = (Pour("H1", "T1", 0.0, 30.0), Pour("H2", "T1", 30.0))
    first = make_run(plug_mass_t=0.8, speeds=((0.0, 1.2),), cuts=cuts_at(*range(15, 100, 9)))
    second = make_run(
        2,
        plug_mass_t=1.6,
        started=10.0,
        feeds=(Feed("T1", 10.0),),
        speeds=((10.0, 0.9), (45.0, 0.0), (52.0, 0.9)),
        cuts=cuts_at(*range(27, 100, 9)),
    )
    cast = make_cast([first, second], pours=pours, tundishes=(tundish,), last_time=100.0)

    def wanted(t: float) -> float:
        return 12.0 + 3.0 * t / 50.0 if t <= 50.0 else 15.0 - 6.0 * (t - 50.0) / 50.0

    tank = MarchedTank(wanted, lambda t: (1.0, 0.0) if t < 30.0 else (0.0, 1.0), 12.0, [1.0, 0.0], 1.5)

    def speed(t: float) -> float:
        return 0.0 if t < 10.0 or 45.0 < t < 52.0 else 0.9

    strands = [MarchedStrand(lambda _: 1.2, lambda _: "T1", 0.8), MarchedStrand(speed, lambda _: "T1", 1.6)]
    return cast, {"T1": tank}, strands


def tundish_exchange_with_a_dwell() -> tuple[Cast, dict[str, MarchedTank], list[MarchedStrand]]:
    """T1 shut at 45, the strand dwells from 50 to 53 and goes on from T2, where another ladle follows at 70."""
    pours = (Pour("H1", "T1", 0.0, 45.0), Pour("H2", "T2", 47.0, 70.0), Pour("H3", "T2", 70.0))
    run = make_run(
        feeds=(Feed("T1", 0.0, 50.0), Feed("T2", 53.0)),
        speeds=((0.0, 1.0), (50.0, 0.0), (53.0, 0.8)),
        cuts=cuts_at(*range(18, 110, 8)),
    )
    tundishes = (Tundish("T1", 8.0), Tundish("T2", 6.0, working_mass_t=9.0))
    cast = make_cast([run], pours=pours, tundishes=tundishes, last_time=110.0)

    def wanted_old(t: float) -> float | None:
        return 8.0 if t <= 45.0 else None

    def wanted_new(t: float) -> float | None:
        return None if t < 47.0 else 9.0

    def inflow(t: float) -> tuple[float, ...]:
        return (1.0, 0.0, 0.0) if t < 46.0 else (0.0, 1.0, 0.0) if t < 70.0 else (0.0, 0.0, 1.0)

    tanks = {
        "T1": MarchedTank(wanted_old, inflow, 8.0, [1.0, 0.0, 0.0]),
        "T2": MarchedTank(wanted_new, inflow, 6.0, [0.0, 1.0, 0.0]),
    }

    def speed(t: float) -> float:
        return 1.0 if t < 50.0 else 0.0 if t < 53.0 else 0.8

    return cast, tanks, [MarchedStrand(speed, lambda t: "T1" if t < 50.0 else "T2")]


@pytest.mark.parametrize(
    "story", [level_drop_and_three_heats, late_strand_stagnant_and_plugs, tundish_exchange_with_a_dwell]
)
def test_piece_means_agree_with_marched_parcels(story):
    cast, tanks, strands = story()
    minutes = cast.last_time
    marched = march(tanks, strands, minutes)
    traced = trace_cast(cast)
    mixed = 0
    for part in traced.parts:
        expected = mean_between(marched[part.strand_no - 1], part.from_m, part.to_m)
        seen = [share.mean for share in part.shares][: len(expected)]
        assert seen == pytest.approx(expected, abs=2e-3)
        mixed += 0.1 < max(expected) < 0.9
    assert mixed >= 2


@pytest.mark.parametrize(
    "story", [level_drop_and_three_heats, late_strand_stagnant_and_plugs, tundish_exchange_with_a_dwell]
)
def test_what_is_left_in_the_tundish_agrees_with_marched_parcels(story):
    cast, tanks, strands = story()
    march(tanks, strands, cast.last_time)
    left = sum(row.tundish_left_t for row in trace_cast(cast).balance.heats)
    assert left == pytest.approx(sum(tank.mass for tank in tanks.values()), abs=2e-2)
