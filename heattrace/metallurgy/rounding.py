"""Rounding for the verdict and showing for the eye, in exact decimals and fractions; never through a float.

The rounding method of ASTM E29: round the final value, once, to the last place of the limit as printed, exact halves to
the even digit (ISO 80000-1 Annex B rule A does the same), then compare. The absolute method compares unrounded. An
order that names neither leaves the method open, so it is always shown beside the verdict.
"""

from __future__ import annotations

from decimal import Context, Decimal, Inexact
from fractions import Fraction
from typing import Literal

from heattrace.metallurgy.interval import Interval
from heattrace.values import dataclass

Exact = Decimal | Fraction | int
Sense = Literal["min", "max"]
Method = Literal["rounding", "absolute"]
Bound = str | Decimal | Fraction
Verdict = Literal["pass", "fail", "undecided"]

_WIDE = Context(prec=400, traps=[Inexact])


def last_place(text: str) -> Decimal:
    """The unit of the last printed place of a limit.

    >>> last_place("0.20"), last_place("0.2"), last_place("57")
    (Decimal('0.01'), Decimal('0.1'), Decimal('1'))
    """
    exponent = Decimal(text).as_tuple().exponent
    if not isinstance(exponent, int):
        raise ValueError(f'"{text}" is not a number')
    return Decimal((0, (1,), exponent))


def places_of(text: str) -> int:
    """Digits printed after the decimal point: `0.20` has 2, `57` has 0."""
    exponent = last_place(text).as_tuple().exponent
    return max(0, -int(exponent))


def round_to(value: Exact, place: Decimal | int) -> Decimal:
    """Round once to a place, an exact half to the even multiple (ASTM E29).

    Parameters
    ----------
    value : Decimal, Fraction or int
        Exact. A float is refused: 2.15 as a float lies below 2.15 and would round to 2.1.
    place : Decimal or int
        A Decimal is the unit to round to (`0.01`, also `0.005` or `5`); an int is a number of decimal places.

    Examples
    --------
    >>> round_to(Decimal("2.15"), 1), round_to(Decimal("3.965"), Decimal("0.01")), round_to(Fraction(913, 2000), 2)
    (Decimal('2.2'), Decimal('3.96'), Decimal('0.46'))
    """
    if isinstance(value, float):
        raise TypeError("a float has lost the reported digits; give a Decimal or a Fraction")
    unit = Decimal((0, (1,), -place)) if isinstance(place, int) else place
    if unit <= 0:
        raise ValueError(f"{place} is no place to round to")
    return _WIDE.multiply(Decimal(round(Fraction(value) / Fraction(unit))), unit)


@dataclass(frozen=True, slots=True)
class Compared:
    """One value beside one limit: `rounded` is what was compared (None by the absolute method), `margin` is unrounded.

    The margin is limit less value for a maximum and value less limit for a minimum.
    """

    sense: Sense
    method: Method
    rounded: Decimal | None
    margin: Fraction
    passes: bool


def compare(
    value: Exact, limit: Bound, sense: Sense, method: Method = "rounding", place: Decimal | None = None
) -> Compared:
    """Compare an exact value with a limit.

    Parameters
    ----------
    limit : str, Decimal or Fraction
        A printed limit as its text or as the Decimal read from it: its last place is the place of rounding. A Fraction
        is a limit computed from the analysis; it has no printed place and is compared unrounded unless `place` is
        given.
    place : Decimal, optional
        Another place of rounding, where the limit's row names one.

    Examples
    --------
    >>> compare(Decimal("56.5"), "57", "min").rounded, compare(Decimal("56.5"), "57", "min").passes
    (Decimal('56'), False)
    >>> compare(Decimal("0.0354"), "0.035", "max").passes, compare(Decimal("0.0354"), "0.035", "max", "absolute").passes
    (True, False)
    """
    bound = Decimal(limit) if isinstance(limit, str) else limit
    exact, edge = Fraction(value), Fraction(bound)
    margin = edge - exact if sense == "max" else exact - edge
    unit = place
    if unit is None and isinstance(bound, Decimal):
        unit = last_place(str(bound))
    if method == "absolute" or unit is None:
        return Compared(sense, "absolute", None, margin, margin >= 0)
    rounded = round_to(value, unit)
    return Compared(sense, method, rounded, margin, rounded <= edge if sense == "max" else rounded >= edge)


def compare_bounds(
    bounds: Interval, limit: Bound, sense: Sense, method: Method = "rounding", place: Decimal | None = None
) -> Verdict:
    """Verdict on a computed quantity known by its bounds: decided only where both ends agree.

    >>> compare_bounds(Interval(Fraction("0.431"), Fraction("0.433")), "0.45", "max")
    'pass'
    >>> compare_bounds(Interval(Fraction("0.431"), Fraction("0.446")), "0.44", "max")
    'undecided'
    >>> compare_bounds(Interval(Fraction("0.46"), None), "0.45", "max")
    'fail'
    """
    near, far = (bounds.low, bounds.high) if sense == "max" else (bounds.high, bounds.low)
    if far is not None and compare(far, limit, sense, method, place).passes:
        return "pass"
    if near is not None and not compare(near, limit, sense, method, place).passes:
        return "fail"
    return "undecided"


def show(value: Exact, places: int) -> str:
    """A value for the eye, rounded to a number of places; never used to compare.

    >>> show(Fraction(131, 300), 4), show(1475, 0)
    ('0.4367', '1475')
    """
    return format(round_to(value, places), "f")


def show_beside(value: Exact, limit: Bound, sense: Sense, passes: bool, place: Decimal | None = None) -> str:
    """A judged value for the eye: as few digits as the limit has, but a refused value never in digits that would pass.

    >>> show_beside(Decimal("0.2049"), "0.20", "max", passes=True)
    '0.20'
    >>> show_beside(Decimal("0.2049"), "0.20", "max", passes=False)
    '0.205'
    >>> show_beside(Fraction(1998, 100), "20", "min", passes=False)
    '19.98'
    """
    bound = Decimal(limit) if isinstance(limit, str) else limit
    unit = place if place is not None else last_place(str(bound)) if isinstance(bound, Decimal) else Decimal("0.01")
    text = format(round_to(value, unit), "f")
    if passes:
        return text
    places = places_of(str(unit))
    # A value outside the limit differs from it in some digit, so the loop ends; one refused only because its row
    # rounds to a coarser place than the limit's already shows so at that place.
    outside = not compare(value, bound, sense, "absolute").passes
    while outside and compare(Decimal(text), bound, sense, "absolute").passes:
        places += 1
        text = show(value, places)
    return text
