"""Holds, lifting and releasing as the metallurgist types them, on the small plant."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest

from heattrace.store.engine import open_reader
from heattrace.store.ledger import verify_chain
from heattrace.store.work import begin_work
from tests.conftest import Run
from tests.make import make_analysis, make_grade, make_heat, make_hold, make_order_line, make_sample

GRADE = "EN 10025-2:2004 S355J2"
BY = ("--by", "A. Weber")


def entries(db: str) -> int:
    with open_reader(db) as reader:
        chain = verify_chain(reader)
    assert chain.broken_at is None
    return chain.entries


def decisions(db: str) -> list[sqlite3.Row]:
    with open_reader(db) as reader:
        return reader.all("SELECT * FROM decision ORDER BY decision_id")


def hold(run: Run, db: str, *words: str, lift_on: str = "inspection:etch", reason: str = "LEVEL") -> dict[str, Any]:
    ran = run("hold", *words, "--reason", reason, "--note", "seen", "--lift-on", lift_on, *BY, "--db", db, "--json")
    assert ran.status == 0, ran.err
    return ran.data


def test_release_of_a_heat_frees_its_plain_parts_only(plant: str, run: Run) -> None:
    ran = run("release", "41878", *BY, "--db", plant, "--json")
    assert ran.status == 3
    assert ran.data["free"] == ["S-1"]
    assert [h["piece_no"] for h in ran.data["held"]] == ["S-2"]
    assert "level-swing" in ran.data["held"][0]["because"]
    assert ran.data["transition"] == ["S-3"]
    assert ran.data["other_orders"] == []
    assert [d["requirement"] for d in ran.data["decisions"]] == [GRADE]
    assert entries(plant) == 3


def test_release_freezes_the_cast_analysis_and_the_facts(plant: str, run: Run) -> None:
    run("release", "41878", *BY, "--db", plant)
    (row,) = decisions(plant)
    assert (row["kind"], row["verdict"], row["by"], row["signature_id"]) == ("release", "meets", "A. Weber", None)
    import hashlib

    assert hashlib.sha256(row["snapshot"].encode()).hexdigest() == row["snapshot_digest"]
    assert '"C":["0.18"' in row["snapshot"]
    with open_reader(plant) as reader:
        frozen = reader.all("SELECT * FROM cast_analysis_value WHERE cast_analysis_id = :k", k=row["cast_analysis_id"])
    assert len(frozen) == 3


def test_off_grade_heat_is_refused_and_nothing_is_written(plant: str, run: Run) -> None:
    before = entries(plant)
    ran = run("release", "41879", *BY, "--db", plant, "--json")
    assert ran.status == 1
    assert ran.json["status"] == "refused"
    assert "CHEM-HIGH" in {f["code"] for f in ran.json["findings"]}
    assert entries(plant) == before
    assert decisions(plant) == []


def test_held_heat_is_never_released_directly(plant: str, run: Run) -> None:
    """Bad input 94."""
    hold(run, plant, "41878")
    ran = run("release", "41878", *BY, "--db", plant, "--json")
    assert ran.status == 1
    assert [f["code"] for f in ran.json["findings"]] == ["HELD"]
    assert decisions(plant) == []


def test_lifted_hold_leaves_undecided_not_released(plant: str, run: Run) -> None:
    run("release", "41878", *BY, "--db", plant)
    placed = hold(run, plant, "41878", lift_on="document")
    ran = run("lift", placed["hold_no"], "--evidence", "document:QN-17", *BY, "--db", plant, "--json")
    assert ran.status == 0, ran.err
    listed = run("piece", "list", "--db", plant, "--json").data["pieces"]
    assert {p["piece_no"]: p["quality"] for p in listed}["S-1"] == "undecided"
    assert run("release", "41878", *BY, "--db", plant, "--json").data["free"] == ["S-1"]


def test_release_of_the_heat_leaves_a_piece_hold_where_it_is(plant: str, run: Run) -> None:
    """Bad input 95."""
    placed = hold(run, plant, "S-1", reason="CRACK-LONG")
    ran = run("release", "41878", *BY, "--db", plant, "--json")
    assert ran.data["free"] == []
    because = {h["piece_no"]: h["because"] for h in ran.data["held"]}
    assert placed["hold_no"] in because["S-1"]


def test_hold_for_one_use_leaves_the_others_free(plant: str, run: Run) -> None:
    with begin_work(plant, by="L. Clerk", action="order", subject="4711") as work:
        make_order_line(work, 1)
        work.commit()
    hold(run, plant, "S-1", "--for", "4711/1")
    assert run("release", "41878", *BY, "--db", plant, "--json").data["free"] == ["S-1"]


def test_hold_on_metres_reaches_the_parts_it_overlaps(plant: str, run: Run) -> None:
    placed = hold(run, plant, "--strand", "S-300/1/1", "--from", "6.5", "--to", "7.5")
    assert placed["pieces"] == ["S-1", "S-2"]


def test_hold_on_a_heat_reaches_by_share(plant: str, run: Run) -> None:
    assert hold(run, plant, "41879")["pieces"] == ["S-3", "S-4"]


def test_transition_piece_within_its_grade_is_released_by_itself(plant: str, run: Run) -> None:
    """S-3: mean C 0.205 rounds to 0.20 (half to even) and meets 0.20, its tail 0.225 does not: refused."""
    ran = run("release", "S-3", *BY, "--db", plant, "--json")
    assert ran.status == 1
    assert any("tail" in f["subject"] for f in ran.json["findings"])


def test_piece_released_by_itself_waits_for_its_heat(plant: str, run: Run) -> None:
    ran = run("release", "S-2", *BY, "--db", plant, "--json")
    assert ran.status == 3
    assert ran.data["free"] == []
    assert "STILL-UNDECIDED" in {f["code"] for f in ran.json["findings"]}
    run("release", "41878", *BY, "--db", plant)
    listed = run("piece", "list", "--db", plant, "--json").data["pieces"]
    assert {p["piece_no"]: p["quality"] for p in listed}["S-2"] == "released"


def test_nobody_releases_on_a_result_they_entered(plant: str, run: Run) -> None:
    """Bad input 94: the same person."""
    ran = run("release", "41878", "--by", "l. clerk", "--db", plant, "--json")
    assert ran.status == 1
    assert [f["code"] for f in ran.json["findings"]] == ["SAME-PERSON"]


def test_missing_element_bars_a_release(store: str, run: Run) -> None:
    """Bad input 94: manganese never reported."""
    with begin_work(store, by="L. Clerk", action="import", subject="plant") as work:
        heat = make_heat(work, "41880", edition_id=make_grade(work))
        make_analysis(work, make_sample(work, heat), "C=0.18 S=0.008")
        work.commit()
    ran = run("release", "41880", *BY, "--db", store, "--json")
    assert ran.status == 1
    assert "CHEM-MISSING" in {f["code"] for f in ran.json["findings"]}


def test_a_second_release_changes_nothing(plant: str, run: Run) -> None:
    run("release", "41878", *BY, "--db", plant)
    before = entries(plant)
    ran = run("release", "41878", *BY, "--db", plant, "--json")
    assert ran.data["free"] == ["S-1"]
    assert ran.data["already"]
    assert entries(plant) == before


def test_emergency_release_needs_a_signature(plant: str, run: Run) -> None:
    ran = run("release", "41878", "--emergency", *BY, "--db", plant)
    assert ran.status == 1
    assert "signature" in ran.err


@pytest.mark.parametrize(
    ("lift_on", "evidence", "words"),
    [
        ("analysis:C", "A-1", "entered before the hold"),
        ("analysis:C", "A-99", "no such analysis"),
        ("analysis:C", "A-2", "another heat"),
        ("inspection:etch", "inspection:1", "no such inspection"),
        ("document", "A-1", "document:QN-2031"),
        ("identity", "identity:ok", "by its number, e.g. identity:QN-2031"),
        ("identity", "identity:seen", "by its number"),
        ("identity", "identity:identity:1", "by its number"),
        ("document", "document:111", "by its number"),
        ("document", "document:Q\t1", "by its number"),
        ("retest", "A-1", "entered before the hold"),
    ],
)
def test_hold_is_not_lifted_without_the_evidence_it_names(
    plant: str, run: Run, lift_on: str, evidence: str, words: str
) -> None:
    """Bad input 96."""
    placed = hold(run, plant, "41878", lift_on=lift_on, reason="CHEM-HIGH")
    before = entries(plant)
    ran = run("lift", placed["hold_no"], "--evidence", evidence, *BY, "--db", plant)
    assert ran.status == 1
    assert words in ran.err
    assert entries(plant) == before


def test_hold_is_lifted_on_a_later_analysis_of_the_held_heat(plant: str, run: Run) -> None:
    placed = hold(run, plant, "41878", lift_on="analysis:C,N", reason="CHEM-MISSING")
    with begin_work(plant, by="L. Clerk", action="import", subject="late") as work:
        heat = work.reader.scalar("SELECT heat_id FROM heat WHERE heat_no = '41878'")
        sample = make_sample(work, heat, "41878-T2")
        partial = make_analysis(work, sample, "C=0.18", method="combustion")
        whole = make_analysis(work, sample, "C=0.18 N=0.006")
        work.commit()
    lacking = run("lift", placed["hold_no"], "--evidence", f"A-{partial}", *BY, "--db", plant)
    assert lacking.status == 1
    assert "does not report N" in lacking.err
    ran = run("lift", placed["hold_no"], "--evidence", f"A-{whole}", *BY, "--db", plant, "--json")
    assert ran.status == 0
    assert ran.data["evidence"] == {"analysis:C,N": f"A-{whole}"}
    again = run("lift", placed["hold_no"], "--evidence", f"A-{whole}", *BY, "--db", plant)
    assert again.status == 1


def test_proposed_hold_bars_nothing_until_taken_up(plant: str, run: Run) -> None:
    with begin_work(plant, by="L. Clerk", action="import", subject="x") as work:
        part = work.reader.scalar("SELECT part_id FROM part WHERE piece_no = 'S-1'")
        number = make_hold(work, part_ids=[part], states=("proposed",))
        other = make_hold(work, part_ids=[part], states=("proposed",))
        work.commit()
    assert run("release", "41878", *BY, "--db", plant, "--json").data["free"] == ["S-1"]
    assert run("hold", "--proposed", f"H-{number}", *BY, "--db", plant).status == 0
    assert run("hold", "--proposed", f"H-{number}", *BY, "--db", plant).status == 1
    assert run("hold", "--turn-down", f"H-{other}", *BY, "--db", plant).status == 2
    assert run("hold", "--turn-down", f"H-{other}", "--note", "seen sound", *BY, "--db", plant).status == 0
    listed = run("piece", "list", "--db", plant, "--json").data["pieces"]
    assert {p["piece_no"]: p["quality"] for p in listed}["S-1"] == "held"


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (["hold", "41878", "--reason", "LEVL", "--note", "x", "--lift-on", "document"], 2),
        (["hold", "41878", "--reason", "LEVEL", "--lift-on", "document"], 2),
        (["hold", "41878", "--reason", "LEVEL", "--note", "x", "--lift-on", "gossip"], 2),
        (["hold", "41878", "--reason", "LEVEL", "--note", "x", "--lift-on", "analysis:Xx"], 2),
        (["hold", "--reason", "LEVEL", "--note", "x", "--lift-on", "document"], 2),
        (["hold", "41999", "--reason", "LEVEL", "--note", "x", "--lift-on", "document"], 1),
        (["hold", "41878'; DROP TABLE heat;--", "--reason", "LEVEL", "--note", "x", "--lift-on", "document"], 1),
        (["hold", "--strand", "S-300/1/1", "--from", "9", "--to", "8", "--reason", "LEVEL", "--note", "x",
          "--lift-on", "document"], 1),
        (["hold", "--strand", "S-300/9/1", "--from", "8", "--to", "9", "--reason", "LEVEL", "--note", "x",
          "--lift-on", "document"], 1),
        (["lift", "H-77", "--evidence", "A-1"], 1),
        (["lift", "77", "--evidence", "A-1"], 2),
        (["release", "41999"], 1),
        (["release", "41878", "--for", "EN 1:1 NIX"], 1),
    ],
)  # fmt: skip
def test_wrong_words_change_nothing(plant: str, run: Run, words: list[str], status: int) -> None:
    before = entries(plant)
    assert run(*words, *BY, "--db", plant).status == status
    assert entries(plant) == before


def test_every_write_needs_a_name(plant: str, run: Run) -> None:
    for words in (
        ["release", "41878"],
        ["hold", "41878", "--reason", "LEVEL", "--note", "x", "--lift-on", "document"],
        ["lift", "H-1", "--evidence", "A-1"],
    ):
        assert run(*words, "--db", plant).status == 2
