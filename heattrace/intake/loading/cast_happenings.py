"""What happened during a cast, as its book tells: events, fittings, oscillation, temperatures, additions."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from heattrace.intake.loading.cast_edition import CastEdition, SheetRows
from heattrace.intake.loading.cast_sheets import Run, future_fault, text_of, word
from heattrace.intake.loading.load_events import SequenceRows, casting_fault, event_columns, two_moments
from heattrace.intake.loading.load_temperatures import sheet_counts, take_additions, take_temperatures
from heattrace.intake.loading.numbers import Unknown
from heattrace.intake.loading.slip import LoadCounts
from heattrace.intake.reading.records import BenchFault, RowRecord
from heattrace.tracing.cast_events import EventMap

_OF_BOOK = "SELECT x.* FROM {table} x WHERE x.batch_id IN ({keys}) AND {live:x} AND x.entry_no <> :entry"
_KEYED = {"temperature": ("heat_id", "place", "read_at"), "addition": ("heat_id", "material", "added_at")}


def take_book_events(edition: CastEdition, events: EventMap) -> LoadCounts:
    """Write the events of a book; `events` is the map of its traced cast, to tell what marks nothing."""
    if "events" not in edition.content.sheets:
        return LoadCounts()
    reading = SequenceRows(edition.work, edition.batch, edition.numbers, "event", "event_id")
    rows, bench = SheetRows(edition, "events", "event", shared=True), []
    for row in edition.content.rows("events"):
        fault = _other_sequence(edition, row)
        found = fault if fault is not None else event_columns(reading, row)
        if isinstance(found, BenchFault):
            bench.append(found)
            continue
        wrong = casting_fault(edition.batch, row, found, events)
        if wrong is None:
            del found["sequence_id"]
            rows.put(row.row, found)
        else:
            bench.append(wrong)
    return sheet_counts(edition.content.sheets["events"], rows.write(), bench)


def _other_sequence(edition: CastEdition, row: RowRecord) -> BenchFault | None:
    if edition.check_sequence(row):
        return None
    step = "Mend it: bench fix NUMBER --set sequence_no=NUMBER --reason TYPING"
    return edition.batch.fault(row, "sequence_no", "REC10", f"{edition.sequence_no}, the sequence of this book,", step)


def take_beside(edition: CastEdition, runs: frozenset[Run]) -> LoadCounts:
    """Write fittings, oscillation, temperatures and additions of a book."""
    counts = LoadCounts()
    strands = frozenset(strand for strand, _ in runs)
    counts.add(_take(edition, "fittings", "fitting", lambda row: _strand_fault(edition, row, strands), _fitting))
    counts.add(
        _take(edition, "oscillation", "oscillation", lambda row: _strand_fault(edition, row, strands), _oscillation)
    )
    for sheet, take, table in (
        ("temperatures", take_temperatures, "temperature"), ("additions", take_additions, "addition"),
    ):  # fmt: skip
        if sheet in edition.content.sheets:
            held = edition.content.sheets[sheet]
            counts.add(take(edition.work, held, edition.batch, numbers=edition.numbers))
            _end_unstated(edition, table, held.rows)
    return counts


def _take(
    edition: CastEdition,
    sheet: str,
    table: str,
    fault_of: Callable[[RowRecord], BenchFault | None],
    said: Callable[[RowRecord], dict[str, Any]],
) -> LoadCounts:
    if sheet not in edition.content.sheets:
        return LoadCounts()
    rows, bench = SheetRows(edition, sheet, table, shared=True), []
    for row in edition.content.rows(sheet):
        fault = fault_of(row)
        if fault is None:
            rows.put(row.row, said(row))
        else:
            bench.append(fault)
    return sheet_counts(edition.content.sheets[sheet], rows.write(), bench)


def _strand_fault(edition: CastEdition, row: RowRecord, strands: frozenset[int]) -> BenchFault | None:
    fault = _other_sequence(edition, row)
    strand = row.values.get("strand_no")
    if fault is None and strands and strand is not None and strand not in strands:
        listed = ", ".join(str(each) for each in sorted(strands))
        step = "Mend it: bench fix NUMBER --set strand_no=STRAND --reason TYPING"
        return edition.batch.fault(row, "strand_no", "REC15", f"a strand of this cast ({listed})", step)
    return fault or future_fault(edition, row)


def _fitting(row: RowRecord) -> dict[str, Any]:
    v = row.values
    return {
        "strand_no": v.get("strand_no"), "tundish": v.get("tundish"), "kind": v["kind"],
        "number_or_lot": word(v["number_or_lot"]), **two_moments(row, ("from_at", "to_at")),
    }  # fmt: skip


def _oscillation(row: RowRecord) -> dict[str, Any]:
    v = row.values
    own = {"strand_no": v["strand_no"], "stroke_mm": text_of(v["stroke_mm"]), "per_min": text_of(v["per_min"])}
    return own | two_moments(row, ("from_at",))


def _end_unstated(edition: CastEdition, table: str, rows: Iterable[RowRecord]) -> None:
    """End readings that earlier editions of this book brought and this one no longer states."""
    names, at = _KEYED[table], _KEYED[table][2]
    stated = set()
    for row in rows:
        heat = edition.numbers.heat(row.values["heat_no"], row.values[at].utc_ms)
        if not isinstance(heat, Unknown):
            stated.add((heat.heat_id, row.values[names[1]], row.values[at].utc_ms))
    sql = _OF_BOOK.replace("{table}", table)
    standing = edition.reader.by_keys(sql, sorted(edition.batches), entry=edition.work.entry_no)
    gone = [int(row[f"{table}_id"]) for row in standing if tuple(row[name] for name in names) not in stated]
    if gone:
        edition.work.end(table, f"{table}_id", gone)
        edition.record_id()
