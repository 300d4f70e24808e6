"""The grade book shipped with the tool, and grade books as CSV text."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from functools import lru_cache
from importlib import resources

from heattrace.errors import FileRefused
from heattrace.judging.grades import find_grade, grades_from_rows
from heattrace.judging.limits import Grade

SHIPPED = "grade_book.csv"

CAUTION = (
    "The limits shipped with the tool are gathered facts, some from memory. Compare them with the edition named in the "
    "order and the codes that apply; the decision is the authorised person's."
)


def shipped_rows() -> Iterator[tuple[int, Mapping[str, str]]]:
    """Rows of the shipped grade book with their numbers in the file (the header is row 1)."""
    path = resources.files("heattrace.intake") / "shipped" / SHIPPED
    text = path.read_text(encoding="utf-8")
    yield from enumerate(csv.DictReader(text.splitlines(keepends=True)), start=2)


@lru_cache(maxsize=1)
def shipped_grades() -> tuple[Grade, ...]:
    """All grades of the shipped book.

    Raises
    ------
    FileRefused
        A row of it cannot be read: the installation is damaged.
    """
    grades, faults = grades_from_rows(shipped_rows())
    if faults:
        raise FileRefused("the shipped grade book is damaged; install the tool afresh", findings=faults)
    return tuple(grades)


def shipped_grade(text: str) -> Grade:
    """The shipped grade a text names; see `find_grade` for what is enough."""
    grades = {grade.key: grade for grade in shipped_grades()}
    return grades[find_grade(text, list(grades))]
