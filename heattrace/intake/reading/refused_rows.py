"""How many rows a refused file has, as far as it can be told without understanding it."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from heattrace.errors import FileRefused
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.archive import open_archive
from heattrace.intake.reading.faults import Place
from heattrace.intake.reading.sniffing import folder_files


def rows_refused(path: Path, profile: Profile) -> int:
    """Rows below the header of a file that was refused, of all tables of a folder; 0 where they cannot be counted.

    The header is taken to be the first row with as many cells as most rows have.
    """
    try:
        if path.is_dir():
            return sum(_csv_rows(file, profile) for file in folder_files(path))
        if not path.is_file():
            return 0
        with path.open("rb") as stream:
            workbook = stream.read(2) == b"PK"
        return _workbook_rows(path) if workbook else _csv_rows(path, profile)
    except (OSError, ValueError, csv.Error, LookupError):
        return 0


def _csv_rows(path: Path, profile: Profile) -> int:
    with path.open("r", encoding=profile.encoding, errors="replace", newline="") as stream:
        return _below_header(len(cells) for cells in csv.reader(stream, delimiter=profile.delimiter) if any(cells))


def _workbook_rows(path: Path) -> int:
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        open_archive(path, Place(path.name))  # its limits hold here too
        with CalamineWorkbook.from_path(path) as book:
            sheets = [book.get_sheet_by_name(name).to_python() for name in book.sheet_names]
    except (FileRefused, CalamineError, OSError, ValueError):
        return 0
    return sum(_below_header(len(row) for row in rows if any(cell != "" for cell in row)) for rows in sheets)


def _below_header(widths: Iterable[int]) -> int:
    found = list(widths)
    if not found:
        return 0
    usual = Counter(found).most_common(1)[0][0]
    return len(found) - found.index(usual) - 1
