"""Days and moments of a file as the record keeps them: milliseconds UTC with the offset the source wrote."""

from __future__ import annotations

from datetime import date, datetime, time, tzinfo

from heattrace.intake.reading.records import Day, Instant

# A moment may lie this far ahead of the computer's clock before it is not believed [ms] (engineering default).
AHEAD_MS = 15 * 60_000


def moment(value: Instant | Day | None, zone: tzinfo) -> tuple[int | None, int | None]:
    """Milliseconds UTC and offset [min]; a day counts from its midnight in the works' zone."""
    if value is None:
        return None, None
    if isinstance(value, Instant):
        return value.utc_ms, value.offset_min
    start = datetime.combine(date.fromisoformat(value.iso), time(0), zone)
    offset = start.utcoffset()
    return int(start.timestamp()) * 1000, 0 if offset is None else int(offset.total_seconds()) // 60


def day_of(value: Instant | Day, zone: tzinfo) -> str:
    """The calendar day in the works' zone, `2026-04-03`."""
    if isinstance(value, Day):
        return value.iso
    return datetime.fromtimestamp(value.utc_ms / 1000, zone).date().isoformat()


def not_yet(value: Instant | Day | None, now: int, zone: tzinfo) -> bool:
    """Whether something is said to have happened later than now."""
    at = moment(value, zone)[0]
    return at is not None and at > now + AHEAD_MS
