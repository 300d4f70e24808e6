"""What judging gives: one line per limit and sense, and the verdict of the whole."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from heattrace.findings import Finding
from heattrace.values import dataclass

PASS, FAIL, UNDECIDED, NOT_REPORTED, WAIVED = "pass", "fail", "undecided", "not-reported", "waived"
MEETS, FAILS = "meets", "fails"
# From worst to best, for the one verdict of several that stand together.
SEVERITY: Mapping[str, int] = {FAIL: 4, UNDECIDED: 3, NOT_REPORTED: 2, PASS: 1, WAIVED: 0}


@dataclass(frozen=True, slots=True)
class Judged:
    """One limit against one composition.

    `limit` and `reported` keep digits, in the limit's unit. `value` is unrounded and None where it is only known to lie
    between `low` and `high` (None: open). `margin` is limit less value for a maximum, value less limit for a minimum,
    unrounded. `rounded` is what met the limit, empty where nothing was rounded. `method` is `rounding` or `absolute`.
    """

    quantity: str
    sense: str
    limit: str
    reported: str | None
    value: Fraction | None
    low: Fraction | None
    high: Fraction | None
    rounded: str | None
    group: str | None
    alternative: str | None
    method: str
    margin: Fraction | None
    verdict: str
    note: str
    source: str
    status: str
    unit: str = "mass %"
    computed: bool = False
    guarded: str = "none"

    def as_json(self) -> dict[str, Any]:
        """The promised object of one limit."""
        group = None if self.group is None else {"name": self.group, "alternative": self.alternative}
        bounds = self.computed or self.value is None
        return {
            "quantity": self.quantity,
            "sense": self.sense,
            "limit": self.limit,
            "reported": self.reported,
            "value": self.value,
            "low": self.low if bounds else None,
            "high": self.high if bounds else None,
            "rounded": self.rounded,
            "group": group,
            "method": self.method,
            "margin": self.margin,
            "verdict": self.verdict,
            "guarded": self.guarded,
            "note": self.note,
            "source": self.source,
            "status": self.status,
        }


@dataclass(frozen=True, slots=True)
class Superheat:
    """A tundish reading less the liquidus of the analysis, degree C, exact.

    `liquidus_c` and `superheat_c` are None where there is no number, and where a content reported with `<` leaves only
    bounds: those stand in the low and high ends.
    """

    tundish: str | None
    read_at: str
    temperature_c: str
    liquidus_formula: str
    liquidus_c: Fraction | None
    superheat_c: Fraction | None
    liquidus_low_c: Fraction | None = None
    liquidus_high_c: Fraction | None = None
    superheat_low_c: Fraction | None = None
    superheat_high_c: Fraction | None = None

    def as_json(self) -> dict[str, Any]:
        """The promised object of one reading, and the bounds beside it."""
        return {
            "tundish": self.tundish,
            "read_at": self.read_at,
            "temperature_c": self.temperature_c,
            "liquidus_formula": self.liquidus_formula,
            "liquidus_c": self.liquidus_c,
            "superheat_c": self.superheat_c,
            "liquidus_low_c": self.liquidus_low_c,
            "liquidus_high_c": self.liquidus_high_c,
            "superheat_low_c": self.superheat_low_c,
            "superheat_high_c": self.superheat_high_c,
        }


@dataclass(frozen=True, slots=True)
class Judgement:
    """A subject against a requirement.

    `verdict` is `meets`, `fails` or `undecided`; undecided never ships. `grade` is the key as written, `edition` its
    edition, `size_mm` the stated thickness as text. `missing` names what would have to be reported; `remarks` are words
    for a person about rows that print no limit here. `findings` carry the reason codes.
    """

    subject: str
    requirement: str
    grade: str
    edition: str
    basis: str
    size_mm: str | None
    verdict: str
    limits: tuple[Judged, ...]
    missing: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    guard_band: str = "0"
    both_ways: str = "not-in-force"
    cev: Mapping[str, Any] | None = None
    superheat: tuple[Superheat, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The promised `judge` object; exact numbers stay exact and are written out by the printing side."""
        return {
            "subject": self.subject,
            "grade": self.grade,
            "edition": self.edition,
            "basis": self.basis,
            "size_mm": self.size_mm,
            "verdict": self.verdict,
            "limits": [judged.as_json() for judged in self.limits],
            "guard_band": self.guard_band,
            "missing": list(self.missing),
            "both_ways": self.both_ways,
            "cev": None if self.cev is None else dict(self.cev),
            "superheat": [reading.as_json() for reading in self.superheat],
        }

    def failed(self) -> tuple[Judged, ...]:
        """The limits that are not met."""
        return tuple(j for j in self.limits if j.verdict == FAIL)

    def open(self) -> tuple[Judged, ...]:
        """The limits that are neither met nor missed."""
        return tuple(j for j in self.limits if j.verdict in (UNDECIDED, NOT_REPORTED))
