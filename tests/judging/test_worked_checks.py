"""Published limits, worked by hand, and certified materials."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from heattrace.judging.judge import judge, judge_determinations
from heattrace.judging.judgement import Judged, Judgement
from heattrace.metallurgy.amount import read_chem
from tests.judging.books import cases, requirement_of_case


def judged(case: dict[str, Any]) -> Judgement:
    chem = case["chem"] if isinstance(case["chem"], list) else [case["chem"]]
    return judge_determinations(
        [read_chem(text) for text in chem], requirement_of_case(case), basis=case.get("basis", "cast")
    )


def line_of(judgement: Judgement, wanted: dict[str, str]) -> Judged:
    found = [
        line
        for line in judgement.limits
        if line.quantity == wanted["quantity"]
        and line.sense == wanted["sense"]
        and line.alternative == wanted.get("alternative")
    ]
    assert len(found) == 1, found
    return found[0]


@pytest.mark.parametrize("case", cases("worked"), ids=lambda case: case["name"])
def test_worked_check_comes_out_as_by_hand(case: dict[str, Any]) -> None:
    judgement = judged(case)
    for wanted in case.get("expect", []):
        line = line_of(judgement, wanted)
        assert line.verdict == wanted["verdict"]
        for name in ("limit", "rounded", "method"):
            if name in wanted:
                assert getattr(line, name) == wanted[name]
        if "margin" in wanted:
            assert line.margin == Fraction(wanted["margin"])
    if "verdict" in case:
        assert judgement.verdict == case["verdict"]
    if case.get("others_pass"):
        named = [line_of(judgement, wanted) for wanted in case["expect"]]
        assert {line.verdict for line in judgement.limits if line not in named} == {"pass"}
    present = {f"{line.quantity} {line.sense}" for line in judgement.limits}
    assert present.isdisjoint(case.get("absent", []))


@pytest.mark.parametrize("case", cases("certified"), ids=lambda case: case["name"])
def test_certified_material_against_published_limits(case: dict[str, Any]) -> None:
    judgement = judge(read_chem(case["chem"]), requirement_of_case(case))
    assert judgement.verdict == case["verdict"]
    assert len({line.quantity for line in judgement.limits}) == case["count"]
    margins = {f"{line.quantity} {line.sense}": line.margin for line in judgement.limits}
    for name, margin in case.get("margins", {}).items():
        assert margins[name] == Fraction(margin)


def test_a_limit_moved_by_two_clauses_is_judged_from_left_to_right() -> None:
    """S355J2 bar with sulphide treatment: 0.025 + 0.005 + 0.015 = 0.045 (EN 10025-2 Table 2, footnotes d and e)."""
    case = {
        "grade": "EN 10025-2:2004 S355J2",
        "form": "bar",
        "options": ["machinability"],
        "evidence": ["sulphide-treatment"],
    }
    line = line_of(judge(read_chem("S=0.044 Ca=0.0022"), requirement_of_case(case)), {"quantity": "S", "sense": "max"})
    assert (line.limit, line.verdict, line.margin) == ("0.045", "pass", Fraction("0.001"))


def test_copper_ordered_brings_in_a_minimum_the_row_does_not_print() -> None:
    """EN 10025-2 option: copper 0.25 to 0.40 when ordered."""
    case = {"grade": "EN 10025-2:2004 S355J2", "options": ["copper"]}
    judgement = judge(read_chem("Cu=0.20"), requirement_of_case(case))
    assert line_of(judgement, {"quantity": "Cu", "sense": "min"}).verdict == "fail"
    assert line_of(judgement, {"quantity": "Cu", "sense": "max"}).limit == "0.40"
