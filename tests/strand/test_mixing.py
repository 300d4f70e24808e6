"""The mixed tank: closed form against an ODE solver, and its limits."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from heattrace.strand.mixing import TankInterval, log_ratio

rates = st.one_of(st.just(0.0), st.floats(0.01, 8.0))


@st.composite
def tanks(draw):
    """A tank of three heats that does not run empty, also with nearly equal rates."""
    q_out = draw(rates)
    q_in = draw(st.one_of(rates, st.just(q_out), st.floats(-1e-7, 1e-7).map(lambda d: max(0.0, q_out + d))))
    mass = draw(st.floats(2.0, 60.0))
    longest = 60.0 if q_in >= q_out else min(60.0, 0.95 * mass / (q_out - q_in))
    minutes = draw(st.floats(0.05, 1.0)) * longest
    first, second = draw(st.floats(0.0, 1.0)), draw(st.floats(0.0, 1.0))
    start = (first, (1.0 - first) * second, (1.0 - first) * (1.0 - second))
    weight = draw(st.sampled_from((0.0, 0.3, 1.0)))
    return TankInterval(0.0, minutes, mass, q_in, q_out, start, (0.0, weight, 1.0 - weight))


def solved(tank: TankInterval) -> list[float]:
    """Mass, shares, and time integrals of the shares at the end, by an explicit Runge-Kutta solver of order 8."""

    def change(_t, state):
        mass, shares = state[0], state[1:4]
        flow = [tank.q_in * (y - x) / mass for x, y in zip(shares, tank.inflow, strict=True)]
        return [tank.q_in - tank.q_out, *flow, *shares]

    state = [tank.mass_t, *tank.start, 0.0, 0.0, 0.0]
    return list(solve_ivp(change, (0.0, tank.t1), state, method="DOP853", rtol=1e-11, atol=1e-12).y[:, -1])


@settings(max_examples=120, derandomize=True, deadline=None)
@given(tanks())
def test_closed_form_agrees_with_an_ode_solver(tank):
    end = solved(tank)
    assert tank.mass_at(tank.t1) == pytest.approx(end[0], abs=1e-8)
    assert tank.at(tank.t1) == pytest.approx(end[1:4], abs=1e-8)
    mean = tank.mean(0.0, tank.t1)
    assert [share * tank.t1 for share in mean] == pytest.approx(end[4:7], rel=1e-8, abs=1e-8)


@settings(max_examples=120, derandomize=True, deadline=None)
@given(tanks(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_mean_over_a_window_is_the_mean_of_its_two_halves(tank, a, b):
    low, high = sorted((a * tank.t1, b * tank.t1))
    middle = (low + high) / 2.0
    halves = [(x + y) / 2.0 for x, y in zip(tank.mean(low, middle), tank.mean(middle, high), strict=True)]
    assert tank.mean(low, high) == pytest.approx(halves, abs=1e-12)


@settings(max_examples=120, derandomize=True, deadline=None)
@given(tanks())
def test_what_goes_in_is_what_comes_out_and_what_stays(tank):
    width = tank.t1 - tank.t0
    for i in range(3):
        came = tank.mass_t * tank.start[i] + tank.q_in * width * tank.inflow[i]
        went = tank.q_out * width * tank.mean(tank.t0, tank.t1)[i] + tank.mass_at(tank.t1) * tank.at(tank.t1)[i]
        assert went == pytest.approx(came, abs=1e-11 * max(1.0, tank.q_in * width))


@settings(max_examples=120, derandomize=True, deadline=None)
@given(tanks(), st.floats(0.001, 0.999))
def test_time_of_a_remaining_part_is_when_it_remains(tank, wanted):
    t = tank.time_of_remaining(wanted)
    if t == math.inf:
        assert tank.remaining(tank.t1) > wanted
    else:
        assert tank.remaining(t) == pytest.approx(wanted, abs=1e-9)


def test_tank_without_inflow_keeps_its_mix():
    tank = TankInterval(0.0, 5.0, 10.0, 0.0, 1.5, (0.25, 0.75), (1.0, 0.0))
    assert tank.at(5.0) == (0.25, 0.75)
    assert tank.mean(1.0, 5.0) == (0.25, 0.75)
    assert tank.slope(2.0) == (0.0, 0.0)


def test_tank_without_outflow_is_a_plain_dilution():
    # 10 t old and 2 t/min of new for 5 min: 10/20
    tank = TankInterval(0.0, 5.0, 10.0, 2.0, 0.0, (1.0, 0.0), (0.0, 1.0))
    assert tank.at(5.0)[0] == pytest.approx(0.5, abs=1e-15)


def test_tank_without_mass_has_the_mix_of_its_inflow():
    tank = TankInterval(0.0, 5.0, 0.0, 2.0, 2.0, (1.0, 0.0), (0.0, 1.0))
    assert tank.at(0.5) == (0.0, 1.0)
    assert tank.mean(1.0, 2.0) == (0.0, 1.0)


def test_tank_that_runs_empty_takes_the_mix_of_its_inflow_at_the_end():
    # falls from 4 t by 2 t/min with 1 t/min in: E = (M/M0)^1, so mean E = 1/2 and E = 0 at the end
    tank = TankInterval(0.0, 4.0, 4.0, 1.0, 2.0, (1.0, 0.0), (0.0, 1.0))
    assert tank.at(4.0) == (0.0, 1.0)
    assert tank.at(2.0)[0] == pytest.approx(0.5, abs=1e-15)
    assert tank.mean(0.0, 4.0)[0] == pytest.approx(0.5, abs=1e-12)


def test_slope_is_inflow_over_mass_times_the_difference():
    # dx/dt = q (1 - x) / M: 2 x 1 / 30 at the opening
    tank = TankInterval(0.0, 5.0, 30.0, 2.0, 2.0, (1.0, 0.0), (0.0, 1.0))
    assert tank.slope(0.0)[1] == pytest.approx(2.0 / 30.0, abs=1e-15)


def test_log_ratio_is_continuous_through_zero_and_infinite_at_minus_one():
    assert log_ratio(-1e-12) == pytest.approx(1.0, abs=1e-11)
    assert log_ratio(1e-7) == pytest.approx(1.0 - 5e-8, abs=1e-12)
    assert log_ratio(-1.0) == math.inf
