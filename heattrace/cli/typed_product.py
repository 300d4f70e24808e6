"""The ordered product as typed beside a grade, and the requirement it gives."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from heattrace.errors import WrongUsage
from heattrace.judging.limits import ABSOLUTE, Grade
from heattrace.judging.requirement import FORMS, Requirement
from heattrace.metallurgy.amount import AmountUnreadable, read_number
from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class Product:
    """What was typed of the ordered product, as typed."""

    size: str | None = None
    form: str | None = None
    options: tuple[str, ...] = ()
    evidence: tuple[str, ...] = ()
    flange: str | None = None
    area: str | None = None
    rounding: str | None = None


def typed_requirement(grade: Grade, product: Product) -> Requirement:
    """A requirement from what was typed beside a grade.

    Raises
    ------
    WrongUsage
        A size is no number above zero, a form is unknown, or the rounding is not `absolute`.
    """
    if product.form is not None and product.form not in FORMS:
        raise WrongUsage(f'--form: "{product.form}" is none of {", ".join(FORMS)}')
    if product.rounding not in (None, ABSOLUTE):
        raise WrongUsage(f'--rounding takes the word "{ABSOLUTE}", not "{product.rounding}"')
    return Requirement(
        grade.key.text,
        grade,
        size_mm=_number("--size", product.size),
        form=product.form,
        options=_names(product.options),
        evidence=_names(product.evidence),
        flange_mm=_number("--flange", product.flange),
        area_mm2=_number("--area", product.area),
        rounding=product.rounding,
    )


def _names(texts: Sequence[str]) -> frozenset[str]:
    return frozenset(name.strip() for text in texts for name in text.split(";") if name.strip())


def _number(option: str, text: str | None) -> Decimal | None:
    if text is None:
        return None
    try:
        value = read_number(text)[0]
    except AmountUnreadable as fault:
        raise WrongUsage(f'{option}: "{text}" is unreadable: {fault.reason}; write it as 20 or 12.5') from None
    if value <= 0:
        raise WrongUsage(f"{option}: {text} is not above zero")
    return value
