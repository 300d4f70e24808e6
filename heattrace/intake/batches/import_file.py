"""Take in one file: one batch, one transaction, one ledger entry, or no trace at all."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from heattrace.errors import FileRefused, Refused
from heattrace.intake.batches.content_digest import FORM, content_digest, first_keys, written_since
from heattrace.intake.bench.rows import set_aside
from heattrace.intake.loading.slip import SHEETED, BatchInHand, BenchLine, FileAnswer, LoadCounts, counted
from heattrace.intake.profiles.profile_shelf import Shelved, find_profile
from heattrace.intake.reading.analysis_file import AnalysisFile
from heattrace.intake.reading.longform import Scattered
from heattrace.intake.reading.opening import file_name, open_file
from heattrace.intake.reading.records import AnalysisBatch, BenchFault, FileContent
from heattrace.intake.reading.refused_rows import rows_refused
from heattrace.intake.reading.sniffing import file_digest
from heattrace.store.engine import open_reader
from heattrace.store.ledger import canonical
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import shown_at
from heattrace.store.work import Work, begin_work
from heattrace.store.works import works_zone

Progress = Callable[[int, int | None], None]
"""(rows read so far, rows expected) -> None"""

Loader = Callable[[Work, FileContent, BatchInHand], LoadCounts]

# Kind of file -> module below heattrace.intake and its loader, imported only for such a file.
LOADERS: Mapping[str, tuple[str, str]] = {
    "analyses": ("load_analyses", "load_analyses"),
    "cast-book": ("load_cast_book", "load_cast_book"),
    "grade-book": ("load_grade_book", "load_grade_book"),
    "heats": ("load_heats", "load_heats"),
    "orders": ("load_orders", "load_orders"),
    "order-limits": ("load_orders", "load_order_limits"),
    "temperatures": ("load_temperatures", "load_temperatures"),
    "additions": ("load_temperatures", "load_additions"),
    "events": ("load_events", "load_events"),
    "fittings": ("load_events", "load_fittings"),
    "oscillation": ("load_events", "load_oscillation"),
    "dispatch": ("load_dispatch", "load_dispatch"),
    "weights": ("load_pieces", "load_weights"),
    "inspections": ("load_pieces", "load_inspections"),
    "aliases": ("load_pieces", "load_aliases"),
    "rolling": ("load_family", "load_rolling"),
    "earlier-pieces": ("load_family", "load_earlier_pieces"),
}

# Written by their columns: the table classes take longer to load than many a file to be taken in.
_BATCH_COLUMNS = ("batch_id", "file", "sha256", "profile", "profile_edition", "kind", "at", "entry_no")
_COUNT_COLUMNS = (
    "batch_id", "state", "rows_read", "rows_taken", "rows_same", "rows_contested", "rows_bench", "slip", "entry_no",
)  # fmt: skip

_BATCH = """
SELECT b.batch_id, b.file, b.at, b.profile_edition, c.rows_read FROM batch b
JOIN batch_count c ON c.batch_id = b.batch_id WHERE {live:b} AND b.sha256 = :sha256 AND b.profile = :profile
"""


def loader_of(kind: str) -> Loader:
    """The loader of a kind of file.

    Raises
    ------
    Refused
        This version takes in no such file.
    """
    module, name = LOADERS[kind]
    try:
        return getattr(importlib.import_module(f"heattrace.intake.loading.{module}"), name)  # type: ignore[no-any-return]
    except ModuleNotFoundError as missing:
        if missing.name != f"heattrace.intake.loading.{module}":
            raise
        raise Refused(f"files of kind {kind} cannot be taken in by this version; nothing was changed") from None


def import_file(
    db: str, path: Path | str, profile: str, *, by: str, dry_run: bool = False, progress: Progress | None = None,
    now: int | None = None,
) -> FileAnswer:  # fmt: skip
    """Take in a file, a folder of sheets or a workbook as its profile says.

    A file that the record has already, by its digest and profile, changes nothing. A dry run does everything but the
    last step.

    Raises
    ------
    FileRefused
        For a fault that makes more than single rows uncertain; nothing was written.
    NotFound
        There is no such profile.
    DatabaseRefused
        There is no database, or it cannot be written; `import` never makes one.
    """
    with open_reader(db) as reader:
        shelved = find_profile(reader, profile)
    path = Path(path)
    try:
        return _Import(db, path, shelved, by, dry_run, progress, now).run(whole=False)
    except Scattered:
        return _Import(db, path, shelved, by, dry_run, progress, now).run(whole=True)


@dataclass(slots=True)
class Reading:
    """A file opened for taking in: how to load it, and what only shows once it is loaded."""

    sha256: str
    kind: str
    workbook: bool
    headers: dict[str, Sequence[str]]
    load: Callable[[Work, BatchInHand], LoadCounts]
    notes: Callable[[], list[str]]


class _Import:
    def __init__(
        self, db: str, path: Path, shelved: Shelved, by: str, dry_run: bool, progress: Progress | None, now: int | None
    ) -> None:
        self.db, self.path, self.by, self.dry_run, self.progress, self.now = db, path, by, dry_run, progress, now
        self.profile, self.edition = shelved.profile, shelved.edition
        self.name = file_name(path)

    def run(self, *, whole: bool) -> FileAnswer:
        known = self._known_by_digest()
        if known is not None:
            return known
        reading = self._open(whole)
        with begin_work(self.db, by=self.by, action="import", subject=self.name, now=self.now) as work:
            known = self._same(work.reader, reading.sha256)
            if known is not None:
                return known
            first = first_keys(work)
            batch_id = self._begin_batch(work, reading)
            counts = reading.load(work, BatchInHand(batch_id, self.name, self.profile))
            bench = self._write_bench(work, batch_id, counts.bench, reading)
            answer = self._answer(batch_id, reading, counts, bench)
            self._write_counts(work, batch_id, counts, answer)
            if self.dry_run:
                return answer
            spans = written_since(work, first)
            work.payload = {
                "batch": batch_id, "file": self.name, "sha256": reading.sha256, "profile": self.profile.name,
                "profile_edition": self.edition, "kind": reading.kind, "rows": answer.rows,
                "content": {"form": FORM, "sha256": content_digest(work.reader, spans), "keys": spans},
            }  # fmt: skip
            work.commit()
        return answer

    def _known_by_digest(self) -> FileAnswer | None:
        """Whether the file was taken before, asked before it is read; what cannot be read is told by the reading."""
        try:
            sha256 = file_digest(self.path)
        except (OSError, ValueError):
            return None
        with open_reader(self.db) as reader:
            return self._same(reader, sha256)

    def _same(self, reader: Reader, sha256: str) -> FileAnswer | None:
        row: Row | None = reader.one(_BATCH, sha256=sha256, profile=self.profile.name)
        if row is None:
            return None
        at = shown_at(row["at"] // 1000 * 1000, works_zone(reader))
        called = "" if row["file"] == self.name else f" under the name {row['file']}"
        message = f"already taken on {at} as I-{row['batch_id']}{called}; nothing was changed"
        if row["profile_edition"] != self.edition:
            message += (
                f". It was read with edition {row['profile_edition']} of the profile, now {self.edition} is in force; "
                f"to read it anew: heattrace batch undo I-{row['batch_id']}, then import it again"
            )
        batch = None if self.dry_run else f"I-{row['batch_id']}"
        state = "dry-run" if self.dry_run else "same"
        rows = counted(same=int(row["rows_read"]))
        return FileAnswer(batch, self.name, sha256, self.profile.name, state, rows, message=message)

    def _open(self, whole: bool) -> Reading:
        if self.profile.takes == "analyses":
            return self._open_analyses(AnalysisFile(self.path, self.profile, whole=whole))
        loader = loader_of(self.profile.takes)
        content = open_file(self.path, self.profile)
        return Reading(
            content.sha256,
            content.kind,
            is_workbook(self.path),
            {(s.sheet if content.kind in SHEETED else ""): s.header for s in content.sheets.values()},
            lambda work, batch: loader(work, content, batch),
            lambda: content.notes,
        )

    def _open_analyses(self, file: AnalysisFile) -> Reading:
        from heattrace.intake.loading.load_analyses import load_analysis_batches

        lots: Iterator[AnalysisBatch] = file.batches()
        if not file.streams:
            lots = iter(list(lots))

        def load(work: Work, batch: BatchInHand) -> LoadCounts:
            return load_analysis_batches(work, self._watched(lots), batch, file.places_lost)

        return Reading(
            file.sha256, "analyses", is_workbook(self.path), {"": file.header}, load, lambda: list(file.notes)
        )

    def _watched(self, lots: Iterator[AnalysisBatch]) -> Iterator[AnalysisBatch]:
        """The lots of a file, with the progress told after each."""
        done, expected = 0, None
        for lot in lots:
            yield lot
            done += lot.read
            if self.progress is not None:
                expected = expected or _rows_expected(self.path, lot)
                self.progress(done, expected)

    def _begin_batch(self, work: Work, reading: Reading) -> int:
        batch_id = work.next_key("batch", "batch_id")
        row = (
            batch_id, self.name, reading.sha256, self.profile.name, self.edition, reading.kind, work.now, work.entry_no,
        )  # fmt: skip
        work.bulk_insert("batch", _BATCH_COLUMNS, [row])
        return batch_id

    def _write_bench(
        self, work: Work, batch_id: int, faults: list[BenchFault], reading: Reading
    ) -> list[BenchLine]:  # fmt: skip
        faults.sort(key=lambda fault: (fault.sheet, fault.row))
        return set_aside(work, batch_id, faults, reading.headers, self.profile, workbook=reading.workbook)

    def _answer(self, batch_id: int, reading: Reading, counts: LoadCounts, bench: list[BenchLine]) -> FileAnswer:
        rows = counted(taken=counts.taken, same=counts.same, contested=counts.contested, bench=len(bench))
        notes = [*reading.notes(), *counts.notes]
        if self.dry_run:
            unnumbered = [
                BenchLine(None, b.sheet, b.row, b.column, b.value, b.code, b.message, f.next)
                for b, f in zip(bench, counts.bench, strict=True)
            ]
            return FileAnswer(
                None, self.name, reading.sha256, self.profile.name, "dry-run", rows, unnumbered, counts.findings, notes
            )
        state = "taken-with-bench" if bench else "taken"
        return FileAnswer(
            f"I-{batch_id}", self.name, reading.sha256, self.profile.name, state, rows, bench, counts.findings, notes
        )

    def _write_counts(self, work: Work, batch_id: int, counts: LoadCounts, answer: FileAnswer) -> None:
        slip = {"notes": answer.notes, "findings": [finding.as_json() for finding in answer.findings]}
        row = (
            batch_id, "taken-with-bench" if answer.bench else "taken", answer.rows["read"], counts.taken, counts.same,
            counts.contested, len(answer.bench), canonical(slip), work.entry_no,
        )  # fmt: skip
        work.bulk_insert("batch_count", _COUNT_COLUMNS, [row])


def is_workbook(path: Path) -> bool:
    """Whether a file is a workbook by its first bytes."""
    try:
        with path.open("rb") as stream:
            return stream.read(2) == b"PK"
    except OSError:
        return False


def _rows_expected(path: Path, lot: AnalysisBatch) -> int | None:
    """About how many rows a file has, by its size and the length of some of its rows."""
    some = [row for analysis in lot.analyses[:20] for row in analysis.rows][:200]
    length = sum(len(lot.raw(row)) + 1 for row in some)
    try:
        return None if not length or path.is_dir() else int(path.stat().st_size * len(some) / length)
    except OSError:
        return None


def refused(db: str, path: Path | str, profile: str, why: FileRefused) -> FileAnswer:
    """The answer for a file that was refused: all of its rows with it."""
    path = Path(path)
    with open_reader(db) as reader:
        rows = counted(refused=rows_refused(path, find_profile(reader, profile).profile))
    return FileAnswer(None, file_name(path), None, profile, "refused", rows, [], list(why.findings), [], str(why))
