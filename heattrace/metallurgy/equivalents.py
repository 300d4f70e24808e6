"""Carbon equivalents. One name, several formulas: A706 subtracts Mo and V where the IIW form adds them, so each variant
has its own name and no result is printed without it.

Every function takes a composition (mass %) in which all its elements are reported and gives exact bounds, which differ
only where an element is reported with `<` or `>`. Nothing is rounded: only the final value meets a limit's last place.
"""

from __future__ import annotations

from heattrace.metallurgy.amount import Composition
from heattrace.metallurgy.formula import Formula, Validity
from heattrace.metallurgy.interval import Interval, elements_of, weighted, weighted_sum

IIW = weighted(C=1, Mn="1/6", Cr="1/5", Mo="1/5", V="1/5", Ni="1/15", Cu="1/15")
METHOD_B = weighted(C=1, Mn="1/10", Mo="1/10", Cr="1/20", Cu="1/20", Ni="1/40")
AWS = weighted(C=1, Mn="1/6", Si="1/6", Cr="1/5", Mo="1/5", V="1/5", Ni="1/15", Cu="1/15")
A706 = weighted(C=1, Mn="1/6", Cu="1/40", Ni="1/20", Cr="1/10", Mo="-1/50", V="-1/10")


def carbon_equivalent_iiw(composition: Composition) -> Interval:
    """Carbon equivalent CEV of the International Institute of Welding, as in EN 1011-2 method A.

    CEV = C + Mn/6 + (Cr + Mo + V)/5 + (Ni + Cu)/15

    Parameters
    ----------
    composition : Composition, [mass %]
        Needs C, Mn, Cr, Mo, V, Ni, Cu.

    Returns
    -------
    Interval, [mass %]

    Raises
    ------
    FormulaError
        A needed element is absent; the message names all that are.

    Notes
    -----
    Range: C 0.05 to 0.25, Si up to 0.8, Mn up to 1.7, Cr up to 0.9, Cu up to 1.0, Ni up to 2.5, Mo up to 0.75, V up to
    0.20 (EN 1011-2 Annex C.2, memory). One page calls this the AWS D1.1 formula; that one adds Si/6.

    Examples
    --------
    By hand: 0.16 + 0.90/6 + (0.05 + 0.02 + 0.01)/5 + (0.05 + 0.10)/15 = 0.16 + 0.15 + 0.016 + 0.010 = 0.336

    >>> from heattrace.metallurgy.amount import read_chem
    >>> float(carbon_equivalent_iiw(read_chem("C=0.16 Mn=0.90 Cr=0.05 Mo=0.02 V=0.01 Ni=0.05 Cu=0.10")).value)
    0.336

    References
    ----------
    IIW 1967; EN 1011-2 method A, text copies seen (verified), the standards themselves not opened.
    """
    return weighted_sum(IIW, composition)


def carbon_equivalent_method_b(composition: Composition) -> Interval:
    """Carbon equivalent CET, EN 1011-2 method B and SEW 088.

    CET = C + (Mn + Mo)/10 + (Cr + Cu)/20 + Ni/40

    Parameters
    ----------
    composition : Composition, [mass %]
        Needs C, Mn, Mo, Cr, Cu, Ni.

    Returns
    -------
    Interval, [mass %]

    Raises
    ------
    FormulaError
        A needed element is absent; the message names all that are.

    Notes
    -----
    Range: C 0.05 to 0.32, Si up to 0.8, Mn 0.5 to 1.9, Cr up to 1.5, Cu up to 0.7, Mo up to 0.75, Nb up to 0.06, Ni up
    to 2.5, Ti up to 0.12, V up to 0.18, B up to 0.005 (list of carbon equivalents for fasteners, verified).

    Examples
    --------
    By hand: 0.17 + (1.45 + 0.01)/10 + (0.06 + 0.12)/20 + 0.05/40 = 0.17 + 0.146 + 0.009 + 0.00125 = 0.32625

    >>> from heattrace.metallurgy.amount import read_chem
    >>> float(carbon_equivalent_method_b(read_chem("C=0.17 Mn=1.45 Mo=0.01 Cr=0.06 Cu=0.12 Ni=0.05")).value)
    0.32625

    References
    ----------
    EN 1011-2 method B, SEW 088: text copies seen (verified), the documents themselves not opened.
    """
    return weighted_sum(METHOD_B, composition)


def carbon_equivalent_aws_d1_1(composition: Composition) -> Interval:
    """Carbon equivalent of AWS D1.1, the IIW form with silicon added, for control of the hardness beside a weld.

    CE = C + (Mn + Si)/6 + (Cr + Mo + V)/5 + (Ni + Cu)/15

    Parameters
    ----------
    composition : Composition, [mass %]
        Needs C, Mn, Si, Cr, Mo, V, Ni, Cu.

    Returns
    -------
    Interval, [mass %]

    Raises
    ------
    FormulaError
        A needed element is absent; the message names all that are.

    Notes
    -----
    Range: none stated by the source.

    Examples
    --------
    By hand: 0.16 + (0.90 + 0.30)/6 + (0.05 + 0.02 + 0.01)/5 + (0.05 + 0.10)/15 = 0.16 + 0.2 + 0.016 + 0.010 = 0.386

    >>> from heattrace.metallurgy.amount import read_chem
    >>> steel = read_chem("C=0.16 Mn=0.90 Si=0.30 Cr=0.05 Mo=0.02 V=0.01 Ni=0.05 Cu=0.10")
    >>> float(carbon_equivalent_aws_d1_1(steel).value)
    0.386

    References
    ----------
    AWS D1.1 as quoted by a web page; TWI mentions the added Si/6: both seen (verified), the code itself not opened.
    """
    return weighted_sum(AWS, composition)


def carbon_equivalent_a706(composition: Composition) -> Interval:
    """Carbon equivalent of ASTM A706 reinforcing bars; molybdenum and vanadium lower it.

    CE = C + Mn/6 + Cu/40 + Ni/20 + Cr/10 - Mo/50 - V/10

    Parameters
    ----------
    composition : Composition, [mass %]
        Heat analysis. Needs C, Mn, Cu, Ni, Cr, Mo, V; of Mo and V reported with `<` the bounds take the other end.

    Returns
    -------
    Interval, [mass %]

    Raises
    ------
    FormulaError
        A needed element is absent; the message names all that are.

    Notes
    -----
    Range: none stated by the source beyond bars of ASTM A706. The IIW form adds Mo and V: one bar may pass the one
    limit and fail the other.

    Examples
    --------
    By hand: 0.29 + 1.44/6 + 0.30/40 + 0.10/20 + 0.12/10 - 0.02/50 - 0.003/10
    = 0.29 + 0.24 + 0.0075 + 0.005 + 0.012 - 0.0004 - 0.0003 = 0.5538

    >>> from heattrace.metallurgy.amount import read_chem
    >>> float(carbon_equivalent_a706(read_chem("C=0.29 Mn=1.44 Cu=0.30 Ni=0.10 Cr=0.12 Mo=0.02 V=0.003")).value)
    0.5538

    References
    ----------
    ASTM A706, text copy seen (verified), the standard itself not opened.
    """
    return weighted_sum(A706, composition)


EQUIVALENTS: tuple[Formula, ...] = (
    Formula(
        name="cev",
        title="carbon equivalent CEV, IIW form",
        expression="C + Mn/6 + (Cr + Mo + V)/5 + (Ni + Cu)/15",
        unit="mass %",
        needs=elements_of(IIW),
        source="IIW 1967, EN 1011-2 method A (text copies)",
        status="verified",
        range_note="EN 1011-2 Annex C.2, memory",
        validity=(
            Validity("C", "0.05", "0.25"), Validity("Si", None, "0.8"), Validity("Mn", None, "1.7"),
            Validity("Cr", None, "0.9"), Validity("Cu", None, "1.0"), Validity("Ni", None, "2.5"),
            Validity("Mo", None, "0.75"), Validity("V", None, "0.20"),
        ),
        terms=IIW,
        compute=carbon_equivalent_iiw,
    ),
    Formula(
        name="cet",
        title="carbon equivalent CET, EN 1011-2 method B",
        expression="C + (Mn + Mo)/10 + (Cr + Cu)/20 + Ni/40",
        unit="mass %",
        needs=elements_of(METHOD_B),
        source="EN 1011-2 method B, SEW 088 (text copies)",
        status="verified",
        range_note="list of carbon equivalents for fasteners, verified",
        validity=(
            Validity("C", "0.05", "0.32"), Validity("Si", None, "0.8"), Validity("Mn", "0.5", "1.9"),
            Validity("Cr", None, "1.5"), Validity("Cu", None, "0.7"), Validity("Mo", None, "0.75"),
            Validity("Nb", None, "0.06"), Validity("Ni", None, "2.5"), Validity("Ti", None, "0.12"),
            Validity("V", None, "0.18"), Validity("B", None, "0.005"),
        ),
        terms=METHOD_B,
        compute=carbon_equivalent_method_b,
    ),
    Formula(
        name="ce-aws-d1-1",
        title="carbon equivalent of AWS D1.1, with silicon",
        expression="C + (Mn + Si)/6 + (Cr + Mo + V)/5 + (Ni + Cu)/15",
        unit="mass %",
        needs=elements_of(AWS),
        source="AWS D1.1 as quoted by a web page, TWI",
        status="verified",
        range_note="none stated by the source",
        terms=AWS,
        compute=carbon_equivalent_aws_d1_1,
    ),
    Formula(
        name="ce-a706",
        title="carbon equivalent of ASTM A706 bars, Mo and V subtracted",
        expression="C + Mn/6 + Cu/40 + Ni/20 + Cr/10 - Mo/50 - V/10",
        unit="mass %",
        needs=elements_of(A706),
        source="ASTM A706 (text copy)",
        status="verified",
        range_note="none stated by the source; heat analysis of ASTM A706 bars",
        terms=A706,
        compute=carbon_equivalent_a706,
    ),
)  # fmt: skip
