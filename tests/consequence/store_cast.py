"""A recorded cast of the strand model written into a database without the importer, for tests."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from heattrace.schema import casts
from heattrace.schema.heats import Heat, HeatRecord
from heattrace.store.recorded import KILOGRAMS, METRES, PER_MINUTE, TONNES, to_whole
from heattrace.store.work import Work
from heattrace.strand.record import Cast

ORIGIN = 1_741_670_520_000  # 2025-03-11T05:22:00Z


def at(minute: float | None) -> int | None:
    """The moment [ms UTC] of a minute of the cast."""
    return None if minute is None else ORIGIN + round(minute * 60_000)


def _text(value: float) -> str:
    return format(Decimal(repr(value)), "f")


def _grams(name: str, value: float | None, places: int) -> dict[str, Any]:
    """The whole grams and the text of a recorded mass; `name` is the column without its unit."""
    if value is None:
        return {}
    whole, text = to_whole(_text(value), places)
    return {f"{name}_g": whole, f"{name}_text": text}


def _metres(name: str, value: float | None) -> dict[str, Any]:
    if value is None:
        return {}
    whole, text = to_whole(_text(value), METRES)
    return {f"{name}_um": whole, f"{name}_text": text}


def store_cast(work: Work, cast: Cast, *, caster: str = "west") -> int:
    """Write a cast; gives sequence_id. Heats are written under their number, with their grade as text."""
    sequence_id = work.add(casts.Sequence(sequence_no=cast.sequence_no, caster=caster))
    record_id = work.add(
        casts.CastRecord(sequence_id=sequence_id, edition=1, last_at=at(cast.last_time), recorded_until=None)
    )
    sheets: dict[str, dict[str, int]] = {}
    for name in ("tundishes", "pours", "tundish_masses", "strands", "sections", "feeds", "speeds", "counters", "cuts"):
        sheet_id = work.add(casts.CastSheet(cast_record_id=record_id, sequence_id=sequence_id, sheet=name))
        sheets[name] = {"cast_sheet_id": sheet_id}
    heat_ids: dict[Any, int] = {}
    for heat in cast.heats:
        heat_ids[heat.heat_id] = work.add(Heat(heat_no=heat.heat_no, series="2025", written_no=heat.heat_no))
        work.add(HeatRecord(heat_id=heat_ids[heat.heat_id], grade_text=heat.grade_text or None, evidence=""))

    def own(sheet: str, row_no: int) -> dict[str, Any]:
        return {**sheets[sheet], "sequence_id": sequence_id, "row_no": row_no}

    for n, tundish in enumerate(cast.tundishes, start=2):
        start = None if tundish.heat_at_start is None else heat_ids[tundish.heat_at_start]
        working = _grams("working_mass", tundish.working_mass_t, TONNES)
        work.add(
            casts.TundishUse(
                **own("tundishes", n), tundish=tundish.label, heat_at_start_id=start, **working,
                **_grams("mass_at_start", tundish.mass_at_start_t, TONNES),
                **_grams("stagnant_mass", tundish.stagnant_mass_t, TONNES),
            )
        )  # fmt: skip
        for t, mass in tundish.readings:
            reading = _grams("mass", mass, TONNES)
            work.add(casts.TundishMass(**own("tundish_masses", n), tundish=tundish.label, read_at=at(t), **reading))
    for n, pour in enumerate(cast.pours, start=2):
        work.add(
            casts.Pour(
                **own("pours", n), heat_id=heat_ids[pour.heat], tundish=pour.tundish, opened_at=at(pour.opened),
                closed_at=at(pour.closed), **_grams("poured_mass", pour.poured_t, TONNES),
            )
        )  # fmt: skip
    for n, run in enumerate(cast.runs, start=2):
        key = {"strand_no": run.strand_no, "run_no": run.run_no}
        work.add(
            casts.StrandRun(
                **own("strands", n), **key, form=run.form, thickness_mm=_text(run.thickness_mm),
                width_mm=_text(run.width_mm), area_mm2=None if run.area_mm2 is None else _text(run.area_mm2),
                **_metres("machine_length", run.machine_length_m), started_at=at(run.started), started_offset=60,
                stopped_at=at(run.stopped), kerf_mm=_text(run.kerf_mm),
                cut_temperature_c=_text(run.cut_temperature_c), **_grams("plug_mass", run.plug_mass_t, TONNES),
            )
        )  # fmt: skip
        for feed in run.feeds:
            times = {"from_at": at(feed.start), "to_at": at(feed.to)}
            work.add(casts.Feed(**own("feeds", n), **key, tundish=feed.tundish, **times))
        speeds = {}
        for t, speed in run.speeds:
            whole, text = (None, None) if speed is None else to_whole(_text(speed), PER_MINUTE)
            speeds[at(t)] = (sheets["speeds"]["cast_sheet_id"], run.strand_no, run.run_no, at(t), whole, text, n)
        columns = ("cast_sheet_id", "strand_no", "run_no", "from_at", "speed_um_min", "speed_text", "row_no")
        work.bulk_insert("speed", columns, list(speeds.values()))
        for t, metres in run.counters:
            work.add(casts.Counter(**own("counters", n), **key, read_at=at(t), **_metres("counter", metres)))
        for change in run.sections:
            size = {"thickness_mm": _text(change.thickness_mm), "width_mm": _text(change.width_mm)}
            work.add(casts.Section(**own("sections", n), **key, **_metres("from", change.from_m), **size))
        for cut in run.cuts:
            work.add(
                casts.Cut(
                    **own("cuts", cut.cut_no), **key, cut_no=cut.cut_no, kind=cut.kind, piece_no=cut.piece_no,
                    clamped_at=at(cut.clamped), faulty=int(cut.faulty),
                    **_metres("clamp_distance", cut.clamp_distance_m),
                    **_metres("measured_length", cut.measured_length_m),
                    **_grams("mass", cut.mass_kg, KILOGRAMS), **_grams("foreign_mass", cut.foreign_mass_kg, KILOGRAMS),
                )
            )  # fmt: skip
    return sequence_id
