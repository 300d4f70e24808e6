"""The small plant: two heats of one grade on one strand.

41878 meets its grade; pieces S-1, S-2 are pure 41878, S-2 is marked by a level swing, S-3 is a transition of both, S-4
is pure 41879, whose carbon is above the limit.
"""

from __future__ import annotations

import pytest

from heattrace.store.work import begin_work
from tests.make import (
    make_analysis,
    make_event,
    make_grade,
    make_heat,
    make_piece,
    make_sample,
    make_sequence,
    make_temperature,
)


@pytest.fixture
def plant(store: str) -> str:
    """The small plant, its analyses entered by the laboratory."""
    with begin_work(store, by="L. Clerk", action="import", subject="plant") as work:
        edition = make_grade(work)
        one = make_heat(work, "41878", edition_id=edition)
        two = make_heat(work, "41879", edition_id=edition)
        sequence = make_sequence(work, heat_ids=(one, two))
        make_piece(work, "S-1", sequence_id=sequence, cut_no=1, from_m=1, to_m=7, shares={one: 1.0})
        make_piece(work, "S-2", sequence_id=sequence, cut_no=2, from_m=7, to_m=13, shares={one: 1.0})
        make_piece(
            work, "S-3", sequence_id=sequence, cut_no=3, from_m=13, to_m=19, cast_class="transition",
            shares={one: (0.9, 0.5, 0.1), two: (0.1, 0.5, 0.9)},
        )  # fmt: skip
        make_piece(work, "S-4", sequence_id=sequence, cut_no=4, from_m=19, to_m=25, shares={two: 1.0})
        make_event(work, sequence, "level-swing", from_m=8, to_m=9)
        make_analysis(work, make_sample(work, one), "C=0.18 Mn=1.44 S=0.008")
        make_analysis(work, make_sample(work, two), "C=0.23 Mn=1.44 S=0.008")
        for heat in (one, two):
            make_temperature(work, heat)
        work.commit()
    return store
