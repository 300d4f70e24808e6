"""All formulas by name: what each says of itself, one answer for a person, and exact bounds for judging.

Not determined is not zero: `calc` refuses a composition that lacks a needed element unless it is told to take absent
ones as zero. `evaluate`, for judging, treats an absent member as anything from zero up, which leaves the quantity open
on the side it could move: steel over a limit already fails, and none passes on a content nobody reported.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from heattrace.errors import FormulaError, WrongUsage
from heattrace.metallurgy.amount import Composition
from heattrace.metallurgy.cracking import CRACKING
from heattrace.metallurgy.equivalents import EQUIVALENTS
from heattrace.metallurgy.formula import Calculated, Formula, OutsideRange
from heattrace.metallurgy.interval import (
    ANYTHING,
    TAKEN_AS_ZERO,
    UNKNOWN,
    Interval,
    content,
    elements_of,
    filled,
    lacking,
    ratio_of,
    weighted_sum,
)
from heattrace.metallurgy.liquidus import LIQUIDUS, superheat_c
from heattrace.metallurgy.quantity import Quantity, parse_quantity, parse_terms, sum_name
from heattrace.metallurgy.ratios import RATIOS, WITH_OPTIONS

FORMULAS: Mapping[str, Formula] = MappingProxyType(
    {formula.name: formula for formula in (*EQUIVALENTS, *CRACKING, *LIQUIDUS, *RATIOS, *WITH_OPTIONS)}
)
LIQUIDUS_NAMES: tuple[str, ...] = tuple(formula.name for formula in LIQUIDUS)


def formula_named(name: str, among: Sequence[str] = ()) -> Formula:
    """The formula of that name.

    Raises
    ------
    WrongUsage
        There is none (or none `among` those asked for); the nearest names are offered.
    """
    names = tuple(among) or tuple(FORMULAS)
    if name in names:
        return FORMULAS[name]
    from difflib import get_close_matches

    near = get_close_matches(name.lower(), names, n=3, cutoff=0.4)
    offer = f"; nearest: {', '.join(near)}" if near else ""
    raise WrongUsage(f'no formula "{name}"{offer}; "heattrace calc list" shows all')


def formula_list_json() -> list[dict[str, Any]]:
    """The promised `formulas` of `calc list`."""
    return [formula.as_json() for formula in FORMULAS.values()]


def calc(
    name: str,
    composition: Composition,
    *,
    absent_zero: bool = False,
    temperature_c: Decimal | None = None,
    liquidus: str | None = None,
    of: str | None = None,
) -> Calculated:
    """Compute one formula.

    Parameters
    ----------
    name : str
        As in `FORMULAS`.
    absent_zero : bool
        Take needed elements that are absent as zero; they are listed in `absent`.
    temperature_c, liquidus
        For `superheat`: the reading and the liquidus formula.
    of : str
        For `sum`: the weighted sum.

    Raises
    ------
    WrongUsage
        The formula's name, or an option of it, is off.
    FormulaError
        Needed elements are absent (all are named), a content is below zero, or a divisor is zero.

    Examples
    --------
    >>> from heattrace.metallurgy.amount import read_chem
    >>> answer = calc("cev", read_chem("C=0.26 Mn=1.00 Cr=0.04 Mo=0.01"), absent_zero=True)
    >>> answer.as_json()["value"], answer.absent
    (0.436666666667, ('V', 'Ni', 'Cu'))
    """
    formula = formula_named(name)
    if name != "superheat" and (temperature_c is not None or liquidus is not None):
        raise WrongUsage(f"{name} takes neither --temperature-c nor --liquidus; superheat does")
    if name != "sum" and of is not None:
        raise WrongUsage(f"{name} takes no --of; sum does")
    if name == "superheat":
        return _superheat(composition, absent_zero, temperature_c, liquidus)
    if name == "sum":
        return _sum(composition, absent_zero, of)
    return _one(formula, composition, absent_zero)


def _one(formula: Formula, composition: Composition, absent_zero: bool) -> Calculated:
    absent = _absent(formula.name, composition, formula.needs, formula.optional, absent_zero)
    steel = filled(composition, absent, TAKEN_AS_ZERO)
    if formula.compute is None:
        raise WrongUsage(f"{formula.name} is computed from its options")
    bounds = formula.compute(steel)
    members = (*formula.needs, *formula.optional)
    return _answer(formula, bounds, composition, members, absent, formula.outside(composition, absent))


def _superheat(
    composition: Composition, absent_zero: bool, temperature_c: Decimal | None, liquidus: str | None
) -> Calculated:
    if temperature_c is None or liquidus is None:
        raise WrongUsage(
            "superheat needs --temperature-c and --liquidus FORMULA, one of "
            f"{', '.join(LIQUIDUS_NAMES)}; formulas differ by degrees, so none is taken unasked"
        )
    line = _one(formula_named(liquidus, LIQUIDUS_NAMES), composition, absent_zero)
    bounds = superheat_c(temperature_c, Interval(line.low, line.high))
    if line.outside_range:
        bounds = UNKNOWN
    return Calculated(
        formula="superheat",
        title=f"superheat of {temperature_c} degree C over {liquidus}",
        value=bounds.value,
        low=bounds.low,
        high=bounds.high,
        unit="degree C",
        source=f"{FORMULAS['superheat'].source}; liquidus: {line.source}",
        status="memory" if "memory" in (FORMULAS["superheat"].status, line.status) else "verified",
        used=line.used,
        absent=line.absent,
        outside_range=line.outside_range,
    )


def _sum(composition: Composition, absent_zero: bool, of: str | None) -> Calculated:
    if not of or not of.strip():
        raise WrongUsage("sum needs --of, for instance --of Cr+Mo+Ni or --of Cu+10Sn")
    try:
        terms = parse_terms(of.strip())
    except FormulaError as fault:
        raise WrongUsage(f"--of: {fault}") from None
    members = elements_of(terms)
    absent = _absent("sum", composition, members, (), absent_zero)
    bounds = weighted_sum(terms, filled(composition, absent, TAKEN_AS_ZERO))
    answer = _answer(FORMULAS["sum"], bounds, composition, members, absent, ())
    return Calculated(
        formula="sum",
        title=f"weighted sum {sum_name(terms)}",
        value=answer.value,
        low=answer.low,
        high=answer.high,
        unit=answer.unit,
        source=answer.source,
        status=answer.status,
        used=answer.used,
        absent=answer.absent,
        outside_range=(),
    )


def _absent(
    name: str, composition: Composition, needs: tuple[str, ...], optional: tuple[str, ...], absent_zero: bool
) -> tuple[str, ...]:
    """Elements to be taken as zero, in the formula's order; refused where zero was not asked for."""
    absent = lacking(composition, needs)
    if absent and not absent_zero:
        raise FormulaError(
            f"{name} needs {', '.join(absent)}, not reported here; not determined is not zero: "
            "report them, or give --absent zero where zero is known to be right"
        )
    return absent + lacking(composition, optional)


def _answer(
    formula: Formula,
    bounds: Interval,
    composition: Composition,
    members: tuple[str, ...],
    absent: tuple[str, ...],
    outside: tuple[OutsideRange, ...],
) -> Calculated:
    used = tuple((element, composition[element].shown()) for element in members if element not in absent)
    return Calculated(
        formula=formula.name,
        title=formula.title,
        value=bounds.value,
        low=bounds.low,
        high=bounds.high,
        unit=formula.unit,
        source=formula.source,
        status=formula.status,
        used=used,
        absent=absent,
        outside_range=outside,
    )


def members_of(quantity: Quantity | str) -> tuple[str, ...]:
    """The elements a quantity is computed from; of a formula also the optional ones."""
    asked = parse_quantity(quantity) if isinstance(quantity, str) else quantity
    if asked.kind == "formula":
        formula = FORMULAS[asked.formula]
        return (*formula.needs, *formula.optional)
    return elements_of(asked.terms) + ((asked.divisor,) if asked.divisor else ())


def missing_members(quantity: Quantity | str, composition: Composition) -> tuple[str, ...]:
    """The needed elements of a quantity that the composition does not report."""
    asked = parse_quantity(quantity) if isinstance(quantity, str) else quantity
    needs = FORMULAS[asked.formula].needs if asked.kind == "formula" else members_of(asked)
    return lacking(composition, needs)


def evaluate(quantity: Quantity | str, composition: Composition) -> Interval:
    """Exact bounds of a quantity for judging, mass %, a ratio, or degree C for a liquidus.

    An unreported member counts as anything from zero up; a quantity of which nothing is reported, or a ratio whose
    divisor is reported as zero, is unknown on both sides.

    Examples
    --------
    >>> from heattrace.metallurgy.amount import read_chem
    >>> [str(end) for end in evaluate("Cr+Mo+Ni", read_chem("Cr=0.25 Ni=0.35"))]
    ['3/5', 'None']
    >>> [str(end) for end in evaluate("Mn/S", read_chem("Mn=0.45 S=0.020"))]
    ['45/2', '45/2']
    """
    asked = parse_quantity(quantity) if isinstance(quantity, str) else quantity
    members = members_of(asked)
    missing = missing_members(asked, composition)
    if len(missing) == len(members):
        return UNKNOWN
    steel = filled(composition, missing, ANYTHING)
    if asked.kind == "formula":
        formula = FORMULAS[asked.formula]
        if formula.name == "mn-s":
            return _ratio(steel, "Mn", "S")
        if formula.compute is None:
            return UNKNOWN
        return formula.compute(filled(steel, formula.optional, TAKEN_AS_ZERO))
    if asked.kind == "ratio":
        return _ratio(steel, asked.terms[0][0], asked.divisor)
    return weighted_sum(asked.terms, steel)


def _ratio(steel: Composition, dividend: str, divisor: str) -> Interval:
    return UNKNOWN if content(steel, divisor).high == 0 else ratio_of(steel, dividend, divisor)
