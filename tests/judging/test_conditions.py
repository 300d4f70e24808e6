"""The `when` language: reading it, its words, and whether a condition holds."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from typing import Any

import pytest

from heattrace.judging.conditions.clauses import Requires
from heattrace.judging.conditions.parser import parse_when
from heattrace.judging.conditions.scanner import ConditionUnreadable
from heattrace.judging.conditions.truth import Facts, holds
from heattrace.judging.conditions.words import clause_in_words
from heattrace.judging.judge import judge
from heattrace.judging.judgement import Judged
from heattrace.judging.requirement import Requirement
from heattrace.metallurgy.amount import read_chem
from tests.judging.books import CASES, grade_of, row


def truth(condition: str, chem: str = "C=0.1", **order: Any) -> bool | None:
    grade = grade_of(row(quantity="Mn", min="0.50", max="1.20"), row(max="0.25"))
    clause = parse_when(f"requires {condition}")[0]
    assert isinstance(clause, Requires)
    requirement = Requirement("W1", grade, **order)
    return holds(clause.condition, Facts(read_chem(chem), requirement, grade.limits[0]))


def line(when: str, chem: str, *, quantity: str = "Mn", low: str = "", high: str = "1.20", **order: Any) -> Judged:
    grade = grade_of(row(quantity=quantity, min=low, max=high, when=when), row(max="0.25"))
    return judge(read_chem(chem), Requirement("W1", grade, **order)).limits[0]


@pytest.mark.parametrize(
    ("text", "said"), tomllib.loads((CASES / "unreadable_conditions.toml").read_text(encoding="utf-8"))["rows"]
)
def test_what_is_not_of_the_language_is_refused_with_a_reason(text: str, said: str) -> None:
    with pytest.raises(ConditionUnreadable) as refusal:
        parse_when(text)
    assert said in str(refusal.value)


def test_an_empty_condition_has_no_clause() -> None:
    assert parse_when("  ") == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("agreed if form section and t > 100", "by agreement if the form is section and the thickness is above 100 mm"),
        ("applies if not (Al >= 0.020 or named x)", "applies only if not (Al is at least 0.020 or x is named)"),
        ("min lapses if specified Nb, V", "min lapses if a minimum is specified for Nb or V"),
        ("max = least(3.4 N + 1.5 S, 0.025)", "max becomes the least of 3.4*N + 1.5*S, 0.025"),
        ("max = 2*(N + S)", "max becomes 2*(N + S)"),
        ("every 5000 tonnes", "checked once every 5000 tonnes"),
        ('alternative "Type 1" of type', "one alternative of type: Type 1"),
        (
            "max + 0.02 if reported Nb and not ordered a, b",
            "max raised by 0.02 if Nb is reported and a or b is not ordered",
        ),
    ],
)
def test_a_condition_is_printed_back_in_words(text: str, words: str) -> None:
    assert clause_in_words(parse_when(text)[0]) == words


def test_brackets_and_juxtaposition_are_read_alike() -> None:
    assert parse_when("requires (Cu + 10Sn) <= 0.60") == parse_when("requires Cu+10*Sn<=0.60")
    assert parse_when("requires (C > 0.1)") == parse_when("requires C > 0.1")


@pytest.mark.parametrize(
    ("condition", "chem", "known"),
    [
        # An element is rounded to the places of the literal it meets: 0.224 meets 0.22 as 0.22.
        ("C > 0.22", "C=0.224", False),
        ("C > 0.22", "C=0.226", True),
        ("C > 0.220", "C=0.224", True),
        ("0.22 < C", "C=0.226", True),
        # A sum likewise; a ratio never.
        ("Nb + V <= 0.10", "Nb=0.050 V=0.054", True),
        ("Nb + V <= 0.10", "Nb=0.050 V=0.056", False),
        ("Mn/S >= 20", "Mn=0.599 S=0.030", False),
        ("cev <= 0.45", "C=0.20 Mn=1.50 Cr=0 Mo=0.02 V=0 Ni=0 Cu=0", True),
        # `<` and unreported are unknown, whatever the bound.
        ("Al >= 0.020", "Al=<0.005", None),
        ("Al >= 0.020", "C=0.1", None),
        ("Al >= 0.020 or Als >= 0.015", "Al=0.025", True),
        ("Al >= 0.020 and Als >= 0.015", "Al=0.015", False),
        ("not Al >= 0.020", "C=0.1", None),
        # A printed limit of the same grade.
        ("C < max(C)", "C=0.24", True),
        ("C < max(C)", "C=0.246", False),
        ("Mn > min(Mn)", "Mn=0.51", True),
        ("C < max(Si)", "C=0.1", None),
        ("Al/N >= 2", "Al=0.028 N=0.013", True),
        ("Al/N >= 2", "Al=0.028 N=0", None),
        ("greatest(C, 0.1) = 0.1", "C=0.05", True),
        ("2*C - 0.1 >= 0.10", "C=0.10", True),
        ("reported Nb", "Nb=<0.002", True),
        ("reported Nb, V", "V=0.01", True),
        ("reported Nb", "V=0.01", False),
        ("specified Mn", "C=0.1", True),
        ("specified C", "C=0.1", False),
    ],
)
def test_a_condition_on_the_analysis_holds(condition: str, chem: str, known: bool | None) -> None:
    assert truth(condition, chem) is known


@pytest.mark.parametrize(
    ("condition", "order", "known"),
    [
        ("ordered copper", {}, False),
        ("ordered copper", {"options": frozenset({"copper"})}, True),
        ("ordered x, copper", {"options": frozenset({"copper"})}, True),
        ("named nitrogen-binders", {"evidence": frozenset({"nitrogen-binders"})}, True),
        ("named nitrogen-binders", {}, False),
        ("form flat", {}, None),
        ("not form flat", {}, None),
        ("form flat", {"form": "plate"}, True),
        ("form plate", {"form": "flat"}, False),
        ("form long", {"form": "light-shape"}, True),
        ("form section", {"form": "light-shape"}, True),
        ("form long", {"form": "hollow"}, False),
        ("t > 100", {}, None),
        ("t > 100", {"size_mm": Decimal("100")}, False),
        ("t > 100", {"size_mm": Decimal("100.4")}, True),
        ("flange <= 50", {"size_mm": Decimal("20")}, None),
        ("flange <= 50", {"flange_mm": Decimal("20")}, True),
        ("area > 1000", {"area_mm2": Decimal("900")}, False),
        ("ordered copper and t > 100", {}, False),
        ("not ordered copper or t > 100", {}, True),
    ],
)
def test_a_condition_on_the_order_holds(condition: str, order: dict[str, Any], known: bool | None) -> None:
    assert truth(condition, **order) is known


@pytest.mark.parametrize(
    ("when", "chem", "limit", "verdict"),
    [
        # By hand. A trade counts whole steps from the value rounded to the places of its mark.
        ("max + 0.05 per 0.01 C below 0.25", "Mn=1.40 C=0.20", "1.45", "pass"),
        ("max + 0.05 per 0.01 C below 0.25", "Mn=1.40 C=0.204", "1.45", "pass"),
        ("max + 0.05 per 0.02 C below 0.25", "Mn=1.30 C=0.20", "1.30", "pass"),
        ("max + 0.05 per 0.01 C below 0.25 to 1.30", "Mn=1.31 C=0.20", "1.30", "fail"),
        ("max + 0.05 per 0.01 C below 0.25", "Mn=1.20 C=0.28", "1.20", "pass"),
        ("max + 0.05 per 0.01 C below 0.25 to 1.10", "Mn=1.20 C=0.28", "1.20", "pass"),
        ("max - 0.05 per 0.01 C above 0.20", "Mn=1.12 C=0.22", "1.10", "fail"),
        ("max - 0.05 per 0.01 C above 0.20 to 1.15", "Mn=1.15 C=0.22", "1.15", "pass"),
        # A trade keeps the printed places; a limit computed from the analysis is met unrounded.
        ("max + 0.05 per 0.01 C below 0.25", "Mn=1.454 C=0.20", "1.45", "pass"),
        ("max = 5 C", "Mn=1.004 C=0.20", "1", "fail"),
        ("max = 5 C to 0.90", "Mn=0.90 C=0.20", "0.9", "pass"),
        # A limit of other printed digits has their places.
        ("max = 1.5", "Mn=1.54 C=0.20", "1.5", "pass"),
        ("max + 0.005", "Mn=1.206 C=0.20", "1.205", "fail"),
        # Changes apply from left to right.
        ("max = 1.00; max + 0.10", "Mn=1.10 C=0.20", "1.10", "pass"),
        ("max + 0.10; max = 1.00", "Mn=1.10 C=0.20", "1.00", "fail"),
    ],
)
def test_a_limit_moves_as_its_clauses_say(when: str, chem: str, limit: str, verdict: str) -> None:
    found = line(when, chem)
    assert (found.limit, found.verdict) == (limit, verdict)


@pytest.mark.parametrize(
    ("when", "chem", "verdict"),
    [
        ("applies if C > 0.12", "Mn=1.50 C=0.10", "waived"),
        ("applies if C > 0.12", "Mn=1.50 C=0.20", "fail"),
        ("applies if C > 0.12", "Mn=1.50", "undecided"),
        ("applies if C > 0.12", "Mn=1.00", "pass"),
        ("applies if C > 0.12; applies if Si > 0.10", "Mn=1.50 C=0.20 Si=0.05", "waived"),
        ("lapses if C > 0.12", "Mn=1.50 C=<0.10", "undecided"),
        ("min lapses if C > 0.12", "Mn=1.50 C=0.20", "fail"),
        ("max lapses if C > 0.12", "Mn=1.50 C=0.20", "waived"),
        ("agreed if C > 0.12", "Mn=1.00 C=0.20", "undecided"),
        ("agreed if form section", "Mn=1.00 C=0.20", "pass"),
        ("agreed if form section", "Mn=1.50 C=0.20", "undecided"),
        ("max = 1.00 if C > 0.12", "Mn=1.10", "undecided"),
        ("max = 1.00 if C > 0.12", "Mn=0.90", "pass"),
        ("max = 1.00 if C > 0.12", "Mn=1.50", "fail"),
        ("max = 1.30 if C > 0.12", "Mn=1.25", "undecided"),
        ("max - 0.05 per 0.01 C above 0.20", "Mn=1.00", "undecided"),
        ("max + 0.05 per 0.01 C below 0.25 to 1.40", "Mn=1.45", "fail"),
        ("max + 0.05 per 0.01 C below 0.25 to 1.40", "Mn=1.30", "undecided"),
        ("max + 0.05 per 0.01 C below 0.25", "Mn=1.22 C=<0.26", "undecided"),
        ("max + 0.05 per 0.01 C below 0.25", "Mn=1.22 C=<0.24", "pass"),
        ("every 5000 tonnes", "Mn=1.00", "pass"),
        ("every 5000 tonnes", "C=0.1", "not-reported"),
        ("lapses if C > 0.12", "C=0.2", "waived"),
        ("lapses if C > 0.12", "C=0.1", "not-reported"),
    ],
)
def test_an_unknown_condition_matters_only_where_it_could_change_the_verdict(
    when: str, chem: str, verdict: str
) -> None:
    assert line(when, chem).verdict == verdict


def test_a_note_says_how_each_clause_stands() -> None:
    note = line("max + 0.10 if form long; max = 1.00 if ordered lean; lapses if Al >= 0.02", "Mn=1.25").note
    assert "max raised by 0.10 if the form is long (not known: form not stated)" in note
    assert "max becomes 1.00 if lean is ordered (no)" in note
    assert "lapses if Al is at least 0.02 (not known: Al not reported)" in note


def test_a_waived_row_that_asks_for_a_requirement_does_not_fail() -> None:
    grade = grade_of(row(quantity="N", when="requires Al >= 0.020; lapses if ordered unkilled"), row(max="0.25"))
    order = Requirement("W1", grade, options=frozenset({"unkilled"}))
    assert judge(read_chem("Al=0.01"), order).limits[0].verdict == "waived"
    assert judge(read_chem("Al=0.01"), grade).limits[0].verdict == "fail"


def test_all_alternatives_failing_fails_the_group_and_says_what_each_misses() -> None:
    grade = grade_of(
        row(quantity="Si", min="0.10", when="alternative silicon of killed"),
        row(quantity="Al", min="0.015", when="alternative aluminium of killed"),
    )
    failing = judge(read_chem("Si=0.05 Al=0.003"), grade)
    assert failing.verdict == "fails"
    assert [f.code for f in failing.findings] == ["CHEM-ALTERNATIVE"]
    assert "silicon misses Si; aluminium misses Al" in failing.findings[0].seen
    one = judge(read_chem("Si=0.20"), grade)
    assert (one.verdict, one.missing) == ("meets", ())
    unknown = judge(read_chem("Si=0.05"), grade)
    assert (unknown.verdict, unknown.missing) == ("undecided", ("Al",))
