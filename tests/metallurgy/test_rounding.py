"""ASTM E29 rounding in exact numbers, and digits shown that never flatter a refused value."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heattrace.metallurgy.interval import Interval
from heattrace.metallurgy.rounding import compare, compare_bounds, last_place, places_of, round_to, show, show_beside
from tests.metallurgy.tables import id_of, rows

CONTENTS = st.decimals(min_value=0, max_value=30, places=6)
LIMITS = st.tuples(st.integers(0, 3000), st.integers(0, 4)).map(lambda n: f"{Decimal(n[0]).scaleb(-n[1]):f}")
SENSES = st.sampled_from(["min", "max"])


@pytest.mark.parametrize("row", rows("rounding.csv"), ids=id_of)
def test_value_rounds_as_published(row: dict[str, str]) -> None:
    assert str(round_to(Decimal(row["value"]), Decimal(row["place"]))) == row["rounded"]
    assert str(round_to(Fraction(row["value"]), places_of(row["place"]))) == row["rounded"]


@pytest.mark.parametrize("row", rows("comparing.csv"), ids=id_of)
def test_value_is_compared_as_published(row: dict[str, str]) -> None:
    compared = compare(Decimal(row["value"]), row["limit"], row["sense"], row["method"])  # type: ignore[arg-type]
    assert ("pass" if compared.passes else "fail") == row["verdict"]
    assert ("" if compared.rounded is None else str(compared.rounded)) == row["rounded"]


def test_float_is_refused_because_it_has_lost_the_digits() -> None:
    # SMTL policy note (RD-08): 2.15 as a binary float is 2.1499999..., which a float-based round takes to 2.1.
    with pytest.raises(TypeError, match="lost the reported digits"):
        round_to(2.15, 1)  # type: ignore[arg-type]
    assert round_to(Decimal("2.149999999999999911182158029987"), 1) == Decimal("2.1")
    assert round_to(Decimal("2.15"), 1) == Decimal("2.2")


def test_limit_keeps_its_printed_places() -> None:
    assert (places_of("0.20"), places_of("0.2"), places_of("57")) == (2, 1, 0)
    assert last_place("0.20") == Decimal("0.01")
    with pytest.raises(ValueError, match="not a number"):
        last_place("NaN")


def test_endless_value_just_above_a_half_is_rounded_up_and_a_true_half_to_even() -> None:
    # By hand: 0.45500000...1 lies above the half, 0.455 is the half and goes to the even 0.46; 0.465 goes to 0.46.
    assert round_to(Fraction(455, 1000) + Fraction(1, 3 * 10**30), 2) == Decimal("0.46")
    assert round_to(Fraction(465, 1000) + Fraction(1, 3 * 10**30), 2) == Decimal("0.47")
    assert round_to(Fraction(465, 1000), 2) == Decimal("0.46")


def test_place_may_be_a_step_of_five() -> None:
    # By hand: 0.0123 lies nearer to 0.010 than to 0.015; 122.5 is half-way between 120 and 125, and 24 is even.
    assert round_to(Decimal("0.0123"), Decimal("0.005")) == Decimal("0.010")
    assert round_to(Decimal("122.5"), Decimal(5)) == 120
    with pytest.raises(ValueError, match="no place to round to"):
        round_to(Decimal(1), Decimal(0))


def test_margin_is_unrounded_and_positive_inside() -> None:
    assert compare(Decimal("0.4610"), "0.45", "max").margin == Fraction("-0.0110")
    assert compare(Decimal("56.6"), "57", "min").margin == Fraction("-0.4")


def test_limit_computed_from_the_analysis_is_compared_unrounded() -> None:
    # By hand: 3.4 x 0.0024 + 1.5 x 0.0026 = 0.01206 (BCS-CRM 112): 0.0121 is above it by either eye.
    limit = Fraction("0.01206")
    assert compare(Decimal("0.0100"), limit, "max").passes
    compared = compare(Decimal("0.0121"), limit, "max")
    assert (compared.passes, compared.rounded, compared.method) == (False, None, "absolute")
    assert compare(Decimal("0.0121"), limit, "max", place=Decimal("0.001")).passes


def test_bounds_decide_only_where_both_ends_agree() -> None:
    assert compare_bounds(Interval(Fraction("0.431"), Fraction("0.433")), "0.45", "max") == "pass"
    assert compare_bounds(Interval(Fraction("0.46"), Fraction("0.47")), "0.45", "max") == "fail"
    assert compare_bounds(Interval(Fraction("0.44"), Fraction("0.47")), "0.45", "max") == "undecided"
    assert compare_bounds(Interval(Fraction(225), None), "20", "min", "absolute") == "pass"
    assert compare_bounds(Interval(None, Fraction(19)), "20", "min", "absolute") == "fail"
    assert compare_bounds(Interval(None, None), "20", "min", "absolute") == "undecided"


def test_refused_value_never_shows_in_digits_that_would_pass() -> None:
    assert show_beside(Decimal("0.0354"), "0.035", "max", passes=False) == "0.0354"
    assert show_beside(Fraction(19999, 1000), "20", "min", passes=False) == "19.999"
    assert show_beside(Decimal("0.4610"), "0.45", "max", passes=False) == "0.46"
    assert show_beside(Decimal("0.55"), "0.55", "max", passes=False, place=Decimal("0.1")) == "0.6"


def test_shown_value_is_rounded_half_to_even_without_an_exponent() -> None:
    assert (show(Fraction(1, 3), 4), show(Decimal("0.00005"), 4)) == ("0.3333", "0.0000")
    assert (show(Decimal("0.00015"), 4), show(Decimal("1E+3"), 0)) == ("0.0002", "1000")


@settings(max_examples=150, derandomize=True)
@given(value=CONTENTS, places=st.integers(0, 5))
def test_rounding_twice_to_one_place_changes_nothing_more(value: Decimal, places: int) -> None:
    once = round_to(value, places)
    assert round_to(once, places) == once
    assert abs(Fraction(once) - Fraction(value)) * 2 <= Fraction(1, 10**places)


@settings(max_examples=150, derandomize=True)
@given(first=CONTENTS, second=CONTENTS, limit=LIMITS)
def test_more_of_an_element_never_passes_a_maximum_that_less_fails(first: Decimal, second: Decimal, limit: str) -> None:
    less, more = sorted((first, second))
    assert compare(less, limit, "max").passes >= compare(more, limit, "max").passes
    assert compare(less, limit, "min").passes <= compare(more, limit, "min").passes


@settings(max_examples=150, derandomize=True)
@given(value=CONTENTS, limits=st.tuples(st.integers(0, 3000), st.integers(0, 3000)), places=st.integers(0, 4))
def test_tighter_limit_of_the_same_places_never_passes_more(
    value: Decimal, limits: tuple[int, int], places: int
) -> None:
    tight, loose = (f"{Decimal(n).scaleb(-places):f}" for n in sorted(limits))
    assert compare(value, tight, "max").passes <= compare(value, loose, "max").passes
    assert compare(value, tight, "max", "absolute").passes <= compare(value, tight, "max").passes


@settings(max_examples=200, derandomize=True)
@given(value=CONTENTS, limit=LIMITS, sense=SENSES, method=st.sampled_from(["rounding", "absolute"]))
def test_shown_digits_tell_the_verdict(value: Decimal, limit: str, sense: str, method: str) -> None:
    passes = compare(value, limit, sense, method).passes  # type: ignore[arg-type]
    shown = show_beside(value, limit, sense, passes)  # type: ignore[arg-type]
    assert compare(Decimal(shown), limit, sense, "absolute").passes is passes  # type: ignore[arg-type]
