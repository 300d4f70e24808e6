"""Qualities from the record: what lies on parts is gathered in few questions, and weighed by the same rules."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import pytest

from heattrace.store.engine import open_reader
from heattrace.store.reader import Reader
from heattrace.store.work import begin_work
from heattrace.tracing.pieces import Asked, list_pieces
from heattrace.tracing.qualities import (
    qualities_of_heats,
    qualities_of_parts,
    standing_of_parts,
)
from heattrace.tracing.quality import HELD, RELEASED, UNDECIDED
from tests.make import (
    make_analysis,
    make_decision,
    make_event,
    make_grade,
    make_heat,
    make_hold,
    make_order_line,
    make_parentage,
    make_piece,
    make_sample,
    make_sequence,
)

GRADE = "EN 10025-2:2004 S355J2"


@pytest.fixture
def works(store: str) -> dict[str, Any]:
    """Two released heats of one grade, C 0.18 and 0.22 (max 0.20); pieces with 0, 1, 3, 5 and 60 % of the second."""
    with begin_work(store, by="L. Clerk", action="import", subject="x") as work:
        edition = make_grade(work)
        first, second = (make_heat(work, n, edition_id=edition) for n in ("41878", "41879"))
        make_analysis(work, make_sample(work, first), "C=0.18 Mn=1.4 S=0.01")
        make_analysis(work, make_sample(work, second), "C=0.22 Mn=1.4 S=0.01")
        sequence = make_sequence(work, heat_ids=(first, second))
        parts = {}
        for n, share in enumerate((0.0, 0.01, 0.03, 0.05, 0.6)):
            shares = {first: 1 - share, second: share} if share else {first: 1.0}
            parts[share] = make_piece(
                work, f"P{n}", sequence_id=sequence, cut_no=n + 1, from_m=n * 6.0, to_m=n * 6.0 + 5.99, shares=shares
            )
        work.commit()
    with begin_work(store, by="A. Weber", action="release", subject="x") as work:
        for heat in (first, second):
            make_decision(work, requirement=GRADE, heat_id=heat)
        work.commit()
    return {"db": store, "first": first, "second": second, "parts": parts, "sequence": sequence, "edition": edition}


def lay(works: dict[str, Any], **hold: Any) -> int:
    with begin_work(works["db"], by="F. Berg", action="hold", subject="x") as work:
        number = make_hold(work, **hold)
        work.commit()
    return number


def values(works: dict[str, Any]) -> dict[float, str]:
    with open_reader(works["db"]) as reader:
        found = qualities_of_parts(reader, works["parts"].values())
    return {share: found[part].value for share, part in works["parts"].items()}


def test_released_heats_free_their_plain_parts(works: dict[str, Any]) -> None:
    assert set(values(works).values()) == {RELEASED}


@pytest.mark.parametrize(
    ("reason", "held"),
    [
        ("LADLE-WAIT", {0.01, 0.03, 0.05, 0.6}),
        ("SUPERHEAT-LOW", {0.01, 0.03, 0.05, 0.6}),
        # By hand: 0.97 x 0.18 + 0.03 x 0.22 = 0.1812, rounds to 0.18: meets, so the floor of chemistry decides.
        ("CHEM-HIGH", {0.05, 0.6}),
        ("SAMPLE-POROUS", {0.05, 0.6}),
        ("BURN-SCATTER", {0.05, 0.6}),
    ],
)
def test_hold_on_a_heat_reaches_by_share_and_reason(works: dict[str, Any], reason: str, held: set[float]) -> None:
    lay(works, heat_id=works["second"], reason=reason)
    assert {share for share, value in values(works).items() if value == HELD} == held


def test_chemistry_hold_reaches_a_small_share_where_the_mixture_fails_by_it(works: dict[str, Any]) -> None:
    """Carbon 1.10 of the second heat: 0.97 x 0.18 + 0.03 x 1.10 = 0.2076, above 0.20; 0.99 and 0.01: 0.1892, below."""
    with begin_work(works["db"], by="L. Clerk", action="import", subject="late") as work:
        make_analysis(work, make_sample(work, works["second"], "early", taken_at=1), "C=1.10 Mn=1.4 S=0.01")
        work.commit()
    lay(works, heat_id=works["second"], reason="CHEM-HIGH")
    assert {share for share, value in values(works).items() if value == HELD} == {0.03, 0.05, 0.6}


def test_chemistry_hold_on_the_sound_heat_is_not_blamed_for_the_other(works: dict[str, Any]) -> None:
    """A small share of a sound heat in a piece that fails by its main heat: the hold on the sound one stays off."""
    with begin_work(works["db"], by="L. Clerk", action="import", subject="x") as work:
        shares = {works["first"]: 0.03, works["second"]: 0.97}
        part = make_piece(work, "Q1", sequence_id=works["sequence"], cut_no=9, from_m=60, to_m=66, shares=shares)
        work.commit()
    lay(works, heat_id=works["first"], reason="CHEM-LOW")
    with open_reader(works["db"]) as reader:
        assert qualities_of_parts(reader, [part])[part].value == RELEASED


def test_works_values_move_the_floors(works: dict[str, Any]) -> None:
    from heattrace.schema.people import WorksValue

    lay(works, heat_id=works["second"], reason="LADLE-WAIT")
    with begin_work(works["db"], by="A. Weber", action="works set", subject="hold-reach") as work:
        work.add(WorksValue(name="hold-reach", scope="", edition=1, value="0.04", reason="tried"))
        work.commit()
    found = values(works)
    assert {share for share, value in found.items() if value == HELD} == {0.05, 0.6}
    with open_reader(works["db"]) as reader:
        held = qualities_of_parts(reader, [works["parts"][0.05]])[works["parts"][0.05]]
    assert "reaches from 0.04" in held.because


def test_hold_on_metres_lies_on_the_parts_it_overlaps_and_not_on_their_neighbours(works: dict[str, Any]) -> None:
    """P1 lies from 6.00 to 11.99 m: an interval that ends at 6.00 m or begins at 11.99 m touches it and no more."""
    lay(works, interval=(works["sequence"], 1, 1, 11.99, 12.5), reason="LEVEL")
    lay(works, interval=(works["sequence"], 1, 1, 5.99, 6.0), reason="LEVEL")
    lay(works, interval=(works["sequence"], 2, 1, 0, 60), reason="LEVEL")
    assert {share for share, value in values(works).items() if value == HELD} == {0.03}


def test_event_that_wants_a_check_leaves_its_parts_undecided_other_events_do_not(works: dict[str, Any]) -> None:
    with begin_work(works["db"], by="F. Berg", action="event add", subject="x") as work:
        make_event(work, works["sequence"], "nozzle-clog", from_m=7, to_m=13)
        make_event(work, works["sequence"], "speed-change", from_m=0, to_m=40)
        # A mark of no length counts on the part it lies in: 24.0 m is the head of the last one.
        make_event(work, works["sequence"], "level-swing", from_m=24.0, to_m=24.0)
        work.commit()
    assert {share for share, value in values(works).items() if value == UNDECIDED} == {0.01, 0.03, 0.6}


def test_decision_on_the_piece_ends_the_doubt_of_an_event(works: dict[str, Any]) -> None:
    part = works["parts"][0.01]
    with begin_work(works["db"], by="F. Berg", action="event add", subject="x") as work:
        make_event(work, works["sequence"], "nozzle-clog", from_m=7, to_m=8)
        work.commit()
    with begin_work(works["db"], by="A. Weber", action="release", subject="P1") as work:
        make_decision(work, requirement=GRADE, part_id=part)
        make_decision(work, "number", requirement=GRADE, part_id=part)
        work.commit()
    assert values(works)[0.01] == RELEASED


def test_hold_on_a_part_follows_it_into_what_is_made_of_it(works: dict[str, Any]) -> None:
    with begin_work(works["db"], by="D. Lang", action="piece recut", subject="P0") as work:
        child = make_piece(work, "P0-A", origin="recut")
        make_parentage(work, works["parts"][0.0], child)
        grandchild = make_piece(work, "P0-A-1", origin="rolled")
        make_parentage(work, child, grandchild, manner="rolled")
        work.commit()
    lay(works, part_ids=[works["parts"][0.0]], reason="LAP")
    with open_reader(works["db"]) as reader:
        standing = standing_of_parts(reader, [child, grandchild])
    assert {len(part.holds) for part in standing.parts.values()} == {1}
    assert "a part it was made from" in standing.parts[grandchild].holds[0].scope


def test_heat_is_weighed_for_every_requirement_it_answers_for(works: dict[str, Any]) -> None:
    with begin_work(works["db"], by="L. Clerk", action="import", subject="orders") as work:
        line = make_order_line(work, works["edition"])
        make_piece(
            work, "O1", sequence_id=works["sequence"], cut_no=9, from_m=60, to_m=66, shares={works["first"]: 1.0},
            order_line_id=line,
        )  # fmt: skip
        work.commit()
    with open_reader(works["db"]) as reader:
        found = qualities_of_heats(reader, [works["first"]])[works["first"]]
    assert {uses.text: q.value for uses, q in found.items() if uses} == {GRADE: RELEASED, "4711/1": UNDECIDED}


@pytest.fixture
def many(store: str) -> Iterator[Reader]:
    with begin_work(store, by="L. Clerk", action="import", subject="many") as work:
        heats = [make_heat(work, f"4200{n}", edition_id=make_grade(work, f"G{n}")) for n in range(3)]
        sequence = make_sequence(work, heat_ids=heats, strands=(1, 2, 3, 4, 5))
        for n in range(600):
            shares = {heats[n % 3]: 0.9, heats[(n + 1) % 3]: 0.1}
            make_piece(
                work, f"M{n:03d}", sequence_id=sequence, strand_no=n % 5 + 1, cut_no=n // 5 + 1, from_m=n // 5 * 6.0,
                to_m=n // 5 * 6.0 + 5.99, shares=shares,
            )  # fmt: skip
        make_hold(work, heat_id=heats[0], reason="LADLE-WAIT")
        work.commit()
    with open_reader(store) as reader:
        yield reader


class Counting(Reader):
    asked = 0

    def cursor(self, sql: str, parameters: dict[str, Any]) -> Any:
        Counting.asked += 1
        return super().cursor(sql, parameters)


def test_six_hundred_parts_take_few_questions_and_well_under_a_second(many: Reader) -> None:
    Counting.asked = 0
    reader = Counting(many.connection)
    begin = time.perf_counter()
    listed = list(list_pieces(reader, Asked(sequence="S-300")))
    taken = time.perf_counter() - begin
    assert len(listed) == 600
    assert Counting.asked < 60
    assert taken < 0.8
    assert {line.quality.value for line in listed} == {HELD, UNDECIDED}
