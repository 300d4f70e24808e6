"""Mass ratios of compounds from atomic masses: how much of one element ties how much of another."""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType

from heattrace.errors import FormulaError

# Standard atomic weights, IUPAC, abridged to five figures (memory; the tests compare them with a library of masses).
ATOMIC_MASS: MappingProxyType[str, str] = MappingProxyType(
    {
        "H": "1.008", "B": "10.81", "C": "12.011", "N": "14.007", "O": "15.999", "Mg": "24.305", "Al": "26.982",
        "Si": "28.085", "P": "30.974", "S": "32.06", "Ca": "40.078", "Ti": "47.867", "V": "50.942", "Cr": "51.996",
        "Mn": "54.938", "Fe": "55.845", "Co": "58.933", "Ni": "58.693", "Cu": "63.546", "Nb": "92.906", "Mo": "95.95",
        "Sn": "118.71", "Ta": "180.95", "W": "183.84",
    }
)  # fmt: skip


def atomic_mass(element: str) -> Fraction:
    """Standard atomic weight, g/mol.

    Raises
    ------
    FormulaError
        No mass is kept for that symbol.
    """
    if element not in ATOMIC_MASS:
        raise FormulaError(f'no atomic mass is kept for "{element}"; there is one for {", ".join(ATOMIC_MASS)}')
    return Fraction(ATOMIC_MASS[element])


def ideal_ratio(first: str, second: str, first_atoms: int = 1, second_atoms: int = 1) -> Fraction:
    """Mass ratio of two elements in a compound of them.

    ratio = (atoms x mass of the first) / (atoms x mass of the second)

    Parameters
    ----------
    first, second : str
        Element symbols.
    first_atoms, second_atoms : int
        Atoms of each in the compound, 2 and 3 for Al2O3.

    Returns
    -------
    Fraction, [mass ratio]

    Raises
    ------
    FormulaError
        No atomic mass is kept for one of them, or a count of atoms is below one.

    Notes
    -----
    Range: none; a definition.

    Examples
    --------
    By hand: 47.867 / 14.007 = 3.417

    >>> round(float(ideal_ratio("Ti", "N")), 3)
    3.417

    References
    ----------
    IUPAC standard atomic weights (memory).
    """
    if first_atoms < 1 or second_atoms < 1:
        raise FormulaError("a compound holds at least one atom of each element")
    return first_atoms * atomic_mass(first) / (second_atoms * atomic_mass(second))
