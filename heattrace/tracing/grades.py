"""Grades of the record as judging sees them, and what steel is judged against: a grade edition or an order line.

A requirement is looked up by its text, never by the key of one stored revision: where the limits of an edition were
entered anew, the newest revision speaks, for old order lines too.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from weakref import WeakKeyDictionary

from heattrace.errors import Ambiguous, NotFound
from heattrace.findings import Finding
from heattrace.judging.grades import find_grade, nearest
from heattrace.judging.limits import Grade, GradeKey, Limit, parse_band
from heattrace.judging.measure import quantity_of
from heattrace.judging.requirement import Requirement, requirement_of
from heattrace.store.reader import Reader, Row
from heattrace.tracing.chemistry_questions import (
    EDITIONS,
    LIMITS,
    LINES_OF_ORDER,
    ORDER_LIMITS,
    ORDER_LINE_NUMBERED,
    ORDER_LINES,
)
from heattrace.values import replace


class GradeShelf:
    """The grades of one database: keys at once, limits of a grade when it is first asked for."""

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self._rows: dict[str, Row] = {}
        for row in reader.all(EDITIONS):
            known = self._rows.get(row["requirement"])
            if known is None or row["revision"] >= known["revision"]:
                self._rows[row["requirement"]] = row
        self._grades: dict[str, Grade] = {}
        self._own: dict[int, tuple[Limit, ...]] = {}
        self._named: dict[str, str | None] = {}

    def keys(self) -> list[GradeKey]:
        """Keys of all grade editions, in the order they came."""
        return [_key(row) for row in self._rows.values()]

    def holds(self, text: str) -> bool:
        """Whether a grade edition bears exactly this text."""
        return text in self._rows

    def named(self, text: str) -> str | None:
        """The whole text of the one grade edition a written name stands for; None where there is none or several."""
        if text in self._rows:
            return text
        if text not in self._named:
            try:
                self._named[text] = find_grade(text, self.keys()).text
            except (NotFound, Ambiguous):
                self._named[text] = None
        return self._named[text]

    def edition_id(self, text: str) -> int:
        """Key of the row whose limits speak for a grade edition."""
        return int(self._rows[text]["edition_id"])

    def grade(self, text: str) -> Grade:
        """A grade edition by its exact text, the rows of the grade it extends first.

        Raises
        ------
        NotFound
            The record holds no such edition.
        """
        if text not in self._grades:
            if text not in self._rows:
                raise unknown_grade(text, self.keys())
            row = self._rows[text]
            self._grades[text] = Grade(
                _key(row), self._inherited(text, ()), family=row["family"] or "", extends=row["extends"] or ""
            )
        return self._grades[text]

    def load(self, texts: Iterable[str]) -> None:
        """Fetch the limits of many grades in few questions; texts the record does not hold are passed over."""
        wanted: dict[int, GradeKey] = {}
        for text in dict.fromkeys(texts):
            seen: set[str] = set()
            while text in self._rows and text not in seen:
                seen.add(text)
                row = self._rows[text]
                if row["edition_id"] not in self._own:
                    wanted[row["edition_id"]] = _key(row)
                text = row["extends"] or ""
        found: dict[int, list[Limit]] = {edition_id: [] for edition_id in wanted}
        for row in self.reader.by_keys(LIMITS, list(wanted)):
            key = wanted[row["edition_id"]]
            limit = limit_of(
                row, key, source=row["source"], status=row["status"], notes=row["notes"] or "", row_no=row["row_no"]
            )
            found[row["edition_id"]].append(
                replace(limit, valid_from=row["valid_from"] or "", valid_until=row["valid_until"] or "")
            )
        self._own.update({edition_id: tuple(limits) for edition_id, limits in found.items()})

    def _inherited(self, text: str, below: tuple[str, ...]) -> tuple[Limit, ...]:
        row = self._rows[text]
        if row["edition_id"] not in self._own:
            self.load([text])
        own = self._own[row["edition_id"]]
        parent = row["extends"] or ""
        if not parent or parent not in self._rows or parent in (text, *below):
            return own
        return self._inherited(parent, (*below, text)) + own


def _key(row: Row) -> GradeKey:
    return GradeKey(row["standard"], row["edition"], row["name"])


def limit_of(row: Row, key: GradeKey, *, source: str, status: str, notes: str = "", row_no: int = 0) -> Limit:
    """A stored limit as judging sees it; `printed` is the word of the book, `quantity` what is computed."""
    return Limit(
        key=key,
        basis=row["basis"],
        band=parse_band(row["size_band_mm"]),
        quantity=quantity_of(row["quantity"]).name,
        printed=row["quantity"],
        min_text=row["min_text"] or "",
        max_text=row["max_text"] or "",
        unit=row["unit"],
        rounding=row["rounding"],
        round_to=row["round_to"] or "",
        when=row["condition"] or "",
        report=bool(row["report"]),
        aim_text=row["aim_text"] or "",
        source=source,
        status=status,
        notes=notes,
        row=row_no,
    )


_shelves: WeakKeyDictionary[Reader, tuple[int, GradeShelf]] = WeakKeyDictionary()


def shelf_of(reader: Reader) -> GradeShelf:
    """The grades of a reader's database, kept until its connection writes something."""
    changes = reader.connection.total_changes
    known = _shelves.get(reader)
    if known is None or known[0] != changes:
        known = _shelves[reader] = (changes, GradeShelf(reader))
    return known[1]


def known_grades(reader: Reader) -> list[GradeKey]:
    """Keys of all grade editions of the record."""
    return shelf_of(reader).keys()


def grade_named(reader: Reader, text: str) -> Grade:
    """The grade edition a typed text names, by its whole key, without its edition, or by its short name.

    Raises
    ------
    NotFound
        None does; the message names the nearest.
    Ambiguous
        Several do; all are listed.
    """
    shelf = shelf_of(reader)
    return shelf.grade(find_grade(text, shelf.keys()).text)


def unknown_grade(text: str, keys: Sequence[GradeKey]) -> NotFound:
    """The refusal of a grade the record does not hold, with the nearest it does."""
    near = nearest(text, [key.text for key in keys])
    findings = [Finding("GRADE-NEAREST", name, f'"{text}"', "a grade of the record") for name in near]
    return NotFound(f'no grade "{text}" in the record; "heattrace grade list" lists them', findings=findings)


def find_requirement(reader: Reader, text: str) -> Requirement:
    """What a typed text asks to be met: `ORDER/LINE`, `STANDARD:EDITION GRADE`, or a short name only one grade has.

    Raises
    ------
    NotFound
        Neither an order line nor a grade bears it.
    Ambiguous
        A short name several grades have, or a text that is an order line and a grade.
    """
    wanted = " ".join(text.split())
    line_id = order_line_named(reader, wanted)
    shelf = shelf_of(reader)
    if line_id is not None:
        if shelf.holds(wanted):
            raise Ambiguous(
                f'"{wanted}" is an order line and a grade of the record; name the grade by the order line that has it'
            )
        return order_requirements(reader, [line_id])[line_id]
    try:
        return requirement_of(shelf.grade(find_grade(wanted, shelf.keys()).text))
    except NotFound as fault:
        lines = _lines_of_order(reader, wanted)
        if lines:
            raise NotFound(f'no order line "{wanted}"; that order has {", ".join(lines)}') from None
        raise NotFound(f"{fault}; nor is there an order line of that number (ORDER/LINE)") from None


def order_line_named(reader: Reader, text: str) -> int | None:
    """Key of the order line `ORDER/LINE`; either number may itself hold a stroke."""
    for at, sign in enumerate(text):
        if sign == "/":
            found = reader.scalar(ORDER_LINE_NUMBERED, order_no=text[:at].strip(), line=text[at + 1 :].strip())
            if found is not None:
                return int(found)
    return None


def _lines_of_order(reader: Reader, text: str) -> list[str]:
    order_no = text.rpartition("/")[0].strip() or text
    return [f"{order_no}/{row['line']}" for row in reader.all(LINES_OF_ORDER, order_no=order_no)]


def order_requirements(reader: Reader, order_line_ids: Iterable[int]) -> dict[int, Requirement]:
    """Requirements of order lines by their key: the grade in force, product, options, evidence, extra limits."""
    keys = sorted(set(order_line_ids))
    rows = list(reader.by_keys(ORDER_LINES, keys))
    shelf = shelf_of(reader)
    shelf.load(row["requirement"] for row in rows)
    extra: dict[int, list[Row]] = {}
    for limit in reader.by_keys(ORDER_LIMITS, keys):
        extra.setdefault(limit["order_line_id"], []).append(limit)
    return {row["order_line_id"]: _of_order(row, shelf, extra) for row in rows}


def _of_order(row: Row, shelf: GradeShelf, extra: Mapping[int, Sequence[Row]]) -> Requirement:
    grade = shelf.grade(row["requirement"])
    text = f"{row['order_no']}/{row['line']}"
    limits = tuple(
        limit_of(limit, grade.key, source=f"order {text}", status="order")
        for limit in extra.get(row["order_line_id"], ())
    )
    return Requirement(
        text=text,
        grade=grade,
        order_line=text,
        size_mm=_size(row["thickness_mm"]),
        form=row["form"] or None,
        options=words_of(row["options"]),
        evidence=words_of(row["evidence"]),
        flange_mm=_size(row["flange_mm"]),
        area_mm2=_size(row["area_mm2"]),
        guard_band=row["guard_band"] or "0",
        order_limits=limits,
    )


def _size(text: str | None) -> Decimal | None:
    return Decimal(text) if text else None


def words_of(text: str | None) -> frozenset[str]:
    """Names separated by `;` as a set.

    >>> sorted(words_of("nitrogen-binders; fine-grain;"))
    ['fine-grain', 'nitrogen-binders']
    """
    return frozenset(word.strip() for word in (text or "").split(";") if word.strip())
