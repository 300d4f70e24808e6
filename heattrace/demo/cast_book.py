"""A cast written down as its book: the sheets a shift would keep, with the scatter of scales and tapes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

from heattrace.demo.casting import Cast, tonnes_per_metre
from heattrace.demo.plant import CRMO, SERIES, EventPlan, HeatPlan, SequencePlan
from heattrace.demo.scatter import scatter, stream
from heattrace.demo.strand_log import Strand
from heattrace.demo.table import Table, instant, table

Row = dict[str, str]

HEAT_COLUMNS = "heat_no grade series ladle_no tapped_at tapped_mass_t order_no line evidence"
EVENT_COLUMNS = (
    "sequence_no strand_no run_no tundish heat_no kind from_at to_at from_m to_m amount unit device_distance_m note"
)
EVENT_NUMBERS = "strand_no run_no from_m to_m amount device_distance_m"
STRAND_COLUMNS = (
    "sequence_no strand_no run_no form thickness_mm width_mm machine_length_m started_at stopped_at kerf_mm "
    "cut_temperature_c mould_no lubricant lubricant_lot stroke_mm oscillation_per_min"
)
STRAND_NUMBERS = (
    "strand_no run_no thickness_mm width_mm machine_length_m kerf_mm cut_temperature_c stroke_mm oscillation_per_min"
)
CUT_COLUMNS = (
    "sequence_no strand_no run_no cut_no kind piece_no clamped_at clamp_distance_m measured_length_m mass_kg "
    "foreign_mass_kg order_no line"
)
CUT_NUMBERS = "strand_no run_no cut_no clamp_distance_m measured_length_m mass_kg foreign_mass_kg"
TEMPERATURE_COLUMNS = "heat_no place tundish read_at temperature_c"

# Metal of the heats from tap to the ladle's opening, minutes.
_TAP_TO_OPEN_MIN = 72
# Liquidus is only needed to invent believable readings: one round number a grade, degree C (common practice).
_LIQUIDUS_C = {"S355J0": 1512, "C45E": 1491, "42CrMo4": 1492, "P355GH": 1512}

# Pieces of the first order line that were cut for the second one: strand 5 of L118, cut numbers.
_OTHER_LINE = ("L118", 5, range(6, 15), "HAR-2207", "2")


def tapped_at(cast: Cast, heat: int) -> datetime:
    """When a heat was tapped, to the minute."""
    opened = cast.plan.at(cast.pours[heat].opened_s)
    return (opened - timedelta(minutes=_TAP_TO_OPEN_MIN + heat % 3)).replace(second=0)


def heat_rows(cast: Cast) -> list[Row]:
    """The heats of a cast; the same rows stand in the list of heats and in the cast book."""
    return [
        {
            "heat_no": h.heat_no, "grade": h.grade, "series": SERIES, "ladle_no": h.ladle_no,
            "tapped_at": instant(tapped_at(cast, k)), "tapped_mass_t": f"{h.tapped_t:.1f}",
            "order_no": h.order_no, "line": h.line,
        }
        for k, h in enumerate(cast.plan.heats)
    ]  # fmt: skip


def temperature_rows(cast: Cast, seed: int) -> list[Row]:
    """Readings in ladle and tundish, degree C."""
    rng = stream(seed, cast.plan.sequence_no, "temperatures")
    rows: list[Row] = []

    def read(heat: HeatPlan, place: str, moment: datetime, mean_c: float, tundish: str = "") -> None:
        rows.append(
            {
                "heat_no": heat.heat_no, "place": place, "tundish": tundish,
                "read_at": instant(moment), "temperature_c": f"{mean_c + scatter(rng, 1.5):.0f}",
            }
        )  # fmt: skip

    for k, heat in enumerate(cast.plan.heats):
        liquidus = _LIQUIDUS_C[heat.grade.rsplit(" ", 1)[1]]
        pour, tapped = cast.pours[k], tapped_at(cast, k)
        read(heat, "ladle-arrival", tapped + timedelta(minutes=11), liquidus + 62)
        read(heat, "ladle-rinse", tapped + timedelta(minutes=34), liquidus + 84)
        read(heat, "ladle-lift", cast.plan.at(pour.opened_s) - timedelta(minutes=13), max(1587.0, liquidus + 78))
        for share, over in ((0.16, 31), (0.48, 27), (0.83, 24)):
            first = 4 if k == 0 else 0
            moment = cast.plan.at(cast.poured(k, share)).replace(second=0)
            read(heat, "tundish", moment, liquidus + over + first, pour.tundish)
    return rows


def event_rows(cast: Cast, *, apart: bool) -> list[Row]:
    """The log's events; `apart` gives those that came later on a sheet of their own."""
    plan = cast.plan
    rows = [_event(cast, e) for e in plan.events if e.apart == apart]
    if not apart:
        rows += [row for strand in cast.strands for row in _torch_events(cast, strand)]
    return rows


def _event(cast: Cast, event: EventPlan) -> Row:
    plan = cast.plan
    tundish = ""
    begin, end = round(event.from_min * 60), round(event.to_min * 60)
    if event.kind == "tundish-exchange":
        begin, end = cast.strands[0].feeds[0][2] or 0, max(s.feeds[1][1] for s in cast.strands)
        tundish = cast.tundishes[1].label
    elif event.kind == "tundish-start":
        tundish = cast.tundishes[0].label
    heat = next((plan.heats[p.heat].heat_no for p in cast.pours if p.opened_s <= begin < p.closed_s), "")
    return {
        "sequence_no": plan.sequence_no, "strand_no": str(event.strand_no or ""),
        "run_no": "1" if event.strand_no else "", "tundish": tundish,
        "heat_no": heat if event.kind == "shroud-off" else "", "kind": event.kind,
        "from_at": instant(plan.at(begin)), "to_at": instant(plan.at(end)), "amount": event.amount, "unit": event.unit,
        "device_distance_m": event.device_distance_m, "note": event.note,
    }  # fmt: skip


def _torch_events(cast: Cast, strand: Strand) -> Iterator[Row]:
    notes = {"sample": ("sample-cut", "slice for a macro etch"), "scrap": ("torch-fault", "torch ran back once")}
    for cut in strand.cuts:
        if cut.kind in notes and cut.clamped_s is not None:
            kind, note = notes[cut.kind]
            yield {
                "sequence_no": cast.plan.sequence_no, "strand_no": str(strand.plan.strand_no), "run_no": "1",
                "kind": kind,
                "from_m": f"{cut.head_m:.2f}", "to_m": f"{cut.tail_m:.2f}", "note": note,
            }  # fmt: skip


def _addition_rows(cast: Cast) -> list[Row]:
    rows: list[Row] = []
    for k, heat in enumerate(cast.plan.heats):
        tapped = tapped_at(cast, k)
        added = [("carburiser", 280 if "C45E" in heat.grade or heat.grade == CRMO else 60, 6), ("SiMn", 1450, 8)]
        if "Mn" in heat.shift:
            added.append(("SiMn", 520, 27))
        if heat.grade == CRMO:
            added += [("FeCr", 1560, 9), ("FeMo", 330, 10)]
        added += [("Al wire", 46, 30), ("CaSi wire", 31, 38)]
        for material, mass_kg, minutes in added:
            moment = instant(tapped + timedelta(minutes=minutes))
            rows.append({"heat_no": heat.heat_no, "material": material, "mass_kg": str(mass_kg), "added_at": moment})
    return rows


def _reading_rows(cast: Cast, seed: int) -> Iterator[Row]:
    rng = stream(seed, cast.plan.sequence_no, "tundish scale")
    every = cast.plan.read_every_s
    for tundish in cast.tundishes:
        end = max(until or cast.end_s for s in cast.strands for label, _, until in s.feeds if label == tundish.label)
        # Read every few minutes, and more closely when a ladle is opened or closed.
        own = [p for p in cast.pours if p.tundish == tundish.label]
        at_ladles = {s for p in own for s in (p.opened_s, p.opened_s + 60, p.opened_s + 120, p.closed_s)}
        regular = set(range(tundish.since_s + every // 2, end, every))
        for second in sorted({s for s in at_ladles | regular if tundish.since_s < s < end} | {end}):
            mass = max(tundish.at(second)[0] + scatter(rng, 0.04), 0.0)
            yield {
                "sequence_no": cast.plan.sequence_no, "tundish": tundish.label,
                "read_at": instant(cast.plan.at(second)), "mass_t": f"{mass:.1f}",
            }  # fmt: skip


def _speed_rows(strand: Strand) -> list[tuple[int, str]]:
    rows = [(second, f"{speed / 100:.2f}") for second, speed in strand.speeds]
    if strand.plan.gap_min is None:
        return rows
    begin, end = (round(minute * 60) for minute in strand.plan.gap_min)
    held = [text for second, text in rows if second <= end][-1]
    kept = [row for row in rows if row[0] < begin or row[0] > end]
    return sorted([*kept, (begin, ""), (end, held)])


def _cut_rows(cast: Cast, seed: int) -> Iterator[Row]:
    plan = cast.plan
    rng = stream(seed, plan.sequence_no, "tape and scale")
    mu = tonnes_per_metre(plan)
    tape_m = 0.006
    late = {(s.strand_no, no) for s in plan.strands for no, _ in s.late_clamp}
    for part in cast.parts:
        cut = part.cut
        length = cut.tail_m - cut.head_m
        row = {
            "sequence_no": plan.sequence_no, "strand_no": str(part.strand_no), "run_no": "1", "cut_no": str(cut.cut_no),
            "kind": cut.kind, "piece_no": part.piece_no,
            "clamped_at": "" if cut.clamped_s is None else instant(plan.at(cut.clamped_s)),
        }  # fmt: skip
        if (part.strand_no, cut.cut_no) in late:
            row["clamp_distance_m"] = f"{cut.clamp_distance_m:.2f}"
        measured, weighed = length + scatter(rng, tape_m), mu * length * 1000 * (0.997 + scatter(rng, 0.0015))
        if cut.kind == "piece":
            row["measured_length_m"] = f"{measured:.2f}"
            if cut.cut_no % plan.weigh_every == 0:
                row["mass_kg"] = f"{weighed:.0f}"
        elif cut.kind == "head-crop":
            row["foreign_mass_kg"] = str(plan.section.foreign_kg)
        if (plan.sequence_no, part.strand_no) == _OTHER_LINE[:2] and cut.cut_no in _OTHER_LINE[2] and part.piece_no:
            row["order_no"], row["line"] = _OTHER_LINE[3:]
        yield row


def _strand_row(plan: SequencePlan, strand: Strand, when: Callable[[int | None], str]) -> Row:
    section, no = plan.section, strand.plan.strand_no
    return {
        "sequence_no": plan.sequence_no, "strand_no": str(no), "run_no": "1", "form": section.form,
        "thickness_mm": str(section.thickness_mm), "width_mm": str(section.width_mm),
        "machine_length_m": f"{strand.machine_m:.2f}", "started_at": when(strand.started_s),
        "stopped_at": when(strand.stopped_s), "kerf_mm": str(section.kerf_mm),
        "cut_temperature_c": str(section.cut_temperature_c), "mould_no": f"{section.form[:2].upper()}{no}{7 * no % 10}",
        "lubricant": section.lubricant, "lubricant_lot": _lot(plan), "stroke_mm": section.stroke_mm,
        "oscillation_per_min": section.per_min,
    }  # fmt: skip


def _lot(plan: SequencePlan) -> str:
    return f"{plan.section.lubricant[0].upper()}25-{plan.section.thickness_mm}"


def _fitting_rows(cast: Cast) -> Iterator[Row]:
    plan = cast.plan
    for strand in cast.strands:
        no = strand.plan.strand_no
        for label, since, until in strand.feeds:
            yield {
                "sequence_no": plan.sequence_no, "strand_no": str(no), "tundish": label, "kind": "nozzle",
                "number_or_lot": f"N{plan.sequence_no[1:]}{label[1]}{no}", "from_at": instant(plan.at(since)),
                "to_at": instant(plan.at(until or cast.end_s)),
            }  # fmt: skip


def cast_book(cast: Cast, seed: int) -> dict[str, Table]:
    """The book of a cast: its sheets by name."""
    plan = cast.plan
    number = plan.sequence_no

    def when(second: int | None) -> str:
        return "" if second is None else instant(plan.at(second))

    strands: list[tuple[Row, Strand]] = [
        ({"sequence_no": number, "strand_no": str(s.plan.strand_no), "run_no": "1"}, s) for s in cast.strands
    ]
    pour_rng = stream(seed, number, "ladle scale")
    run = "sequence_no strand_no run_no"
    sheets = [
        table("heats", HEAT_COLUMNS, heat_rows(cast), "tapped_mass_t"),
        table("sequences", "sequence_no caster recorded_until",
              [{"sequence_no": number, "caster": plan.machine.name, "recorded_until": when(cast.end_s)}]),
        table("tundishes", "sequence_no tundish tundish_no mass_at_start_t heat_at_start working_mass_t",
              ({"sequence_no": number, "tundish": t.label, "tundish_no": plan.tundish_numbers[k],
                "mass_at_start_t": "0.0", "working_mass_t": f"{plan.working_t:.1f}"}
               for k, t in enumerate(cast.tundishes)),
              "mass_at_start_t working_mass_t"),
        table("pours", "sequence_no heat_no tundish opened_at closed_at poured_mass_t",
              ({"sequence_no": number, "heat_no": plan.heats[p.heat].heat_no, "tundish": p.tundish,
                "opened_at": when(p.opened_s), "closed_at": when(p.closed_s),
                "poured_mass_t": f"{p.poured_t * (1 + scatter(pour_rng, 0.002)):.1f}"} for p in cast.pours),
              "poured_mass_t"),
        table("tundish_masses", "sequence_no tundish read_at mass_t", _reading_rows(cast, seed), "mass_t"),
        table("strands", STRAND_COLUMNS, (_strand_row(plan, s, when) for s in cast.strands), STRAND_NUMBERS),
        table("feeds", f"{run} tundish from_at to_at",
              ({**row, "tundish": label, "from_at": when(since), "to_at": when(until)}
               for row, s in strands for label, since, until in s.feeds), "strand_no run_no"),
        table("speeds", f"{run} from_at speed_m_min",
              ({**row, "from_at": when(second), "speed_m_min": text}
               for row, s in strands for second, text in _speed_rows(s)),
              "strand_no run_no speed_m_min"),
        table("cuts", CUT_COLUMNS, _cut_rows(cast, seed), CUT_NUMBERS),
        table("events", EVENT_COLUMNS, event_rows(cast, apart=False), EVENT_NUMBERS),
        table("additions", "heat_no material mass_kg added_at", _addition_rows(cast), "mass_kg"),
        table("fittings", "sequence_no strand_no tundish kind number_or_lot from_at to_at", _fitting_rows(cast),
              "strand_no"),
    ]  # fmt: skip
    if plan.counters:
        sheets.append(table("counters", f"{run} read_at counter_m", _counter_rows(cast), "strand_no run_no counter_m"))
    if not plan.temperatures_apart:
        sheets.append(table("temperatures", TEMPERATURE_COLUMNS, temperature_rows(cast, seed), "temperature_c"))
    return {sheet.name: sheet for sheet in sheets}


def _counter_rows(cast: Cast) -> Iterator[Row]:
    for strand in cast.strands:
        assert strand.started_s is not None and strand.stopped_s is not None
        for second in range(-(-strand.started_s // 300) * 300, strand.stopped_s, 300):
            yield {
                "sequence_no": cast.plan.sequence_no, "strand_no": str(strand.plan.strand_no), "run_no": "1",
                "read_at": instant(cast.plan.at(second)), "counter_m": f"{strand.metres(second):.2f}",
            }  # fmt: skip
