"""What a formula says about itself, and the form of a computed answer."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from heattrace.metallurgy.amount import Composition
from heattrace.metallurgy.interval import Interval, Terms, content, is_reported
from heattrace.values import dataclass

JSON_PLACES = 12


@dataclass(frozen=True, slots=True)
class Validity:
    """Contents, in mass %, for which a source states a formula; an open end is None, both ends belong to it."""

    element: str
    low: str | None
    high: str | None

    @property
    def text(self) -> str:
        """`0.05 to 0.25` or `up to 0.8`."""
        return f"up to {self.high}" if self.low is None else f"{self.low} to {self.high}"

    def holds(self, bounds: Interval) -> bool:
        """Whether every content within the bounds lies inside."""
        above = self.low is None or (bounds.low is not None and bounds.low >= Fraction(self.low))
        below = self.high is None or (bounds.high is not None and bounds.high <= Fraction(self.high))
        return above and below


@dataclass(frozen=True, slots=True)
class OutsideRange:
    """One element outside (or not surely inside) the range a source gives."""

    element: str
    seen: str
    range: str

    def as_json(self) -> dict[str, str]:
        """The promised object `{"element", "seen", "range"}`."""
        return {"element": self.element, "seen": self.seen, "range": self.range}


@dataclass(frozen=True, slots=True)
class Formula:
    """One named formula.

    `needs` must be reported; an `optional` element may be absent and then counts as zero, which only a source may say:
    no formula so far has one. `range_note` says where the range comes from. `status` is `verified` (seen printed in the
    source named) or `memory`. `terms` are the weights of a linear formula, for whole-number sums in bulk. `compute`
    gives exact bounds from a composition that reports every element; sum and superheat have none, being computed from
    their options too.
    """

    name: str
    title: str
    expression: str
    unit: str
    needs: tuple[str, ...]
    source: str
    status: str
    range_note: str
    optional: tuple[str, ...] = ()
    validity: tuple[Validity, ...] = ()
    terms: Terms = ()
    compute: Callable[[Composition], Interval] | None = None

    @property
    def range(self) -> str:
        """The validity range in words, with where it comes from."""
        stated = "; ".join(f"{v.element} {v.text}" for v in self.validity)
        return f"{stated} ({self.range_note})" if stated else self.range_note

    def outside(self, composition: Composition, as_zero: tuple[str, ...] = ()) -> tuple[OutsideRange, ...]:
        """The elements that are not surely inside the range; an unreported one only where it was taken as zero."""
        found: list[OutsideRange] = []
        for valid in self.validity:
            if is_reported(composition, valid.element):
                if not valid.holds(content(composition, valid.element)):
                    found.append(OutsideRange(valid.element, composition[valid.element].shown(), valid.text))
            elif valid.element in as_zero and valid.low is not None:
                found.append(OutsideRange(valid.element, "absent, taken as 0", valid.text))
        return tuple(found)

    def as_json(self) -> dict[str, Any]:
        """The promised object of `calc list`."""
        return {
            "formula": self.name,
            "title": self.title,
            "expression": self.expression,
            "unit": self.unit,
            "needs": list(self.needs),
            "optional": list(self.optional),
            "range": self.range,
            "source": self.source,
            "status": self.status,
        }


@dataclass(frozen=True, slots=True)
class Calculated:
    """One formula's answer: exact, with `value` None while `low` and `high` differ (None there: open, or no number).

    `used` holds the reported text of each element that entered, `absent` the elements taken as zero.
    """

    formula: str
    title: str
    value: Fraction | None
    low: Fraction | None
    high: Fraction | None
    unit: str
    source: str
    status: str
    used: tuple[tuple[str, str], ...]
    absent: tuple[str, ...]
    outside_range: tuple[OutsideRange, ...]

    def as_json(self) -> dict[str, Any]:
        """The promised `calc` data; numbers unrounded, those that do not end to 12 places."""
        return {
            "formula": self.formula,
            "title": self.title,
            "value": json_number(self.value),
            "low": json_number(self.low),
            "high": json_number(self.high),
            "unit": self.unit,
            "source": self.source,
            "status": self.status,
            "used": dict(self.used),
            "absent": list(self.absent),
            "outside_range": [seen.as_json() for seen in self.outside_range],
        }


def ends_as_decimal(value: Fraction) -> bool:
    """Whether a fraction has finitely many decimal places.

    >>> ends_as_decimal(Fraction(913, 2000)), ends_as_decimal(Fraction(131, 300))
    (True, False)
    """
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    return rest == 1


def json_number(value: Fraction | None) -> int | float | None:
    """A JSON number: exact where the value ends, else to 12 places.

    >>> json_number(Fraction(42, 125)), json_number(Fraction(131, 300)), json_number(Fraction(45, 2)), json_number(None)
    (0.336, 0.436666666667, 22.5, None)
    """
    if value is None or value.denominator == 1:
        return None if value is None else value.numerator
    return float(value if ends_as_decimal(value) else round(value, JSON_PLACES))


def shown_number(value: Fraction, places: int = 6) -> str:
    """A computed number for the eye: its own digits where there are few, else rounded and marked so.

    >>> shown_number(Fraction(42, 125)), shown_number(Fraction(131, 300))
    ('0.336', '0.436667 (rounded)')
    """
    rounded = round(value, places)
    digits = format(Decimal(rounded.numerator) / Decimal(rounded.denominator), "f")
    return digits if rounded == value else f"{digits} (rounded)"
