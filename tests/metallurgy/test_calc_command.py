"""`calc` as a person and a program use it, through the program's own door."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import pytest

from heattrace.cli.app import main
from heattrace.metallurgy.registry import FORMULAS

STEEL = "C=0.16 Mn=0.90 Cr=0.05 Mo=0.02 V=0.01 Ni=0.05 Cu=0.10"
TP_03 = "C=0.10;Si=0.20;Mn=0.50;P=0.010;S=0.005;Cr=0.30;Ni=0.10;Mo=0.05"


def ask(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(["calc", *argv])
    said = capsys.readouterr()
    return status, said.out, said.err


def ask_json(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, dict[str, Any]]:
    status, out, _ = ask(capsys, *argv, "--json")
    return status, json.loads(out)


def test_worked_example_is_given_in_words_and_in_json(capsys: pytest.CaptureFixture[str]) -> None:
    # CE-01, web copy carbon equivalent page: 0.16 + 0.15 + 0.016 + 0.010 = 0.336.
    status, out, err = ask(capsys, "cev", "--chem", STEEL)
    assert (status, err) == (0, "")
    assert out.splitlines()[0] == "carbon equivalent CEV, IIW form: 0.336 mass %"
    status, answer = ask_json(capsys, "cev", "--chem", STEEL)
    assert status == 0
    assert (answer["heattrace"], answer["command"], answer["status"]) == (1, "calc cev", "done")
    assert answer["findings"] == answer["messages"] == []
    data = answer["data"]
    assert (data["formula"], data["value"], data["low"], data["high"], data["unit"]) == (
        "cev", 0.336, 0.336, 0.336, "mass %",
    )  # fmt: skip
    assert data["used"] == dict(pair.split("=") for pair in STEEL.split())
    assert data["absent"] == data["outside_range"] == []
    assert data["status"] == "verified" and data["source"]


def test_list_has_the_promised_keys_of_every_formula(capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = ask_json(capsys, "list")
    formulas = answer["data"]["formulas"]
    assert status == 0 and answer["command"] == "calc list"
    assert [f["formula"] for f in formulas] == list(FORMULAS)
    assert {
        "cev", "cet", "pcm", "cen", "ce-aws-d1-1", "ce-a706", "mn-s", "sum", "superheat", "liquidus-principles-1994",
        "liquidus-handbook-1990-carbon",
    } <= {f["formula"] for f in formulas}  # fmt: skip
    promised = {"formula", "title", "expression", "unit", "needs", "optional", "range", "source", "status"}
    assert all(set(f) == promised for f in formulas)
    _, out, _ = ask(capsys, "list")
    assert all(f"\n{name}" in out for name in FORMULAS)


def test_absent_elements_end_with_one_and_all_are_named(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = ask(capsys, "cev", "--chem", "C=0.26,Mn=1.00,Cr=0.04,Mo=0.01")
    assert (status, out) == (1, "")
    assert "V, Ni, Cu" in err and "--absent zero" in err
    status, answer = ask_json(capsys, "cev", "--chem", "C=0.26 Mn=1.00 Cr=0.04 Mo=0.01")
    assert (status, answer["status"], answer["data"]["code"]) == (1, "refused", "FORMULA")
    status, answer = ask_json(capsys, "cev", "--chem", "C=0.26 Mn=1.00 Cr=0.04 Mo=0.01", "--absent", "zero")
    assert (status, answer["data"]["absent"]) == (0, ["V", "Ni", "Cu"])


def test_content_outside_the_range_is_a_finding_beside_the_number(capsys: pytest.CaptureFixture[str]) -> None:
    chem = "C=0.26 Mn=1.00 Cr=0.04 Mo=0.01 V=0 Ni=0 Cu=0"
    status, answer = ask_json(capsys, "cev", "--chem", chem)
    assert (status, answer["status"]) == (0, "done")
    assert answer["data"]["outside_range"] == [{"element": "C", "seen": "0.26", "range": "0.05 to 0.25"}]
    assert [(f["code"], f["subject"], f["seen"]) for f in answer["findings"]] == [("FORMULA-RANGE", "cev, C", "0.26")]
    _, out, err = ask(capsys, "cev", "--chem", chem)
    # By hand 0.26 + 1/6 + 0.05/5, endless, so the words say that they are rounded.
    assert "0.436667 (rounded)" in out and "expected 0.05 to 0.25" in err


def test_bounds_are_said_where_a_content_is_below_its_limit(capsys: pytest.CaptureFixture[str]) -> None:
    # By hand: 0.336 with Mo 0.02 (CE-01); without it 0.02/5 = 0.004 less.
    chem = STEEL.replace("Mo=0.02", "Mo=<0.02")
    status, answer = ask_json(capsys, "cev", "--chem", chem)
    data = answer["data"]
    assert (status, data["value"], data["low"], data["high"]) == (0, None, 0.332, 0.336)
    assert data["used"]["Mo"] == "<0.02"
    assert "between 0.332 and 0.336 mass %" in ask(capsys, "cev", "--chem", chem)[1]
    assert "at least 225, open above" in ask(capsys, "mn-s", "--chem", "Mn=0.45 S=<0.002")[1]
    open_below = ask(capsys, "ce-a706", "--chem", "C=0.30 Mn=0.60 Cu=0 Ni=0 Cr=0 Mo=>0.1 V=0")[1]
    assert "at most 0.398 mass %, open below" in open_below


def test_superheat_names_its_liquidus(capsys: pytest.CaptureFixture[str]) -> None:
    # TP-13: 1548 - 1522.725 = 25.275.
    argv = ["superheat", "--chem", TP_03, "--absent", "zero", "--temperature-c", "1548"]
    status, answer = ask_json(capsys, *argv, "--liquidus", "liquidus-principles-1994")
    assert (status, answer["data"]["value"], answer["data"]["unit"]) == (0, 25.275, "degree C")
    assert "liquidus-principles-1994" in answer["data"]["title"]
    assert answer["data"]["absent"] == ["Cu", "V"]
    status, _, err = ask(capsys, *argv)
    assert status == 2 and "--liquidus FORMULA" in err


def test_no_superheat_outside_the_range_of_the_liquidus_and_a_person_is_asked(
    capsys: pytest.CaptureFixture[str],
) -> None:
    argv = ["superheat", "--chem", "C=0.80", "--absent", "zero", "--temperature-c", "1500"]
    status, answer = ask_json(capsys, *argv, "--liquidus", "liquidus-principles-1994")
    assert (status, answer["status"], answer["data"]["value"]) == (3, "attention", None)
    assert answer["data"]["outside_range"] == [{"element": "C", "seen": "0.80", "range": "up to 0.5"}]
    assert "no number" in ask(capsys, *argv, "--liquidus", "liquidus-principles-1994")[1]


def test_sum_of_any_members(capsys: pytest.CaptureFixture[str]) -> None:
    # Grade check 11: 0.25 + 0.06 + 0.35 = 0.66.
    status, answer = ask_json(capsys, "sum", "--of", "Cr+Mo+Ni", "--chem", "Cr=0.25 Mo=0.06 Ni=0.35")
    assert (status, answer["data"]["value"], answer["data"]["title"]) == (0, 0.66, "weighted sum Cr+Mo+Ni")
    # By hand: 0.20 + 10 x 0.01 = 0.30.
    assert ask_json(capsys, "sum", "--of", "Cu+10Sn", "--chem", "Cu=0.20 Sn=0.010")[1]["data"]["value"] == 0.3


@pytest.mark.parametrize(
    ("argv", "status", "said"),
    [
        (["cevv", "--chem", "C=1"], 2, "nearest: cev"),
        (["cev"], 2, "--chem"),
        (["cev", "--chem", "C=O.18"], 2, 'was "0.18" meant?'),
        (["cev", "--chem", "C=0,18"], 2, "C=0.16 Mn=0.90"),
        (["cev", "--chem", "C=0.18 C=0.19"], 2, "stands twice"),
        (["cev", "--chem", "Xx=1"], 2, "no element"),
        (["cev", "--chem", "carbon 0.18"], 2, "ELEMENT=CONTENT"),
        (["cev", "--chem", " "], 2, "--chem is empty"),
        (["cev", "--chem", STEEL, "--absent", "one"], 2, 'the word "zero"'),
        (["cev", "--chem", STEEL, "--of", "Cr"], 2, "--of"),
        (["mn-s", "--chem", "Mn=0.4 S=0.000"], 1, "reported as 0.000"),
        (["sum", "--chem", "Mn=0.4"], 2, "sum needs --of"),
        (["sum", "--chem", "Mn=0.4", "--of", "Mn+Zz"], 2, "no element"),
        (
            ["superheat", "--chem", TP_03, "--absent", "zero", "--temperature-c", "hot", "--liquidus", "x"], 2,
            "--temperature-c",
        ),
        (
            ["superheat", "--chem", TP_03, "--absent", "zero", "--temperature-c", "154", "--liquidus",
             "liquidus-principles-1994"], 1, "no temperature of liquid steel",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_computed_says_why(
    capsys: pytest.CaptureFixture[str], argv: list[str], status: int, said: str
) -> None:
    ended, out, err = ask(capsys, *argv)
    assert (ended, out) == (status, "")
    assert said in err


@pytest.mark.parametrize("name", FORMULAS)
def test_every_formula_has_a_help_page_whose_example_runs(capsys: pytest.CaptureFixture[str], name: str) -> None:
    import shlex

    status, out, _ = ask(capsys, name, "--help")
    assert status == 0
    example = next(line.strip() for line in out.splitlines() if line.strip().startswith("heattrace calc "))
    assert FORMULAS[name].source in " ".join(out.split())
    assert main(shlex.split(example)[1:]) == 0
    capsys.readouterr()


def test_help_lists_every_formula(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = ask(capsys, "--help")
    assert status == 0 and "Example" in out
    assert all(f"  {name} " in out for name in ["list", *FORMULAS])


def test_database_named_in_front_does_no_harm(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--db", "nowhere.db", "calc", "cev", "--chem", STEEL]) == 0
    capsys.readouterr()


def test_calc_loads_none_of_the_heavy_libraries() -> None:
    code = (
        "import sys; from heattrace.cli.app import main; "
        f"status = main(['calc', 'cev', '--chem', '{STEEL}']); "
        "heavy = {'sqlalchemy', 'sqlmodel', 'pydantic', 'pandas', 'numpy', 'rich', 'openpyxl'} & set(sys.modules); "
        "sys.exit(status or (f'loaded {heavy}' if heavy else 0))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
