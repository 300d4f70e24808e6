"""`heattrace grade ...`: the grades that are known, and the limits of one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any

import typer

from heattrace.cli.grade_source import SHIPPED, known_grades, named_grade, reader_of
from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, table
from heattrace.intake.grade_book import CAUTION
from heattrace.judging.conditions.parser import parse_when
from heattrace.judging.conditions.words import clause_in_words
from heattrace.judging.limits import Grade, Limit

grade_app = new_app("Grades and their limits. Without a database: those of the book shipped with the tool.")


@grade_app.callback()
def grades() -> None:
    """Grades and their limits. Without a database: those of the book shipped with the tool."""


@grade_app.command("list")
def list_grades(db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """List the grades, each by standard, edition and grade.

    \b
    Example:
        heattrace grade list
    """
    reader = reader_of(db)
    try:
        keys = sorted(known_grades(reader))
        practice = reader is not None and reader.is_practice()
    finally:
        if reader is not None:
            reader.close()
    data = {"grades": [{"grade": k.text, "standard": k.standard, "edition": k.edition, "name": k.grade} for k in keys]}
    origin = SHIPPED if reader is None else f"the record {db}"
    give(
        Answer(
            "grade list",
            data,
            lines=lambda: table(["standard", "edition", "grade"], [(k.standard, k.edition, k.grade) for k in keys]),
            messages=[f"{len(keys)} grades of {origin}", CAUTION],
            practice=practice,
        ),
        as_json=as_json,
    )


@grade_app.command("show")
def show_grade(
    grade: Annotated[str, typer.Argument(metavar="GRADE", help="STANDARD:EDITION GRADE, or a short name.")],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show the limits of one grade as printed, with their conditions, sources and status.

    \b
    Example:
        heattrace grade show "EN 10025-2:2004 S355J2"
    """
    reader = reader_of(db)
    try:
        found = named_grade(grade, reader, db)
    finally:
        if reader is not None:
            reader.close()
    give(
        Answer(
            "grade show",
            _as_json(found.grade),
            lines=lambda: _lines(found.grade),
            messages=found.messages(),
            practice=found.practice,
        ),
        as_json=as_json,
    )


def _as_json(grade: Grade) -> dict[str, Any]:
    return {
        "grade": grade.key.text,
        "standard": grade.key.standard,
        "edition": grade.key.edition,
        "name": grade.key.grade,
        "family": grade.family or None,
        "extends": grade.extends or None,
        "limits": [_limit_json(limit) for limit in grade.limits],
    }


def _limit_json(limit: Limit) -> dict[str, Any]:
    return {
        "quantity": limit.quantity,
        "printed": limit.printed,
        "basis": limit.basis,
        "size_band_mm": limit.band.text,
        "min": limit.min_text or None,
        "aim": limit.aim_text or None,
        "max": limit.max_text or None,
        "unit": limit.unit,
        "rounding": limit.rounding,
        "round_to": limit.round_to or None,
        "when": limit.when or None,
        "condition": _condition(limit) or None,
        "report": limit.report,
        "valid_from": limit.valid_from or None,
        "valid_until": limit.valid_until or None,
        "source": limit.source,
        "status": limit.status,
        "notes": limit.notes or None,
    }


def _condition(limit: Limit) -> str:
    return "; ".join(clause_in_words(clause) for clause in parse_when(limit.when))


def _lines(grade: Grade) -> Iterator[str]:
    yield grade.key.text
    yield f"  family {grade.family or 'none given: works values for all families are used'}"
    if grade.extends:
        yield f"  takes over the limits of {grade.extends}"
    yield ""
    remarks: list[str] = []
    rows = []
    for limit in grade.limits:
        said = [text for text in (_condition(limit), limit.notes) if text]
        mark = ""
        if said:
            text = "; ".join(said)
            if text not in remarks:
                remarks.append(text)
            mark = f"({remarks.index(text) + 1})"
        status = limit.status if limit.status == "verified" else limit.status.upper()
        none = "reported" if limit.report else "no limit"
        low, high = limit.min_text, limit.max_text or ("" if limit.min_text else none)
        rows.append((limit.basis, limit.band.text, limit.printed, low, high, limit.rounding, status, mark))
    yield from table(["basis", "size mm", "quantity", "min", "max", "method", "book", "note"], rows, right=[3, 4])
    if remarks:
        yield ""
        for number, text in enumerate(remarks, start=1):
            yield f"({number}) {text}"
    yield ""
    yield "sources"
    for source in dict.fromkeys(limit.source for limit in grade.limits):
        yield f"  {source or 'none named'}"
