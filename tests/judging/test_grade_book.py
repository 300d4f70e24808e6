"""The shipped grade book, faulty books, and grades by name."""

from __future__ import annotations

import random
import re
from typing import Any

import pytest

from heattrace.errors import Ambiguous, NotFound
from heattrace.intake.grade_book import shipped_grade, shipped_grades, shipped_rows
from heattrace.judging.conditions.parser import parse_when
from heattrace.judging.conditions.words import clause_in_words
from heattrace.judging.grades import find_grade, grades_from_rows
from heattrace.judging.measure import elements_of
from tests.judging.books import cases, grade_of, row


def test_every_shipped_row_can_be_said() -> None:
    rows = list(shipped_rows())
    grades, faults = grades_from_rows(rows)
    assert len(rows) == 852
    assert faults == []
    assert sum(len(grade.limits) for grade in grades) == 852
    assert len(grades) == 66
    for grade in grades:
        for limit in grade.limits:
            assert elements_of(limit.quantity)
            assert all(clause_in_words(clause) for clause in parse_when(limit.when))


def test_the_shipped_book_tells_verified_from_memory() -> None:
    """Counts of the gathered limits: 652 rows seen in a source, 200 from memory."""
    statuses = [limit.status for grade in shipped_grades() for limit in grade.limits]
    assert (statuses.count("verified"), statuses.count("memory")) == (652, 200)
    assert all(limit.source for grade in shipped_grades() for limit in grade.limits if limit.status == "verified")


def test_the_shipped_book_names_no_hosts_and_no_paths() -> None:
    for _, cells in shipped_rows():
        assert not re.search(r"https?:|www\.|github|\.(com|org|net)\b", " ".join(cells.values()), re.IGNORECASE)


def test_the_shipped_book_gives_no_families() -> None:
    assert {grade.family for grade in shipped_grades()} == {""}


@pytest.mark.parametrize("case", cases("faulty_rows"), ids=lambda case: case["name"])
def test_a_faulty_row_is_told_with_its_place(case: dict[str, Any]) -> None:
    _, faults = grades_from_rows([(7, row(**case["cells"]))])
    assert [(fault.code, fault.subject) for fault in faults] == [(case["code"], f"row 7, column {case['column']}")]
    assert faults[0].wanted


def test_all_faults_of_a_book_are_told_at_once() -> None:
    _, faults = grades_from_rows([(2, row(max="x")), (3, row(max="0.2")), (4, row(unit=""))])
    assert [fault.subject for fault in faults] == ["row 2, column max", "row 4, column unit"]


def test_a_book_without_the_column_of_a_sense_is_faulty() -> None:
    cells = {name: cell for name, cell in row(min="0.1").items() if name != "max"}
    _, faults = grades_from_rows([(2, cells)])
    assert [fault.code for fault in faults] == ["LIMIT-SENSE"]


def test_limits_keep_their_digits() -> None:
    first, second = grade_of(row(max="0.20"), row(quantity="Mn", max="0.2")).limits
    assert (first.max_text, second.max_text) == ("0.20", "0.2")


def test_aliases_of_printed_names_are_resolved_and_kept() -> None:
    limits = grade_of(row(quantity="CEIIW", max="0.43"), row(quantity="Al_total", min="0.02")).limits
    assert [(limit.quantity, limit.printed) for limit in limits] == [("cev", "CEIIW"), ("Al", "Al_total")]


def test_a_grade_inherits_the_rows_of_the_one_it_extends() -> None:
    grades, faults = grades_from_rows(
        [
            (2, row(grade="W1", max="0.20")),
            (3, row(grade="W2", quantity="Mn", max="1.60", extends="Works Standard:1 W1")),
            (4, row(grade="W3", quantity="P", max="0.03", extends="Works Standard:1 W2")),
        ]
    )
    assert faults == []
    assert [[limit.quantity for limit in grade.limits] for grade in grades] == [["C"], ["C", "Mn"], ["C", "Mn", "P"]]


def test_grades_that_extend_each_other_in_a_circle_are_a_fault() -> None:
    _, faults = grades_from_rows(
        [
            (2, row(grade="W1", max="0.20", extends="Works Standard:1 W2")),
            (3, row(grade="W2", max="0.20", extends="Works Standard:1 W1")),
        ]
    )
    assert {fault.code for fault in faults} == {"LIMIT-EXTENDS"}


def test_the_family_of_a_grade_may_stand_in_any_of_its_rows_but_not_twice() -> None:
    assert grade_of(row(max="0.2"), row(quantity="Mn", max="1", family="carbon")).family == "carbon"
    _, faults = grades_from_rows([(2, row(max="0.2", family="carbon")), (3, row(max="0.2", family="spring"))])
    assert [fault.subject for fault in faults] == ["row 3, column family"]


def test_faults_and_grades_do_not_depend_on_the_order_of_rows() -> None:
    rows = [*shipped_rows(), (900, row(max="x")), (901, row(unit=""))]
    shuffled = rows[:]
    random.Random(7).shuffle(shuffled)
    (grades, faults), (grades_again, faults_again) = grades_from_rows(rows), grades_from_rows(shuffled)
    assert set(faults) == set(faults_again)
    assert {g.key: frozenset(g.limits) for g in grades} == {g.key: frozenset(g.limits) for g in grades_again}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("EN 10025-2:2004 S355J2", "EN 10025-2:2004 S355J2"),
        ("S355J2", "EN 10025-2:2004 S355J2"),
        ("  en 10025-2:2004   s355j2 ", "EN 10025-2:2004 S355J2"),
        ("EN 10025-2 S355J2", "EN 10025-2:2004 S355J2"),
        ("Grade 50", "ASTM A572/A572M:2004-2013 Grade 50"),
        ("API 5L:44-45 (Table 5, t<=25.0 mm) X65M PSL2", "API 5L:44-45 (Table 5, t<=25.0 mm) X65M PSL2"),
    ],
)
def test_a_grade_is_found_by_its_key_or_a_name_that_only_one_has(text: str, found: str) -> None:
    assert shipped_grade(text).key.text == found


def test_a_short_name_of_several_grades_is_refused_with_the_choices() -> None:
    with pytest.raises(Ambiguous) as refusal:
        shipped_grade("51CrV4")
    named = [finding.subject for finding in refusal.value.findings]
    assert named == ["EN 10083-3:2006 51CrV4", "EN 10089:2002 51CrV4", "EN 10132-4:2000 51CrV4"]
    for name in named:
        assert name in str(refusal.value)


def test_an_unknown_grade_is_refused_with_the_nearest() -> None:
    with pytest.raises(NotFound, match="S355J2"):
        shipped_grade("S355J3")


def test_no_grade_is_found_in_an_empty_book() -> None:
    with pytest.raises(NotFound):
        find_grade("S355J2", [])
