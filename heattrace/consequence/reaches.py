"""The metres that events mark on the strands of a cast, derived anew at each tracing."""

from __future__ import annotations

from heattrace.consequence.placements import millionths
from heattrace.findings import Finding
from heattrace.store.work import Work
from heattrace.tracing.cast_events import EventMap, recorded_events

_STANDING = """
SELECT r.event_reach_id, r.event_id, r.strand_no, r.run_no, r.from_um, r.to_um, r.open_end FROM event_reach r
WHERE r.sequence_id = :sequence AND {live:r}
"""
_COLUMNS = ("event_id", "strand_no", "run_no", "from_um", "to_um", "open_end")


def store_reaches(work: Work, events: EventMap) -> list[Finding]:
    """Write the reach of every event of a cast; what has not changed is left alone."""
    sequence_id = events.recorded.sequence_id
    wanted: set[tuple[int, ...]] = set()
    findings = []
    for event_id, event in recorded_events(work.reader, sequence_id):
        found = events.intervals(event)
        for i in found:
            reach = (millionths(i.from_m), millionths(i.to_m), int(i.open_end))
            wanted.add((event_id, i.strand_no, i.run_no, *reach))
        fault = events.fault(event)
        if fault is not None:
            seen = f"{event.kind}: {fault.seen}"
            step = "It marks no part. Correct it, or the cast book"
            findings.append(Finding("event-marks-nothing", f"E-{event_id}", seen, fault.wanted, step))
        elif events.asks_for_metres(event):
            seen = f"{event.kind} given in time while the casting speed is unknown"
            step = "The widest stretch it may have touched is marked"
            findings.append(Finding("event-without-metres", f"E-{event_id}", seen, "metres of the strand", step))
        elif any(i.open_end for i in found):
            seen = f"{event.kind} without an end"
            step = "It is taken to last to the strand's end"
            findings.append(Finding("event-open-end", f"E-{event_id}", seen, "an end", step))
    standing = {
        tuple(int(row[name]) for name in _COLUMNS): int(row["event_reach_id"])
        for row in work.reader.all(_STANDING, sequence=sequence_id)
    }
    work.end("event_reach", "event_reach_id", [key for reach, key in standing.items() if reach not in wanted])
    new = sorted(wanted - standing.keys())
    work.bulk_insert(
        "event_reach", ("sequence_id", "entry_no", *_COLUMNS), [(sequence_id, work.entry_no, *row) for row in new]
    )
    return findings
