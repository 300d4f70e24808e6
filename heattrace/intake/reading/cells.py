"""One row's cells into values: each column reads its own; the first fault of a row sets the row aside."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.profiles.kinds import Column
from heattrace.intake.profiles.profile import Profile, SheetMap
from heattrace.intake.reading import parsing
from heattrace.intake.reading.contents import UNIT_WORDS, ContentReader, element_of
from heattrace.intake.reading.faults import CellFault, Place, Warned, shown
from heattrace.intake.reading.header import Layout, Resolved
from heattrace.intake.reading.instants import InstantReader, day_month_doubt, swapped_day_month
from heattrace.intake.reading.places import PlacesWatch
from heattrace.intake.reading.records import BenchFault, Day, Ident, Instant
from heattrace.intake.reading.setting_aside import RowFault, Tally, bench_row
from heattrace.metallurgy.amount import NOT_REPORTED, UNIT_SHIFT, Amount

# First and last of a span: the second may not be before (or below) the first.
PAIRS = (
    ("taken_at", "analysed_at"), ("from_at", "to_at"), ("opened_at", "closed_at"), ("started_at", "stopped_at"),
    ("from_m", "to_m"), ("valid_from", "valid_until"), ("from", "to"), ("min", "max"),
)  # fmt: skip
MOST_SAMPLED = 300
MOST_KEPT = 5_000
NUMERIC = frozenset(("decimal", "content", "whole"))
# An empty cell of these says nothing whatever the profile's words for not reported; in a text they are text.
_ALSO_EMPTY = frozenset(("ident", "decimal", "whole", "instant", "day", "choice", "flag"))


class CellReader:
    """Reads the cells of one table's rows.

    `findings` gathers what is taken and flagged; `defaults` counts empty cells by column and default taken;
    `left_out` has the defaults of columns the file lacks; `tallies` counts what each column's cells were.
    """

    def __init__(
        self, profile: Profile, sheet: SheetMap, layout: Layout, place: Place, contents: ContentReader
    ) -> None:
        self.profile, self.sheet, self.layout, self.place, self.contents = profile, sheet, layout, place, contents
        self.instants = InstantReader(sheet.zone or profile.zone, sheet.format or profile.format)
        self.findings: list[Finding] = []
        self.defaults: Counter[tuple[str, str]] = Counter()
        self.left_out: dict[str, str] = {}
        self.tidied: Counter[str] = Counter()
        self.tallies: dict[int, Tally] = {r.index: Tally() for r in layout.columns}
        self.constants: dict[str, Any] = {}
        self._kept: dict[int, dict[str, Any]] = {r.index: {} for r in layout.columns}
        names = {r.column.name for r in layout.columns if r.column is not None} | set(sheet.constants)
        self._pairs = [pair for pair in PAIRS if set(pair) <= names]
        self._together = [r.column for r in layout.columns if r.column is not None and r.column.together]
        self.seen_numbers: dict[int, list[float]] = {r.index: [] for r in layout.elements}
        self._read_columns = [r for r in layout.columns if r.column is not None or r.element is not None]
        self.places = PlacesWatch()
        self._has_elements = bool(layout.elements)
        self._value_column = layout.of("value") if layout.of("element") else None
        self._readers: dict[str, Callable[[str, Resolved], Any]] = {
            "ident": self._ident, "text": lambda text, _: parsing.read_text(text), "whole": self._whole,
            "decimal": self._decimal, "instant": lambda text, _: self.instants.read(text),
            "day": lambda text, _: self.instants.read_day(text), "choice": self._choice,
            "flag": lambda text, _: parsing.read_flag(text), "element": lambda text, _: self.element(text),
            "content": lambda text, _: text,
        }  # fmt: skip

    def read_constants(self, columns: Mapping[str, Column]) -> None:
        """Read the profile's constants as if they were cells.

        Raises
        ------
        CellFault
            One is not what its column holds.
        """
        for name, text in self.sheet.constants.items():
            if name in columns:
                self.constants[name] = self._readers[columns[name].type](text, Resolved(-1, name, columns[name]))

    def read(self, row: int, cells: list[str], marks: Mapping[int, str]) -> tuple[dict[str, Any], list[RowFault]]:
        """Values of one row by our names, elements under `results`; faults in the order of the columns."""
        return self._read(row, cells, marks, self._read_columns, True)

    def read_part(
        self, row: int, cells: list[str], marks: Mapping[int, str], columns: Sequence[Resolved]
    ) -> tuple[dict[str, Any], list[RowFault]]:
        """Values of some columns of a row, without the result of a row-a-result file; faults are not counted."""
        return self._read(row, cells, marks, columns, False)

    def _read(
        self, row: int, cells: list[str], marks: Mapping[int, str], columns: Sequence[Resolved], with_result: bool
    ) -> tuple[dict[str, Any], list[RowFault]]:
        values: dict[str, Any] = dict(self.constants)
        results: dict[str, Amount] = {}
        faults: list[RowFault] = []
        flagged: list[tuple[Resolved, str, Warned]] = []
        for found in columns:
            index = found.index
            text = cells[index]
            kept = self._kept[index]
            mark = marks.get(index) if marks else None
            if mark is None and text in kept:
                if found.element is not None:
                    results[found.element] = kept[text]
                else:
                    values[found.column.name] = kept[text]  # type: ignore[union-attr]
                continue
            try:
                if mark is not None:
                    self._check_mark(mark, found, flagged, text)
                if found.element is not None:
                    self._sample(found, text)
                    amount, warned = self.contents.read(text, found.element, found.unit or "%")
                    results[found.element] = amount
                    flagged.extend((found, text, w) for w in warned)
                    self._count(found, text, amount.qualifier != NOT_REPORTED)
                    self.places.see(found.element, amount, row)
                    if mark is None and not warned:
                        self._keep(kept, text, amount)
                elif found.column is not None:
                    before = len(flagged)
                    values[found.column.name] = value = self._value(text, found, flagged)
                    self._count(found, text, bool(text.strip()))
                    if mark is None and len(flagged) == before and self._keeps(value, text):
                        self._keep(kept, text, value)
            except CellFault as fault:
                if with_result:
                    self._tally(found, row, text, fault)
                ours = found.element or (found.column.name if found.column else None)
                faults.append(RowFault(found.header, ours, text, fault))
        if self._has_elements:
            values["results"] = results
        elif with_result and self._value_column is not None and not faults:
            self._result(row, values, cells, faults, flagged)
        if not faults:
            faults = self._across(values, cells)
        if not faults:
            self._flag(row, flagged)
        return values, faults

    @staticmethod
    def _keep(kept: dict[str, Any], text: str, value: Any) -> None:
        if len(kept) >= MOST_KEPT:
            kept.clear()
        kept[text] = value

    def _result(
        self,
        row: int,
        values: dict[str, Any],
        cells: list[str],
        faults: list[RowFault],
        flagged: list[tuple[Resolved, str, Warned]],
    ) -> None:
        """The one result of a row-a-result file, under `results`."""
        found = self._value_column
        assert found is not None
        text = cells[found.index]
        try:
            unit = self.unit_for(values["element"], self._cell("element", cells), values.get("unit"))
        except CellFault as fault:
            faults.append(self._row_fault("unit", cells, fault))
            return
        try:
            amount, warned = self.contents.read(text, values["element"], unit)
        except CellFault as fault:
            self._tally(found, row, text, fault)
            faults.append(RowFault(found.header, "value", text, fault))
            return
        flagged.extend((found, text, w) for w in warned)
        self.places.see(values["element"], amount, row)
        values["results"] = {values["element"]: amount}
        values["result_unit"] = unit

    def unit_for(self, symbol: str, word: str, unit: str | None) -> str:
        """The unit of a row's value: its unit cell and the profile's unit of that element, which may not differ.

        Raises
        ------
        CellFault
            No unit, an unknown one, or two that differ.
        """
        mapped = self.profile.elements.get(word.strip())
        said = mapped.unit if mapped else None
        if unit is None:
            if said is None:
                raise CellFault("ROW43", "a unit for this value", "Say it in a unit column or under [elements].")
            return said
        read = unit_of(unit)
        if said is not None and UNIT_WORDS[said] != read:
            raise CellFault("ROW43", f"{said}, as the profile says of {symbol}")
        return read

    def _cell(self, ours: str, cells: list[str]) -> str:
        found = self.layout.of(ours)
        return cells[found.index] if found else ""

    def _sample(self, found: Resolved, text: str) -> None:
        """Keep some numbers of an element column, in its unit moved to mass %, to tell whether columns are shifted."""
        kept = self.seen_numbers.get(found.index)
        if kept is None or len(kept) >= MOST_SAMPLED:
            return
        digits = parsing.plain_number(text, self.profile.decimal)
        if digits is not None:
            kept.append(float(digits) * 10.0 ** UNIT_SHIFT[found.unit or "%"])

    def _count(self, found: Resolved, text: str, says: bool) -> None:
        tally = self.tallies[found.index]
        if says:
            tally.taken += 1
            if self.profile.decimal in text:
                tally.with_sign += 1

    def _tally(self, found: Resolved, row: int, text: str, fault: CellFault) -> None:
        tally = self.tallies[found.index]
        tally.fault(fault.code, row, text)
        is_time = found.column is not None and found.column.type in ("instant", "day")
        if is_time and fault.code in ("ROW20", "ROW02") and (day_month_doubt(text) or swapped_day_month(text)):
            tally.doubtful_dates.append((row, text))

    @staticmethod
    def _keeps(value: Any, text: str) -> bool:
        """Whether a value may be taken for an equal text at once: nothing is counted or said when it is read."""
        if value is None or isinstance(value, Instant | Day):
            return False
        return not isinstance(value, Ident) or value.normal == text

    def _value(self, text: str, found: Resolved, flagged: list[tuple[Resolved, str, Warned]]) -> Any:
        column = found.column
        assert column is not None
        raw = text.strip()
        empty = not raw or (column.type in _ALSO_EMPTY and raw in self.profile.not_reported)
        if not empty:
            value = self._readers[column.type](text, found)
            if isinstance(value, tuple) and len(value) == 2 and isinstance(value[1], Warned):
                flagged.append((found, text, value[1]))
                return value[0]
            return value
        if column.required and column.filled:
            raise CellFault("ROW01", f"{column.name} filled in")
        if column.default is not None:
            self.defaults[column.name, column.default] += 1
            return self._readers[column.type](column.default, Resolved(-1, column.name, column))
        if column.default_from is not None:
            self.defaults[column.name, column.default_from] += 1
        return None

    def absent(self, columns: Mapping[str, Column]) -> dict[str, Any]:
        """Defaults of the columns that the file does not have at all."""
        out: dict[str, Any] = {}
        for name, column in columns.items():
            if self.layout.of(name) is None and name not in self.constants:
                given = column.default
                if given is not None or column.default_from is not None:
                    self.left_out[name] = given if given is not None else str(column.default_from)
                out[name] = None if given is None else self._readers[column.type](given, Resolved(-1, name, column))
        return out

    def _ident(self, text: str, found: Resolved) -> Any:
        ident = parsing.read_ident(text)
        if ident.normal != text:
            self.tidied[found.header] += 1
            if parsing.hidden_signs(ident):
                return ident, Warned("ROW33", "plain letters, digits and dashes", f"It is searched as {ident.normal}.")
        return ident

    def _whole(self, text: str, found: Resolved) -> int:
        assert found.column is not None
        return parsing.read_whole(text, found.column)

    def _decimal(self, text: str, found: Resolved) -> Any:
        assert found.column is not None
        decimal = "." if found.index < 0 else self.profile.decimal
        number, warned = parsing.read_decimal(text, found.column, decimal, found.unit)
        return (number, warned) if warned else number

    def _choice(self, text: str, found: Resolved) -> str:
        assert found.column is not None
        return parsing.read_choice(text, found.column, self.sheet.values.get(found.column.name, {}))

    def element(self, text: str) -> str:
        """The element that a cell of an element column names.

        Raises
        ------
        CellFault
            None, or aluminium of a kind not said.
        """
        raw = text.strip()
        mapped = self.profile.elements.get(raw)
        if mapped is not None:
            return mapped.element
        if raw == "Al" and not self.profile.ours:
            raise CellFault("ROW42", "aluminium said to be total or soluble, under [elements] of the profile")
        symbol = element_of(raw)
        if symbol is None:
            near = element_of(raw.capitalize())
            step = f"Did you mean {near}? Letter case counts." if near else "Map it under [elements] of the profile."
            raise CellFault("ROW42", "an element symbol such as C or Mn", step)
        return symbol

    def check_mark(self, mark: str | None, found: Resolved, row: int, text: str) -> None:
        """Raise for a mark of a workbook's cell that its column cannot take; flag one that it can, at once."""
        if mark is not None:
            flagged: list[tuple[Resolved, str, Warned]] = []
            self._check_mark(mark, found, flagged, text)
            self._flag(row, flagged)

    def _check_mark(self, mark: str, found: Resolved, flagged: list[tuple[Resolved, str, Warned]], text: str) -> None:
        sort = found.column.type if found.column else "content"
        if mark == "formula-empty":
            raise CellFault("ROW51", "a value", "Open the workbook in a spreadsheet, let it compute, and save it.")
        if mark == "date" and sort not in ("instant", "day"):
            wanted = "a number" if sort in NUMERIC else "text"
            raise CellFault(
                "ROW10", wanted, "A spreadsheet made a date of it; format the column as text in the source."
            )
        if mark == "percent" and sort in NUMERIC:
            shows = f"{text} is shown as a percentage, so it may mean {text} or a hundred times that"
            raise CellFault("ROW53", f"a plain number; {shows}", "Format the column as a number and export again.")
        if mark == "formula":
            flagged.append(
                (found, text, Warned("ROW52", "a typed value", "The result stored with the formula was taken."))
            )
        if mark == "arithmetic" and sort in NUMERIC:
            flagged.append((found, text, Warned("ROW54", "the digits that were reported", "All digits were kept.")))

    def _across(self, values: Mapping[str, Any], cells: list[str]) -> list[RowFault]:
        """Faults between the cells of one row: order of pairs, cells that belong together, copies of other columns."""
        faults = []
        for first, last in self._pairs:
            one, two = _rank(values.get(first)), _rank(values.get(last))
            if one is not None and two is not None and type(one) is type(two) and two < one:
                wanted = f"{last} not before {first}" if not isinstance(one, tuple) else f"{last} not below {first}"
                step = "Is it the other way round, or is a clock wrong?" if last.endswith("_at") else ""
                faults.append(self._row_fault(last, cells, CellFault("ROW28", wanted, step)))
        for column in self._together:
            if column.together and values.get(column.name) is not None and values.get(column.together) is None:
                wanted = f"{column.together} filled in, since {column.name} is"
                faults.append(self._row_fault(column.together, cells, CellFault("ROW72", wanted)))
        return faults

    def _row_fault(self, ours: str, cells: list[str], fault: CellFault) -> RowFault:
        found = self.layout.of(ours)
        if found is None:
            return RowFault(None, ours, "", fault)
        self.tallies[found.index].fault(fault.code, 0, cells[found.index])
        return RowFault(found.header, ours, cells[found.index], fault)

    def _flag(self, row: int, flagged: list[tuple[Resolved, str, Warned]]) -> None:
        for found, text, warned in flagged:
            subject = self.place.at(row, found.header.strip())
            self.findings.append(Finding(warned.code, subject, shown(text.strip()), warned.wanted, warned.step))

    def bench(self, row: int, faults: list[RowFault], raw: bytes) -> BenchFault:
        """The row set aside for its first fault; the others are told in the message."""
        return bench_row(self.place, row, faults, raw)


def _rank(value: Any) -> Any:
    """What a value is compared by; None where it has no order here."""
    if isinstance(value, Instant):
        return value.utc_ms
    if isinstance(value, Day):
        return value.iso
    if isinstance(value, tuple) and hasattr(value, "value"):
        return (value.value,)
    return None


def unit_of(text: str) -> str:
    """The unit a unit column's cell names.

    Raises
    ------
    CellFault
        It is none that contents come in.
    """
    unit = UNIT_WORDS.get(text.strip())
    if unit is None:
        raise CellFault("ROW43", "one of %, mass %, ppm, mg/kg, ppb")
    return unit
