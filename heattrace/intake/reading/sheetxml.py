"""What the fast reader of workbooks does not tell, from a sheet's XML: formulas, errors, formats, hidden, merged."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import unescape

_ROW_OR_CELL = re.compile(rb"<(?:\w+:)?(?:row\b([^>]*)>|c\b([^>]*?)(?:/>|>(.*?)</(?:\w+:)?c>))", re.DOTALL)
_ATTRIBUTE = re.compile(rb'([\w:]+)\s*=\s*["\']([^"\']*)["\']')
_VALUE = re.compile(rb"<(?:\w+:)?v\b[^>]*>([^<]+)</")
_TEXT = re.compile(rb"<(?:\w+:)?t\b[^>]*>([^<]+)</")
_FORMULA = re.compile(rb"<(?:\w+:)?f\b")
_FORMULA_TEXT = re.compile(rb"<(?:\w+:)?f\b[^>]*>([^<]*)</")
_HIDDEN_ROW = re.compile(rb"<(?:\w+:)?row\b[^>]*\bhidden=[^>]*>")
_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\b([^>]*)>")
_COLUMN = re.compile(rb"<(?:\w+:)?col\b([^>]*)>")
_REFERENCE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")


@dataclass(slots=True)
class SheetMarks:
    """Marks of one sheet. Rows from 1, columns from 0.

    `cells` maps row, then column, to `formula`, `formula-empty:=TEXT`, `error:TEXT`, `percent` or a number of places
    shown. `columns` maps a column to such a format and the number of number cells that have it, where nothing else
    called for a walk through the cells.
    """

    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[int] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)
    cells: dict[int, dict[int, str | int]] = field(default_factory=dict)
    columns: dict[int, tuple[str | int, int]] = field(default_factory=dict)


def column_of(letters: str) -> int:
    """Column from 0 of its letters.

    >>> column_of("A"), column_of("Z"), column_of("AA")
    (0, 25, 26)
    """
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1


def letters_of(column: int) -> str:
    """Letters of a column from 0.

    >>> letters_of(0), letters_of(26)
    ('A', 'AA')
    """
    out, column = "", column + 1
    while column:
        column, rest = divmod(column - 1, 26)
        out = chr(65 + rest) + out
    return out


def range_rows(reference: str) -> tuple[int, int]:
    """First and last row of a range such as `B2:C4`."""
    rows = [int(found[2]) for found in _REFERENCE.finditer(reference)]
    return (min(rows), max(rows)) if rows else (0, 0)


def read_marks(data: bytes, formats: Sequence[int | str | None]) -> SheetMarks:
    """Scan a sheet's XML. Cells are walked only where something in it calls for that."""
    marks = SheetMarks()
    for found in _MERGED.finditer(data) if b"mergeCell" in data else ():
        marks.merged.append(_attributes(found[1]).get("ref", ""))
    for found in _COLUMN.finditer(data[: data.find(b"sheetData")]):
        about = _attributes(found[1])
        if about.get("hidden") in ("1", "true") and about.get("min", "").isdigit() and about.get("max", "").isdigit():
            marks.hidden_columns.extend(range(int(about["min"]) - 1, min(int(about["max"]), 16384)))
    telling = {str(i): f for i, f in enumerate(formats) if f is not None}
    for found in _HIDDEN_ROW.finditer(data) if b" hidden=" in data else ():
        about = _attributes(found[0])
        if about.get("hidden") in ("1", "true") and not about.get("r", "").isdigit():
            return walk(data, formats, marks)
        if about.get("hidden") in ("1", "true"):
            marks.hidden_rows.append(int(about["r"]))
    has_formula = (b"<f" in data or b":f" in data) and _FORMULA.search(data) is not None
    if has_formula or b't="e"' in data or b"t='e'" in data:
        return walk(data, formats, marks)
    if telling and not _by_columns(data, telling, marks):
        return walk(data, formats, marks)
    return marks


def _by_columns(data: bytes, telling: dict[str, int | str], marks: SheetMarks) -> bool:
    """Formats by column, where each column's number cells have one of them; False where that cannot be said."""
    styles = "|".join(sorted(telling, key=len, reverse=True)).encode()
    counts = Counter(re.findall(rb'<c r="([A-Z]{1,3})\d+" s="(' + styles + rb')"(?: t="n")?><v>', data))
    if sum(counts.values()) != sum(data.count(b' s="' + style.encode() + b'"') for style in telling):
        return False
    for (letters, style), times in counts.items():
        column = column_of(letters.decode())
        if column in marks.columns:
            marks.columns.clear()
            return False
        marks.columns[column] = (telling[style.decode()], times)
    return True


def _attributes(data: bytes) -> dict[str, str]:
    return {name.decode(): value.decode("utf-8", "replace") for name, value in _ATTRIBUTE.findall(data)}


def walk(data: bytes, formats: Sequence[int | str | None], marks: SheetMarks) -> SheetMarks:
    """Walk through all cells of a sheet and mark them one by one."""
    telling = {str(i): f for i, f in enumerate(formats) if f is not None}
    marks.hidden_rows.clear()
    marks.columns.clear()
    row, column = 0, -1
    kept = telling.keys()
    for found in _ROW_OR_CELL.finditer(data):
        row_text, cell_text, inside = found.groups()
        if row_text is not None:
            about = _attributes(row_text)
            row, column = int(about["r"]) if about.get("r", "").isdigit() else row + 1, -1
            if about.get("hidden") in ("1", "true"):
                marks.hidden_rows.append(row)
            continue
        about = _attributes(cell_text)
        place = _REFERENCE.fullmatch(about.get("r", ""))
        column = column_of(place[1]) if place else column + 1
        style = about.get("s", "")
        if inside is None or (style not in kept and about.get("t") != "e" and b"f" not in inside):
            continue
        mark = _mark(inside, about.get("t", "n"), telling.get(style))
        if mark is not None:
            marks.cells.setdefault(row, {})[column] = mark
    return marks


def _mark(inside: bytes, sort: str, shown: int | str | None) -> str | int | None:
    value = _VALUE.search(inside) or (_TEXT.search(inside) if sort == "inlineStr" else None)
    if _FORMULA.search(inside):
        if value is None:
            text = _FORMULA_TEXT.search(inside)
            return f"formula-empty:={unescape(text[1].decode('utf-8', 'replace')) if text else ''}"
        return f"error:{unescape(value[1].decode('utf-8', 'replace'))}" if sort == "e" else "formula"
    if sort == "e":
        return f"error:{unescape(value[1].decode('utf-8', 'replace')) if value else '#ERROR'}"
    return shown if sort == "n" and value is not None else None
