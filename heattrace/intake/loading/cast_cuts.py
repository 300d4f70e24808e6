"""The cut rows of a cast book: checked against the record and against each other.

A bad row goes to the bench and stays behind in the record as a cut that is not believed, so that the parts on both
sides of it are undetermined until it is mended.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from heattrace.intake.batches.import_file import is_workbook
from heattrace.intake.bench.rows import cells_of
from heattrace.intake.loading.cast_edition import CastEdition
from heattrace.intake.loading.cast_sheets import Run, Values, run_columns, strand_row_fault, whole, word
from heattrace.intake.loading.moments import AHEAD_MS
from heattrace.intake.loading.numbers import Unknown
from heattrace.intake.profiles.kinds import CUT_KINDS
from heattrace.intake.reading.instants import InstantReader
from heattrace.intake.reading.records import BenchFault, RowRecord
from heattrace.store.reader import Reader
from heattrace.store.recorded import KILOGRAMS, METRES, to_whole
from heattrace.strand.cast import faulty_cuts
from heattrace.strand.cutting import place_of_cut
from heattrace.strand.feeding import book_end, feeding_of
from heattrace.strand.record import Cast, Cut, StrandRules
from heattrace.strand.traced import FaultyCut
from heattrace.tracing.cast_record import RecordedCast, model_cut, read_cast
from heattrace.tracing.cast_rules import strand_rules
from heattrace.values import replace

CutKey = tuple[int, int, int]

_TAKEN = """
SELECT p.piece_no, p.sequence_id, p.origin, s.sequence_no FROM part p
LEFT JOIN sequence s ON s.sequence_id = p.sequence_id WHERE p.piece_no IN (%s) AND {live:p}
"""
# Cuts drawn on either side of a bad one.
_NEIGHBOURS = 2


@dataclass(slots=True)
class CutRow:
    """One cut of the book: its columns as kept; `fault` is why its row goes to the bench; `row` None: unreadable."""

    row_no: int
    values: Values
    row: RowRecord | None
    fault: BenchFault | None = None

    @property
    def key(self) -> CutKey:
        """(strand_no, run_no, cut_no)."""
        return (self.values["strand_no"], self.values["run_no"], self.values["cut_no"])

    @property
    def run(self) -> Run:
        """(strand_no, run_no)."""
        return self.key[:2]


@dataclass(slots=True)
class CheckedCuts:
    """Cuts of a book ready to be kept, and the rows that go to the bench besides those that reading set aside."""

    cuts: list[CutRow]
    bench: list[BenchFault] = field(default_factory=list)


def cut_columns(edition: CastEdition, row: RowRecord) -> tuple[Values, BenchFault | None]:
    """A cut as the record keeps it, and why its row goes to the bench, if it does."""
    v = row.values
    clamped = v.get("clamped_at")
    values: Values = {
        **run_columns(row), "cut_no": v["cut_no"], "kind": v["kind"], "piece_no": word(v.get("piece_no")),
        "clamped_at": None if clamped is None else clamped.utc_ms,
        "clamped_offset": None if clamped is None else clamped.offset_min,
        **whole("clamp_distance", v.get("clamp_distance_m"), METRES, "um"),
        **whole("measured_length", v.get("measured_length_m"), METRES, "um"),
        **whole("mass", v.get("mass_kg"), KILOGRAMS, "g"),
        **whole("foreign_mass", v.get("foreign_mass_kg"), KILOGRAMS, "g"),
        "order_line_id": None, "faulty": 0,
    }  # fmt: skip
    if v["kind"] == "piece" and v.get("piece_no") is None:
        step = "Mend it: bench fix NUMBER --set piece_no=NUMBER --reason TYPING"
        return values, edition.batch.fault(row, "piece_no", "ROW01", "piece_no filled in for a piece", step)
    order_no, line = v.get("order_no"), v.get("line")
    if order_no is not None and line is not None:
        found = edition.numbers.order_line(order_no, line)
        if isinstance(found, Unknown):
            seen = f"{word(order_no)}/{word(line)}"
            return values, edition.batch.fault(row, "line", found.code, found.wanted, found.step, found=seen)
        values["order_line_id"] = int(found["order_line_id"])
    return values, None


class CutSheet:
    """Checks the cut rows of a book. `recorded` is the cast with every other sheet already in the record."""

    def __init__(self, edition: CastEdition, runs: frozenset[Run], recorded: RecordedCast, rules: StrandRules) -> None:
        self.edition, self.runs, self.recorded, self.rules = edition, runs, recorded, rules

    def check(self) -> CheckedCuts:
        """All cuts of the sheet, the bad ones marked.

        Raises
        ------
        CastUnreadable
            The sheets below contradict themselves so far that no cut can be placed.
        """
        out = CheckedCuts([])
        strays: list[BenchFault] = []
        for row in self.edition.content.rows("cuts"):
            fault = strand_row_fault(self.edition, row, self.runs)
            if fault is not None and fault.code in ("REC10", "REC15"):
                strays.append(fault)  # of no strand of this cast, as written
                continue
            values, more = cut_columns(self.edition, row)
            if fault is not None:
                values["clamped_at"] = values["clamped_offset"] = None  # it has not come yet
            out.cuts.append(CutRow(row.row, values, row, fault or more))
        check_numbers(self.edition, out.cuts)
        out.bench += strays
        self._set_aside_unplaced(out, self.edition.content.sheets["cuts"].bench, strays)
        out.cuts = _one_of_a_number(out.cuts)
        self.check_places(out.cuts)
        for cut in out.cuts:
            if cut.fault is not None:
                cut.values["faulty"] = 1
                if cut.row is not None:
                    out.bench.append(cut.fault)
        return out

    def check_places(self, cuts: Sequence[CutRow]) -> None:
        """Mark the rows that contradict the strand or each other."""
        by_key = {cut.key: cut for cut in cuts}
        cast = self.cast_with(cuts)
        for run, found in faulty_cuts(cast, self.rules).items():
            drawing = _Drawing(cast, run, found)
            for fault in found:
                cut = by_key.get((fault.strand_no, fault.run_no, fault.cut_no))
                if cut is not None and cut.fault is None and cut.row is not None:
                    cut.fault = self._fault(cut.row, fault, drawing)

    def cast_with(self, cuts: Iterable[CutRow]) -> Cast:
        """The recorded cast with these cuts in place of those of the record."""
        by_run: dict[Run, list[Cut]] = {}
        for cut in cuts:
            at = cut.values["clamped_at"]
            clamped = None if at is None else self.recorded.minute(at)
            values = cut.values | {"faulty": int(cut.fault is not None or cut.values["faulty"])}
            by_run.setdefault(cut.run, []).append(model_cut(values, clamped))
        runs = tuple(replace(run, cuts=tuple(by_run.get(run.key, ()))) for run in self.recorded.cast.runs)
        return replace(self.recorded.cast, runs=runs)

    def _fault(self, row: RowRecord, fault: FaultyCut, drawing: _Drawing) -> BenchFault:
        suspects = ""
        if fault.suspects:
            listed = ", ".join(str(number) for number in fault.suspects)
            suspects = f" Cut {listed} could be the wrong one just as well."
        wanted = f"a cut that fits its strand (this one {fault.words})"
        step = (
            f"{drawing.words(fault.cut_no)}{suspects} The parts on both sides are undetermined until it is mended: "
            "bench fix NUMBER --set clamped_at=TIME --reason TYPING"
        )
        return self.edition.batch.fault(row, "clamped_at", "REC29", wanted, step)

    def _set_aside_unplaced(self, out: CheckedCuts, unread: Sequence[BenchFault], strays: Sequence[BenchFault]) -> None:
        """Cuts of rows that could not be read or name no strand of the cast: their place makes neighbours doubtful.

        Where the place of an unread row cannot be told, the rows above and below it are doubtful themselves; a stray
        whose number is missing nowhere is of another cast.
        """
        reader = _BadRow(self.edition)
        for fault in (*unread, *strays):
            found = reader.columns(fault)
            written = found.get("run") if fault in unread and found.get("run") in self.runs else None
            near = _beside(out.cuts, fault.row, written)
            run, number = written or _common_run(near), found.get("cut_no")
            if written is None and number is not None and not _between(number, near):
                number = None
            elif run is not None and number is None:
                number = _free_number(out.cuts, run, near)
            if run is None or number is None:
                for cut in near if fault in unread else ():
                    cut.values["faulty"] = 1
                continue
            values = _EMPTY | found["values"] | {"strand_no": run[0], "run_no": run[1], "cut_no": number, "faulty": 1}
            out.cuts.append(CutRow(fault.row, values, None, fault))


def cut_sheet(edition: CastEdition, runs: frozenset[Run]) -> CutSheet:
    """The checker of a book's cuts, once every other sheet is in the record."""
    recorded = read_cast(edition.reader, edition.sequence_id)
    last = max(recorded.minute(edition.last_at), recorded.cast.last_time)
    cast = replace(recorded.cast, last_time=last)
    rules = strand_rules(edition.reader, recorded.families).rules
    return CutSheet(edition, runs, replace(recorded, cast=cast), rules)


_EMPTY: Values = {
    "strand_no": None, "run_no": None, "cut_no": None, "kind": "scrap", "piece_no": None, "clamped_at": None,
    "clamped_offset": None, "clamp_distance_um": None, "clamp_distance_text": None, "measured_length_um": None,
    "measured_length_text": None, "mass_g": None, "mass_text": None, "foreign_mass_g": None,
    "foreign_mass_text": None, "order_line_id": None, "faulty": 1,
}  # fmt: skip


def check_numbers(edition: CastEdition, cuts: Sequence[CutRow]) -> None:
    """Mark rows whose piece number stands twice in the book or is that of steel of another cast."""
    by_number: dict[str, list[CutRow]] = {}
    for cut in cuts:
        if cut.row is not None and cut.row.values.get("piece_no") is not None:
            by_number.setdefault(cut.row.values["piece_no"].normal, []).append(cut)
    taken = _taken(edition.reader, list(by_number), edition.sequence_id)
    for number, rows in by_number.items():
        words = taken.get(number)
        if len(rows) > 1:
            words = "another row of this book (rows " + ", ".join(str(cut.row_no) for cut in rows) + ")"
        if words is None:
            continue
        for cut in rows:
            cut.values["piece_no"] = None
            if cut.fault is None and cut.row is not None:
                step = "Mend it: bench fix NUMBER --set piece_no=NUMBER --reason TYPING"
                wanted = f"a number of its own, not that of {words},"
                cut.fault = edition.batch.fault(cut.row, "piece_no", "REC19", wanted, step)


def _taken(reader: Reader, numbers: Sequence[str], sequence_id: int) -> dict[str, str]:
    """Steel that bears some numbers already, in words; parts cast in the sequence itself are traced anew."""
    found = {}
    for start in range(0, len(numbers), 500):
        lot = numbers[start : start + 500]
        marks = ",".join(f":n{i}" for i in range(len(lot)))
        for row in reader.all(_TAKEN.replace("%s", marks), **{f"n{i}": n for i, n in enumerate(lot)}):
            if row["sequence_id"] != sequence_id or row["origin"] != "cast":
                where = f" of sequence {row['sequence_no']}" if row["sequence_no"] else ""
                found[row["piece_no"]] = f"a part{where} in the record"
    return found


def _one_of_a_number(cuts: Sequence[CutRow]) -> list[CutRow]:
    """Of several bad rows with one cut number the first: one place is enough to make its neighbours doubtful."""
    kept: dict[CutKey, CutRow] = {}
    for cut in sorted(cuts, key=lambda each: (each.fault is not None, each.row_no)):
        kept.setdefault(cut.key, cut)
    return sorted(kept.values(), key=lambda cut: cut.key)


def _beside(cuts: Sequence[CutRow], row_no: int, run: Run | None) -> list[CutRow]:
    """The readable rows above and below a row of the sheet, of one run where it is known."""
    of_run = [cut for cut in cuts if cut.row is not None and run in (None, cut.run)]
    above = [cut for cut in of_run if cut.row_no < row_no]
    below = [cut for cut in of_run if cut.row_no > row_no]
    near = [max(above, key=lambda cut: cut.row_no)] if above else []
    return near + ([min(below, key=lambda cut: cut.row_no)] if below else [])


def _between(number: int, near: Sequence[CutRow]) -> bool:
    return len(near) == 2 and near[0].values["cut_no"] < number < near[1].values["cut_no"]


def _common_run(near: Sequence[CutRow]) -> Run | None:
    runs = {cut.run for cut in near}
    return runs.pop() if len(runs) == 1 else None


def _free_number(cuts: Sequence[CutRow], run: Run, near: Sequence[CutRow]) -> int | None:
    """The number a row without one must have had between its neighbours; None where there is no room."""
    used = {cut.values["cut_no"] for cut in cuts if cut.run == run}
    beside = [cut.values["cut_no"] for cut in near if cut.run == run]
    candidates = [number + step for number in beside for step in (1, -1)]
    return next((n for n in candidates if n >= 1 and n not in used and (n + 1 in used or n - 1 in used)), None)


class _BadRow:
    """Reads of a row set aside what can be read."""

    def __init__(self, edition: CastEdition) -> None:
        batch = edition.batch
        own = batch.profile.for_sheet("cuts")
        self.profile, self.own, self.now = batch.profile, own, edition.work.now + AHEAD_MS
        self.workbook = is_workbook(edition.content.path)
        mapped = {theirs: ours.column for theirs, ours in own.columns.items()}
        header = edition.content.sheets["cuts"].header
        self.at = {mapped.get(name.strip(), name.strip()): index for index, name in enumerate(header)}
        self.instants = InstantReader(own.zone or self.profile.zone, own.format or self.profile.format)

    def columns(self, fault: BenchFault) -> dict[str, Any]:
        """`run`, `cut_no` and `values` as far as they can be read."""
        cells = cells_of(fault.raw, self.profile, workbook=self.workbook)
        if len(cells) != len(self.at) and not (self.workbook and len(cells) < len(self.at)):
            return {"values": {}}

        def cell(name: str) -> str:
            index = self.at.get(name, -1)
            return cells[index].strip() if 0 <= index < len(cells) else ""

        strand, run, number = (_natural(cell(name)) for name in ("strand_no", "run_no", "cut_no"))
        kind = self.own.values.get("kind", {}).get(cell("kind"), cell("kind"))
        values: Values = {"kind": kind if kind in CUT_KINDS else "scrap"}
        clamped, distance = self._moment(cell("clamped_at")), self._metres(cell("clamp_distance_m"))
        if clamped is not None and distance is not None:
            values["clamped_at"], values["clamped_offset"] = clamped
            values["clamp_distance_um"], values["clamp_distance_text"] = distance
        return {"run": (strand, run) if strand and run else None, "cut_no": number, "values": values}

    def _moment(self, text: str) -> tuple[int, int] | None:
        try:
            moment = self.instants.read(text)
        except ValueError:
            return None
        return (moment.utc_ms, moment.offset_min) if moment.utc_ms <= self.now else None

    def _metres(self, text: str) -> tuple[int | None, str | None] | None:
        """Clamp distance of a readable cell, nothing for an empty one, None where it cannot be read."""
        if not text or text in self.profile.not_reported:
            return (None, None)
        try:
            return to_whole(text.replace(self.profile.decimal, "."), METRES)
        except ArithmeticError:
            return None


def _natural(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and 0 < len(text) < 7 and int(text) > 0 else None


class _Drawing:
    """The cuts of a run on a line of text, for the person who mends one."""

    def __init__(self, cast: Cast, run: Run, faults: Sequence[FaultyCut]) -> None:
        record = next(each for each in cast.runs if each.key == run)
        feeding = feeding_of(record, book_end(cast))
        self.bad = {fault.cut_no for fault in faults}
        self.places = [
            (place, cut.cut_no) for cut in record.cuts if (place := place_of_cut(record, feeding, cut)) is not None
        ]
        self.places.sort(key=lambda pair: (pair[1], pair[0]))
        self.name = f"strand {run[0]} run {run[1]}"

    def words(self, cut_no: int) -> str:
        """`strand 1 run 1: |12.30 m cut 2| |18.20 m cut 3| x17.90 m cut 4x |30.10 m cut 5|`."""
        order = [number for _, number in self.places]
        if cut_no not in order:
            return f"On {self.name} it has no place."
        at = order.index(cut_no)
        near = self.places[max(0, at - _NEIGHBOURS) : at + _NEIGHBOURS + 1]
        marks = [
            f"x{place:.2f} m cut {number}x" if number in self.bad else f"|{place:.2f} m cut {number}|"
            for place, number in near
        ]
        return f"On {self.name}: {' '.join(marks)}."
