"""Parts of one run: place, meniscus window, mass, shares, class and heat number of each."""

from __future__ import annotations

import math
from collections.abc import Sequence

from heattrace.strand.course import StrandCourse
from heattrace.strand.cutting import CutPart, CutStrand, PlacedCut
from heattrace.strand.expansion import cold_length
from heattrace.strand.feeding import RunFeeding
from heattrace.strand.record import HeatInfo, StrandRules
from heattrace.strand.section import SectionCourse
from heattrace.strand.shares import part_shares, share_doubt, shares_along
from heattrace.strand.timeline import BY_BRACKET, BY_COUNTER, Stop, Timeline
from heattrace.strand.traced import ClassReason, TracedPart
from heattrace.strand.transition import GradeZone, class_of


def place_doubt(distance_m: float, speed_m_min: float, rules: StrandRules) -> float:
    """Standard uncertainty of a place on the strand [m].

    u_s^2 = (e L)^2 + (v u_t)^2 + u_z^2, with e the counter's scale error, L the distance from the meniscus, v the
    casting speed, u_t and u_z the uncertainty of clamp time and clamp place.

    Examples
    --------
    e 0.5 %, L 21 m, v 0.7 m/min, u_t 0.2 min, u_z 0.1 m, by hand sqrt(0.011025 + 0.0196 + 0.01) = 0.2016:

    >>> round(place_doubt(21.0, 0.7, StrandRules()), 4)
    0.2016
    """
    return math.hypot(
        rules.counter_error * distance_m, speed_m_min * rules.clamp_time_error_min, rules.clamp_place_error_m
    )


def stop_marks(feeding: RunFeeding) -> tuple[Stop, ...]:
    """Stops after which the same strand went on, with steel on both sides of the mark."""
    last = feeding.timeline.metres[-1]
    return tuple(
        stop for stop in feeding.timeline.stops() if 0.0 < stop.place_m < feeding.s_end and stop.place_m < last
    )


def parts_of(
    feeding: RunFeeding,
    section: SectionCourse,
    course: StrandCourse,
    cut: CutStrand,
    zones: Sequence[GradeZone],
    heats: Sequence[HeatInfo],
    rules: StrandRules,
) -> list[TracedPart]:
    """All parts of a run, head first."""
    marks = tuple(stop.place_m for stop in stop_marks(feeding))
    return [_part(part, feeding, section, course, marks, zones, heats, rules) for part in cut.parts]


def _part(
    part: CutPart,
    feeding: RunFeeding,
    section: SectionCourse,
    course: StrandCourse,
    marks: Sequence[float],
    zones: Sequence[GradeZone],
    heats: Sequence[HeatInfo],
    rules: StrandRules,
) -> TracedPart:
    run, timeline, cut = feeding.run, feeding.timeline, part.cut
    along = shares_along(course, part.from_m, part.to_m)
    head_doubt = _end_doubt(part.head_cut, feeding, rules) if part.from_m > 0.0 else 0.0
    tail_doubt = _end_doubt(part.tail_cut, feeding, rules)
    meniscus_from = timeline.last_time(part.from_m)
    meniscus_to = max(meniscus_from, timeline.first_time(part.to_m))
    transit = None
    if part.tail_cut is not None and part.tail_cut.place_m is not None and cut.clamped is not None:
        transit = cut.clamped - timeline.first_time(part.tail_cut.place_m)
    until = meniscus_to if cut.clamped is None else cut.clamped
    flags = _speed_flags(timeline, meniscus_from, until)
    if part.implied:
        flags.append(ClassReason("implied-tail-crop", "no cut row closes it; the strand's tail has passed the torch"))
    doubts = [_doubt_reason(code, number) for code, number in part.doubts]
    number = class_of(along, (part.from_m, part.to_m), zones, heats, rules, doubts)
    hot = part.to_m - part.from_m
    residual = None
    if cut.measured_length_m is not None and not part.joined:
        residual = (cut.measured_length_m - hot) * 1000.0
    labels = [course.tundish_at(part.from_m)]
    labels += [segment.tundish for segment, _, _ in course.within(part.from_m, part.to_m)]
    return TracedPart(
        strand_no=run.strand_no,
        run_no=run.run_no,
        cut_no=cut.cut_no,
        kind=cut.kind,
        piece_no=cut.piece_no,
        form=run.form,
        section=section.words_between(part.from_m, part.to_m),
        from_m=part.from_m,
        to_m=part.to_m,
        length_hot_m=hot,
        length_cold_m=cold_length(hot, section.strain),
        mass_t=section.tonnes(part.from_m, part.to_m),
        tundish=labels[0],
        tundishes=tuple(dict.fromkeys(labels)),
        meniscus_from=meniscus_from,
        meniscus_to=meniscus_to,
        clamped=cut.clamped,
        transit_min=transit,
        residual_mm=residual,
        stop_marks_m=tuple(mark for mark in marks if part.from_m <= mark <= part.to_m),
        uncertainty_m=max(head_doubt, tail_doubt),
        shares=part_shares(
            along,
            heats,
            share_doubt(course, part.from_m, head_doubt, tail=False),
            share_doubt(course, part.to_m, tail_doubt, tail=True),
        ),
        bounds=None,
        class_=number.class_,
        class_reasons=(*number.reasons, *flags),
        majority_heat=number.majority,
        late_heat=number.late,
        heat=number.heat,
        heat_no_rule=number.rule,
        implied=part.implied,
        joined_cut_nos=part.joined,
    )


def _end_doubt(placed: PlacedCut | None, feeding: RunFeeding, rules: StrandRules) -> float:
    """Uncertainty of one end [m]; the strand's own tail stood at the meniscus when its feed ended."""
    if placed is None or placed.cut.clamped is None:
        return place_doubt(0.0, feeding.timeline.speed_at(feeding.draws[-1].end), rules)
    distance = placed.cut.clamp_distance_m
    if distance is None:
        distance = feeding.run.machine_length_m
    return place_doubt(distance, feeding.timeline.speed_at(placed.cut.clamped), rules)


def _speed_flags(timeline: Timeline, start: float, end: float) -> list[ClassReason]:
    flags = []
    if timeline.touches_gap(start, end, BY_BRACKET):
        flags.append(
            ClassReason("unknown-speed", "the casting speed is unknown between meniscus and cut; see the bounds")
        )
    if timeline.touches_gap(start, end, BY_COUNTER):
        flags.append(ClassReason("speed-by-counter", "an unknown casting speed is taken from the counter"))
    return flags


def _doubt_reason(code: str, number: int) -> ClassReason:
    if code == "cut-doubtful":
        return ClassReason(code, f"cut {number} or a row it contradicts is wrong, and nothing says which")
    return ClassReason(code, f"cut {number} is set aside on the bench")
