"""Events, fittings and oscillation of sequences into the record; parts an event marks are traced anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.loading.load_temperatures import sheet_counts
from heattrace.intake.loading.moments import not_yet
from heattrace.intake.loading.numbers import Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import BenchFault, FileContent, RowRecord, SheetContent, texts
from heattrace.store.recorded import METRES, to_whole
from heattrace.store.work import Work
from heattrace.tracing.cast_events import NOT_CASTING, EventMap, event_map, recorded_event
from heattrace.tracing.cast_trace import trace_record

_HAS_BOOK = "SELECT count(*) FROM cast_record c WHERE {live:c} AND c.sequence_id = :key"
_STRANDS = "SELECT DISTINCT s.strand_no, s.run_no FROM strand_run s WHERE {live:s} AND s.sequence_id = :key"
_TUNDISHES = "SELECT t.tundish FROM tundish_use t WHERE {live:t} AND t.sequence_id = :key"


def load_events(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the events of a file and trace the casts they touch anew."""
    return take_events(work, content.sheets["events"], batch)


def take_events(
    work: Work, sheet: SheetContent, batch: BatchInHand, *, numbers: Numbers | None = None,
    cast_sheet_id: int | None = None, retrace: bool = True,
) -> LoadCounts:  # fmt: skip
    """Write the events of one sheet. A cast book gives its `cast_sheet_id` and traces by itself."""
    rows = SequenceRows(work, batch, numbers or Numbers(work.reader), "event", "event_id", cast_sheet_id)
    maps: dict[int, EventMap | None] = {}
    for row in sheet.rows:
        found = event_columns(rows, row)
        if isinstance(found, dict):
            key = int(found["sequence_id"])
            if key not in maps:
                maps[key] = _map_of(work, key)
            events = maps[key]
            found = (casting_fault(batch, row, found, events) if events is not None else None) or found
        if isinstance(found, BenchFault):
            rows.bench.append(found)
        else:
            rows.put(row, found)
    touched = rows.touched
    counts = sheet_counts(sheet, rows.write(), rows.bench)
    if retrace:
        counts.findings += retrace_sequences(work, touched)
    return counts


def retrace_sequences(work: Work, sequence_ids: Iterable[int]) -> list[Finding]:
    """Trace again the sequences that have a cast book, and give what is to be said about it."""
    having = [key for key in sorted(set(sequence_ids)) if work.reader.scalar(_HAS_BOOK, key=key)]
    if having:
        from heattrace.consequence.retrace import retrace

        return [finding for key in having for finding in retrace(work, key).findings]
    return []


def _map_of(work: Work, sequence_id: int) -> EventMap | None:
    """The traced cast of a sequence, to tell what an event marks; None where it has no book."""
    if not work.reader.scalar(_HAS_BOOK, key=sequence_id):
        return None
    record = trace_record(work.reader, sequence_id)
    return event_map(work.reader, record.recorded, record.traced)


def casting_fault(batch: BatchInHand, row: RowRecord, said: Mapping[str, Any], events: EventMap) -> BenchFault | None:
    """Why an event cannot stand in its cast: of nothing in it, or on a strand that was not casting then."""
    wrong = events.fault(recorded_event(said))
    if wrong is None:
        return None
    column = "from_at" if row.values.get("from_at") is not None else "from_m"
    code = "REC24" if wrong.code == NOT_CASTING else "REC15"
    step = f"Mend it: bench fix NUMBER --set {column}=VALUE --reason TYPING"
    return batch.fault(row, column, code, f"{wrong.wanted} ({wrong.seen})", step)


def event_columns(rows: SequenceRows, row: RowRecord) -> dict[str, Any] | BenchFault:
    """An event as the record keeps it, or why its row goes to the bench."""
    place = rows.place(row, ("from_at", "to_at"))
    if isinstance(place, BenchFault):
        return place
    values = row.values
    if values.get("from_at") is None and values.get("from_m") is None:
        step = "Mend it: bench fix NUMBER --set from_at=TIME --reason TYPING"
        return rows.batch.fault(row, "from_at", "REC16", "from_at or from_m filled in", step)
    heat_id = None
    if values.get("heat_no") is not None:
        moment = values.get("from_at")
        heat = rows.numbers.heat(values["heat_no"], None if moment is None else moment.utc_ms)
        if isinstance(heat, Unknown):
            return rows.batch.fault(row, "heat_no", heat.code, heat.wanted, heat.step)
        heat_id = heat.heat_id
    written = texts(row)
    said: dict[str, Any] = place | {
        "run_no": values.get("run_no"), "tundish": values.get("tundish"), "heat_id": heat_id, "kind": values["kind"],
        "amount": written.get("amount") or None, "unit": values.get("unit"),
        "device_distance_m": written.get("device_distance_m") or None, "note": values.get("note"),
    }  # fmt: skip
    for end in ("from", "to"):
        metres = values.get(f"{end}_m")
        said[f"{end}_um"], said[f"{end}_text"] = (None, None) if metres is None else to_whole(metres.text, METRES)
    return said | two_moments(row, ("from_at", "to_at"))


def load_fittings(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the nozzles, stoppers, moulds and lubricant lots of a file."""
    return take_fittings(work, content.sheets["fittings"], batch)


def take_fittings(work: Work, sheet: SheetContent, batch: BatchInHand, *, numbers: Numbers | None = None) -> LoadCounts:
    """Write the fittings of one sheet."""
    rows = SequenceRows(work, batch, numbers or Numbers(work.reader), "fitting", "fitting_id")
    for row in sheet.rows:
        place = rows.place(row, ("from_at", "to_at"))
        if isinstance(place, BenchFault):
            rows.bench.append(place)
            continue
        own = {
            "tundish": row.values.get("tundish"), "kind": row.values["kind"],
            "number_or_lot": row.values["number_or_lot"].original.strip(),
        }  # fmt: skip
        rows.put(row, place | own | two_moments(row, ("from_at", "to_at")))
    return sheet_counts(sheet, rows.write(), rows.bench)


def load_oscillation(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the mould oscillation of a file."""
    return take_oscillation(work, content.sheets["oscillation"], batch)


def take_oscillation(
    work: Work, sheet: SheetContent, batch: BatchInHand, *, numbers: Numbers | None = None,
    cast_sheet_id: int | None = None,
) -> LoadCounts:  # fmt: skip
    """Write the mould oscillation of one sheet."""
    rows = SequenceRows(work, batch, numbers or Numbers(work.reader), "oscillation", "oscillation_id", cast_sheet_id)
    for row in sheet.rows:
        place = rows.place(row, ("from_at",))
        if isinstance(place, BenchFault):
            rows.bench.append(place)
            continue
        written = texts(row)
        own = {"stroke_mm": written["stroke_mm"], "per_min": written["per_min"]}
        rows.put(row, place | own | two_moments(row, ("from_at",)))
    return sheet_counts(sheet, rows.write(), rows.bench)


class SequenceRows:
    """Rows that belong to a sequence and are the same only where all of them says the same."""

    def __init__(
        self, work: Work, batch: BatchInHand, numbers: Numbers, table: str, key_column: str,
        cast_sheet_id: int | None = None,
    ) -> None:  # fmt: skip
        self.work, self.batch, self.numbers, self.table = work, batch, numbers, table
        self.key_column, self.cast_sheet_id = key_column, cast_sheet_id
        self.counts = LoadCounts()
        self.bench: list[BenchFault] = []
        self.touched: set[int] = set()
        self._known: dict[int, set[tuple[Any, ...]]] = {}
        self._rows: list[dict[str, Any]] = []
        self._strands: dict[int, set[tuple[int, int]]] = {}
        self._tundishes: dict[int, set[str]] = {}

    def place(self, row: RowRecord, moments: Sequence[str]) -> dict[str, Any] | BenchFault:
        """Sequence and strand of a row, or why it goes to the bench."""
        values = row.values
        sequence = self.numbers.sequence(values["sequence_no"])
        if isinstance(sequence, Unknown):
            step = f"{sequence.step}: bench fix NUMBER --reason DOC-MISSING"
            return self.batch.fault(row, "sequence_no", sequence.code, sequence.wanted, step)
        for name in moments:
            if not_yet(values.get(name), self.work.now, self.numbers.zone):
                step = f"Mend it: bench fix NUMBER --set {name}=TIME --reason TYPING"
                return self.batch.fault(row, name, "ROW29", "a moment that has come", step)
        fault = self._of_sequence(row, sequence)
        return fault if fault is not None else {"sequence_id": sequence, "strand_no": values.get("strand_no")}

    def _of_sequence(self, row: RowRecord, sequence: int) -> BenchFault | None:
        if sequence not in self._strands:
            reader = self.work.reader
            self._strands[sequence] = {(r["strand_no"], r["run_no"]) for r in reader.all(_STRANDS, key=sequence)}
            self._tundishes[sequence] = {r["tundish"] for r in reader.all(_TUNDISHES, key=sequence)}
        runs, tundishes = self._strands[sequence], self._tundishes[sequence]
        strand, run, tundish = (row.values.get(name) for name in ("strand_no", "run_no", "tundish"))
        if runs and strand is not None and strand not in {s for s, _ in runs}:
            strands = ", ".join(str(s) for s in sorted({s for s, _ in runs}))
            return self._odd(row, "strand_no", f"a strand of that sequence ({strands})")
        if runs and run is not None and strand is not None and (strand, run) not in runs:
            of_strand = ", ".join(str(r) for s, r in sorted(runs) if s == strand)
            return self._odd(row, "run_no", f"a run of strand {strand} ({of_strand})")
        if tundishes and tundish is not None and tundish not in tundishes:
            return self._odd(row, "tundish", f"a tundish of that sequence ({', '.join(sorted(tundishes))})")
        return None

    def _odd(self, row: RowRecord, column: str, wanted: str) -> BenchFault:
        step = f"Mend it: bench fix NUMBER --set {column}=VALUE --reason TYPING"
        return self.batch.fault(row, column, "REC15", wanted, step)

    def put(self, row: RowRecord, values: dict[str, Any]) -> None:
        """Take one row; one that the record has in all columns is `same`."""
        sequence = int(values["sequence_id"])
        if sequence not in self._known:
            columns = ", ".join(f"x.{name}" for name in values)
            sql = f"SELECT {columns} FROM {self.table} x WHERE x.sequence_id = :key AND {{live:x}}"
            self._known[sequence] = {tuple(r) for r in self.work.reader.all(sql, key=sequence)}
        said = tuple(values.values())
        if said in self._known[sequence]:
            self.counts.same += 1
            return
        self._known[sequence].add(said)
        self.touched.add(sequence)
        self.counts.taken += 1
        own: dict[str, Any] = {"batch_id": self.batch.batch_id, "row_no": row.row, "entry_no": self.work.entry_no}
        if self.cast_sheet_id is not None:
            own["cast_sheet_id"] = self.cast_sheet_id
        self._rows.append(values | own)

    def write(self) -> LoadCounts:
        """Write what was gathered and give the counts."""
        if self._rows:
            columns = list(self._rows[0])
            self.work.bulk_insert(self.table, columns, [tuple(row[c] for c in columns) for row in self._rows])
        return self.counts


def two_moments(row: RowRecord, names: Sequence[str]) -> dict[str, Any]:
    """Columns of moments and of the offsets the file wrote beside them."""
    said: dict[str, Any] = {}
    for name in names:
        moment = row.values.get(name)
        said[name] = None if moment is None else moment.utc_ms
        said[name.replace("_at", "_offset")] = None if moment is None else moment.offset_min
    return said
