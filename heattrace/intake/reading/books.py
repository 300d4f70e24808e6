"""The tables of a book: CSV files of a folder, or sheets of a workbook."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from heattrace.findings import Finding
from heattrace.intake.profiles.kinds import Kind, Sheet
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.archive import Archive, SheetPart
from heattrace.intake.reading.csvrows import CsvRows
from heattrace.intake.reading.faults import Place, refusal, refuse
from heattrace.intake.reading.sheetxml import letters_of
from heattrace.intake.reading.sniffing import check_sort, folder_files, read_head
from heattrace.intake.reading.tables import Rows
from heattrace.intake.reading.workbook import SheetRows


@dataclass(frozen=True, slots=True)
class Found:
    """One table of a file: which sheet of the kind it is, its rows, and how it is called in messages."""

    sheet: Sheet
    rows: Rows
    place: Place


def folder_tables(path: Path, profile: Profile, kind: Kind, place: Place, notes: list[str]) -> Iterator[Found]:
    """The CSV files of a folder that are sheets of the kind.

    Raises
    ------
    FileRefused
        A needed one is missing, or one is there that the kind does not know.
    """
    files = {entry.name: entry for entry in folder_files(path)}
    names = {sheet: profile.for_sheet(sheet).file or f"{sheet}.csv" for sheet in kind.sheets}
    _check_names(list(files), names, kind, place, profile, notes)
    for sheet, name in names.items():
        if name in files:
            where = Place(place.file, sheet)
            head = read_head(files[name], where)
            check_sort(files[name], head, "csv", where)
            yield Found(
                kind.sheets[sheet], CsvRows(files[name], where, head, profile.encoding, profile.delimiter), where
            )


def workbook_tables(archive: Archive, profile: Profile, kind: Kind, place: Place, notes: list[str]) -> Iterator[Found]:
    """The sheets of a workbook that are sheets of the kind."""
    if len(kind.sheets) == 1:
        part = one_sheet_of(archive, profile, kind.name, place)
        yield Found(kind.only, sheet_rows(archive, part, place, notes, profile), place)
        return
    parts = {part.name: part for part in archive.sheets}
    names = {sheet: profile.for_sheet(sheet).sheet or sheet for sheet in kind.sheets}
    if kind.name == "grade-book" and names["limits"] not in parts and len(parts) == 1:
        names["limits"] = archive.sheets[0].name
    empty = [p.name for p in archive.sheets if p.name not in names.values() and not _has_rows(archive, p)]
    for name in empty:
        del parts[name]
    _check_names(list(parts), names, kind, place, profile, notes)
    for sheet, name in names.items():
        if name in parts:
            where = Place(place.file, sheet)
            yield Found(kind.sheets[sheet], sheet_rows(archive, parts[name], where, notes, profile), where)


def one_sheet_of(archive: Archive, profile: Profile, kind: str, place: Place) -> SheetPart:
    """The sheet a kind of one table is read from: the profile's, else the one of the kind's name, else the only one.

    Raises
    ------
    FileRefused
        The named one is missing, or several hold rows and none is named.
    """
    wanted = profile.sheet or kind
    by_name = {part.name: part for part in archive.sheets}
    if wanted in by_name:
        return by_name[wanted]
    listed = ", ".join(f'"{name}"' for name in by_name)
    if profile.sheet is not None:
        step = "Is it the right file? Else mend [file] sheet of the profile."
        raise refuse(place, "FILE21", f"sheets {listed}", f'a sheet "{profile.sheet}", as the profile says', step)
    filled = [part for part in archive.sheets if _has_rows(archive, part)]
    if len(filled) == 1:
        return filled[0]
    if not filled:
        raise refuse(place, "FILE02", "no sheet with rows", "rows", "Export it again.")
    step = 'Say [file] sheet = "..." in a profile of this source.'
    raise refuse(place, "FILE21", f"rows on several sheets: {listed}", "to know which sheet counts", step)


def _has_rows(archive: Archive, part: SheetPart) -> bool:
    data = archive.part(part.part)
    return b"<v" in data or b"<t" in data or b":v" in data or b":t" in data


def sheet_rows(archive: Archive, part: SheetPart, place: Place, notes: list[str], profile: Profile) -> SheetRows:
    """Rows of a sheet; what is hidden is read and told.

    Raises
    ------
    FileRefused
        Cells are merged below the title.
    """
    rows = SheetRows(archive, part, place)
    marks = rows.marks
    if part.hidden:
        notes.append(f'sheet "{part.name}" is hidden in the workbook; it was read')
    if marks.hidden_rows:
        listed = ", ".join(str(row) for row in marks.hidden_rows[:10]) + (" ..." if len(marks.hidden_rows) > 10 else "")
        notes.append(f'sheet "{part.name}": {len(marks.hidden_rows)} hidden rows were read ({listed})')
    if marks.hidden_columns:
        listed = ", ".join(letters_of(column) for column in marks.hidden_columns[:10])
        notes.append(f'sheet "{part.name}": hidden columns were read ({listed})')
    return rows


def check_merged(rows: Rows, header_row: int, place: Place) -> None:
    """Refuse merged cells in the header or the data; a merged title above is left alone.

    Raises
    ------
    FileRefused
        Naming the ranges.
    """
    if not isinstance(rows, SheetRows):
        return
    from heattrace.intake.reading.sheetxml import range_rows

    merged = [reference for reference in rows.marks.merged if range_rows(reference)[1] >= header_row]
    if merged:
        step = "Take the merging out in the workbook, fill each cell, and send it again."
        raise refuse(place, "FILE20", f"merged cells {', '.join(merged[:5])}", "one value a cell", step)


def _check_names(
    there: list[str], names: dict[str, str], kind: Kind, place: Place, profile: Profile, notes: list[str]
) -> None:
    faults = []
    for sheet, name in names.items():
        if kind.sheets[sheet].required and name not in there:
            near = difflib.get_close_matches(name, there, 1, 0.8)
            seen = f'no {name}; there is "{near[0]}"' if near else f"no {name}"
            faults.append(Finding("FILE21", place.at(), seen, f"a table {name}", "Export the whole book."))
    for name in there:
        if name not in names.values():
            if profile.sheets:
                notes.append(f'"{name}" left out; the profile does not map it')
                continue
            near = difflib.get_close_matches(name, list(names.values()), 1, 0.8)
            step = f"Did you mean {near[0]}?" if near else "Take it out of the book."
            faults.append(
                Finding("FILE21", place.at(), f'an unknown table "{name}"', "the tables of a " + kind.name, step)
            )
    if faults:
        raise refusal(faults)
