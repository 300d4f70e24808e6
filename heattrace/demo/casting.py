"""The invented casts, marched second by second: ladles, tundishes, strands, and what share of each heat is where.

A simple forward march of its own, apart from the closed form the program uses: practice records should not be made by
the code that reads them. Masses t, times s from the first ladle, lengths m.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from heattrace.demo.plant import SequencePlan, StrandPlan
from heattrace.demo.strand_log import STEPS_PER_M, Cut, Strand

Shares = tuple[float, ...]

_HEEL_T = 1.1
_LADLE_MOST_T_MIN = 9.0
_LEVEL_TIME_MIN = 1.5
_LOW_T = 10.5
_HIGH_T = 14.0
_LOW_FACTOR = 0.85
_EXCHANGE_LEFT_T = 5.5
_EXCHANGE_WAIT_S = 75
_RESTART_T = 7.0
_END_T = 4.4
_STAGGER_S = 15
_LIMIT_S = 12 * 3600


def expansion(temperature_c: float) -> float:
    """Linear expansion of carbon steel from 20 degree C, EN 1993-1-2, 860 to 1200 degree C only."""
    if not 860 <= temperature_c <= 1200:
        raise ValueError(f"cut temperature {temperature_c} degree C lies outside 860 to 1200")
    return 2e-5 * temperature_c - 6.2e-3


def tonnes_per_metre(sequence: SequencePlan) -> float:
    """Tonnes per hot metre of strand: 7.85 t/m3 on the cold section, over one plus the expansion at the cut."""
    section = sequence.section
    return 7.85 * section.thickness_mm * section.width_mm * 1e-6 / (1 + expansion(section.cut_temperature_c))


@dataclass(slots=True)
class Pour:
    """One ladle: opened, closed, tonnes poured."""

    heat: int
    tundish: str
    opened_s: int
    closed_s: int = 0
    poured_t: float = 0.0


@dataclass(slots=True)
class Tundish:
    """A well mixed tank; `history[k]` holds mass and shares at second `since_s + k`."""

    label: str
    since_s: int
    mass_t: float
    shares: list[float]
    history: list[tuple[float, Shares]] = field(default_factory=list)
    until_s: int | None = None

    def flow(self, inflow_t: float, heat: int | None, outflow_t: float) -> None:
        """Take one second's inflow and outflow, tonnes."""
        mass = self.mass_t + inflow_t - outflow_t
        if inflow_t > 0 and heat is not None:
            fresh = inflow_t / (self.mass_t + inflow_t)
            self.shares = [s + fresh * ((1.0 if k == heat else 0.0) - s) for k, s in enumerate(self.shares)]
        self.mass_t = mass

    def at(self, second: int) -> tuple[float, Shares]:
        """Mass and shares at a second, held at the ends."""
        return self.history[max(0, min(second - self.since_s, len(self.history) - 1))]


@dataclass(frozen=True, slots=True)
class Part:
    """A part with what the march knows of it; `from_s` and `to_s` are its meniscus times."""

    strand_no: int
    cut: Cut
    piece_no: str
    from_s: int
    to_s: int
    head: Shares
    tail: Shares
    mean: Shares
    least: Shares
    tonnes: float


@dataclass(slots=True)
class Cast:
    """A finished cast."""

    plan: SequencePlan
    strands: list[Strand]
    tundishes: list[Tundish]
    pours: list[Pour]
    parts: list[Part]
    end_s: int

    def tundish_at(self, strand: Strand, second: int) -> Tundish:
        """The tundish that feeds a strand at a second; the last one it had where none does."""
        label = strand.feeds[0][0]
        for name, since, _ in strand.feeds:
            if since <= second:
                label = name
        return next(t for t in self.tundishes if t.label == label)

    def poured(self, heat: int, share: float) -> int:
        """Second at which that share of a heat's pouring time has gone."""
        pour = next(p for p in self.pours if p.heat == heat)
        return pour.opened_s + int((pour.closed_s - pour.opened_s) * share)


@dataclass(slots=True)
class _Shift:
    """The state of a cast while it is marched."""

    plan: SequencePlan
    strands: list[Strand]
    tundishes: list[Tundish] = field(default_factory=list)
    pours: list[Pour] = field(default_factory=list)
    ladle_left_t: float = 0.0
    closed_s: int = 0
    low: bool = False
    exchange_s: int | None = None
    ending_s: int | None = None

    @property
    def open_pour(self) -> Pour | None:
        return self.pours[-1] if self.pours and not self.pours[-1].closed_s else None

    @property
    def tundish(self) -> Tundish:
        return self.tundishes[-1]

    def ladles(self, second: int) -> None:
        """Close an empty ladle, open the next one when its turn has come."""
        pour = self.open_pour
        if pour is not None:
            if self.ladle_left_t <= 1e-9:
                pour.closed_s = self.closed_s = second
            return
        heat = len(self.pours)
        if heat == len(self.plan.heats):
            return
        planned = self.plan.heats[heat]
        if heat and planned.heat_no == self.plan.exchange_before:
            if self.exchange_s is None or second < self.exchange_s + _EXCHANGE_WAIT_S:
                return
            self._new_tundish(second)
        elif heat and planned.heat_no in self.plan.low_before:
            if self.tundish.mass_t > self.plan.low_before[planned.heat_no]:
                return
        elif heat and second < self.closed_s + self.plan.gap_s[heat - 1]:
            return
        if not self.tundishes:
            self._new_tundish(second)
        self.pours.append(Pour(heat, self.tundish.label, second))
        self.ladle_left_t = planned.tapped_t - _HEEL_T

    def _new_tundish(self, second: int) -> None:
        label = f"T{len(self.tundishes) + 1}"
        self.tundishes.append(Tundish(label, second, 0.0, [0.0] * len(self.plan.heats)))

    def feeds(self, second: int) -> None:
        """Open and close the strands' feeds."""
        for index, strand in enumerate(self.strands):
            lost = strand.plan.lost_min
            if strand.started_s is None:
                if self.tundish.mass_t >= self.plan.start_t and self._turn(index, second):
                    strand.open_feed(self.tundish.label, second)
            elif strand.waits_for_tundish:
                if self.exchange_s is None and self.tundish.mass_t >= _RESTART_T:
                    strand.open_feed(self.tundish.label, second)
            elif strand.feeding and lost is not None and second >= lost * 60:
                strand.close_feed(second, for_good=True)
        if self.exchange_s is not None and self.open_pour is not None:
            self.exchange_s = None
        if self.open_pour is None:
            self._run_down(second)

    def _turn(self, index: int, second: int) -> bool:
        return index == 0 or (
            (before := self.strands[index - 1].started_s) is not None and second >= before + _STAGGER_S
        )

    def _run_down(self, second: int) -> None:
        following = len(self.pours)
        if following == len(self.plan.heats):
            if self.ending_s is None and self.tundish.mass_t <= _END_T:
                self.ending_s = second
            if self.ending_s is not None:
                for index, strand in enumerate(self.strands):
                    if strand.feeding and second >= self.ending_s + index * _STAGGER_S:
                        strand.close_feed(second, for_good=True)
            return
        exchange_next = self.plan.heats[following].heat_no == self.plan.exchange_before and self.exchange_s is None
        if exchange_next and self.tundish.mass_t <= _EXCHANGE_LEFT_T:
            self.exchange_s = self.tundish.until_s = second
            for strand in self.strands:
                if strand.feeding:
                    strand.close_feed(second, for_good=False)

    def level_factor(self) -> float:
        """Strands are slowed while the tundish is low with no ladle open, and sped up again when it has filled."""
        if self.open_pour is None and len(self.pours) < len(self.plan.heats) and self.tundish.mass_t < _LOW_T:
            self.low = True
        elif self.tundish.mass_t > _HIGH_T or not any(s.feeding for s in self.strands):
            self.low = False
        return _LOW_FACTOR if self.low else 1.0

    def flow(self, per_step_t: float) -> None:
        """Move one second's steel; the ladle's slide holds the working mass as well as it can."""
        outflow = per_step_t * sum(s.speed for s in self.strands if s.feeding)
        pour, inflow = self.open_pour, 0.0
        if pour is not None:
            wanted = outflow * 60 + (self.plan.working_t - self.tundish.mass_t) / _LEVEL_TIME_MIN
            inflow = min(max(wanted, 0.5), _LADLE_MOST_T_MIN) / 60
            inflow = min(inflow, self.ladle_left_t)
            self.ladle_left_t -= inflow
            pour.poured_t += inflow
        self.tundish.flow(inflow, pour.heat if pour else None, outflow)


def cast(plan: SequencePlan) -> Cast:
    """March one cast from its first ladle to the last tail past the torch."""
    shift = _Shift(plan, [Strand(s, plan) for s in plan.strands])
    per_step_t = tonnes_per_metre(plan) / STEPS_PER_M
    second = 0
    while second < _LIMIT_S and not all(s.stopped_s is not None for s in shift.strands):
        shift.ladles(second)
        shift.feeds(second)
        factor = shift.level_factor()
        for strand in shift.strands:
            strand.choose_speed(second, factor)
            strand.try_cut(second)
        if shift.tundish.until_s is None:
            shift.tundish.history.append((shift.tundish.mass_t, tuple(shift.tundish.shares)))
        shift.flow(per_step_t)
        for strand in shift.strands:
            strand.advance()
        second += 1
    for strand in shift.strands:
        strand.close()
    shift.tundish.until_s = second
    done = Cast(plan, shift.strands, shift.tundishes, shift.pours, [], second)
    done.parts = [_part(done, strand, cut) for strand in done.strands for cut in strand.cuts]
    return done


def piece_number(plan: SequencePlan, strand: StrandPlan, cut: Cut) -> str:
    """Number painted on a piece: sequence, strand as a letter, cut in three digits. Crops and samples bear none."""
    return f"{plan.sequence_no}{'ABCDE'[strand.strand_no - 1]}{cut.cut_no:03d}" if cut.kind == "piece" else ""


def _part(done: Cast, strand: Strand, cut: Cut) -> Part:
    from_s = strand.meniscus_s(cut.head_m, tail=False)
    to_s = strand.meniscus_s(cut.tail_m, tail=True)
    assert strand.started_s is not None
    weight, total = 0, [0.0] * len(done.plan.heats)
    least = [1.0] * len(done.plan.heats)
    for second in range(from_s, max(to_s, from_s + 1)):
        k = min(second - strand.started_s, len(strand.counts) - 2)
        moved = strand.counts[k + 1] - strand.counts[k]
        shares = done.tundish_at(strand, second).at(second)[1]
        weight += moved
        for heat, share in enumerate(shares):
            total[heat] += moved * share
            least[heat] = min(least[heat], share)
    mean = tuple(t / weight for t in total) if weight else done.tundish_at(strand, from_s).at(from_s)[1]
    return Part(
        strand.plan.strand_no, cut, piece_number(done.plan, strand.plan, cut), from_s, to_s,
        done.tundish_at(strand, from_s).at(from_s)[1], done.tundish_at(strand, to_s).at(to_s)[1], mean, tuple(least),
        tonnes_per_metre(done.plan) * (cut.tail_m - cut.head_m),
    )  # fmt: skip
