"""Where the recorded events of a cast lie on its strands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from heattrace.findings import Finding
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import METRES
from heattrace.strand.events import EventInterval, StrandEvent, event_fault, event_intervals
from heattrace.strand.feeding import book_end, feeding_of
from heattrace.strand.timeline import BY_BRACKET
from heattrace.strand.traced import TracedCast
from heattrace.tracing.cast_questions import EVENTS
from heattrace.tracing.cast_record import RecordedCast
from heattrace.tracing.cast_rules import event_reaches
from heattrace.values import dataclass, replace

NOT_CASTING = "event-strand-not-casting"


@dataclass(frozen=True, slots=True)
class EventReading:
    """What an event row says, apart from what it was: place by strand, tundish or heat; ms UTC; metres."""

    kind: str
    strand_no: int | None
    run_no: int | None
    tundish: str | None
    heat_id: int | None
    from_at: int | None
    to_at: int | None
    from_m: float | None
    to_m: float | None
    device_distance_m: float | None


def recorded_event(row: Row | Mapping[str, Any]) -> EventReading:
    """An event as the record keeps it, by the names of its columns."""
    return EventReading(
        row["kind"], row["strand_no"], row["run_no"], row["tundish"], row["heat_id"], row["from_at"], row["to_at"],
        _metres(row["from_um"], row["from_text"]), _metres(row["to_um"], row["to_text"]),
        None if row["device_distance_m"] is None else float(row["device_distance_m"]),
    )  # fmt: skip


def _metres(number: int | None, text: str | None) -> float | None:
    return None if number is None else float(text) if text is not None else number / 10**METRES


class EventMap:
    """Events of one traced cast as metres of its strands."""

    def __init__(self, recorded: RecordedCast, traced: TracedCast, reaches: Mapping[str, tuple[float, float]]) -> None:
        self.recorded, self.traced, self.reaches = recorded, traced, reaches
        self._ends = _at_bracket_ends(recorded, traced)

    def _strand_event(self, event: EventReading) -> StrandEvent:
        ahead, behind = self.reaches.get(event.kind, (0.0, 0.0))

        def minute(ms: int | None) -> float | None:
            return None if ms is None else self.recorded.minute(ms)

        return StrandEvent(
            strand_no=event.strand_no, run_no=event.run_no, tundish=event.tundish, heat=event.heat_id,
            from_t=minute(event.from_at), to_t=minute(event.to_at), from_m=event.from_m, to_m=event.to_m,
            device_distance_m=event.device_distance_m or 0.0, reach_ahead_m=ahead, reach_behind_m=behind,
        )  # fmt: skip

    def fault(self, event: EventReading) -> Finding | None:
        """Why an event cannot stand: unreadable, of nothing in this cast, or on a named strand that was not casting."""
        found = event_fault(self._strand_event(event), self.traced)
        if found is None and event.strand_no is not None and not self.intervals(event):
            name = f"strand {event.strand_no}" + ("" if event.run_no is None else f" run {event.run_no}")
            found = Finding(NOT_CASTING, "event", f"{name} was not casting then", "a time or place of its steel")
        return found

    def intervals(self, event: EventReading) -> tuple[EventInterval, ...]:
        """Metres of strand the event marks, reach included.

        Where the casting speed is unknown an event given in time marks the widest stretch it may have touched.
        """
        return self._placed(event)[0]

    def asks_for_metres(self, event: EventReading) -> bool:
        """Whether the event was given in time, and an unknown casting speed leaves its place open."""
        return self._placed(event)[1]

    def _placed(self, event: EventReading) -> tuple[tuple[EventInterval, ...], bool]:
        said = self._strand_event(event)
        found = event_intervals(said, self.traced)
        if not self._ends or event.from_m is not None:
            return found, False
        by_run = _by_run(found)
        widened = False
        for key, cast in self._ends:
            others = _by_run(event_intervals(said, cast)).get(key, [])
            if others != by_run.get(key, []):
                widened = True
                both = by_run.get(key, []) + others
                low, high = min(i.from_m for i in both), max(i.to_m for i in both)
                by_run[key] = [EventInterval(*key, low, high, any(i.open_end for i in both))]
        return tuple(each for key in sorted(by_run) for each in by_run[key]), widened


def event_map(reader: Reader, recorded: RecordedCast, traced: TracedCast) -> EventMap:
    """The map of a traced cast with the reaches the works has set."""
    return EventMap(recorded, traced, event_reaches(reader))


def recorded_events(reader: Reader, sequence_id: int) -> list[tuple[int, EventReading]]:
    """(event_id, what it says) of the events of a sequence that stand."""
    return [(row["event_id"], recorded_event(row)) for row in reader.all(EVENTS, sequence=sequence_id)]


def _by_run(intervals: Iterable[EventInterval]) -> dict[tuple[int, int], list[EventInterval]]:
    found: dict[tuple[int, int], list[EventInterval]] = {}
    for interval in intervals:
        found.setdefault((interval.strand_no, interval.run_no), []).append(interval)
    return found


def _at_bracket_ends(recorded: RecordedCast, traced: TracedCast) -> list[tuple[tuple[int, int], TracedCast]]:
    """For each run with an unknown speed the cast with that run's time line at either end of the bracket."""
    ends = []
    last = book_end(recorded.cast)
    records = {run.key: run for run in recorded.cast.runs}
    for run in traced.runs:
        if any(gap.how == BY_BRACKET for gap in run.timeline.gaps):
            for bracket in ("low", "high"):
                moved = replace(run, timeline=feeding_of(records[run.key], last, bracket).timeline)
                ends.append((run.key, replace(traced, runs=(moved,))))
    return ends
