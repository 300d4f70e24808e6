"""Bounds where a speed is unknown hold whatever the speed really was."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from heattrace.strand.cast import trace_cast
from heattrace.strand.record import Pour
from tests.strand.make_cast import cuts_at, make_cast, make_run

POURS = (Pour("H1", "T1", 0.0, 35.0), Pour("H2", "T1", 38.0))


def cast_with(speed, gap):
    rows = ((0.0, 1.1), (gap, speed), (gap + 8.0, 0.5))
    run = make_run(speeds=rows, cuts=cuts_at(22.0, *range(40, 100, 6)))
    return make_cast(
        [run, make_run(2, speeds=((0.0, 0.8),), cuts=cuts_at(30.0, 60.0, 90.0))], pours=POURS, last_time=100.0
    )


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.floats(0.5, 1.1), st.floats(5.0, 60.0))
def test_bounds_hold_the_truth_wherever_in_the_bracket_the_speed_was(speed, gap):
    unknown = {part.key: part for part in trace_cast(cast_with(None, gap)).parts}
    for part in trace_cast(cast_with(speed, gap)).parts:
        guess = unknown[part.key]
        if guess.bounds is None:
            assert abs(part.from_m - guess.from_m) < 1e-9
            for one, other in zip(part.shares, guess.shares, strict=True):
                assert abs(one.mean - other.mean) < 1e-4
            continue
        for value, (low, high) in (
            (part.from_m, guess.bounds.from_m),
            (part.to_m, guess.bounds.to_m),
            (part.meniscus_from, guess.bounds.meniscus_from),
            (part.meniscus_to, guess.bounds.meniscus_to),
        ):
            assert low - 1e-9 <= value <= high + 1e-9
        for share, bound in zip(part.shares, guess.bounds.shares, strict=True):
            assert bound.mean[0] - 1e-6 <= share.mean <= bound.mean[1] + 1e-6
            assert bound.tail[0] - 1e-6 <= share.tail <= bound.tail[1] + 1e-6
            assert bound.anywhere[0] - 1e-6 <= share.least
            assert share.greatest <= bound.anywhere[1] + 1e-6
        if guess.class_ != "undetermined":
            assert part.class_ == guess.class_


def test_part_whose_class_hangs_on_the_speed_is_undetermined_and_has_no_number():
    found = [part for part in trace_cast(cast_with(None, 32.0)).parts if part.class_ == "undetermined"]
    assert found
    assert all((part.heat, part.heat_no_rule) == (None, "decision") for part in found)
    assert all("unknown-speed" in [reason.code for reason in part.class_reasons] for part in found)


def test_strand_of_known_speed_is_reached_through_the_mix_of_the_tundish():
    parts = trace_cast(cast_with(None, 36.0)).parts
    other = next(part for part in parts if part.key == (2, 1, 3))
    assert other.bounds is not None
    assert other.bounds.from_m[0] == other.bounds.from_m[1]
    low, high = other.bounds.shares[1].mean
    assert high - low > 1e-4


def test_known_speeds_make_no_bounds():
    assert all(part.bounds is None for part in trace_cast(cast_with(0.8, 32.0)).parts)


def test_usual_speed_as_wide_as_it_is_uncertain_gives_metres_and_shares_as_bounds():
    # a works with cut times and a usual speed of 0.65 to 0.75 m/min writes the two ends around one unknown stretch
    run = make_run(speeds=((0.0, 0.65), (0.001, None), (99.9, 0.75)), cuts=cuts_at(40.0, 60.0, 80.0))
    parts = trace_cast(make_cast([run], pours=POURS, last_time=100.0)).parts
    low, high = parts[1].bounds.to_m
    assert abs(low - (60.0 * 0.65 - 10.005)) < 1e-3 and abs(high - (60.0 * 0.75 - 10.005)) < 1e-3
    assert replace(parts[1], bounds=None) != parts[1]
