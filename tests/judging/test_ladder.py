"""The rule ladder for the cast analysis."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest

from heattrace.judging.cast_choice import AnalysisFacts, CastChoice, SampleFacts
from heattrace.judging.ladder import Ladder, agree, choose_cast_analysis
from heattrace.metallurgy.amount import read_amount, read_chem
from tests.judging.books import cases


def sample_of(entry: dict[str, Any]) -> SampleFacts:
    analyses = tuple(
        AnalysisFacts(
            analysis["no"],
            int(analysis["no"].removeprefix("A-")),
            analysis.get("method", "spark-emission"),
            None,
            analysis.get("state", "valid"),
            analysis.get("analysed_at"),
            read_chem(analysis["chem"]),
        )
        for analysis in entry["analyses"]
    )
    return SampleFacts(
        entry["id"],
        entry["kind"],
        entry.get("taken_at"),
        entry.get("sound", True),
        entry.get("additions_after"),
        analyses,
    )


def essence(choice: CastChoice) -> tuple[object, ...]:
    return choice.rule, {element: pick.analysis_no for element, pick in choice.picks.items()}


@pytest.mark.parametrize("case", cases("ladder"), ids=lambda case: case["name"])
def test_ladder_chooses(case: dict[str, Any]) -> None:
    samples = [sample_of(entry) for entry in case["samples"]]
    choice = choose_cast_analysis(samples, heat_no="3114")
    assert choice.rule == case["rule"]
    assert {element: pick.analysis_no for element, pick in choice.picks.items()} == case.get("picks", {})
    told = " | ".join(choice.words)
    for words in case.get("words", []):
        assert words in told
    if "findings" in case:
        assert [finding.code for finding in choice.findings] == case["findings"]
    assert choice.words


@pytest.mark.parametrize("case", cases("ladder"), ids=lambda case: case["name"])
def test_the_choice_does_not_depend_on_the_order_of_samples(case: dict[str, Any]) -> None:
    samples = [sample_of(entry) for entry in case["samples"]]
    expected = essence(choose_cast_analysis(samples))
    for order in permutations(samples):
        assert essence(choose_cast_analysis(order)) == expected


def test_a_works_may_set_its_own_rungs_and_methods() -> None:
    samples = [
        sample_of({"id": "T1", "kind": "tundish-steady", "analyses": [{"no": "A-1", "chem": "C=0.18"}]}),
        sample_of({"id": "M1", "kind": "mould", "analyses": [{"no": "A-2", "chem": "C=0.19"}]}),
    ]
    choice = choose_cast_analysis(samples, Ladder(rungs=("mould",), edition="4"))
    assert choice.rule == "mould"
    assert "ladder edition 4" in choice.words[0]


def test_a_not_reported_element_is_no_pick() -> None:
    unreported = AnalysisFacts("A-1", 1, "spark-emission", None, "valid", None, {"C": read_amount("0.18")})
    sample = SampleFacts("T1", "tundish-steady", None, True, None, (unreported,))
    assert set(choose_cast_analysis([sample]).composition()) == {"C"}


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        ("0.18", "0.180", True),
        ("0.18", "0.184", True),
        ("0.18", "0.186", False),
        ("<0.002", "<0.001", True),
        ("<0.002", "0.002", True),
        ("<0.002", "0.0021", False),
        (">1.20", "1.25", True),
        (">1.20", "1.15", False),
        (">1.20", "<1.10", False),
    ],
)
def test_two_reports_agree_as_far_as_their_digits_go(first: str, second: str, same: bool) -> None:
    assert agree(read_amount(first), read_amount(second)) is same
    assert agree(read_amount(second), read_amount(first)) is same
