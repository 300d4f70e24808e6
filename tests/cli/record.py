"""A small record that the commands on heats, samples and judging are tried on."""

from __future__ import annotations

from dataclasses import dataclass

from heattrace.store.work import begin_work
from tests.make import (
    make_addition,
    make_analysis,
    make_heat,
    make_hold,
    make_order_line,
    make_piece,
    make_sample,
    make_sequence,
    make_shipped_grade,
    make_temperature,
    moment,
)

CHEM = "C=0.19 Mn=1.45 Si=0.25 P=0.015 S=0.008 Cu=0.15 Ni=0.08 Cr=0.06 Mo=0.01 V=<0.002 Al=0.030 N=0.0080"
NEXT_CHEM = "C=0.17 Mn=1.40 Si=0.25 P=0.015 S=0.008 Cu=0.15 Ni=0.08 Cr=0.06 Mo=0.01 V=<0.002 Al=0.030 N=0.0080"


@dataclass(frozen=True)
class Works:
    """Path of the database, and keys of what it holds."""

    db: str
    first: int
    second: int


def make_works(store: str) -> Works:
    """Two heats of S355J2 cast together, a plain piece, one ordered thicker, and one between the heats."""
    with begin_work(store, by="T. Test", action="test", subject="works") as work:
        grade = make_shipped_grade(work, "EN 10025-2:2004 S355J2")
        sizes = {"1": "20", "2": "50"}
        lines = [make_order_line(work, grade, line=n, form="plate", thickness_mm=t) for n, t in sizes.items()]
        first = make_heat(work, "41878", edition_id=grade, order_line_id=lines[0], evidence="fine-grain")
        second = make_heat(work, "41879", edition_id=grade, order_line_id=lines[0])
        sample = make_sample(work, first, "41878-T1")
        make_analysis(work, sample, CHEM)
        make_analysis(work, sample, "C=0.20 S=0.008", state="contested", analysed_at=moment("09:00"))
        make_analysis(work, make_sample(work, second, "41879-T1"), NEXT_CHEM)
        make_temperature(work, first, "1548.5")
        make_temperature(work, first, "1601", place="ladle-lift", tundish=None, read_at=moment("06:40"))
        make_addition(work, first, mass_kg="120.50", added_at=moment("06:30"))
        sequence = make_sequence(work, heat_ids=(first, second))
        make_piece(work, "S300-1-07", sequence_id=sequence, cut_no=7, shares={first: 1.0})
        make_piece(
            work, "S300-1-08", sequence_id=sequence, cut_no=8, from_m=36.01, to_m=42, cast_class="transition",
            shares={first: (0.9, 0.5, 0.2), second: (0.1, 0.5, 0.8)}, heat_no_rule="late", heat_id=second,
        )  # fmt: skip
        make_piece(
            work, "S300-1-09", sequence_id=sequence, cut_no=9, from_m=42.01, to_m=48, shares={first: 1.0},
            order_line_id=lines[1],
        )  # fmt: skip
        make_hold(work, heat_id=first, reason="CHEM-HIGH", note="carbon equivalent")
        work.commit()
    return Works(store, first, second)
