"""A cast book into the record: its sheets, what of them replaces earlier editions, and the cast traced anew."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from contextlib import suppress

from heattrace.consequence.retrace import Retraced, retrace
from heattrace.errors import FileRefused, NotFound
from heattrace.findings import Finding
from heattrace.intake.loading.cast_cuts import cut_sheet
from heattrace.intake.loading.cast_edition import CastEdition, SheetRows, open_edition
from heattrace.intake.loading.cast_happenings import take_beside, take_book_events
from heattrace.intake.loading.cast_mending import mend_rows as mend_rows
from heattrace.intake.loading.cast_sheets import FoundationSheets
from heattrace.intake.loading.load_heats import take_heats
from heattrace.intake.loading.load_temperatures import sheet_counts
from heattrace.intake.loading.numbers import Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.faults import Place, refuse
from heattrace.intake.reading.records import FileContent, Instant, RowRecord
from heattrace.store.work import Work
from heattrace.strand.record import CastUnreadable
from heattrace.tracing.cast_events import event_map
from heattrace.tracing.cast_record import read_cast
from heattrace.tracing.cast_trace import clock_words, trace_record


def load_cast_book(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write a cast book and trace its cast.

    The sheets the book holds take the place of those that earlier editions brought; absent sheets and rows from other
    files stay. A book that says nothing new leaves the cast as it is.

    Raises
    ------
    FileRefused
        For a row that all others rest on, or a book the strand model cannot read; nothing may be kept then.
    """
    edition = open_edition(work, content, batch, Numbers(work.reader))
    counts = _take_heats(edition)
    sheets = FoundationSheets(edition)
    counts.add(sheets.take())
    try:
        counts.add(_take_cuts(edition, sheets))
        record = trace_record(work.reader, edition.sequence_id)
        counts.add(take_book_events(edition, event_map(work.reader, record.recorded, record.traced)))
        counts.add(take_beside(edition, sheets.runs))
        moved = edition.settle({(fault.sheet, fault.row) for fault in counts.bench})
        counts.add(_sequence_counts(edition))
        if edition.changed or counts.taken:
            outcome = retrace(work, edition.sequence_id, None if moved else record)
            counts.findings += [_at_its_row(edition, finding) for finding in outcome.findings]
            counts.notes += edition.notes + traced_words(outcome)
    except CastUnreadable as fault:
        raise _unreadable(edition, fault) from None
    return counts


def _sequence_counts(edition: CastEdition) -> LoadCounts:
    """The one row of the sequences sheet is the book itself."""
    counts = LoadCounts()
    if edition.known and not edition.changed:
        counts.same = 1
    else:
        counts.taken = 1
    return sheet_counts(edition.content.sheets["sequences"], counts, [])


_CUT = re.compile(r"strand (\d+) run (\d+) cut (\d+)")


_NEW_GRADE = re.compile(r"change of grade to (.+?): ")


def _at_its_row(edition: CastEdition, finding: Finding) -> Finding:
    """A finding about the measured length of a cut or a change of grade, said of the row of the file that it flags."""
    if finding.code == "REC40" and (change := _NEW_GRADE.match(finding.seen)) is not None:
        poured = [row for row in edition.content.rows("pours") if row.values["heat_no"].normal == change[1]]
        return _said_of(edition, poured[0], "heat_no", finding) if poured else finding
    named = _CUT.fullmatch(finding.subject)
    if named is None or finding.code != "length-residual":
        return finding
    key = tuple(int(part) for part in named.groups())
    for row in edition.content.rows("cuts"):
        if (row.values["strand_no"], row.values["run_no"], row.values["cut_no"]) == key:
            return _said_of(edition, row, "measured_length_m", finding)
    return finding


def _said_of(edition: CastEdition, row: RowRecord, column: str, finding: Finding) -> Finding:
    seen = f"{finding.subject}: {finding.seen}"
    return edition.batch.finding(row, column, finding.code, seen, finding.wanted, finding.next)


def _unreadable(edition: CastEdition, fault: CastUnreadable) -> FileRefused:
    """The refusal of a book the strand model cannot read, its minutes as moments where they can be told."""
    words = str(fault)
    with suppress(NotFound):
        words = clock_words(read_cast(edition.reader, edition.sequence_id), words, edition.numbers.zone)
    return refuse(
        Place(edition.batch.file), "REC54", words, "a book that agrees with itself", "Mend it and send it again."
    )


def _take_heats(edition: CastEdition) -> LoadCounts:
    content, numbers = edition.content, edition.numbers
    opened = first_pours(content.rows("pours"))
    if "heats" not in content.sheets:
        return LoadCounts()
    sheet = content.sheets["heats"]
    counts = take_heats(
        edition.work, sheet, edition.batch, poured=opened, keep_number=True, numbers=numbers, retrace=False
    )
    benched = {fault.row for fault in counts.bench if fault.code in ("REC03", "REC23")}
    for row in sheet.rows:
        if row.row not in benched:
            _know_heat(edition, row, opened)
    return counts


def _know_heat(edition: CastEdition, row: RowRecord, opened: dict[str, Instant]) -> None:
    """Keep which heat a row of the heats sheet speaks of, for the sheets that name it by its number alone."""
    ident, series = row.values["heat_no"], row.values.get("series")
    known = edition.numbers.heats(ident.normal)
    of_series = [heat for heat in known if series and heat.series == series]
    if len(of_series) == 1:
        edition.heat_ids[ident.normal] = of_series[0].heat_id
        return
    at = opened.get(ident.normal) or row.values.get("tapped_at")
    found = edition.numbers.heat(ident, None if at is None else at.utc_ms)
    if not isinstance(found, Unknown):
        edition.heat_ids[ident.normal] = found.heat_id


def first_pours(rows: Iterable[RowRecord]) -> dict[str, Instant]:
    """First opening of every heat by its searched number."""
    found: dict[str, Instant] = {}
    for row in rows:
        number, opened = row.values["heat_no"].normal, row.values["opened_at"]
        if number not in found or opened.utc_ms < found[number].utc_ms:
            found[number] = opened
    return found


def _take_cuts(edition: CastEdition, sheets: FoundationSheets) -> LoadCounts:
    if "cuts" not in edition.content.sheets:
        return LoadCounts()
    if edition.standing_sheet("cuts") is None:
        edition.record_id()
    checker = cut_sheet(edition, sheets.runs)
    checked = checker.check()
    rows = SheetRows(edition, "cuts", "cut")
    for cut in checked.cuts:
        rows.put(cut.row_no, cut.values, counted=cut.fault is None)
    return sheet_counts(edition.content.sheets["cuts"], rows.write(), checked.bench)


def traced_words(outcome: Retraced) -> list[str]:
    """What tracing the cast came to, for the slip."""
    parts = outcome.record.traced.parts
    classes = Counter(part.class_ for part in parts)
    listed = ", ".join(f"{classes[name]} {name}" for name in ("pure", "transition", "undetermined") if classes[name])
    words = [f"{len(parts)} parts traced: {listed}" if parts else "no part can be traced yet"]
    if outcome.changed or outcome.ended:
        words.append(f"{len(outcome.changed)} parts changed, {len(outcome.ended)} are no longer there")
    return words
