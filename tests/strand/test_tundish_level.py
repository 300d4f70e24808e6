"""How the mass in a tundish is read: its start, readings, nominal level, ladles that overlap, steel taken out."""

from __future__ import annotations

import math

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.record import CastUnreadable, Feed, Pour, Tundish
from tests.strand.make_cast import MU, make_cast, make_run

TWO = (Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 30.0))
SHUT = MU * 10.0  # drawn from minute 20 to 30 while no ladle is open


def balance(cast, heat):
    return next(row for row in trace_cast(cast).balance.heats if row.heat_id == heat)


def mix(cast, s, heat="H2", tail=False):
    traced = trace_cast(cast)
    place = [info.heat_id for info in traced.heats].index(heat)
    return traced.runs[0].course.shares_at(s, tail=tail)[place]


# nominal level


def test_nominal_level_holds_while_open_falls_while_shut_and_jumps_at_the_opening():
    cast = make_cast(pours=TWO)
    assert mix(cast, 30.0, tail=True) == 0.0
    assert mix(cast, 30.0) == pytest.approx(SHUT / 10.0, abs=1e-12)
    # then a constant 10 t: old share falls with exp(-MU t / 10)
    assert mix(cast, 40.0, "H1") == pytest.approx((1.0 - SHUT / 10.0) * math.exp(-MU), abs=1e-12)
    assert trace_cast(cast).nominal_tundishes == ("T1",)
    assert [finding.code for finding in trace_cast(cast).findings] == ["nominal-level"]


def test_nominal_level_jumps_to_the_working_mass_not_to_the_mass_at_start():
    cast = make_cast(pours=TWO, tundishes=(Tundish("T1", 10.0, working_mass_t=12.0),))
    # at minute 0 a ladle opens: 2 t are poured at once; from 12 t 3.10 are drawn and filled up again
    assert balance(cast, "H1").initial_t == 10.0
    assert balance(cast, "H1").poured_t == pytest.approx(2.0 + MU * 20.0, abs=1e-12)
    assert mix(cast, 30.0) == pytest.approx(SHUT / 12.0, abs=1e-12)


def test_nominal_level_never_falls_below_zero_and_keeps_the_last_mix():
    cast = make_cast(pours=(Pour("H1", "T1", 0.0, 20.0),))
    # 40 minutes without a ladle draw 12.41 t from 10 t
    short = MU * 40.0 - 10.0
    assert mix(cast, 59.0, "H1") == 1.0
    row = balance(cast, "H1")
    assert row.tundish_left_t == pytest.approx(0.0, abs=1e-12)
    assert row.loss_t == pytest.approx(-short, abs=1e-12)
    assert abs(row.closure_t) < 1e-9
    assert "tundish-empty" in [finding.code for finding in trace_cast(cast).findings]


def test_ladle_opened_over_an_empty_tundish_gives_its_own_mix():
    cast = make_cast(pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 56.0)))
    assert mix(cast, 56.0) == pytest.approx(1.0, abs=1e-12)


def test_exchange_without_a_gap_makes_no_step():
    cast = make_cast(pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0)))
    assert mix(cast, 20.0) == 0.0
    assert mix(cast, 30.0) == pytest.approx(1.0 - math.exp(-MU), abs=1e-12)


# start of a tundish


def test_steel_of_the_start_is_the_first_heat_poured_and_not_counted_again_as_poured():
    row = balance(make_cast(), "H1")
    assert row.initial_t == 10.0
    assert row.poured_t == pytest.approx(MU * 60.0, abs=1e-12)
    assert row.tundish_left_t == pytest.approx(10.0, abs=1e-12)


def test_heat_at_start_may_be_another_heat_than_the_first_poured():
    cast = make_cast(pours=(Pour("H2", "T1", 0.0),), tundishes=(Tundish("T1", 10.0, heat_at_start="H1"),))
    assert [heat.heat_id for heat in trace_cast(cast).heats[:2]] == ["H1", "H2"]
    assert balance(cast, "H1").initial_t == 10.0
    assert mix(cast, 0.0, "H1") == 1.0


def test_start_is_the_earliest_of_first_pour_first_feed_and_first_reading():
    # reading at -5 says 8 t; the mass at start of 10 t would hold at the first pour
    cast = make_cast(tundishes=(Tundish("T1", 10.0, readings=((-5.0, 8.0), (0.0, 10.0), (60.0, 10.0))),))
    assert balance(cast, "H1").initial_t == 8.0
    cast = make_cast(pours=(Pour("H1", "T1", -5.0),))
    assert balance(cast, "H1").initial_t == 10.0


def test_reading_at_the_start_stands_instead_of_the_mass_at_start():
    cast = make_cast(tundishes=(Tundish("T1", 10.0, readings=((0.0, 7.5), (60.0, 7.5))),))
    assert balance(cast, "H1").initial_t == 7.5


def test_mass_at_start_is_the_first_anchor_when_the_first_reading_comes_later():
    # 10 t at 0, 16 t at 30: the ladle gives 6 t more than is drawn
    cast = make_cast(tundishes=(Tundish("T1", 10.0, readings=((30.0, 16.0), (60.0, 16.0))),))
    assert balance(cast, "H1").poured_t == pytest.approx(6.0 + MU * 60.0, abs=1e-12)


def test_tundish_without_a_heat_to_name_is_refused():
    with pytest.raises(CastUnreadable, match="heat_at_start"):
        trace_cast(make_cast(pours=()))


# readings


def test_between_two_readings_the_mass_is_linear():
    cast = make_cast(
        pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0)),
        tundishes=(Tundish("T1", 10.0, readings=((20.0, 10.0), (40.0, 20.0), (60.0, 20.0))),),
    )
    # inflow = 0.5 + MU, mass 10 + 0.5 t: old share (M/M0)^-p, p = (0.5 + MU)/0.5
    p = (0.5 + MU) / 0.5
    assert mix(cast, 30.0, "H1") == pytest.approx((15.0 / 10.0) ** -p, abs=1e-12)


def test_without_an_open_ladle_the_mass_falls_by_what_the_strands_draw_whatever_the_readings_say():
    # readings say 9 t at 30; 3.10 t are drawn while shut, so the model has 6.90 t and the new ladle fills 3.10 in
    cast = make_cast(pours=TWO, tundishes=(Tundish("T1", 10.0, readings=((20.0, 10.0), (30.0, 9.0), (60.0, 10.0))),))
    traced = trace_cast(cast)
    assert traced.balance.reading_residual_t["T1"] == pytest.approx(9.0 - (10.0 - SHUT), abs=1e-12)
    assert [finding.code for finding in traced.findings] == ["reading-residual"]
    # carried to the next reading: from 6.90 to 10 t in 30 min
    assert balance(cast, "H2").poured_t == pytest.approx(SHUT + MU * 30.0, abs=1e-12)
    assert all(abs(row.closure_t) < 1e-9 for row in traced.balance.heats)


def test_remaining_change_is_spread_over_the_time_a_ladle_was_open():
    # readings at 10 and 40 only, both 10 t: shut from 20 to 30, so 3.10 t come back over the 20 open minutes
    cast = make_cast(pours=TWO, tundishes=(Tundish("T1", 10.0, readings=((10.0, 10.0), (40.0, 10.0), (60.0, 10.0))),))
    assert mix(cast, 30.0) == 0.0  # no jump: with readings nothing is poured at one moment
    mass_at_30 = 10.0 + SHUT / 20.0 * 10.0 - SHUT
    q_in = MU + SHUT / 20.0
    p = q_in / (SHUT / 20.0)
    assert mix(cast, 40.0, "H1") == pytest.approx((10.0 / mass_at_30) ** -p, abs=1e-12)
    assert trace_cast(cast).balance.reading_residual_t["T1"] == 0.0


def test_difference_that_no_open_time_can_take_enters_neither_shares_nor_closure():
    readings = ((0.0, 10.0), (20.0, 10.0), (25.0, 4.0))
    cast = make_cast(
        pours=(Pour("H1", "T1", 0.0, 20.0),), tundishes=(Tundish("T1", 10.0, readings=readings),), last_time=40.0
    )
    row = balance(cast, "H1")
    assert row.tundish_left_t == pytest.approx(10.0 - MU * 20.0, abs=1e-12)
    assert row.loss_t == 0.0 and abs(row.closure_t) < 1e-9
    assert trace_cast(cast).balance.reading_residual_t["T1"] == pytest.approx(4.0 - (10.0 - MU * 5.0), abs=1e-12)


def test_inflow_that_would_be_negative_is_steel_taken_out_at_the_present_mix():
    # with the ladle open the reading falls by 1 t/min for 5 min, the strand draws MU: 5 - 5 MU t are lost
    readings = ((0.0, 10.0), (40.0, 10.0), (45.0, 5.0), (60.0, 5.0))
    cast = make_cast(
        pours=(Pour("H1", "T1", 0.0, 30.0), Pour("H2", "T1", 30.0)), tundishes=(Tundish("T1", 10.0, readings=readings),)
    )
    traced = trace_cast(cast)
    lost = 5.0 - 5.0 * MU
    old = math.exp(-MU)
    assert balance(cast, "H1").loss_t == pytest.approx(lost * old, abs=1e-12)
    assert balance(cast, "H2").loss_t == pytest.approx(lost * (1.0 - old), abs=1e-12)
    assert mix(cast, 40.0, "H1") == pytest.approx(mix(cast, 45.0, "H1"), abs=1e-12)
    assert "negative-inflow" in [finding.code for finding in traced.findings]
    assert all(abs(row.closure_t) < 1e-9 for row in traced.balance.heats)


def test_after_the_last_reading_the_mass_holds_while_open_and_the_next_opening_is_nominal():
    tundish = Tundish("T1", 10.0, working_mass_t=10.0, readings=((0.0, 10.0), (15.0, 8.0)))
    cast = make_cast(pours=TWO, tundishes=(tundish,))
    # 8 t hold to 20, fall by 3.10 to 30, then jump to 10 t
    assert mix(cast, 30.0) == pytest.approx((10.0 - (8.0 - SHUT)) / 10.0, abs=1e-12)
    assert trace_cast(cast).nominal_tundishes == ()


# ladles


def test_recorded_poured_mass_never_drives_the_level():
    plain = make_cast(pours=TWO)
    told = make_cast(pours=(Pour("H1", "T1", 0.0, 20.0, 99.0), Pour("H2", "T1", 30.0, None, 1.0)))
    assert trace_cast(told).parts == trace_cast(plain).parts
    assert trace_cast(told).balance == trace_cast(plain).balance
    assert [pour.recorded_t for pour in trace_cast(told).pours] == [99.0, 1.0]
    assert trace_cast(told).pours[0].computed_t == pytest.approx(MU * 20.0, abs=1e-12)


def test_overlapping_ladles_share_the_inflow_equally_where_a_poured_mass_is_not_known():
    cast = make_cast(pours=(Pour("H1", "T1", 0.0, 30.0, 40.0), Pour("H2", "T1", 20.0, 60.0)))
    first, second = trace_cast(cast).pours
    assert first.computed_t == pytest.approx(MU * (20.0 + 5.0), abs=1e-12)
    assert second.computed_t == pytest.approx(MU * (5.0 + 30.0), abs=1e-12)
    # towards half and half while both pour
    assert mix(cast, 30.0) == pytest.approx(0.5 * (1.0 - math.exp(-MU)), abs=1e-12)


def test_overlapping_ladles_share_by_poured_mass_per_open_minute_where_both_are_known():
    # 60 t in 30 min against 20 t in 20 min: 2 to 1 while both are open
    cast = make_cast(pours=(Pour("H1", "T1", 0.0, 30.0, 60.0), Pour("H2", "T1", 20.0, 40.0, 20.0)), last_time=40.0)
    assert mix(cast, 30.0) == pytest.approx((1.0 - math.exp(-MU)) / 3.0, abs=1e-12)


def test_ladle_without_a_closing_time_is_open_to_the_books_last_time():
    assert trace_cast(make_cast(last_time=45.0)).pours[0].closed == 45.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pours": (Pour("H1", "T1", 5.0, 4.0),)}, "before it opened"),
        ({"pours": (Pour("H9", "T1", 0.0),)}, "heats sheet"),
        ({"pours": (Pour("H1", "T9", 0.0),)}, "tundishes sheet"),
        ({"tundishes": (Tundish("T1", 10.0), Tundish("T1", 12.0))}, "stands twice"),
        ({"tundishes": (Tundish("T1", -1.0),)}, "below zero"),
        ({"runs": [make_run(feeds=())]}, "no feed"),
        ({"runs": [make_run(feeds=(Feed("T1", 5.0, 4.0),))]}, "before it begins"),
        ({"runs": [make_run(), make_run()]}, "stands twice"),
    ],
)
def test_record_that_contradicts_itself_is_refused_and_names_the_sheet(changes, words):
    with pytest.raises(CastUnreadable, match=words):
        trace_cast(make_cast(**changes))
