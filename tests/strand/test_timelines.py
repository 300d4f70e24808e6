"""Length against time: speeds, counters, stops, unknown speeds, and the inverse with its head and tail readings."""

from __future__ import annotations

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.record import CastUnreadable, Feed
from heattrace.strand.timeline import timeline_of
from tests.strand.make_cast import cuts_at, make_cast, make_run

STOPPED = ((0.0, 1.0), (20.0, 0.0), (30.0, 0.5))


def test_speed_holds_until_the_next_row():
    line = timeline_of(make_run(speeds=((0.0, 1.0), (10.0, 0.4))), 20.0, None)
    assert line.s_at(10.0) == pytest.approx(10.0, abs=1e-12)
    assert line.s_at(20.0) == pytest.approx(14.0, abs=1e-12)


def test_length_is_zero_before_the_start_and_rows_before_it_hold_over():
    line = timeline_of(make_run(started=5.0, speeds=((0.0, 2.0), (7.0, 1.0))), 10.0, None)
    assert line.s_at(4.0) == 0.0
    assert line.s_at(10.0) == pytest.approx(2 * 2.0 + 3 * 1.0, abs=1e-12)


def test_at_a_stop_a_head_takes_the_last_time_and_a_tail_the_first():
    line = timeline_of(make_run(speeds=STOPPED), 60.0, None)
    assert line.last_time(20.0) == pytest.approx(30.0, abs=1e-6)
    assert line.first_time(20.0) == pytest.approx(20.0, abs=1e-6)
    assert line.first_time(22.5) == line.last_time(22.5) == pytest.approx(35.0, abs=1e-9)


def test_place_that_misses_a_stop_by_rounding_still_counts_as_at_the_stop():
    line = timeline_of(make_run(speeds=STOPPED), 60.0, None)
    assert line.last_time(20.0 - 1e-8) == pytest.approx(30.0, abs=1e-6)
    assert line.first_time(20.0 + 1e-8) == pytest.approx(20.0, abs=1e-6)


def test_stop_leaves_a_mark_and_its_dwell_belongs_to_no_part():
    # the cut at minute 50 lies at S(50) - 10 = 30 - 10 = 20 m, the very place of the stop
    run = make_run(speeds=STOPPED, cuts=cuts_at(50.0, 60.0))
    before, after = trace_cast(make_cast([run], last_time=70.0)).parts
    assert before.meniscus_to == pytest.approx(19.995, abs=1e-9)
    assert after.meniscus_from == pytest.approx(30.0 + 0.005 / 0.5, abs=1e-9)
    assert before.stop_marks_m == after.stop_marks_m == ()


def test_part_around_a_stop_carries_the_mark_and_stays_one_run():
    run = make_run(speeds=STOPPED, cuts=cuts_at(30.0, 60.0))
    traced = trace_cast(make_cast([run], last_time=70.0))
    assert traced.parts[1].stop_marks_m == pytest.approx((20.0,), abs=1e-12)
    assert traced.runs[0].stop_marks_m == pytest.approx((20.0,), abs=1e-12)


def test_standing_before_the_first_move_and_after_the_last_is_no_stop_mark():
    run = make_run(speeds=((0.0, 0.0), (5.0, 1.0), (40.0, 0.0)), feeds=(Feed("T1", 0.0, 45.0),), cuts=cuts_at(30.0))
    assert trace_cast(make_cast([run])).runs[0].stop_marks_m == ()


def test_counters_alone_give_the_place():
    # 0.8 m/min by the counter: S(40) = 32, so the cut lies at 22 m
    run = make_run(speeds=(), counters=((0.0, 0.0), (50.0, 40.0), (60.0, 48.0)), cuts=cuts_at(40.0))
    part = trace_cast(make_cast([run])).parts[0]
    assert part.to_m == pytest.approx(22.0 - 0.005, abs=1e-9)
    assert part.class_reasons == () and part.bounds is None


def test_counter_that_did_not_start_at_zero_is_read_from_the_start_of_the_run():
    line = timeline_of(make_run(speeds=(), counters=((0.0, 113.0), (50.0, 163.0))), 50.0, None)
    assert line.s_at(25.0) == pytest.approx(25.0, abs=1e-12)


def test_counter_reading_that_falls_back_is_left_out():
    line = timeline_of(make_run(speeds=(), counters=((0.0, 0.0), (20.0, 3.0), (10.0, 10.0), (50.0, 50.0))), 50.0, None)
    assert line.s_at(30.0) == pytest.approx(30.0, abs=1e-12)


def test_unknown_speed_is_bracketed_by_its_neighbours():
    # 1.0 known to minute 20, unknown to 30, 0.6 from there: 6 to 10 m in the gap
    run = make_run(speeds=((0.0, 1.0), (20.0, None), (30.0, 0.6)))
    low, middle, high = (timeline_of(run, 60.0, None, bracket).s_at(30.0) for bracket in ("low", "nominal", "high"))
    assert (low, middle, high) == pytest.approx((26.0, 28.0, 30.0), abs=1e-12)


def test_unknown_speed_is_never_the_set_point_of_a_strand_that_never_ran_before():
    # before the start the strand stands: 0 to 1 m/min
    run = make_run(speeds=((0.0, None), (10.0, 1.0)))
    assert timeline_of(run, 60.0, None).gaps[0].low == 0.0
    assert timeline_of(run, 60.0, None).gaps[0].high == 1.0


def test_counter_across_a_gap_takes_the_place_of_the_bracket():
    # counter 7 m between minutes 20 and 30; read at 15 and 35, where the known speeds give 5 m and 3 m beside it
    run = make_run(speeds=((0.0, 1.0), (20.0, None), (30.0, 0.6)), counters=((15.0, 15.0), (35.0, 30.0)))
    line = timeline_of(run, 60.0, None)
    assert line.s_at(30.0) == pytest.approx(27.0, abs=1e-12)
    assert [gap.how for gap in line.gaps] == ["counter"]


def test_part_whose_window_touches_an_unknown_speed_is_flagged_and_carries_bounds():
    # cut at minute 36: S is 26+3.6, 28+3.6, 30+3.6, so its place less 10 m is 19.6, 21.6, 23.6
    run = make_run(speeds=((0.0, 1.0), (20.0, None), (30.0, 0.6)), cuts=cuts_at(15.0, 36.0, 60.0))
    first, second, third = trace_cast(make_cast([run])).parts
    assert first.bounds is None and first.class_reasons == ()
    assert second.bounds is not None
    assert second.bounds.to_m == pytest.approx((19.595, 23.595), abs=1e-9)
    assert second.to_m == pytest.approx(21.595, abs=1e-9)
    assert "unknown-speed" in [reason.code for reason in second.class_reasons]
    assert third.bounds is not None


def test_part_that_is_pure_at_both_ends_of_the_bracket_stays_pure():
    run = make_run(speeds=((0.0, 1.0), (20.0, None), (30.0, 0.6)), cuts=cuts_at(15.0, 36.0))
    assert trace_cast(make_cast([run])).parts[1].class_ == "pure"


def test_part_taken_from_the_counter_is_flagged_without_bounds():
    run = make_run(
        speeds=((0.0, 1.0), (20.0, None), (30.0, 0.6)),
        counters=((15.0, 15.0), (35.0, 30.0)),
        cuts=cuts_at(15.0, 36.0),
    )
    part = trace_cast(make_cast([run])).parts[1]
    assert [reason.code for reason in part.class_reasons] == ["speed-by-counter"]
    assert part.bounds is None and part.class_ == "pure"


def test_run_with_neither_speeds_nor_counters_is_refused():
    with pytest.raises(CastUnreadable, match="neither speeds nor counters"):
        trace_cast(make_cast([make_run(speeds=())]))


def test_negative_speed_is_refused():
    with pytest.raises(CastUnreadable, match="below zero"):
        trace_cast(make_cast([make_run(speeds=((0.0, -0.4),))]))


def test_counter_that_disagrees_with_the_speeds_is_a_finding_and_moves_nothing():
    run = make_run(counters=((0.0, 0.0), (50.0, 48.0)), cuts=cuts_at(40.0))
    traced = trace_cast(make_cast([run]))
    assert [finding.code for finding in traced.findings] == ["nominal-level", "counter-against-speed"]
    assert traced.parts[0].to_m == pytest.approx(29.995, abs=1e-12)


def test_transit_is_the_time_from_meniscus_to_clamp_and_includes_a_stop():
    # clamped at 44: S = 20 + 14 x 0.5 = 27, place 17, at the meniscus at minute 17, ten of the 27 minutes standing
    run = make_run(speeds=STOPPED, cuts=cuts_at(44.0))
    assert trace_cast(make_cast([run])).parts[0].transit_min == pytest.approx(44.0 - 17.0, abs=1e-9)
