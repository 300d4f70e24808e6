"""Open a file with its profile: sniff it, find its tables, read them, check them. Nothing is written."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from heattrace.errors import FileRefused
from heattrace.findings import Finding
from heattrace.intake.profiles.cast_book_sheets import KINDS
from heattrace.intake.profiles.kinds import Kind, Sheet
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.analysis_file import AnalysisFile
from heattrace.intake.reading.archive import Archive, open_archive
from heattrace.intake.reading.books import Found, check_merged, folder_tables, workbook_tables
from heattrace.intake.reading.checks import settle_doubles
from heattrace.intake.reading.csvrows import CsvRows
from heattrace.intake.reading.faults import Place, refusal, refuse, shown
from heattrace.intake.reading.header import Wanted
from heattrace.intake.reading.records import FileContent, SheetContent
from heattrace.intake.reading.sniffing import (
    cannot_open,
    check_size,
    check_sort,
    check_unchanged,
    file_digest,
    read_head,
    stamp,
)
from heattrace.intake.reading.tables import open_table, read_table


def open_file(path: Path | str, profile: Profile) -> FileContent:
    """Read a file, a folder of CSV files or a workbook of sheets, as its profile says.

    Raises
    ------
    FileRefused
        With findings for all structure faults; nothing of the file may be used then.
    """
    path = Path(path)
    place = Place(file_name(path))
    if profile.takes == "analyses":
        return AnalysisFile(path, profile, whole=True).content()
    before = stamp(path)
    kind = KINDS[profile.takes]
    content = FileContent(path, place.file, _digest(path, place), kind.name, profile.name, {})
    faults: list[Finding] = []
    for found in _tables(path, profile, kind, place, content.notes):
        sheet = _read_sheet(found, profile, content.notes, faults)
        if sheet is not None:
            content.sheets[found.sheet.name] = sheet
    check_unchanged(path, before, place)
    if faults:
        raise refusal(faults)
    return content


def file_name(path: Path) -> str:
    """The name a file goes by in messages and records."""
    return path.name or str(path)


def _digest(path: Path, place: Place) -> str:
    try:
        return file_digest(path)
    except (OSError, ValueError) as fault:
        raise cannot_open(place, fault) from None


def _tables(path: Path, profile: Profile, kind: Kind, place: Place, notes: list[str]) -> Iterator[Found]:
    """The tables of a file, each with its rows."""
    if path.is_dir():
        if len(kind.sheets) == 1:
            step = "Give the file inside it."
            raise refuse(place, "FILE01", "a folder", f"one file of {kind.name}", step)
        yield from folder_tables(path, profile, kind, place, notes)
        return
    head = read_head(path, place)
    if check_sort(path, head, profile.file_type, place) == "xlsx":
        archive = open_archive(path, place)
        notes.extend(left_alone(archive))
        yield from workbook_tables(archive, profile, kind, place, notes)
        return
    if len(kind.sheets) > 1 and kind.name != "grade-book":
        seen = "one CSV file"
        raise refuse(place, "FILE21", seen, "a folder of CSV files, or a workbook", "Give the folder the file lies in.")
    check_size(path, place)
    first: Sheet = next(iter(kind.sheets.values()))
    yield Found(first, CsvRows(path, place, head, profile.encoding, profile.delimiter), place)


def left_alone(archive: Archive) -> list[str]:
    """Sentences about what of a workbook is not read."""
    return [f"{what} in the workbook left alone" for what in archive.left_alone]


def read_sheet(found: Found, profile: Profile, notes: list[str]) -> SheetContent:
    """One sheet read and checked by itself.

    Raises
    ------
    FileRefused
        With a finding for each of its structure faults.
    """
    faults: list[Finding] = []
    content = _read_sheet(found, profile, notes, faults)
    if content is None or faults:
        raise refusal(faults)
    return content


def _read_sheet(found: Found, profile: Profile, notes: list[str], faults: list[Finding]) -> SheetContent | None:
    """One sheet read and checked; its faults that refuse the file are gathered."""
    sheet = found.sheet
    wanted = Wanted(sheet.by_name, tuple(c.name for c in sheet.columns if c.required))
    try:
        table = open_table(found.rows, profile, profile.for_sheet(sheet.name), wanted, found.place)
        check_merged(found.rows, table.layout.row, found.place)
        content = read_table(table, sheet.name, wanted)
    except FileRefused as refused:
        faults.extend(refused.findings)
        return None
    settle_doubles(content, sheet, found.place)
    content.bench.sort(key=lambda fault: fault.row)
    if sheet.bad_row == "refuse" and content.bench:
        for fault in content.bench:
            seen = f'"{fault.value}": {fault.message.rpartition("; ")[2].removesuffix(" was expected.")} was expected'
            step = f"All other rows of {sheet.name} rest on each one: mend the row and send the file again."
            where = found.place.at(fault.row, fault.column)
            faults.append(Finding("FILE23", where, shown(seen, 200), "a sound row", step))
    notes.extend(table.notes)
    return content
