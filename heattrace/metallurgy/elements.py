"""Element symbols: the fixed order that numbers them in a database, the order of reports, and plausible bands."""

from __future__ import annotations

from decimal import Decimal
from types import MappingProxyType

# The place in this tuple is the element's number in every database: append only, never reorder.
# "Al" is total aluminium, "Als" the acid-soluble part; they are two quantities and are never mixed.
ELEMENTS: tuple[str, ...] = (
    "C", "Si", "Mn", "P", "S", "Cr", "Mo", "Ni", "Al", "Als", "Cu", "N", "Nb", "V", "Ti", "B", "Sn", "As", "Sb", "Ca",
    "Co", "W", "Pb", "Zr", "O", "H", "Mg", "Zn", "Bi", "Ce", "La", "Se", "Te", "Ta", "Fe", "Be",
)  # fmt: skip

ELEMENT_NUMBER: MappingProxyType[str, int] = MappingProxyType({symbol: i for i, symbol in enumerate(ELEMENTS, start=1)})

REPORT_ORDER: tuple[str, ...] = (*(e for e in ELEMENTS if e != "Fe"), "Fe")

# Names seen for the same quantity in printed limits and exports. "Al" alone in a laboratory file is ambiguous and is
# settled by its profile; in a grade book it means total aluminium.
ALIASES: MappingProxyType[str, str] = MappingProxyType(
    {
        "Cb": "Nb",
        "Al_total": "Al",
        "Al_tot": "Al",
        "Al-tot": "Al",
        "Al_soluble": "Als",
        "Al_sol": "Als",
        "Al-sol": "Als",
        "Alsol": "Als",
    }
)

# Usual printed decimals of mass % (trade practice, from memory). Only for the eye, never for a verdict.
USUAL_DECIMALS: MappingProxyType[str, int] = MappingProxyType(
    {
        **dict.fromkeys(("C", "Si", "Mn", "Cr", "Ni", "Cu", "Mo", "Co", "W"), 2),
        **dict.fromkeys(("P", "S", "Al", "Als", "V", "Nb", "Ti", "Sn", "As", "Sb", "Pb", "Zr"), 3),
        **dict.fromkeys(("N", "B", "Ca", "O", "Mg"), 4),
        "H": 5,
    }
)

# Band in mass % outside which a value is not believed as that element of a steel (common practice; wide on purpose: it
# finds a unit or a column gone wrong, it does not judge steel). Low ends above zero catch % typed into a ppm column.
_BANDS: dict[str, tuple[str, str]] = {
    "C": ("0.0003", "2.5"), "Si": ("0", "6"), "Mn": ("0", "30"), "P": ("0.0002", "0.5"), "S": ("0.0001", "0.5"),
    "Cr": ("0", "35"), "Mo": ("0", "12"), "Ni": ("0", "45"), "Al": ("0", "8"), "Als": ("0", "8"), "Cu": ("0", "5"),
    "N": ("0.00005", "0.6"), "Nb": ("0", "2"), "V": ("0", "6"), "Ti": ("0", "3"), "B": ("0", "0.05"),
    "Sn": ("0", "0.5"), "As": ("0", "0.3"), "Sb": ("0", "0.2"), "Ca": ("0", "0.05"), "Co": ("0", "20"),
    "W": ("0", "22"), "Pb": ("0", "0.5"), "Zr": ("0", "0.5"), "O": ("0.00001", "0.1"), "H": ("0.000001", "0.003"),
    "Mg": ("0", "0.05"), "Zn": ("0", "0.2"), "Bi": ("0", "0.2"), "Ce": ("0", "0.3"), "La": ("0", "0.3"),
    "Se": ("0", "0.5"), "Te": ("0", "0.2"), "Ta": ("0", "1"), "Fe": ("25", "100"), "Be": ("0", "0.1"),
}  # fmt: skip

PLAUSIBLE_PCT: MappingProxyType[str, tuple[Decimal, Decimal]] = MappingProxyType(
    {symbol: (Decimal(low), Decimal(high)) for symbol, (low, high) in _BANDS.items()}
)
