"""Strands and their tundishes: exchanges, movement without feed, and the plug of steel before each strand."""

from __future__ import annotations

import math

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.record import Feed, Pour, Tundish
from tests.strand.make_cast import MU, cuts_at_places, make_cast, make_run

TWO_TUNDISHES = {
    "pours": (Pour("H1", "T1", 0.0, 18.0), Pour("H2", "T2", 15.0)),
    "tundishes": (Tundish("T1", 10.0), Tundish("T2", 10.0)),
}


def mix(traced, s, heat, run=0, tail=False):
    place = [info.heat_id for info in traced.heats].index(heat)
    return traced.runs[run].course.shares_at(s, tail=tail)[place]


# exchange of the tundish


def test_composition_steps_at_the_joint_of_two_tundishes():
    run = make_run(
        feeds=(Feed("T1", 0.0, 20.0), Feed("T2", 24.0)),
        speeds=((0.0, 1.0), (20.0, 0.0), (24.0, 1.0)),
        cuts=cuts_at_places(15.0, 25.0),
    )
    traced = trace_cast(make_cast([run], **TWO_TUNDISHES))
    assert traced.runs[0].joints_m == pytest.approx((20.0,), abs=1e-12)
    assert mix(traced, 20.0, "H1", tail=True) == 1.0
    assert mix(traced, 20.0, "H2") == 1.0
    assert traced.findings[-1].code != "moved-without-feed"


def test_part_over_a_joint_names_both_tundishes_and_is_a_transition_even_of_one_heat():
    run = make_run(
        feeds=(Feed("T1", 0.0, 20.0), Feed("T2", 20.0)), cuts=cuts_at_places(15.0, 25.0), machine_length_m=10.0
    )
    cast = make_cast(
        [run], pours=(Pour("H1", "T1", 0.0),), tundishes=(Tundish("T1", 10.0), Tundish("T2", 10.0, heat_at_start="H1"))
    )
    first, second = trace_cast(cast).parts
    assert first.class_ == "pure" and first.tundishes == ("T1",)
    assert (second.tundish, second.tundishes) == ("T1", ("T1", "T2"))
    assert second.class_ == "transition"
    assert [reason.code for reason in second.class_reasons] == ["tundish-joint"]
    assert (second.heat, second.heat_no_rule) == ("H1", "late")


def test_steel_moved_between_two_feeds_comes_from_the_tundish_the_strand_last_had():
    # fed from T1 to minute 20 and from T2 from 24, moving all the time: 4 m of T1's last mix, the joint at 24 m
    run = make_run(feeds=(Feed("T1", 0.0, 20.0), Feed("T2", 24.0)))
    traced = trace_cast(make_cast([run], **TWO_TUNDISHES))
    assert traced.runs[0].joints_m == pytest.approx((24.0,), abs=1e-12)
    assert mix(traced, 23.9, "H1") == 1.0
    assert mix(traced, 24.0, "H2") == 1.0
    codes = [finding.code for finding in traced.findings]
    assert "moved-without-feed" in codes
    h1 = next(row for row in traced.balance.heats if row.heat_id == "H1")
    assert h1.strand_t == pytest.approx(MU * 24.0, abs=1e-12)
    assert sum(row.strand_t for row in traced.balance.heats) == pytest.approx(MU * 60.0, abs=1e-12)
    assert all(abs(row.closure_t) < 1e-9 for row in traced.balance.heats)


def test_movement_after_the_last_feed_is_withdrawal_and_no_steel():
    run = make_run(feeds=(Feed("T1", 0.0, 30.0),))
    traced = trace_cast(make_cast([run]))
    assert traced.balance.strand_t == pytest.approx(MU * 30.0, abs=1e-12)


def test_old_tundish_left_over_is_booked_with_its_last_mix():
    run = make_run(feeds=(Feed("T1", 0.0, 20.0), Feed("T2", 20.0)))
    traced = trace_cast(make_cast([run], **TWO_TUNDISHES))
    h1 = next(row for row in traced.balance.heats if row.heat_id == "H1")
    assert h1.tundish_left_t == pytest.approx(10.0 - 2.0 * MU, abs=1e-12)  # shut from 18 to 20


def test_strands_of_one_tundish_share_one_mix_by_time_not_by_length():
    late = make_run(2, started=10.0, feeds=(Feed("T1", 10.0),), speeds=((10.0, 1.0),))
    cast = make_cast([make_run(), late], pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0)))
    traced = trace_cast(cast)
    assert mix(traced, 35.0, "H2") == pytest.approx(mix(traced, 25.0, "H2", run=1), abs=1e-12)
    assert mix(traced, 35.0, "H2") == pytest.approx(1.0 - math.exp(-2.0 * MU * 15.0 / 10.0), abs=1e-12)


def test_lost_strand_stops_drawing():
    lost = make_run(2, feeds=(Feed("T1", 0.0, 25.0),))
    cast = make_cast([make_run(), lost], pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0)))
    traced = trace_cast(cast)
    expected = math.exp(-(2.0 * MU * 5.0 + MU * 5.0) / 10.0)
    assert mix(traced, 30.0, "H1") == pytest.approx(expected, abs=1e-12)
    assert traced.runs[1].s_end == pytest.approx(25.0, abs=1e-12)


# plugs and stagnant mass

EXCHANGE = {"pours": (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0)), "tundishes": (Tundish("T1", 12.0),)}


def test_plug_delays_the_new_heat_by_its_tonnes():
    # 2 MU tonnes of plug are 2 m of this strand; the tank that mixes has 12 - 2 MU tonnes
    traced = trace_cast(make_cast([make_run(plug_mass_t=2.0 * MU)], **EXCHANGE))
    assert mix(traced, 22.0, "H2") == pytest.approx(0.0, abs=1e-12)
    assert mix(traced, 32.0, "H2") == pytest.approx(1.0 - math.exp(-MU * 10.0 / (12.0 - 2.0 * MU)), abs=1e-12)


def test_plug_stands_while_its_strand_stands():
    # the strand stands from 21 to 41, one metre after the exchange: one metre of plug is still to come
    run = make_run(plug_mass_t=2.0 * MU, speeds=((0.0, 1.0), (21.0, 0.0), (41.0, 1.0)))
    other = make_run(2)
    traced = trace_cast(make_cast([run, other], **EXCHANGE))
    assert mix(traced, 21.9, "H2") == pytest.approx(0.0, abs=1e-12)
    assert mix(traced, 22.5, "H2") > 0.0


def test_plug_is_inherited_by_the_next_run_of_the_strand():
    # run 1 ends at minute 21 with 1 m of old steel in its 2 m plug; run 2 begins at 40 and casts it first
    first = make_run(plug_mass_t=2.0 * MU, feeds=(Feed("T1", 0.0, 21.0),))
    second = make_run(run_no=2, plug_mass_t=2.0 * MU, started=40.0, speeds=((40.0, 1.0),), feeds=(Feed("T1", 40.0),))
    other = make_run(2)
    traced = trace_cast(make_cast([first, second, other], **EXCHANGE))
    assert mix(traced, 0.99, "H1", run=1) == pytest.approx(1.0, abs=1e-12)
    assert mix(traced, 1.01, "H1", run=1) < 1.0


def test_plug_of_a_strand_is_counted_once_for_all_its_runs():
    first = make_run(plug_mass_t=1.0, feeds=(Feed("T1", 0.0, 10.0),))
    second = make_run(run_no=2, plug_mass_t=1.0, started=15.0, speeds=((15.0, 1.0),), feeds=(Feed("T1", 15.0),))
    traced = trace_cast(make_cast([first, second], **EXCHANGE))
    # 12 t less one plug of 1 t mix: minutes 20 to 40, and the plug delays by 1 t
    reached = 20.0 + 1.0 / MU
    expected = 1.0 - math.exp(-MU * (40.0 - reached) / 11.0)
    assert mix(traced, 25.0, "H2", run=1) == pytest.approx(expected, abs=1e-12)


def test_stagnant_mass_keeps_its_mix_and_makes_the_washout_faster():
    tundish = Tundish("T1", 12.0, stagnant_mass_t=2.0)
    traced = trace_cast(make_cast([make_run()], pours=EXCHANGE["pours"], tundishes=(tundish,)))
    assert mix(traced, 30.0, "H1") == pytest.approx(math.exp(-MU * 10.0 / 10.0), abs=1e-12)
    left = next(row.tundish_left_t for row in traced.balance.heats if row.heat_id == "H1")
    assert left == pytest.approx(2.0 + 10.0 * math.exp(-MU * 40.0 / 10.0), abs=1e-12)


def test_below_stagnant_plus_plugs_the_whole_tank_is_one_mix():
    # 12 t, 3 t of them stagnant H1 and 2 t plug. 600 minutes of H2 wash the other 7 t and the plug clean (e-26). Then
    # shut: 7 t go out as H2, and at 5 t the tank becomes one mix of 3 t H1 and 2 t H2, drawn without a plug.
    run = make_run(plug_mass_t=2.0)
    pours = (Pour("H1", "T1", 0.0, 10.0), Pour("H2", "T1", 10.0, 610.0), Pour("H3", "T1", 640.0))
    cast = make_cast([run], pours=pours, tundishes=(Tundish("T1", 12.0, stagnant_mass_t=3.0),), last_time=700.0)
    traced = trace_cast(cast)
    whole_from = 610.0 + 7.0 / MU
    assert mix(traced, whole_from, "H2", tail=True) == pytest.approx(1.0, abs=1e-9)
    assert mix(traced, whole_from, "H1") == pytest.approx(3.0 / 5.0, abs=1e-9)
    assert mix(traced, 640.0, "H1", tail=True) == pytest.approx(3.0 / 5.0, abs=1e-9)
    # the new ladle fills up to 12 t at once: stagnant mass and plug take the new mix, so it is cast without delay
    left = 12.0 - MU * 30.0
    assert mix(traced, 640.0, "H3") == pytest.approx((12.0 - left) / 12.0, abs=1e-9)
    assert all(abs(row.closure_t) < 1e-9 for row in traced.balance.heats)


def test_no_plug_and_no_stagnant_mass_is_the_plain_mixed_tank():
    traced = trace_cast(make_cast([make_run()], **EXCHANGE))
    assert mix(traced, 35.0, "H1") == pytest.approx(math.exp(-MU * 15.0 / 12.0), abs=1e-12)
