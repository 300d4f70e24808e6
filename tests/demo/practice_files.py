"""The practice files as tests read them: plain rows of texts, by no code of the program."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import openpyxl

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = ROOT / "demo_db"
GRADE_BOOK = ROOT / "heattrace" / "intake" / "shipped" / "grade_book.csv"

Row = dict[str, str]


def cells(path: Path) -> dict[str, list[list[tuple[Any, str]]]]:
    """Values and number formats of a workbook by sheet."""
    book = openpyxl.load_workbook(path)
    return {page.title: [[(c.value, c.number_format) for c in row] for row in page.iter_rows()] for page in book}


def rows(name: str, delimiter: str = ",", skip: int = 0) -> list[Row]:
    lines = (SHIPPED / name).read_text(encoding="utf-8").splitlines(keepends=True)[skip:]
    return list(csv.DictReader(io.StringIO("".join(lines)), delimiter=delimiter))


def sheet(sequence: str, name: str) -> list[Row]:
    """A sheet of a cast book, folder or workbook, as texts with the decimals its number format shows."""
    folder = SHIPPED / "casts" / sequence
    if folder.is_dir():
        return rows(f"casts/{sequence}/{name}.csv")
    page = cells(folder.with_suffix(".xlsx"))[name]
    header = [str(value) for value, _ in page[0]]
    return [dict(zip(header, map(shown, line), strict=True)) for line in page[1:]]


def shown(cell: tuple[Any, str]) -> str:
    value, form = cell
    if value is None:
        return ""
    return str(value) if form == "@" else f"{value:.{len(form.partition('.')[2])}f}"
