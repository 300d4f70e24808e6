"""A file of analyses: read whole, or as a stream of batches that does not hold the file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from heattrace.findings import Finding
from heattrace.intake.profiles.kinds import ANALYSIS_COLUMNS, ANALYSIS_MUST, RESULT_COLUMNS
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.analyses import gather, known
from heattrace.intake.reading.archive import open_archive
from heattrace.intake.reading.books import check_merged, one_sheet_of, sheet_rows
from heattrace.intake.reading.checks import bench_samples_of_two_heats, check_shift, check_sums, check_swaps
from heattrace.intake.reading.csvrows import CsvRows
from heattrace.intake.reading.faults import Place
from heattrace.intake.reading.header import Wanted
from heattrace.intake.reading.longform import ResultStream, Scattered
from heattrace.intake.reading.records import (
    AnalysisBatch,
    AnalysisRecord,
    BenchFault,
    FileContent,
    RowRecord,
    SheetContent,
)
from heattrace.intake.reading.sniffing import check_size, check_sort, check_unchanged, file_digest, read_head, stamp
from heattrace.intake.reading.tables import Rows, Table, check_whole, open_table, read_rows, read_table, slip_notes

# A file up to this many bytes is gathered whole; a larger one is streamed where its layout allows it.
STREAMED_FROM = 1 << 20
ROWS_AT_ONCE = 500

__all__ = ["AnalysisFile", "Scattered"]


class AnalysisFile:
    """A file of analyses whose header is understood.

    `batches()` gives its analyses; after the last one the file is known to be sound and `notes` and `places_lost` are
    complete. A large row-a-result file is streamed: then `Scattered` may be raised where the rows of one analysis stand
    apart, and the file has to be opened anew with `whole`. `streams` says which way it is read.

    Raises
    ------
    FileRefused
        On opening for what the header shows, at the latest after the last batch for what all rows show.
    """

    def __init__(self, path: Path | str, profile: Profile, *, whole: bool = False) -> None:
        self.path, self.profile = Path(path), profile
        self.place = Place(self.path.name or str(path))
        self.name = self.place.file
        self.notes: list[str] = []
        self.places_lost: dict[str, int] = {}
        self._stamp = stamp(self.path)
        self.wanted = _wanted(profile)
        self._rows = self._open_rows()
        self.sha256 = file_digest(self.path)
        self._table: Table = open_table(self._rows, profile, profile.for_sheet("analyses"), self.wanted, self.place)
        layout = self._table.layout
        check_merged(self._rows, layout.row, self.place)
        self.header_row, self.header = layout.row, layout.header
        self._by_result = profile.layout == "long" and profile.rows is None and layout.of("burn") is None
        large = isinstance(self._rows, CsvRows) and self.path.stat().st_size > STREAMED_FROM
        row_by_row = profile.layout == "wide" and profile.rows is None and layout.of("burn") is None
        self.streams = (self._by_result or row_by_row) and large and not whole
        if large and not self.streams:
            check_size(self.path, self.place)

    def _open_rows(self) -> Rows:
        head = read_head(self.path, self.place)
        if check_sort(self.path, head, self.profile.file_type, self.place) == "csv":
            return CsvRows(self.path, self.place, head, self.profile.encoding, self.profile.delimiter)
        archive = open_archive(self.path, self.place)
        self.notes.extend(f"{what} in the workbook left alone" for what in archive.left_alone)
        part = one_sheet_of(archive, self.profile, "analyses", self.place)
        return sheet_rows(archive, part, self.place, self.notes, self.profile)

    def raw(self, row: int) -> bytes:
        """Original bytes of a row of the present batch."""
        return self._rows.raw(row)

    def batches(self) -> Iterator[AnalysisBatch]:
        """The analyses, complete, batch by batch."""
        if self._by_result:
            stream = ResultStream(self._table, self.wanted, "analyses", not self.streams)
            if self.streams:
                yield from stream.batches()
            else:
                yield self._whole(*stream.batches())
            self.places_lost = stream.places.lost()
        elif self.streams:
            yield from self._stream_rows()
        else:
            yield self._whole(self._gathered())
        self.notes.extend(slip_notes(self._table))
        check_unchanged(self.path, self._stamp, self.place)

    def _gathered(self) -> AnalysisBatch:
        table, layout = self._table, self._table.layout
        content = read_table(table, "analyses", self.wanted)
        check_shift(table.reader, layout, self.place)
        gathered = gather(content.rows, self.profile, layout, self.place)
        self.places_lost = table.reader.places.lost()
        findings = [*content.findings, *gathered.findings, *self._checked(gathered.analyses), *self._places_found()]
        bench = [*content.bench, *gathered.bench]
        return AnalysisBatch(gathered.analyses, bench, findings, content.read, gathered.repeated, self.raw)

    def _checked(self, analyses: list[AnalysisRecord]) -> list[Finding]:
        """What is to be said of analyses beside each other."""
        sums = [] if self._table.reader.places.all_small else check_sums(analyses, self.place)
        return [*sums, *check_swaps(analyses, self.place, self._headers())]

    def _places_found(self) -> list[Finding]:
        return self._table.reader.places.findings(self.place, self._headers())

    def _headers(self) -> dict[str, str]:
        return {c.element: c.header.strip() for c in self._table.layout.elements if c.element}

    def _stream_rows(self) -> Iterator[AnalysisBatch]:
        """Batches of a row-a-sample file in which each row is an analysis."""
        table, rows, bench, given = self._table, [], [], 0
        seen: set[int] = set()
        for read in read_rows(table, "analyses", self.wanted):
            if isinstance(read, BenchFault):
                bench.append(read)
            else:
                rows.append(read)
            if len(rows) + len(bench) >= ROWS_AT_ONCE:
                yield self._lot(rows, bench, seen, table.read - given)
                table.rows.forget((rows or bench)[-1].row + 1)
                rows, bench, given = [], [], table.read
        check_whole(table)
        check_shift(table.reader, table.layout, self.place)
        last = self._lot(rows, bench, seen, table.read - given)
        last.findings.extend(self._places_found())
        self.places_lost = table.reader.places.lost()
        yield last

    def _lot(self, rows: list[RowRecord], bench: list[BenchFault], seen: set[int], read: int) -> AnalysisBatch:
        gathered = gather(rows, self.profile, self._table.layout, self.place)
        marks = {hash(known(a)) for a in gathered.analyses}
        if not seen.isdisjoint(marks):
            raise Scattered
        seen |= marks
        findings = [*self._table.reader.findings, *gathered.findings, *self._checked(gathered.analyses)]
        self._table.reader.findings.clear()
        aside = sorted([*bench, *gathered.bench], key=lambda fault: fault.row)
        return AnalysisBatch(gathered.analyses, aside, findings, read, gathered.repeated, self.raw)

    def _whole(self, batch: AnalysisBatch) -> AnalysisBatch:
        """What only a file read whole shows: samples of two heats; rows in their order."""
        bench_samples_of_two_heats(batch, self.place, self.raw)
        batch.bench.sort(key=lambda fault: fault.row)
        batch.analyses.sort(key=lambda analysis: analysis.rows[0])
        return batch

    def content(self) -> FileContent:
        """The whole file."""
        sheet = SheetContent("analyses", self.header_row, self.header)
        for batch in self.batches():
            sheet.analyses += batch.analyses
            sheet.bench += batch.bench
            sheet.findings += batch.findings
            sheet.read += batch.read
            sheet.repeated += batch.repeated
            rows = sorted(row for analysis in batch.analyses for row in analysis.rows)
            sheet.rows += [RowRecord("analyses", row, {}, batch.raw(row)) for row in rows]
        return FileContent(
            self.path, self.name, self.sha256, "analyses", self.profile.name, {"analyses": sheet}, self.notes,
            self.places_lost, self.raw,
        )  # fmt: skip


def _wanted(profile: Profile) -> Wanted:
    columns = {c.name: c for c in ANALYSIS_COLUMNS}
    must = [name for name in ANALYSIS_MUST if not _from_split(profile, name)]
    if profile.layout == "wide":
        return Wanted(columns, tuple(must), elements=True)
    columns |= {c.name: c for c in RESULT_COLUMNS}
    must += ["element", "value"]
    if not profile.elements or not all(element.unit for element in profile.elements.values()):
        must.append("unit")
    return Wanted(columns, tuple(must))


def _from_split(profile: Profile, name: str) -> bool:
    pattern = profile.split.get("sample_id", "")
    return (name == "heat_no" and "{heat_no}" in pattern) or (name == "sample_kind" and "{kind}" in pattern)
