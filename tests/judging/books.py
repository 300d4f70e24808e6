"""Small grade books for tests, and the reading of case files."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from heattrace.intake.grade_book import shipped_grade
from heattrace.judging.grades import grades_from_rows
from heattrace.judging.limits import Grade
from heattrace.judging.requirement import Requirement

CASES = Path(__file__).parent / "cases"

ROW: Mapping[str, str] = {
    "standard": "Works Standard",
    "edition": "1",
    "grade": "W1",
    "basis": "cast",
    "size_band_mm": "all",
    "quantity": "C",
    "min": "",
    "aim": "",
    "max": "",
    "unit": "mass %",
    "rounding": "rounding",
    "round_to": "",
    "when": "",
    "report": "",
    "valid_from": "",
    "valid_until": "",
    "extends": "",
    "family": "",
    "source": "invented",
    "status": "memory",
    "notes": "",
}


def cases(name: str) -> list[dict[str, Any]]:
    """The cases of one file."""
    return list(tomllib.loads((CASES / f"{name}.toml").read_text(encoding="utf-8"))["case"])


def row(**cells: str) -> dict[str, str]:
    """A limit row of the invented grade W1, with these cells."""
    return {**ROW, **cells}


def grade_of(*rows: Mapping[str, str]) -> Grade:
    """The one grade of some rows, which must be without fault."""
    grades, faults = grades_from_rows(enumerate(rows, start=2))
    assert faults == []
    assert len(grades) == 1
    return grades[0]


def grade_of_limits(limits: Iterable[Sequence[str]]) -> Grade:
    """A grade from (quantity, min, max[, when]); ratios are absolute."""
    rows = []
    for quantity, low, high, *when in limits:
        ratio = "/" in quantity
        rows.append(
            row(
                quantity=quantity,
                min=low,
                max=high,
                unit="ratio" if ratio else "mass %",
                rounding="absolute" if ratio else "rounding",
                when=when[0] if when else "",
            )
        )
    return grade_of(*rows)


def requirement_of_case(case: Mapping[str, Any]) -> Requirement:
    """The requirement a case file describes."""
    grade = grade_of_limits(case["limits"]) if "limits" in case else shipped_grade(case["grade"])
    return Requirement(
        grade.key.text,
        grade,
        size_mm=Decimal(case["size"]) if "size" in case else None,
        form=case.get("form"),
        options=frozenset(case.get("options", [])),
        evidence=frozenset(case.get("evidence", [])),
        rounding=case.get("rounding"),
    )
