"""Rows of the bench through the same reading and loading as their file, once a cell or a heat was put right."""

from __future__ import annotations

from pathlib import Path

from heattrace.errors import Refused
from heattrace.intake.batches.import_file import loader_of
from heattrace.intake.loading.numbers import Numbers
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.profiles.cast_book_sheets import KINDS
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.analysis_file import AnalysisFile
from heattrace.intake.reading.books import Found
from heattrace.intake.reading.csvrows import CsvRows
from heattrace.intake.reading.faults import Place
from heattrace.intake.reading.opening import read_sheet
from heattrace.intake.reading.records import FileContent
from heattrace.intake.reading.sniffing import read_head
from heattrace.store.work import Work


def load_again(
    work: Work, path: Path, profile: Profile, kind: str, sheet: str, batch: BatchInHand, heat_id: int | None
) -> LoadCounts:
    """Read a small file of rows that were set aside and write them; `heat_id` is a heat a person has named for them.

    Raises
    ------
    FileRefused
        The rows cannot be read.
    Refused
        Rows of this table cannot be mended alone, or speak of no heat.
    """
    if kind == "analyses":
        from heattrace.intake.loading.load_analyses import AnalysisLoader

        content = AnalysisFile(path, profile, whole=True).content()
        loader = AnalysisLoader(work, batch, attached=heat_id)
        read = content.sheets["analyses"]
        loader.take(read.analyses, content.raw, read.findings)
        counts = loader.done()
        counts.bench += read.bench
        counts.findings += read.findings
        counts.same += read.repeated
        return counts
    content = _content(path, profile, kind, sheet, batch)
    if heat_id is not None:
        return _attached(work, content, kind, sheet, batch, heat_id)
    return loader_of(kind)(work, content, batch) if kind != "cast-book" else _of_cast_book(work, content, sheet, batch)


def _content(path: Path, profile: Profile, kind: str, sheet: str, batch: BatchInHand) -> FileContent:
    place = Place(batch.file, sheet if len(KINDS[kind].sheets) > 1 else "")
    rows = CsvRows(path, place, read_head(path, place), profile.encoding, profile.delimiter)
    content = FileContent(path, batch.file, "", kind, profile.name, {})
    found = read_sheet(Found(KINDS[kind].sheets[sheet or kind], rows, place), profile, content.notes)
    content.sheets[found.sheet] = found
    return content


def _attached(work: Work, content: FileContent, kind: str, sheet: str, batch: BatchInHand, heat_id: int) -> LoadCounts:
    from heattrace.intake.loading.load_events import take_events
    from heattrace.intake.loading.load_temperatures import take_additions, take_temperatures

    numbers = Numbers(work.reader, attached=heat_id)
    name = sheet or kind
    if name == "temperatures":
        return take_temperatures(work, content.sheets[name], batch, numbers=numbers)
    if name == "additions":
        return take_additions(work, content.sheets[name], batch, numbers=numbers)
    if name == "events":
        return take_events(work, content.sheets[name], batch, numbers=numbers)
    raise Refused(
        f"rows of {name} are not attached to a heat; mend the cell: heattrace bench fix B-... --set heat_no=HEAT "
        "--reason WRONG-HEAT"
    )


def _of_cast_book(work: Work, content: FileContent, sheet: str, batch: BatchInHand) -> LoadCounts:
    """Rows of a cast book: those of sheets that are also files of their own go the way of these files."""
    from heattrace.intake.loading.load_events import take_events, take_fittings, take_oscillation
    from heattrace.intake.loading.load_heats import take_heats
    from heattrace.intake.loading.load_temperatures import take_additions, take_temperatures

    alone = {
        "heats": take_heats, "temperatures": take_temperatures, "additions": take_additions, "events": take_events,
        "fittings": take_fittings, "oscillation": take_oscillation,
    }  # fmt: skip
    if sheet in alone:
        return alone[sheet](work, content.sheets[sheet], batch)
    from heattrace.intake.loading.load_cast_book import mend_rows

    counts: LoadCounts = mend_rows(work, content, batch)
    return counts
