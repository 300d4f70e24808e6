"""Events in minutes or metres, on a strand, a tundish or the whole cast, and the parts they mark."""

from __future__ import annotations

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.events import StrandEvent, event_fault, event_intervals, parts_marked
from heattrace.strand.record import Feed, Pour, Tundish
from tests.strand.make_cast import cuts_at_places, make_cast, make_run

CUTS = cuts_at_places(10.0, 20.0, 30.0, 40.0)
LATE = make_run(2, started=20.0, speeds=((20.0, 1.0),), feeds=(Feed("T1", 20.0),))


@pytest.fixture(scope="module")
def cast():
    return trace_cast(make_cast([make_run(cuts=CUTS), LATE]))


def spans(cast, **event):
    return [
        (found.strand_no, pytest.approx(found.from_m, abs=1e-9), pytest.approx(found.to_m, abs=1e-9))
        for found in event_intervals(StrandEvent(**event), cast)
    ]


def marked(cast, **event):
    return [part.key for part in parts_marked(cast.parts, event_intervals(StrandEvent(**event), cast))]


def test_event_in_minutes_marks_the_steel_that_stood_at_the_device_then(cast):
    assert spans(cast, strand_no=1, from_t=21.0, to_t=24.0) == [(1, 21.0, 24.0)]
    assert spans(cast, strand_no=1, from_t=21.0, to_t=24.0, device_distance_m=5.0) == [(1, 16.0, 19.0)]


def test_event_marks_the_parts_it_overlaps_in_metres(cast):
    assert marked(cast, strand_no=1, from_t=19.0, to_t=21.0) == [(1, 1, 2), (1, 1, 3)]
    assert marked(cast, strand_no=1, from_t=12.0, to_t=13.0) == [(1, 1, 2)]


def test_event_in_metres_is_taken_as_it_is(cast):
    assert spans(cast, strand_no=1, from_m=12.0, to_m=13.0, device_distance_m=5.0) == [(1, 12.0, 13.0)]


def test_reach_widens_towards_older_and_newer_steel(cast):
    assert spans(cast, strand_no=1, from_m=12.0, to_m=13.0, reach_ahead_m=1.0, reach_behind_m=2.5) == [(1, 11.0, 15.5)]


def test_open_end_goes_to_the_strands_end_and_is_shown(cast):
    found = event_intervals(StrandEvent(strand_no=1, from_t=21.0), cast)[0]
    assert (found.from_m, found.to_m, found.open_end) == (pytest.approx(21.0), pytest.approx(60.0), True)


def test_event_of_the_whole_cast_compares_strands_by_time(cast):
    assert spans(cast, from_t=25.0, to_t=26.0) == [(1, 25.0, 26.0), (2, 5.0, 6.0)]


def test_event_before_a_strand_began_leaves_it_alone(cast):
    assert spans(cast, from_t=5.0, to_t=6.0) == [(1, 5.0, 6.0)]


def test_event_after_a_strands_end_leaves_it_alone():
    run = make_run(feeds=(Feed("T1", 0.0, 30.0),), stopped=30.0, cuts=CUTS[:2])
    assert spans(trace_cast(make_cast([run])), strand_no=1, from_t=40.0, to_t=41.0) == []


def test_event_on_a_tundish_marks_only_what_that_tundish_fed():
    run = make_run(feeds=(Feed("T1", 0.0, 20.0), Feed("T2", 20.0)), cuts=CUTS)
    cast = trace_cast(
        make_cast(
            [run],
            pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T2", 15.0)),
            tundishes=(Tundish("T1", 10.0), Tundish("T2", 10.0)),
        )
    )
    assert spans(cast, tundish="T2", from_t=18.0, to_t=25.0) == [(1, 20.0, 25.0)]
    assert spans(cast, heat="H1", from_t=18.0, to_t=25.0) == [(1, 18.0, 20.0)]


def test_event_of_a_heat_without_a_time_is_where_that_heat_is():
    cast = trace_cast(make_cast([make_run()], pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0))))
    assert spans(cast, heat="H2") == [(1, 20.0, 60.0)]


@pytest.mark.parametrize(
    ("event", "code"),
    [
        ({"strand_no": 1}, "event-without-start"),
        ({"from_t": 9.0, "to_t": 8.0}, "event-ends-before-start"),
        ({"strand_no": 1, "from_m": 9.0, "to_m": 8.0}, "event-ends-before-start"),
        ({"strand_no": 9, "from_t": 9.0}, "event-strand-unknown"),
        ({"strand_no": 1, "run_no": 2, "from_t": 9.0}, "event-strand-unknown"),
        ({"tundish": "T7", "from_t": 9.0}, "event-tundish-unknown"),
        ({"heat": "H7", "from_t": 9.0}, "event-heat-unknown"),
    ],
)
def test_event_that_cannot_be_read_is_named_and_marks_nothing(cast, event, code):
    fault = event_fault(StrandEvent(**event), cast)
    assert fault is not None and fault.code == code
    assert event_intervals(StrandEvent(**event), cast) == ()


def test_event_at_one_moment_marks_the_part_it_lies_in(cast):
    assert marked(cast, strand_no=1, from_t=15.0, to_t=15.0) == [(1, 1, 2)]
