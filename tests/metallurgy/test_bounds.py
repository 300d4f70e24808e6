"""Bounds of formulas hold every content a report with `<` or `>` allows; weights agree with the printed expression."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heattrace.metallurgy.amount import Amount
from heattrace.metallurgy.interval import Interval
from heattrace.metallurgy.quantity import LIMIT_FORMULAS
from heattrace.metallurgy.registry import FORMULAS, evaluate

CONTENT = st.integers(1, 15000).map(lambda n: Decimal(n).scaleb(-4))
QUANTITIES = (*LIMIT_FORMULAS, "Cu+10Sn", "C-Mo/50", "Al/N")
# An outside hand may not use our weights: the printed expressions are evaluated as they stand.
_IMPLIED = re.compile(r"(\d) (?=[A-Z(])|\b(A) (?=\()")


def reported(value: Decimal) -> Amount:
    return Amount("=", value, f"{value:f}")


def elements(quantity: str) -> list[str]:
    from heattrace.metallurgy.registry import members_of

    return list(members_of(quantity))


@settings(max_examples=40, derandomize=True, deadline=None)
@pytest.mark.parametrize("quantity", QUANTITIES)
@given(data=st.data())
def test_bounds_hold_the_value_for_every_content_the_report_allows(quantity: str, data: st.DataObject) -> None:
    members = elements(quantity)
    true = {element: data.draw(CONTENT, label=element) for element in members}
    steel = {element: reported(value) for element, value in true.items()}
    for element in data.draw(st.sets(st.sampled_from(members), min_size=1), label="with < or >"):
        if data.draw(st.booleans(), label=f"{element} below"):
            bound = true[element] + data.draw(CONTENT, label=f"{element} below by")
            steel[element] = Amount("<", bound, f"{bound:f}")
        else:
            bound = true[element] * data.draw(st.integers(0, 9), label=f"{element} above by") / 10
            steel[element] = Amount(">", bound, f"{bound:f}")
    exact = evaluate(quantity, {e: reported(v) for e, v in true.items()}).value
    bounds = evaluate(quantity, steel)
    assert exact is not None
    assert holds(bounds, exact)


@settings(max_examples=40, derandomize=True, deadline=None)
@pytest.mark.parametrize("quantity", QUANTITIES)
@given(data=st.data())
def test_bounds_hold_the_value_for_every_content_of_a_missing_member(quantity: str, data: st.DataObject) -> None:
    members = elements(quantity)
    steel = {element: reported(data.draw(CONTENT, label=element)) for element in members}
    exact = evaluate(quantity, steel).value
    gone = data.draw(st.sets(st.sampled_from(members), min_size=1), label="missing")
    assert exact is not None
    assert holds(evaluate(quantity, {e: a for e, a in steel.items() if e not in gone}), exact)


def holds(bounds: Interval, value: Fraction) -> bool:
    return (bounds.low is None or bounds.low <= value) and (bounds.high is None or value <= bounds.high)


def by_expression(expression: str, contents: dict[str, Fraction]) -> Fraction:
    """The printed expression worked out in fractions."""
    if ";" in expression:
        below, above = (part.split(": ", 1)[1] for part in expression.split("; "))
        expression = below if contents["C"] < Fraction("0.6") else above
    text = _IMPLIED.sub(lambda found: f"{found[1] or found[2]}*", expression)
    text = re.sub(r"\d+(?:\.\d+)?", lambda found: f"F('{found[0]}')", text)
    text = re.sub(r"(?<![A-Za-z'])([A-Z][a-z]?)(?![A-Za-z('])", lambda found: f"c['{found[1]}']", text)
    value = eval(text, {"F": Fraction, "c": contents, "__builtins__": {}})
    assert isinstance(value, Fraction)
    return value


@settings(max_examples=25, derandomize=True, deadline=None)
@pytest.mark.parametrize("name", [name for name in LIMIT_FORMULAS if name != "cen"])
@given(data=st.data())
def test_weights_agree_with_the_printed_expression(name: str, data: st.DataObject) -> None:
    contents = {element: data.draw(CONTENT, label=element) for element in FORMULAS[name].needs}
    value = evaluate(name, {e: reported(v) for e, v in contents.items()}).value
    assert value == by_expression(FORMULAS[name].expression, {e: Fraction(v) for e, v in contents.items()})


@settings(max_examples=50, derandomize=True, deadline=None)
@given(data=st.data())
def test_cen_agrees_with_the_tangent_of_the_mathematics_library(data: st.DataObject) -> None:
    c = {element: data.draw(CONTENT, label=element) for element in FORMULAS["cen"].needs}
    f = {element: float(value) for element, value in c.items()}
    bracket = f["Si"] / 24 + f["Mn"] / 6 + f["Cu"] / 15 + f["Ni"] / 20
    bracket += (f["Cr"] + f["Mo"] + f["Nb"] + f["V"]) / 5 + 5 * f["B"]
    by_float = f["C"] + (0.75 + 0.25 * math.tanh(20 * (f["C"] - 0.12))) * bracket
    value = evaluate("cen", {e: reported(v) for e, v in c.items()}).value
    assert value is not None
    assert math.isclose(float(value), by_float, rel_tol=1e-12)
