"""Rows of one sheet of a workbook, as texts with marks for what a text cannot say."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from heattrace.errors import FileRefused
from heattrace.intake.archive import Archive, SheetPart, damaged
from heattrace.intake.faults import Place
from heattrace.intake.sheetxml import SheetMarks, read_marks

# A double holds 15 to 17 digits; a cell with more than 14 shows arithmetic, not a reading.
DIGITS_OF_ARITHMETIC = 15


class SheetRows:
    """One sheet of a workbook, with the interface of CsvRows.

    `records()` gives (row, texts); `marks_of(row)` maps a column from 0 to `date`, `formula`, `formula-empty`,
    `percent`, `arithmetic`; `raw(row)` gives the texts joined by tabs, as UTF-8.
    """

    def __init__(self, archive: Archive, part: SheetPart, place: Place) -> None:
        self.place = place
        self.marks: SheetMarks = read_marks(archive.part(part.part), archive.formats)
        self._rows = _values(archive, part, place)
        self._texts: dict[int, list[str]] = {}
        self._marks: dict[int, dict[int, str]] = {}

    def records(self) -> Iterator[tuple[int, list[str]]]:
        """All rows from 1; empty rows as empty lists."""
        for row, values in enumerate(self._rows, start=1):
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
        known = self.marks.cells.get(row, {})
        marks: dict[int, str] = {}
        if known and max(known) >= len(values):
            values = values + [""] * (max(known) + 1 - len(values))
        texts = []
        for column, value in enumerate(values):
            if type(value) is str:
                text = value
            else:
                text, mark = _text(value)
                if mark:
                    marks[column] = mark
            if (about := known.get(column)) is not None:
                text = self._about(text, about, column, marks)
            texts.append(text)
        while texts and not texts[-1] and len(texts) - 1 not in marks:
            texts.pop()
        if marks:
            self._marks[row] = marks
        return texts

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
        marks[column] = about
        return text


def _values(archive: Archive, part: SheetPart, place: Place) -> Iterator[list[Any]]:
    import python_calamine

    try:
        with python_calamine.CalamineWorkbook.from_path(str(archive.path)) as book:
            sheet = book.get_sheet_by_name(part.name)
            return iter(sheet.to_python(skip_empty_area=False))
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
