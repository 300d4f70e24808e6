"""Where a command takes its grades from: the record where there is one, else the book shipped with the tool."""

from __future__ import annotations

from collections.abc import Sequence

from heattrace.cli.options import DEFAULT_DATABASE
from heattrace.errors import Ambiguous, NotFound
from heattrace.intake.grade_book import CAUTION, shipped_grade, shipped_grades
from heattrace.judging.limits import Grade, GradeKey
from heattrace.store.reader import Reader
from heattrace.values import dataclass

SHIPPED = "the grade book shipped with the tool"


@dataclass(frozen=True, slots=True)
class FoundGrade:
    """A grade, the words for where it came from, and whether that is a practice database."""

    grade: Grade
    origin: str
    practice: bool = False

    def messages(self) -> list[str]:
        """What to say beside limits of this grade."""
        memory = sum(limit.status != "verified" for limit in self.grade.limits)
        words = [f"limits of {self.grade.key.text} from {self.origin}"]
        if memory:
            words[0] += f"; {memory} of its {len(self.grade.limits)} rows are from memory and are marked so"
        return [*words, CAUTION]


def reader_of(db: str) -> Reader | None:
    """The database a command may read, or None where it was not asked for and there is none here.

    Raises
    ------
    DatabaseRefused
        A named database cannot be opened.
    """
    from heattrace.store.engine import database_path, open_reader

    if db == DEFAULT_DATABASE and not database_path(db).exists():
        return None
    return open_reader(db)


def known_grades(reader: Reader | None) -> Sequence[GradeKey]:
    """Keys of all grades of the record, or of the shipped book where there is no record."""
    if reader is None:
        return [grade.key for grade in shipped_grades()]
    from heattrace.tracing.grades import known_grades as grades_of_record

    return grades_of_record(reader)


def named_grade(text: str, reader: Reader | None, db: str) -> FoundGrade:
    """The grade a text names, from the record, else from the shipped book.

    Raises
    ------
    NotFound, Ambiguous
        Neither book has it, or the record has several; nearest names or choices are listed.
    """
    if reader is None:
        return FoundGrade(shipped_grade(text), SHIPPED)
    from heattrace.tracing.grades import grade_named

    try:
        return FoundGrade(grade_named(reader, text), f"the record {db}", reader.is_practice())
    except NotFound as fault:
        try:
            grade = shipped_grade(text)
        except (NotFound, Ambiguous):
            raise fault from None
        return FoundGrade(grade, f"{SHIPPED} (the record {db} has no such grade)", reader.is_practice())
