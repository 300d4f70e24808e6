"""A whole cast: from the record to places, shares, classes and the balance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from heattrace.findings import Finding
from heattrace.strand.balance import balance_of, run_check
from heattrace.strand.course import StrandCourse, course_of
from heattrace.strand.cut_faults import doubtful_cuts, find_faulty_cuts
from heattrace.strand.cutting import CutStrand, cut_strand
from heattrace.strand.feeding import RunFeeding, book_end, feeding_of, run_words
from heattrace.strand.level import ladles_over
from heattrace.strand.parts import parts_of, stop_marks
from heattrace.strand.record import Cast, CastUnreadable, HeatInfo, HeatKey, StrandRules
from heattrace.strand.section import SectionCourse, sections_of
from heattrace.strand.speed_bounds import with_bounds
from heattrace.strand.timeline import BY_BRACKET
from heattrace.strand.traced import FaultyCut, RunCheck, TracedCast, TracedPart, TracedRun
from heattrace.strand.transition import grade_zones
from heattrace.strand.tundish import TundishCourse, tundish_course

RunKey = tuple[int, int]


@dataclass(frozen=True, slots=True)
class _Pass:
    """The model gone through once, with unknown speeds at one end or the middle of their bracket."""

    feedings: Mapping[RunKey, RunFeeding]
    sections: Mapping[RunKey, SectionCourse]
    tundishes: tuple[TundishCourse, ...]
    courses: Mapping[RunKey, StrandCourse]
    cut_strands: Mapping[RunKey, CutStrand]
    parts: Mapping[RunKey, list[TracedPart]]


def trace_cast(cast: Cast, rules: StrandRules | None = None) -> TracedCast:
    """Trace a cast: a pure function of the record and the rules, the same whatever the order of the rows.

    Parameters
    ----------
    cast : Cast
        The record, in model units. Cut rows that are `faulty`, or that `faulty_cuts` finds, are not believed.
    rules : StrandRules | None
        None is the shipped rule set.

    Returns
    -------
    TracedCast
        Parts by strand, run and cut number.

    Raises
    ------
    CastUnreadable
        The record contradicts itself so far that nothing can be computed; the message names the sheet.
    """
    rules = rules or StrandRules()
    last_time = book_end(cast)
    heats = heat_order(cast)
    _check_labels(cast)
    faulty = faulty_cuts(cast, rules)
    nominal = _trace_once(cast, rules, heats, last_time, faulty, "nominal")
    unknown = any(gap.how == BY_BRACKET for feeding in nominal.feedings.values() for gap in feeding.timeline.gaps)
    parts = {key: tuple(found) for key, found in nominal.parts.items()}
    if unknown:
        ends = [_trace_once(cast, rules, heats, last_time, faulty, bracket) for bracket in ("low", "high")]
        parts = {key: with_bounds(found, [end.parts[key] for end in ends], rules) for key, found in parts.items()}
    checks = [
        run_check(feeding.run, nominal.cut_strands[key], parts[key], rules) for key, feeding in nominal.feedings.items()
    ]
    lengths = {key: feeding.s_end for key, feeding in nominal.feedings.items()}
    balance = balance_of(heats, nominal.tundishes, nominal.courses, nominal.cut_strands, lengths, checks)
    return TracedCast(
        sequence_no=cast.sequence_no,
        heats=heats,
        rules=rules,
        parts=tuple(part for key in sorted(parts) for part in parts[key]),
        runs=tuple(_traced_run(nominal, key, faulty.get(key, ())) for key in sorted(nominal.feedings)),
        pours=tuple(pour for tundish in nominal.tundishes for pour in tundish.pours),
        balance=balance,
        nominal_tundishes=tuple(tundish.label for tundish in nominal.tundishes if tundish.start.nominal),
        findings=tuple(_findings(nominal, parts, checks, rules)),
    )


def heat_order(cast: Cast) -> tuple[HeatInfo, ...]:
    """Heats of the sequence, older first: by first opening; one present only at a tundish's start comes first.

    Heats that were never poured stand last, in the order of the book.

    Raises
    ------
    CastUnreadable
        A pour or a tundish names a heat that the heats sheet does not have, or two heats have one key.
    """
    known = {heat.heat_id for heat in cast.heats}
    if len(known) < len(cast.heats):
        raise CastUnreadable(f"sequence {cast.sequence_no}: a heat stands twice in the heats sheet")
    first: dict[HeatKey, float] = {}
    for tundish in cast.tundishes:
        if tundish.heat_at_start is not None:
            first[tundish.heat_at_start] = float("-inf")
    for pour in sorted(cast.pours, key=lambda row: row.opened, reverse=True):
        first[pour.heat] = pour.opened
    for heat in first:
        if heat not in known:
            raise CastUnreadable(f"sequence {cast.sequence_no}: heat {heat} is poured but not in the heats sheet")
    return tuple(sorted(cast.heats, key=lambda heat: first.get(heat.heat_id, float("inf"))))


def faulty_cuts(cast: Cast, rules: StrandRules | None = None) -> dict[RunKey, tuple[FaultyCut, ...]]:
    """Cut rows of every run that cannot be right; runs without any are left out. See `find_faulty_cuts`."""
    rules = rules or StrandRules()
    last_time = book_end(cast)
    found = {run.key: find_faulty_cuts(run, feeding_of(run, last_time), rules) for run in cast.runs}
    return {key: rows for key, rows in found.items() if rows}


def _check_labels(cast: Cast) -> None:
    labels = [tundish.label for tundish in cast.tundishes]
    if len(set(labels)) < len(labels):
        raise CastUnreadable(
            f"sequence {cast.sequence_no}: a tundish label stands twice; an exchange takes a new label"
        )
    keys = [run.key for run in cast.runs]
    if len(set(keys)) < len(keys):
        raise CastUnreadable(f"sequence {cast.sequence_no}: a strand and run stands twice in the strands sheet")
    used = {pour.tundish for pour in cast.pours} | {feed.tundish for run in cast.runs for feed in run.feeds}
    for label in sorted(used - set(labels)):
        raise CastUnreadable(f"sequence {cast.sequence_no}: tundish {label} is not in the tundishes sheet")


def _trace_once(
    cast: Cast,
    rules: StrandRules,
    heats: Sequence[HeatInfo],
    last_time: float,
    faulty: Mapping[RunKey, tuple[FaultyCut, ...]],
    bracket: str,
) -> _Pass:
    index: dict[HeatKey, int] = {heat.heat_id: place for place, heat in enumerate(heats)}
    runs = sorted(cast.runs, key=lambda run: run.key)
    feedings = {run.key: feeding_of(run, last_time, bracket) for run in runs}
    sections = {run.key: sections_of(run, rules) for run in runs}
    tundishes = tuple(
        tundish_course(
            tundish,
            ladles_over(cast, tundish.label, last_time),
            list(feedings.values()),
            sections,
            index,
            last_time,
            rules.reading_residual_look_t,
        )
        for tundish in sorted(cast.tundishes, key=lambda row: row.label)
    )
    courses = {
        key: course_of([segment for tundish in tundishes for segment in tundish.segments.get(key, ())])
        for key in feedings
    }
    cut_strands: dict[RunKey, CutStrand] = {}
    parts: dict[RunKey, list[TracedPart]] = {}
    for key, feeding in feedings.items():
        suspects = doubtful_cuts(feeding.run, feeding, rules)
        cut_strands[key] = cut_strand(feeding.run, feeding, last_time, faulty.get(key, ()), suspects)
        zones = grade_zones(courses[key], feeding.s_end, heats, rules)
        parts[key] = []
        if courses[key].segments:
            parts[key] = parts_of(feeding, sections[key], courses[key], cut_strands[key], zones, heats, rules)
    return _Pass(feedings, sections, tundishes, courses, cut_strands, parts)


def _traced_run(nominal: _Pass, key: RunKey, faulty: tuple[FaultyCut, ...]) -> TracedRun:
    feeding, course = nominal.feedings[key], nominal.courses[key]
    return TracedRun(
        strand_no=key[0],
        run_no=key[1],
        form=feeding.run.form,
        s_end=feeding.s_end,
        ended=feeding.ended,
        in_machine_from_m=nominal.cut_strands[key].in_machine_from_m,
        stop_marks_m=tuple(stop.place_m for stop in stop_marks(feeding)),
        joints_m=tuple(step.place_m for step in course.steps if step.joint),
        strand_t=nominal.sections[key].tonnes(0.0, feeding.s_end),
        timeline=feeding.timeline,
        course=course,
        faulty_cuts=faulty,
    )


def _findings(
    nominal: _Pass, parts: Mapping[RunKey, tuple[TracedPart, ...]], checks: Sequence[RunCheck], rules: StrandRules
) -> list[Finding]:
    """Findings of tundishes, runs and parts, in that order."""
    found = [finding for tundish in nominal.tundishes for finding in tundish.findings]
    for key, feeding in nominal.feedings.items():
        found += feeding.findings
        found += _speed_findings(feeding, rules)
        if not nominal.courses[key].segments:
            step = "its cut rows make no parts; check started_at, speeds and feeds"
            found.append(Finding("strand-without-steel", run_words(feeding.run), "no metre cast", "a length", step))
        for part in parts[key]:
            found += _part_findings(part, rules)
    for check in checks:
        if check.scale is not None and abs(check.scale - 1.0) > rules.scale_look:
            subject = f"strand {check.strand_no} run {check.run_no}"
            seen = f"counter {check.counter_m:.3f} m over measured {check.measured_m:.3f} m = {check.scale:.5f}"
            distrust = abs(check.scale - 1.0) > rules.scale_distrust
            step = "stop trusting one of the two" if distrust else "look at the counter and the length measurement"
            found.append(Finding("length-scale", subject, seen, f"1 within {rules.scale_look:.1%}", step))
    return found


def _speed_findings(feeding: RunFeeding, rules: StrandRules) -> list[Finding]:
    run, timeline = feeding.run, feeding.timeline
    found = []
    for gap in timeline.gaps:
        if gap.how == BY_BRACKET:
            seen = f"no speed from minute {gap.start:g} to {gap.end:g}"
            step = f"taken between {gap.low:g} and {gap.high:g} m/min and carried as bounds"
            found.append(Finding("unknown-speed", run_words(run), seen, "a speed or counter readings", step))
    if run.speeds and len(run.counters) > 1:
        (t0, m0), (t1, m1) = min(run.counters), max(run.counters)
        counted, moved = m1 - m0, timeline.s_at(t1) - timeline.s_at(t0)
        if abs(counted - moved) > rules.scale_look * max(abs(moved), 1.0):
            seen = f"counter {counted:.3f} m, speed x time {moved:.3f} m"
            step = "positions follow the speeds; compare the two sheets"
            found.append(Finding("counter-against-speed", run_words(run), seen, f"within {rules.scale_look:.1%}", step))
    return found


def _part_findings(part: TracedPart, rules: StrandRules) -> list[Finding]:
    subject = f"strand {part.strand_no} run {part.run_no} cut {part.cut_no}"
    found = []
    if part.implied:
        seen = f"{part.length_hot_m:.3f} m of strand end without a cut row, past the torch"
        step = "an implied tail-crop was made; add the row with an empty clamped_at"
        found.append(Finding("implied-tail-crop", subject, seen, "a last cut row", step))
    if part.residual_mm is not None and abs(part.residual_mm) > rules.residual_look_mm:
        seen = f"measured length differs from the counter by {part.residual_mm:+.0f} mm"
        step = "look at the measurement"
        if abs(part.residual_mm) > rules.residual_distrust_mm:
            step = "a cut is wrong, missing or doubled; look at the rows before and after"
        found.append(Finding("length-residual", subject, seen, f"within {rules.residual_look_mm:g} mm", step))
    return found
