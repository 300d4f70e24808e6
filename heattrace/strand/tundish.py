"""One tundish from its start to the book's last time: inflow from the ladles, outflow to the strands, the mix."""

from __future__ import annotations

import itertools
import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from heattrace.findings import Finding
from heattrace.strand.course import StrandSegment
from heattrace.strand.feeding import Draw, RunFeeding
from heattrace.strand.level import OpenLadle, TundishStart, inflow_mix, inflow_weights, open_slope, start_of
from heattrace.strand.mixing import Shares, TankInterval
from heattrace.strand.record import HeatKey, Tundish
from heattrace.strand.section import SectionCourse
from heattrace.strand.tank import SteelInTundish, StrandDraw
from heattrace.strand.traced import TracedPour


@dataclass(frozen=True, slots=True)
class TundishCourse:
    """What one tundish did. Vectors are tonnes by heat; `segments` are by run key.

    `residuals` are (minute, reading less model [t]) of readings that no open ladle could meet.
    """

    label: str
    start: TundishStart
    initial: Shares
    left: Shares
    lost: Shares
    pours: tuple[TracedPour, ...]
    intervals: tuple[TankInterval, ...]
    segments: Mapping[tuple[int, int], Sequence[StrandSegment]]
    residuals: tuple[tuple[float, float], ...]
    findings: tuple[Finding, ...]
    taken_out_t: float
    short_t: float

    @property
    def reading_residual_t(self) -> float:
        """The residual of greatest size, with its sign; 0 where every reading was met."""
        return max((value for _, value in self.residuals), key=abs, default=0.0)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Time between two changes of anything: open ladles and what each run draws."""

    start: float
    end: float
    ladles: tuple[OpenLadle, ...]
    draws: tuple[StrandDraw, ...]

    @property
    def drawn(self) -> float:
        return sum(draw.tonnes for draw in self.draws)


def tundish_course(
    tundish: Tundish,
    ladles: Sequence[OpenLadle],
    feedings: Sequence[RunFeeding],
    sections: Mapping[tuple[int, int], SectionCourse],
    heats: Mapping[HeatKey, int],
    last_time: float,
    look_t: float = 0.5,
) -> TundishCourse:
    """Run one tundish through the cast.

    Between two readings the mass is linear while a ladle is open and falls by what the strands draw while none is;
    a difference that no open time can take is carried to the next reading. Without readings, and for ladles opened
    after the last one, the level is nominal: it jumps to the working mass at an opening and holds while a ladle is
    open.

    Parameters
    ----------
    heats : Mapping[HeatKey, int]
        Place of every heat in the share vectors.
    look_t : float, [t]
        A reading that the model misses by more has a finding.

    Raises
    ------
    CastUnreadable
        The tundish has no start, no heat at its start, or a mass below zero.
    """
    own = [(feeding, draw) for feeding in feedings for draw in feeding.draws if draw.tundish == tundish.label]
    start = start_of(tundish, ladles, min((draw.start for _, draw in own), default=None))
    initial_mix = tuple(1.0 if place == heats[start.heat] else 0.0 for place in range(len(heats)))
    plugs: dict[int, float] = {}
    for feeding, _ in own:
        plugs.setdefault(feeding.run.strand_no, feeding.run.plug_mass_t)
    steel = SteelInTundish(tundish.label, start.at, start.mass_t, initial_mix, tundish.stagnant_mass_t, plugs)
    stretches = _stretches(start, ladles, own, sections, last_time)
    poured = [0.0] * len(ladles)
    place = {id(ladle): number for number, ladle in enumerate(ladles)}
    targets = list(start.readings)
    read_until = math.inf if start.nominal else max([start.at, *(t for t, _ in targets)])
    residuals: list[tuple[float, float]] = []
    slope: float | None = None
    for index, stretch in enumerate(stretches):
        if index == 0 or (targets and targets[0][0] <= stretch.start):
            residuals += _met(steel, targets, stretch.start)
            slope = _slope(steel, targets, stretches[index:])
        opening = tuple(ladle for ladle in ladles if ladle.opened == stretch.start)
        if opening and (start.nominal or stretch.start > read_until):
            flowing = stretch.ladles or opening
            added = steel.jump(stretch.start, start.working_mass_t, inflow_mix(flowing, heats))
            _share_out(poured, place, flowing, added)
        if stretch.ladles:
            mix = inflow_mix(stretch.ladles, heats)
            gained = steel.advance(stretch.start, stretch.end, slope or 0.0, mix, stretch.draws)
            _share_out(poured, place, stretch.ladles, gained)
        else:
            steel.advance(stretch.start, stretch.end, None, steel.shares, stretch.draws)
    if stretches:
        residuals += _met(steel, targets, stretches[-1].end)
    pours = tuple(
        TracedPour(ladle.pour.heat, tundish.label, ladle.opened, ladle.closed, tonnes, ladle.pour.poured_t)
        for ladle, tonnes in zip(ladles, poured, strict=True)
    )
    return TundishCourse(
        label=tundish.label,
        start=start,
        initial=tuple(start.mass_t * share for share in initial_mix),
        left=steel.left(),
        lost=steel.lost_by_heat(),
        pours=pours,
        intervals=tuple(steel.intervals),
        segments=steel.segments,
        residuals=tuple(residuals),
        findings=tuple(_findings(tundish.label, start, steel, residuals, own, look_t)),
        taken_out_t=steel.taken_out_t,
        short_t=steel.short_t,
    )


def _met(steel: SteelInTundish, targets: list[tuple[float, float]], until: float) -> list[tuple[float, float]]:
    """Take the readings up to a minute off the list; those the model does not meet are residuals."""
    missed = []
    while targets and targets[0][0] <= until:
        t, reading = targets.pop(0)
        if abs(reading - steel.mass_t) > 1e-9:
            missed.append((t, reading - steel.mass_t))
    return missed


def _slope(steel: SteelInTundish, targets: Sequence[tuple[float, float]], ahead: Sequence[_Stretch]) -> float | None:
    """Change of mass while a ladle is open, until the next reading; after the last one the mass holds."""
    if not targets:
        return 0.0
    until, target = targets[0]
    window = [(part.end - part.start, bool(part.ladles), part.drawn) for part in ahead if part.end <= until]
    return open_slope(steel.mass_t, target, window)


def _share_out(poured: list[float], place: Mapping[int, int], ladles: Sequence[OpenLadle], tonnes: float) -> None:
    for ladle, weight in zip(ladles, inflow_weights(ladles), strict=True):
        poured[place[id(ladle)]] += weight * tonnes


def _stretches(
    start: TundishStart,
    ladles: Sequence[OpenLadle],
    own: Sequence[tuple[RunFeeding, Draw]],
    sections: Mapping[tuple[int, int], SectionCourse],
    last_time: float,
) -> list[_Stretch]:
    """Time from the tundish's start to the book's end, cut at every change of speed, feed, section, ladle, reading."""
    breaks = {start.at, last_time}
    breaks.update(t for ladle in ladles for t in (ladle.opened, ladle.closed))
    breaks.update(t for t, _ in start.readings)
    for feeding, draw in own:
        breaks.update((draw.start, draw.end))
        breaks.update(feeding.timeline.times)
        breaks.update(feeding.timeline.first_time(s) for s in sections[feeding.run.key].changes() if s < feeding.s_end)
    times = sorted(t for t in breaks if start.at <= t <= last_time)
    drawn: list[list[StrandDraw]] = [[] for _ in times]
    for feeding, draw in own:
        section = sections[feeding.run.key]
        first, last = bisect_left(times, draw.start), bisect_left(times, draw.end)
        places = [feeding.timeline.s_at(t) for t in times[first : last + 1]]
        for index, (low, high) in enumerate(itertools.pairwise(places), start=first):
            if high > low:
                drawn[index].append(StrandDraw(feeding.run.key, low, high, section.mu_at((low + high) / 2.0)))
    return [
        _Stretch(t0, t1, tuple(ladle for ladle in ladles if ladle.opened <= t0 and ladle.closed >= t1), tuple(draws))
        for (t0, t1), draws in zip(itertools.pairwise(times), drawn, strict=False)
    ]


def _findings(
    label: str,
    start: TundishStart,
    steel: SteelInTundish,
    residuals: Sequence[tuple[float, float]],
    own: Sequence[tuple[RunFeeding, Draw]],
    look_t: float,
) -> list[Finding]:
    """What a person should know of the level of this tundish."""
    subject = f"tundish {label}"
    found = []
    if start.nominal:
        seen, wanted = "no mass readings", "readings of the tundish scale"
        found.append(Finding("nominal-level", subject, seen, wanted, "shares stand on the nominal level"))
    if steel.taken_out_t > 1e-6:
        seen = f"{steel.taken_out_t:.3f} t more went out than the strands drew while a ladle was open"
        found.append(
            Finding(
                "negative-inflow",
                subject,
                seen,
                "readings that fall no faster than the strands draw",
                "booked as loss at the mix of the moment; check tundish_masses and the times in pours",
            )
        )
    if steel.short_t > 1e-6:
        seen = f"strands drew {steel.short_t:.3f} t from an empty tundish"
        found.append(
            Finding(
                "tundish-empty",
                subject,
                seen,
                "a mass above zero while a strand draws",
                "the last mix is kept and the steel stands as negative loss; check masses, pours and feeds",
            )
        )
    t, value = max(residuals, key=lambda row: abs(row[1]), default=(0.0, 0.0))
    if abs(value) > look_t:
        seen = f"reading at minute {t:g} differs from the model by {value:+.3f} t"
        found.append(
            Finding(
                "reading-residual",
                subject,
                seen,
                "a difference that the time a ladle was open can take",
                "carried to the next reading; it enters neither shares nor balance",
            )
        )
    masses: dict[int, set[float]] = {}
    for feeding, _ in own:
        masses.setdefault(feeding.run.strand_no, set()).add(feeding.run.plug_mass_t)
    for strand, values in masses.items():
        if len(values) > 1:
            seen = f"strand {strand} has plug masses " + ", ".join(f"{value:g} t" for value in sorted(values))
            found.append(Finding("plug-mass-differs", subject, seen, "one plug mass", "the first run's is used"))
    return found
