"""Every quantity a printed limit names can be said, and nothing else."""

from __future__ import annotations

from fractions import Fraction

import pytest

from heattrace.errors import FormulaError
from heattrace.metallurgy.quantity import LIMIT_FORMULAS, parse_quantity, parse_terms, sum_name
from heattrace.metallurgy.registry import FORMULAS, WITH_OPTIONS, evaluate, members_of
from tests.metallurgy.tables import toml

CASES = toml("quantities.toml")


@pytest.mark.parametrize("text", CASES["elements"])
def test_element_of_a_limit_is_read(text: str) -> None:
    quantity = parse_quantity(text)
    assert quantity.kind == "element"
    assert quantity.name == {"Al_total": "Al"}.get(text, text)


@pytest.mark.parametrize("text", CASES["sums"])
def test_sum_of_a_limit_is_read(text: str) -> None:
    quantity = parse_quantity(text)
    assert (quantity.kind, quantity.name) == ("sum", text)
    assert len(quantity.terms) == text.count("+") + 1


@pytest.mark.parametrize("text", CASES["ratios"])
def test_ratio_of_a_limit_is_read(text: str) -> None:
    quantity = parse_quantity(text)
    assert (quantity.kind, quantity.unit) == ("ratio", "ratio")
    assert quantity.name == text.replace("Al_total", "Al")


@pytest.mark.parametrize(("text", "formula"), CASES["formulas"].items())
def test_formula_alias_of_a_limit_is_read(text: str, formula: str) -> None:
    quantity = parse_quantity(text)
    assert (quantity.kind, quantity.formula, quantity.name, quantity.text) == ("formula", formula, formula, text)


@pytest.mark.parametrize(("text", "said"), CASES["unsayable"].items())
def test_what_is_no_quantity_is_refused_with_a_reason(text: str, said: str) -> None:
    with pytest.raises(FormulaError, match=said):
        parse_quantity(text)


def test_weights_signs_and_divisors_are_exact() -> None:
    assert parse_terms("3.4N + 1.5 S - Mo/50") == (
        ("N", Fraction("3.4")), ("S", Fraction("1.5")), ("Mo", Fraction(-1, 50)),
    )  # fmt: skip


def test_hyphen_is_a_minus_sign_but_in_the_name_of_aluminium() -> None:
    assert dict(parse_terms("C-Mo/50")) == {"C": 1, "Mo": Fraction(-1, 50)}
    assert dict(parse_terms("Ti+Al-sol")) == {"Ti": 1, "Als": 1}


@pytest.mark.parametrize("text", ["Cu+10Sn", "C+Mn/6", "17N/5+3S/2", "Cr-Mo/50"])
def test_canonical_name_reads_back_as_the_same_sum(text: str) -> None:
    assert parse_terms(sum_name(parse_terms(text))) == parse_terms(text)


def test_every_formula_of_one_composition_can_be_a_limits_quantity() -> None:
    assert set(LIMIT_FORMULAS) == set(FORMULAS) - {formula.name for formula in WITH_OPTIONS}
    for name in LIMIT_FORMULAS:
        assert parse_quantity(name).unit == FORMULAS[name].unit
        assert members_of(name) == FORMULAS[name].needs
        assert evaluate(name, {}) == (None, None)
