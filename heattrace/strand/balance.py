"""The mass balance of a cast, heat by heat, and counter metres against measured lengths, run by run."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

from heattrace.strand.course import StrandCourse
from heattrace.strand.cutting import CutStrand, Interval
from heattrace.strand.mixing import Shares
from heattrace.strand.record import HeatInfo, Run, StrandRules
from heattrace.strand.tank import add_up
from heattrace.strand.traced import CastBalance, HeatBalance, RunCheck, TracedPart
from heattrace.strand.tundish import TundishCourse

RunKey = tuple[int, int]


def _tonnes_in(course: StrandCourse, intervals: Sequence[Interval], width: int) -> Shares:
    rows = (course.tonnes(low, high) for low, high in intervals if high > low)
    return add_up((row for row in rows if row), width)


def balance_of(
    heats: Sequence[HeatInfo],
    tundishes: Sequence[TundishCourse],
    courses: Mapping[RunKey, StrandCourse],
    cut_strands: Mapping[RunKey, CutStrand],
    lengths: Mapping[RunKey, float],
    checks: Sequence[RunCheck],
) -> CastBalance:
    """Where every heat went [t].

    Per heat: initial + poured = left in the tundishes + pieces + crops (all that is no piece) + kerf + still in the
    machine + loss. Foreign metal is no heat's and stands apart in the run checks.

    Notes
    -----
    `closure_t` is what the equation leaves over; in the model it is rounding only.
    """
    n = len(heats)
    initial = add_up((tundish.initial for tundish in tundishes), n)
    left = add_up((tundish.left for tundish in tundishes), n)
    lost = add_up((tundish.lost for tundish in tundishes), n)
    pours = [pour for tundish in tundishes for pour in tundish.pours]
    poured = [math.fsum(pour.computed_t for pour in pours if pour.heat_id == heat.heat_id) for heat in heats]
    whole = [_tonnes_in(course, [(0.0, math.inf)], n) for course in courses.values()]
    strand = add_up(whole, n)
    where: dict[str, list[Shares]] = {"pieces": [], "crops": [], "kerf": [], "machine": []}
    for key, course in courses.items():
        cut = cut_strands[key]
        where["pieces"].append(_tonnes_in(course, cut.pieces_m, n))
        where["crops"].append(_tonnes_in(course, cut.crops_m, n))
        where["kerf"].append(_tonnes_in(course, cut.kerfs_m, n))
        if cut.in_machine_from_m is not None:
            where["machine"].append(_tonnes_in(course, [(cut.in_machine_from_m, lengths[key])], n))
    pieces, crops, kerf, machine = (add_up(where[name], n) for name in ("pieces", "crops", "kerf", "machine"))
    rows = []
    for i, heat in enumerate(heats):
        out = (left[i], pieces[i], crops[i], kerf[i], machine[i], lost[i])
        closure = math.fsum((initial[i], poured[i], *(-value for value in out)))
        rows.append(
            HeatBalance(
                heat_id=heat.heat_id,
                initial_t=initial[i],
                poured_t=poured[i],
                strand_t=strand[i],
                tundish_left_t=left[i],
                pieces_t=pieces[i],
                crops_t=crops[i],
                kerf_t=kerf[i],
                in_machine_t=machine[i],
                loss_t=lost[i],
                closure_t=closure,
            )
        )
    return CastBalance(
        heats=tuple(rows),
        runs=tuple(checks),
        strand_t=math.fsum(strand),
        liquid_t=math.fsum((*initial, *poured)),
        reading_residual_t={tundish.label: tundish.reading_residual_t for tundish in tundishes},
    )


def run_check(run: Run, cut: CutStrand, parts: Sequence[TracedPart], rules: StrandRules) -> RunCheck:
    """Counter against measured lengths of one run, between its first and its last believed cut, kerfs in.

    scale = counter metres / (sum of measured hot lengths + kerfs). Where some parts were not measured both sides leave
    them out. `look` beyond `scale_look` or a residual beyond `residual_look_mm`, `distrust` beyond the second pair:
    stop trusting one of the two. The scale is reported, never used to stretch positions.
    """
    foreign = math.fsum((row.foreign_mass_kg or 0.0) / 1000.0 for row in run.cuts)
    places = [
        part.tail_cut.place_m
        for part in cut.parts
        if part.tail_cut is not None and part.tail_cut.believed and part.tail_cut.place_m is not None
    ]
    kerf = run.kerf_mm / 1000.0
    pairs = [
        (after.to_m - before.to_m, after.cut.measured_length_m + kerf)
        for before, after in pairwise(cut.parts)
        if after.cut.measured_length_m is not None
        and not (before.joined or after.joined or after.doubts or before.doubts)
        and before.tail_cut is not None
        and after.tail_cut is not None
    ]
    if not pairs:
        counter = places[-1] - places[0] if len(places) > 1 else 0.0
        return RunCheck(run.strand_no, run.run_no, foreign, counter, None, None, "not-measured")
    counter, measured = math.fsum(pair[0] for pair in pairs), math.fsum(pair[1] for pair in pairs)
    scale = counter / measured if measured > 0.0 else None
    off = abs(scale - 1.0) if scale is not None else math.inf
    residual = max((abs(part.residual_mm) for part in parts if part.residual_mm is not None), default=0.0)
    if off > rules.scale_distrust or residual > rules.residual_distrust_mm:
        flag = "distrust"
    elif off > rules.scale_look or residual > rules.residual_look_mm:
        flag = "look"
    else:
        flag = "ok"
    return RunCheck(run.strand_no, run.run_no, foreign, counter, measured, scale, flag)
