"""The sheets of a cast book that all its parts rest on, each row as the record keeps it.

One bad row of them refuses the whole book; those of `sections` and `counters` go to the bench alone.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.loading.cast_edition import CastEdition, SheetRows
from heattrace.intake.loading.load_events import two_moments
from heattrace.intake.loading.load_temperatures import sheet_counts
from heattrace.intake.loading.moments import not_yet
from heattrace.intake.loading.numbers import Unknown
from heattrace.intake.loading.slip import LoadCounts
from heattrace.intake.reading.records import BenchFault, Instant, Number, RowRecord
from heattrace.store.recorded import METRES, PER_MINUTE, TONNES, shown_at, to_whole

Values = dict[str, Any]
Run = tuple[int, int]

_POURED_ELSEWHERE = """
SELECT p.heat_id, h.heat_no, s.sequence_no FROM pour p JOIN heat h ON h.heat_id = p.heat_id
JOIN sequence s ON s.sequence_id = p.sequence_id
WHERE p.heat_id IN ({keys}) AND p.sequence_id <> :sequence AND {live:p} ORDER BY p.pour_id
"""
_POURS = """
SELECT p.heat_id, p.tundish, p.opened_at, p.closed_at FROM pour p WHERE p.sequence_id = :sequence AND {live:p}
"""
_TAPPED = "SELECT r.heat_id, r.tapped_at FROM heat_record r WHERE r.heat_id IN ({keys}) AND {live:r}"
_SPEEDS = """
SELECT v.strand_no, v.run_no, v.from_at, v.speed_um_min, v.speed_text FROM speed v
WHERE v.cast_sheet_id = :sheet ORDER BY v.strand_no, v.run_no, v.from_at
"""
_SPEED_COLUMNS = ("cast_sheet_id", "strand_no", "run_no", "from_at", "speed_um_min", "speed_text", "row_no")


def whole(name: str, number: Number | None, places: int, unit: str) -> Values:
    """The whole number and the text of a recorded value, under the names of their columns."""
    value, text = (None, None) if number is None else to_whole(number.text, places)
    return {f"{name}_{unit}": value, f"{name}_text": text}


def text_of(number: Number | None) -> str | None:
    """The digits of a recorded value kept as text."""
    return None if number is None else number.text


def word(value: Any) -> str | None:
    """A number of the plant, or a text, as written; empty is None."""
    text = getattr(value, "original", value)
    return (str(text).strip() or None) if text is not None else None


class FoundationSheets:
    """Takes the sheets in that places and shares rest on, in the order in which they name each other."""

    def __init__(self, edition: CastEdition) -> None:
        self.edition = edition
        self.counts = LoadCounts()
        self.tundishes: frozenset[str] = frozenset()
        self.runs: frozenset[Run] = frozenset()

    def take(self) -> LoadCounts:
        """Write all of them.

        Raises
        ------
        FileRefused
            For any row that cannot stand.
        """
        self._plain("tundishes", "tundish_use", self._tundish)
        self.tundishes = self._standing("SELECT t.tundish FROM tundish_use t WHERE t.sequence_id = :key AND {live:t}")
        self._pours()
        self._plain("tundish_masses", "tundish_mass", self._reading)
        self._plain("strands", "strand_run", self._strand)
        self.runs = frozenset(
            (row["strand_no"], row["run_no"])
            for row in self.edition.reader.all(
                "SELECT r.strand_no, r.run_no FROM strand_run r WHERE r.sequence_id = :key AND {live:r}",
                key=self.edition.sequence_id,
            )
        )
        self._plain("feeds", "feed", self._feed)
        self._speeds()
        self._benchable("sections", "section", self._section)
        self._benchable("counters", "counter", self._counter)
        return self.counts

    def _standing(self, sql: str) -> frozenset[str]:
        return frozenset(str(row[0]) for row in self.edition.reader.all(sql, key=self.edition.sequence_id))

    def _plain(self, sheet: str, table: str, said: Any) -> None:
        if sheet not in self.edition.content.sheets:
            return
        rows = SheetRows(self.edition, sheet, table)
        for row in self.edition.content.rows(sheet):
            self._check(row)
            rows.put(row.row, said(row))
        self._count(sheet, rows.write(), [])

    def _benchable(self, sheet: str, table: str, said: Any) -> None:
        if sheet not in self.edition.content.sheets:
            return
        rows, bench = SheetRows(self.edition, sheet, table), []
        for row in self.edition.content.rows(sheet):
            fault = self.row_fault(row)
            if fault is None:
                rows.put(row.row, said(row))
            else:
                bench.append(fault)
        self._count(sheet, rows.write(), bench)

    def _count(self, sheet: str, counts: LoadCounts, bench: list[BenchFault]) -> None:
        self.counts.add(sheet_counts(self.edition.content.sheets[sheet], counts, bench))

    def _check(self, row: RowRecord) -> None:
        """Refuse the book for a row of another cast, or of a moment that has not come."""
        edition = self.edition
        if not edition.check_sequence(row):
            seen = f'"{word(row.values["sequence_no"])}"'
            raise edition.refuse(
                row.sheet, "REC50", seen, f"{edition.sequence_no}, the sequence of this book",
                "Send each cast as a book of its own.", row, "sequence_no",
            )  # fmt: skip
        for name, value in row.values.items():
            if isinstance(value, Instant) and not_yet(value, edition.work.now, edition.numbers.zone):
                step = "Mend the row, or the clock of this computer, and send the book again."
                raise edition.refuse(row.sheet, "ROW29", value.text, "a moment that has come", step, row, name)
        for name, known, what in (("tundish", self.tundishes, "tundishes"), ("strand_no", self.runs, "strands")):
            if name in row.values and row.sheet not in ("tundishes", "strands"):
                self._check_named(row, name, known, what)

    def _check_named(self, row: RowRecord, name: str, known: frozenset[Any], what: str) -> None:
        said = row.values["tundish"] if name == "tundish" else run_of(row)
        if said not in known:
            words = said if name == "tundish" else f"strand {said[0]} run {said[1]}"
            raise self.edition.refuse(
                row.sheet, "REC15", f'"{words}"', f"one that the {what} sheet has", "Mend the row or add it there.",
                row, name,
            )  # fmt: skip

    def row_fault(self, row: RowRecord) -> BenchFault | None:
        """Why a row of a sheet whose rows go to the bench alone cannot stand."""
        return strand_row_fault(self.edition, row, self.runs)

    def _tundish(self, row: RowRecord) -> Values:
        v = row.values
        heat_id = None
        if v.get("heat_at_start") is not None:
            heat = self.edition.heat(v["heat_at_start"], self._first_moment())
            if isinstance(heat, Unknown):
                raise self._unknown_heat(row, "heat_at_start", heat)
            heat_id = heat
        return {
            "tundish": v["tundish"], "tundish_no": word(v.get("tundish_no")), "heat_at_start_id": heat_id,
            **whole("mass_at_start", v["mass_at_start_t"], TONNES, "g"),
            **whole("working_mass", v.get("working_mass_t"), TONNES, "g"),
            **whole("stagnant_mass", v.get("stagnant_mass_t"), TONNES, "g"),
        }  # fmt: skip

    def _first_moment(self) -> int | None:
        opened = [row.values["opened_at"].utc_ms for row in self.edition.content.rows("pours")]
        return min(opened, default=None)

    def _unknown_heat(self, row: RowRecord, column: str, heat: Unknown) -> Exception:
        seen = f'"{word(row.values[column])}"'
        near = heat.step.split(" If it is")[0].split(" Say which")[0].split(" Then:")[0]
        step = f"All pours rest on it: mend the number, or add the heat to the heats sheet. {near}"
        return self.edition.refuse(row.sheet, heat.code, seen, heat.wanted, step, row, column)

    def _pours(self) -> None:
        if "pours" not in self.edition.content.sheets:
            return
        rows = SheetRows(self.edition, "pours", "pour")
        poured: list[tuple[RowRecord, Values]] = []
        for row in self.edition.content.rows("pours"):
            self._check(row)
            v = row.values
            heat = self.edition.heat(v["heat_no"], v["opened_at"].utc_ms)
            if isinstance(heat, Unknown):
                raise self._unknown_heat(row, "heat_no", heat)
            values = {
                "heat_id": heat, "tundish": v["tundish"], **two_moments(row, ("opened_at", "closed_at")),
                **whole("poured_mass", v.get("poured_mass_t"), TONNES, "g"),
            }  # fmt: skip
            poured.append((row, values))
            rows.put(row.row, values)
        self._check_heats(poured)
        told = self._told_otherwise(poured)
        self._count("pours", rows.write(), [])
        self.counts.findings += told

    def _told_otherwise(self, poured: list[tuple[RowRecord, Values]]) -> list[Finding]:
        """Ladle times that an earlier edition of the book told otherwise, where it is clear which pour is meant."""
        edition = self.edition
        before: dict[tuple[int, str], list[Any]] = {}
        for old in edition.reader.all(_POURS, sequence=edition.sequence_id):
            before.setdefault((old["heat_id"], old["tundish"]), []).append(old)
        findings = []
        for row, values in poured:
            known = before.get((values["heat_id"], values["tundish"]), [])
            for name in ("opened_at", "closed_at") if len(known) == 1 else ():
                if known[0][name] is not None and values[name] != known[0][name]:
                    was, now = (shown_at(at, edition.numbers.zone) or "open" for at in (known[0][name], values[name]))
                    step = "The new time stands and the cast is traced anew; the earlier one stays in the history"
                    findings.append(edition.batch.finding(row, name, "REC30", now, f"{was}, as recorded", step))
        return findings

    def _check_heats(self, poured: list[tuple[RowRecord, Values]]) -> None:
        """Refuse a heat of another sequence, one poured before it was tapped, and heats out of order."""
        edition, reader = self.edition, self.edition.reader
        keys = sorted({int(values["heat_id"]) for _, values in poured})
        elsewhere = {
            row["heat_id"]: row for row in reader.by_keys(_POURED_ELSEWHERE, keys, sequence=edition.sequence_id)
        }
        tapped = {row["heat_id"]: row["tapped_at"] for row in reader.by_keys(_TAPPED, keys)}
        for row, values in poured:
            other, tap = elsewhere.get(values["heat_id"]), tapped.get(values["heat_id"])
            number = word(row.values["heat_no"])
            if other is not None:
                seen = f"heat {number}, which was poured in sequence {other['sequence_no']}"
                step = "A heat is cast once: mend the number here, or undo the import of that book."
                raise edition.refuse("pours", "REC52", seen, "a heat of this sequence alone", step, row, "heat_no")
            if tap is not None and values["opened_at"] < tap:
                seen = f"{shown_at(values['opened_at'], edition.numbers.zone)}, before heat {number} was tapped at "
                seen += str(shown_at(tap, edition.numbers.zone))
                step = "One of the two times, or the heat number, is wrong."
                raise edition.refuse("pours", "REC53", seen, "a ladle opened after tapping", step, row, "opened_at")
        self._check_order(poured)

    def _check_order(self, poured: list[tuple[RowRecord, Values]]) -> None:
        by_tundish: dict[str, list[tuple[RowRecord, Values]]] = {}
        for row, values in sorted(poured, key=lambda pair: int(pair[1]["opened_at"])):
            by_tundish.setdefault(values["tundish"], []).append((row, values))
        for tundish, pours in by_tundish.items():
            done: set[int] = set()
            for (_, before), (row, values) in pairwise(pours):
                number = word(row.values["heat_no"])
                if values["heat_id"] != before["heat_id"] and values["opened_at"] == before["opened_at"]:
                    seen = f"heat {number} and another opened over tundish {tundish} at one moment"
                    step = "Two heats cannot stand at one place of the sequence: mend the time or the number."
                    raise self.edition.refuse("pours", "REC53", seen, "heats one after the other", step, row, "heat_no")
                if values["heat_id"] != before["heat_id"]:
                    done.add(before["heat_id"])
                if values["heat_id"] in done:
                    seen = f"heat {number} poured into tundish {tundish} again after another heat"
                    step = "The order of the heats cannot be told: mend the times or the numbers."
                    raise self.edition.refuse("pours", "REC53", seen, "heats one after the other", step, row, "heat_no")

    @staticmethod
    def _reading(row: RowRecord) -> Values:
        v = row.values
        return {"tundish": v["tundish"], "read_at": v["read_at"].utc_ms, **whole("mass", v["mass_t"], TONNES, "g")}

    @staticmethod
    def _strand(row: RowRecord) -> Values:
        v = row.values
        return {
            **run_columns(row), "form": v["form"], "thickness_mm": text_of(v["thickness_mm"]),
            "width_mm": text_of(v["width_mm"]), "area_mm2": text_of(v.get("area_mm2")),
            **whole("machine_length", v["machine_length_m"], METRES, "um"),
            "started_at": v["started_at"].utc_ms, "started_offset": v["started_at"].offset_min,
            "stopped_at": None if v.get("stopped_at") is None else v["stopped_at"].utc_ms,
            "kerf_mm": text_of(v.get("kerf_mm")), "cut_temperature_c": text_of(v.get("cut_temperature_c")),
            "mould_no": word(v.get("mould_no")), "lubricant": word(v.get("lubricant")),
            "lubricant_lot": word(v.get("lubricant_lot")), **whole("plug_mass", v.get("plug_mass_t"), TONNES, "g"),
            "stroke_mm": text_of(v.get("stroke_mm")), "oscillation_per_min": text_of(v.get("oscillation_per_min")),
        }  # fmt: skip

    @staticmethod
    def _feed(row: RowRecord) -> Values:
        return {**run_columns(row), "tundish": row.values["tundish"], **two_moments(row, ("from_at", "to_at"))}

    @staticmethod
    def _section(row: RowRecord) -> Values:
        return section_columns(row)

    @staticmethod
    def _counter(row: RowRecord) -> Values:
        return counter_columns(row)

    def _speeds(self) -> None:
        """Speed rows stand as long as their sheet: a sheet that differs is written as a whole."""
        edition = self.edition
        if "speeds" not in edition.content.sheets:
            return
        said: dict[tuple[int, int, int], tuple[Any, ...]] = {}
        for row in edition.content.rows("speeds"):
            self._check(row)
            value, text = whole("speed", row.values.get("speed_m_min"), PER_MINUTE, "um_min").values()
            key = (*run_of(row), row.values["from_at"].utc_ms)
            said[key] = (*key, value, text, row.row)
        rows = [said[key] for key in sorted(said)]
        standing = edition.standing_sheet("speeds")
        known = [] if standing is None else [tuple(r) for r in edition.reader.all(_SPEEDS, sheet=standing)]
        counts = LoadCounts()
        counts.same = len(set(known) & {row[:5] for row in rows})
        counts.taken = len(rows) - counts.same
        if known != [row[:5] for row in rows]:
            sheet_id = edition.new_sheet("speeds")
            edition.work.bulk_insert("speed", _SPEED_COLUMNS, [(sheet_id, *row) for row in rows])
        self._count("speeds", counts, [])


def section_columns(row: RowRecord) -> Values:
    """A change of section as the record keeps it."""
    v = row.values
    return {
        **run_columns(row), **whole("from", v["from_m"], METRES, "um"), "thickness_mm": text_of(v["thickness_mm"]),
        "width_mm": text_of(v["width_mm"]),
    }  # fmt: skip


def counter_columns(row: RowRecord) -> Values:
    """A counter reading as the record keeps it."""
    v = row.values
    return {**run_columns(row), "read_at": v["read_at"].utc_ms, **whole("counter", v["counter_m"], METRES, "um")}


def run_of(row: RowRecord) -> Run:
    """Strand and run a row names."""
    return (int(row.values["strand_no"]), int(row.values["run_no"]))


def run_columns(row: RowRecord) -> Values:
    """Strand and run under the names of their columns."""
    return {"strand_no": row.values["strand_no"], "run_no": row.values["run_no"]}


def strand_row_fault(edition: CastEdition, row: RowRecord, runs: frozenset[Run]) -> BenchFault | None:
    """Another sequence, a strand or run that the book does not have, or a moment that has not come."""
    batch = edition.batch
    if not edition.check_sequence(row):
        step = "Mend it: bench fix NUMBER --set sequence_no=NUMBER --reason TYPING"
        return batch.fault(row, "sequence_no", "REC10", f"{edition.sequence_no}, the sequence of this book,", step)
    if runs and run_of(row) not in runs:
        listed = ", ".join(f"{strand}/{run}" for strand, run in sorted(runs))
        column = "run_no" if any(strand == row.values["strand_no"] for strand, _ in runs) else "strand_no"
        step = f"Mend it: bench fix NUMBER --set {column}=NUMBER --reason TYPING"
        return batch.fault(row, column, "REC15", f"a strand and run of this cast ({listed})", step)
    return future_fault(edition, row)


def future_fault(edition: CastEdition, row: RowRecord) -> BenchFault | None:
    """A moment of the row that has not come."""
    for name, value in row.values.items():
        if isinstance(value, Instant) and not_yet(value, edition.work.now, edition.numbers.zone):
            step = f"Mend it: bench fix NUMBER --set {name}=TIME --reason TYPING"
            return edition.batch.fault(row, name, "ROW29", "a moment that has come", step)
    return None
