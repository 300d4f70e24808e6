"""Published and analytic check values; each row of cases/published_checks.csv names its source."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.course import StrandSegment, course_of
from heattrace.strand.expansion import carbon_steel, cold_length
from heattrace.strand.mixing import TankInterval, dilute
from heattrace.strand.record import CastUnreadable, Pour, Tundish
from heattrace.strand.section import tonnes_per_hot_metre
from heattrace.strand.transition import first_reach
from tests.strand.make_cast import MU, cuts_at_places, make_cast, make_run

CAST_T_MIN = 2.3114  # tonnes a minute of P37


def steady_tank(minutes: float, mass: float = 30.0, rate: float = 2.0) -> TankInterval:
    return TankInterval(0.0, minutes, mass, rate, rate, (1.0, 0.0), (0.0, 1.0))


def tonnes_between(tanks: list[TankInterval], low: float, high: float) -> float:
    """Tonnes cast from the moment the new heat reaches `low` to the moment it reaches `high`."""
    segments, place = [], 0.0
    for tank in tanks:
        width = tank.q_out * (tank.t1 - tank.t0)
        segments.append(StrandSegment("T1", place, place + width, 1.0, tank, tank.t0, tank.t1))
        place += width
    course = course_of(segments)
    reached = [first_reach(course, frozenset((1,)), level) for level in (low, high)]
    assert None not in reached
    return reached[1] - reached[0]


def let_down_and_refilled() -> list[TankInterval]:
    """30 t fall to 15 t without inflow, refill at 6 t/min while casting goes on, then constant mass."""
    empty_at = 15.0 / CAST_T_MIN
    full_at = empty_at + 15.0 / (6.0 - CAST_T_MIN)
    falling = TankInterval(0.0, empty_at, 30.0, 0.0, CAST_T_MIN, (1.0, 0.0), (0.0, 1.0))
    filling = TankInterval(empty_at, full_at, 15.0, 6.0, CAST_T_MIN, falling.at(empty_at), (0.0, 1.0))
    holding = TankInterval(full_at, 200.0, 30.0, CAST_T_MIN, CAST_T_MIN, filling.at(full_at), (0.0, 1.0))
    return [falling, filling, holding]


def old_steel_cast() -> float:
    """Old steel in the strand after an exchange at minute 10, at constant mass, washed out to e-40."""
    minutes = 10.0 + 40.0 * 30.0 / MU
    cast = make_cast(
        [make_run(cuts=cuts_at_places(5.0))],
        pours=(Pour("H1", "T1", 0.0, 10.0), Pour("H2", "T1", 10.0)),
        tundishes=(Tundish("T1", 30.0),),
        last_time=minutes,
    )
    old = next(row for row in trace_cast(cast).balance.heats if row.heat_id == "H1")
    return old.strand_t - 10.0 * MU


COMPUTED = {
    "P01a": lambda: steady_tank(100.0).at(7.5)[1],
    "P01b": lambda: steady_tank(100.0).at(15.0)[1],
    "P01c": lambda: steady_tank(100.0).at(30.0)[1],
    "P01d": lambda: steady_tank(100.0).at(45.0)[1],
    "P02": lambda: carbon_steel(600.0),
    "P03": lambda: carbon_steel(800.0),
    "P04": lambda: carbon_steel(900.0),
    "P05": lambda: carbon_steel(1000.0),
    "P06": lambda: cold_length(6.0, carbon_steel(900.0)),
    "P13": lambda: tonnes_per_hot_metre(208.0**2, 0.0),
    "P35": old_steel_cast,
    "P36": lambda: tonnes_between([steady_tank(400.0)], 0.05, 0.95),
    "P37": lambda: tonnes_between(let_down_and_refilled(), 0.05, 0.95),
    "P38": lambda: TankInterval(0.0, 15.0, 15.0, 2.0, 1.0, (1.0, 0.0), (0.0, 1.0)).at(15.0)[0],
}
with (Path(__file__).parent / "cases" / "published_checks.csv").open(encoding="utf-8", newline="") as stream:
    ROWS = list(csv.DictReader(stream))


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_published_value_is_met(row):
    tolerance = max(float(row["tolerance"]), 1e-15)
    assert COMPUTED[row["id"]]() == pytest.approx(float(row["expected"]), abs=tolerance)


def test_every_row_is_computed_and_every_computation_has_a_row():
    assert {row["id"] for row in ROWS} == set(COMPUTED)


def test_tonnes_from_five_to_ninety_five_percent_are_the_logarithm_of_nineteen():
    # M ln 19 (analytic), here to 1e-9
    assert tonnes_between([steady_tank(400.0)], 0.05, 0.95) == pytest.approx(30.0 * math.log(19.0), abs=1e-9)


@pytest.mark.parametrize("temperature", [19.0, 1201.0])
def test_expansion_outside_the_range_of_the_source_is_refused(temperature):
    with pytest.raises(CastUnreadable, match="20 to 1200"):
        carbon_steel(temperature)


def test_dilution_at_one_moment_is_the_mix_by_mass():
    # common practice: 22 t old and 10 t new give 10/32 new
    assert dilute(22.0, (1.0, 0.0), 10.0, (0.0, 1.0)) == (0.6875, 0.3125)


def test_about_half_an_hour_from_mould_to_cut():
    # common practice, without a source: 21 m at 0.7 m/min
    run = make_run(machine_length_m=21.0, speeds=((0.0, 0.7),), cuts=cuts_at_places(50.0, 60.0))
    part = trace_cast(make_cast([run], last_time=120.0)).parts[-1]
    assert part.transit_min == pytest.approx(30.0, abs=1e-9)
