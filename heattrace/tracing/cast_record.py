"""The recorded cast of a sequence, read from the rows that stand into the units of the strand model.

Where a text stands beside a whole number the text is read: it is what the source wrote.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from heattrace.errors import NotFound
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import KILOGRAMS, METRES, PER_MINUTE, TONNES
from heattrace.strand.record import Cast, Cut, Feed, HeatInfo, Pour, Run, Section, Tundish
from heattrace.tracing import cast_questions as q
from heattrace.values import dataclass

MS_PER_MIN = 60_000.0
RunKey = tuple[int, int]


@dataclass(frozen=True, slots=True)
class RecordedCast:
    """A cast as recorded. Its minutes count from `origin_ms` [ms UTC]; the heat keys of the model are heat_id.

    `offset_min` is the offset from UTC the book wrote beside the start of its first strand, `families` are the steel
    families of the heats' grades.
    """

    sequence_id: int
    sequence_no: str
    caster: str
    cast: Cast
    origin_ms: int
    offset_min: int | None
    families: tuple[str, ...]

    def minute(self, ms: int) -> float:
        """Minutes from the origin of a moment [ms UTC]."""
        return (ms - self.origin_ms) / MS_PER_MIN

    def ms(self, minute: float) -> int:
        """The moment [ms UTC], whole, of a minute."""
        return self.origin_ms + round(minute * MS_PER_MIN)


def read_cast(reader: Reader, sequence_id: int) -> RecordedCast:
    """The cast of a sequence as the record has it now, or as of the reader's entry.

    Raises
    ------
    NotFound
        There is no such sequence, or no cast book of it.
    """
    sequence = reader.one(q.SEQUENCE, sequence=sequence_id)
    book = reader.one(q.BOOK, sequence=sequence_id)
    if sequence is None or book is None:
        name = f"sequence {sequence['sequence_no']}" if sequence is not None else f"sequence key {sequence_id}"
        raise NotFound(f'{name}: no cast book is recorded; take it in with "heattrace import ... --profile cast-book"')
    rows = _Rows(reader, sequence_id)
    starts = [row["started_at"] for row in rows.runs] + [row["from_at"] for row in rows.feeds]
    starts += [row["opened_at"] for row in rows.pours]
    origin = min(starts, default=book["last_at"])

    def minute(ms: int) -> float:
        return float(ms - origin) / MS_PER_MIN

    def minute_or_none(ms: int | None) -> float | None:
        return None if ms is None else minute(ms)

    readings = _grouped(rows.readings, "tundish")
    tundishes = tuple(
        Tundish(
            row["tundish"],
            _needed(row["mass_at_start_g"], row["mass_at_start_text"], TONNES),
            row["heat_at_start_id"],
            _number(row["working_mass_g"], row["working_mass_text"], TONNES),
            _number(row["stagnant_mass_g"], row["stagnant_mass_text"], TONNES) or 0.0,
            tuple(
                (minute(r["read_at"]), _needed(r["mass_g"], r["mass_text"], TONNES))
                for r in readings.get(row["tundish"], ())
            ),
        )
        for row in rows.tundishes
    )
    pours = tuple(
        Pour(
            row["heat_id"], row["tundish"], minute(row["opened_at"]), minute_or_none(row["closed_at"]),
            _number(row["poured_mass_g"], row["poured_mass_text"], TONNES),
        )
        for row in rows.pours
    )  # fmt: skip
    feeds, speeds, counters, sections, cuts = (
        _by_run(each) for each in (rows.feeds, rows.speeds, rows.counters, rows.sections, rows.cuts)
    )
    runs = tuple(
        Run(
            strand_no=row["strand_no"],
            run_no=row["run_no"],
            form=row["form"],
            thickness_mm=float(row["thickness_mm"]),
            width_mm=float(row["width_mm"]),
            machine_length_m=_needed(row["machine_length_um"], row["machine_length_text"], METRES),
            started=minute(row["started_at"]),
            area_mm2=None if row["area_mm2"] is None else float(row["area_mm2"]),
            stopped=minute_or_none(row["stopped_at"]),
            kerf_mm=10.0 if row["kerf_mm"] is None else float(row["kerf_mm"]),
            cut_temperature_c=900.0 if row["cut_temperature_c"] is None else float(row["cut_temperature_c"]),
            plug_mass_t=_number(row["plug_mass_g"], row["plug_mass_text"], TONNES) or 0.0,
            feeds=tuple(
                Feed(f["tundish"], minute(f["from_at"]), minute_or_none(f["to_at"])) for f in feeds.get(key, ())
            ),
            speeds=tuple(
                (minute(s["from_at"]), _number(s["speed_um_min"], s["speed_text"], PER_MINUTE))
                for s in speeds.get(key, ())
            ),
            counters=tuple(
                (minute(c["read_at"]), _needed(c["counter_um"], c["counter_text"], METRES))
                for c in counters.get(key, ())
            ),
            sections=tuple(
                Section(
                    _needed(x["from_um"], x["from_text"], METRES), float(x["thickness_mm"]), float(x["width_mm"])
                )
                for x in sections.get(key, ())
            ),
            cuts=tuple(model_cut(c, minute_or_none(c["clamped_at"])) for c in cuts.get(key, ())),
        )
        for row in rows.runs
        for key in ((row["strand_no"], row["run_no"]),)
    )  # fmt: skip
    heats, families = _heats(reader, tundishes, pours)
    cast = Cast(
        sequence_no=sequence["sequence_no"],
        heats=heats,
        tundishes=tundishes,
        pours=pours,
        runs=runs,
        last_time=minute(book["last_at"]),
        recorded_until=minute_or_none(book["recorded_until"]),
    )
    offset = rows.runs[0]["started_offset"] if rows.runs else None
    return RecordedCast(sequence_id, sequence["sequence_no"], sequence["caster"], cast, origin, offset, families)


class _Rows:
    """The rows of one sequence that stand, each sheet in one question."""

    def __init__(self, reader: Reader, sequence_id: int) -> None:
        self.tundishes = reader.all(q.TUNDISHES, sequence=sequence_id)
        self.pours = reader.all(q.POURS, sequence=sequence_id)
        self.readings = reader.all(q.READINGS, sequence=sequence_id)
        self.runs = reader.all(q.RUNS, sequence=sequence_id)
        self.feeds = reader.all(q.FEEDS, sequence=sequence_id)
        self.speeds = reader.all(q.SPEEDS, sequence=sequence_id)
        self.counters = reader.all(q.COUNTERS, sequence=sequence_id)
        self.sections = reader.all(q.SECTIONS, sequence=sequence_id)
        self.cuts = reader.all(q.CUTS, sequence=sequence_id)


def _needed(number: int, text: str | None, places: int) -> float:
    return float(text) if text is not None else number / 10**places


def _number(number: int | None, text: str | None, places: int) -> float | None:
    return None if number is None else _needed(number, text, places)


def model_cut(row: Row | Mapping[str, Any], clamped: float | None) -> Cut:
    """A cut row in the units of the strand model; `clamped` is its clamp time in minutes."""
    return Cut(
        cut_no=row["cut_no"],
        kind=row["kind"],
        piece_no=row["piece_no"],
        clamped=clamped,
        clamp_distance_m=_number(row["clamp_distance_um"], row["clamp_distance_text"], METRES),
        measured_length_m=_number(row["measured_length_um"], row["measured_length_text"], METRES),
        mass_kg=_number(row["mass_g"], row["mass_text"], KILOGRAMS),
        foreign_mass_kg=_number(row["foreign_mass_g"], row["foreign_mass_text"], KILOGRAMS),
        faulty=bool(row["faulty"]),
    )


def _heats(
    reader: Reader, tundishes: Iterable[Tundish], pours: Iterable[Pour]
) -> tuple[tuple[HeatInfo, ...], tuple[str, ...]]:
    """Heats poured, or in a tundish at its start, in the order of their keys; and the families of their grades.

    A heat whose planned grade is not recorded is of a grade of its own: nothing says that its neighbours are like it.
    """
    keys = {pour.heat for pour in pours} | {t.heat_at_start for t in tundishes if t.heat_at_start is not None}
    found = []
    families: set[str] = set()
    for row in reader.by_keys(q.HEATS, sorted(int(key) for key in keys)):
        grade = row["requirement"] or row["grade_text"] or f"grade of heat {row['heat_no']} not recorded"
        found.append(HeatInfo(row["heat_id"], row["heat_no"], grade))
        families.add(row["family"] or "")
    return tuple(found), tuple(sorted(families))


def _by_run(rows: Iterable[Row]) -> dict[RunKey, list[Row]]:
    found: dict[RunKey, list[Row]] = {}
    for row in rows:
        found.setdefault((row["strand_no"], row["run_no"]), []).append(row)
    return found


def _grouped(rows: Iterable[Row], column: str) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row[column], []).append(row)
    return found
