"""Heats into the record: number and series, planned grade, ladle, tapping, order line.

A heat known already is the same heat stated anew: what the row fills in is added, what it says otherwise takes the
place of what was recorded (a finding names both), what it leaves empty stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from heattrace.intake.loading.moments import not_yet
from heattrace.intake.loading.numbers import KnownHeat, Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import BenchFault, FileContent, Ident, Instant, RowRecord, SheetContent
from heattrace.store.recorded import TONNES, shown_at, to_whole, written
from heattrace.store.work import Work

_RECORD = "SELECT * FROM heat_record r WHERE {live:r} AND r.heat_id = :heat_id"
_DECIDED = "SELECT count(*) FROM decision d WHERE {live:d} AND d.heat_id = :heat_id"
_CAST = """
SELECT p.sequence_id FROM pour p WHERE p.heat_id IN ({keys}) AND {live:p}
UNION SELECT t.sequence_id FROM tundish_use t WHERE t.heat_at_start_id IN ({keys}) AND {live:t}
"""
_REQUIREMENT = "SELECT requirement FROM edition WHERE edition_id IN (:one, :other)"
_LINE = "SELECT order_no, line FROM order_line WHERE order_line_id = :key"
_KEPT = (
    "edition_id", "grade_text", "ladle_no", "tapped_at", "tapped_offset", "tapped_mass_g", "tapped_mass_text",
    "order_line_id", "evidence",
)  # fmt: skip
_TOLD = {
    "grade_text": "grade", "ladle_no": "ladle_no", "tapped_at": "tapped_at", "tapped_mass_g": "tapped_mass_t",
    "order_line_id": "line", "evidence": "evidence",
}  # fmt: skip


def load_heats(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the heats of a file."""
    counts = LoadCounts()
    for sheet in content.sheets.values():
        counts.add(take_heats(work, sheet, batch))
    return counts


def take_heats(
    work: Work,
    sheet: SheetContent,
    batch: BatchInHand,
    *,
    poured: Mapping[str, Instant] | None = None,
    keep_number: bool = False,
    numbers: Numbers | None = None,
    retrace: bool = True,
) -> LoadCounts:
    """Write the heats of one sheet; casts of heats whose planned grade is another now are traced anew.

    `poured` gives, by searched number, a moment of heats whose row has no tapping time (their first pour in the same
    book): it tells the year of their series. With `keep_number` a heat whose row goes to the bench for its grade or
    order line still exists by its number, so that its pours can name it; a book traces by itself (`retrace` False).
    """
    loader = _Heats(work, batch, numbers or Numbers(work.reader), poured or {}, keep_number)
    loader.numbers.prepare_heats(row.values["heat_no"].normal for row in sheet.rows)
    for row in sheet.rows:
        fault = loader.take(row)
        if fault is not None:
            loader.counts.bench.append(fault)
    counts = loader.counts
    counts.bench += sheet.bench
    counts.findings += sheet.findings
    counts.same += sheet.repeated
    if retrace and loader.regraded:
        from heattrace.intake.loading.load_events import retrace_sequences

        cast = {int(r[0]) for r in work.reader.by_keys(_CAST, sorted(loader.regraded))}
        counts.findings += retrace_sequences(work, cast)
    return counts


class _Heats:
    def __init__(
        self, work: Work, batch: BatchInHand, numbers: Numbers, poured: Mapping[str, Instant], keep_number: bool
    ) -> None:
        self.work, self.batch, self.numbers, self.poured, self.keep_number = work, batch, numbers, poured, keep_number
        self.counts = LoadCounts()
        self.regraded: set[int] = set()

    def take(self, row: RowRecord) -> BenchFault | None:
        tapped: Instant | None = row.values.get("tapped_at")
        if not_yet(tapped, self.work.now, self.numbers.zone):
            step = "Mend it: bench fix NUMBER --set tapped_at=TIME --reason TYPING"
            return self.batch.fault(row, "tapped_at", "ROW29", "a moment that has come", step)
        found = self._known_or_series(row, tapped)
        if isinstance(found, BenchFault):
            return found
        said = self._said(row)
        if isinstance(said, BenchFault):
            if self.keep_number and isinstance(found, str):
                self._new_heat(row.values["heat_no"], found)
            return said
        if isinstance(found, str):
            heat_id = self._new_heat(row.values["heat_no"], found)
            self._add_record(heat_id, row, said)
            self.counts.taken += 1
        else:
            self._restate(found, row, said)
        return None

    def _known_or_series(self, row: RowRecord, tapped: Instant | None) -> KnownHeat | str | BenchFault:
        """The heat the row states anew, or the series of a new one."""
        ident: Ident = row.values["heat_no"]
        known = self.numbers.heats(ident.normal)
        series = row.values.get("series")
        at = tapped or self.poured.get(ident.normal)
        if not series:
            series = self.numbers.series_of(ident.normal, at.utc_ms if at else None, at.offset_min if at else None)
        if not series and self.numbers.series_rule != "year":
            return self.batch.fault(
                row, "heat_no", "REC23", f"a number that follows the works value heat-series "
                f"({self.numbers.series_rule})",
                "Mend it: bench fix NUMBER --set series=SERIES --reason TYPING",
            )  # fmt: skip
        if series:
            same = [heat for heat in known if heat.series == series]
            # A heat of which no time is recorded is of whatever year the first time says.
            timeless = [heat for heat in known if heat.at is None] if not row.values.get("series") else []
            fitting = same or timeless
        else:
            fitting = known
        if len(fitting) == 1:
            return fitting[0]
        if fitting:
            listed = "; ".join(heat.words(self.numbers.zone) for heat in fitting)
            step = f"It fits {listed}. Mend it: bench fix NUMBER --set series=SERIES --reason TYPING"
            return self.batch.fault(row, "heat_no", "REC03", "a number that names one heat", step)
        if series:
            return str(series)
        year = str(datetime.fromtimestamp(self.work.now / 1000, UTC).astimezone(self.numbers.zone).year)
        self.counts.findings.append(
            self.batch.finding(
                row, "heat_no", "REC31", f"{ident.normal} without series and tapping time", "a series",
                f"Series {year} taken, the year of this import; a later row with its tapping time is the same heat",
            )
        )  # fmt: skip
        return year

    def _said(self, row: RowRecord) -> dict[str, Any] | BenchFault:
        """What the row says of the heat, as columns of the record; what it leaves empty is missing."""
        values = row.values
        edition = self.numbers.grade(values["grade"])
        if isinstance(edition, Unknown):
            step = f"{edition.step} Mend it: bench fix NUMBER --set grade=GRADE --reason TYPING"
            return self.batch.fault(row, "grade", edition.code, edition.wanted, step)
        said: dict[str, Any] = {"edition_id": edition, "grade_text": values["grade"]}
        order_no, line = values.get("order_no"), values.get("line")
        if order_no is not None and line is not None:
            found = self.numbers.order_line(order_no, line)
            if isinstance(found, Unknown):
                seen = f"{order_no.original.strip()}/{line.original.strip()}"
                return self.batch.fault(row, "line", found.code, found.wanted, found.step, found=seen)
            said["order_line_id"] = found["order_line_id"]
        if values.get("ladle_no") is not None:
            said["ladle_no"] = values["ladle_no"].original.strip()
        tapped = values.get("tapped_at")
        if tapped is not None:
            said["tapped_at"], said["tapped_offset"] = tapped.utc_ms, tapped.offset_min
        mass = values.get("tapped_mass_t")
        if mass is not None:
            said["tapped_mass_g"], said["tapped_mass_text"] = to_whole(mass.text, TONNES)
        if values.get("evidence"):
            said["evidence"] = values["evidence"]
        return said

    def _new_heat(self, ident: Ident, series: str) -> int:
        from heattrace.schema.heats import Heat

        heat_id = self.work.add(Heat(heat_no=ident.normal, series=series, written_no=ident.original.strip()))
        self.numbers.forget_heat(ident.normal)
        return heat_id

    def _add_record(self, heat_id: int, row: RowRecord, said: Mapping[str, Any]) -> None:
        from heattrace.schema.heats import HeatRecord

        fields = {"evidence": ""} | dict(said)
        self.work.add(HeatRecord(heat_id=heat_id, batch_id=self.batch.batch_id, row_no=row.row, **fields))
        self.numbers.forget_heat(row.values["heat_no"].normal)

    def _restate(self, heat: KnownHeat, row: RowRecord, said: Mapping[str, Any]) -> None:
        before = self.work.reader.one(_RECORD, heat_id=heat.heat_id)
        if before is None:
            self._add_record(heat.heat_id, row, said)
            self.counts.taken += 1
            self.regraded.add(heat.heat_id)
            return
        changed = [column for column, value in said.items() if value != before[column]]
        if self._same_grade(before, said):
            changed = [column for column in changed if column not in ("edition_id", "grade_text")]
        if not changed:
            self.counts.same += 1
            return
        self.counts.taken += 1
        if "edition_id" in changed:
            self.regraded.add(heat.heat_id)
        self._tell_changes(heat, row, before, said, changed)
        self.work.end("heat_record", "heat_record_id", [before["heat_record_id"]])
        self._add_record(heat.heat_id, row, {column: before[column] for column in _KEPT} | dict(said))

    def _same_grade(self, before: Any, said: Mapping[str, Any]) -> bool:
        """Whether both name one grade edition; its limits may have been entered anew between."""
        if before["edition_id"] is None:
            return False
        both = self.work.reader.all(_REQUIREMENT, one=before["edition_id"], other=said["edition_id"])
        return len({row["requirement"] for row in both}) == 1

    def _line_words(self, order_line_id: int) -> str:
        row = self.work.reader.one(_LINE, key=order_line_id)
        return f"{row['order_no']}/{row['line']}" if row is not None else "another order line"

    def _tell_changes(
        self, heat: KnownHeat, row: RowRecord, before: Any, said: Mapping[str, Any], changed: list[str]
    ) -> None:
        for column in changed:
            if column in _TOLD and before[column] not in (None, ""):
                old, new = before[column], said[column]
                if column == "tapped_at":
                    old, new = (shown_at(each, self.numbers.zone) for each in (old, new))
                elif column == "order_line_id":
                    old, new = self._line_words(old), self._line_words(new)
                elif column == "tapped_mass_g":
                    old, new = (written(*each, TONNES) for each in (_mass(before), _mass(said)))
                self.counts.findings.append(
                    self.batch.finding(
                        row, _TOLD[column], "REC30", f"heat {heat.heat_no}: {new}", f"{old}, as recorded",
                        "The new value stands; the earlier one stays in the history",
                    )
                )  # fmt: skip
        decided = self.work.reader.scalar(_DECIDED, heat_id=heat.heat_id)
        if decided and {"edition_id", "order_line_id"} & set(changed):
            self.counts.findings.append(
                self.batch.finding(
                    row, "grade", "REC35", f"{decided} decisions on heat {heat.heat_no}", "an unchanged requirement",
                    f"Look at them: heattrace why heat:{heat.heat_no}",
                )
            )  # fmt: skip


def _mass(row: Any) -> tuple[int | None, str | None]:
    return row["tapped_mass_g"], row["tapped_mass_text"]
