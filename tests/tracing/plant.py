"""A cast that traces are tried on: two heats of one grade on one strand, a transition, an event, orders, a load.

Shares, contents and limits are chosen so that every mixture can be checked by hand:
heat 41878: C 0.18, Mn 1.40, S 0.008, N <0.0020 (spark);   heat 41879: C 0.22, Mn 1.50, S 0.010, N 0.0060.
Limits of the grade: C max 0.20, Mn max 1.60, S max 0.030.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

from heattrace.store.work import begin_work
from tests.make import (
    make_alias,
    make_analysis,
    make_cast_analysis,
    make_decision,
    make_dispatch,
    make_earlier_piece,
    make_event,
    make_grade,
    make_heat,
    make_hold,
    make_order_line,
    make_parentage,
    make_piece,
    make_sample,
    make_sequence,
    make_temperature,
    make_weight,
    moment,
)

GRADE = "EN 10025-2:2004 S355J2"
MIXED = [{"code": "mixed", "words": "two heats from 41.2 m on", "from_um": 41_200_000, "to_um": 42_000_000}]


@dataclass(frozen=True)
class Plant:
    """Path of the database, keys of its heats, parts and order line."""

    db: str
    first: int
    second: int
    parts: dict[str, int]
    line: int
    sequence: int


def make_plant(store: str) -> Plant:
    """The cast as the works knows it some days later, written by several people."""
    parts: dict[str, int] = {}
    with begin_work(store, by="L. Clerk", action="import", subject="cast book 300") as work:
        edition = make_grade(work)
        line = make_order_line(work, edition)
        first = make_heat(work, "41878", edition_id=edition, order_line_id=line)
        second = make_heat(work, "41879", edition_id=edition, order_line_id=line)
        sequence = make_sequence(work, "300", heat_ids=(first, second))
        spark = make_analysis(work, make_sample(work, first, "41878-T1"), "C=0.18 Mn=1.40 S=0.008 N=<0.0020")
        make_analysis(work, make_sample(work, second, "41879-T1"), "C=0.22 Mn=1.50 S=0.010 N=0.0060")
        make_analysis(work, make_sample(work, first, "41878-E1", kind="tundish-early"), "C=0.15", state="doubtful")
        make_temperature(work, first, "1548.5")
        make_temperature(work, second, "1551", read_at=moment("08:10"))
        parts["S300-1-07"] = make_piece(
            work, "S300-1-07", sequence_id=sequence, cut_no=7, shares={first: 1.0}, measured_length_m="6.00",
            mass_kg="3042.5", stop_marks_m=(31.5,),
        )  # fmt: skip
        parts["S300-1-08"] = make_piece(
            work, "S300-1-08", sequence_id=sequence, cut_no=8, from_m=36.01, to_m=42.01, cast_class="transition",
            shares={first: (0.75, 0.5, 0.25), second: (0.25, 0.5, 0.75)}, reasons=MIXED, heat_no_rule="late",
            heat_id=second,
        )  # fmt: skip
        parts["S300-1-09"] = make_piece(
            work, "S300-1-09", sequence_id=sequence, cut_no=9, from_m=42.02, to_m=48.02,
            shares={first: (0.04, 0.02, 0.01), second: (0.96, 0.98, 0.99)},
        )  # fmt: skip
        parts["crop"] = make_piece(
            work, None, sequence_id=sequence, cut_no=1, kind="head-crop", from_m=0, to_m=2, shares={first: 1.0}
        )
        make_event(work, sequence, from_m=37.0, to_m=38.5, from_at=moment("08:20"), to_at=moment("08:22"))
        parts["OLD-1"] = make_earlier_piece(work, "OLD-1", [first])
        work.commit()
    with begin_work(store, by="A. Weber", action="release", subject="41878") as work:
        frozen = make_cast_analysis(work, first, dict.fromkeys(("C", "Mn", "S", "N"), spark))
        make_decision(
            work, requirement="4711/1", heat_id=first, order_line_id=line, edition_id=edition, cast_analysis_id=frozen
        )
        work.commit()
    with begin_work(store, by="F. Berg", action="hold", subject="41879") as work:
        make_hold(work, heat_id=second, reason="CHEM-HIGH", note="carbon 0.22", lift_on="analysis:C", by="F. Berg")
        work.commit()
    with begin_work(store, by="D. Lang", action="piece dispatch", subject="DN-900") as work:
        make_dispatch(work, [parts["S300-1-07"]], order_line_id=line)
        make_alias(work, parts["S300-1-07"], "HF-2217")
        make_weight(work, parts["S300-1-07"], "3040")
        child = parts["S300-1-09-A"] = make_piece(work, "S300-1-09-A", origin="recut")
        make_parentage(work, parts["S300-1-09"], child, position="head")
        work.commit()
    return Plant(store, first, second, parts, line, sequence)


def reasons_text() -> str:
    """The class reasons of the transition piece as stored."""
    return json.dumps(MIXED)
