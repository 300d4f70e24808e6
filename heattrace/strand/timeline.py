"""Length against time: how far a strand run had moved at any minute, and when a place of it stood at the meniscus."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from heattrace.strand.record import CastUnreadable, Run

SAME_PLACE_M = 1e-7
"""Places closer than this are one place: a tenth of the micrometre in which positions are kept."""

BY_BRACKET = "bracket"
BY_COUNTER = "counter"


@dataclass(frozen=True, slots=True)
class Stop:
    """The strand stood still at `place_m` from `start` to `end`."""

    place_m: float
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class SpeedGap:
    """A stretch of unknown speed; `how` is `bracket` (between its neighbours' speeds) or `counter` (by difference)."""

    start: float
    end: float
    how: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Timeline:
    """S(t) of one run: straight between `times` [min] and `metres` [m], both rising; 0 before, level after."""

    times: tuple[float, ...]
    metres: tuple[float, ...]
    gaps: tuple[SpeedGap, ...] = ()

    def s_at(self, t: float) -> float:
        """Metres past the meniscus since the run began, at minute `t`."""
        i = bisect_right(self.times, t)
        if i == 0:
            return 0.0
        if i == len(self.times):
            return self.metres[-1]
        t0, t1 = self.times[i - 1], self.times[i]
        s0, s1 = self.metres[i - 1], self.metres[i]
        return s0 + (s1 - s0) * ((t - t0) / (t1 - t0))

    def first_time(self, s: float) -> float:
        """First minute at which place `s` stood at the meniscus: the reading for a tail and for a cut."""
        i = bisect_left(self.metres, s - SAME_PLACE_M)
        if i == 0:
            return self.times[0]
        if i == len(self.metres):
            return self.times[-1]
        return self._between(i, s)

    def last_time(self, s: float) -> float:
        """Last minute at which place `s` stood at the meniscus: the reading for a head."""
        i = bisect_right(self.metres, s + SAME_PLACE_M)
        if i == 0:
            return self.times[0]
        if i == len(self.metres):
            return self.times[-1]
        return self._between(i, s)

    def _between(self, i: int, s: float) -> float:
        t0, t1 = self.times[i - 1], self.times[i]
        s0, s1 = self.metres[i - 1], self.metres[i]
        return t0 + (t1 - t0) * min(1.0, max(0.0, (s - s0) / (s1 - s0)))

    def speed_at(self, t: float) -> float:
        """Casting speed [m/min] at minute `t`; at a change of speed the greater of the two."""
        right = bisect_right(self.times, t)
        left = bisect_left(self.times, t)
        return max((self._speed(i) for i in range(max(1, left), right + 1)), default=0.0)

    def _speed(self, i: int) -> float:
        if not 1 <= i < len(self.times):
            return 0.0
        return (self.metres[i] - self.metres[i - 1]) / (self.times[i] - self.times[i - 1])

    def stops(self) -> tuple[Stop, ...]:
        """Stretches without movement, neighbours joined; the one before the first move and the last are among them."""
        found: list[Stop] = []
        for i in range(1, len(self.times)):
            if self.metres[i] == self.metres[i - 1]:
                if found and found[-1].end == self.times[i - 1]:
                    found[-1] = Stop(found[-1].place_m, found[-1].start, self.times[i])
                else:
                    found.append(Stop(self.metres[i], self.times[i - 1], self.times[i]))
        return tuple(found)

    def touches_gap(self, start: float, end: float, how: str) -> bool:
        """Whether a stretch of unknown speed of that kind lies within a window of time."""
        return any(gap.how == how and gap.start < end and gap.end > start for gap in self.gaps)


@dataclass(frozen=True, slots=True)
class _Step:
    start: float
    end: float
    speed: float | None
    low: float = 0.0
    high: float = 0.0


def rising_counters(run: Run) -> tuple[tuple[float, float], ...]:
    """Counter readings in time order without those that fall below an earlier one or repeat its time."""
    kept: list[tuple[float, float]] = []
    for t, metres in sorted(run.counters):
        if not kept or (metres >= kept[-1][1] and t > kept[-1][0]):
            kept.append((t, metres))
    return tuple(kept)


def timeline_of(run: Run, last_time: float, feed_end: float | None, bracket: str = "nominal") -> Timeline:
    """S(t) of a run up to the book's last time.

    Parameters
    ----------
    run : Run
        Its speeds lead; counters fill unknown speeds by difference, or lead alone where there are no speeds.
    last_time : float, [min]
        The book's last time.
    feed_end : float | None, [min]
        End of the last feed, None while the run is still fed. The strand stands for good from the later of this and
        `stopped` on, so that `stopped` never moves the strand's tail.
    bracket : str
        `low`, `nominal` or `high`: where in the bracket of its two neighbours an unknown speed is taken. Before the
        first and after the last known speed the neighbour is a standing strand. `nominal` is the middle.

    Raises
    ------
    CastUnreadable
        Neither speeds nor counters, or a negative speed.
    """
    if not run.speeds and not run.counters:
        raise CastUnreadable(
            f"strand {run.strand_no} run {run.run_no}: neither speeds nor counters; "
            "add rows for the run to the speeds or the counters sheet"
        )
    end = max(last_time, run.started)
    if run.stopped is not None and feed_end is not None:
        end = max(run.started, min(end, max(run.stopped, feed_end)))
    counters = _zeroed(rising_counters(run), run.started)
    times, metres, gaps = [run.started], [0.0], []
    steps = _steps(run, end)
    for index, step in enumerate(steps):
        if step.speed is not None:
            times.append(step.end)
            metres.append(metres[-1] + step.speed * (step.end - step.start))
            continue
        place = step.start
        for t, s in _by_counter(step, steps, index, counters, metres[-1]):
            if run.speeds:
                gaps.append(SpeedGap(place, t, BY_COUNTER, 0.0, 0.0))
            times.append(t)
            metres.append(s)
            place = t
        if place < step.end:
            low, high = _bracket(step, run, times, metres)
            speed = {"low": low, "high": high, "nominal": (low + high) / 2.0}[bracket]
            gaps.append(SpeedGap(place, step.end, BY_BRACKET, low, high))
            times.append(step.end)
            metres.append(metres[-1] + speed * (step.end - place))
    if last_time > times[-1]:
        times.append(last_time)
        metres.append(metres[-1])
    return Timeline(tuple(times), tuple(metres), tuple(gaps))


def _zeroed(readings: Sequence[tuple[float, float]], started: float) -> list[tuple[float, float]]:
    """Readings with the run's start as zero; a run without a reading then starts its counter at 0."""
    at_start = 0.0
    before = [reading for reading in readings if reading[0] <= started]
    after = [reading for reading in readings if reading[0] > started]
    if before:
        at_start = before[-1][1]
        if after and before[-1][0] < started:
            (t0, m0), (t1, m1) = before[-1], after[0]
            at_start = m0 + (m1 - m0) * (started - t0) / (t1 - t0)
    return [(started, 0.0), *((t, metres - at_start) for t, metres in after)]


def _steps(run: Run, end: float) -> list[_Step]:
    """Stretches of one speed from the start of the run to `end`; unknown neighbours joined, with their bracket."""
    rows = sorted(run.speeds, key=lambda row: row[0])
    for t, speed in rows:
        if speed is not None and speed < 0.0:
            raise CastUnreadable(
                f"strand {run.strand_no} run {run.run_no}: speed {speed:g} m/min at minute {t:g} is below zero; "
                "correct the speeds sheet"
            )
    if not rows or rows[0][0] > run.started:
        rows.insert(0, (run.started, None))
    raw: list[_Step] = []
    for index, (t, speed) in enumerate(rows):
        start = max(t, run.started)
        stop = min(end, rows[index + 1][0]) if index + 1 < len(rows) else end
        if stop <= start:
            continue
        if raw and raw[-1].speed is None and speed is None:
            raw[-1] = _Step(raw[-1].start, stop, None)
        else:
            raw.append(_Step(start, stop, speed))
    steps: list[_Step] = []
    for index, step in enumerate(raw):
        if step.speed is None:
            before = raw[index - 1].speed if index else 0.0
            after = raw[index + 1].speed if index + 1 < len(raw) else 0.0
            pair = sorted((before or 0.0, after or 0.0))
            step = _Step(step.start, step.end, None, pair[0], pair[1])
        steps.append(step)
    return steps


def _bracket(step: _Step, run: Run, times: Sequence[float], metres: Sequence[float]) -> tuple[float, float]:
    """Bracket of the rest of a gap; where counters lead alone, the last speed between readings is the neighbour."""
    if run.speeds or len(times) < 2:
        return step.low, step.high
    last = (metres[-1] - metres[-2]) / (times[-1] - times[-2])
    return 0.0, last


def _by_counter(
    gap: _Step, steps: Sequence[_Step], index: int, counters: Sequence[tuple[float, float]], s_start: float
) -> list[tuple[float, float]]:
    """Places within a gap, and at its end, that the counter gives; none where it does not reach or falls behind."""
    before = [reading for reading in counters if reading[0] <= gap.start]
    if not before or not counters:
        return []
    t_before, m_before = before[-1]
    moved = _moved(steps[:index], t_before, gap.start)
    if moved is None:
        return []
    base = s_start - moved - m_before
    found = [(t, base + metres) for t, metres in counters if gap.start < t < gap.end]
    after = [reading for reading in counters if reading[0] >= gap.end]
    if after:
        moved = _moved(steps[index + 1 :], gap.end, after[0][0])
        if moved is not None:
            found.append((gap.end, base + after[0][1] - moved))
    kept: list[tuple[float, float]] = []
    place = s_start
    for t, s in found:
        if s < place - SAME_PLACE_M:
            break
        place = max(place, s)
        kept.append((t, place))
    return kept


def _moved(steps: Sequence[_Step], start: float, end: float) -> float | None:
    """Distance moved in known steps between two minutes [m]; None where an unknown step lies between."""
    total = 0.0
    for step in steps:
        low, high = max(step.start, start), min(step.end, end)
        if high > low:
            if step.speed is None:
                return None
            total += step.speed * (high - low)
    return total
