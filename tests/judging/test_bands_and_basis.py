"""Size bands of the ordered product, and cast against product limits."""

from __future__ import annotations

from decimal import Decimal

import pytest

from heattrace.judging.judge import judge
from heattrace.judging.limits import parse_band
from heattrace.judging.requirement import Requirement
from heattrace.metallurgy.amount import read_chem
from tests.judging.books import grade_of, row

BANDED = grade_of(
    row(size_band_mm="t<=16", max="0.17"),
    row(size_band_mm="16<t<=40", max="0.20"),
    row(size_band_mm="40<t<=100", max="0.22"),
)


def verdict(chem: str, size: str | None) -> tuple[str, str]:
    requirement = Requirement("W1", BANDED, size_mm=Decimal(size) if size else None)
    line = judge(read_chem(chem), requirement).limits[0]
    return line.limit, line.verdict


@pytest.mark.parametrize(
    ("size", "limit"), [("16", "0.17"), ("16.1", "0.20"), ("40", "0.20"), ("40.01", "0.22"), ("100", "0.22")]
)
def test_the_upper_edge_of_a_band_belongs_to_it(size: str, limit: str) -> None:
    assert verdict("C=0.15", size)[0] == limit


def test_without_a_size_the_common_verdict_of_all_bands_counts() -> None:
    assert [verdict(f"C={c}", None)[1] for c in ("0.16", "0.21", "0.25")] == ["pass", "undecided", "fail"]


def test_an_undecided_size_lists_the_bands() -> None:
    line = judge(read_chem("C=0.21"), BANDED).limits[0]
    assert line.limit == "t<=16: 0.17, 16<t<=40: 0.20, 40<t<=100: 0.22"
    assert "t<=16 fail, 16<t<=40 fail, 40<t<=100 pass" in line.note


def test_beyond_the_last_printed_band_nothing_is_decided() -> None:
    judgement = judge(read_chem("C=0.10"), Requirement("W1", BANDED, size_mm=Decimal(120)))
    assert judgement.verdict == "undecided"
    assert judgement.limits[0].verdict == "undecided"
    assert [finding.code for finding in judgement.findings] == ["CHEM-NO-LIMIT"]
    assert "no limit is printed for 120 mm thickness" in judgement.findings[0].seen


def test_a_size_between_two_bands_is_not_decided_either() -> None:
    gap = grade_of(row(size_band_mm="t<=16", max="0.17"), row(size_band_mm="40<t<=100", max="0.22"))
    assert judge(read_chem("C=0.10"), Requirement("W1", gap, size_mm=Decimal(20))).verdict == "undecided"


def test_a_limit_printed_only_for_thick_flanges_leaves_thin_ones_free_and_says_so() -> None:
    shape = grade_of(row(max="0.26"), row(size_band_mm="flange>75", quantity="Mn", min="0.85", max="1.35"))
    thin = judge(read_chem("C=0.20"), Requirement("W1", shape, flange_mm=Decimal(20)))
    assert thin.verdict == "meets"
    assert any("only for flange>75" in remark for remark in thin.remarks)
    thick = judge(read_chem("C=0.20 Mn=0.80"), Requirement("W1", shape, flange_mm=Decimal(80)))
    assert thick.verdict == "fails"


def test_a_flange_band_does_not_listen_to_the_thickness() -> None:
    shape = grade_of(
        row(size_band_mm="flange<=50", quantity="Mn", max="1.20"),
        row(size_band_mm="flange>50", quantity="Mn", max="1.40"),
    )
    judgement = judge(read_chem("Mn=1.30"), Requirement("W1", shape, size_mm=Decimal(20)))
    assert judgement.verdict == "undecided"


def test_a_row_without_limit_passes_beside_bands_with_one() -> None:
    plate = grade_of(row(size_band_mm="t<=20", quantity="Mn"), row(size_band_mm="t>20", quantity="Mn", min="0.80"))
    assert judge(read_chem("Mn=0.70"), plate).limits[0].verdict == "undecided"
    assert judge(read_chem("Mn=0.90"), plate).limits[0].verdict == "pass"


def test_a_quantity_that_must_be_reported_blocks_while_it_is_missing() -> None:
    grade = grade_of(row(max="0.20"), row(quantity="Si", report="yes"), row(quantity="Cu"))
    assert judge(read_chem("C=0.10"), grade).verdict == "undecided"
    assert judge(read_chem("C=0.10"), grade).missing == ("Si",)
    met = judge(read_chem("C=0.10 Si=<0.01"), grade)
    assert met.verdict == "meets"
    assert "Cu: no limit is printed" in met.remarks


def test_a_product_analysis_meets_the_printed_product_limit() -> None:
    grade = grade_of(row(max="0.20"), row(basis="product", max="0.23"))
    judgement = judge(read_chem("C=0.22"), grade, basis="product")
    assert [(line.limit, line.verdict) for line in judgement.limits] == [("0.23", "pass")]


def test_without_a_product_limit_a_missed_cast_limit_decides_nothing() -> None:
    grade = grade_of(row(max="0.20"))
    assert judge(read_chem("C=0.22"), grade, basis="product").verdict == "undecided"
    assert judge(read_chem("C=0.20"), grade, basis="product").verdict == "meets"
    assert judge(read_chem("C=0.22"), grade, basis="cast").verdict == "fails"


def test_one_set_of_limits_serves_both_bases() -> None:
    grade = grade_of(row(basis="both", max="0.20"))
    assert judge(read_chem("C=0.22"), grade, basis="product").verdict == "fails"


def test_a_formula_is_judged_on_the_basis_its_standard_names() -> None:
    grade = grade_of(row(basis="both", max="0.20"), row(quantity="CEV", max="0.45"))
    chem = read_chem("C=0.20 Mn=1.60 Cr=0.20 Mo=0.05 V=0.05 Ni=0.1 Cu=0.1")
    on_product = judge(chem, grade, basis="product")
    assert [(line.quantity, line.verdict) for line in on_product.limits] == [("C", "pass"), ("cev", "waived")]
    assert judge(chem, grade).verdict == "fails"


@pytest.mark.parametrize("text", ["", "t", "16", "t<40", "t>=40", "40<t<=16", "16<t", "16<=t<=40", "d<=40", "t<=-4"])
def test_what_is_no_band_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"band|edge"):
        parse_band(text)
