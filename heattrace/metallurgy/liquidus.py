"""Liquidus temperature from the composition, and superheat over it.

Sources differ by 3 to 4 degree C for one steel, so a superheat is worth nothing without the name of its formula. Every
function takes a composition (mass %) in which all its elements are reported and gives exact bounds in degree C.

Where a formula is outside its range its number is given with the range beside it, but no superheat is made of it: the
common set with 88 C reads 9 to 13 degree C low at 0.8 to 1.0 % C and would hide a freezing nozzle.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from heattrace.errors import FormulaError
from heattrace.metallurgy.amount import Composition
from heattrace.metallurgy.formula import Formula, Validity
from heattrace.metallurgy.interval import (
    Interval,
    Terms,
    content,
    elements_of,
    hull,
    less,
    plus,
    require,
    scaled,
    weighted,
    weighted_sum,
)

CARBON_1990_LOW = weighted(C=90, Si="6.2", Mn="1.7", P=28, S=40, Cu="2.6", Ni="2.9", Cr="1.8", Al="5.1")
CARBON_1990_HIGH = weighted(C=73, Si=12, Mn=3, P=28, S=30, Cu=7, Ni="3.5", Cr=1, Al=3)
BRANCH_AT_C = Fraction("0.6")
PRINCIPLES_1994 = weighted(C=88, Si=8, Mn=5, P=30, S=25, Cu=5, Ni=4, Mo=2, V=2, Cr="1.5")

# Beyond these a reading is no temperature of liquid steel in a tundish (common practice; the bench uses the same band).
LEAST_STEEL_C, MOST_STEEL_C = Decimal(1300), Decimal(1800)

# No source states a bound for alloying; "low-alloy" is taken at 5 % of one element (common practice), so that no
# stainless steel gets a number from a carbon-steel line.
LOW_ALLOY = (Validity("Cr", None, "5"), Validity("Ni", None, "5"))


def liquidus_handbook_1990_carbon(composition: Composition) -> Interval:
    """Liquidus of carbon steel, two branches, Continuous Casting Handbook 1990.

    C < 0.6: 1539 - (90 C + 6.2 Si + 1.7 Mn + 28 P + 40 S + 2.6 Cu + 2.9 Ni + 1.8 Cr + 5.1 Al);
    C >= 0.6: 1534 - (73 C + 12 Si + 3 Mn + 28 P + 30 S + 7 Cu + 3.5 Ni + Cr + 3 Al)

    Parameters
    ----------
    composition : Composition, [mass %]
        Needs C, Si, Mn, P, S, Cu, Ni, Cr, Al (total).

    Returns
    -------
    Interval, [degree C]
        Where carbon is known only to lie on either side of 0.6 %, the bounds hold both branches: the line jumps up by
        about 5 degree C there, so neither end alone would do.

    Raises
    ------
    FormulaError
        A needed element is absent; the message names all that are.

    Notes
    -----
    Range: C up to 1.2, where it lies within 5 degree C of the Fe-C liquidus of an open thermodynamic library (pycalphad
    0.11.2, computed: -2.6 at 0.4, -4.6 just below 0.6, -0.6 at 0.8, -1.1 at 1.2 % C); Mn up to 1.5: its weight of 1.7
    below 0.6 % C is a third of what thermodynamics gives, and at C 0.16, Mn 1.40, Si 0.35 it reads 5.8 high (computed);
    Cr, Ni up to 5 (common practice for low-alloy steel). The source states no numbers beyond the two branches.

    Examples
    --------
    By hand, C 0.10: 90 x 0.10 + 6.2 x 0.20 + 1.7 x 0.50 + 28 x 0.010 + 40 x 0.005 + 2.9 x 0.10 + 1.8 x 0.30
    = 9 + 1.24 + 0.85 + 0.28 + 0.2 + 0.29 + 0.54 = 12.4; 1539 - 12.4 = 1526.6

    By hand, C 0.72: 73 x 0.72 + 12 x 0.22 + 3 x 0.75 + 28 x 0.012 + 30 x 0.010 + 7 x 0.08 + 3.5 x 0.04 + 0.05
    = 52.56 + 2.64 + 2.25 + 0.336 + 0.3 + 0.56 + 0.14 + 0.05 = 58.836; 1534 - 58.836 = 1475.164

    >>> from heattrace.metallurgy.amount import read_chem
    >>> steel = read_chem("C=0.10 Si=0.20 Mn=0.50 P=0.010 S=0.005 Cu=0 Ni=0.10 Cr=0.30 Al=0")
    >>> float(liquidus_handbook_1990_carbon(steel).value)
    1526.6
    >>> rail = read_chem("C=0.72 Si=0.22 Mn=0.75 P=0.012 S=0.010 Cu=0.08 Ni=0.04 Cr=0.05 Al=0")
    >>> float(liquidus_handbook_1990_carbon(rail).value)
    1475.164

    References
    ----------
    Continuous Casting Handbook, Metallurgical Industry Press 1990, as named by a public transcription (verified as
    printed there; the book itself not opened).
    """
    require(composition, elements_of(CARBON_1990_LOW))
    low, high = content(composition, "C")
    if high is not None and high < BRANCH_AT_C:
        return _line(1539, CARBON_1990_LOW, Interval(low, high), composition)
    if low is not None and low >= BRANCH_AT_C:
        return _line(1534, CARBON_1990_HIGH, Interval(low, high), composition)
    below = _line(1539, CARBON_1990_LOW, Interval(low, BRANCH_AT_C), composition)
    above = _line(1534, CARBON_1990_HIGH, Interval(BRANCH_AT_C, high), composition)
    return hull(below, above)


def _line(start_c: int, weights: Terms, carbon: Interval, composition: Composition) -> Interval:
    """One branch, over the carbon that belongs to it; carbon stands first in its weights."""
    rest = weighted_sum(weights[1:], composition)
    return less(Fraction(start_c), plus(scaled(weights[0][1], carbon), rest))


def liquidus_principles_1994(composition: Composition) -> Interval:
    """Liquidus, the widely used set with 88 C, Principles and Technology of Continuous Casting 1994.

    1537 - (88 C + 8 Si + 5 Mn + 30 P + 25 S + 5 Cu + 4 Ni + 2 Mo + 2 V + 1.5 Cr)

    Parameters
    ----------
    composition : Composition, [mass %]
        Needs C, Si, Mn, P, S, Cu, Ni, Mo, V, Cr.

    Returns
    -------
    Interval, [degree C]

    Raises
    ------
    FormulaError
        A needed element is absent; the message names all that are.

    Notes
    -----
    Range: C up to 0.5, where it lies within about 4 degree C of an open thermodynamic library (pycalphad 0.11.2,
    computed); it reads 5.6 low at 0.6, 9.6 at 0.8, 13 at 1.0 % C. Mn, Cr, Ni up to 5 (common practice for low-alloy
    steel). The source states no range.

    Examples
    --------
    By hand: 88 x 0.10 + 8 x 0.20 + 5 x 0.50 + 30 x 0.010 + 25 x 0.005 + 4 x 0.10 + 2 x 0.05 + 1.5 x 0.30
    = 8.8 + 1.6 + 2.5 + 0.3 + 0.125 + 0.4 + 0.1 + 0.45 = 14.275; 1537 - 14.275 = 1522.725

    >>> from heattrace.metallurgy.amount import read_chem
    >>> steel = read_chem("C=0.10 Si=0.20 Mn=0.50 P=0.010 S=0.005 Cu=0 Ni=0.10 Mo=0.05 V=0 Cr=0.30")
    >>> float(liquidus_principles_1994(steel).value)
    1522.725

    References
    ----------
    Principles and Technology of Continuous Casting, 1994, as named by a public transcription (verified as printed
    there; the book itself not opened).
    """
    return less(Fraction(1537), weighted_sum(PRINCIPLES_1994, composition))


def superheat_c(temperature_c: Decimal, liquidus: Interval) -> Interval:
    """Superheat of a tundish reading over a liquidus of a named formula.

    temperature - liquidus

    Parameters
    ----------
    temperature_c : Decimal, [degree C]
        Reading in the tundish.
    liquidus : Interval, [degree C]
        Of a named formula.

    Returns
    -------
    Interval, [degree C]

    Raises
    ------
    FormulaError
        The reading is outside 1300 to 1800 degree C and no temperature of liquid steel.

    Notes
    -----
    Range: that of the liquidus formula; outside it there is no superheat.

    Examples
    --------
    By hand: 1548 - 1522.725 = 25.275

    >>> from heattrace.metallurgy.interval import point
    >>> float(superheat_c(Decimal(1548), point(Decimal("1522.725"))).value)
    25.275

    References
    ----------
    Definition (memory).
    """
    if not LEAST_STEEL_C <= temperature_c <= MOST_STEEL_C:
        raise FormulaError(
            f"{temperature_c} degree C is no temperature of liquid steel; "
            f"expected {LEAST_STEEL_C} to {MOST_STEEL_C} degree C"
        )
    return less(Fraction(temperature_c), liquidus)


LIQUIDUS: tuple[Formula, ...] = (
    Formula(
        name="liquidus-handbook-1990-carbon",
        title="liquidus of carbon steel, two branches at 0.6 % C",
        expression="C < 0.6: 1539 - (90 C + 6.2 Si + 1.7 Mn + 28 P + 40 S + 2.6 Cu + 2.9 Ni + 1.8 Cr + 5.1 Al); "
        "C >= 0.6: 1534 - (73 C + 12 Si + 3 Mn + 28 P + 30 S + 7 Cu + 3.5 Ni + Cr + 3 Al)",
        unit="degree C",
        needs=elements_of(CARBON_1990_LOW),
        source="Continuous Casting Handbook 1990 p 81, as named by a public transcription",
        status="verified",
        range_note="C and Mn: within 6 degree C of an open thermodynamic library, computed; Cr and Ni: common practice",
        validity=(Validity("C", None, "1.2"), Validity("Mn", None, "1.5"), *LOW_ALLOY),
        compute=liquidus_handbook_1990_carbon,
    ),
    Formula(
        name="liquidus-principles-1994",
        title="liquidus, widely used set with 88 C",
        expression="1537 - (88 C + 8 Si + 5 Mn + 30 P + 25 S + 5 Cu + 4 Ni + 2 Mo + 2 V + 1.5 Cr)",
        unit="degree C",
        needs=elements_of(PRINCIPLES_1994),
        source="Principles and Technology of Continuous Casting 1994, as named by a public transcription",
        status="verified",
        range_note="C: within about 4 degree C of an open thermodynamic library, computed; it reads 9 to 13 low "
        "at 0.8 to 1.0; Mn, Cr and Ni: common practice",
        validity=(Validity("C", None, "0.5"), Validity("Mn", None, "5"), *LOW_ALLOY),
        compute=liquidus_principles_1994,
    ),
)
