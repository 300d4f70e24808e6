"""`judge` on the record and on a file: promised keys, exit status, refusals."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.record import make_works
from tests.conftest import Run

JUDGE_KEYS = {
    "subject", "grade", "edition", "basis", "size_mm", "verdict", "limits", "guard_band", "missing", "both_ways", "cev",
    "superheat",
}  # fmt: skip
LIMIT_KEYS = {
    "quantity", "sense", "limit", "reported", "value", "low", "high", "rounded", "group", "method", "margin", "verdict",
    "guarded", "note", "source", "status",
}  # fmt: skip
SUPERHEAT_KEYS = {"tundish", "read_at", "temperature_c", "liquidus_formula", "liquidus_c", "superheat_c"}

HEADER = "heat_no,sample_id,sample_kind,analysed_at,method,C,Si,Mn,P,S,N,Cu,Al,Ni,Cr,Mo,V\n"
GOOD = "41878,41878-T1,tundish-steady,2026-03-02T08:00:00+01:00,spark-emission,0.17,0.25,1.40,0.015,0.008,0.0080,0.15,"
TAIL = "0.030,0.08,0.06,0.01,0.00\n"
GRADE = ("--grade", "EN 10025-2:2004 S355J2", "--size", "20", "--form", "plate")


def test_judge_heat_gives_one_result_per_order_line_with_all_promised_keys(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("judge", "41878", "--db", works.db, "--json")
    assert (ran.status, ran.json["status"], ran.data["heat_no"]) == (3, "attention", "41878")
    results = ran.data["results"]
    assert [(r["requirement"], r["size_mm"], r["verdict"]) for r in results] == [
        ("4711/1", "20", "fails"),
        ("4711/2", "50", "meets"),
    ]
    for result in results:
        assert result.keys() >= JUDGE_KEYS
        assert all(limit.keys() >= LIMIT_KEYS for limit in result["limits"])
        assert all(entry.keys() >= SUPERHEAT_KEYS for entry in result["superheat"])
    carbon = next(limit for limit in results[0]["limits"] if limit["quantity"] == "C")
    assert (carbon["reported"], carbon["limit"], carbon["value"], carbon["margin"]) == ("0.19", "0.20", 0.19, 0.01)
    # By hand: C 0.19, Mn/6 0.241667, (Cr+Mo+V)/5 0.014 to 0.0144, (Ni+Cu)/15 0.015333.
    cev = results[0]["cev"]
    assert (cev["value"], cev["low"], cev["high"]) == (None, 0.461, 0.4614)
    (entry,) = results[0]["superheat"]
    assert (entry["temperature_c"], entry["tundish"]) == ("1548.5", "A")


def test_judge_heat_on_screen_agrees_with_json_and_says_who_decides(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("judge", "41878", "--db", works.db)
    assert ran.status == 3
    assert "41878 for 4711/1: FAILS" in ran.out
    assert "41878 for 4711/2: MEETS" in ran.out
    assert "2 MEMORY" in ran.out
    assert ran.err.startswith("PRACTICE DATABASE")
    assert "the decision is the authorised person's" in ran.err
    # Eight rows at 20 mm, and at 50 mm others for C and the carbon equivalent, the last from memory.
    assert "1 of 10 limits used here are from memory" in ran.err


def test_judge_piece_shows_head_mean_and_tail(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("judge", "S300-1-08", "--db", works.db, "--json")
    assert ran.status == 3
    assert ran.data["fit"] == {
        "requirement": "4711/1", "role": "ordered", "head": "fails", "mean": "meets", "tail": "meets",
        "verdict": "fails",
    }  # fmt: skip
    assert [r["position"] for r in ran.data["results"]] == ["head", "mean", "tail"]
    # By hand: 0.9 x 0.19 + 0.1 x 0.17 = 0.188; halves 0.18; 0.2 x 0.19 + 0.8 x 0.17 = 0.174.
    assert ran.data["composition"]["C"] == {"head": 0.188, "mean": 0.18, "tail": 0.174}
    assert run("judge", "S300-1-09", "--db", works.db).status == 0


def test_product_basis_without_product_analyses_needs_a_person(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("judge", "41878", "--basis", "product", "--db", works.db, "--json")
    assert (ran.status, ran.data["results"]) == (3, [])
    assert [f["code"] for f in ran.json["findings"]] == ["CHEM-MISSING"]


@pytest.mark.parametrize("number", ["41878'; DROP TABLE heat;--", '" OR 1=1', "%", "4187_"])
def test_number_that_looks_like_sql_is_only_a_number(store: str, run: Run, number: str) -> None:
    works = make_works(store)
    for words in (("judge", number), ("heat", "show", number), ("sample", "list", "--heat", number),
                  ("sample", "show", number), ("analysis", "show", number)):  # fmt: skip
        ran = run(*words, "--db", works.db, "--json")
        assert (ran.status, ran.json["status"], ran.data["code"]) == (1, "refused", "NOT-FOUND")
    assert len(run("heat", "list", "--db", works.db, "--json").data["heats"]) == 2


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("41878", "--grade", "S355J2"),
        ("41878", "--chem", "C=0.18"),
        ("41878", "--basis", "heat"),
        ("--grade", "S355J2"),
        ("--grade", "S355J2", "--chem", "C=0.18", "--file", "lab.csv", "--profile", "lab-wide"),
        ("--grade", "S355J2", "--file", "lab.csv"),
        ("--grade", "S355J2", "--chem", "C=0.18", "--profile", "lab-wide"),
        ("--grade", "S355J2", "--file", "lab.csv", "--profile", "cast-book"),
    ],
)
def test_forms_that_do_not_go_together_are_wrong_usage(store: str, run: Run, words: tuple[str, ...]) -> None:
    assert run("judge", *words, "--db", store).status == 2


def test_every_analysis_of_a_file_is_judged_without_a_database(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    lab = tmp_path / "lab.csv"
    second = GOOD.replace("41878", "41879").replace("0.17,", "0.22,") + TAIL
    lab.write_text(HEADER + GOOD + TAIL + second, encoding="utf-8")
    ran = run("judge", "--file", lab, "--profile", "lab-wide", *GRADE, "--json")
    assert ran.status == 3
    assert [(r["heat_no"], r["sample_id"], r["verdict"]) for r in ran.data["results"]] == [
        ("41878", "41878-T1", "meets"),
        ("41879", "41879-T1", "fails"),
    ]
    assert all(r.keys() >= JUDGE_KEYS for r in ran.data["results"])
    lab.write_text(HEADER + GOOD + TAIL, encoding="utf-8")
    assert run("judge", "--file", lab, "--profile", "lab-wide", *GRADE).status == 0
    assert list(tmp_path.iterdir()) == [lab]


def test_row_that_cannot_be_read_is_told_and_the_others_are_judged(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    lab = tmp_path / "lab.csv"
    bad = GOOD.replace("41878", "41880").replace("0.17,", "O.17,") + TAIL
    lab.write_text(HEADER + GOOD + TAIL + bad, encoding="utf-8")
    ran = run("judge", "--file", lab, "--profile", "lab-wide", *GRADE, "--json")
    assert (ran.status, [r["verdict"] for r in ran.data["results"]]) == (3, ["meets"])
    assert [f["subject"] for f in ran.json["findings"]] == ["lab.csv, row 3, column C"]
    assert "O.17" in ran.json["findings"][0]["seen"]


READING = (
    ("heat", "list"), ("heat", "show", "41878"), ("sample", "list"), ("sample", "show", "41878-T1"),
    ("analysis", "show", "41878"), ("analysis", "show", "A-1"), ("judge", "41878"), ("judge", "S300-1-08"),
    ("grade", "list"), ("grade", "show", "S355J2"),
)  # fmt: skip
HEAVY = ("sqlalchemy", "sqlmodel", "pydantic", "pandas", "numpy", "openpyxl", "alembic", "rich")


def test_reading_commands_load_nothing_heavy(store: str) -> None:
    """All of them in one process: what one would load, the whole would show."""
    works = make_works(store)
    code = (
        "import sys\nfrom heattrace.cli.app import main\n"
        f"for words in {READING!r}:\n    assert main([*words, '--db', {works.db!r}]) in (0, 3), words\n"
        f"found = [m for m in {HEAVY!r} if m in sys.modules]\n"
        "sys.stderr.write('LOADED ' + ' '.join(found) + ' schema' * ('heattrace.schema' in sys.modules))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert "LOADED" in ran.stderr, ran.stderr
    assert ran.stderr.rsplit("LOADED", 1)[1].split() == []


def test_reading_commands_end_well_and_mark_practice(store: str, run: Run) -> None:
    works = make_works(store)
    for words in READING:
        ran = run(*words, "--db", works.db)
        assert ran.status == (3 if words[0] == "judge" else 0), words
        assert "PRACTICE" in ran.err, words
        assert ran.out.strip(), words
