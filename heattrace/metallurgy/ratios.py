"""Ratios of two contents, and the formulas made of options rather than of a fixed list of elements."""

from __future__ import annotations

from heattrace.metallurgy.amount import Composition
from heattrace.metallurgy.formula import Formula
from heattrace.metallurgy.interval import Interval, ratio_of


def ratio_mn_s(composition: Composition) -> Interval:
    """Ratio of manganese to sulphur.

    Mn/S

    Parameters
    ----------
    composition : Composition, [mass %]
        Needs Mn, S.

    Returns
    -------
    Interval, [ratio]
        Open above where sulphur is reported with `<`: it may be as near to zero as one likes.

    Raises
    ------
    FormulaError
        A needed element is absent, or sulphur is reported as zero: no steel is free of it, and no ratio exists.

    Notes
    -----
    Range: none; a definition. Ratios are compared unrounded unless the limit's row says otherwise.

    Examples
    --------
    By hand: 0.45 / 0.020 = 22.5

    >>> from heattrace.metallurgy.amount import read_chem
    >>> float(ratio_mn_s(read_chem("Mn=0.45 S=0.020")).value)
    22.5
    >>> [None if end is None else float(end) for end in ratio_mn_s(read_chem("Mn=0.45 S=<0.002"))]
    [225.0, None]

    References
    ----------
    Definition; the rule of 20 to 1 of ASTM A992 uses it (text copy seen, verified).
    """
    return ratio_of(composition, "Mn", "S")


RATIOS: tuple[Formula, ...] = (
    Formula(
        name="mn-s",
        title="ratio of manganese to sulphur",
        expression="Mn/S",
        unit="ratio",
        needs=("Mn", "S"),
        source="definition, as in ASTM A992 (text copy)",
        status="verified",
        range_note="none; a definition",
        compute=ratio_mn_s,
    ),
)

WITH_OPTIONS: tuple[Formula, ...] = (
    Formula(
        name="superheat",
        title="superheat of a tundish reading over a named liquidus",
        expression="temperature - liquidus, given by --temperature-c and --liquidus FORMULA",
        unit="degree C",
        needs=(),
        source="definition",
        status="memory",
        range_note="that of the liquidus formula; outside it there is no number",
    ),
    Formula(
        name="sum",
        title="weighted sum of contents",
        expression="as given by --of, for instance Cr+Mo+Ni or Cu+10Sn",
        unit="mass %",
        needs=(),
        source="definition; the standard that limits a sum names its members",
        status="verified",
        range_note="none; a sum",
    ),
)
