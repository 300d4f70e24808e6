"""Row-a-result files, streamed: equal cells are read once, and memory does not grow with the file."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import compress, count, islice
from operator import itemgetter, ne
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.reading.analyses import Settler, identity
from heattrace.intake.reading.checks import check_sums
from heattrace.intake.reading.contents import plain_unit
from heattrace.intake.reading.csvrows import CsvRows
from heattrace.intake.reading.faults import CellFault, Warned, shown
from heattrace.intake.reading.header import Resolved, Wanted
from heattrace.intake.reading.plain_contents import PlainContents
from heattrace.intake.reading.plain_reader import PlainReader
from heattrace.intake.reading.records import AnalysisBatch, BenchFault
from heattrace.intake.reading.result_group import Gathered, ResultGroup
from heattrace.intake.reading.setting_aside import RowFault, bench_row
from heattrace.intake.reading.tables import Table, check_row, check_whole
from heattrace.metallurgy.amount import Amount

BATCH = 300
MOST_BENCHED = 1000
MOST_KEPT = 30_000

Read = tuple[str, str, Amount, tuple[Warned, ...]]


class Scattered(Exception):
    """Rows of one analysis stand apart in a file read as a stream; it has to be gathered whole."""


class ResultStream:
    """Reads a row-a-result table without burns, batch by batch.

    With `whole` the analyses are gathered over the entire file, in one batch; without, the rows of one analysis have to
    stand together, and `Scattered` is raised where they do not. After the last batch the file is known to be sound.
    """

    def __init__(self, table: Table, wanted: Wanted, sheet: str, whole: bool) -> None:
        self.table, self.reader, self.sheet, self.whole = table, table.reader, sheet, whole
        self.place = table.rows.place
        self.places = table.reader.places
        self.settler = Settler(self.reader.profile, table.layout)
        self.absent = self.reader.absent(wanted.columns)
        element, value, self.unit = (table.layout.of(name) for name in ("element", "value", "unit"))
        assert element is not None and value is not None
        self.element, self.value = element, value
        result_at = [r.index for r in (element, value, self.unit) if r is not None]
        self.key_columns = [r for r in table.layout.columns if r.column is not None and r.index not in result_at]
        self.result_at, self.key_at = result_at, [r.index for r in self.key_columns]
        self.key_of, self.result_of = _picker(self.key_at), _picker(result_at)
        self._plain = PlainReader(self.reader.profile, self._element_and_unit)
        # Readings by the texts of element, value and unit.
        self._kept: dict[Any, Read] = {}
        self._out = Gathered()
        self._findings: list[Finding] = []
        self._key: Any = None
        self._group: ResultGroup | None = None
        self._faults: list[RowFault] = []
        self._groups: dict[Any, ResultGroup] = {}
        self._closed: set[int] = set()

    def batches(self) -> Iterator[AnalysisBatch]:
        """All analyses, complete, in batches.

        Raises
        ------
        FileRefused
            At the latest after the last row, for what only all rows together show.
        Scattered
            See above.
        """
        table, given = self.table, 0
        marks_of = getattr(table.rows, "marks_of", None)
        exactly = {table.layout.width}
        for first, block in self._blocks():
            # A record over several rows comes as a block of its own, and is looked at more closely.
            sound = marks_of is None and not table.layout.unnamed and table.rows.span(first) == 1
            if sound and set(map(len, block)) == exactly:
                self._take_block(first, block)
            else:
                for row, texts in enumerate(block, first):
                    self._take(row, texts, marks_of(row) if marks_of else {})
            if not self.whole and (len(self._out.analyses) >= BATCH or len(self._out.bench) >= MOST_BENCHED):
                opened = len(self._group.rows) if self._group is not None else 0
                yield self._batch(table.read - given - opened)
                given = table.read - opened
                table.rows.forget(min(self._group.rows) if opened and self._group is not None else first + len(block))
        check_whole(table)
        for group in self._groups.values() if self.whole else [self._group]:
            self._close(group)
        self._findings.extend(self.places.findings(self.place, {}, self.value.header.strip()))
        yield self._batch(table.read - given)

    def _blocks(self) -> Iterator[tuple[int, list[list[str]]]]:
        for row, cells in self.table.ahead:
            yield row, [cells]
        rows = self.table.rows
        if isinstance(rows, CsvRows):
            yield from rows.blocks()
        else:
            for row, cells in rows.records():
                yield row, [cells]

    def _take_block(self, first: int, block: Sequence[list[str]]) -> None:
        """Rows of the header's width: whole stretches of one analysis at a time."""
        columns = list(zip(*block, strict=True))
        keys = list(zip(*[columns[at] for at in self.key_at], strict=True)) or [()] * len(block)
        results = [columns[at] for at in self.result_at]
        changes = list(compress(count(1), map(ne, keys, islice(keys, 1, None))))
        begin = 0
        for end in (*changes, len(block)):
            group = self._group
            if keys[begin] != self._key and any(block[begin]):
                group = self._begin(first + begin, block[begin], keys[begin], {})
            if group is None or not self._take_plain(group, first + begin, [cells[begin:end] for cells in results]):
                for at in range(begin, end):
                    self._take(first + at, block[at], {})
            begin = end

    def _take_plain(self, group: ResultGroup, first: int, results: list[tuple[str, ...]]) -> bool:
        """Successive results of one analysis at once, cells by column.

        False, and nothing is taken, where one of them asks for a closer look.
        """
        read = self._plain.read(results)
        if read is None or not group.take_plain(read[0], first):
            return False
        contents, form = read
        cells = results[1]
        self.table.read += len(cells)
        tally = self.reader.tallies[self.value.index]
        tally.taken += len(cells)
        tally.with_sign += form.signs
        self.places.see_plain(contents, cells if form.bare else None, first)
        return True

    def _take(self, row: int, texts: list[str], marks: dict[int, str]) -> None:
        """One row, with all that may be wrong with it."""
        cells = check_row(self.table, row, texts)
        if cells is None:
            return
        if isinstance(cells, BenchFault):
            self._out.bench.append(cells)
            return
        key = self.key_of(cells)
        if key != self._key or marks:
            self._begin(row, cells, key, marks)
        group = self._group
        if group is None:
            _, faults = self.reader.read(row, cells, marks)
            self._out.bench.append(bench_row(self.place, row, faults or self._faults, self.table.rows.raw(row)))
            return
        read = self._kept.get(self.result_of(cells)) if not marks else None
        if read is None and (read := self._read(row, cells, marks)) is None:
            return
        symbol, unit, amount, warned = read
        for w in warned:
            subject = self.place.at(row, self.value.header.strip())
            text = shown(cells[self.value.index].strip())
            self._findings.append(Finding(w.code, subject, text, w.wanted, w.step))
        if unit != "%":
            group.units[symbol] = unit
        group.add(group.values, symbol, amount, row)

    def _begin(self, row: int, cells: list[str], key: Any, marks: dict[int, str]) -> ResultGroup | None:
        """Close the analysis at hand and open that of a row; None where what the row says of it is faulty."""
        if not self.whole:
            self._close(self._group)
        self._key, self._group = key, None
        values, self._faults = self.reader.read_part(row, cells, marks, self.key_columns)
        if not self._faults and (fault := self.settler.settle(values)) is not None:
            self._faults = [fault]
        if self._faults:
            return None
        values = self.absent | values
        known = identity(values)
        if self.whole:
            group = self._groups.get(known)
            if group is None:
                self._group = self._groups[known] = ResultGroup(values, self.sheet)
            else:
                self._group = _Joined(group, values)
            return self._group
        mark = hash(known)
        if mark in self._closed:
            raise Scattered
        self._closed.add(mark)
        self._group = ResultGroup(values, self.sheet)
        return self._group

    def _close(self, group: ResultGroup | None) -> None:
        if group is not None and (analysis := group.finish(self.place, self.table.rows.raw, self._out)) is not None:
            self._out.analyses.append(analysis)

    def _batch(self, read: int) -> AnalysisBatch:
        out, self._out = self._out, Gathered()
        findings = [*self.reader.findings, *self._findings, *out.findings]
        if not self.places.all_small:
            findings += check_sums(out.analyses, self.place)
        self.reader.findings.clear()
        self._findings.clear()
        out.bench.sort(key=lambda fault: fault.row)
        return AnalysisBatch(out.analyses, out.bench, findings, read, out.repeated, self.table.rows.raw)

    def _read(self, row: int, cells: list[str], marks: dict[int, str]) -> Read | None:
        """Read element, value and unit of a row that was not met before; None where the row went to the bench."""
        reader, element, value = self.reader, self.element, self.value
        at: Resolved = element
        try:
            reader.check_mark(marks.get(element.index), element, row, cells[element.index])
            symbol = reader.element(cells[element.index])
            at = self.unit or value
            cell = cells[self.unit.index] if self.unit is not None else None
            unit = reader.unit_for(symbol, cells[element.index], self._unit_text(cell))
            at = value
            reader.check_mark(marks.get(value.index), value, row, cells[value.index])
            amount, warned = reader.contents.read(cells[value.index], symbol, unit)
        except CellFault as fault:
            text = cells[at.index]
            reader.tallies[at.index].fault(fault.code, row, text)
            where = [RowFault(at.header, at.column.name if at.column else None, text, fault)]
            self._out.bench.append(bench_row(self.place, row, where, self.table.rows.raw(row)))
            return None
        tally = reader.tallies[value.index]
        tally.taken += 1
        tally.with_sign += reader.profile.decimal in cells[value.index]
        self.places.see(symbol, amount, row)
        if len(self._kept) >= MOST_KEPT:
            self._kept.clear()
        read = self._kept[self.result_of(cells)] = (symbol, plain_unit(unit), amount, warned)
        return read

    def _element_and_unit(self, element: str, unit: str | None) -> tuple[str, str]:
        symbol = self.reader.element(element)
        return symbol, self.reader.unit_for(symbol, element, self._unit_text(unit))

    def _unit_text(self, cell: str | None) -> str | None:
        """The unit a row says, else the one the profile says of all rows."""
        if cell is not None:
            return cell
        unit = self.reader.constants.get("unit")
        return None if unit is None else str(unit)


class _Joined(ResultGroup):
    """A later stretch of rows of an analysis already begun: what it says of the sample is compared, not taken."""

    __slots__ = ("_whole",)

    def __init__(self, whole: ResultGroup, values: dict[str, Any]) -> None:
        self._whole, self.values, self.units = whole, values, whole.units

    def add(self, values: dict[str, Any], element: str, amount: Any, row: int) -> None:
        """Hand the result on to the analysis."""
        self._whole.add(values, element, amount, row)

    def take_plain(self, contents: PlainContents, first: int) -> bool:
        """Never at once."""
        return False


def _picker(indexes: list[int]) -> Callable[[list[str]], Any]:
    """Gives the cells of some columns as a tuple."""
    return itemgetter(*indexes) if len(indexes) > 1 else lambda cells: tuple(cells[at] for at in indexes)
