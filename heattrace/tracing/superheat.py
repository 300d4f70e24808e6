"""Superheat of heats: each tundish reading over the liquidus of the cast analysis, by the formula the works has set.

Outside the range of that formula there is no number: a liquidus that reads low would hide a freezing nozzle.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import tzinfo
from decimal import Decimal
from typing import Any

from heattrace.errors import FormulaError, WrongUsage
from heattrace.findings import Finding
from heattrace.judging.judgement import Superheat
from heattrace.metallurgy.amount import Composition
from heattrace.metallurgy.interval import Interval
from heattrace.metallurgy.liquidus import superheat_c
from heattrace.metallurgy.registry import calc
from heattrace.metallurgy.rounding import show
from heattrace.store.reader import Reader
from heattrace.store.recorded import DEGREES, shown_at, written
from heattrace.store.works import works_value
from heattrace.tracing.chemistry_questions import (
    READINGS,
)
from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class Reading:
    """One pyrometer reading: `temperature_c` in the digits that were written."""

    heat_id: int
    heat_no: str
    place: str
    tundish: str | None
    read_at: int
    temperature_c: str

    def as_json(self, zone: tzinfo) -> dict[str, Any]:
        """The promised object of one temperature."""
        return {
            "heat_no": self.heat_no,
            "place": self.place,
            "tundish": self.tundish,
            "read_at": shown_at(self.read_at, zone),
            "temperature_c": self.temperature_c,
        }


def readings_of_heats(reader: Reader, heat_ids: Iterable[int]) -> list[Reading]:
    """All temperature readings of some heats, in order of time."""
    return [
        Reading(
            row["heat_id"], row["heat_no"], row["place"], row["tundish"], row["read_at"],
            written(row["temperature_dc"], row["temperature_text"], DEGREES) or "",
        )
        for row in reader.by_keys(READINGS, sorted(set(heat_ids)))
    ]  # fmt: skip


def liquidus_formula(reader: Reader, family: str) -> str:
    """Name of the liquidus formula the works has set for a grade family, else for all."""
    return str(works_value(reader, "liquidus-formula", family))


def superheats(
    readings: Sequence[Reading], composition: Composition, formula: str, zone: tzinfo, subject: str
) -> tuple[tuple[Superheat, ...], tuple[Finding, ...]]:
    """Superheat of the tundish readings of one heat, and why there is no number where there is none."""
    tundish = [reading for reading in readings if reading.place == "tundish"]
    if not tundish:
        return (), ()
    liquidus, findings = _liquidus(composition, formula, subject)
    entries = []
    for reading in tundish:
        over = None if liquidus is None else superheat_c(Decimal(reading.temperature_c), liquidus)
        entries.append(
            Superheat(
                tundish=reading.tundish,
                read_at=shown_at(reading.read_at, zone) or "",
                temperature_c=reading.temperature_c,
                liquidus_formula=formula,
                liquidus_c=None if liquidus is None else liquidus.value,
                superheat_c=None if over is None else over.value,
                liquidus_low_c=None if liquidus is None else liquidus.low,
                liquidus_high_c=None if liquidus is None else liquidus.high,
                superheat_low_c=None if over is None else over.low,
                superheat_high_c=None if over is None else over.high,
            )
        )
    return tuple(entries), findings


def _liquidus(composition: Composition, formula: str, subject: str) -> tuple[Interval | None, tuple[Finding, ...]]:
    where = f"{subject}, superheat by {formula}"
    if not composition:
        step = "take in its analyses, or look at why none speaks for it: analysis show"
        return None, (Finding("SUPERHEAT-OPEN", where, "no cast analysis", "a cast analysis", step),)
    try:
        answer = calc(formula, composition)
    except (FormulaError, WrongUsage) as fault:
        step = 'have the elements determined, or set another formula: "heattrace works set liquidus-formula"'
        return None, (Finding("SUPERHEAT-OPEN", where, str(fault), "a liquidus temperature", step),)
    if answer.outside_range:
        step = 'set a formula for this grade family: "heattrace works set liquidus-formula"'
        outside = "; ".join(f"{seen.element} {seen.seen}, range {seen.range}" for seen in answer.outside_range)
        return None, (Finding("SUPERHEAT-RANGE", where, outside, "contents inside the formula's range", step),)
    return Interval(answer.low, answer.high), ()


def shown_superheat(entry: Superheat) -> str:
    """Superheat for the eye, degree C: a number, bounds, or that there is none."""
    if entry.superheat_c is not None:
        return show(entry.superheat_c, 1)
    if entry.superheat_low_c is not None and entry.superheat_high_c is not None:
        low, high = show(entry.superheat_low_c, 1), show(entry.superheat_high_c, 1)
        return low if low == high else f"{low} to {high}"
    return "no number"
