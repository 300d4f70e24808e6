"""Both worked casts of cases/worked_casts.json in full.

Source of the expected values: worked scenarios A and E of the strand model, each checked there four ways (closed form
against an ODE solver, piece integrals against sampling, closure on the liquid and the strand side, a time-marched
parcel simulation). In the file `pure H1` is class pure, `crop_head` and `crop_tail` are head-crop and tail-crop.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.traced import TracedCast
from tests.strand.scenario_casts import KINDS, cast_of, scenario

NAMES = ("A_steady_one_exchange", "E_stop_and_restart")
PIECES = [
    pytest.param(name, row, id=f"{name[0]}-{row['strand']}-{row['no']}")
    for name in NAMES
    for row in scenario(name)["expected"]["pieces"]
]


@cache
def traced(name: str) -> TracedCast:
    return trace_cast(cast_of(name))


@pytest.mark.parametrize(("name", "expected"), PIECES)
def test_every_part_has_the_worked_place_time_mass_and_shares(name, expected):
    part = next(part for part in traced(name).parts if part.key == (expected["strand"], 1, expected["no"]))
    assert part.kind == KINDS[expected["kind"]]
    for key, seen in (("sigma_head", part.from_m), ("sigma_tail", part.to_m), ("len_hot", part.length_hot_m)):
        assert seen == pytest.approx(expected[key], abs=1e-6)
    assert part.length_cold_m == pytest.approx(expected["len_cold"], abs=1e-6)
    assert part.mass_t == pytest.approx(expected["mass"], abs=1e-6)
    assert part.meniscus_from == pytest.approx(expected["t_head"], abs=1e-6)
    assert part.meniscus_to == pytest.approx(expected["t_tail"], abs=1e-6)
    assert part.clamped == expected["t_cut"]
    for heat in ("H1", "H2"):
        share = part.share_of(heat)
        assert share.mean == pytest.approx(expected["mean"][heat], abs=1e-6)
        assert share.head == pytest.approx(expected["head"][heat], abs=1e-6)
        assert share.tail == pytest.approx(expected["tail"][heat], abs=1e-6)
    assert part.stop_marks_m == pytest.approx(expected["stop_marks"], abs=1e-6)
    assert (part.majority_heat, part.late_heat) == (expected["heat_majority"], expected["heat_late"])
    seen_class = f"pure {part.heat}" if part.class_ == "pure" else part.class_
    assert seen_class == expected["class"]


@pytest.mark.parametrize("name", NAMES)
def test_there_are_as_many_parts_as_worked(name):
    assert len(traced(name).parts) == len(scenario(name)["expected"]["pieces"])


@pytest.mark.parametrize("name", NAMES)
def test_every_heat_has_the_worked_balance(name):
    expected = scenario(name)["expected"]["balance"]
    for row in traced(name).balance.heats:
        heat = row.heat_id
        assert row.initial_t == pytest.approx(expected["initial"][heat], abs=1e-9)
        assert row.poured_t == pytest.approx(expected["poured"][heat], abs=1e-9)
        assert row.strand_t == pytest.approx(expected["strand"][heat], abs=1e-9)
        assert row.tundish_left_t == pytest.approx(expected["tundish_left"][heat], abs=1e-9)
        assert row.pieces_t + row.crops_t == pytest.approx(expected["pieces_and_crops"][heat], abs=1e-9)
        assert row.kerf_t == pytest.approx(expected["kerf"][heat], abs=1e-9)
        assert row.in_machine_t == pytest.approx(expected["in_machine"][heat], abs=1e-9)
        assert abs(row.closure_t) < 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_tundish_has_the_worked_mass_and_shares_at_every_knot(name):
    expected = scenario(name)["expected"]
    course = traced(name).run(1, 1).course
    by_end = {segment.tank.t1: segment.tank for segment in course.segments}
    checked = 0
    for (t, mass), (_, shares) in zip(
        expected["tundish_mass"]["T1"], expected["tundish_share_at_knots"]["T1"], strict=True
    ):
        tank = by_end.get(t)
        if tank is not None:
            assert tank.mass_at(t) == pytest.approx(mass, abs=1e-6)
            assert tank.at(t) == pytest.approx((shares["H1"], shares["H2"]), abs=1e-6)
            checked += 1
    assert checked >= 2


@pytest.mark.parametrize("name", NAMES)
def test_shares_of_every_part_sum_to_one_before_rounding(name):
    for part in traced(name).parts:
        for kind in ("mean", "head", "tail"):
            assert sum(getattr(share, kind) for share in part.shares) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_a_steady_book_has_no_findings(name):
    assert traced(name).findings == ()


@pytest.mark.parametrize("name", NAMES)
def test_the_order_of_the_rows_changes_nothing(name):
    cast = cast_of(name)
    turned = replace(
        cast,
        heats=cast.heats[::-1],
        pours=cast.pours[::-1],
        tundishes=tuple(replace(row, readings=row.readings[::-1]) for row in cast.tundishes),
        runs=tuple(replace(run, cuts=run.cuts[::-1], speeds=run.speeds[::-1]) for run in reversed(cast.runs)),
    )
    again = trace_cast(turned)
    assert again.parts == traced(name).parts
    assert again.balance == traced(name).balance


@pytest.mark.parametrize("name", NAMES)
def test_times_kept_in_whole_milliseconds_change_nothing_that_matters(name):
    def kept(t):
        return None if t is None else round(t * 60_000) / 60_000

    cast = cast_of(name)
    stored = replace(
        cast,
        pours=tuple(replace(row, opened=kept(row.opened), closed=kept(row.closed)) for row in cast.pours),
        tundishes=tuple(
            replace(row, readings=tuple((kept(t), round(m, 3)) for t, m in row.readings)) for row in cast.tundishes
        ),
        runs=tuple(
            replace(run, cuts=tuple(replace(cut, clamped=kept(cut.clamped)) for cut in run.cuts)) for run in cast.runs
        ),
    )
    for before, after in zip(traced(name).parts, trace_cast(stored).parts, strict=True):
        assert after.from_m == pytest.approx(before.from_m, abs=1e-3)
        assert after.to_m == pytest.approx(before.to_m, abs=1e-3)
        assert after.meniscus_from == pytest.approx(before.meniscus_from, abs=0.01)
        assert after.meniscus_to == pytest.approx(before.meniscus_to, abs=0.01)
        for one, other in zip(before.shares, after.shares, strict=True):
            assert other.mean == pytest.approx(one.mean, abs=1e-5)
        assert after.class_ == before.class_
