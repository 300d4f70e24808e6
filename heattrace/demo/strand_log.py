"""One strand of the invented caster, second by second: its speed, its metre count and its cuts.

The metre count is kept in whole steps of 1/6000 m: a speed of 0.01 m/min moves one step a second, with no rounding.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from heattrace.demo.plant import SequencePlan, StrandPlan

STEPS_PER_M = 6000

_RAMP = ((60, 0.50), (120, 0.75))
_CAPPING = (120, 0.40)
_WITHDRAWAL = 1.25
_SHORTEST_PIECE_SHARE = 0.45
_TAIL_CROP_M = 0.9


@dataclass(frozen=True, slots=True)
class Cut:
    """One part: the row that closes it. Coordinates of head and tail in m of strand; `clamped_s` is None for a tail."""

    cut_no: int
    kind: str
    clamped_s: int | None
    clamp_distance_m: float
    head_m: float
    tail_m: float


@dataclass(slots=True)
class Strand:
    """What one strand does. `counts[k]` is the metre count at second `started_s + k`."""

    plan: StrandPlan
    sequence: SequencePlan
    started_s: int | None = None
    moving_since_s: int = 0
    end_count: int | None = None
    ended_s: int = 0
    stopped_s: int | None = None
    speed: int = 0
    counts: list[int] = field(default_factory=list)
    speeds: list[tuple[int, int]] = field(default_factory=list)
    feeds: list[tuple[str, int, int | None]] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)
    cut_at_m: float = 0.0

    @property
    def machine_m(self) -> float:
        """Meniscus to torch home, m."""
        return self.sequence.machine_length_m(self.plan)

    @property
    def feeding(self) -> bool:
        """Whether steel runs into its mould from a tundish."""
        return bool(self.feeds) and self.feeds[-1][2] is None

    @property
    def waits_for_tundish(self) -> bool:
        """Whether its feed stopped for a tundish exchange and not for good."""
        return bool(self.feeds) and self.feeds[-1][2] is not None and self.end_count is None

    def open_feed(self, label: str, second: int) -> None:
        """Steel begins to run from that tundish."""
        if self.started_s is None:
            self.started_s = second
            self.counts.append(0)
        self.feeds.append((label, second, None))
        self.moving_since_s = second

    def close_feed(self, second: int, *, for_good: bool) -> None:
        """Steel stops running; for good, the strand's own end stands at this count."""
        label, since, _ = self.feeds[-1]
        self.feeds[-1] = (label, since, second)
        if for_good:
            self.end_count = self.counts[-1]
            self.ended_s = second

    def choose_speed(self, second: int, level_factor: float) -> None:
        """Set the speed [0.01 m/min] that holds from this second on, and log it when it changes."""
        if self.started_s is None or self.stopped_s is not None:
            return
        factor = 0.0
        if self.end_count is not None:
            since = second - self.ended_s
            factor = _CAPPING[1] if since < _CAPPING[0] else _WITHDRAWAL
            tail_past_torch = self.counts[-1] >= self.end_count + (self.machine_m + 1.0) * STEPS_PER_M
            if tail_past_torch:
                factor, self.stopped_s = 0.0, second
        elif self.feeding and not self._stands(second):
            factor = level_factor * self._planned(second)
            for until, ramp in _RAMP:
                if second - self.moving_since_s < until:
                    factor *= ramp
                    break
        speed = int(self.sequence.section.speed_m_min * factor * 100 + 0.5)
        if speed != self.speed or not self.speeds:
            self.speed = speed
            self.speeds.append((second, speed))

    def _stands(self, second: int) -> bool:
        for begin, end in self.plan.stops:
            if begin * 60 <= second < end * 60:
                self.moving_since_s = second + 1
                return True
        return False

    def _planned(self, second: int) -> float:
        factor = 1.0
        for minute, step in self.plan.steps:
            if second >= minute * 60:
                factor = step
        return factor

    def advance(self) -> None:
        """Move through one second at the speed now set."""
        if self.started_s is not None and self.stopped_s is None:
            self.counts.append(self.counts[-1] + self.speed)

    def try_cut(self, second: int) -> None:
        """Clamp the torch when the next cut stands under it."""
        if self.started_s is None or self.stopped_s is not None:
            return
        cut_no = len(self.cuts) + 1
        kind, length = self._next(cut_no)
        z = self.machine_m + dict(self.plan.late_clamp).get(cut_no, 0.0)
        kerf = self.sequence.section.kerf_mm / 1000
        here = self.counts[-1] / STEPS_PER_M - z
        head = self.cut_at_m + kerf / 2 if self.cuts else 0.0
        if self.end_count is not None:
            left = self.end_count / STEPS_PER_M - head
            if left < length + kerf + _TAIL_CROP_M:
                short = left - kerf - _TAIL_CROP_M
                if short < length * _SHORTEST_PIECE_SHARE:
                    return
                length = short
        if here >= head + length + kerf / 2:
            self.cuts.append(Cut(cut_no, kind, second, z, head, here - kerf / 2))
            self.cut_at_m = here

    def _next(self, cut_no: int) -> tuple[str, float]:
        for special_no, kind, length in self.plan.special:
            if special_no == cut_no:
                return kind, length
        if cut_no == 1:
            return "head-crop", self.sequence.section.head_crop_m
        return "piece", self.sequence.section.piece_m

    def close(self) -> None:
        """Add the tail crop, the part closed by the strand's own tail."""
        assert self.end_count is not None
        head = self.cut_at_m + self.sequence.section.kerf_mm / 2000
        tail = self.end_count / STEPS_PER_M
        self.cuts.append(Cut(len(self.cuts) + 1, "tail-crop", None, self.machine_m, head, tail))

    def metres(self, second: int) -> float:
        """Strand coordinate at the meniscus at a second, m."""
        if self.started_s is None or second <= self.started_s:
            return 0.0
        return self.counts[min(second - self.started_s, len(self.counts) - 1)] / STEPS_PER_M

    def meniscus_s(self, metres: float, *, tail: bool) -> int:
        """Second at which a point stood at the meniscus: the first for a tail, the last for a head."""
        assert self.started_s is not None
        low, high = 0, len(self.counts) - 1
        while low < high:
            middle = (low + high) // 2 if tail else (low + high + 1) // 2
            position = self.counts[middle] / STEPS_PER_M
            if tail:
                low, high = (low, middle) if position >= metres else (middle + 1, high)
            else:
                low, high = (middle, high) if position <= metres else (low, middle - 1)
        return self.started_s + low
