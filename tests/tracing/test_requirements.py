"""What a heat or a part is judged and decided for, and what an order line asks."""

from __future__ import annotations

from contextlib import AbstractContextManager
from decimal import Decimal

import pytest

from heattrace.errors import Ambiguous, NotFound
from heattrace.intake.grade_book import shipped_grades
from heattrace.intake.loading.load_grade_book import load_shipped_grade_book
from heattrace.schema.grades import Assignment, Edition, GradeLimit, OrderLimit
from heattrace.store.engine import open_reader
from heattrace.store.work import Work, begin_work
from heattrace.tracing.grades import find_requirement, grade_named, known_grades
from heattrace.tracing.requirements import (
    heat_requirements,
    heats_wanted,
    part_requirement,
    parts_wanted,
)
from tests.make import make_earlier_piece, make_grade, make_heat, make_order_line, make_piece, make_sequence

S355 = "EN 10025-2:2004 S355J2"
S275 = "EN 10025-2:2004 S275J2"


def written(store: str) -> AbstractContextManager[Work]:
    return begin_work(store, by="T. Test", action="test", subject="requirements")


def wanted_of_heat(store: str, heat_id: int) -> list[str]:
    with open_reader(store) as reader:
        return [wanted.text for wanted in heats_wanted(reader, [heat_id])[heat_id]]


def wanted_of_part(store: str, part_id: int) -> str | None:
    with open_reader(store) as reader:
        wanted = parts_wanted(reader, [part_id])[part_id]
    return None if wanted is None else wanted.text


def test_heat_without_pieces_answers_for_its_own_order_line(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work)
        heat = make_heat(work, edition_id=grade, order_line_id=make_order_line(work, grade))
        bare = make_heat(work, "41879", edition_id=grade)
        nothing = make_heat(work, "41880")
        work.commit()
    assert wanted_of_heat(store, heat) == ["4711/1"]
    assert wanted_of_heat(store, bare) == [S355]
    assert wanted_of_heat(store, nothing) == []


def test_heat_answers_for_every_order_line_of_its_pieces(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work)
        lines = [make_order_line(work, grade, line=n) for n in ("1", "2", "3")]
        heat = make_heat(work, edition_id=grade, order_line_id=lines[0])
        sequence = make_sequence(work, heat_ids=(heat,))
        for cut, line in ((1, None), (2, lines[1]), (3, lines[1])):
            make_piece(work, f"P{cut}", sequence_id=sequence, cut_no=cut, shares={heat: 1.0}, order_line_id=line)
        crop = {"kind": "head-crop", "cut_no": 4, "order_line_id": lines[2]}
        make_piece(work, None, sequence_id=sequence, shares={heat: 1.0}, **crop)
        work.commit()
    assert wanted_of_heat(store, heat) == ["4711/1", "4711/2"]


def test_piece_put_to_an_order_line_later_leaves_the_line_its_cut_named(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work)
        lines = [make_order_line(work, grade, line=n) for n in ("1", "2")]
        heat = make_heat(work, edition_id=grade)
        sequence = make_sequence(work, heat_ids=(heat,))
        piece = make_piece(work, sequence_id=sequence, shares={heat: 1.0}, order_line_id=lines[0])
        work.add(Assignment(part_id=piece, order_line_id=lines[1]))
        work.commit()
    assert wanted_of_part(store, piece) == "4711/2"
    assert wanted_of_heat(store, heat) == ["4711/2"]


def test_piece_that_holds_a_share_brings_its_line_only_within_one_grade(store: str) -> None:
    """A piece across a grade change is decided by itself: its line is no requirement of the heat before."""
    with written(store) as work:
        grade, other = make_grade(work), make_grade(work, "S275J2")
        same = make_order_line(work, grade, line="1")
        changed = make_order_line(work, other, order_no="4712")
        first = make_heat(work, "41878", edition_id=grade)
        second = make_heat(work, "41879", edition_id=grade, order_line_id=same)
        third = make_heat(work, "41880", edition_id=other, order_line_id=changed)
        sequence = make_sequence(work, heat_ids=(first, second, third))
        make_piece(work, "P1", sequence_id=sequence, cut_no=1, shares={first: 1.0})
        late = {"sequence_id": sequence, "cast_class": "transition", "heat_no_rule": "late"}
        make_piece(work, "P2", cut_no=2, shares={first: 0.04, second: 0.96}, heat_id=second, **late)
        make_piece(work, "P3", cut_no=3, shares={first: 0.02, third: 0.98}, heat_id=third, **late)
        make_piece(work, "P4", sequence_id=sequence, cut_no=4, shares={first: 0.009, second: 0.991})
        work.commit()
    assert wanted_of_heat(store, first) == [S355, "4711/1"]
    assert wanted_of_heat(store, third) == ["4712/1"]


def test_transition_piece_of_one_planned_grade_has_that_grade_and_no_order(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work)
        line = make_order_line(work, grade)
        heats = [make_heat(work, no, edition_id=grade, order_line_id=line) for no in ("41878", "41879")]
        sequence = make_sequence(work, heat_ids=heats)
        shares = {heats[0]: 0.5, heats[1]: 0.5}
        piece = make_piece(work, sequence_id=sequence, shares=shares, cast_class="transition")
        work.commit()
    assert wanted_of_part(store, piece) == S355


def test_transition_piece_between_two_grades_has_no_requirement(store: str) -> None:
    with written(store) as work:
        grades = [make_grade(work), make_grade(work, "S275J2")]
        heats = [make_heat(work, f"4187{n}", edition_id=grade) for n, grade in enumerate(grades)]
        sequence = make_sequence(work, heat_ids=heats)
        shares = {heats[0]: 0.5, heats[1]: 0.5}
        piece = make_piece(work, "P1", sequence_id=sequence, cut_no=1, shares=shares, cast_class="transition")
        trace = {heats[0]: 0.005, heats[1]: 0.995}
        nearly = make_piece(work, "P2", sequence_id=sequence, cut_no=2, shares=trace, cast_class="undetermined")
        work.commit()
    assert wanted_of_part(store, piece) is None
    assert wanted_of_part(store, nearly) == S275


def test_piece_from_before_the_record_bears_its_one_heat(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work)
        line = make_order_line(work, grade)
        heats = [make_heat(work, no, edition_id=grade, order_line_id=line) for no in ("300", "301")]
        one, two = make_earlier_piece(work, "OLD-1", heats[:1]), make_earlier_piece(work, "OLD-2", heats)
        work.commit()
    assert wanted_of_part(store, one) == "4711/1"
    assert wanted_of_part(store, two) == S355


def test_order_line_carries_product_options_evidence_and_limits(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work)
        line = make_order_line(
            work, grade, form="plate", thickness_mm="12.5", options="copper; silicon-control", evidence="fine-grain",
            area_mm2="900", flange_mm="9",
        )  # fmt: skip
        work.add(
            OrderLimit(
                order_line_id=line, basis="cast", size_band_mm="all", quantity="Cu+10Sn", max_text="0.60",
                unit="mass %", rounding="absolute",
            )
        )  # fmt: skip
        heat = make_heat(work, edition_id=grade, order_line_id=line, evidence="nitrogen-binders")
        work.commit()
    with open_reader(store) as reader:
        (asked,) = heat_requirements(reader, heat)
    assert (asked.text, asked.order_line, asked.grade.key.text) == ("4711/1", "4711/1", S355)
    assert (asked.size_mm, asked.flange_mm, asked.area_mm2) == (Decimal("12.5"), Decimal(9), Decimal(900))
    assert asked.form == "plate"
    assert asked.options == {"copper", "silicon-control"}
    assert asked.evidence == {"fine-grain", "nitrogen-binders"}
    (extra,) = asked.order_limits
    assert (extra.quantity, extra.max_text, extra.rounding) == ("Cu+10Sn", "0.60", "absolute")
    assert (extra.source, extra.status) == ("order 4711/1", "order")


@pytest.mark.parametrize("text", [S355, "s355j2", " EN 10025-2  S355J2 ", "4711/1", "A/B/2"])
def test_typed_requirement_is_found(store: str, text: str) -> None:
    with written(store) as work:
        grade = make_grade(work)
        make_order_line(work, grade)
        make_order_line(work, grade, order_no="A/B", line="2")
        work.commit()
    with open_reader(store) as reader:
        found = find_requirement(reader, text)
    assert found.grade.key.text == S355
    assert found.order_line == (text if "/" in text else None)


def test_unknown_requirement_lists_the_nearest(store: str) -> None:
    with written(store) as work:
        make_order_line(work, make_grade(work), order_no="4711", line="1")
        work.commit()
    with open_reader(store) as reader:
        with pytest.raises(NotFound, match="4711/1"):
            find_requirement(reader, "4711/9")
        with pytest.raises(NotFound, match="S355J2"):
            find_requirement(reader, "S355J3")
        with pytest.raises(NotFound, match="no grade"):
            find_requirement(reader, "41878'; DROP TABLE heat;--")


def test_short_name_of_two_standards_is_refused_with_both(store: str) -> None:
    with written(store) as work:
        make_grade(work, "5160", standard="ASTM A29/A29M", edition="2003-2016")
        make_grade(work, "5160", standard="ASTM A295/A295M", edition="1998")
        work.commit()
    with open_reader(store) as reader:
        with pytest.raises(Ambiguous, match="ASTM A29/A29M:2003-2016 5160; ASTM A295/A295M:1998 5160"):
            find_requirement(reader, "5160")
        assert find_requirement(reader, "ASTM A295/A295M:1998 5160").grade.key.standard == "ASTM A295/A295M"
        assert len(known_grades(reader)) == 2


def test_newest_revision_of_an_edition_speaks_for_old_order_lines_too(store: str) -> None:
    with written(store) as work:
        first = make_grade(work, limits=(("C", "", "0.20"),))
        line = make_order_line(work, first)
        newer = work.add(Edition(grade_id=1, edition="2004", revision=2, requirement=S355))
        work.add(
            GradeLimit(
                edition_id=newer, row_no=2, basis="cast", size_band_mm="all", quantity="C", max_text="0.19",
                unit="mass %", rounding="rounding", source="corrected", status="works",
            )
        )  # fmt: skip
        heat = make_heat(work, edition_id=first, order_line_id=line)
        work.commit()
    with open_reader(store) as reader:
        (asked,) = heat_requirements(reader, heat)
    assert [limit.max_text for limit in asked.grade.limits] == ["0.19"]


def test_grade_takes_over_the_rows_of_the_grade_it_extends(store: str) -> None:
    with written(store) as work:
        make_grade(work, "S355J0", limits=(("C", "", "0.20"), ("P", "", "0.030")))
        child = make_grade(work, "S355J2", limits=(("P", "", "0.025"),))
        grandchild = work.reader.scalar("SELECT grade_id FROM grade WHERE name = 'S355J2'")
        work.end("edition", "edition_id", [child])
        work.add(
            Edition(grade_id=grandchild, edition="2004", revision=2, requirement=S355, extends="EN 10025-2:2004 S355J0")
        )
        work.commit()
    with open_reader(store) as reader:
        found = grade_named(reader, "S355J2")
    assert [(limit.quantity, limit.max_text) for limit in found.limits] == [("C", "0.20"), ("P", "0.030")]


def test_grade_the_record_lacks_gives_no_requirement_to_judge_by(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work, grade_text="X 1:1999 NOPE")
        named = make_heat(work, "41879", grade_text="s355j2")
        make_grade(work)
        sequence = make_sequence(work, heat_ids=(heat,))
        piece = make_piece(work, sequence_id=sequence, shares={heat: 1.0})
        work.commit()
    with open_reader(store) as reader:
        (wanted,) = heats_wanted(reader, [heat])[heat]
        assert (wanted.text, wanted.known) == ("X 1:1999 NOPE", False)
        assert heat_requirements(reader, heat) == ()
        assert [w.text for w in heats_wanted(reader, [named])[named]] == [S355]
        with pytest.raises(NotFound, match="NOPE"):
            part_requirement(reader, piece)


def test_shipped_grade_book_comes_out_of_the_record_as_it_went_in(store: str) -> None:
    """Every limit of every grade, cell by cell, inherited rows included."""
    with written(store) as work:
        load_shipped_grade_book(work)
        work.commit()
    shipped = shipped_grades()
    with open_reader(store) as reader:
        assert sorted(known_grades(reader)) == sorted(grade.key for grade in shipped)
        for grade in shipped:
            assert grade_named(reader, grade.key.text) == grade
