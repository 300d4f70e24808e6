"""Why: in words, with every cause, the rule, the limits and the persons."""

from __future__ import annotations

import pytest

from heattrace.store.work import begin_work
from tests.conftest import Run
from tests.make import make_decision, make_hold
from tests.tracing.plant import GRADE, Plant, make_plant


@pytest.fixture
def plant(store: str) -> Plant:
    return make_plant(store)


def test_why_a_piece_is_held_names_hold_reach_event_and_class(run: Run, plant: Plant) -> None:
    ran = run("why", "S300-1-08", "--db", plant.db)
    assert ran.status == 0
    flat = " ".join(ran.out.split())
    assert "piece S300-1-08 is HELD for 4711/1" in flat
    assert "because H-1 (CHEM-HIGH) on heat 41879 reaches the part: largest share 0.75, reaches from 0.05" in flat
    assert "(undecided) transition: two heats from 41.2 m on" in flat
    assert "(undecided) E-1 level-swing marks 37.000 to 38.500 m and wants a check" in flat
    assert "(released) heat 41878 is released for 4711/1 by D-1, A. Weber, unsigned" in flat
    assert "heat number 41879: a transition within one grade bears the newest heat" in flat


def test_why_names_the_cast_analysis_and_the_words_of_the_ladder(run: Run, plant: Plant) -> None:
    flat = " ".join(run("why", "heat:41879", "--db", plant.db).out.split())
    assert "cast analysis of heat 41879: chosen now by the ladder, not frozen" in flat
    assert "rung 1 of ladder edition 0 (as shipped): analysis A-2 (spark-emission) of sample 41879-T1" in flat
    assert "from A-2, spark-emission, sample 41879-T1 (tundish-steady): C 0.22 Mn 1.50 S 0.010 N 0.0060" in flat
    frozen = " ".join(run("why", "heat:41878", "--db", plant.db).out.split())
    assert "cast analysis of heat 41878: frozen with a decision" in frozen


def test_why_names_the_limit_that_is_not_met_with_its_source(run: Run, plant: Plant) -> None:
    flat = " ".join(run("why", "heat:41879", "--db", plant.db).out.split())
    assert f"41879: FAILS for 4711/1 ({GRADE}, 60 mm)" in flat
    assert "C max 0.20: 0.22, fail [works: made for a test]" in flat
    assert "2 of 3 met or not applying" in flat


def test_why_says_who_decided_on_what_and_what_lifted_a_hold(run: Run, plant: Plant) -> None:
    with begin_work(plant.db, by="Q. Mann", action="lift", subject="H-2") as work:
        hold = make_hold(work, part_ids=[plant.parts["S300-1-07"]], reason="LAP", note="lap at the head", states=())
        from heattrace.schema.decisions import HoldEvent

        for state, evidence in (("placed", None), ("lifted", '{"inspection:etch":"inspection:4"}')):
            work.add(HoldEvent(hold_id=hold, state=state, evidence=evidence, at=work.now, by=work.by))
        make_decision(
            work, "reject", requirement="4711/1", part_id=plant.parts["S300-1-07"], reason="LAP", note="too deep"
        )
        work.commit()
    flat = " ".join(run("why", "S300-1-07", "--db", plant.db).out.split())
    assert "hold H-2 (LAP) on piece S300-1-07: lifted note lap at the head bars all uses" in flat
    assert "lifted by Q. Mann" in flat
    assert "inspection:etch: inspection:4" in flat
    assert "decision D-1: release as-ordered of heat 41878 for 4711/1" in flat
    assert "unsigned: the name is the person's own statement" in flat
    assert "piece S300-1-07 is REJECTED for 4711/1" in flat
    assert "reason LAP: too deep" in flat


def test_json_of_why_has_every_cause_and_the_works_values(run: Run, plant: Plant) -> None:
    data = run("why", "S300-1-08", "--db", plant.db, "--json").data
    (quality,) = data["qualities"]
    kinds = {c["kind"] for c in quality["causes"]}
    assert {"hold", "transition", "event", "heat"} <= kinds
    assert {v["name"]: v["edition"] for v in data["works_values"]}["hold-reach"] == 0
    assert data["judgements"][0]["limits"] == []
    assert [line["quantity"] for line in data["judgements"][2]["limits"]] == ["C"]
    assert data["decisions"][0]["snapshot_digest"]


def test_why_of_a_piece_from_before_the_record(run: Run, plant: Plant) -> None:
    flat = " ".join(run("why", "OLD-1", "--db", plant.db).out.split())
    assert "class undetermined because position not recorded" in flat
    assert "heat number 41878: the one heat it is made of" in flat


def test_why_of_a_number_nobody_bears_lists_the_nearest(run: Run, plant: Plant) -> None:
    ran = run("why", "S300-1-O7", "--db", plant.db, "--json")
    assert (ran.status, ran.json["findings"][0]["subject"]) == (1, "piece:S300-1-07")


def test_history_and_holds_are_shown(run: Run, plant: Plant) -> None:
    history = run("history", "H-1", "--db", plant.db)
    assert history.status == 0
    assert "F. Berg  hold" in history.out
    assert run("history", "H-1", "--db", plant.db, "--json").data["entries"][0]["by"] == "F. Berg"
    assert run("history", "H-77", "--db", plant.db).status == 1
    holds = run("holds", "--db", plant.db)
    assert "H-1" in holds.out
    assert "carbon 0.22" in holds.out
    (hold,) = run("holds", "--db", plant.db, "--json").data["holds"]
    assert (hold["hold_no"], hold["reason"], hold["scope"], hold["state"]) == (
        "H-1",
        "CHEM-HIGH",
        "heat 41879",
        "placed",
    )
    assert {"hold_no", "reason", "note", "scope", "lift_on", "requirement", "state"} <= set(hold)
    assert run("holds", "--proposed", "--db", plant.db).out.strip() == "no hold is proposed"
