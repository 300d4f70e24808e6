"""Exact bounds of a content or a computed quantity: what is known when a report says `<`, `>` or nothing."""

from __future__ import annotations

from decimal import Context, Decimal, Inexact
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import NamedTuple

from heattrace.errors import FormulaError
from heattrace.metallurgy.amount import NOT_REPORTED, Amount, Composition

Terms = tuple[tuple[str, Fraction], ...]

# Contents have a handful of digits; one of more than MOST_DIGITS is no content, so that every sum fits and is exact.
MOST_DIGITS = 100
WHOLE_PCT = 100
EXACT = Context(prec=400, traps=[Inexact])

TAKEN_AS_ZERO = Amount("=", Decimal(0), "0")
# A content nobody reported is still not below zero: it lies anywhere from zero up.
ANYTHING = Amount(">", Decimal(0), "0")


class Interval(NamedTuple):
    """Least and greatest value the reports allow; None is an open end. Unpacks as `low, high`."""

    low: Fraction | None
    high: Fraction | None

    @property
    def value(self) -> Fraction | None:
        """The value where both ends agree, else None."""
        return self.low if self.low is not None and self.low == self.high else None


UNKNOWN = Interval(None, None)


def point(value: Decimal | Fraction | int) -> Interval:
    """Interval of one exactly known value."""
    exact = Fraction(value)
    return Interval(exact, exact)


def hull(first: Interval, second: Interval) -> Interval:
    """Smallest interval that holds both."""
    low = None if first.low is None or second.low is None else min(first.low, second.low)
    high = None if first.high is None or second.high is None else max(first.high, second.high)
    return Interval(low, high)


def is_reported(composition: Composition, element: str) -> bool:
    """True where the element has a result, also `<` or `>`."""
    amount = composition.get(element)
    return amount is not None and amount.qualifier != NOT_REPORTED


def ends(composition: Composition, element: str) -> tuple[Decimal | None, Decimal | None]:
    """Least and greatest reported content, mass %.

    Raises
    ------
    FormulaError
        The content is below zero or above 100: no steel has it, and no bound of a formula would hold. Or it has
        endless digits.
    """
    amount = composition[element]
    if len(amount.text) > MOST_DIGITS:
        raise FormulaError(f"{element} is reported with {len(amount.text)} digits; that is no content")
    low, high = amount.low(), amount.high()
    if (low is not None and low < 0) or (high is not None and high < 0):
        raise FormulaError(f"{element} is reported as {amount.shown()}: a content below zero cannot enter a formula")
    if (low is not None and low > WHOLE_PCT) or (high is not None and high > WHOLE_PCT):
        raise FormulaError(f"{element} is reported as {amount.shown()}: contents are mass %, at most 100")
    return low, high


def content(composition: Composition, element: str) -> Interval:
    """Bounds of one reported content, mass %.

    >>> from heattrace.metallurgy.amount import read_chem
    >>> content(read_chem("C=0.18 N=<0.0020"), "N")
    Interval(low=Fraction(0, 1), high=Fraction(1, 500))
    """
    low, high = ends(composition, element)
    return Interval(None if low is None else Fraction(low), None if high is None else Fraction(high))


def lacking(composition: Composition, elements: tuple[str, ...]) -> tuple[str, ...]:
    """Those of `elements` that are not reported."""
    return tuple(e for e in elements if not is_reported(composition, e))


def require(composition: Composition, elements: tuple[str, ...]) -> None:
    """Refuse a composition that lacks a needed element: not determined is not zero.

    Raises
    ------
    FormulaError
        Names every element that is absent.
    """
    absent = lacking(composition, elements)
    if absent:
        raise FormulaError(f"not reported: {', '.join(absent)}; all of {', '.join(elements)} are needed")


def filled(composition: Composition, elements: tuple[str, ...], filler: Amount) -> Composition:
    """The composition with every unreported one of `elements` replaced by `filler`."""
    added = dict.fromkeys(lacking(composition, elements), filler)
    return {**composition, **added} if added else composition


@lru_cache(maxsize=256)
def whole_numbers(terms: Terms) -> tuple[int, tuple[tuple[str, int], ...]]:
    """Common divisor and whole weights of a weighted sum.

    >>> whole_numbers((("C", Fraction(1)), ("Mn", Fraction(1, 6)), ("Ni", Fraction(1, 15))))
    (30, (('C', 30), ('Mn', 5), ('Ni', 2)))
    """
    divisor = lcm(*(weight.denominator for _, weight in terms))
    return divisor, tuple((element, int(weight * divisor)) for element, weight in terms)


def weighted(**weights: int | str) -> Terms:
    """Terms from weights as printed: `weighted(C=1, Mn="1/6")`; decimals are read exactly."""
    return tuple((element, Fraction(weight)) for element, weight in weights.items())


def elements_of(terms: Terms) -> tuple[str, ...]:
    """Element symbols of a weighted sum, in its order."""
    return tuple(element for element, _ in terms)


def weighted_sum(terms: Terms, composition: Composition) -> Interval:
    """Exact bounds of a weighted sum of contents; a negative weight takes the other end of its content.

    Raises
    ------
    FormulaError
        An element of the sum is absent (all such are named) or reported below zero.

    Examples
    --------
    >>> from heattrace.metallurgy.amount import read_chem
    >>> bounds = weighted_sum((("Cu", Fraction(1)), ("Mo", Fraction(-1, 50))), read_chem("Cu=0.30 Mo=<0.05"))
    >>> [str(end) for end in bounds]
    ['299/1000', '3/10']
    """
    require(composition, elements_of(terms))
    divisor, weights = whole_numbers(terms)
    low: Decimal | None = Decimal(0)
    high: Decimal | None = Decimal(0)
    for element, weight in weights:
        least, greatest = ends(composition, element)
        if weight < 0:
            least, greatest = greatest, least
        low = None if low is None or least is None else EXACT.fma(least, weight, low)
        high = None if high is None or greatest is None else EXACT.fma(greatest, weight, high)
    return Interval(
        None if low is None else Fraction(low) / divisor,
        None if high is None else Fraction(high) / divisor,
    )


def quotient(dividend: Interval, divisor: Interval) -> Interval:
    """Bounds of a ratio of two contents, both at or above zero.

    A divisor that may be as small as zero (`<0.002`) leaves the ratio open above.

    >>> quotient(Interval(Fraction(1), Fraction(2)), Interval(Fraction(0), Fraction(4)))
    Interval(low=Fraction(1, 4), high=None)
    """
    low: Fraction | None = None
    if dividend.low is not None:
        low = Fraction(0) if divisor.high is None else dividend.low / divisor.high
    high = dividend.high / divisor.low if dividend.high is not None and divisor.low else None
    return Interval(low, high)


def ratio_of(composition: Composition, dividend: str, divisor: str) -> Interval:
    """Bounds of the ratio of two reported contents.

    Raises
    ------
    FormulaError
        One of the two is absent, or the divisor is reported as zero.
    """
    require(composition, (dividend, divisor))
    below = content(composition, divisor)
    if below.high == 0:
        raise FormulaError(
            f"{divisor} is reported as {composition[divisor].shown()}: {dividend}/{divisor} has no value; "
            "no steel is free of it, report it with < and the quantification limit"
        )
    return quotient(content(composition, dividend), below)


def plus(first: Interval, second: Interval) -> Interval:
    """Bounds of a sum of two intervals."""
    return Interval(
        None if first.low is None or second.low is None else first.low + second.low,
        None if first.high is None or second.high is None else first.high + second.high,
    )


def scaled(weight: Fraction, bounds: Interval) -> Interval:
    """Bounds times a weight above zero."""
    return Interval(*(None if end is None else weight * end for end in bounds))


def less(value: Fraction, taken: Interval) -> Interval:
    """Bounds of `value` less an interval."""
    return Interval(
        None if taken.high is None else value - taken.high,
        None if taken.low is None else value - taken.low,
    )
