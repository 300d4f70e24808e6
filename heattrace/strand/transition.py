"""Class and heat number of a part: pure, transition or undetermined, with the reasons, and the two number rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heattrace.strand.course import StrandCourse
from heattrace.strand.record import HeatInfo, HeatKey, StrandRules
from heattrace.strand.shares import SharesAlong
from heattrace.strand.traced import ClassReason

PURE, TRANSITION, UNDETERMINED = "pure", "transition", "undetermined"


@dataclass(frozen=True, slots=True)
class GradeZone:
    """Strand around a change of grade, guards included [m]; `place` of the new heat in heat order."""

    place: int
    from_m: float
    to_m: float

    def overlaps(self, from_m: float, to_m: float) -> bool:
        """Whether a part of the strand lies in the zone, if only partly."""
        return from_m < self.to_m and to_m > self.from_m


@dataclass(frozen=True, slots=True)
class HeatNumber:
    """What a part is called: class, reasons, and the heats by both rules; `heat` None waits for a person."""

    class_: str
    reasons: tuple[ClassReason, ...]
    majority: HeatKey
    late: HeatKey
    heat: HeatKey | None
    rule: str


def first_reach(course: StrandCourse, heats: frozenset[int], level: float, after_m: float = 0.0) -> float | None:
    """First place, from `after_m` on, where `heats` together come to `level`; None where they never do."""
    for segment in course.segments:
        if segment.to_m <= after_m:
            continue
        start = sum(segment.tank.at(segment.tau(max(after_m, segment.from_m)))[i] for i in heats)
        if start >= level:
            return max(after_m, segment.from_m)
        if sum(segment.tank.at(segment.tau_to)[i] for i in heats) < level:
            continue
        tank = segment.tank
        first = sum(tank.start[i] for i in heats)
        inflow = sum(tank.inflow[i] for i in heats)
        tau = tank.time_of_remaining((level - inflow) / (first - inflow))
        part = (tau - segment.tau_from) / (segment.tau_to - segment.tau_from)
        return segment.from_m + min(1.0, max(0.0, part)) * (segment.to_m - segment.from_m)
    return None


def heats_in_order_of_reach(course: StrandCourse) -> tuple[tuple[int, float], ...]:
    """(place in heat order, where it first reaches the nozzle [m]) of every heat on a run, as the run met them."""
    seen: dict[int, float] = {}
    for segment in course.segments:
        ends = zip(segment.tank.at(segment.tau_from), segment.tank.at(segment.tau_to), strict=True)
        for i, (first, last) in enumerate(ends):
            if i not in seen and (first > 0.0 or last > 0.0):
                seen[i] = segment.from_m
    return tuple(sorted(seen.items(), key=lambda row: (row[1], row[0])))


def grade_zones(
    course: StrandCourse, s_end: float, heats: Sequence[HeatInfo], rules: StrandRules
) -> tuple[GradeZone, ...]:
    """Zones of a run around every change of grade.

    From where the new heat first reaches the nozzle, less `guard_ahead_m`, to where it first comes to `pure_min`, plus
    `guard_behind_m`. Grades are compared as text with the heat that reached the run before. Where another heat comes
    before the new one gets so far, the zone ends where it and all that follow come to `pure_min` together, else at the
    strand's end. A run that begins with the new heat at `pure_min` has no zone.
    """
    zones = []
    met = heats_in_order_of_reach(course)
    for k in range(1, len(met)):
        place, reach = met[k]
        if reach <= 0.0 and course.shares_at(0.0)[place] >= rules.pure_min:
            continue
        if heats[met[k - 1][0]].grade_text == heats[place].grade_text:
            continue
        full = first_reach(course, frozenset((place,)), rules.pure_min, reach)
        if full is None:
            full = first_reach(course, frozenset(i for i, _ in met[k:]), rules.pure_min, reach)
        end = s_end if full is None else full
        zones.append(GradeZone(place, reach - rules.guard_ahead_m, end + rules.guard_behind_m))
    return tuple(zones)


def class_of(
    along: SharesAlong,
    interval: tuple[float, float],
    zones: Sequence[GradeZone],
    heats: Sequence[HeatInfo],
    rules: StrandRules,
    doubts: Sequence[ClassReason] = (),
) -> HeatNumber:
    """Class, reasons and heat number of a part.

    Pure: one heat holds `pure_min` throughout, no joint of two tundishes and no step of `step_min` of any share lies
    inside, and the part overlaps no grade zone. `doubts` make any class undetermined.
    Majority heat by mean share. Late heat: the newest for which all older shares together are at most `old_max`
    everywhere in the part. Heat number: the heat of a pure part; the late heat of a transition in which the heats above
    `old_max` somewhere are of one grade; else none until a person decides.
    """
    least, greatest = along.least(), along.greatest()
    best = max(range(len(heats)), key=lambda i: least[i])
    reasons = []
    if least[best] < rules.pure_min:
        words = (
            f"no heat holds {rules.pure_min:.0%} throughout; {heats[best].heat_no} comes nearest with {least[best]:.2%}"
        )
        reasons.append(ClassReason("mixed", words, *interval))
    for step in along.steps:
        if step.joint:
            reasons.append(ClassReason("tundish-joint", "two tundishes meet here", step.place_m, step.place_m))
        elif step.greatest >= rules.step_min:
            i = max(range(len(heats)), key=lambda i: abs(step.change[i]))
            words = f"the share of {heats[i].heat_no} steps by {step.change[i]:+.2%}"
            reasons.append(ClassReason("step", words, step.place_m, step.place_m))
    for zone in zones:
        if zone.overlaps(*interval):
            words = f"change of grade to {heats[zone.place].heat_no}"
            reasons.append(ClassReason("grade-change", words, zone.from_m, zone.to_m))
    class_ = UNDETERMINED if doubts else TRANSITION if reasons else PURE
    majority = max(range(len(heats)), key=lambda i: along.mean[i])
    late = max(i for i in range(len(heats)) if i == 0 or along.greatest_older(i) <= rules.old_max)
    counted = {heats[i].grade_text for i in range(len(heats)) if greatest[i] > rules.old_max}
    heat: HeatKey | None = None
    rule = "decision"
    if class_ == PURE:
        heat, rule = heats[best].heat_id, "pure"
    elif class_ == TRANSITION and len(counted) <= 1:
        heat, rule = heats[late].heat_id, "late"
    return HeatNumber(class_, (*doubts, *reasons), heats[majority].heat_id, heats[late].heat_id, heat, rule)
