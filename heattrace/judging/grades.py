"""Grades from the rows of a grade book, and a grade from what somebody typed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches

from heattrace.errors import Ambiguous, FormulaError, NotFound
from heattrace.findings import Finding
from heattrace.judging.conditions.clauses import Change, contents_in
from heattrace.judging.conditions.parser import parse_when
from heattrace.judging.conditions.scanner import ConditionUnreadable
from heattrace.judging.limits import ABSOLUTE, BOTH, CAST, PRODUCT, RATIO, ROUNDING, Grade, GradeKey, Limit, parse_band
from heattrace.metallurgy.amount import UNIT_SHIFT
from heattrace.metallurgy.quantity import parse_quantity

COLUMNS: tuple[str, ...] = (
    "standard", "edition", "grade", "basis", "size_band_mm", "quantity", "min", "aim", "max", "unit", "rounding",
    "round_to", "when", "report", "valid_from", "valid_until", "extends", "family", "source", "status", "notes",
)  # fmt: skip
# The rest of them may be missing from a file.
NEEDED: tuple[str, ...] = (
    "standard", "edition", "grade", "basis", "size_band_mm", "quantity", "min", "max", "unit", "rounding", "source",
    "status",
)  # fmt: skip

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_REPORT = {"": False, "no": False, "yes": True}


class _Faulty(Exception):
    """One fault of one row; never leaves this module."""

    def __init__(self, code: str, column: str, seen: str, wanted: str) -> None:
        super().__init__(code)
        self.code, self.column, self.seen, self.wanted = code, column, seen, wanted


def grades_from_rows(rows: Iterable[tuple[int, Mapping[str, str]]]) -> tuple[list[Grade], list[Finding]]:
    """Grades of a grade book, in the order they first stand, and what is wrong with its rows.

    Parameters
    ----------
    rows : pairs of row number and cells by column of `COLUMNS`

    Returns
    -------
    grades, faults
        One fault is enough to refuse the whole book: that is the caller's to do. Grades whose rows have faults lack
        those rows.
    """
    limits: dict[GradeKey, list[Limit]] = {}
    said: dict[GradeKey, dict[str, tuple[int, str]]] = {}
    faults: list[Finding] = []
    for number, cells in rows:
        row = {column: (cells.get(column) or "").strip() for column in COLUMNS}
        try:
            lacking = [column for column in NEEDED if column not in cells]
            if lacking:
                raise _Faulty("LIMIT-SENSE", lacking[0], "no such column", f"the columns {', '.join(NEEDED)}")
            limit = _limit(row, number)
            _note_grade_words(said.setdefault(limit.key, {}), row, number)
        except _Faulty as fault:
            subject = f"row {number}, column {fault.column}"
            faults.append(
                Finding(fault.code, subject, fault.seen, fault.wanted, "correct the row and take the book in")
            )
            continue
        limits.setdefault(limit.key, []).append(limit)
    return _assembled(limits, said, faults), faults


def _limit(row: Mapping[str, str], number: int) -> Limit:
    for column in ("standard", "edition", "grade"):
        if not row[column]:
            raise _Faulty("LIMIT-KEY", column, "nothing", "standard, edition and grade of the limit")
    if row["basis"] not in (CAST, PRODUCT, BOTH):
        raise _Faulty("LIMIT-BASIS", "basis", row["basis"], f"{CAST}, {PRODUCT} or {BOTH}")
    try:
        band = parse_band(row["size_band_mm"])
    except ValueError:
        raise _Faulty("LIMIT-BAND", "size_band_mm", row["size_band_mm"], "all, a<t<=b, t<=b or t>a") from None
    try:
        quantity = parse_quantity(row["quantity"])
    except FormulaError as fault:
        code = "LIMIT-DIVISION" if "zero" in str(fault) else "LIMIT-QUANTITY"
        raise _Faulty(code, "quantity", row["quantity"], str(fault)) from None
    _check_unit(row, quantity.unit)
    _check_numbers(row)
    if row["rounding"] not in (ROUNDING, ABSOLUTE):
        raise _Faulty("LIMIT-ROUNDING", "rounding", row["rounding"], f"{ROUNDING} or {ABSOLUTE}")
    if row["report"] not in _REPORT:
        raise _Faulty("LIMIT-REPORT", "report", row["report"], "yes or no")
    for column in ("valid_from", "valid_until"):
        if row[column] and not _DAY.fullmatch(row[column]):
            raise _Faulty("LIMIT-DATE", column, row[column], "a date as 2026-01-31")
    _check_when(row)
    if row["status"] not in ("verified", "memory"):
        raise _Faulty("LIMIT-STATUS", "status", row["status"], "verified or memory")
    return Limit(
        key=GradeKey(row["standard"], row["edition"], row["grade"]),
        basis=row["basis"],
        band=band,
        quantity=quantity.name,
        printed=row["quantity"],
        min_text=row["min"],
        max_text=row["max"],
        unit=row["unit"],
        rounding=row["rounding"],
        round_to=row["round_to"],
        when=row["when"],
        report=_REPORT[row["report"]],
        aim_text=row["aim"],
        source=row["source"],
        status=row["status"],
        notes=row["notes"],
        valid_from=row["valid_from"],
        valid_until=row["valid_until"],
        row=number,
    )


def _check_unit(row: Mapping[str, str], wanted: str) -> None:
    unit = row["unit"]
    if not unit:
        raise _Faulty("LIMIT-UNIT", "unit", "nothing", "the unit of the limit, for instance mass %")
    fits = unit == RATIO if wanted == RATIO else unit in UNIT_SHIFT
    if wanted == "degree C" or not fits:
        expected = RATIO if wanted == RATIO else ", ".join(UNIT_SHIFT)
        raise _Faulty("LIMIT-UNIT", "unit", f"{unit} for {row['quantity']}", expected)


def _check_when(row: Mapping[str, str]) -> None:
    try:
        clauses = parse_when(row["when"])
    except ConditionUnreadable as fault:
        raise _Faulty("LIMIT-WHEN", "when", row["when"], str(fault)) from None
    if UNIT_SHIFT.get(row["unit"], 0) == 0:
        return
    computed = [c for c in clauses if isinstance(c, Change) for part in (c.by, c.to) if part and contents_in(part)]
    if computed:
        raise _Faulty("LIMIT-WHEN", "when", row["when"], "a limit in mass % where it is computed from the analysis")


def _check_numbers(row: Mapping[str, str]) -> None:
    for column in ("min", "aim", "max", "round_to"):
        if row[column] and not _NUMBER.fullmatch(row[column]):
            raise _Faulty("LIMIT-NUMBER", column, row[column], "plain digits with a decimal point")
    if row["round_to"] and Decimal(row["round_to"]) == 0:
        raise _Faulty("LIMIT-ROUNDING", "round_to", row["round_to"], "a step above zero, for instance 0.01")
    try:
        crossed = bool(row["min"] and row["max"]) and Decimal(row["min"]) > Decimal(row["max"])
    except InvalidOperation:  # more digits than a decimal holds
        raise _Faulty("LIMIT-NUMBER", "min", row["min"], "a readable number") from None
    if crossed:
        raise _Faulty("LIMIT-CROSSED", "min", f"{row['min']} over {row['max']}", "a minimum at or below the maximum")


def _note_grade_words(said: dict[str, tuple[int, str]], row: Mapping[str, str], number: int) -> None:
    """`family` and `extends` belong to the grade: all rows that name one must name the same."""
    for column in ("family", "extends"):
        if not row[column]:
            continue
        first, word = said.setdefault(column, (number, row[column]))
        if word != row[column]:
            raise _Faulty("LIMIT-KEY", column, row[column], f'"{word}" as in row {first}')


def _assembled(
    limits: Mapping[GradeKey, list[Limit]],
    said: Mapping[GradeKey, Mapping[str, tuple[int, str]]],
    faults: list[Finding],
) -> list[Grade]:
    keys = {key.text: key for key in limits}

    def inherited(key: GradeKey, seen: tuple[GradeKey, ...]) -> tuple[Limit, ...]:
        number, name = said[key].get("extends", (0, ""))
        if not name:
            return tuple(limits[key])
        subject = f"row {number}, column extends"
        if name not in keys:
            wanted = f"a grade of this book as STANDARD:EDITION GRADE; nearest: {', '.join(nearest(name, keys))}"
            faults.append(Finding("LIMIT-EXTENDS", subject, name, wanted, "correct the row and take the book in"))
            return tuple(limits[key])
        parent = keys[name]
        if parent in seen:
            wanted = "a grade that does not lead back to itself"
            faults.append(Finding("LIMIT-EXTENDS", subject, name, wanted, "correct the row and take the book in"))
            return tuple(limits[key])
        return inherited(parent, (*seen, parent)) + tuple(limits[key])

    return [
        Grade(
            key,
            inherited(key, (key,)),
            family=said[key].get("family", (0, ""))[1],
            extends=said[key].get("extends", (0, ""))[1],
        )
        for key in limits
    ]


def nearest(text: str, known: Iterable[str]) -> list[str]:
    """Up to five known names that resemble a text, best first; capitals do not count."""
    folded = {_folded(name): name for name in known}
    return [folded[name] for name in get_close_matches(_folded(text), folded, n=5, cutoff=0.5)]


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()


def find_grade(text: str, keys: Sequence[GradeKey]) -> GradeKey:
    """The known key a typed text names; the text is compared with the keys, never split.

    The whole key, standard and grade, or the grade alone are enough where they name one key only. Blanks are counted
    once, and capitals only where they tell two keys apart.

    Raises
    ------
    Ambiguous
        Several grades bear that name; the message lists them.
    NotFound
        None does; the message names the nearest.

    Examples
    --------
    >>> known = [GradeKey("EN 10025-2", "2004", "S355J2"), GradeKey("ASTM A29/A29M", "2016", "5160")]
    >>> find_grade("S355J2", known).text
    'EN 10025-2:2004 S355J2'
    """
    wanted = " ".join(text.split())
    for fold in (" ".join, lambda words: " ".join(words).casefold()):
        asked = fold(wanted.split())
        for spelt in (_whole, _without_edition, _short):
            found = [key for key in keys if fold(spelt(key).split()) == asked]
            if len(found) == 1:
                return found[0]
            if found:
                raise _several(wanted, found)
    names = nearest(wanted, [key.text for key in keys] + [key.grade for key in keys])
    near = f"; nearest: {', '.join(names)}" if names else ""
    raise NotFound(
        f'no grade "{wanted}" in the grade book{near}; "heattrace grade list" lists them, '
        "a grade is written STANDARD:EDITION GRADE"
    )


def _whole(key: GradeKey) -> str:
    return key.text


def _without_edition(key: GradeKey) -> str:
    return f"{key.standard} {key.grade}"


def _short(key: GradeKey) -> str:
    return key.grade


def _several(text: str, found: Sequence[GradeKey]) -> Ambiguous:
    findings = [
        Finding("GRADE-AMBIGUOUS", key.text, f'"{text}"', "one grade edition", f'write "{key.text}"')
        for key in sorted(found)
    ]
    listed = "; ".join(key.text for key in sorted(found))
    return Ambiguous(f'"{text}" names {len(found)} grades: {listed}. Write one of them whole', findings=findings)
