"""Bad inputs of rows, limits and decisions, catalogue numbers 82 to 106."""

from __future__ import annotations

from typing import Any

import pytest

from tests.bad_inputs.outcomes import (
    assert_all_taken,
    assert_benched,
    assert_command_no,
    assert_unchanged,
    assert_whole,
    plain,
)
from tests.bad_inputs.practice_works import CLERK, GRADE, METALLURGIST, PracticeWorks, lines, wide_row

HOLD = ("--note", "seen on the bed", "--by", METALLURGIST, "--json")


def limit_of(works: PracticeWorks, heat: str, quantity: str) -> dict[str, Any]:
    """The line of one quantity in the judgement of a heat."""
    limits = works.run("judge", heat, "--json").data["results"][0]["limits"]
    (line,) = [each for each in limits if each["quantity"] == quantity]
    return line  # type: ignore[no-any-return]


def qualities(works: PracticeWorks) -> dict[str, str]:
    return {p["piece_no"]: p["quality"] for p in works.run("piece", "list", "--json").data["pieces"]}


def analysed(works: PracticeWorks) -> PracticeWorks:
    """Both heats of K7 with analyses that meet the grade, entered by the clerk."""
    assert_all_taken(works.bring_wide(wide_row("41877", "41877-T1"), wide_row("41878", "41878-T1")), 2)
    return works


def test_a_row_without_any_content_is_benched(works: PracticeWorks) -> None:
    """Bad input 82: all elements missing, only the number present."""
    bad = ",".join([*wide_row(sample="T2").split(",")[:7], *[""] * 12])
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column=None, code="ROW60", value="T2", raw=bad, wanted="a content of any element")


BOOK = (
    "standard,edition,grade,basis,size_band_mm,quantity,min,max,unit,rounding,round_to,when,report,valid_from,"
    "valid_until,extends,family,source,status"
)


def limit_row(quantity: str = "C", low: str = "", high: str = "0.20", unit: str = "mass %", when: str = "",
              band: str = "all", grade: str = "N1") -> str:  # fmt: skip
    about = f"WORKS NORTH,2024,{grade},cast,{band},{quantity},{low},{high},{unit}"
    return f"{about},rounding,,{when},no,,,,,works sheet 7,memory"


@pytest.mark.parametrize(
    "bad",
    [
        limit_row(low="0.30"),
        limit_row(unit=""),
        limit_row(unit="pounds"),
        limit_row(quantity="Xx"),
        limit_row(quantity="Cr+Xx"),
        limit_row(quantity="Mn/0"),
        limit_row(high="0.2O"),
        limit_row(band="30<t<=16"),
        limit_row(when="applies if Xx > 0.1"),
        limit_row(when="max + 0.01 per 0 C below 0.25"),
    ],
    ids=[
        "min over max", "no unit", "unknown unit", "unknown element", "unknown element in a sum", "division by zero",
        "no number", "band upside down", "unknown element in a condition", "steps of zero",
    ],
)  # fmt: skip
def test_a_limit_that_makes_no_sense_refuses_the_whole_grade_book(works: PracticeWorks, bad: str) -> None:
    """Bad input 85: one bad row refuses a whole grade book."""
    before = works.state()
    path = works.write("book.csv", lines(BOOK, limit_row(quantity="Mn", high="1.60"), bad))
    for more in (("--json",), ()):
        ran = works.run("import", path, "--profile", "grade-book", "--by", CLERK, *more)
        assert ran.status == 1, plain(ran)
        assert "row 3" in plain(ran)
        assert "Nothing of the file was taken." in plain(ran)
    findings = works.run("import", path, "--profile", "grade-book", "--by", CLERK, "--json").json["findings"]
    assert all(f["subject"].startswith("book.csv, ") and ", row 3" in f["subject"] for f in findings), findings
    for finding in findings:
        assert_whole(finding)
    assert_unchanged(works, before)
    assert works.run("grade", "show", "WORKS NORTH:2024 N1").status == 1


def test_a_row_with_neither_minimum_nor_maximum_is_taken_as_no_limit_printed(works: PracticeWorks) -> None:
    """Bad input 85, "empty sense": such a row only says that the quantity is named, or has to be reported."""
    asked = limit_row(quantity="Cu", high="").replace(",no,", ",yes,")
    ran = works.bring("book.csv", lines(BOOK, limit_row(), limit_row(quantity="Ni", high=""), asked), "grade-book")
    assert_all_taken(ran, 3)
    judged = works.run("judge", "--grade", "WORKS NORTH:2024 N1", "--chem", "C=0.18", "--json").data
    assert judged["verdict"] == "undecided"
    assert judged["missing"] == ["Cu"]


def test_a_formula_with_a_member_below_its_limit_is_undecided_between_two_bounds(works: PracticeWorks) -> None:
    """Bad input 92: no silent zero."""
    works.bring_wide(wide_row().replace(",0.05,0.01,", ",<0.2,0.01,"))
    line = limit_of(works, "41878", "cev")
    assert (line["limit"], line["verdict"], line["value"]) == ("0.45", "undecided", None)
    # IIW: C + Mn/6 + (Cr+Mo+V)/5 + (Ni+Cu)/15 = 0.182 + 0.24 + (0 to 0.2 + 0.012)/5 + 0.13/15
    assert line["low"] == pytest.approx(0.4330666667, abs=1e-9)
    assert line["high"] == pytest.approx(0.4730666667, abs=1e-9)
    typed = works.run("judge", "41878")
    assert typed.status == 3
    assert "UNDECIDED" in typed.out


@pytest.mark.parametrize(
    ("carbon", "rounded", "verdict"),
    [
        ("0.20", "0.20", "pass"),
        ("0.2049", "0.20", "pass"),
        ("0.205", "0.20", "pass"),
        ("0.2051", "0.21", "fail"),
        ("0.215", "0.22", "fail"),
        ("0.2000000001", "0.20", "pass"),
    ],
)
def test_a_value_at_the_limit_is_judged_by_the_stated_rounding_with_both_numbers_shown(
    works: PracticeWorks, carbon: str, rounded: str, verdict: str
) -> None:
    """Bad input 93: ASTM E29 rounding method: to the last place of the limit 0.20, an exact half to the even digit."""
    works.bring_wide(wide_row(c=carbon))
    line = limit_of(works, "41878", "C")
    assert (line["limit"], line["method"]) == ("0.20", "rounding")
    assert (line["reported"], line["rounded"], line["verdict"]) == (carbon, rounded, verdict)
    shown = [text.split() for text in works.run("judge", "41878").out.splitlines()]
    (row,) = [words for words in shown if "C" in words[:2] and "max" in words[:3]]
    assert carbon in row
    assert rounded in row


def test_an_absolute_limit_takes_no_rounding(works: PracticeWorks) -> None:
    """Bad input 93: the same value by the absolute method."""
    for rounding, status in ((("--rounding", "absolute"), 3), ((), 3)):
        ran = works.run("judge", "--grade", GRADE, "--size", "28", "--chem", "C=0.2049", *rounding, "--json")
        assert ran.status == status
        (line,) = [each for each in ran.data["limits"] if each["quantity"] == "C"]
        assert (line["method"], line["verdict"]) == (("absolute", "fail") if rounding else ("rounding", "pass"))


def test_a_release_names_every_thing_that_stands_against_it_and_changes_nothing(works: PracticeWorks) -> None:
    """Bad input 94: two open holds, an element never reported, the same person."""
    works.bring_wide(wide_row("41878").replace(",0.04,0.09,", ",0.04,,"))
    for reason in ("LEVEL", "CRACK-LONG"):
        placed = works.run("hold", "41878", "--reason", reason, "--lift-on", "document", *HOLD)
        assert placed.status == 0, plain(placed)
    before = works.state()
    ran = works.run("release", "41878", "--by", CLERK, "--json")
    assert ran.status == 1
    assert ran.json["status"] == "refused"
    found = ran.json["findings"]
    for finding in found:
        assert_whole(finding)
    assert [f["code"] for f in found].count("HELD") == 2
    assert {"CHEM-MISSING", "SAME-PERSON"} <= {f["code"] for f in found}
    named = " ".join(f["seen"] + f["subject"] for f in found if f["code"] == "CHEM-MISSING")
    assert "Cu" in named
    assert all(f"H-{n}" in str(found) for n in (1, 2))
    assert_unchanged(works, before)
    assert_command_no(works, "release", "41878", "--by", CLERK, says=("H-1", "H-2", "Cu", CLERK))


def test_who_entered_the_result_does_not_release_on_it_and_another_may(works: PracticeWorks) -> None:
    """Bad input 94: the same person."""
    analysed(works)
    assert_command_no(works, "release", "41878", "--by", CLERK.upper(), says=("entered by",))
    done = works.run("release", "41877", "--by", METALLURGIST, "--json")
    assert done.data["free"] == [f"K7-{n:02d}" for n in range(1, 7)], done.out


def test_a_held_heat_is_undecided_when_its_hold_is_lifted_never_released(works: PracticeWorks) -> None:
    """Bad input 94: held never goes straight to released."""
    analysed(works)
    works.run("hold", "41878", "--reason", "LEVEL", "--lift-on", "document", *HOLD)
    assert_command_no(works, "release", "41878", "--by", METALLURGIST, says=("H-1", "heattrace lift H-1"))
    lifted = works.run("lift", "H-1", "--evidence", "document:QN-17", "--by", METALLURGIST)
    assert lifted.status == 0, plain(lifted)
    assert qualities(works)["K7-13"] == "undecided"


def test_an_off_grade_heat_is_not_released(works: PracticeWorks) -> None:
    """Bad input 94: carbon above its limit."""
    works.bring_wide(wide_row(c="0.232"))
    assert_command_no(works, "release", "41878", "--by", METALLURGIST, says=("0.232", "0.20"))


def test_the_release_of_a_heat_leaves_piece_holds_where_they_are_and_lists_them(works: PracticeWorks) -> None:
    """Bad input 95."""
    analysed(works)
    for piece in ("K7-02", "K7-04"):
        placed = works.run("hold", piece, "--reason", "CRACK-LONG", "--lift-on", "inspection:etch", *HOLD)
        assert placed.status == 0, plain(placed)
    ran = works.run("release", "41877", "--by", METALLURGIST, "--json")
    assert ran.status == 3
    assert ran.json["status"] == "attention"
    because = {h["piece_no"]: h["because"] for h in ran.data["held"]}
    assert ("H-1" in because["K7-02"], "H-2" in because["K7-04"]) == (True, True)
    assert ran.data["free"] == ["K7-01", "K7-03", "K7-05", "K7-06"]
    # 41877 stands in six transition pieces with at least 1 %
    assert ran.data["transition"] == [f"K7-{n:02d}" for n in range(7, 13)]
    now = qualities(works)
    assert (now["K7-01"], now["K7-02"], now["K7-04"], now["K7-07"]) == ("released", "held", "held", "undecided")
    states = {h["hold_no"]: h["state"] for h in works.run("holds", "--json").data["holds"]}
    assert states == {"H-1": "placed", "H-2": "placed"}
    typed = works.run("release", "41877", "--by", METALLURGIST)
    assert "K7-02" in typed.out
    assert "H-1" in typed.out


def test_a_hold_is_not_lifted_without_its_evidence_or_on_that_of_another_piece(works: PracticeWorks) -> None:
    """Bad input 96."""
    analysed(works)
    works.run("hold", "K7-02", "--reason", "CRACK-LONG", "--lift-on", "inspection:etch", *HOLD)
    works.run("hold", "41878", "--reason", "CHEM-HIGH", "--lift-on", "analysis:C", *HOLD)
    etched = "K7-05,etch,2020,S2,1,I. Reader"
    taken = works.bring("etch.csv", lines("piece_no,scheme,edition,item,rating,read_by", etched), "inspections")
    assert taken.status == 0, taken.out
    lift = ("--by", METALLURGIST)
    assert_command_no(works, "lift", "H-1", "--evidence", "inspection:1", *lift, says=("another piece",))
    assert_command_no(works, "lift", "H-1", "--evidence", "document:QN-1", *lift, says=("inspection",))
    assert_command_no(works, "lift", "H-2", "--evidence", "A-1", *lift, says=("another heat",))
    assert_command_no(works, "lift", "H-2", "--evidence", "A-2", *lift, says=("entered before the hold",))
    assert_command_no(works, "lift", "H-2", "--evidence", "A-99", *lift, says=("no such analysis",))


def test_a_number_that_no_piece_bears_lists_the_nearest_and_picks_none(works: PracticeWorks) -> None:
    """Bad input 105: misread, swapped, half read, and a number like nothing here."""
    for typed, first in (("K7-O5", "K7-05"), ("K7-50", "K7-05"), ("41887", "41878")):
        ran = assert_command_no(works, "trace", typed, says=(first,))
        assert ran.out == ""
        found = works.run("trace", typed, "--json").json["findings"]
        assert found, typed
        assert first in found[0]["subject"] + found[0]["seen"] + found[0]["wanted"], found
    assert_command_no(works, "trace", "PAINT-ONLY-77", says=("PAINT-ONLY-77",))


def test_a_customer_s_own_number_on_several_pieces_lists_them_all(works: PracticeWorks) -> None:
    """Bad input 105: a customer's number that two pieces bear, and one that a single piece bears."""
    names = (("K7-01", "BAR-1", "Harrow Forge"), ("K7-02", "BAR-1", "Other Mill"), ("K7-03", "BAR-3", "Harrow Forge"))
    rows = [f"{','.join(name)},2024-05-02" for name in names]
    taken = works.bring("names.csv", lines("piece_no,alias,owner,from", *rows), "aliases")
    assert taken.status == 0, taken.out
    ran = assert_command_no(works, "trace", "BAR-1", says=("K7-01", "K7-02"))
    assert ran.out == ""
    single = works.run("trace", "bar-3", "--json")
    assert single.status == 0, plain(single)
    assert single.data["piece"]["piece_no"] == "K7-03"


def test_an_unknown_grade_is_refused_with_the_nearest_and_an_ambiguous_one_with_all(works: PracticeWorks) -> None:
    """Bad input 84: grade not in the list; a short name that several standards have."""
    assert_command_no(works, "judge", "--grade", "S355J22", "--chem", "C=0.18", says=("S355J2",))
    editions = [limit_row(grade="S355J2")]
    assert_all_taken(works.bring("book.csv", lines(BOOK, *editions), "grade-book"), 1)
    assert_command_no(works, "judge", "--grade", "S355J2", "--chem", "C=0.18", says=("WORKS NORTH:2024 S355J2", GRADE))
