"""An estimated composition along a piece."""

from __future__ import annotations

from decimal import Decimal

from heattrace.judging.estimate import blend, judge_estimate
from heattrace.metallurgy.amount import Amount, read_chem
from tests.judging.books import grade_of_limits

GRADE = grade_of_limits([("C", "", "0.20"), ("Mn", "1.00", "1.60")])


def along(head: str, mean: str, tail: str) -> dict[str, Decimal | Amount | None]:
    return {"head": Decimal(head), "mean": Decimal(mean), "tail": Decimal(tail)}


def test_a_piece_fits_only_where_every_element_is_inside_over_its_whole_length() -> None:
    fit = judge_estimate({"C": along("0.18", "0.185", "0.19"), "Mn": along("1.2", "1.2", "1.2")}, GRADE)
    assert (fit.head, fit.mean, fit.tail, fit.verdict) == ("meets", "meets", "meets", "meets")


def test_a_tail_outside_the_grade_fails_the_piece_though_its_mean_is_inside() -> None:
    fit = judge_estimate({"C": along("0.16", "0.19", "0.2300001"), "Mn": along("1.2", "1.2", "1.2")}, GRADE)
    assert (fit.head, fit.mean, fit.tail, fit.verdict) == ("meets", "meets", "fails", "fails")


def test_an_element_that_not_every_heat_reports_leaves_the_piece_undecided() -> None:
    fit = judge_estimate({"C": along("0.16", "0.17", "0.18")}, GRADE)
    assert fit.verdict == "undecided"
    partly = judge_estimate(
        {"C": along("0.16", "0.17", "0.18"), "Mn": {"head": Decimal("1.2"), "mean": None, "tail": None}}, GRADE
    )
    assert (partly.head, partly.mean, partly.verdict) == ("meets", "undecided", "undecided")


def test_a_turning_place_inside_the_piece_is_judged_too() -> None:
    carbon = {**along("0.16", "0.17", "0.16"), "at 3.2 m": Decimal("0.24")}
    estimate = {"C": carbon, "Mn": dict.fromkeys(carbon, Decimal("1.2"))}
    fit = judge_estimate(estimate, GRADE, positions=("head", "at 3.2 m", "mean", "tail"))
    assert (fit.head, fit.mean, fit.tail, fit.verdict) == ("meets", "meets", "meets", "fails")


def test_a_blend_is_the_sum_by_shares() -> None:
    """By hand: 0.25 x 0.20 + 0.75 x 0.16 = 0.17."""
    mixed = blend(
        {"A": Decimal("0.25"), "B": Decimal("0.75"), "Z": Decimal(0)},
        {"A": read_chem("C=0.20 Mn=1.2"), "B": read_chem("C=0.16")},
    )
    assert {element: amount.value for element, amount in mixed.items()} == {"C": Decimal("0.1700")}


def test_a_blend_with_a_bound_is_a_bound() -> None:
    """By hand: 0.5 x 0.010 + 0.5 x 0.002 = 0.006."""
    mixed = blend({"A": Decimal("0.5"), "B": Decimal("0.5")}, {"A": read_chem("Nb=0.010"), "B": read_chem("Nb=<0.002")})
    assert mixed["Nb"].qualifier == "<"
    assert mixed["Nb"].value == Decimal("0.006")


def test_a_blend_of_a_heat_without_analysis_says_nothing() -> None:
    assert blend({"A": Decimal("0.5"), "B": Decimal("0.5")}, {"A": read_chem("C=0.2")}) == {}
    assert blend({"A": Decimal(1)}, {"A": read_chem("C=>1.2")}) == {}
