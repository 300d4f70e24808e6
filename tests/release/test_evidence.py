"""What an analysis is evidence of: pieces it speaks for, and imports that holds were lifted on."""

from __future__ import annotations

import pytest

from heattrace.schema.intake import Batch, BatchCount
from heattrace.store.engine import open_reader
from heattrace.store.work import begin_work
from tests.conftest import Run
from tests.make import make_analysis, make_sample
from tests.release.test_new_decisions import key
from tests.release.test_release import BY, hold


def state(db: str) -> str:
    with open_reader(db) as reader:
        return str(reader.scalar("SELECT state FROM hold_event ORDER BY hold_event_id DESC LIMIT 1"))


def later_analysis(db: str, heat: str | None, piece: str | None = None) -> str:
    with begin_work(db, by="L. Clerk", action="import", subject="late") as work:
        heat_id = None if heat is None else key(work, "heat", heat)
        part = None if piece is None else key(work, "part", piece)
        kind = "tundish-steady" if piece is None else "product"
        sample = make_sample(work, heat_id, f"{heat}{piece}-L", kind=kind, part_id=part)
        analysis = make_analysis(work, sample, "C=0.18 Mn=1.44")
        work.commit()
    return f"A-{analysis}"


def test_analysis_of_one_heat_lifts_no_hold_on_a_piece_of_another(plant: str, run: Run) -> None:
    """S-1 is all 41878, S-4 all 41879; S-3 holds both."""
    placed = hold(run, plant, "S-1", "S-4", lift_on="analysis:C", reason="CHEM-HIGH")
    of_one = later_analysis(plant, "41878")
    ran = run("lift", placed["hold_no"], "--evidence", of_one, *BY, "--db", plant)
    assert ran.status == 1
    assert "its heat is not in S-4" in ran.err
    assert state(plant) == "placed"


def test_analysis_of_a_heat_all_held_pieces_contain_lifts_the_hold(plant: str, run: Run) -> None:
    placed = hold(run, plant, "S-1", "S-3", lift_on="analysis:C", reason="CHEM-HIGH")
    assert run("lift", placed["hold_no"], "--evidence", later_analysis(plant, "41878"), *BY, "--db", plant).status == 0


def test_product_analyses_together_speak_for_the_pieces_they_were_cut_from(plant: str, run: Run) -> None:
    placed = hold(run, plant, "S-1", "S-4", lift_on="analysis:C", reason="CHEM-HIGH")
    first, second = later_analysis(plant, "41878", "S-1"), later_analysis(plant, "41879", "S-4")
    alone = run("lift", placed["hold_no"], "--evidence", first, *BY, "--db", plant)
    assert alone.status == 1
    assert "nothing is said of S-4" in alone.err
    words = ("--evidence", first, "--evidence", second)
    ran = run("lift", placed["hold_no"], *words, *BY, "--db", plant, "--json")
    assert ran.status == 0, ran.err
    assert ran.data["evidence"] == {"analysis:C": f"{first}, {second}"}


def test_product_analysis_of_one_piece_says_nothing_of_its_neighbour(plant: str, run: Run) -> None:
    placed = hold(run, plant, "S-1", lift_on="analysis:C", reason="CHEM-HIGH")
    neighbour = later_analysis(plant, "41878", "S-2")
    ran = run("lift", placed["hold_no"], "--evidence", neighbour, *BY, "--db", plant)
    assert ran.status == 1
    assert "another heat or piece" in ran.err


@pytest.mark.parametrize(("cited", "status"), [(True, 1), (False, 0)])
def test_import_a_hold_was_lifted_on_is_not_undone(plant: str, run: Run, cited: bool, status: int) -> None:
    placed = hold(run, plant, "41878", lift_on="analysis:C", reason="CHEM-HIGH")
    with begin_work(plant, by="L. Clerk", action="import", subject="late.csv") as work:
        batch = work.add(
            Batch(file="late.csv", sha256="0" * 64, profile="lab-wide", profile_edition=0, kind="analyses", at=0)
        )
        counts = dict.fromkeys(("rows_read", "rows_taken", "rows_same", "rows_contested", "rows_bench"), 0)
        work.add(BatchCount(batch_id=batch, state="taken", slip="{}", **counts))
        sample = make_sample(work, key(work, "heat", "41878"), "41878-T9", batch_id=batch)
        analysis = make_analysis(work, sample, "C=0.18 Mn=1.44", batch_id=batch)
        work.commit()
    if cited:
        assert run("lift", placed["hold_no"], "--evidence", f"A-{analysis}", *BY, "--db", plant).status == 0
    ran = run("batch", "undo", f"I-{batch}", *BY, "--db", plant, "--json")
    assert ran.status == status, ran.err
    if cited:
        (finding,) = ran.json["findings"]
        assert finding["subject"] == placed["hold_no"]
        assert f"A-{analysis}" in finding["seen"]
