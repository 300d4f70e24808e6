"""Equivalents that speak of cold cracking beside a weld: Pcm for low carbon, CEN for a wide range of carbon.

Like the carbon equivalents, each takes a composition (mass %) that reports all its elements and gives exact bounds.
"""

from __future__ import annotations

from decimal import Context, Decimal, localcontext
from fractions import Fraction

from heattrace.metallurgy.amount import Composition
from heattrace.metallurgy.formula import Formula, Validity
from heattrace.metallurgy.interval import Interval, elements_of, require, weighted, weighted_sum

ITO_BESSYO = weighted(C=1, Si="1/30", Mn="1/20", Cu="1/20", Cr="1/20", Ni="1/60", Mo="1/15", V="1/10", B=5)
YURIOKA = weighted(Si="1/24", Mn="1/6", Cu="1/15", Ni="1/20", Cr="1/5", Mo="1/5", Nb="1/5", V="1/5", B=5)

TANH_PLACES = 40


def cracking_parameter_ito_bessyo(composition: Composition) -> Interval:
    """Cracking parameter Pcm after Ito and Bessyo, the CEPcm of line pipe.

    Pcm = C + Si/30 + (Mn + Cu + Cr)/20 + Ni/60 + Mo/15 + V/10 + 5 B

    Parameters
    ----------
    composition : Composition, [mass %]
        Needs C, Si, Mn, Cu, Cr, Ni, Mo, V, B. Boron too: 0.0005 % of it moves the third decimal, so an absent boron is
        not taken as zero unasked, although editions of API 5L allow that below a threshold of the heat analysis.

    Returns
    -------
    Interval, [mass %]

    Raises
    ------
    FormulaError
        A needed element is absent; the message names all that are.

    Notes
    -----
    Range: C up to 0.12 (API 5L PSL 2 judges by Pcm to there, verified; TWI speaks of about 0.11).

    Examples
    --------
    By hand: 0.05 + 0.24/30 + (1.55 + 0.20 + 0.25)/20 + 0.15/60 + 0.09/15 + 0.03/10 + 5 x 0.0003
    = 0.05 + 0.008 + 0.1 + 0.0025 + 0.006 + 0.003 + 0.0015 = 0.171

    >>> from heattrace.metallurgy.amount import read_chem
    >>> steel = read_chem("C=0.05 Si=0.24 Mn=1.55 Cu=0.20 Cr=0.25 Ni=0.15 Mo=0.09 V=0.03 B=0.0003")
    >>> float(cracking_parameter_ito_bessyo(steel).value)
    0.171

    References
    ----------
    API 5L page and web list of carbon equivalents, TWI for the range: text copies seen (verified).
    """
    return weighted_sum(ITO_BESSYO, composition)


def carbon_equivalent_yurioka(composition: Composition) -> Interval:
    """Carbon equivalent CEN after Yurioka, with an accommodation factor A that follows carbon.

    CEN = C + A (Si/24 + Mn/6 + Cu/15 + Ni/20 + (Cr + Mo + Nb + V)/5 + 5 B), A = 0.75 + 0.25 tanh(20 (C - 0.12))

    Parameters
    ----------
    composition : Composition, [mass %]
        Needs C, Si, Mn, Cu, Ni, Cr, Mo, Nb, V, B.

    Returns
    -------
    Interval, [mass %]
        The hyperbolic tangent is carried to 40 digits, so the result is exact far beyond the 12 places given.

    Raises
    ------
    FormulaError
        A needed element is absent; the message names all that are.

    Notes
    -----
    Range: none stated by the source; meant for a wide range of carbon. One public copy prints (Cu + Ni)/15; this is the
    form with Cu/15 + Ni/20, and A is not rounded. CSA Z662 tabulates a factor of its own.

    The bounds are the values at both ends of the contents: the bracket is at or above zero and A rises with carbon, so
    the derivative by carbon, 1 + A' x bracket, is above zero; by any other element it is A, 0.5 to 1, times a weight.

    Examples
    --------
    By hand, at C 0.12 where A is 0.75 exactly: bracket = 0.24/24 + 1.20/6 + 0.15/15 + 0.20/20 + (0.05 + 0.03 + 0.01 +
    0.01)/5 + 5 x 0.0004 = 0.01 + 0.2 + 0.01 + 0.01 + 0.02 + 0.002 = 0.252; CEN = 0.12 + 0.75 x 0.252 = 0.309

    >>> from heattrace.metallurgy.amount import read_chem
    >>> steel = read_chem("C=0.12 Si=0.24 Mn=1.20 Cu=0.15 Ni=0.20 Cr=0.05 Mo=0.03 Nb=0.01 V=0.01 B=0.0004")
    >>> float(carbon_equivalent_yurioka(steel).value)
    0.309

    References
    ----------
    Yurioka; web lists of carbon equivalents and public scripts seen (verified), the paper itself not opened.
    """
    require(composition, ("C", *elements_of(YURIOKA)))
    carbon = weighted_sum((("C", Fraction(1)),), composition)
    bracket = weighted_sum(YURIOKA, composition)
    return Interval(_yurioka_end(carbon.low, bracket.low), _yurioka_end(carbon.high, bracket.high))


def _yurioka_end(carbon: Fraction | None, bracket: Fraction | None) -> Fraction | None:
    if carbon is None or bracket is None:
        return None
    return carbon + accommodation_factor(carbon) * bracket


def accommodation_factor(carbon_pct: Fraction) -> Fraction:
    """The factor A of CEN by which all elements but carbon count, 0.5 to 1.

    A = 0.75 + 0.25 tanh(20 (C - 0.12))

    Parameters
    ----------
    carbon_pct : Fraction, [mass %]

    Returns
    -------
    Fraction, [1]
        To 40 digits; not rounded before use.

    Raises
    ------
    Nothing.

    Notes
    -----
    Range: none stated by the source.

    Examples
    --------
    By hand: at C 0.12 the tangent is that of zero, so A = 0.75

    >>> float(accommodation_factor(Fraction("0.12")))
    0.75

    References
    ----------
    Yurioka, as in web lists of carbon equivalents (verified).
    """
    with localcontext(Context(prec=TANH_PLACES + 10)):
        doubled = 40 * (Fraction(carbon_pct) - Fraction("0.12"))
        power = (Decimal(doubled.numerator) / Decimal(doubled.denominator)).exp()
        tanh = 1 - 2 / (power + 1)
    return Fraction(3, 4) + Fraction(tanh) / 4


CRACKING: tuple[Formula, ...] = (
    Formula(
        name="pcm",
        title="cracking parameter Pcm, Ito and Bessyo",
        expression="C + Si/30 + (Mn + Cu + Cr)/20 + Ni/60 + Mo/15 + V/10 + 5 B",
        unit="mass %",
        needs=elements_of(ITO_BESSYO),
        source="API 5L page (text copy)",
        status="verified",
        range_note="API 5L PSL 2 uses Pcm to there, TWI says about 0.11, verified",
        validity=(Validity("C", None, "0.12"),),
        terms=ITO_BESSYO,
        compute=cracking_parameter_ito_bessyo,
    ),
    Formula(
        name="cen",
        title="carbon equivalent CEN, Yurioka, with Cu/15 + Ni/20",
        expression="C + A (Si/24 + Mn/6 + Cu/15 + Ni/20 + (Cr + Mo + Nb + V)/5 + 5 B), "
        "A = 0.75 + 0.25 tanh(20 (C - 0.12))",
        unit="mass %",
        needs=("C", *elements_of(YURIOKA)),
        source="Yurioka, as in web lists of carbon equivalents",
        status="verified",
        range_note="none stated by the source; a wide range of carbon",
        compute=carbon_equivalent_yurioka,
    ),
)  # fmt: skip
