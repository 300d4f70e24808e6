"""Limits of a grade as printed: keys, size bands, and the digits that decide how a value is rounded."""

from __future__ import annotations

import re
from decimal import Decimal

from heattrace.metallurgy.amount import UNIT_SHIFT, shift_point
from heattrace.values import dataclass

MIN, MAX, REQUIRES = "min", "max", "requires"
ROUNDING, ABSOLUTE = "rounding", "absolute"
CAST, PRODUCT, BOTH = "cast", "product", "both"
RATIO = "ratio"

_BAND = re.compile(
    r"(?:(?P<above>\d+(?:\.\d+)?)<)?(?P<name>t|flange)(?:<=(?P<up_to>\d+(?:\.\d+)?)|>(?P<over>\d+(?:\.\d+)?))?"
)


@dataclass(frozen=True, slots=True, order=True)
class GradeKey:
    """What names a grade: standard, edition and grade; each may hold blanks. A delivery condition is no part of it."""

    standard: str
    edition: str
    grade: str

    @property
    def text(self) -> str:
        """The key as it is written: `EN 10025-2:2004 S355J2`."""
        return f"{self.standard}:{self.edition} {self.grade}"


@dataclass(frozen=True, slots=True)
class Band:
    """A size band: `dimension` is `all`, `t` (thickness of the ordered product, mm) or `flange`; open ends are None."""

    text: str
    dimension: str
    above: Decimal | None = None
    up_to: Decimal | None = None

    def holds(self, size: Decimal) -> bool:
        """Whether a size in mm lies inside; the lower edge is outside, the upper inside."""
        return (self.above is None or size > self.above) and (self.up_to is None or size <= self.up_to)


WHOLE = Band("all", "all")


def parse_band(text: str) -> Band:
    """Read `all`, `a<t<=b`, `t<=b` or `t>a`; `flange` may stand for `t`. Edges in mm.

    Raises
    ------
    ValueError
        It is none of these, or its edges are crossed.

    Examples
    --------
    >>> parse_band("16<t<=40").holds(Decimal(40)), parse_band("t>40").holds(Decimal(40))
    (True, False)
    """
    plain = re.sub(r"\s+", "", text.replace("≤", "<="))
    if plain == "all":
        return WHOLE
    found = _BAND.fullmatch(plain)
    if not found or not (found["up_to"] or found["over"]) or (found["above"] and not found["up_to"]):
        raise ValueError(f'"{text}" is no size band; expected all, a<t<=b, t<=b or t>a')
    lower = found["above"] or found["over"]
    above = Decimal(lower) if lower else None
    up_to = Decimal(found["up_to"]) if found["up_to"] else None
    if above is not None and up_to is not None and above >= up_to:
        raise ValueError(f'"{text}": the lower edge is not below the upper')
    return Band(plain, found["name"], above, up_to)


@dataclass(frozen=True, slots=True)
class Limit:
    """One row of a grade book. Texts keep the printed digits: `0.20` and `0.2` are rounded to differently.

    `quantity` is the name the tool computes by, `printed` the word of the book (`CEV`, `Al_total`); a row with neither
    `min_text` nor `max_text` prints no limit and says with `report` whether the quantity must be reported all the same.
    `row` is the row of the file, 0 where the limit came from elsewhere.
    """

    key: GradeKey
    basis: str
    band: Band
    quantity: str
    printed: str
    min_text: str
    max_text: str
    unit: str
    rounding: str = ROUNDING
    round_to: str = ""
    when: str = ""
    report: bool = False
    aim_text: str = ""
    source: str = ""
    status: str = "memory"
    notes: str = ""
    valid_from: str = ""
    valid_until: str = ""
    row: int = 0

    def text(self, sense: str) -> str:
        """The printed digits of one side, empty where that side has no limit."""
        return self.min_text if sense == MIN else self.max_text if sense == MAX else ""

    @property
    def shift(self) -> int:
        """Powers of ten from mass % to the unit of this limit: 0 for mass %, 4 for mg/kg."""
        return 0 if self.unit == RATIO else -UNIT_SHIFT[self.unit]

    def in_unit(self, digits: str) -> str:
        """Digits in mass % written in this limit's unit, the point shifted, no digit added."""
        return shift_point(digits, self.shift)


@dataclass(frozen=True, slots=True)
class Grade:
    """A grade edition and all its limits, those of the grade it extends included. `family` picks works values."""

    key: GradeKey
    limits: tuple[Limit, ...]
    family: str = ""
    extends: str = ""

    def specified(self) -> frozenset[str]:
        """The quantities for which some row prints a minimum."""
        return frozenset(limit.quantity for limit in self.limits if limit.min_text)

    def is_memory(self) -> bool:
        """Whether any of its limits was never seen in a source."""
        return any(limit.status != "verified" for limit in self.limits)
