"""Row-a-result files, streamed: equal cells are read once, and memory does not grow with the file."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import chain
from operator import itemgetter
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.analyses import Gathered, ResultGroup, Settler, identity
from heattrace.intake.cells import RowFault, bench_row
from heattrace.intake.checks import PlacesWatch, check_sums
from heattrace.intake.contents import plain_unit
from heattrace.intake.faults import CellFault, Warned, shown
from heattrace.intake.header import Resolved, Wanted
from heattrace.intake.records import AnalysisBatch, AnalysisRecord, BenchFault
from heattrace.intake.tables import Table, check_whole, data_rows
from heattrace.metallurgy.amount import Amount

BATCH = 400
MOST_BENCHED = 1000
MOST_KEPT = 30_000
Kept = tuple[str, str, Amount, tuple[Warned, ...]]


class Scattered(Exception):
    """Rows of one analysis stand apart in a file read as a stream; it has to be gathered whole."""


class ResultStream:
    """Reads a row-a-result table without burns, batch by batch.

    With `whole` the analyses are gathered over the entire file; without, the rows of one analysis have to stand
    together, and `Scattered` is raised where they do not. After the last batch the file is known to be sound.
    """

    def __init__(self, table: Table, wanted: Wanted, sheet: str, whole: bool) -> None:
        self.table, self.reader, self.sheet, self.whole = table, table.reader, sheet, whole
        self.places = PlacesWatch()
        self.settler = Settler(self.reader.profile, table.layout)
        self.absent = self.reader.absent(wanted.columns)
        parts = {name: table.layout.of(name) for name in ("element", "value", "unit")}
        self.element, self.value, self.unit = parts["element"], parts["value"], parts["unit"]
        assert self.element is not None and self.value is not None
        of_result = {r.index for r in parts.values() if r is not None}
        self.key_columns = [r for r in table.layout.columns if r.column is not None and r.index not in of_result]
        self._result_at = [r.index for r in (self.element, self.value, self.unit) if r is not None]
        self._kept: dict[Any, Kept] = {}
        self._marks: Callable[[int], dict[int, str]] = getattr(table.rows, "marks_of", lambda row: {})
        self._findings: list[Finding] = []

    def batches(self) -> Iterator[AnalysisBatch]:
        """All analyses, complete, in batches.

        Raises
        ------
        FileRefused
            At the latest after the last row, for what only all rows together show.
        Scattered
            See above.
        """
        out, read = Gathered(), 0
        group: ResultGroup | None = None
        faults: list[RowFault] | None = None
        key: Any = None
        groups: dict[Any, ResultGroup] = {}
        closed: set[int] = set()
        table, raw, kept, marks_of = self.table, self.table.rows.raw, self._kept, self._marks
        key_of, result_of = _picker([r.index for r in self.key_columns]), _picker(self._result_at)
        is_sheet = hasattr(table.rows, "marks_of")
        for row, cells in data_rows(table):
            read += 1
            if isinstance(cells, BenchFault):
                out.bench.append(cells)
                continue
            this = key_of(cells)
            marks = marks_of(row) if is_sheet else None
            if this != key or marks:
                if group is not None and not self.whole:
                    self._close(group, out)
                    if len(out.analyses) >= BATCH or len(out.bench) >= MOST_BENCHED:
                        yield self._batch(out, read - 1)
                        out, read = Gathered(), 1
                        table.rows.forget(row)
                key, faults = this, None
                group, faults = self._open(row, cells, marks or {}, groups, closed)
            if group is None:
                out.bench.append(bench_row(table.rows.place, row, faults or [], raw(row)))
                continue
            result = result_of(cells)
            reading = kept.get(result)
            if reading is None or marks:
                reading = self._read(row, cells, marks or {}, out)
                if reading is None:
                    continue
                kept[result] = reading
            symbol, unit, amount, warned = reading
            if warned:
                self._flag(row, cells, warned)
            if unit != "%":
                group.units[symbol] = unit
            group.add(group.values, symbol, amount, row)
        check_whole(table)
        for last in groups.values() if self.whole else [group] if group is not None else []:
            self._close(last, out)
        place = table.rows.place
        self._findings.extend(self.places.findings(place, {}))
        yield self._batch(out, read)

    def _batch(self, out: Gathered, read: int) -> AnalysisBatch:
        place = self.table.rows.place
        findings = [*self.reader.findings, *self._findings, *check_sums(out.analyses, place), *out.findings]
        self.reader.findings.clear()
        self._findings.clear()
        out.bench.sort(key=lambda fault: fault.row)
        return AnalysisBatch(out.analyses, out.bench, findings, read, out.repeated, self.table.rows.raw)

    def _open(
        self, row: int, cells: list[str], marks: dict[int, str], groups: dict[Any, ResultGroup], closed: set[int]
    ) -> tuple[ResultGroup | None, list[RowFault] | None]:
        """The group of the analysis a row belongs to, or the faults in what the row says of it."""
        values, faults = self.reader.read_part(row, cells, marks, self.key_columns)
        if not faults and (fault := self.settler.settle(values)) is not None:
            faults = [fault]
        if faults:
            return None, faults
        whole = self.absent | values
        known = identity(whole)
        if self.whole:
            group = groups.get(known)
            if group is None:
                group = groups[known] = ResultGroup(whole, self.sheet)
                return group, None
            return _Joined(group, whole), None
        mark = hash(known)
        if mark in closed:
            raise Scattered
        closed.add(mark)
        return ResultGroup(whole, self.sheet), None

    def _close(self, group: ResultGroup, out: Gathered) -> None:
        analysis = group.finish(self.table.rows.place, self.table.rows.raw, out)
        if analysis is not None:
            out.analyses.append(analysis)

    def _read(self, row: int, cells: list[str], marks: dict[int, str], out: Gathered) -> Kept | None:
        """Read element, value and unit of a row that was not met before; None where the row went to the bench."""
        reader, element, value = self.reader, self.element, self.value
        assert element is not None and value is not None
        at: Resolved = element
        try:
            reader.check_mark(marks.get(element.index), element, row, cells[element.index])
            symbol = reader.element(cells[element.index])
            at = self.unit or value
            unit = reader.unit_for(symbol, cells[element.index], self._unit_text(cells))
            at = value
            reader.check_mark(marks.get(value.index), value, row, cells[value.index])
            amount, warned = reader.contents.read(cells[value.index], symbol, unit)
        except CellFault as fault:
            text = cells[at.index]
            reader.tallies[at.index].fault(fault.code, row, text)
            ours = at.column.name if at.column else None
            where = [RowFault(at.header, ours, text, fault)]
            out.bench.append(bench_row(self.table.rows.place, row, where, self.table.rows.raw(row)))
            return None
        tally = reader.tallies[value.index]
        tally.taken += 1
        tally.with_sign += reader.profile.decimal in cells[value.index]
        if len(self._kept) >= MOST_KEPT:
            self._kept.clear()
        self.places.see(symbol, amount)
        return symbol, plain_unit(unit), amount, warned

    def _unit_text(self, cells: list[str]) -> str | None:
        if self.unit is not None:
            return cells[self.unit.index]
        unit = self.reader.constants.get("unit")
        return None if unit is None else str(unit)

    def _flag(self, row: int, cells: list[str], warned: tuple[Warned, ...]) -> None:
        value = self.value
        assert value is not None
        subject = self.table.rows.place.at(row, value.header.strip())
        for w in warned:
            self._findings.append(Finding(w.code, subject, shown(cells[value.index].strip()), w.wanted, w.step))


class _Joined(ResultGroup):
    """A later stretch of rows of a group already begun: what it says of the sample is compared, not taken."""

    __slots__ = ("_group",)

    def __init__(self, group: ResultGroup, values: dict[str, Any]) -> None:
        self._group, self.values, self.units = group, values, group.units

    def add(self, values: dict[str, Any], element: str, amount: Any, row: int) -> None:
        """Hand the result on to the group."""
        self._group.add(values, element, amount, row)


def _picker(indexes: list[int]) -> Callable[[list[str]], Any]:
    return itemgetter(*indexes) if indexes else lambda cells: ()


def all_analyses(batches: Iterator[AnalysisBatch]) -> list[AnalysisRecord]:
    """The analyses of all batches, in one list."""
    return list(chain.from_iterable(batch.analyses for batch in batches))
