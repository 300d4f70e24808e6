"""The rows of samples, analyses, burns and results of one lot, written table by table in the order of their keys."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from itertools import chain, repeat
from operator import itemgetter
from typing import Any, NamedTuple

from heattrace.findings import Finding
from heattrace.intake.loading.analysis_pack import Packed, ResultPacker, packed_burn
from heattrace.intake.loading.numbers import KnownHeat
from heattrace.intake.loading.samples_known import PARTICULARS, KnownAnalysis, KnownSample
from heattrace.intake.loading.slip import BatchInHand
from heattrace.intake.reading.plain_contents import PlainContents, Shape
from heattrace.intake.reading.records import AnalysisRecord
from heattrace.metallurgy.amount import NOT_REPORTED
from heattrace.metallurgy.elements import ELEMENT_NUMBER
from heattrace.store.ledger import canonical
from heattrace.store.reader import Row
from heattrace.store.work import Work

SAMPLE = (
    "sample_key", "sample_id", "written_id", "heat_id", "kind", "taken_at", "taken_offset", "tundish", "strand_no",
    "position_text", "ladle_mass_left_text", "part_id", "piece_end", "laboratory", "report_no", "batch_id", "row_no",
    "entry_no",
)  # fmt: skip
ANALYSIS = (
    "analysis_id", "sample_key", "profile", "method", "instrument", "analysed_at", "analysed_offset", "state",
    "state_reason", "supersedes_id", "laboratory", "report_no", "batch_id", "row_no", "entry_no",
)  # fmt: skip
RESULT = ("analysis_id", "element_id", "value_ppb", "form_id")
RESULT_TEXT = ("analysis_id", "element_id", "reported")
BURN = ("analysis_id", "burn_no", "written", "packed")

# What was taken and flagged in these ways is not believed until somebody looks: two elements swapped.
DOUBTFUL = frozenset(("ROW67",))
_ROW = re.compile(r", row (\d+)")
MOST_SHAPES = 4000

ResultRow = tuple[int, int, int | None, int]


class _Columns(NamedTuple):
    """For the contents of one shape, in the order of their keys: elements, forms, and how to bring values into it."""

    elements: tuple[int, ...]
    forms: tuple[int, ...]
    arranged: Callable[[list[int | None]], Sequence[int | None]] | None


class Placed(NamedTuple):
    """An analysis whose sample is known or made: the sample's key and the heat."""

    record: AnalysisRecord
    sample_key: int
    heat: KnownHeat | None
    amends: int | None


class AnalysisRows:
    """Gathers rows until `flush` writes them; keys are given out in order under the write lock.

    `next_sample` is the key of the next sample that is new.
    """

    def __init__(self, work: Work, batch: BatchInHand, packer: ResultPacker, places_lost: dict[str, int]) -> None:
        self.work, self.batch, self.packer, self.places_lost = work, batch, packer, places_lost
        self.next_sample = work.next_key("sample", "sample_key")
        self._next_analysis = work.next_key("analysis", "analysis_id")
        elements = batch.profile.elements.values()
        self._units = {m.element: m.unit for m in elements if m.unit not in (None, "%", "mass %")}
        self.findings: Sequence[Finding] = ()
        self._doubts: dict[int, list[Finding]] = {}
        self._columns: dict[Shape, _Columns] = {}
        self._clear()

    def _clear(self) -> None:
        self._samples: list[tuple[Any, ...]] = []
        self._analyses: list[tuple[Any, ...]] = []
        # Rows of one analysis each, made as they are written: a million tuples need not be alive for that.
        self._results: list[Iterable[ResultRow]] = []
        self._texts: list[tuple[int, int, str]] = []
        self._burns: list[tuple[int, int, str, bytes]] = []
        self._states: list[tuple[int, Row]] = []
        self._ended: list[int] = []

    def begin(self, findings: Sequence[Finding]) -> None:
        """Begin a lot; its findings make some of its rows doubtful."""
        self.findings = findings
        self._doubts = {}
        for finding in findings:
            if finding.code in DOUBTFUL and (row := _ROW.search(finding.subject)):
                self._doubts.setdefault(int(row[1]), []).append(finding)

    def doubts(self, record: AnalysisRecord) -> list[Finding]:
        """Findings of the reading that make an analysis doubtful."""
        if not self._doubts:
            return []
        return [finding for row in record.rows for finding in self._doubts.get(row, ())]

    @staticmethod
    def particulars(record: AnalysisRecord, part_id: int | None) -> tuple[Any, ...]:
        """A sample's particulars in the order of `PARTICULARS`."""
        position, left = record.position_m, record.ladle_mass_left_t
        return (
            None if record.taken_at is None else record.taken_at.utc_ms,
            record.tundish,
            record.strand_no,
            None if position is None else position.text,
            None if left is None else left.text,
            part_id,
            record.piece_end,
        )

    def new_sample(self, record: AnalysisRecord, heat: KnownHeat | None, part_id: int | None) -> KnownSample:
        """A sample the record does not have yet."""
        key = self.next_sample
        self.next_sample += 1
        own = self.particulars(record, part_id)
        taken = record.taken_at
        self._samples.append(
            (
                key, record.sample_id.normal, record.sample_id.original.strip(), None if heat is None else heat.heat_id,
                record.sample_kind, own[0], None if taken is None else taken.offset_min, *own[1:], record.laboratory,
                record.report_no, self.batch.batch_id, _row_of(record), self.work.entry_no,
            )
        )  # fmt: skip
        heat_id, heat_no = (None, None) if heat is None else (heat.heat_id, heat.heat_no)
        return KnownSample(key, heat_id, record.sample_kind, heat_no, dict(zip(PARTICULARS, own, strict=True)))

    def write(
        self, placed: Placed, state: str, doubts: Sequence[Finding], end: KnownAnalysis | None = None
    ) -> KnownAnalysis:
        """A new analysis with its results and burns; `end` is one of the same identity that it takes the place of."""
        record = placed.record
        if end is not None:
            self._end(end)
        burns = [(burn.burn, packed_burn(burn.results)) for burn in record.burns]
        if isinstance(record.results, PlainContents):
            key = self._put_analysis(placed, state, doubts, burns)
            self._put_plain(key, record.results)
            # Only another analysis of the same identity asks for them.
            return KnownAnalysis(key, state, burns=burns, pack=partial(self._packed, record))
        return self._put(placed, state, doubts, self._packed(record), burns)

    def fuller(self, placed: Placed, known: KnownAnalysis, states: Sequence[Row]) -> KnownAnalysis:
        """The known analysis with what the new rows add; it takes the known one's place with its later states."""
        self._end(known)
        record = placed.record
        stored = dict(known.stored)
        for element_id, packed in self._packed(record).items():
            if packed.value_ppb is not None or element_id not in stored:
                stored[element_id] = packed
        burns = dict(known.burns) | {burn.burn: packed_burn(burn.results) for burn in record.burns}
        state = known.state if known.state != "received" or not stored else "valid"
        made = self._put(placed, state, (), stored, list(burns.items()))
        self._states += [(made.analysis_id, row) for row in states]
        return made

    def _packed(self, record: AnalysisRecord) -> dict[int, Packed]:
        """Results ready to be stored, by element."""
        pack, units = self.packer.pack, self._units | record.units
        out = {}
        for element, amount in record.results.items():
            places = None if amount.value is None else len(amount.text.partition(".")[2])
            out[ELEMENT_NUMBER[element]] = pack(amount, units.get(element, "%"), self._few(element, places))
        return out

    def _few(self, element: str, places: int | None) -> int:
        """1 where a number has fewer places than its column has elsewhere: zeros at its end may be lost."""
        return int(places is not None and places < self.places_lost.get(element, 0))

    def _put_plain(self, key: int, contents: PlainContents) -> None:
        """Result rows of contents that need nothing beside their number."""
        columns = self._columns.get(contents.shape)
        if columns is None:
            if len(self._columns) >= MOST_SHAPES:
                self._columns.clear()
            columns = self._columns[contents.shape] = self._columns_of(contents.shape)
        values = contents.ppb if columns.arranged is None else columns.arranged(contents.ppb)
        self._results.append(zip(repeat(key), columns.elements, values, columns.forms))

    def _columns_of(self, shape: Shape) -> _Columns:
        made = []
        for at, (element, report) in enumerate(zip(shape.elements, shape.reports, strict=True)):
            unit = self._units.get(element, "%") if report.unit == "%" else report.unit
            silent = report.qualifier == NOT_REPORTED
            few = self._few(element, None if silent else report.places)
            made.append((ELEMENT_NUMBER[element], self.packer.form(report.qualifier, unit, report.places, few), at))
        elements, forms, order = zip(*sorted(made), strict=True)
        return _Columns(elements, forms, itemgetter(*order) if order != tuple(range(len(order))) else None)

    def _end(self, known: KnownAnalysis) -> None:
        if self._analyses and known.analysis_id >= self._analyses[0][0]:
            self.flush()
        self._ended.append(known.analysis_id)

    def _put(
        self, placed: Placed, state: str, doubts: Sequence[Finding], stored: dict[int, Packed],
        burns: Sequence[tuple[str, bytes]],
    ) -> KnownAnalysis:  # fmt: skip
        key = self._put_analysis(placed, state, doubts, burns)
        rows = sorted(stored.items())
        self._results.append([(key, element_id, packed.value_ppb, packed.form_id) for element_id, packed in rows])
        self._texts += [(key, element_id, packed.odd) for element_id, packed in rows if packed.odd is not None]
        return KnownAnalysis(key, state, stored, list(burns))

    def _put_analysis(
        self, placed: Placed, state: str, doubts: Sequence[Finding], burns: Sequence[tuple[str, bytes]]
    ) -> int:
        """The row of an analysis and those of its burns; its key."""
        record, key = placed.record, self._next_analysis
        self._next_analysis += 1
        at = record.analysed_at
        assert at is not None
        reason = canonical([finding.as_json() for finding in doubts]) if doubts else None
        self._analyses.append(
            (
                key, placed.sample_key, self.batch.profile.name, record.method, record.instrument or "", at.utc_ms,
                at.offset_min, state, reason, placed.amends, record.laboratory, record.report_no, self.batch.batch_id,
                _row_of(record), self.work.entry_no,
            )
        )  # fmt: skip
        self._burns += [(key, number, label, packed) for number, (label, packed) in enumerate(burns, start=1)]
        return key

    def flush(self) -> None:
        """Write what was gathered."""
        work = self.work
        work.end("analysis", "analysis_id", self._ended)
        for table, columns, rows in (
            ("sample", SAMPLE, self._samples),
            ("analysis", ANALYSIS, self._analyses),
            ("result", RESULT, chain.from_iterable(self._results) if self._results else ()),
            ("result_text", RESULT_TEXT, self._texts),
            ("burn", BURN, self._burns),
        ):
            if rows:
                work.bulk_insert(table, columns, rows)
        if self._states:
            from heattrace.schema.analyses import AnalysisState

            for key, row in self._states:
                work.add(AnalysisState(analysis_id=key, state=row["state"], reason=row["reason"], note=row["note"]))
        self._clear()


def _row_of(record: AnalysisRecord) -> int | None:
    return record.rows[0] if record.rows else None
