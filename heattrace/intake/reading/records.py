"""What a file became: checked rows, rows for the bench, and what is to be said about them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

from heattrace.findings import Finding
from heattrace.metallurgy.amount import Amount


class Number(NamedTuple):
    """A recorded number: exact value in the column's unit, and its digits with a decimal point."""

    value: Decimal
    text: str


class Instant(NamedTuple):
    """A moment: whole milliseconds UTC, offset from UTC in minutes, and the text as the file has it."""

    utc_ms: int
    offset_min: int
    text: str


class Ident(NamedTuple):
    """A number of the plant: the form used for searching, and the text as the file has it."""

    normal: str
    original: str


class Day(NamedTuple):
    """A calendar day without a time: ISO form, and the text as the file has it."""

    iso: str
    text: str


@dataclass(frozen=True, slots=True)
class BenchFault:
    """A row set aside. `column` is the file's own header text (None: the whole row); `value` shows controls escaped."""

    sheet: str
    row: int
    column: str | None
    value: str
    code: str
    message: str
    next: str
    raw: bytes


@dataclass(frozen=True, slots=True)
class RowRecord:
    """A row let in. `values` maps our column names to Number, Instant, Ident, Day, Amount, str, int, bool or None.

    A column that was empty or absent and has a default carries the default; one without carries None. `raw` is the
    row as it stood in the file (CSV: the record's bytes without its line end; workbook: cell texts joined by tabs).
    """

    sheet: str
    row: int
    values: Mapping[str, Any]
    raw: bytes


@dataclass(slots=True)
class Burn:
    """One burn of an analysis: its label or number, its time if it has one, and its values."""

    burn: str
    analysed_at: Instant | None
    results: dict[str, Amount]
    row: int


@dataclass(slots=True)
class AnalysisRecord:
    """One analysis of one sample by one method on one instrument, and the rows it came from.

    `results` is empty where only burns were reported and no mean. `values` holds further columns of the profile by our
    names (None where empty). Identity in a database: profile, sample_id, method, instrument, analysed_at. `units` names
    the unit an element was reported in where that is not mass %.
    """

    heat_no: Ident | None
    sample_id: Ident
    sample_kind: str
    taken_at: Instant | None
    analysed_at: Instant | None
    method: str
    instrument: str | None
    tundish: str | None
    strand_no: int | None
    position_m: Number | None
    ladle_mass_left_t: Number | None
    piece_no: Ident | None
    piece_end: str | None
    laboratory: str | None
    report_no: str | None
    supersedes: str | None
    results: Mapping[str, Amount]
    burns: list[Burn]
    sheet: str
    rows: list[int]
    units: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class AnalysisBatch:
    """Some analyses of a file, complete, with the rows set aside so far; `raw(row)` gives a row's original bytes.

    `read` counts the data rows behind this batch: rows of the analyses, benched rows, and `repeated` rows (identical
    twice in the file). Rows a profile skips are not counted.
    """

    analyses: list[AnalysisRecord]
    bench: list[BenchFault]
    findings: list[Finding]
    read: int
    repeated: int
    raw: Callable[[int], bytes]


@dataclass(slots=True)
class SheetContent:
    """One table of a file: the header as it stands and where, rows let in, rows set aside, findings.

    `read` counts the data rows: those of `rows` (or behind `analyses`), those of `bench`, and the `repeated` ones,
    which say again what another row of the file says. Of analyses `rows` carry their original bytes only.
    """

    sheet: str
    header_row: int
    header: tuple[str, ...]
    read: int = 0
    repeated: int = 0
    rows: list[RowRecord] = field(default_factory=list)
    bench: list[BenchFault] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    analyses: list[AnalysisRecord] = field(default_factory=list)


def _no_raw(row: int) -> bytes:
    return b""


@dataclass(slots=True)
class FileContent:
    """One file (or folder, or workbook of sheets) read and checked; nothing in it is written anywhere yet.

    `notes` are sentences for the import slip. `places_lost` maps an element to the places its column has elsewhere: a
    result of this file with fewer places may have lost trailing zeros, and a verdict at the limit has to say so.
    `raw(row)` gives the original bytes of a row of a file of analyses; rows of other kinds carry their own.
    """

    path: Path
    name: str
    sha256: str
    kind: str
    profile: str
    sheets: dict[str, SheetContent]
    notes: list[str] = field(default_factory=list)
    places_lost: dict[str, int] = field(default_factory=dict)
    raw: Callable[[int], bytes] = _no_raw

    @property
    def bench(self) -> list[BenchFault]:
        """All rows set aside, sheet by sheet."""
        return [fault for sheet in self.sheets.values() for fault in sheet.bench]

    @property
    def findings(self) -> list[Finding]:
        """All findings, sheet by sheet."""
        return [finding for sheet in self.sheets.values() for finding in sheet.findings]

    @property
    def analyses(self) -> list[AnalysisRecord]:
        """All analyses of a file of analyses."""
        return [analysis for sheet in self.sheets.values() for analysis in sheet.analyses]

    def rows(self, sheet: str) -> Sequence[RowRecord]:
        """Rows of one sheet; none where the file has no such sheet."""
        return self.sheets[sheet].rows if sheet in self.sheets else ()


def texts(row: RowRecord) -> dict[str, str]:
    """The row's values as text by our column names, digits as reported; empty text where nothing was given."""
    return {name: _text(value) for name, value in row.values.items()}


def _text(value: Any) -> str:
    match value:
        case None:
            return ""
        case Number():
            return value.text
        case Instant() | Day():
            return value.text
        case Ident():
            return value.original
        case Amount():
            return value.shown()
        case bool():
            return "yes" if value else "no"
        case _:
            return str(value)
