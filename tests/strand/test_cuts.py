"""How cuts are read: places, parts, the strand's own tail, the rest in the machine, and rows that cannot be right."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heattrace.strand.cast import faulty_cuts, trace_cast
from heattrace.strand.record import Cut, Feed
from tests.strand.make_cast import MU, cuts_at, cuts_at_places, make_cast, make_run

ENDED = (Feed("T1", 0.0, 40.0),)


def parts(run, last_time=60.0):
    return trace_cast(make_cast([run], last_time=last_time)).parts


def test_cut_lies_at_the_length_at_clamping_less_the_clamp_distance():
    run = make_run(cuts=(Cut(1, "piece", "P1", 30.0), Cut(2, "piece", "P2", 40.0, clamp_distance_m=12.0)))
    first, second = parts(run)
    assert first.to_m == pytest.approx(20.0 - 0.005, abs=1e-12)
    assert second.to_m == pytest.approx(28.0 - 0.005, abs=1e-12)


def test_log_of_the_end_of_the_cut_puts_the_torch_travel_into_the_distance():
    # the torch travels 1.75 m at 0.7 m/min in 2.5 min; clamped at 30, logged at 32.5: the same place (derived)
    slow = make_run(speeds=((0.0, 0.7),), cuts=cuts_at(30.0))
    logged = replace(slow, cuts=(Cut(1, "piece", "P1", 32.5, clamp_distance_m=11.75),))
    assert parts(logged)[0].to_m == pytest.approx(parts(slow)[0].to_m, abs=1e-12)


def test_first_part_begins_at_the_dummy_bar_and_the_kerf_is_centred_on_each_cut():
    run = make_run(kerf_mm=12.0, cuts=cuts_at_places(8.0, 15.0))
    first, second = parts(run)
    assert (first.from_m, first.to_m) == pytest.approx((0.0, 7.994), abs=1e-12)
    assert (second.from_m, second.to_m) == pytest.approx((8.006, 14.994), abs=1e-12)


def test_row_closes_the_part_cast_before_it_and_names_it():
    run = make_run(cuts=(Cut(4, "head-crop", None, 12.0), Cut(7, "piece", "B-7", 20.0)))
    first, second = parts(run)
    assert (first.cut_no, first.kind, first.piece_no) == (4, "head-crop", None)
    assert (second.cut_no, second.kind, second.piece_no) == (7, "piece", "B-7")


def test_strand_without_a_tail_row_keeps_the_rest_in_the_machine():
    run = make_run(feeds=ENDED, speeds=((0.0, 1.0), (45.0, 0.0)), cuts=cuts_at_places(20.0, 30.0))
    traced = trace_cast(make_cast([run]))
    assert [part.cut_no for part in traced.parts] == [1, 2]
    assert traced.runs[0].in_machine_from_m == pytest.approx(30.005, abs=1e-12)
    row = traced.balance.heats[0]
    assert row.in_machine_t == pytest.approx(MU * (40.0 - 30.005), abs=1e-12)


def test_last_row_without_a_clamp_time_is_closed_by_the_strands_own_tail():
    run = make_run(feeds=ENDED, cuts=(*cuts_at_places(20.0, 30.0), Cut(3, "tail-crop")))
    tail = parts(run)[-1]
    assert (tail.from_m, tail.to_m) == pytest.approx((30.005, 40.0), abs=1e-12)
    assert tail.clamped is None and tail.transit_min is None and not tail.implied
    assert trace_cast(make_cast([run])).runs[0].in_machine_from_m is None


def test_tail_past_the_torch_without_a_row_is_an_implied_tail_crop():
    # fed to minute 40 (40 m), moving to minute 60: the tail is 20 m below the meniscus, the torch 10 m
    run = make_run(feeds=ENDED, cuts=cuts_at_places(20.0, 30.0))
    traced = trace_cast(make_cast([run]))
    tail = traced.parts[-1]
    assert (tail.cut_no, tail.kind, tail.piece_no, tail.implied) == (3, "tail-crop", None, True)
    assert (tail.from_m, tail.to_m) == pytest.approx((30.005, 40.0), abs=1e-12)
    assert "implied-tail-crop" in [finding.code for finding in traced.findings]
    assert "implied-tail-crop" in [reason.code for reason in tail.class_reasons]


def test_tail_short_of_the_torch_makes_no_implied_crop():
    run = make_run(feeds=ENDED, cuts=cuts_at_places(20.0, 30.0))
    traced = trace_cast(make_cast([run], last_time=49.9))
    assert len(traced.parts) == 2
    assert traced.runs[0].in_machine_from_m is not None


def test_end_of_a_strand_is_where_its_last_feed_ended_however_far_it_was_withdrawn():
    for stopped in (None, 39.0, 55.0):
        run = make_run(feeds=ENDED, stopped=stopped, cuts=cuts_at_places(20.0))
        assert trace_cast(make_cast([run])).runs[0].s_end == pytest.approx(40.0, abs=1e-12)


def test_strand_stands_for_good_from_stopped_at_on():
    # fed to 40, stopped at 45 with the last speed row still at 1 m/min: the tail is 5 m down, not past the torch
    run = make_run(feeds=ENDED, stopped=45.0, cuts=cuts_at_places(20.0))
    traced = trace_cast(make_cast([run]))
    assert traced.runs[0].timeline.s_at(60.0) == pytest.approx(45.0, abs=1e-12)
    assert len(traced.parts) == 1


def test_feed_without_an_end_counts_to_the_books_last_time():
    assert trace_cast(make_cast([make_run()], last_time=50.0)).runs[0].s_end == pytest.approx(50.0, abs=1e-12)
    assert trace_cast(make_cast([make_run()], last_time=50.0)).runs[0].ended is False


def test_latest_time_of_any_row_is_the_books_last_time():
    run = make_run(cuts=cuts_at(71.0))
    assert trace_cast(make_cast([run], last_time=50.0)).runs[0].s_end == pytest.approx(71.0, abs=1e-12)


def test_new_dummy_bar_is_a_new_run_with_its_own_length_and_head():
    first = make_run(feeds=(Feed("T1", 0.0, 20.0),), speeds=((0.0, 1.0), (32.0, 0.0)), cuts=(Cut(1, "piece", "P1"),))
    second = make_run(run_no=2, started=40.0, feeds=(Feed("T1", 40.0),), cuts=cuts_at(58.0))
    traced = trace_cast(make_cast([first, second]))
    assert [part.key for part in traced.parts] == [(1, 1, 1), (1, 2, 1)]
    assert (traced.parts[1].from_m, traced.parts[1].to_m) == pytest.approx((0.0, 7.995), abs=1e-12)


def test_residual_is_measured_less_counter_hot():
    run = make_run(cuts=(Cut(1, "piece", "P1", 20.0), Cut(2, "piece", "P2", 26.0, measured_length_m=6.02)))
    assert parts(run)[1].residual_mm == pytest.approx((6.02 - 5.99) * 1000.0, abs=1e-9)
    assert parts(run)[0].residual_mm is None


def test_uncertainty_of_a_place_is_about_two_tenths_of_a_metre_at_the_usual_distances():
    # sqrt((0.005 x 21)^2 + (0.7 x 0.2)^2 + 0.1^2) = 0.2016 by hand
    run = make_run(machine_length_m=21.0, speeds=((0.0, 0.7),), cuts=cuts_at(40.0, 50.0))
    assert parts(run)[1].uncertainty_m == pytest.approx(0.2016, abs=1e-4)


# rows that cannot be right


def codes(run, last_time=60.0):
    found = faulty_cuts(make_cast([run], last_time=last_time))
    return [(fault.cut_no, fault.code) for fault in found.get((1, 1), ())]


def undetermined(run, last_time=60.0):
    return [part.cut_no for part in parts(run, last_time) if part.class_ == "undetermined"]


def test_sound_rows_are_not_faulty():
    assert codes(make_run(feeds=ENDED, cuts=(*cuts_at_places(20.0, 30.0), Cut(3, "tail-crop")))) == []


def test_cut_beyond_the_strands_end_is_faulty():
    run = make_run(feeds=ENDED, cuts=cuts_at_places(20.0, 30.0, 41.0))
    assert codes(run) == [(3, "cut-beyond-tail")]
    assert undetermined(run) == [3, 4]  # its own part, and the implied tail-crop after it


def test_cut_before_the_strand_reached_the_torch_is_faulty():
    run = make_run(cuts=cuts_at(9.0, 20.0, 30.0))
    assert codes(run) == [(1, "cut-before-strand")]
    assert undetermined(run) == [1, 2]


def test_only_the_highest_number_may_have_no_clamp_time():
    run = make_run(feeds=ENDED, cuts=(Cut(1, "piece", "P1", 20.0), Cut(2, "piece", "P2"), Cut(3, "piece", "P3", 40.0)))
    assert codes(run) == [(2, "cut-without-time")]


def test_row_without_a_clamp_time_on_a_strand_still_fed_is_faulty():
    run = make_run(cuts=(*cuts_at_places(20.0), Cut(2, "tail-crop")))
    assert codes(run) == [(2, "cut-without-time")]


def test_one_clamp_time_out_of_line_is_the_faulty_one():
    run = make_run(cuts=cuts_at(15.0, 20.0, 25.0, 12.0, 35.0, 40.0))
    assert codes(run) == [(4, "cut-out-of-order")]
    assert undetermined(run) == [4, 5]


def test_parts_on_both_sides_of_a_cut_with_no_place_share_one_interval():
    run = make_run(cuts=cuts_at(15.0, 20.0, 25.0, 12.0, 35.0, 40.0))
    fourth, fifth = parts(run)[3:5]
    assert (fourth.from_m, fourth.to_m) == (fifth.from_m, fifth.to_m) == pytest.approx((15.005, 24.995), abs=1e-12)
    assert fourth.joined_cut_nos == fifth.joined_cut_nos == (4, 5)
    assert (fourth.heat, fourth.heat_no_rule) == (None, "decision")


def test_shared_interval_is_counted_once_in_the_balance():
    run = make_run(cuts=cuts_at(15.0, 20.0, 25.0, 12.0, 35.0, 40.0))
    row = trace_cast(make_cast([run])).balance.heats[0]
    # five believed cuts to 30 m: five intervals and five kerfs, then 30 m in the machine less half a kerf
    assert row.pieces_t == pytest.approx(MU * (30.0 - 4 * 0.010 - 0.005), abs=1e-12)
    assert row.kerf_t == pytest.approx(MU * 0.050, abs=1e-12)
    assert abs(row.closure_t) < 1e-9


def test_two_rows_that_contradict_each_other_bench_the_later_and_doubt_the_earlier():
    run = make_run(cuts=cuts_at(15.0, 25.0, 20.0, 35.0))
    fault = faulty_cuts(make_cast([run]))[(1, 1)][0]
    assert (fault.cut_no, fault.code, fault.suspects) == (3, "cut-out-of-order", (2,))
    assert undetermined(run) == [2, 3, 4]


def test_measured_lengths_say_which_of_two_contradicting_rows_is_wrong():
    # places 5, (15 typed for 8), 10, 25: 4.99 m measured from 5 to 10 speaks for row 3
    rows = cuts_at(15.0, 25.0, 20.0, 35.0)
    rows = (rows[0], rows[1], replace(rows[2], measured_length_m=4.99), rows[3])
    run = make_run(cuts=rows)
    fault = faulty_cuts(make_cast([run]))[(1, 1)][0]
    assert (fault.cut_no, fault.suspects) == (2, ())
    assert undetermined(run) == [2, 3]


def test_cuts_closer_than_the_kerf_overlap():
    run = make_run(cuts=(Cut(1, "piece", "P1", 20.0), Cut(2, "piece", "P2", 30.0), Cut(3, "piece", "P3", 31.0, 11.0)))
    assert codes(run) == [(3, "cut-overlap")]


def test_number_used_twice_is_faulty():
    run = make_run(cuts=(*cuts_at(20.0, 30.0), Cut(2, "piece", "P9", 40.0)))
    assert codes(run) == [(2, "cut-doubled")]


def test_row_set_aside_makes_the_parts_on_both_sides_undetermined_where_it_lies():
    first, second, third, fourth = cuts_at_places(10.0, 20.0, 30.0, 40.0)
    run = make_run(cuts=(first, replace(second, faulty=True), third, fourth))
    assert undetermined(run) == [2, 3]
    assert [part.to_m for part in parts(run)] == pytest.approx([9.995, 19.995, 29.995, 39.995], abs=1e-12)
    assert parts(run)[1].class_reasons[0].code == "cut-on-bench"


def test_row_set_aside_without_a_time_still_leaves_its_part_in_the_list():
    first, second, third = cuts_at_places(10.0, 20.0, 30.0)
    run = make_run(cuts=(first, replace(second, clamped=None, faulty=True), third))
    assert [(part.cut_no, part.piece_no) for part in parts(run)] == [(1, "P1"), (2, "P2"), (3, "P3")]
    assert undetermined(run) == [2, 3]


def test_good_row_is_kept_where_the_row_it_contradicts_is_already_set_aside():
    rows = cuts_at(15.0, 25.0, 20.0, 35.0)
    run = make_run(cuts=(rows[0], replace(rows[1], faulty=True), rows[2], rows[3]))
    assert codes(run) == []
    assert 3 in [part.cut_no for part in parts(run) if part.to_m == pytest.approx(9.995, abs=1e-9)]


def test_foreign_metal_is_shown_apart_and_enters_no_heat():
    plain = make_run(cuts=cuts_at_places(10.0))
    packed = make_run(cuts=cuts_at_places(10.0, foreign_mass_kg=45.0))
    assert trace_cast(make_cast([packed])).balance.heats == trace_cast(make_cast([plain])).balance.heats
    assert trace_cast(make_cast([packed])).balance.runs[0].foreign_t == pytest.approx(0.045, abs=1e-15)
