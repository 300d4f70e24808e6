"""Odd but readable records: what is taken, what is found, and that nothing is lost."""

from __future__ import annotations

import math

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.record import CastUnreadable, Cut, Feed, HeatInfo, Pour, Tundish
from heattrace.strand.timeline import timeline_of
from tests.strand.make_cast import MU, cuts_at, cuts_at_places, make_cast, make_run


def codes(traced):
    return [finding.code for finding in traced.findings if finding.code != "nominal-level"]


def balanced(traced):
    return all(abs(row.closure_t) < 1e-9 for row in traced.balance.heats)


def test_strand_stopped_for_good_but_never_shut_off_is_a_finding():
    assert codes(trace_cast(make_cast([make_run(stopped=40.0)]))) == ["stopped-but-fed"]


def test_feed_still_open_when_the_next_begins_ends_there_and_is_a_finding():
    tundishes = (Tundish("T1", 10.0), Tundish("T2", 10.0, heat_at_start="H1"))
    traced = trace_cast(make_cast([make_run(feeds=(Feed("T1", 0.0), Feed("T2", 30.0)))], tundishes=tundishes))
    assert codes(traced) == ["feeds-overlap"]
    assert traced.runs[0].joints_m == pytest.approx((30.0,), abs=1e-12)
    assert balanced(traced)


def test_plug_mass_that_differs_between_runs_of_a_strand_is_a_finding():
    first = make_run(plug_mass_t=1.0, feeds=(Feed("T1", 0.0, 10.0),), stopped=10.0)
    second = make_run(run_no=2, plug_mass_t=2.0, started=20.0, feeds=(Feed("T1", 20.0),), speeds=((20.0, 1.0),))
    traced = trace_cast(make_cast([first, second]))
    assert codes(traced) == ["plug-mass-differs"]
    assert balanced(traced)


def test_strand_that_never_moved_makes_no_parts_and_says_so():
    run = make_run(2, speeds=((0.0, 0.0),), feeds=(Feed("T1", 0.0, 10.0),), cuts=(Cut(1, "tail-crop"),))
    traced = trace_cast(make_cast([make_run(), run]))
    assert codes(traced) == ["strand-without-steel"]
    assert traced.parts == ()


def test_cut_at_the_very_tail_leaves_a_tail_part_without_length():
    run = make_run(feeds=(Feed("T1", 0.0, 40.0),), cuts=(*cuts_at_places(20.0, 40.0), Cut(3, "tail-crop")))
    traced = trace_cast(make_cast([run]))
    tail = traced.parts[-1]
    assert (tail.from_m, tail.to_m, tail.mass_t) == pytest.approx((40.0, 40.0, 0.0), abs=1e-12)
    assert sum(share.mean for share in tail.shares) == 1.0
    assert traced.balance.heats[0].kerf_t == pytest.approx(MU * 0.015, abs=1e-12)
    assert balanced(traced)


def test_mass_above_the_working_mass_at_an_opening_is_steel_taken_out():
    # 10 t at the start, 7 t working: 3 t go at the present mix
    traced = trace_cast(make_cast(tundishes=(Tundish("T1", 10.0, working_mass_t=7.0),)))
    assert traced.balance.heats[0].loss_t == pytest.approx(3.0, abs=1e-12)
    assert codes(traced) == ["negative-inflow"]
    assert balanced(traced)


def test_level_taken_down_below_stagnant_and_plugs_mixes_the_whole_tank():
    # of 10 t H1, 6 stagnant and 2 plug; the working mass is 5 t, so 5 t are lost and what stays is one mix
    tundish = Tundish("T1", 10.0, working_mass_t=5.0, stagnant_mass_t=6.0)
    pours = (Pour("H2", "T1", 5.0),)
    cast = make_cast(
        [make_run(plug_mass_t=2.0, speeds=((0.0, 0.0), (5.0, 1.0)))],
        pours=pours,
        tundishes=(Tundish("T1", 10.0, "H1", tundish.working_mass_t, tundish.stagnant_mass_t),),
    )
    traced = trace_cast(cast)
    h1 = traced.balance.heats[0]
    assert h1.loss_t == pytest.approx(5.0, abs=1e-12)
    # no plug and no stagnant mass while below 8 t: the share of H1 at 10 m is exp(-MU 10 / 5)
    assert traced.runs[0].course.shares_at(10.0)[0] == pytest.approx(math.exp(-MU * 10.0 / 5.0), abs=1e-12)
    assert balanced(traced)


def test_tank_that_fills_past_stagnant_and_plugs_sets_them_apart_again():
    readings = ((0.0, 2.0), (20.0, 12.0), (60.0, 12.0))
    tundish = Tundish("T1", 2.0, stagnant_mass_t=4.0, readings=readings)
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0))
    traced = trace_cast(make_cast([make_run(plug_mass_t=1.0)], pours=pours, tundishes=(tundish,)))
    # from 20 on 7 t mix; the plug of 1 t delays by 1/MU metres
    seen = traced.runs[0].course.shares_at(40.0)[0]
    assert seen == pytest.approx(math.exp(-(MU * 20.0 - 1.0) / 7.0), abs=1e-12)
    assert balanced(traced)


def test_heat_that_stands_twice_is_refused():
    cast = make_cast()
    twice = cast.__class__(
        "Q1", (*cast.heats, HeatInfo("H1", "H1")), cast.tundishes, cast.pours, cast.runs, cast.last_time
    )
    with pytest.raises(CastUnreadable, match="stands twice"):
        trace_cast(twice)


def test_tundish_that_nothing_touched_is_refused():
    tundishes = (Tundish("T1", 10.0), Tundish("T2", 10.0, heat_at_start="H1"))
    with pytest.raises(CastUnreadable, match="no pour, no feed and no reading"):
        trace_cast(make_cast(tundishes=tundishes))


def test_heat_that_was_never_poured_has_no_steel_anywhere():
    traced = trace_cast(make_cast([make_run(cuts=cuts_at_places(20.0))]))
    assert [row.strand_t for row in traced.balance.heats[1:]] == [0.0, 0.0]
    assert [share.heat_id for share in traced.parts[0].listed()] == ["H1"]


def test_counter_read_before_the_start_gives_the_zero_by_interpolation():
    line = timeline_of(make_run(started=10.0, speeds=(), counters=((5.0, 0.0), (15.0, 6.0), (30.0, 21.0))), 30.0, None)
    assert line.s_at(15.0) == pytest.approx(3.0, abs=1e-12)
    assert line.s_at(30.0) == pytest.approx(18.0, abs=1e-12)


def test_after_the_last_counter_reading_the_speed_is_unknown():
    run = make_run(speeds=(), counters=((0.0, 0.0), (40.0, 40.0)), cuts=cuts_at(30.0, 50.0))
    first, second = trace_cast(make_cast([run])).parts
    assert first.bounds is None
    # between standing and 1 m/min for 10 minutes: S(50) is 40 to 50
    assert second.bounds.to_m == pytest.approx((29.995, 39.995), abs=1e-9)


def test_gap_longer_than_the_counter_reaches_is_bracketed_for_the_rest():
    run = make_run(speeds=((0.0, 1.0), (20.0, None), (40.0, 1.0)), counters=((10.0, 10.0), (30.0, 28.0)))
    line = timeline_of(run, 60.0, None)
    assert line.s_at(30.0) == pytest.approx(28.0, abs=1e-12)
    assert [(gap.start, gap.end, gap.how) for gap in line.gaps] == [(20.0, 30.0, "counter"), (30.0, 40.0, "bracket")]


def test_counter_that_runs_behind_the_strand_in_a_gap_is_not_used():
    run = make_run(speeds=((0.0, 1.0), (20.0, None), (40.0, 1.0)), counters=((10.0, 10.0), (45.0, 12.0)))
    assert [gap.how for gap in timeline_of(run, 60.0, None).gaps] == ["bracket"]


def test_two_unknown_rows_one_after_the_other_are_one_gap():
    run = make_run(speeds=((0.0, 1.0), (20.0, None), (25.0, None), (40.0, 0.5)))
    gaps = timeline_of(run, 60.0, None).gaps
    assert [(gap.start, gap.end, gap.low, gap.high) for gap in gaps] == [(20.0, 40.0, 0.5, 1.0)]


def test_counter_across_two_gaps_cannot_be_divided_between_them():
    rows = ((0.0, 1.0), (20.0, None), (25.0, 1.0), (30.0, None), (35.0, 1.0))
    run = make_run(speeds=rows, counters=((10.0, 10.0), (45.0, 44.0)))
    assert [gap.how for gap in timeline_of(run, 60.0, None).gaps] == ["bracket", "bracket"]


def test_places_outside_the_strand_take_its_first_and_last_minute():
    line = timeline_of(make_run(started=5.0, speeds=((5.0, 1.0),)), 60.0, None)
    assert (line.first_time(-1.0), line.last_time(-1.0)) == (5.0, 5.0)
    assert (line.first_time(99.0), line.last_time(99.0)) == (60.0, 60.0)


def test_traced_cast_answers_by_run_and_by_heat_and_says_what_it_does_not_have():
    traced = trace_cast(make_cast([make_run(cuts=cuts_at_places(20.0))]))
    assert traced.run(1, 1).key == (1, 1)
    assert traced.heat_no("H2") == "H2"
    for ask in (lambda: traced.run(2, 1), lambda: traced.heat_no("H9"), lambda: traced.parts[0].share_of("H9")):
        with pytest.raises(KeyError):
            ask()
