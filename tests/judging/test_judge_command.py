"""`heattrace judge` and `heattrace grade` without a database."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import Run

GOOD = "C=0.45 Si=0.25 Mn=0.65 P=0.012 S=0.010 Cr=0.20 Mo=0.05 Ni=0.20"
C45E = "EN 10083-2:2006 C45E"


@pytest.fixture(autouse=True)
def in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_steel_that_meets_its_grade_ends_with_zero(run: Run) -> None:
    answer = run("judge", "--grade", C45E, "--chem", GOOD)
    assert answer.status == 0
    assert "MEETS" in answer.out.splitlines()[0]
    assert "the decision is the authorised person's" in answer.err
    assert "the grade book shipped with the tool" in answer.err


def test_steel_that_fails_or_stays_undecided_ends_with_three(run: Run) -> None:
    fails = run("judge", "--grade", C45E, "--chem", GOOD.replace("Ni=0.20", "Ni=0.40"), "--json")
    assert fails.status == 3
    assert fails.json["status"] == "attention"
    assert fails.data["verdict"] == "fails"
    assert [finding["code"] for finding in fails.json["findings"]] == ["CHEM-HIGH"]
    undecided = run("judge", "--grade", C45E, "--chem", GOOD.replace("Ni=0.20", ""), "--json")
    assert undecided.status == 3
    assert undecided.data["verdict"] == "undecided"
    assert undecided.data["missing"] == ["Ni"]


def test_the_json_has_the_promised_keys_and_numbers(run: Run) -> None:
    chem = "C=0.19 Mn=1.45 Si=0.25 P=0.015 S=0.008 Cu=0.15 Ni=0.08 Cr=0.06 Mo=0.01 V=0.00 Al=0.030 N=0.008"
    answer = run("judge", "--grade", "S355J2", "--size", "20", "--json", "--chem", chem)
    assert answer.data["grade"] == "EN 10025-2:2004 S355J2"
    assert answer.data["edition"] == "2004"
    assert answer.data["size_mm"] == "20"
    assert answer.data["cev"] == {"formula": "cev", "value": 0.461, "low": 0.461, "high": 0.461}
    cev = next(limit for limit in answer.data["limits"] if limit["quantity"] == "cev")
    assert (cev["limit"], cev["rounded"], cev["value"], cev["margin"], cev["verdict"]) == (
        "0.45", "0.46", 0.461, -0.011, "fail",
    )  # fmt: skip
    assert cev["status"] == "verified"


def test_words_and_json_say_the_same(run: Run) -> None:
    words = ("judge", "--grade", C45E, "--chem", GOOD.replace("Ni=0.20", "Ni=0.40"))
    screen, data = run(*words).out, run(*words, "--json").data
    table = [line for line in screen.splitlines() if " max " in line or " min " in line]
    assert len(table) == len(data["limits"])
    for line, limit in zip(table, data["limits"], strict=True):
        assert limit["quantity"] in line
        assert f"{limit['sense']} {limit['limit']}" in line
        assert limit["verdict"].upper() in line.upper()


def test_limits_from_memory_are_marked(run: Run) -> None:
    answer = run("judge", "--grade", "S355J2", "--size", "50", "--chem", "C=0.10")
    assert "MEMORY" in answer.out
    assert "from memory and are marked so" in answer.err


def test_options_of_the_order_reach_the_conditions(run: Run) -> None:
    chem = "C=0.18 Mn=1.29 Si=0.020 Cu=0.10 Ni=0.05 Cr=0.05 Mo=0.01 V=0.00"
    words = ("judge", "--grade", "S275J2", "--size", "20", "--chem", chem, "--json")

    def limit_of_cev(*more: str) -> str:
        limits = run(*words, *more).data["limits"]
        return str(next(limit["limit"] for limit in limits if limit["quantity"] == "cev"))

    assert limit_of_cev() == "0.40"
    assert limit_of_cev("--option", "silicon-control") == "0.42"
    assert limit_of_cev("--option", "silicon-control; copper") == "0.44"


def test_several_determinations_are_judged_together(run: Run) -> None:
    answer = run("judge", "--grade", C45E, "--chem", GOOD, "--chem", "C=0.52", "--json")
    assert answer.data["verdict"] == "fails"
    assert answer.data["both_ways"] == "not-in-force"
    assert answer.data["missing"] == []


def test_an_ambiguous_grade_lists_the_choices(run: Run) -> None:
    answer = run("judge", "--grade", "51CrV4", "--chem", GOOD)
    assert answer.status == 1
    assert "EN 10089:2002 51CrV4" in answer.err
    assert answer.out == ""


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--grade", C45E), "--chem"),
        (("--chem", GOOD), "--grade"),
        (("--grade", C45E, "--chem", "C=0,45"), '"45" is not of the form ELEMENT=CONTENT'),
        (("--grade", C45E, "--chem", "C=O.45"), 'was "0.45" meant?'),
        (("--grade", C45E, "--chem", " "), "empty"),
        (("--grade", C45E, "--chem", GOOD, "--size", "thick"), "--size"),
        (("--grade", C45E, "--chem", GOOD, "--size", "0"), "not above zero"),
        (("--grade", C45E, "--chem", GOOD, "--form", "tube"), "--form"),
        (("--grade", C45E, "--chem", GOOD, "--rounding", "half-up"), "--rounding"),
        (("--grade", C45E, "--chem", GOOD, "--basis", "ladle"), "--basis"),
    ],
)
def test_wrong_words_end_with_two_and_say_which(run: Run, words: tuple[str, ...], said: str) -> None:
    answer = run("judge", *words)
    assert answer.status == 2
    assert said in answer.err


def test_a_named_database_that_is_not_there_is_refused(run: Run) -> None:
    answer = run("judge", "--grade", C45E, "--chem", GOOD, "--db", "nowhere.db")
    assert answer.status == 1
    assert "nowhere.db" in answer.err


def test_a_record_without_the_grade_falls_back_to_the_shipped_book_and_says_so(run: Run, store: str) -> None:
    answer = run("judge", "--grade", C45E, "--chem", GOOD, "--db", store)
    assert answer.status == 0
    assert "has no such grade" in answer.err
    assert "PRACTICE" in answer.err


def test_grade_list_shows_every_shipped_grade(run: Run) -> None:
    answer = run("grade", "list", "--json")
    assert answer.status == 0
    assert len(answer.data["grades"]) == 66
    assert "EN 10025-2:2004 S355J2" in [grade["grade"] for grade in answer.data["grades"]]
    assert len(run("grade", "list").out.splitlines()) == 68


def test_grade_show_prints_limits_conditions_sources_and_status(run: Run) -> None:
    answer = run("grade", "show", "S355J2")
    assert answer.status == 0
    assert "MEMORY" in answer.out
    assert "lapses" in run("grade", "show", "S355J0").out
    assert "sources" in answer.out
    data = run("grade", "show", "S355J2", "--json").data
    assert data["grade"] == "EN 10025-2:2004 S355J2"
    carbon = next(limit for limit in data["limits"] if limit["quantity"] == "C" and limit["size_band_mm"] == "16<t<=30")
    assert (carbon["max"], carbon["min"], carbon["status"]) == ("0.20", None, "verified")


def test_grade_show_of_an_unknown_grade_names_the_nearest(run: Run) -> None:
    answer = run("grade", "show", "S355J9")
    assert answer.status == 1
    assert "S355J2" in answer.err
