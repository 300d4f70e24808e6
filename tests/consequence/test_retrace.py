"""Tracing kept in the record: what is written is what was traced, once, and nothing that did not change is touched."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from heattrace.consequence.retrace import Retraced, retrace
from heattrace.schema import casts
from heattrace.store.check import check_database
from heattrace.store.engine import open_reader
from heattrace.store.work import begin_work
from heattrace.strand.cast import trace_cast
from heattrace.strand.record import Cast, Pour
from tests.consequence.store_cast import ORIGIN, store_cast
from tests.make import make_decision, make_hold
from tests.strand.make_cast import cuts_at, make_cast, make_run
from tests.strand.random_casts import random_cast

COUNTED = ("part", "placement", "share", "movement", "event_reach", "hold")


def keep(db: str, cast: Cast) -> tuple[int, Retraced]:
    """Write a cast and trace it; gives sequence_id and the outcome."""
    with begin_work(db, by="T. Test", action="import", subject=cast.sequence_no) as work:
        sequence_id = store_cast(work, cast)
        outcome = retrace(work, sequence_id)
        work.commit()
    return sequence_id, outcome


def again(db: str, sequence_id: int) -> Retraced:
    with begin_work(db, by="T. Test", action="retrace", subject="again") as work:
        outcome = retrace(work, sequence_id)
        work.commit()
    return outcome


def rows(db: str, sql: str, **parameters: Any) -> list[Any]:
    with open_reader(db) as reader:
        return list(reader.all(sql, **parameters))


def counts(db: str) -> dict[str, int]:
    return {table: rows(db, f"SELECT count(*) FROM {table}")[0][0] for table in COUNTED}


def ended(cast: Cast, cut_no: int, **changes: Any) -> Cast:
    """The cast with one cut of its first run changed."""
    run = cast.runs[0]
    cuts = tuple(replace(cut, **changes) if cut.cut_no == cut_no else cut for cut in run.cuts)
    return replace(cast, runs=(replace(run, cuts=cuts), *cast.runs[1:]))


@settings(max_examples=25, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10**9))
def test_random_casts_are_kept_as_they_are_traced(store: str, seed: int) -> None:
    """Moments are kept in whole milliseconds: 1.3 m/min times 1 ms is 22 um."""
    cast = random_cast(seed)
    if rows(store, "SELECT 1 FROM sequence WHERE sequence_no = :n", n=f"R{seed}"):
        return
    numbered = tuple(replace(heat, heat_no=f"{seed}-{heat.heat_no}") for heat in cast.heats)
    cast = replace(
        cast, sequence_no=f"R{seed}", heats=numbered, runs=tuple(_unnumbered(run, seed) for run in cast.runs)
    )
    sequence_id, outcome = keep(store, cast)
    traced = trace_cast(cast)
    kept = {
        (row["strand_no"], row["run_no"], row["cut_no"]): row
        for row in rows(
            store,
            "SELECT pl.*, p.cut_no FROM placement pl JOIN part p ON p.part_id = pl.part_id "
            "WHERE pl.sequence_id = :sequence AND pl.ended_no IS NULL",
            sequence=sequence_id,
        )
    }
    assert len(kept) == len(traced.parts) == len(outcome.parts)
    numbers = {row["heat_id"]: row["heat_no"] for row in rows(store, "SELECT heat_id, heat_no FROM heat")}
    for part in traced.parts:
        row = kept[part.strand_no, part.run_no, None if part.implied else part.cut_no]
        assert row["from_um"] == pytest.approx(part.from_m * 1e6, abs=60)
        assert row["to_um"] == pytest.approx(part.to_m * 1e6, abs=60)
        shares = {
            numbers[share["heat_id"]]: share
            for share in rows(store, "SELECT * FROM share WHERE placement_id = :p", p=row["placement_id"])
        }
        assert sum(share["mean"] for share in shares.values()) == pytest.approx(1_000_000, abs=100 * len(numbered))
        for share in part.listed():
            number = f"{seed}-{share.heat_id}"
            if share.greatest > 2e-4:
                assert shares[number]["mean"] == pytest.approx(share.mean * 1e6, abs=100)
    before = counts(store)
    repeated = again(store, sequence_id)
    assert (repeated.added, repeated.ended, repeated.changed) == ([], [], [])
    assert counts(store) == before
    with open_reader(store) as reader:
        assert [f for f in check_database(reader).findings if f.code != "CLOCK-BACK"] == []


def _unnumbered(run: Any, seed: int) -> Any:
    """Piece numbers of their own in every random cast."""
    cuts = tuple(replace(cut, piece_no=cut.piece_no and f"{seed}-{cut.piece_no}") for cut in run.cuts)
    return replace(run, cuts=cuts)


def simple_cast(*clamped: float) -> Cast:
    """One run cut at the given minutes, pieces numbered P1, P2 ..."""
    cuts = tuple(replace(cut, piece_no=f"P{cut.cut_no}") for cut in cuts_at(*clamped))
    return make_cast(runs=(make_run(cuts=cuts),))


def test_a_part_keeps_its_key_while_its_cut_moves(store: str) -> None:
    cast = simple_cast(40.0, 50.0, 60.0)
    sequence_id, first = keep(store, cast)
    with begin_work(store, by="T. Test", action="amend", subject="cut 2") as work:
        old = work.reader.one("SELECT * FROM cut WHERE cut_no = 2")
        assert old is not None
        work.end("cut", "cut_id", [old["cut_id"]])
        moved = {name: old[name] for name in old.keys() if name not in ("cut_id", "entry_no", "ended_no")}  # noqa: SIM118
        work.add(casts.Cut(**moved | {"clamped_at": ORIGIN + 51 * 60_000}))
        second = retrace(work, sequence_id)
        work.commit()
    assert second.parts == first.parts
    assert [part.name for part in second.changed] == ["piece P2", "piece P3"]
    assert (second.added, second.ended) == ([], [])
    untouched = rows(store, "SELECT count(*) FROM placement WHERE ended_no IS NULL AND entry_no < :e", e=3)
    assert untouched[0][0] == 1


def test_what_changed_is_said_in_metres_and_shares(store: str) -> None:
    sequence_id, _ = keep(store, simple_cast(40.0, 50.0, 60.0))
    with begin_work(store, by="T. Test", action="amend", subject="length") as work:
        old = work.reader.one("SELECT * FROM strand_run")
        assert old is not None
        work.end("strand_run", "strand_run_id", [old["strand_run_id"]])
        kept = {n: old[n] for n in old.keys() if n not in ("strand_run_id", "entry_no", "ended_no")}  # noqa: SIM118
        work.add(
            casts.StrandRun(
                **kept | {"machine_length_um": old["machine_length_um"] + 500_000, "machine_length_text": None}
            )
        )
        outcome = retrace(work, sequence_id)
        work.commit()
    places = [part.words.split(";")[0] for part in outcome.changed]
    assert len(places) == 3
    assert all(words.startswith("place ") for words in places)


def test_a_cut_that_goes_takes_its_part_with_it_and_names_what_stood_on_it(store: str) -> None:
    sequence_id, first = keep(store, simple_cast(40.0, 50.0, 60.0))
    part_id = next(i for key, i in first.parts.items() if key[4] == "P3")
    with begin_work(store, by="T. Test", action="hold", subject="P3") as work:
        make_hold(work, part_ids=[part_id])
        make_decision(work, requirement="grade", part_id=part_id)
        work.commit()
    with begin_work(store, by="T. Test", action="amend", subject="cut 3") as work:
        work.end("cut", "cut_id", [work.reader.scalar("SELECT cut_id FROM cut WHERE cut_no = 3")])
        outcome = retrace(work, sequence_id)
        work.commit()
    assert [part.name for part in outcome.ended] == ["piece P3"]
    codes = {(f.code, f.subject) for f in outcome.findings}
    assert {("REC39", "piece P3"), ("REC35", "D-1"), ("REC35", "H-1")} <= codes
    assert rows(store, "SELECT count(*) FROM part WHERE ended_no IS NULL")[0][0] == 2


def decide_number(db: str, part_no: str, heat_no: str) -> None:
    """Write that a person decided which heat's number a part bears, as a placement of its own."""
    with begin_work(db, by="T. Test", action="number", subject=part_no) as work:
        old = work.reader.one(
            "SELECT pl.* FROM placement pl JOIN part p ON p.part_id = pl.part_id WHERE p.piece_no = :n", n=part_no
        )
        assert old is not None
        shares = work.reader.all("SELECT * FROM share WHERE placement_id = :p", p=old["placement_id"])
        heat_id = work.reader.scalar("SELECT heat_id FROM heat WHERE heat_no = :n", n=heat_no)
        work.end("placement", "placement_id", [old["placement_id"]])
        names = [n for n in old.keys() if n not in ("placement_id", "ended_no")]  # noqa: SIM118
        values = {n: old[n] for n in names} | {"heat_id": heat_id, "heat_no_rule": "decided", "entry_no": work.entry_no}
        key = work.next_key("placement", "placement_id")
        work.bulk_insert("placement", ["placement_id", *names], [(key, *(values[n] for n in names))])
        columns = list(shares[0].keys())
        changed = [tuple(key if c == "placement_id" else row[c] for c in columns) for row in shares]
        work.bulk_insert("share", columns, changed)
        work.commit()


def test_a_number_a_person_decided_stays_with_a_transition(store: str) -> None:
    cast = replace(
        simple_cast(40.0, 50.0, 60.0),
        heats=tuple(replace(heat, grade_text=f"grade of {heat.heat_no}") for heat in make_cast().heats),
        pours=(Pour("H1", "T1", 0.0, 35.0), Pour("H2", "T1", 35.0)),
    )
    sequence_id, _ = keep(store, cast)
    borne = "SELECT pl.heat_id, pl.heat_no_rule, pl.cast_class FROM placement pl JOIN part p ON p.part_id = pl.part_id"
    borne += " WHERE p.piece_no = 'P2' AND pl.ended_no IS NULL"
    assert tuple(rows(store, borne)[0]) == (None, "decision", "transition")
    decide_number(store, "P2", "H2")
    outcome = again(store, sequence_id)
    assert tuple(rows(store, borne)[0])[1:] == ("decided", "transition")
    assert outcome.changed == []


def test_a_pure_part_bears_its_heats_number_whatever_was_decided_before(store: str) -> None:
    sequence_id, _ = keep(store, simple_cast(40.0, 50.0, 60.0))
    decide_number(store, "P2", "H1")
    again(store, sequence_id)
    rule = "SELECT pl.heat_no_rule FROM placement pl JOIN part p ON p.part_id = pl.part_id AND pl.ended_no IS NULL"
    assert rows(store, f"{rule} WHERE p.piece_no = 'P2'")[0][0] == "pure"


def test_reasons_and_bounds_are_kept_in_whole_numbers(store: str) -> None:
    run = make_run(cuts=cuts_at(40.0, 50.0, 60.0), speeds=((0.0, 1.0), (30.0, None), (35.0, 1.4)))
    keep(store, make_cast(runs=(run,)))
    bounded = rows(store, "SELECT speed_bounds, class_reasons FROM placement WHERE speed_bounds IS NOT NULL")
    assert bounded
    for row in bounded:
        bounds = json.loads(row["speed_bounds"])
        flat = [v for name in ("from_um", "to_um", "mass_g", "meniscus_from", "meniscus_to") for v in bounds[name]]
        assert all(isinstance(value, int) for value in flat)
        low, high = bounds["to_um"]
        assert low <= high
        for reason in json.loads(row["class_reasons"]):
            assert reason["words"]
            assert all(isinstance(reason[end], int | None) for end in ("from_um", "to_um"))


def test_parts_that_share_an_interval_are_no_overlap_of_the_record(store: str) -> None:
    cast = ended(simple_cast(40.0, 50.0, 60.0), 2, clamped=None, faulty=True)
    _, outcome = keep(store, cast)
    shared = rows(
        store,
        "SELECT from_um, count(*) AS n FROM placement WHERE ended_no IS NULL GROUP BY from_um HAVING count(*) > 1",
    )
    assert [row["n"] for row in shared] == [2]
    assert len(outcome.parts) == 3
    with open_reader(store) as reader:
        assert "DB-OVERLAP" not in {f.code for f in check_database(reader).findings}


def test_events_reach_the_metres_of_their_minutes(store: str) -> None:
    """At 1 m/min from minute 0 a swing from minute 12 to 14 marks 12 to 14 m; without an end it goes on to the tail."""
    run = make_run(cuts=cuts_at(40.0, 50.0, 60.0), speeds=((0.0, 1.0),), started=0.0)
    cast = make_cast(runs=(run,))
    with begin_work(store, by="T. Test", action="import", subject="events") as work:
        sequence_id = store_cast(work, cast)
        for begin, end in ((12, 14), (13, None)):
            at = {"from_at": ORIGIN + begin * 60_000, "to_at": None if end is None else ORIGIN + end * 60_000}
            work.add(casts.Event(sequence_id=sequence_id, strand_no=1, run_no=1, kind="level-swing", **at))
        outcome = retrace(work, sequence_id)
        work.commit()
    s_end = round(outcome.record.traced.run(1, 1).s_end * 1e6)
    found = rows(store, "SELECT from_um, to_um, open_end FROM event_reach WHERE ended_no IS NULL ORDER BY event_id")
    assert [tuple(row) for row in found] == [(12_000_000, 14_000_000, 0), (13_000_000, s_end, 1)]
    assert {f.code for f in outcome.findings} >= {"event-open-end"}
