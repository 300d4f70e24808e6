"""What holds for every cast, tried on 300 random ones."""

from __future__ import annotations

import math
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from heattrace.strand.cast import trace_cast
from tests.strand.random_casts import MACHINE_M, metres, random_cast


def area_m2(run) -> float:
    factor = math.pi / 4.0 if run.form == "round" else 1.0
    return factor * run.thickness_mm * run.width_mm * 1e-6


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.integers(0, 10**9))
def test_shares_sum_to_one_and_every_tonne_is_accounted_for(seed):
    cast = random_cast(seed)
    traced = trace_cast(cast)
    for part in traced.parts:
        for kind in ("mean", "head", "tail"):
            assert abs(math.fsum(getattr(share, kind) for share in part.shares) - 1.0) < 1e-12
        for share in part.shares:
            assert -1e-15 <= share.least <= share.mean + 1e-9
            assert share.mean - 1e-9 <= share.greatest <= 1.0 + 1e-15
            assert share.least <= min(share.head, share.tail)
            assert share.greatest >= max(share.head, share.tail)
        assert part.meniscus_from <= part.meniscus_to

    strand_t = 0.0
    for run in cast.runs:
        # mu x s_end, with S added up apart from the code: 7.85 x cold area / 1.0118 (EN 1993-1-2 at 900 degree C)
        last = max(run.feeds, key=lambda feed: feed.start)
        s_end = metres(run.speeds, run.started, cast.last_time if last.to is None else last.to)
        whole = 7.85 * area_m2(run) / 1.0118 * s_end
        strand_t += whole
        found = traced.run(*run.key)
        assert abs(found.s_end - s_end) < 1e-9
        assert abs(math.fsum(found.course.tonnes(0.0, math.inf)) - whole) < 1e-9
        for cut in run.cuts:
            if cut.clamped is None:
                continue
            part = next(part for part in traced.parts if part.key == (*run.key, cut.cut_no))
            place = metres(run.speeds, run.started, cut.clamped) - MACHINE_M
            assert abs(part.to_m - (place - 0.005)) < 1e-6
        parts = [part for part in traced.parts if (part.strand_no, part.run_no) == run.key]
        for before, after in pairwise(parts):
            assert abs(after.from_m - before.to_m - 0.010) < 1e-6 or after.from_m == s_end
    assert abs(math.fsum(row.strand_t for row in traced.balance.heats) - strand_t) < 1e-8
    for row in traced.balance.heats:
        assert abs(row.closure_t) < 1e-9
        used = row.pieces_t + row.crops_t + row.kerf_t + row.in_machine_t
        assert abs(used - row.strand_t) < 1e-9
    for label in {pour.tundish for pour in traced.pours}:
        assert all(pour.computed_t >= 0.0 for pour in traced.pours if pour.tundish == label)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.integers(0, 10**9))
def test_part_means_are_the_average_of_samples_along_the_part(seed):
    traced = trace_cast(random_cast(seed))
    for part in traced.parts[:: max(1, len(traced.parts) // 4)]:
        course = traced.run(part.strand_no, part.run_no).course
        width = part.to_m - part.from_m
        if width < 0.01:
            continue
        count = 2000
        samples = [course.shares_at(part.from_m + width * (k + 0.5) / count) for k in range(count)]
        for i, share in enumerate(part.shares):
            column = [sample[i] for sample in samples]
            assert abs(math.fsum(column) / count - share.mean) < 2e-3
            assert min(column) >= share.least - 1e-9
            assert max(column) <= share.greatest + 1e-9
