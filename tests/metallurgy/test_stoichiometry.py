"""Stoichiometric ratios against computed ones and against a library of atomic masses."""

from __future__ import annotations

from fractions import Fraction

import periodictable
import pytest

from heattrace.errors import FormulaError
from heattrace.metallurgy.stoichiometry import ATOMIC_MASS, atomic_mass, ideal_ratio
from tests.metallurgy.tables import id_of, rows


@pytest.mark.parametrize("row", rows("stoichiometry.csv"), ids=id_of)
def test_compound_has_the_mass_ratio_of_its_row_and_of_the_mass_library(row: dict[str, str]) -> None:
    first_atoms, second_atoms = int(row["first_atoms"]), int(row["second_atoms"])
    ours = ideal_ratio(row["first"], row["second"], first_atoms, second_atoms)
    assert abs(ours - Fraction(row["ratio"])) <= Fraction(row["tolerance"])
    # Source: element masses of the periodictable library.
    first, second = (float(getattr(periodictable, row[side]).mass) for side in ("first", "second"))
    assert abs(float(ours) - first_atoms * first / (second_atoms * second)) <= float(row["tolerance"])


@pytest.mark.parametrize("element", ATOMIC_MASS)
def test_atomic_mass_is_that_of_the_mass_library(element: str) -> None:
    # Source: element masses of the periodictable library; abridged weights carry five figures.
    assert abs(float(atomic_mass(element)) / getattr(periodictable, element).mass - 1) < 1e-4


@pytest.mark.parametrize("call", [("Ti", "Xx"), ("Ti", "N", 0, 1)])
def test_unknown_element_or_no_atoms_is_refused(call: tuple[str, str]) -> None:
    with pytest.raises(FormulaError):
        ideal_ratio(*call)
