"""New decisions: on the present analyses, on analyses that disagree, and for another requirement than a piece's own."""

from __future__ import annotations

from typing import Any

import pytest

from heattrace.schema.analyses import AnalysisState
from heattrace.schema.grades import GradeLimit
from heattrace.store.engine import open_reader
from heattrace.store.work import Work, begin_work
from tests.conftest import Run
from tests.make import make_analysis, make_cast_analysis, make_order_line, make_sample
from tests.release.test_release import BY, GRADE, decisions, entries, hold


def key(work: Work, table: str, number: str) -> int:
    column = {"heat": "heat_no", "part": "piece_no"}[table]
    return int(work.reader.scalar(f"SELECT {table}_id FROM {table} WHERE {column} = :n", n=number))


def set_aside(work: Work, analysis_id: int) -> None:
    work.add(AnalysisState(analysis_id=analysis_id, state="set-aside", reason="BURN-SCATTER", note="sample porous"))


def frozen_on_a_bad_burn(db: str, **later: Any) -> None:
    """41878 was frozen on C 0.18 of A-1; a later run of the same sample finds `later`, and A-1 is set aside."""
    with begin_work(db, by="L. Clerk", action="import", subject="late") as work:
        heat = key(work, "heat", "41878")
        make_cast_analysis(work, heat, {"C": 1, "Mn": 1, "S": 1})
        sample = work.reader.scalar("SELECT sample_key FROM analysis WHERE analysis_id = 1")
        make_analysis(work, sample, instrument="S3", **later)
        set_aside(work, 1)
        work.commit()


def contents(db: str, decision_no: int = -1) -> dict[int, int]:
    with open_reader(db) as reader:
        rows = reader.all(
            "SELECT element_id, analysis_id FROM cast_analysis_value WHERE cast_analysis_id = :k",
            k=decisions(db)[decision_no]["cast_analysis_id"],
        )
    return {row["element_id"]: row["analysis_id"] for row in rows}


def test_new_release_is_judged_by_the_present_analyses_not_by_superseded_ones(plant: str, run: Run) -> None:
    """The frozen choice met the grade (C 0.18); the analysis that stands now does not (C 0.23, limit 0.20)."""
    frozen_on_a_bad_burn(plant, chem="C=0.23 Mn=1.44 S=0.008")
    ran = run("release", "41878", *BY, "--db", plant, "--json")
    assert ran.status == 1
    assert "CHEM-HIGH" in {f["code"] for f in ran.json["findings"]}
    assert decisions(plant) == []
    piece = run("release", "S-2", *BY, "--db", plant, "--json")
    assert piece.status == 1
    assert "CHEM-HIGH" in {f["code"] for f in piece.json["findings"]}
    assert decisions(plant) == []


def test_new_release_freezes_the_present_choice_beside_the_superseded_one(plant: str, run: Run) -> None:
    frozen_on_a_bad_burn(plant, chem="C=0.19 Mn=1.44 S=0.008")
    ran = run("release", "41878", *BY, "--db", plant, "--json")
    assert ran.data["free"] == ["S-1"]
    assert set(contents(plant).values()) == {3}
    assert '"C":["0.19"' in decisions(plant)[0]["snapshot"]
    judged = run("judge", "41878", "--db", plant, "--json")
    assert "CHEM-AMENDED" not in {f["code"] for f in judged.json["findings"]}
    assert judged.status == 0


def test_new_release_is_judged_by_a_later_sample_the_ladder_now_prefers(plant: str, run: Run) -> None:
    with begin_work(plant, by="L. Clerk", action="import", subject="late") as work:
        heat = key(work, "heat", "41879")
        make_cast_analysis(work, heat, {"C": 2, "Mn": 2, "S": 2})
        set_aside(work, 2)
        make_analysis(work, make_sample(work, heat, "41879-T2"), "C=0.18 Mn=1.44 S=0.008")
        work.commit()
    ran = run("release", "41879", *BY, "--db", plant, "--json")
    assert ran.data["free"] == ["S-4"]


def test_release_of_a_piece_freezes_its_heats_anew(plant: str, run: Run) -> None:
    frozen_on_a_bad_burn(plant, chem="C=0.19 Mn=1.44 S=0.008")
    assert run("release", "S-2", *BY, "--db", plant, "--json").status == 3
    with open_reader(plant) as reader:
        frozen = reader.all("SELECT cast_analysis_id FROM cast_analysis ORDER BY cast_analysis_id")
    assert len(frozen) == 2


def test_choice_of_a_person_stays_while_its_analyses_stand(plant: str, run: Run) -> None:
    with begin_work(plant, by="L. Clerk", action="import", subject="late") as work:
        heat = key(work, "heat", "41878")
        chosen = make_analysis(work, make_sample(work, heat, "41878-P1", kind="product"), "C=0.17 Mn=1.44 S=0.008")
        make_cast_analysis(work, heat, {"C": chosen, "Mn": chosen, "S": chosen}, rule="product")
        work.commit()
    run("release", "41878", *BY, "--db", plant)
    assert set(contents(plant).values()) == {chosen}


def test_judging_a_heat_on_amended_analyses_asks_for_attention(plant: str, run: Run) -> None:
    frozen_on_a_bad_burn(plant, chem="C=0.23 Mn=1.44 S=0.008")
    ran = run("judge", "41878", "--db", plant, "--json")
    assert ran.data["results"][0]["verdict"] == "meets"
    assert "CHEM-AMENDED" in {f["code"] for f in ran.json["findings"]}
    assert ran.status == 3


@pytest.fixture
def doubtful(plant: str) -> str:
    """The plant where combustion and spark emission disagree on the carbon of 41878."""
    with begin_work(plant, by="L. Clerk", action="import", subject="late") as work:
        make_analysis(work, 1, "C=0.16", method="combustion")
        work.commit()
    return plant


@pytest.mark.parametrize("subject", ["41878", "S-2"])
def test_release_waits_while_analyses_disagree(doubtful: str, run: Run, subject: str) -> None:
    ran = run("release", subject, *BY, "--db", doubtful, "--json")
    assert ran.status == 1
    (finding,) = ran.json["findings"]
    assert finding["code"] == "CHEM-DISAGREE"
    assert "release 41878 --despite CHEM-DISAGREE" in finding["next"]
    assert decisions(doubtful) == []


def test_release_waits_while_a_contested_analysis_is_passed_over(plant: str, run: Run) -> None:
    with begin_work(plant, by="L. Clerk", action="import", subject="late") as work:
        make_analysis(work, 1, "C=0.26", instrument="S3", later_state="contested")
        work.commit()
    assert run("release", "41878", *BY, "--db", plant).status == 1


def test_person_releases_despite_disagreement_and_it_is_kept(doubtful: str, run: Run) -> None:
    words = ("--despite", "CHEM-DISAGREE", "--note", "combustion counts")
    ran = run("release", "41878", *words, *BY, "--db", doubtful)
    assert ran.status == 3
    assert "despite CHEM-DISAGREE: combustion counts" in ran.out
    (row,) = decisions(doubtful)
    assert (row["reason"], row["note"]) == ("CHEM-DISAGREE", "combustion counts")
    assert "combustion counts" in row["snapshot"]
    with open_reader(doubtful) as reader:
        kept = [r["code"] for r in reader.all("SELECT code FROM decision_finding")]
    assert "CHEM-DISAGREE" in kept


@pytest.mark.parametrize(
    "words", [("--despite", "CHEM-DISAGREE"), ("--despite", "HELD", "--note", "x"), ("--note", "combustion counts")]
)
def test_despite_takes_one_code_and_words(doubtful: str, run: Run, words: tuple[str, ...]) -> None:
    before = entries(doubtful)
    assert run("release", "41878", *words, *BY, "--db", doubtful).status == 2
    assert entries(doubtful) == before


def test_despite_does_not_lift_a_hold_nor_an_off_grade_verdict(doubtful: str, run: Run) -> None:
    words = ("--despite", "CHEM-DISAGREE", "--note", "combustion counts")
    assert run("release", "41879", *words, *BY, "--db", doubtful).status == 1
    hold(run, doubtful, "41878")
    assert run("release", "41878", *words, *BY, "--db", doubtful).status == 1


def test_piece_released_for_another_use_is_told_of_for_that_use(plant: str, run: Run) -> None:
    with begin_work(plant, by="L. Clerk", action="order", subject="4711") as work:
        make_order_line(work, 1)
        work.commit()
    run("release", "41878", *BY, "--db", plant)
    ran = run("release", "S-1", "--for", "4711/1", *BY, "--db", plant, "--json")
    assert ran.status == 3
    assert ran.data["free"] == []
    assert [h["piece_no"] for h in ran.data["held"]] == ["S-1"]
    before = entries(plant)
    again = run("release", "S-1", "--for", "4711/1", *BY, "--db", plant, "--json")
    assert again.data["decisions"] == []
    assert [a["requirement"] for a in again.data["already"]] == ["4711/1"]
    assert "STILL-UNDECIDED" in {f["code"] for f in again.json["findings"]}
    assert entries(plant) == before


def test_hold_for_one_grade_counts_the_pieces_it_lies_on(plant: str, run: Run) -> None:
    with begin_work(plant, by="L. Clerk", action="order", subject="4711") as work:
        make_order_line(work, 1)
        work.commit()
    assert hold(run, plant, "S-1", "--for", "4711/1")["pieces"] == ["S-1"]
    assert hold(run, plant, "S-1", "--for", GRADE)["pieces"] == ["S-1"]


def product_of(db: str, piece: str, chem: str) -> int:
    """A product analysis of a piece, and a product limit of carbon (at most 0.23) in its grade."""
    with begin_work(db, by="L. Clerk", action="import", subject="product") as work:
        heat, part = key(work, "heat", "41878"), key(work, "part", piece)
        sample = make_sample(work, heat, f"{piece}-P1", kind="product", part_id=part)
        analysis = make_analysis(work, sample, chem)
        for quantity, most in (("C", "0.23"), ("Mn", "1.70"), ("S", "0.035")):
            work.add(
                GradeLimit(
                    edition_id=1, row_no=90, basis="product", size_band_mm="all", quantity=quantity, max_text=most,
                    unit="mass %", rounding="rounding", report=0, source="made for a test", status="works",
                )
            )  # fmt: skip
        work.commit()
    return analysis


def test_heat_release_does_not_free_a_piece_whose_own_product_analysis_fails(plant: str, run: Run) -> None:
    """Carbon 0.30 is above 0.23."""
    number = product_of(plant, "S-1", "C=0.30 Mn=1.44 S=0.008")
    ran = run("release", "41878", *BY, "--db", plant, "--json")
    assert ran.data["free"] == []
    because = {h["piece_no"]: h["because"] for h in ran.data["held"]}
    assert f"product analysis A-{number} fails for {GRADE}" in because["S-1"]
    listed = run("piece", "list", "--db", plant, "--json").data["pieces"]
    assert {p["piece_no"]: p["quality"] for p in listed}["S-1"] == "undecided"
    assert f"product analysis A-{number} fails" in run("why", "S-1", "--db", plant).out
    assert run("release", "S-1", *BY, "--db", plant).status == 1


def test_failing_product_analysis_bars_another_use_of_the_piece_too(plant: str, run: Run) -> None:
    with begin_work(plant, by="L. Clerk", action="order", subject="4711") as work:
        make_order_line(work, 1)
        work.commit()
    product_of(plant, "S-1", "C=0.30 Mn=1.44 S=0.008")
    ran = run("release", "S-1", "--for", "4711/1", *BY, "--db", plant, "--json")
    assert ran.status == 1
    assert "CHEM-HIGH" in {f["code"] for f in ran.json["findings"]}


def test_sound_product_analysis_leaves_its_piece_free(plant: str, run: Run) -> None:
    product_of(plant, "S-1", "C=0.18 Mn=1.44 S=0.008")
    assert run("release", "41878", *BY, "--db", plant, "--json").data["free"] == ["S-1"]


def test_product_analysis_set_aside_says_nothing(plant: str, run: Run) -> None:
    number = product_of(plant, "S-1", "C=0.30 Mn=1.44 S=0.008")
    with begin_work(plant, by="L. Clerk", action="import", subject="settle") as work:
        set_aside(work, number)
        work.commit()
    assert run("release", "41878", *BY, "--db", plant, "--json").data["free"] == ["S-1"]
