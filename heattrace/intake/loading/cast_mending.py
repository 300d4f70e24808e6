"""Rows of a cast book mended one by one: they join the edition that stands, and the cast is traced anew."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from heattrace.consequence.retrace import retrace
from heattrace.errors import Refused
from heattrace.intake.loading.cast_cuts import CutRow, check_numbers, cut_columns, cut_sheet
from heattrace.intake.loading.cast_edition import CastEdition, standing_edition
from heattrace.intake.loading.cast_sheets import Run, Values, counter_columns, section_columns, strand_row_fault
from heattrace.intake.loading.load_temperatures import sheet_counts
from heattrace.intake.loading.numbers import Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import BenchFault, FileContent, RowRecord
from heattrace.store.number_form import searched
from heattrace.store.work import Work
from heattrace.strand.record import CastUnreadable

_CUTS = """
SELECT c.*, r.batch_id FROM cut c JOIN cast_sheet s ON s.cast_sheet_id = c.cast_sheet_id
JOIN cast_record r ON r.cast_record_id = s.cast_record_id WHERE c.sequence_id = :sequence AND {live:c}
ORDER BY c.strand_no, c.run_no, c.cut_no
"""
_BENCHED = "SELECT b.row_no FROM bench_row b WHERE b.batch_id = :batch AND b.sheet = 'cuts' AND {live:b}"
_RUNS = "SELECT r.strand_no, r.run_no FROM strand_run r WHERE r.sequence_id = :sequence AND {live:r}"


def mend_rows(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Take mended rows of one sheet in; rows that still cannot be taken are given back as bench faults.

    Raises
    ------
    Refused
        Rows of this sheet are not mended alone, or their sequence has no cast book.
    """
    (sheet,) = content.sheets.values()
    if sheet.sheet not in ("cuts", "sections", "counters"):
        raise Refused(f"all of a cast book rests on its {sheet.sheet}: mend the book and take it in again as a whole")
    numbers = Numbers(work.reader)
    bench: list[BenchFault] = []
    by_sequence: dict[int, list[RowRecord]] = {}
    for row in sheet.rows:
        key = numbers.sequence(row.values["sequence_no"])
        if isinstance(key, Unknown):
            bench.append(batch.fault(row, "sequence_no", key.code, key.wanted, key.step))
        else:
            by_sequence.setdefault(key, []).append(row)
    counts = LoadCounts()
    for key, rows in sorted(by_sequence.items()):
        edition = standing_edition(work, content, batch, numbers, key)
        counts.add(_Mending(edition, sheet.sheet).mend(rows))
    return sheet_counts(sheet, counts, bench)


class _Mending:
    def __init__(self, edition: CastEdition, sheet: str) -> None:
        self.edition, self.sheet = edition, sheet
        self.runs: frozenset[Run] = frozenset(
            (row["strand_no"], row["run_no"]) for row in edition.reader.all(_RUNS, sequence=edition.sequence_id)
        )
        self.counts = LoadCounts()

    def mend(self, rows: Sequence[RowRecord]) -> LoadCounts:
        """Write the rows and trace the cast anew."""
        sound = []
        for row in rows:
            fault = strand_row_fault(self.edition, row, self.runs)
            if fault is None:
                sound.append(row)
            else:
                self.counts.bench.append(fault)
        if self.sheet == "cuts":
            self._cuts(sound)
        else:
            table, said = {"sections": ("section", section_columns), "counters": ("counter", counter_columns)}[
                self.sheet
            ]
            self._insert(table, [(row.row, said(row)) for row in sound])
            self.counts.taken += len(sound)
        if not self.counts.bench:
            try:
                outcome = retrace(self.edition.work, self.edition.sequence_id)
            except CastUnreadable as fault:
                raise Refused(f"with these rows the cast cannot be traced: {fault}") from None
            self.counts.findings += outcome.findings
        return self.counts

    def _insert(self, table: str, rows: Sequence[tuple[int, Values]]) -> None:
        if not rows:
            return
        edition = self.edition
        sheet_id = edition.standing_sheet(self.sheet)
        own = (edition.sequence_id, edition.new_sheet(self.sheet) if sheet_id is None else sheet_id)
        columns = list(rows[0][1])
        edition.work.bulk_insert(
            table,
            ["sequence_id", "cast_sheet_id", "row_no", "entry_no", *columns],
            [(*own, row_no, edition.work.entry_no, *(values[c] for c in columns)) for row_no, values in rows],
        )

    def _cuts(self, rows: Sequence[RowRecord]) -> None:
        """Mended cuts take the place of the disbelieved ones that stood for them."""
        standing = self.edition.reader.all(_CUTS, sequence=self.edition.sequence_id)
        mended = [self._cut(row) for row in rows]
        replaced = {int(old["cut_id"]) for cut in mended for old in standing if self._stood_for(cut, old)}
        doubted = self._only_doubted(mended, [old for old in standing if int(old["cut_id"]) not in replaced])
        others = (
            [
                CutRow(
                    old["row_no"], {name: old[name] for name in mended[0].values} | {"faulty": int(old["faulty"])}, None
                )
                for old in standing
                if int(old["cut_id"]) not in replaced
            ]
            if mended
            else []
        )
        for cut in others:
            if cut.key in doubted:
                cut.values["faulty"] = 0
        self._check_numbers(mended, others)
        cut_sheet(self.edition, self.runs).check_places([*others, *mended])
        self.counts.bench += [cut.fault for cut in mended if cut.fault is not None]
        if self.counts.bench:
            return
        unmarked = [old for old in standing if (old["strand_no"], old["run_no"], old["cut_no"]) in doubted]
        self.edition.work.end("cut", "cut_id", sorted(replaced) + [int(old["cut_id"]) for old in unmarked])
        again = [(cut.row_no, cut.values) for cut in others if cut.key in doubted]
        self._insert("cut", [*((cut.row_no, cut.values) for cut in mended), *again])
        self.counts.taken += len(mended)

    def _cut(self, row: RowRecord) -> CutRow:
        values, fault = cut_columns(self.edition, row)
        return CutRow(row.row, values, row, fault)

    def _stood_for(self, cut: CutRow, old: Any) -> bool:
        """Whether a standing cut is the disbelieved one of a mended row: by its row, else by its number."""
        if not old["faulty"]:
            return False
        by_row = old["batch_id"] == self.edition.batch.batch_id and old["row_no"] == cut.row_no
        return by_row or (old["strand_no"], old["run_no"], old["cut_no"]) == cut.key

    def _only_doubted(self, mended: Sequence[CutRow], standing: Sequence[Any]) -> set[tuple[int, int, int]]:
        """Sound cuts that were disbelieved only for lying beside a mended row whose own place could not be told."""
        batch = self.edition.batch.batch_id
        benched = {int(row[0]) for row in self.edition.reader.all(_BENCHED, batch=batch)}
        marked = [o for o in standing if o["faulty"] and o["batch_id"] == batch and o["row_no"] not in benched]
        found = set()
        for cut in mended:
            for near in (
                max((o for o in marked if o["row_no"] < cut.row_no), key=lambda o: int(o["row_no"]), default=None),
                min((o for o in marked if o["row_no"] > cut.row_no), key=lambda o: int(o["row_no"]), default=None),
            ):
                if near is not None:
                    found.add((near["strand_no"], near["run_no"], near["cut_no"]))
        return found

    def _check_numbers(self, mended: Sequence[CutRow], others: Sequence[CutRow]) -> None:
        """A cut number or piece number that another cut of the sequence has is none of its own."""
        check_numbers(self.edition, mended)
        keys = {cut.key for cut in others}
        pieces = {searched(cut.values["piece_no"]) for cut in others if cut.values["piece_no"] is not None}
        for cut in mended:
            if cut.row is None or cut.fault is not None:
                continue
            number = cut.row.values.get("piece_no")
            if cut.key in keys:
                step = "Mend it: bench fix NUMBER --set cut_no=NUMBER --reason TYPING"
                wanted = "a cut number that no other row of this strand and run has"
                cut.fault = self.edition.batch.fault(cut.row, "cut_no", "REC19", wanted, step)
            elif number is not None and number.normal in pieces:
                step = "Mend it: bench fix NUMBER --set piece_no=NUMBER --reason TYPING"
                wanted = "a number of its own, not that of another piece of this cast,"
                cut.fault = self.edition.batch.fault(cut.row, "piece_no", "REC19", wanted, step)
