"""A recorded cast read back in the units of the strand model, with the rule values that hold for it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heattrace.errors import NotFound
from heattrace.findings import Finding
from heattrace.schema.people import WorksValue
from heattrace.store.engine import open_reader
from heattrace.store.ledger import canonical
from heattrace.store.work import Work, begin_work
from heattrace.strand.record import CastUnreadable, StrandRules
from heattrace.tracing.cast_record import read_cast
from heattrace.tracing.cast_rules import event_reaches, strand_rules
from heattrace.tracing.cast_trace import in_clock, piece_words, trace_record
from heattrace.tracing.sequences import show_sequence
from tests.consequence.store_cast import ORIGIN, store_cast
from tests.strand.make_cast import cuts_at, make_cast, make_run
from tests.strand.scenario_casts import cast_of


def set_value(work: Work, name: str, value: object, scope: str = "", edition: int = 1) -> None:
    work.add(WorksValue(name=name, scope=scope, edition=edition, value=canonical(value), reason="test"))


@pytest.mark.parametrize("name", ["A_steady_one_exchange", "E_stop_and_restart"])
def test_a_stored_cast_reads_back_as_it_was_recorded(store: str, name: str) -> None:
    """Heats come back by key; moments are whole milliseconds, all other numbers are the very doubles."""
    cast = cast_of(name)
    with begin_work(store, by="T. Test", action="import", subject=name) as work:
        sequence_id = store_cast(work, cast)
        work.commit()
    with open_reader(store) as reader:
        read = read_cast(reader, sequence_id)
    assert [heat.heat_no for heat in read.cast.heats] == [heat.heat_no for heat in cast.heats]
    assert read.origin_ms == ORIGIN
    for seen, said in zip(read.cast.runs, cast.runs, strict=True):
        assert (seen.key, seen.machine_length_m, seen.kerf_mm) == (said.key, said.machine_length_m, said.kerf_mm)
        assert [speed for _, speed in seen.speeds] == [speed for _, speed in said.speeds]
        assert len(seen.cuts) == len(said.cuts)
        for one, other in zip(seen.cuts, said.cuts, strict=True):
            assert (one.clamped is None) == (other.clamped is None)
            if one.clamped is not None:
                assert one.clamped == pytest.approx(other.clamped, abs=1e-5)
    assert [mass for _, mass in read.cast.tundishes[0].readings] == [mass for _, mass in cast.tundishes[0].readings]


def test_the_text_beside_a_whole_number_is_what_is_read(store: str) -> None:
    """12.3456789 m is kept as 12345679 um and its text; the text counts."""
    cast = make_cast(runs=(make_run(machine_length_m=12.3456789, cuts=cuts_at(30.0)),))
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        sequence_id = store_cast(work, cast)
        work.commit()
    with open_reader(store) as reader:
        assert reader.scalar("SELECT machine_length_um FROM strand_run") == 12_345_679
        assert read_cast(reader, sequence_id).cast.runs[0].machine_length_m == 12.3456789


def test_heats_without_a_known_grade_are_each_of_a_grade_of_their_own(store: str) -> None:
    cast = make_cast(grades={"H1": "", "H2": ""}, pours=make_cast().pours)
    cast = replace(cast, pours=(*cast.pours, replace(cast.pours[0], heat="H2", opened=30.0)))
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        sequence_id = store_cast(work, cast)
        work.commit()
    with open_reader(store) as reader:
        grades = [heat.grade_text for heat in read_cast(reader, sequence_id).cast.heats]
    assert len(set(grades)) == 2


def test_a_sequence_without_a_book_is_said_to_have_none(store: str) -> None:
    with open_reader(store) as reader, pytest.raises(NotFound, match="no cast book is recorded"):
        read_cast(reader, 99)


def test_a_book_that_contradicts_itself_names_its_sheet(store: str) -> None:
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        sequence_id = store_cast(work, make_cast(runs=(make_run(feeds=()),)))
        work.commit()
    with open_reader(store) as reader, pytest.raises(CastUnreadable, match="feeds sheet"):
        trace_record(reader, sequence_id)


def test_rules_are_the_shipped_ones_until_a_works_sets_its_own(store: str) -> None:
    with open_reader(store) as reader:
        found = strand_rules(reader, ["carbon"])
    assert found.rules == StrandRules()
    assert found.editions == {}


def test_a_value_of_the_steel_family_stands_above_one_for_all(store: str) -> None:
    with begin_work(store, by="T. Test", action="works set", subject="density") as work:
        set_value(work, "density", 7.7)
        set_value(work, "density", 7.9, "austenitic")
        set_value(work, "density", 7.8, edition=2)
        set_value(work, "pure-min", 0.97)
        work.commit()
    with open_reader(store) as reader:
        own, other, mixed = (
            strand_rules(reader, families) for families in (["austenitic"], ["carbon"], ["carbon", "austenitic"])
        )
    assert (own.rules.density_t_m3, other.rules.density_t_m3, mixed.rules.density_t_m3) == (7.9, 7.8, 7.8)
    assert {found.rules.pure_min for found in (own, other, mixed)} == {0.97}
    assert other.editions == {"density": 2, "pure-min": 1}
    assert own.findings("S1") == []
    assert [f.code for f in other.findings("S1")] == ["carbon-steel-values"]


def test_one_figure_of_an_event_reach_holds_both_ways(store: str) -> None:
    with begin_work(store, by="T. Test", action="works set", subject="event-reach") as work:
        set_value(work, "event-reach", {"level-swing": ["0.5"], "nozzle-clog": ["1", "2.5"]})
        work.commit()
    with open_reader(store) as reader:
        assert event_reaches(reader) == {"level-swing": (0.5, 0.5), "nozzle-clog": (1.0, 2.5)}


def test_minutes_of_a_finding_are_told_as_moments(store: str) -> None:
    from datetime import UTC

    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        sequence_id = store_cast(work, make_cast())
        work.commit()
    with open_reader(store) as reader:
        recorded = read_cast(reader, sequence_id)
    found = in_clock(recorded, Finding("x", "strand 1", "no speed from minute 30 to 45.5", "by minute 0"), UTC)
    assert found.seen == "no speed from 2025-03-11T05:52:00+00:00 to 2025-03-11T06:07:30+00:00"
    assert found.wanted == "by 2025-03-11T05:22:00+00:00"


def test_parts_kept_before_a_value_was_set_are_named(store: str) -> None:
    from heattrace.consequence.retrace import retrace

    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        retrace(work, store_cast(work, replace(cast_of("A_steady_one_exchange"), sequence_no="Q1")))
        work.commit()
    with open_reader(store) as reader:
        assert "kept-otherwise" not in {f.code for f in show_sequence(reader, "q1").findings}
    with begin_work(store, by="T. Test", action="works set", subject="pure-min") as work:
        set_value(work, "pure-min", 0.6)
        work.commit()
    with open_reader(store) as reader:
        (stale,) = [f for f in show_sequence(reader, "q1").findings if f.code == "kept-otherwise"]
    assert "parts are kept otherwise" in stale.seen


def test_many_parts_are_named_and_the_rest_counted() -> None:
    assert piece_words([f"P{n}" for n in range(10)], most=3) == "P0, P1, P2 and 7 more"
