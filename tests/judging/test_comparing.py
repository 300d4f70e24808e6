"""One value against one limit: rounding, bounds, units, not reported."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from typing import Any

import pytest

from heattrace.judging.judge import judge, judge_determinations
from heattrace.judging.judgement import Judged
from heattrace.judging.requirement import Requirement
from heattrace.metallurgy.amount import Amount, Composition, read_amount, read_chem
from tests.judging.books import CASES, cases, grade_of, grade_of_limits, row


def only(composition: Composition, *rows: dict[str, str], rounding: str | None = None) -> Judged:
    grade = grade_of(*rows)
    judgement = judge(composition, Requirement(grade.key.text, grade, rounding=rounding))
    assert len(judgement.limits) == 1
    return judgement.limits[0]


@pytest.mark.parametrize("case", cases("rounding"), ids=lambda case: case["name"])
def test_value_meets_limit_by_the_method_of_its_row(case: dict[str, Any]) -> None:
    # The rounding rules are numbers alone: Cr has the widest plausible band, and no band is checked here.
    line = only(
        {"Cr": read_amount(case["value"])},
        row(
            quantity="Cr",
            min=case.get("min", ""),
            max=case.get("max", ""),
            unit=case.get("unit", "mass %"),
            rounding=case.get("rounding", "rounding"),
            round_to=case.get("round_to", ""),
        ),
    )
    assert line.verdict == case["verdict"]
    assert line.rounded == case.get("rounded")
    assert line.reported == case.get("reported", case["value"])


@pytest.mark.parametrize(
    ("reported", "sense", "limit", "by_rounding", "absolute"),
    tomllib.loads((CASES / "below_and_above.toml").read_text(encoding="utf-8"))["rows"],
)
def test_below_and_above_are_decided_only_where_they_can_be(
    reported: str, sense: str, limit: str, by_rounding: str, absolute: str
) -> None:
    for method, verdict in ((None, by_rounding), ("absolute", absolute)):
        line = only({"Ni": read_amount(reported)}, row(quantity="Ni", **{sense: limit}), rounding=method)
        assert line.verdict == verdict
        assert line.value is None
        assert line.margin is None
        assert line.reported == reported


def test_a_sum_with_a_bound_is_decided_only_where_both_ends_agree() -> None:
    grade = grade_of_limits([("Nb+V", "", "0.06")])
    verdicts = [judge(read_chem(f"Nb={nb} V=<0.010"), grade).limits[0].verdict for nb in ("0.040", "0.060", "0.070")]
    assert verdicts == ["pass", "undecided", "fail"]
    line = judge(read_chem("Nb=0.060 V=<0.010"), grade).limits[0]
    assert (line.value, line.low, line.high) == (None, Fraction("0.06"), Fraction("0.07"))


def test_a_ratio_with_a_divisor_below_a_bound_has_a_low_end_only() -> None:
    grade = grade_of_limits([("Mn/S", "20", "")])
    line = judge(read_chem("Mn=0.80 S=<0.002"), grade).limits[0]
    assert (line.verdict, line.low, line.high) == ("pass", Fraction(400), None)
    assert judge(read_chem("Mn=0.80 S=0"), grade).limits[0].verdict == "undecided"


def test_an_unreported_element_is_missing_and_not_zero() -> None:
    judgement = judge(read_chem("Mn=1.20"), grade_of_limits([("C", "", "0.20"), ("Mn", "", "1.60")]))
    assert judgement.verdict == "undecided"
    assert judgement.missing == ("C",)
    assert [line.verdict for line in judgement.limits] == ["not-reported", "pass"]
    assert [finding.code for finding in judgement.findings] == ["CHEM-MISSING"]


def test_not_reported_is_the_same_as_absent() -> None:
    grade = grade_of_limits([("C", "", "0.20")])
    assert judge({"C": Amount("not-reported", None, "")}, grade) == judge({}, grade)


def test_a_sum_already_over_its_limit_fails_whatever_the_missing_member_holds() -> None:
    grade = grade_of_limits([("Cr+Mo+Ni", "", "0.63")])
    judgement = judge(read_chem("Cr=0.40 Ni=0.30"), grade)
    assert judgement.verdict == "fails"
    assert judgement.missing == ("Mo",)
    assert judge(read_chem("Cr=0.20 Ni=0.30"), grade).limits[0].verdict == "not-reported"


def test_a_failing_limit_outweighs_an_undecided_one() -> None:
    grade = grade_of_limits([("C", "", "0.20"), ("N", "", "0.001")])
    assert judge(read_chem("C=0.25 N=<0.002"), grade).verdict == "fails"
    assert judge(read_chem("C=0.15 N=<0.002"), grade).verdict == "undecided"


def test_a_grade_without_limits_for_the_case_is_not_met() -> None:
    product_only = grade_of(row(basis="product", max="0.20"))
    judgement = judge(read_chem("C=0.10"), product_only)
    assert (judgement.verdict, judgement.limits) == ("undecided", ())
    assert judgement.remarks == ("C: limited in the product analysis only",)


def test_trailing_zeros_lost_at_the_limit_are_told() -> None:
    line = only(read_chem("C=0.2"), row(max="0.20"))
    assert line.verdict == "pass"
    assert "places lost" in line.note
    assert "places lost" not in only(read_chem("C=0.20"), row(max="0.20")).note
    assert "places lost" not in only(read_chem("C=0.1"), row(max="0.20")).note


def test_findings_carry_the_reason_codes() -> None:
    grade = grade_of_limits([("C", "", "0.20"), ("Mn", "1.00", ""), ("Mn/S", "20", ""), ("Si", "", "0.50")])
    judgement = judge(read_chem("C=0.25 Mn=0.50 S=0.05"), grade)
    assert [finding.code for finding in judgement.findings] == ["CHEM-HIGH", "CHEM-LOW", "CHEM-RATIO", "CHEM-MISSING"]


def test_a_refused_value_is_never_told_in_digits_that_would_pass() -> None:
    """0.461 misses 0.45 and 0.4501 misses 0.45 unrounded: each must be told with a digit above the limit."""
    carbon = grade_of(row(quantity="Nb+V", max="0.45", rounding="absolute"))
    judgement = judge(read_chem("Nb=0.25 V=0.2001"), carbon)
    assert judgement.verdict == "fails"
    assert judgement.findings[0].seen == "0.4501"


def test_of_several_determinations_the_worst_counts() -> None:
    grade = grade_of_limits([("C", "0.10", "0.20"), ("Mn", "", "1.60")])
    judgement = judge_determinations([read_chem("C=0.15 Mn=1.2"), read_chem("C=0.22")], grade)
    assert judgement.verdict == "fails"
    assert judgement.missing == ()
    verdicts = {(line.quantity, line.sense): line.verdict for line in judgement.limits}
    assert verdicts == {("C", "min"): "pass", ("C", "max"): "fail", ("Mn", "max"): "pass"}
    assert judgement.both_ways == "not-in-force"


def test_the_json_of_a_judgement_has_exactly_the_promised_keys() -> None:
    judgement = judge(read_chem("C=0.25"), grade_of_limits([("C", "", "0.20")])).as_json()
    assert list(judgement) == [
        "subject", "grade", "edition", "basis", "size_mm", "verdict", "limits", "guard_band", "missing", "both_ways",
        "cev", "superheat",
    ]  # fmt: skip
    assert list(judgement["limits"][0]) == [
        "quantity", "sense", "limit", "reported", "value", "low", "high", "rounded", "group", "method", "margin",
        "verdict", "guarded", "note", "source", "status",
    ]  # fmt: skip
    assert judgement["limits"][0]["guarded"] == "none"
    assert judgement["cev"] is None


def test_a_guard_band_that_cannot_be_computed_is_told() -> None:
    grade = grade_of_limits([("C", "", "0.20")])
    judgement = judge(read_chem("C=0.15"), Requirement("10/1", grade, guard_band="1.0"))
    assert judgement.guard_band == "1.0"
    assert any("guard band of 1.0 x U" in remark for remark in judgement.remarks)
    assert judge(read_chem("C=0.15"), Requirement("10/1", grade, guard_band="0.0")).remarks == ()


def test_limits_of_the_order_are_judged_beside_those_of_the_grade() -> None:
    grade = grade_of_limits([("C", "", "0.20")])
    extra = grade_of_limits([("C", "", "0.18"), ("Cu", "", "0.25")]).limits
    judgement = judge(read_chem("C=0.19 Cu=0.10"), Requirement("10/1", grade, order_limits=extra))
    assert [(line.quantity, line.limit, line.verdict) for line in judgement.limits] == [
        ("C", "0.20", "pass"),
        ("C", "0.18", "fail"),
        ("Cu", "0.25", "pass"),
    ]
