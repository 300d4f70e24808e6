"""One value against one limit: exact, by the rounding method or unrounded, with `<` and `>` as what they are."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Literal

from heattrace.judging.judgement import FAIL, PASS, UNDECIDED
from heattrace.judging.limits import ABSOLUTE, MAX, ROUNDING, Limit
from heattrace.judging.measure import Measured
from heattrace.metallurgy.amount import Amount
from heattrace.metallurgy.interval import Interval
from heattrace.metallurgy.rounding import compare, compare_bounds
from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class Beside:
    """How one value stands to one limit, in the limit's unit; `rounded` and `margin` are None where there is no one
    value."""

    verdict: str
    rounded: str | None
    margin: Fraction | None
    method: str


def compare_with(
    measured: Measured, limit: Limit, sense: str, edge: Fraction, place: Decimal | None, method: str | None = None
) -> Beside:
    """Compare a measured quantity with a limit.

    Parameters
    ----------
    edge : Fraction
        The limit in its own unit.
    place : Decimal or None
        What a value is rounded to by the rounding method; None for a limit computed from the analysis, which is met
        unrounded.
    method : str, optional
        Overrides the printed method: `absolute` or `rounding`.
    """
    how = method or limit.rounding
    if place is None:
        how = ABSOLUTE
    if measured.amount is not None and measured.amount.qualifier != "=":
        half = Fraction(place) / 2 if how == ROUNDING and place is not None else Fraction(0)
        return Beside(verdict_of_bound(measured.amount, limit.shift, sense, edge, half), None, None, how)
    bounds = in_unit(measured.bounds, limit)
    side: Literal["min", "max"] = "max" if sense == MAX else "min"
    way: Literal["rounding", "absolute"] = "rounding" if how == ROUNDING else "absolute"
    if bounds.value is None:
        return Beside(compare_bounds(bounds, edge, side, way, place), None, None, how)
    seen = compare(bounds.value, edge, side, way, place)
    rounded = None if seen.rounded is None else format(seen.rounded, "f")
    return Beside(PASS if seen.passes else FAIL, rounded, seen.margin, how)


def in_unit(bounds: Interval, limit: Limit) -> Interval:
    """Bounds in mass % (or a ratio) in the unit of a limit."""
    if limit.shift == 0:
        return bounds
    factor = Fraction(10) ** limit.shift
    return Interval(
        None if bounds.low is None else bounds.low * factor, None if bounds.high is None else bounds.high * factor
    )


def verdict_of_bound(amount: Amount, shift: int, sense: str, edge: Fraction, half: Fraction) -> str:
    """Verdict on a content reported with `<` or `>`.

    `<x` passes a maximum at or above x, cannot decide one below x, and fails a minimum above x by more than `half`, the
    half unit of the limit's last place by the rounding method and zero by the absolute; it is undecided at x. `>x` is
    the mirror image. No content is below zero, so a minimum of zero always passes.

    >>> from heattrace.metallurgy.amount import read_amount
    >>> below = read_amount("<0.002")
    >>> [verdict_of_bound(below, 0, "max", Fraction(m), Fraction(0)) for m in ("0.005", "0.002", "0.001")]
    ['pass', 'pass', 'undecided']
    """
    if amount.value is None:
        return UNDECIDED
    x = Fraction(amount.value) * Fraction(10) ** shift
    if amount.qualifier == "<":
        if sense == MAX:
            return PASS if x <= edge else UNDECIDED
        if edge <= 0:
            return PASS
        return FAIL if edge > x + half else UNDECIDED
    if sense == MAX:
        return FAIL if edge < x - half else UNDECIDED
    return PASS if x >= edge else UNDECIDED
