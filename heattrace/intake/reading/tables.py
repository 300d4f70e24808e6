"""One table of a file into rows let in and rows set aside; faults that reach beyond a row refuse the file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Protocol

from heattrace.findings import Finding
from heattrace.intake.profiles.profile import Profile, SheetMap
from heattrace.intake.reading.cells import NUMERIC, CellReader
from heattrace.intake.reading.contents import ContentReader
from heattrace.intake.reading.faults import CellFault, Place, refusal, refuse, shown
from heattrace.intake.reading.header import HeaderReader, Layout, Wanted
from heattrace.intake.reading.records import BenchFault, RowRecord, SheetContent
from heattrace.intake.reading.setting_aside import RowFault

# More rows than this with another number of cells than the header, and more than one row: the file is refused.
WIDTH_SHARE = 0.02
_TIME_FAULTS = frozenset(("ROW20", "ROW21", "ROW22", "ROW23", "ROW26"))


class Rows(Protocol):
    """What a table is read from: a CSV file or a workbook's sheet."""

    place: Place

    def records(self) -> Iterator[tuple[int, list[str]]]:
        """Rows from the first on: physical number from 1, and cells."""

    def raw(self, row: int) -> bytes:
        """Original bytes of a row already read."""

    def span(self, row: int) -> int:
        """Physical rows a record takes."""

    def forget(self, row: int) -> None:
        """Let go the bytes before a row."""


@dataclass(slots=True)
class Table:
    """A table whose header is understood, about to be read."""

    rows: Rows
    layout: Layout
    ahead: list[tuple[int, list[str]]]
    reader: CellReader
    notes: list[str] = field(default_factory=list)
    read: int = 0
    empty: int = 0
    skipped: int = 0
    odd_width: list[tuple[int, int]] = field(default_factory=list)

    def rest(self) -> Iterator[tuple[int, list[str]]]:
        """The rows below the header, as they stand in the file."""
        yield from self.ahead
        yield from self.rows.records()


def open_table(rows: Rows, profile: Profile, sheet: SheetMap, wanted: Wanted, place: Place) -> Table:
    """Find and read the header.

    Raises
    ------
    FileRefused
        With all structure faults of the header.
    """
    records = rows.records()
    first: list[tuple[int, list[str]]] = []
    for row, cells in records:
        first.append((row, cells))
        if row >= profile.header_within:
            break
    header = HeaderReader(profile, sheet, wanted, place)
    layout = header.find(first)
    ahead = [record for record in first if record[0] > layout.row]
    while not ahead or not any(ahead[0][1]):
        following = next(records, None) if len(ahead) < 2 else None
        ahead = ahead[1:] + ([following] if following is not None else [])
        if not ahead:
            break
    if ahead and wanted.elements and header.unit_row(layout, *ahead[0]):
        ahead = ahead[1:]
    reader = CellReader(profile, sheet, layout, place, ContentReader(profile))
    try:
        reader.read_constants(wanted.columns)
    except CellFault as fault:
        raise refuse(place, fault.code, "a constant of the profile", fault.wanted, "Mend the profile.") from None
    return Table(rows, layout, ahead, reader)


def check_row(table: Table, row: int, cells: list[str]) -> list[str] | BenchFault | None:
    """A row's cells, as many as the header has; the row set aside for their number; None for a row to pass over.

    Raises
    ------
    FileRefused
        A quote that swallows rows; values under a header without a name.
    """
    layout, rows, width = table.layout, table.rows, table.layout.width
    if not cells or not (cells[0].strip() or any(cell.strip() for cell in cells)):
        table.empty += 1
        return None
    words = table.reader.profile.rows
    line = layout.line if words is not None else None
    if words is not None and line is not None and line < len(cells) and cells[line].strip() in words.skip:
        table.skipped += 1
        return None
    table.read += 1
    if rows.span(row) > 1:
        _check_swallowed(table, row, cells)
    if len(cells) != width:
        if hasattr(rows, "marks_of") and len(cells) < width:
            cells = cells + [""] * (width - len(cells))
        elif len(cells) > width and not any(cell.strip() for cell in cells[width:]):
            cells = cells[:width]
        else:
            table.odd_width.append((row, len(cells)))
            return _odd_width(table, row, cells)
    for index in layout.unnamed:
        if cells[index].strip():
            seen = f'"{shown(cells[index])}" in column {index + 1}, which has no name'
            raise refuse(rows.place, "FILE11", seen, "a name in the header", "Name the column.", row)
    return cells


def _check_swallowed(table: Table, row: int, cells: list[str]) -> None:
    """Refuse a record over several rows that has another number of cells, or a cell that holds whole rows."""
    width, delimiter = table.layout.width, table.reader.profile.delimiter
    whole_rows = any(
        line.count(delimiter) >= max(2, width // 2) for cell in cells if "\n" in cell for line in cell.split("\n")
    )
    if len(cells) != width or whole_rows:
        seen = f"a quoted cell that goes on over {table.rows.span(row)} rows"
        step = "Close the quote that opens in this row."
        raise refuse(table.rows.place, "FILE08", seen, "quotes closed in their row", step, row)


def _odd_width(table: Table, row: int, cells: list[str]) -> BenchFault:
    width = table.layout.width
    step = ""
    if len(cells) > width and table.reader.profile.delimiter == ",":
        step = "A decimal comma parts a cell in two in such a file."
    fault = CellFault("ROW50", f"{width} cells, as in the header", step)
    return table.reader.bench(row, [RowFault(None, None, f"{len(cells)} cells", fault)], table.rows.raw(row))


def read_rows(table: Table, sheet_name: str, wanted: Wanted) -> Iterator[RowRecord | BenchFault]:
    """The rows of a table, let in or set aside; `check_whole` has to follow the last.

    Raises
    ------
    FileRefused
        A row that makes others uncertain.
    """
    layout, reader, rows = table.layout, table.reader, table.rows
    absent = reader.absent(wanted.columns)
    falls_back = [column for column in wanted.columns.values() if column.default_from]
    marks_of: Callable[[int], dict[int, str]] | None = getattr(rows, "marks_of", None)
    for row, texts in table.rest():
        cells = check_row(table, row, texts)
        if cells is None:
            continue
        if isinstance(cells, BenchFault):
            yield cells
            continue
        values, faults = reader.read(row, cells, marks_of(row) if marks_of is not None else {})
        if faults:
            yield reader.bench(row, faults, rows.raw(row))
            continue
        whole: dict[str, Any] = absent | values
        for column in falls_back:
            if whole.get(column.name) is None and column.default_from in whole:
                whole[column.name] = whole[column.default_from]
        if layout.line is not None:
            whole["line_word"] = cells[layout.line].strip()
        yield RowRecord(sheet_name, row, whole, rows.raw(row))


def read_table(table: Table, sheet_name: str, wanted: Wanted) -> SheetContent:
    """Read all rows of a table.

    Raises
    ------
    FileRefused
        Faults that touch more than single rows.
    """
    content = SheetContent(sheet_name, table.layout.row, table.layout.header)
    for read in read_rows(table, sheet_name, wanted):
        if isinstance(read, BenchFault):
            content.bench.append(read)
        else:
            content.rows.append(read)
    check_whole(table)
    content.read = table.read
    content.findings.extend(table.reader.findings)
    table.notes.extend(slip_notes(table))
    return content


def check_whole(table: Table) -> None:
    """Refuse what only all rows together show: another decimal sign, mixed dates, a column of no moments, odd widths.

    Raises
    ------
    FileRefused
        With one finding for each such fault.
    """
    faults: list[Finding] = []
    _check_widths(table, faults)
    _check_decimal_sign(table, faults)
    _check_times(table, faults)
    if faults:
        raise refusal(faults)


def _check_widths(table: Table, faults: list[Finding]) -> None:
    odd, width = table.odd_width, table.layout.width
    if len(odd) < 2 or len(odd) <= WIDTH_SHARE * table.read:
        return
    row, cells = odd[0]
    wanted = f"{width} cells, as in the header of row {table.layout.row}"
    step = "Is the delimiter right? " + (
        "A decimal comma also parts cells in a comma-separated file."
        if cells > width
        else "Or was the export cut off? Export it again."
    )
    seen = f"{len(odd)} of {table.read} rows with another number of cells, row {row} with {cells}"
    faults.append(Finding("FILE15", table.rows.place.at(row), seen, wanted, step))


def _check_decimal_sign(table: Table, faults: list[Finding]) -> None:
    """The other decimal sign in all rows, or throughout a column of more than one value."""
    decimal = table.reader.profile.decimal
    name = {".": "comma", ",": "point"}[decimal]
    numeric = [r for r in table.layout.columns if r.element or (r.column and r.column.type in NUMERIC)]
    tallies = table.reader.tallies
    wrong = {r.index: tallies[r.index].faults["ROW03"] for r in numeric}
    rows_hit = max(wrong.values(), default=0)
    throughout = rows_hit == table.read and not any(tallies[r.index].with_sign for r in numeric)
    for found in numeric:
        tally = tallies[found.index]
        whole_column = wrong[found.index] > 1 and not tally.taken and len(tally.faults) == 1
        if wrong[found.index] and (throughout or whole_column):
            row, text = tally.first["ROW03"]
            step = f'Say [file] decimal = "{"," if decimal == "." else "."}" in a profile of this source.'
            seen = f'decimal {name} found, such as "{shown(text.strip())}"'
            wanted = f'"{decimal}" as decimal sign, as profile {table.reader.profile.name} says'
            faults.append(Finding("FILE16", table.rows.place.at(row, found.header.strip()), seen, wanted, step))


def _check_times(table: Table, faults: list[Finding]) -> None:
    for found in table.layout.columns:
        if found.column is None or found.column.type not in ("instant", "day"):
            continue
        tally = table.reader.tallies[found.index]
        step = "Say [time] format and zone in a profile of this source."
        wanted = table.reader.instants.example + " throughout"
        if tally.doubtful_dates:
            row, text = tally.doubtful_dates[0]
            seen = f'"{shown(text.strip())}", where day and month cannot be told apart'
            faults.append(Finding("FILE17", table.rows.place.at(row, found.header.strip()), seen, wanted, step))
            continue
        bad = sum(n for code, n in tally.faults.items() if code in _TIME_FAULTS)
        if bad > 1 and not tally.taken and bad == sum(tally.faults.values()):
            code = tally.faults.most_common(1)[0][0]
            row, text = tally.first[code]
            seen = f'no cell that can be read, row {row} has "{shown(text.strip())}"'
            faults.append(Finding("FILE22", table.rows.place.at(row, found.header.strip()), seen, wanted, step))


def slip_notes(table: Table) -> list[str]:
    """Sentences for the import slip about what was taken for granted."""
    reader, notes = table.reader, list(table.layout.notes)
    where = f"{table.rows.place.sheet}: " if table.rows.place.sheet else ""
    if table.read == 0:
        notes.append("0 rows under the header")
    if table.empty:
        notes.append(f"{table.empty} empty rows left out")
    if table.skipped:
        notes.append(f"{table.skipped} rows left out, as [rows] skip of the profile says")
    for (name, default), count in sorted(reader.defaults.items()):
        notes.append(f"{name} empty in {count} rows: {default} taken")
    for name, default in sorted(reader.left_out.items()):
        notes.append(f"no column {name}: {default} taken for every row")
    for column, count in sorted(reader.tidied.items()):
        notes.append(
            f"{shown(column.strip())}: {count} numbers are searched without blanks, in capitals; the original stays"
        )
    if reader.instants.next_days:
        notes.append(f"24:00 read as 00:00 of the next day in {reader.instants.next_days} cells")
    if reader.profile.zone or reader.sheet.zone:
        notes.append(f"times without offset read in zone {reader.sheet.zone or reader.profile.zone}")
    rows = table.rows
    if getattr(rows, "had_bom", False):
        notes.append("byte order mark removed")
    if getattr(rows, "ended_by_ctrl_z", False):
        notes.append("Ctrl-Z at the end left out")
    return [where + note for note in notes]
