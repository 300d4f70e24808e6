"""The whole record of one heat: what it is, what was measured on it, what it is ordered for, what was decided."""

from __future__ import annotations

from collections import Counter
from typing import Any

from heattrace.findings import Finding
from heattrace.judging.judgement import Superheat
from heattrace.store.reader import Reader
from heattrace.store.recorded import KILOGRAMS, shown_at, written
from heattrace.store.works import works_zone
from heattrace.tracing.chemistry import HeatChemistry, chemistry_of_heat
from heattrace.tracing.chemistry_questions import ADDITIONS_OF_HEAT
from heattrace.tracing.forward import trace_heat
from heattrace.tracing.grades import shelf_of
from heattrace.tracing.requirements import heats_wanted
from heattrace.tracing.superheat import liquidus_formula, readings_of_heats, superheats
from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class HeatRecord:
    """One heat: `data` as given out, with the chemistry and superheat behind it and what is to be said of them."""

    data: dict[str, Any]
    chemistry: HeatChemistry
    superheat: tuple[Superheat, ...]
    findings: tuple[Finding, ...]


def heat_record(reader: Reader, heat_id: int) -> HeatRecord:
    """Gather the record of one heat.

    Raises
    ------
    NotFound
        There is no such heat.
    """
    traced = trace_heat(reader, heat_id)
    chemistry = chemistry_of_heat(reader, heat_id)
    entries, findings = _superheat(reader, chemistry)
    pieces = traced.pop("pieces")
    data = {
        **traced,
        "superheat": [entry.as_json() for entry in entries],
        "additions": additions_of_heat(reader, heat_id),
        "pieces": {"count": len(pieces), "by_quality": dict(Counter(piece["quality"] for piece in pieces))},
    }
    return HeatRecord(data, chemistry, entries, (*chemistry.choice.findings, *findings))


def _superheat(reader: Reader, chemistry: HeatChemistry) -> tuple[tuple[Superheat, ...], tuple[Finding, ...]]:
    """Superheat by the liquidus formula for the family of the first grade the heat answers for."""
    wanted = heats_wanted(reader, [chemistry.heat_id])[chemistry.heat_id]
    family = next((shelf_of(reader).grade(one.grade).family for one in wanted if one.known), "")
    readings = readings_of_heats(reader, [chemistry.heat_id])
    formula = liquidus_formula(reader, family)
    return superheats(readings, chemistry.composition(), formula, works_zone(reader), chemistry.heat_no)


def additions_of_heat(reader: Reader, heat_id: int) -> list[dict[str, Any]]:
    """Ladle additions in order of time, masses in the digits that were written."""
    zone = works_zone(reader)
    return [
        {
            "material": row["material"],
            "mass_kg": written(row["mass_g"], row["mass_text"], KILOGRAMS),
            "added_at": shown_at(row["added_at"], zone),
        }
        for row in reader.all(ADDITIONS_OF_HEAT, heat=heat_id)
    ]
