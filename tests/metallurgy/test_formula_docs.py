"""Every public formula function states its expression, units, range, source, status and a number worked by hand."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest

from heattrace.metallurgy import cracking, equivalents, liquidus, ratios, stoichiometry
from heattrace.metallurgy.registry import FORMULAS, WITH_OPTIONS

MODULES: tuple[ModuleType, ...] = (equivalents, cracking, liquidus, ratios, stoichiometry)
NO_FORMULA = {"atomic_mass"}
SECTIONS = ("Parameters", "Returns", "Raises", "Notes", "Examples", "References")


def public_functions() -> list[Callable[..., Any]]:
    found = [
        function
        for module in MODULES
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and not name.startswith("_") and name not in NO_FORMULA
    ]
    assert len(found) >= 12
    return found


def sections(function: Callable[..., Any]) -> dict[str, str]:
    parts = re.split(r"^(\w+)\n-+\n", inspect.getdoc(function) or "", flags=re.MULTILINE)
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


@pytest.mark.parametrize("function", public_functions(), ids=lambda function: function.__name__)
def test_formula_function_states_all_its_parts(function: Callable[..., Any]) -> None:
    said = sections(function)
    assert [name for name in SECTIONS if name not in said] == []
    assert re.search(r"[=+/-]", said[""].partition("\n\n")[2]), "no expression under the first line"
    assert re.search(r"\[[\w %]+\]", said["Parameters"] + said["Returns"]), "no unit in brackets"
    assert "Range: " in said["Notes"], "no validity range"
    assert re.search(r"verified|memory", said["References"]), "no status of the source"
    assert "By hand" in said["Examples"] and ">>>" in said["Examples"], "no number worked by hand"


@pytest.mark.parametrize("function", public_functions(), ids=lambda function: function.__name__)
def test_number_worked_by_hand_is_the_one_the_doctest_expects(function: Callable[..., Any]) -> None:
    examples = sections(function)["Examples"]
    worked = re.findall(r"By hand(.*?)(?:\n\n|\Z)", examples, re.S)
    by_hand = [re.findall(r"\d+(?:\.\d+)?", text)[-1] for text in worked]
    expected = re.findall(r"^>>> .*\n(?:\.\.\. .*\n)*(?!>>>)(.+)$", examples, re.M)
    assert by_hand
    for number in by_hand:
        assert any(str(float(number)) == line or f"[{float(number)}," in line for line in expected), number


@pytest.mark.parametrize("formula", FORMULAS.values(), ids=lambda formula: formula.name)
def test_registered_formula_states_all_its_parts(formula: Any) -> None:
    data = formula.as_json()
    assert list(data) == ["formula", "title", "expression", "unit", "needs", "optional", "range", "source", "status"]
    for key in ("title", "expression", "unit", "range", "source"):
        assert data[key].strip()
    assert data["status"] in ("verified", "memory")
    if formula in WITH_OPTIONS:
        assert formula.compute is None
        return
    assert formula.needs
    words = re.sub(r"\s+", " ", inspect.getdoc(formula.compute) or "")
    assert re.sub(r"\s+", " ", formula.expression) in words, "docstring and registry print different expressions"
    for valid in formula.validity:
        assert re.search(rf"\b{valid.element}\b[^.;]*{re.escape(valid.text)}", words), f"{valid.element} {valid.text}"


def test_no_formula_function_is_left_out_of_the_registry() -> None:
    registered = {formula.compute for formula in FORMULAS.values()}
    takes_composition = {
        function for function in public_functions() if list(inspect.signature(function).parameters) == ["composition"]
    }
    assert takes_composition == registered - {None}
