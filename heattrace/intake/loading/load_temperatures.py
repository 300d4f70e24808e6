"""Pyrometer readings and ladle additions of heats into the record."""

from __future__ import annotations

from typing import Any

from heattrace.intake.loading.known_rows import KnownRows
from heattrace.intake.loading.moments import not_yet
from heattrace.intake.loading.numbers import KnownHeat, Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import BenchFault, FileContent, RowRecord, SheetContent
from heattrace.store.recorded import DEGREES, KILOGRAMS, to_whole
from heattrace.store.work import Work

_TEMPERATURES = "SELECT * FROM temperature t WHERE {live:t} AND t.heat_id IN ({keys})"
_ADDITIONS = "SELECT * FROM addition a WHERE {live:a} AND a.heat_id IN ({keys})"


def load_temperatures(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the temperature readings of a file; one is known by heat, place and moment."""
    return take_temperatures(work, content.sheets["temperatures"], batch)


def take_temperatures(
    work: Work, sheet: SheetContent, batch: BatchInHand, *, numbers: Numbers | None = None
) -> LoadCounts:
    """Write the temperature readings of one sheet."""
    numbers = numbers or Numbers(work.reader)
    placed, bench = rows_with_heats(work, sheet, batch, numbers, "read_at")
    known = work.reader.by_keys(_TEMPERATURES, sorted({heat.heat_id for _, heat in placed}))
    rows = KnownRows(work, batch, "temperature", "temperature_id", ("heat_id", "place", "read_at"), known)
    for row, heat in placed:
        read, reading = row.values["read_at"], row.values["temperature_c"]
        whole, text = to_whole(reading.text, DEGREES)
        values: dict[str, Any] = {
            "heat_id": heat.heat_id, "place": row.values["place"], "tundish": row.values.get("tundish"),
            "read_at": read.utc_ms, "read_offset": read.offset_min, "temperature_dc": whole, "temperature_text": text,
        }  # fmt: skip
        rows.put(row, values, {"temperature_dc": "temperature_c", "tundish": "tundish"})
    return sheet_counts(sheet, rows.write(), bench)


def load_additions(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the ladle additions of a file; one is known by heat, material and moment."""
    return take_additions(work, content.sheets["additions"], batch)


def take_additions(
    work: Work, sheet: SheetContent, batch: BatchInHand, *, numbers: Numbers | None = None
) -> LoadCounts:
    """Write the ladle additions of one sheet."""
    numbers = numbers or Numbers(work.reader)
    placed, bench = rows_with_heats(work, sheet, batch, numbers, "added_at")
    known = work.reader.by_keys(_ADDITIONS, sorted({heat.heat_id for _, heat in placed}))
    rows = KnownRows(work, batch, "addition", "addition_id", ("heat_id", "material", "added_at"), known)
    for row, heat in placed:
        added = row.values["added_at"]
        whole, text = to_whole(row.values["mass_kg"].text, KILOGRAMS)
        values: dict[str, Any] = {
            "heat_id": heat.heat_id, "material": row.values["material"], "mass_g": whole, "mass_text": text,
            "added_at": added.utc_ms, "added_offset": added.offset_min,
        }  # fmt: skip
        rows.put(row, values, {"mass_g": "mass_kg"})
    return sheet_counts(sheet, rows.write(), bench)


def rows_with_heats(
    work: Work, sheet: SheetContent, batch: BatchInHand, numbers: Numbers, at: str
) -> tuple[list[tuple[RowRecord, KnownHeat]], list[BenchFault]]:
    """Rows whose heat is known and whose moment has come; the others as bench faults."""
    numbers.prepare_heats(row.values["heat_no"].normal for row in sheet.rows)
    placed, bench = [], []
    for row in sheet.rows:
        moment = row.values[at]
        if not_yet(moment, work.now, numbers.zone):
            step = f"Mend it: bench fix NUMBER --set {at}=TIME --reason TYPING"
            bench.append(batch.fault(row, at, "ROW29", "a moment that has come", step))
            continue
        heat = numbers.heat(row.values["heat_no"], moment.utc_ms)
        if isinstance(heat, Unknown):
            bench.append(batch.fault(row, "heat_no", heat.code, heat.wanted, heat.step))
        else:
            placed.append((row, heat))
    return placed, bench


def sheet_counts(sheet: SheetContent, counts: LoadCounts, bench: list[BenchFault]) -> LoadCounts:
    """Counts of a sheet: what the loader counted, what was set aside while reading and while loading, repeated rows."""
    counts.bench += sheet.bench + bench
    counts.findings = sheet.findings + counts.findings
    counts.same += sheet.repeated
    return counts
