"""Rows of one sheet of a workbook, as texts with marks for what a text cannot say."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from heattrace.errors import FileRefused
from heattrace.intake.reading.archive import Archive, SheetPart, damaged
from heattrace.intake.reading.faults import Place
from heattrace.intake.reading.sheetxml import SheetMarks, read_marks, walk

# A double holds 15 to 17 digits; a cell with more than 14 shows arithmetic, not a reading.
DIGITS_OF_ARITHMETIC = 15
MOST_KNOWN = 10_000
_TEXT_ONLY, _NUMBERS = {str}, (float, int)


class SheetRows:
    """One sheet of a workbook, with the interface of CsvRows.

    `records()` gives (row, texts); `marks_of(row)` maps a column from 0 to `date`, `formula`, `formula-empty`,
    `percent`, `arithmetic`; `raw(row)` gives the texts joined by tabs, as UTF-8.
    """

    def __init__(self, archive: Archive, part: SheetPart, place: Place) -> None:
        self.place = place
        data = archive.part(part.part)
        self.marks: SheetMarks = read_marks(data, archive.formats)
        self._rows = _values(archive, part, place)
        if any(self._numbers_in(column) != times for column, (_, times) in self.marks.columns.items()):
            walk(data, archive.formats, self.marks)
        self._left = iter(enumerate(self._rows, start=1))
        self._formats = {column: about for column, (about, _) in self.marks.columns.items()}
        self._texts: dict[int, list[str]] = {}
        self._marks: dict[int, dict[int, str]] = {}
        self._known: dict[float, tuple[str, str]] = {}

    def _numbers_in(self, column: int) -> int:
        return sum(1 for values in self._rows if column < len(values) and type(values[column]) in (float, int))

    def records(self) -> Iterator[tuple[int, list[str]]]:
        """The rows not read yet, from 1; empty rows as empty lists."""
        for row, values in self._left:
            texts = self._texts[row] = self._read(row, values)
            yield row, texts if any(texts) else []

    def marks_of(self, row: int) -> dict[int, str]:
        """Marks of a row already read."""
        return self._marks.get(row, {})

    def raw(self, row: int) -> bytes:
        """The row's texts joined by tabs."""
        return "\t".join(self._texts.get(row, [])).encode("utf-8", "surrogatepass")

    def span(self, row: int) -> int:
        """A sheet's row is one row."""
        return 1

    def forget(self, row: int) -> None:
        """Nothing is let go; a workbook is held whole."""

    def _read(self, row: int, values: list[Any]) -> list[str]:
        known = self.marks.cells.get(row)
        if known is None and set(map(type, values)) <= _TEXT_ONLY:
            while values and not values[-1]:
                values.pop()
            return values
        marks: dict[int, str] = {}
        if known and max(known) >= len(values):
            values = values + [""] * (max(known) + 1 - len(values))
        texts = []
        for column, value in enumerate(values):
            if type(value) is str:
                text = value
            else:
                text, mark = self._text(value)
                if mark:
                    marks[column] = mark
                if column in self._formats and type(value) in _NUMBERS:
                    text = self._about(text, self._formats[column], column, marks)
            if known is not None and (about := known.get(column)) is not None:
                text = self._about(text, about, column, marks)
            texts.append(text)
        while texts and not texts[-1] and len(texts) - 1 not in marks:
            texts.pop()
        if marks:
            self._marks[row] = marks
        return texts

    def _text(self, value: Any) -> tuple[str, str]:
        if type(value) is not float:
            return _text(value)
        found = self._known.get(value)
        if found is None:
            found = _number(value)
            if len(self._known) < MOST_KNOWN:
                self._known[value] = found
        return found

    @staticmethod
    def _about(text: str, about: str | int, column: int, marks: dict[int, str]) -> str:
        """Bring a mark of the XML into the row; a number format's zeros are part of what the sheet shows."""
        if isinstance(about, int):
            whole, _, part = text.partition(".")
            if about > len(part) and whole.lstrip("-").isdigit() and (part.isdigit() or not part):
                return f"{whole}.{part.ljust(about, '0')}"
            return text
        if about.startswith("error:"):
            return about.removeprefix("error:")
        if about.startswith("formula-empty:"):
            marks[column] = "formula-empty"
            return text or about.removeprefix("formula-empty:")
        marks[column] = about
        return text


def _values(archive: Archive, part: SheetPart, place: Place) -> list[list[Any]]:
    import python_calamine

    try:
        with python_calamine.CalamineWorkbook.from_path(str(archive.path)) as book:
            sheet = book.get_sheet_by_name(part.name)
            return list(sheet.to_python(skip_empty_area=False))
    except (python_calamine.CalamineError, OSError, ValueError, IndexError) as fault:
        raise damaged(place, fault) from None
    except BaseException as fault:
        # The reader's own panics do not derive from Exception; they too mean a sheet that cannot be read.
        if type(fault).__name__ == "PanicException":
            raise _unreadable(place) from None
        raise


def _unreadable(place: Place) -> FileRefused:
    return damaged(place, ValueError("a sheet cannot be read"))


def _text(value: Any) -> tuple[str, str]:
    """Text of a cell that is no text, and its mark."""
    match value:
        case bool():
            return ("TRUE" if value else "FALSE"), ""
        case float():
            return _number(value)
        case int():
            return str(value), ""
        case datetime.datetime():
            return value.isoformat(timespec="milliseconds" if value.microsecond else "seconds"), "date"
        case datetime.date() | datetime.time():
            return value.isoformat(), "date"
        case datetime.timedelta():
            return str(value), "date"
        case None:
            return "", ""
        case _:
            return str(value), ""


def _number(value: float) -> tuple[str, str]:
    """Shortest digits that are this number; a double's whole numbers are exact up to 2^53."""
    if value.is_integer() and abs(value) < 2**53:
        return str(int(value)), ""
    digits = Decimal(repr(value))
    return format(digits, "f"), "arithmetic" if len(digits.as_tuple().digits) >= DIGITS_OF_ARITHMETIC else ""
