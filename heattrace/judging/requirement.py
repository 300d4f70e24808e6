"""What steel is judged against: a grade edition and what the order says beside it."""

from __future__ import annotations

from decimal import Decimal

from heattrace.judging.limits import Grade, Limit
from heattrace.values import dataclass, field

# `form` names and what else each of them is: plate is flat; bar, section and light-shape are long.
FORMS: dict[str, frozenset[str]] = {
    "flat": frozenset({"flat"}),
    "plate": frozenset({"plate", "flat"}),
    "long": frozenset({"long"}),
    "bar": frozenset({"bar", "long"}),
    "section": frozenset({"section", "long"}),
    "light-shape": frozenset({"light-shape", "section", "long"}),
    "hollow": frozenset({"hollow"}),
}


@dataclass(frozen=True, slots=True)
class Requirement:
    """One requirement: `text` is `ORDER/LINE` or the grade's key.

    `size_mm` is the thickness of the ordered product, never of the bloom; `flange_mm` and `area_mm2` belong to the same
    product; `form`, sizes and area not stated are unknown, an option or an evidence not stated is false.
    `rounding` set to `absolute` overrides the printed method of every limit; `guard_band` is r of the band r x U, as
    ordered. `order_limits` are further limits of the order line.
    """

    text: str
    grade: Grade
    order_line: str | None = None
    size_mm: Decimal | None = None
    form: str | None = None
    options: frozenset[str] = frozenset()
    evidence: frozenset[str] = frozenset()
    flange_mm: Decimal | None = None
    area_mm2: Decimal | None = None
    guard_band: str = "0"
    rounding: str | None = None
    order_limits: tuple[Limit, ...] = field(default=())

    def size(self, dimension: str) -> Decimal | None:
        """The stated size that a band's dimension asks for, mm; None where it is unknown."""
        return self.flange_mm if dimension == "flange" else self.size_mm

    def limits(self) -> tuple[Limit, ...]:
        """All limits that stand for this requirement."""
        return self.grade.limits + self.order_limits


def requirement_of(grade: Grade) -> Requirement:
    """The bare requirement of a grade, with nothing known of the product."""
    return Requirement(grade.key.text, grade)
