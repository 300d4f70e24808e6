"""Events along the strand: in minutes or metres they become intervals of runs and mark the parts they overlap."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from heattrace.findings import Finding
from heattrace.strand.course import StrandCourse
from heattrace.strand.record import HeatKey
from heattrace.strand.traced import TracedCast, TracedPart, TracedRun


@dataclass(frozen=True, slots=True)
class StrandEvent:
    """An event as recorded; what is None was left open.

    Place by strand and run, by tundish (every run it feeds), by heat, or nothing at all (every run of the cast). Time
    in minutes of the cast's origin, or metres of the strand coordinate, which lead where both are given. An open end
    goes to the strand's end. `device_distance_m` is how far below the meniscus the event acts: at minute t it touches
    the strand at S(t) less that distance; metres are taken as they are. `reach_ahead_m` and `reach_behind_m` widen
    the interval towards older and towards newer steel.
    """

    strand_no: int | None = None
    run_no: int | None = None
    tundish: str | None = None
    heat: HeatKey | None = None
    from_t: float | None = None
    to_t: float | None = None
    from_m: float | None = None
    to_m: float | None = None
    device_distance_m: float = 0.0
    reach_ahead_m: float = 0.0
    reach_behind_m: float = 0.0


@dataclass(frozen=True, slots=True)
class EventInterval:
    """Strand that an event touches, reach included [m]; `open_end` says its end was not recorded."""

    strand_no: int
    run_no: int
    from_m: float
    to_m: float
    open_end: bool

    def overlaps(self, part: TracedPart) -> bool:
        """Whether a part lies in the interval, if only partly; a touch at one point counts."""
        same = (part.strand_no, part.run_no) == (self.strand_no, self.run_no)
        return same and part.from_m <= self.to_m and part.to_m >= self.from_m


def event_fault(event: StrandEvent, cast: TracedCast) -> Finding | None:
    """What makes an event unreadable; None where it can be mapped.

    No start, an end before its start, or a strand, run, tundish or heat that is not of the cast.
    """
    if event.from_t is None and event.from_m is None and event.heat is None:
        return Finding("event-without-start", "event", "neither from_at nor from_m", "one of them", "add its start")
    for low, high, unit in ((event.from_m, event.to_m, "m"), (event.from_t, event.to_t, "min")):
        if low is not None and high is not None and high < low:
            seen = f"end {high:g} {unit} before start {low:g} {unit}"
            return Finding("event-ends-before-start", "event", seen, "an end after the start", "correct the event")
    if event.strand_no is not None and not _runs_named(event, cast):
        name = f"strand {event.strand_no}" + ("" if event.run_no is None else f" run {event.run_no}")
        return Finding("event-strand-unknown", "event", name, "a strand and run of the cast", "correct the event")
    labels = {segment.tundish for run in cast.runs for segment in run.course.segments}
    labels |= {pour.tundish for pour in cast.pours}
    if event.tundish is not None and event.tundish not in labels:
        return Finding("event-tundish-unknown", "event", event.tundish, "a tundish of the cast", "correct the event")
    if event.heat is not None and event.heat not in {heat.heat_id for heat in cast.heats}:
        return Finding("event-heat-unknown", "event", str(event.heat), "a heat of the cast", "correct the event")
    return None


def event_intervals(event: StrandEvent, cast: TracedCast) -> tuple[EventInterval, ...]:
    """Strand that an event touches, by run; none where no strand was casting then or the event cannot be read."""
    if event_fault(event, cast) is not None:
        return ()
    found = []
    for run in _runs_named(event, cast):
        for low, high, open_end in _on_run(event, cast, run):
            low, high = low - event.reach_ahead_m, high + event.reach_behind_m
            if high >= 0.0 and low <= run.s_end:
                found.append(EventInterval(*run.key, max(0.0, low), min(run.s_end, high), open_end))
    return tuple(found)


def parts_marked(parts: Iterable[TracedPart], intervals: Sequence[EventInterval]) -> tuple[TracedPart, ...]:
    """Parts that any of the intervals overlaps."""
    return tuple(part for part in parts if any(interval.overlaps(part) for interval in intervals))


def _runs_named(event: StrandEvent, cast: TracedCast) -> list[TracedRun]:
    """Runs the event may touch: one, all of a strand, or all of the cast."""
    return [
        run
        for run in cast.runs
        if event.strand_no in (None, run.strand_no) and (event.strand_no is None or event.run_no in (None, run.run_no))
    ]


def _on_run(event: StrandEvent, cast: TracedCast, run: TracedRun) -> list[tuple[float, float, bool]]:
    """(from, to, open end) on one run [m], before reach and clipping."""
    if event.from_m is None and event.from_t is None:
        place = [heat.heat_id for heat in cast.heats].index(event.heat)  # type: ignore[arg-type]
        return [(low, high, False) for low, high in _where_heat(run.course, place, cast.rules.step_min)]
    low, high, open_end = _extent(event, run)
    by_time = event.from_m is None
    if high < 0.0 or low > run.s_end or high < low or (by_time and low >= run.s_end):
        return []  # in time: the strand's own tail had passed, or its head had not come
    labels = _tundishes(event, cast)
    if labels is None:
        return [(low, high, open_end)]
    return [
        (max(low, start), min(high, end), open_end)
        for start, end in _fed_from(run.course, labels)
        if start <= high and end >= low
    ]


def _extent(event: StrandEvent, run: TracedRun) -> tuple[float, float, bool]:
    def place(t: float) -> float:
        return run.timeline.s_at(t) - event.device_distance_m

    low = event.from_m if event.from_m is not None else place(event.from_t or 0.0)
    if event.to_m is not None:
        return low, event.to_m, False
    if event.to_t is not None:
        started = event.to_t >= run.timeline.times[0]
        return low, place(event.to_t) if started else -math.inf, False
    return low, run.s_end, True


def _tundishes(event: StrandEvent, cast: TracedCast) -> frozenset[str] | None:
    """Tundishes the event is confined to: its own, or those its heat was poured into; None for any."""
    if event.tundish is not None:
        return frozenset((event.tundish,))
    if event.heat is not None and event.strand_no is None:
        return frozenset(pour.tundish for pour in cast.pours if pour.heat_id == event.heat)
    return None


def _fed_from(course: StrandCourse, labels: frozenset[str]) -> list[tuple[float, float]]:
    """Stretches of a run fed from the given tundishes [m], neighbours joined."""
    return _joined((segment.from_m, segment.to_m) for segment in course.segments if segment.tundish in labels)


def _where_heat(course: StrandCourse, place: int, share: float) -> list[tuple[float, float]]:
    """Stretches of a run that hold a heat with at least `share` somewhere [m], neighbours joined."""
    return _joined(
        (segment.from_m, segment.to_m)
        for segment in course.segments
        if max(segment.at(segment.from_m)[place], segment.at(segment.to_m)[place]) >= share
    )


def _joined(stretches: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for low, high in stretches:
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], high)
        else:
            found.append((low, high))
    return found
