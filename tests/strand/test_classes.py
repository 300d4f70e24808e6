"""Class, reasons and heat number of a part, after both number rules."""

from __future__ import annotations

import math

import pytest

from heattrace.strand.cast import heat_order, trace_cast
from heattrace.strand.record import Feed, Pour, StrandRules, Tundish
from heattrace.strand.transition import grade_zones
from tests.strand.make_cast import MU, cuts_at_places, make_cast, make_run

EXCHANGE = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0))
TWO_GRADES = {"H1": "STD:2019 X", "H2": "STD:2019 Y", "H3": "STD:2019 Y"}
METRES_95 = 10.0 / MU * math.log(20.0)  # metres from the opening until the new heat comes to 95 %


def parts(places, *, pours=EXCHANGE, grades=None, last_time=260.0, rules=None, **run):
    cast = make_cast([make_run(cuts=cuts_at_places(*places), **run)], pours=pours, grades=grades, last_time=last_time)
    return trace_cast(cast, rules).parts


def reasons(part):
    return [reason.code for reason in part.class_reasons]


def test_part_of_one_heat_is_pure_without_a_reason():
    part = parts((15.0,))[0]
    assert (part.class_, part.class_reasons, part.heat, part.heat_no_rule) == ("pure", (), "H1", "pure")
    assert (part.majority_heat, part.late_heat) == ("H1", "H1")


def test_pure_asks_for_the_smallest_share_anywhere_not_the_mean():
    # 20 to 21.7 m after the opening at 20 m: 1 - exp(-MU 1.695/10) = 5.1 % new at the tail, less than 5 % in the mean
    second = parts((15.0, 21.7))[1]
    assert second.share_of("H1").mean > 0.95
    assert second.share_of("H1").least < 0.95
    assert second.class_ == "transition" and reasons(second) == ["mixed"]


def test_part_with_just_under_five_percent_of_the_new_heat_is_pure():
    second = parts((15.0, 21.6))[1]
    assert second.share_of("H2").tail == pytest.approx(1.0 - math.exp(-MU * 1.595 / 10.0), abs=1e-12)
    assert 0.04 < second.share_of("H2").tail < 0.05
    assert second.class_ == "pure"


def test_step_of_one_percent_inside_makes_a_transition():
    # shut from 20.0 to 20.4: 0.124 t of 10 are filled at once, a step of 1.24 %
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.4))
    second = parts((15.0, 20.5), pours=pours)[1]
    assert second.share_of("H1").least > 0.95
    assert second.class_ == "transition" and reasons(second) == ["step"]
    assert second.class_reasons[0].from_m == pytest.approx(20.4, abs=1e-9)


def test_step_under_one_percent_makes_none():
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.3))
    assert parts((15.0, 20.5), pours=pours)[1].class_ == "pure"


def test_step_at_the_end_of_a_part_lies_in_neither_neighbour():
    # the step at 20.4 m falls into the kerf of the cut there
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.4))
    second, third = parts((15.0, 20.4, 20.9), pours=pours)[1:3]
    assert "step" not in reasons(second) + reasons(third)


def test_ladle_opened_into_a_standing_tundish_is_a_step_at_the_stop_mark():
    speeds = ((0.0, 1.0), (22.0, 0.0), (26.0, 1.0))
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 24.0))
    part = trace_cast(make_cast([make_run(speeds=speeds, cuts=cuts_at_places(11.0, 31.0))], pours=pours)).parts[1]
    assert part.stop_marks_m == pytest.approx((22.0,), abs=1e-12)
    assert part.share_of("H2").least == 0.0
    # 2 MU drawn while shut, filled at once in the standing tundish, then two minutes at nominal level without outflow
    step = next(reason for reason in part.class_reasons if reason.code == "step")
    assert step.from_m == pytest.approx(22.0, abs=1e-9)
    assert f"{2.0 * MU / 10.0:+.2%}" in step.words


def test_head_and_tail_are_the_limits_from_inside_the_part():
    # the part begins exactly at the step: kerf 0 at 30 m
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 30.0))
    before, after = parts((30.0, 32.0), pours=pours, kerf_mm=0.0)
    assert before.share_of("H2").tail == 0.0
    assert after.share_of("H2").head == pytest.approx(MU, abs=1e-12)
    assert after.share_of("H2").least == pytest.approx(MU, abs=1e-12)


def test_middle_heat_that_peaks_inside_a_part_shows_its_peak():
    # H2 pours from 20 to 30 only: its share rises to 1 - exp(-MU) = 26.7 % at 30 m and falls on both sides
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0, 30.0), Pour("H3", "T1", 30.0))
    part = parts((25.0, 36.0), pours=pours)[1]
    share = part.share_of("H2")
    assert share.greatest == pytest.approx(1.0 - math.exp(-MU), abs=1e-12)
    assert share.greatest > max(share.head, share.tail) + 0.02


# change of grade


def test_zone_of_a_grade_change_runs_from_three_metres_ahead_to_one_behind_ninety_five_percent():
    end = 20.0 + METRES_95 + 1.0
    places = (16.9, 17.1, end - 0.1, end + 0.1, end + 5.0)
    classes = [part.class_ for part in parts(places, grades=TWO_GRADES)]
    assert classes == ["pure", "transition", "transition", "transition", "pure"]


def test_part_ahead_of_the_new_heat_within_the_guard_is_a_transition_of_one_heat():
    part = parts((16.9, 19.0), grades=TWO_GRADES)[1]
    assert part.share_of("H1").least == 1.0
    assert reasons(part) == ["grade-change"]
    assert (part.heat, part.heat_no_rule) == ("H1", "late")


def test_guards_are_rule_values_and_same_grade_sequences_have_no_zone():
    assert parts((16.9, 19.0))[1].class_ == "pure"
    none = StrandRules(guard_ahead_m=0.0, guard_behind_m=0.0)
    assert parts((16.9, 19.0), grades=TWO_GRADES, rules=none)[1].class_ == "pure"


def test_grades_that_differ_only_in_the_edition_are_a_change_of_grade():
    grades = {"H1": "STD:2004 X", "H2": "STD:2019 X"}
    assert parts((16.9, 19.0), grades=grades)[1].class_ == "transition"


def test_zone_ends_with_all_newer_heats_where_the_new_one_is_diluted_before_it_comes_so_far():
    # H2 and H3 are of the new grade; H2 never reaches 95 %, both together do after METRES_95
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0, 40.0), Pour("H3", "T1", 40.0))
    end = 20.0 + METRES_95 + 1.0
    found = parts((end - 0.1, end + 0.1, 230.0), pours=pours, grades=TWO_GRADES)
    assert "grade-change" in reasons(found[1])
    assert "grade-change" not in reasons(found[2])


def test_run_begun_in_the_new_grade_has_no_zone():
    first = make_run(feeds=(Feed("T1", 0.0, 220.0),))
    second = make_run(run_no=2, started=230.0, feeds=(Feed("T1", 230.0),), speeds=((230.0, 1.0),))
    traced = trace_cast(make_cast([first, second], pours=EXCHANGE, grades=TWO_GRADES, last_time=260.0))
    assert len(grade_zones(traced.run(1, 1).course, 220.0, traced.heats, traced.rules)) == 1
    assert grade_zones(traced.run(1, 2).course, 30.0, traced.heats, traced.rules) == ()


def test_run_begun_amid_the_change_is_in_the_zone_from_its_head():
    first = make_run(feeds=(Feed("T1", 0.0, 40.0),))
    second = make_run(run_no=2, started=45.0, feeds=(Feed("T1", 45.0),), speeds=((45.0, 1.0),))
    traced = trace_cast(make_cast([first, second], pours=EXCHANGE, grades=TWO_GRADES, last_time=260.0))
    # washed by 20 m before the strand ended; the tank stood full and unmixed from 40 to 45
    zone = grade_zones(traced.run(1, 2).course, 215.0, traced.heats, traced.rules)[0]
    assert (zone.from_m, zone.to_m) == pytest.approx((-3.0, METRES_95 - 20.0 + 1.0), abs=1e-9)


def test_tundish_exchange_with_a_new_grade_has_its_zone_around_the_joint():
    run = make_run(feeds=(Feed("T1", 0.0, 30.0), Feed("T2", 30.0)))
    cast = make_cast(
        [run],
        pours=(Pour("H1", "T1", 0.0, 30.0), Pour("H2", "T2", 25.0)),
        tundishes=(Tundish("T1", 10.0), Tundish("T2", 10.0)),
        grades=TWO_GRADES,
    )
    traced = trace_cast(cast)
    zone = grade_zones(traced.runs[0].course, 60.0, traced.heats, traced.rules)[0]
    assert (zone.from_m, zone.to_m) == pytest.approx((27.0, 31.0), abs=1e-9)


# heat numbers


def test_within_one_grade_the_number_stays_until_the_steel_is_wholly_the_next_heat():
    # ASTM A6/A6M 5.3.1 for one nominal grade; wholly = older share at most 5 %
    found = parts((30.0, 60.0, 90.0, 20.0 + METRES_95, 20.0 + METRES_95 + 10.0))
    assert [part.late_heat for part in found] == ["H1", "H1", "H1", "H1", "H2"]
    assert [part.majority_heat for part in found] == ["H1", "H2", "H2", "H2", "H2"]
    assert [part.heat_no_rule for part in found] == ["late", "late", "late", "late", "pure"]


def test_between_two_grades_the_number_waits_for_a_person():
    # ASTM A6/A6M 5.3.1 for differing grades: mixed metal is taken out by a fixed procedure
    part = parts((30.0, 60.0), grades=TWO_GRADES)[1]
    assert (part.heat, part.heat_no_rule) == (None, "decision")
    assert part.late_heat == "H1" and part.majority_heat == "H2"


def test_heats_at_or_under_five_percent_do_not_make_two_grades():
    # 4.95 % of the other grade at most: counted heats are of one grade
    part = parts((15.0, 21.6), grades=TWO_GRADES)[1]
    assert part.class_ == "transition"
    assert (part.heat, part.heat_no_rule) == ("H1", "late")


def test_heat_order_is_by_first_opening_and_a_heat_only_there_at_the_start_comes_first():
    cast = make_cast(
        pours=(Pour("H1", "T1", 30.0), Pour("H3", "T1", 5.0)), tundishes=(Tundish("T1", 10.0, heat_at_start="H2"),)
    )
    assert [heat.heat_id for heat in heat_order(cast)] == ["H2", "H3", "H1"]


def test_heats_below_the_floor_are_not_listed_but_the_full_vector_sums_to_one():
    part = parts((15.0, 20.0 + 10.0 / MU * 10.0, 235.0), last_time=420.0)[2]
    assert part.share_of("H1").greatest < 1e-4
    assert [share.heat_id for share in part.listed()] == ["H2"]
    assert sum(share.mean for share in part.shares) == pytest.approx(1.0, abs=1e-12)


def test_uncertainty_of_a_share_is_the_slope_times_the_uncertainty_of_the_place():
    # two equal strands: dx/ds = (mu n / M)(1 - x)
    cast = make_cast([make_run(cuts=cuts_at_places(25.0, 30.0)), make_run(2)], pours=EXCHANGE)
    part = trace_cast(cast).parts[1]
    old_head = math.exp(-2.0 * MU * 5.005 / 10.0)
    old_tail = math.exp(-2.0 * MU * 9.995 / 10.0)
    u_s = math.sqrt((0.005 * 10.0) ** 2 + (1.0 * 0.2) ** 2 + 0.1**2)
    assert part.uncertainty_m == pytest.approx(u_s, abs=1e-12)
    assert part.share_of("H2").uncertainty_head == pytest.approx(2.0 * MU / 10.0 * old_head * u_s, abs=1e-12)
    assert part.share_of("H1").uncertainty_tail == pytest.approx(2.0 * MU / 10.0 * old_tail * u_s, abs=1e-12)


def test_step_within_the_uncertainty_of_an_end_is_part_of_the_shares_uncertainty():
    pours = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 30.0))
    part = parts((25.0, 29.9), pours=pours)[1]
    assert part.share_of("H2").tail == 0.0
    assert part.share_of("H2").uncertainty_tail == pytest.approx(MU, abs=1e-12)
