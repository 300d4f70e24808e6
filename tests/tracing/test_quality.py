"""Quality by rule: a table of cases, and what holds for every course of events."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heattrace.tracing.quality import (
    HELD,
    RELEASED,
    UNDECIDED,
    WORST,
    LaidHold,
    Made,
    Quality,
    Reach,
    SteelOfHeat,
    SteelOfPart,
    quality_of_heat,
    quality_of_part,
)

CASES = tomllib.loads((Path(__file__).parent / "cases" / "quality.toml").read_text(encoding="utf-8"))["case"]
STATES = {"lift": "lifted", "take-up": "placed", "turn-down": "turned-down", "check": "under-check"}
FAILS = {"yes": True, "no": False, "unknown": None}


@dataclass(frozen=True)
class Use:
    text: str
    grade: str = "G"


@dataclass
class Course:
    """What steps did, one ledger entry each."""

    shares: dict[str, float]
    wants: list[str] = field(default_factory=list)
    fails: bool | None = False
    decisions: list[tuple[str, Made]] = field(default_factory=list)
    holds: dict[str, tuple[str, dict[str, Any]]] = field(default_factory=dict)
    entry: int = 0

    def step(self, text: str) -> None:
        self.entry += 1
        action, _, use = text.partition(" for ")
        words = action.split()
        if words[0] in STATES:
            subject, hold = self.holds[words[1]]
            placed = self.entry if words[0] == "take-up" else hold["placed_no"]
            self.holds[words[1]] = (subject, {**hold, "state": STATES[words[0]], "placed_no": placed})
        elif words[0] in ("hold", "propose"):
            placed = words[0] == "hold"
            subject, reason = ("part", words[3]) if words[2] == "part" else (words[3], words[4])
            self.holds[words[1]] = (
                subject,
                {"reason": reason, "requirement": use or None, "state": "placed" if placed else "proposed",
                 "placed_no": self.entry if placed else None},
            )  # fmt: skip
        else:
            subject = "part" if words[1] == "part" else words[2]
            made = Made(f"D{self.entry}", words[0], "", use or "R", self.entry, "A. Weber")
            self.decisions.append((subject, made))

    def on(self, subject: str) -> tuple[tuple[Made, ...], tuple[LaidHold, ...]]:
        made = tuple(m for of, m in self.decisions if of == subject)
        laid = tuple(LaidHold(no, scope="it", **hold) for no, (of, hold) in self.holds.items() if of == subject)
        return made, laid

    def heats(self) -> dict[int, SteelOfHeat]:
        return {n: SteelOfHeat(n, name, *self.on(name)) for n, name in enumerate(self.shares)}

    def part(self, use: Use | None) -> Quality:
        shares = tuple((n, round(share * 1e6)) for n, share in enumerate(self.shares.values()))
        steel = SteelOfPart(1, shares, tuple((w, w) for w in self.wants), *self.on("part"))
        return quality_of_part(use, steel, self.heats(), Reach(), lambda *_: self.fails)


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_quality_of_a_part_follows_the_rules(case: dict[str, Any]) -> None:
    course = Course(case.get("shares", {"A": 1.0}), case.get("wants", []), FAILS[case.get("fails", "no")])
    for step in case.get("steps", []):
        course.step(step)
    quality = course.part(Use("R"))
    assert quality.value == case["expect"], case["rule"]
    assert case.get("because", "") in quality.because


def test_case_names_are_trade_words_and_each_cites_its_rule() -> None:
    assert len({case["name"] for case in CASES}) == len(CASES) > 40
    assert all(case["rule"] for case in CASES)


def test_part_without_a_requirement_is_never_released() -> None:
    course = Course({"A": 1.0})
    for step in ("release heat A", "release part"):
        course.step(step)
    assert course.part(None).value == UNDECIDED
    course.step("hold H1 heat A LEVEL")
    assert course.part(None).value == HELD
    only_for = Course({"A": 1.0})
    only_for.step("hold H1 heat A LEVEL for R")
    assert only_for.part(None).value == UNDECIDED


def test_heat_is_held_by_any_hold_on_it_whatever_its_reason() -> None:
    course = Course({"A": 1.0})
    course.step("release heat A")
    assert quality_of_heat(Use("R"), course.heats()[0]).value == RELEASED
    course.step("hold H1 heat A CHEM-EDGE")
    assert quality_of_heat(Use("R"), course.heats()[0]).value == HELD
    course.step("lift H1")
    found = quality_of_heat(Use("R"), course.heats()[0])
    assert (found.value, found.kinds()) == (UNDECIDED, {"lifted"})


_SUBJECTS = ("part", "heat A", "heat B")
_STEPS = st.one_of(
    st.builds("{0} {1}{2}".format, st.sampled_from(("release", "reject", "withdraw")), st.sampled_from(_SUBJECTS),
              st.sampled_from(("", " for R", " for S", " for G"))),
    st.builds("{0} H{1} {2} {3}{4}".format, st.sampled_from(("hold", "propose")), st.integers(1, 4),
              st.sampled_from(_SUBJECTS), st.sampled_from(("LEVEL", "CHEM-HIGH")),
              st.sampled_from(("", " for R", " for S", " for G"))),
    st.builds("{0} H{1}".format, st.sampled_from(tuple(STATES)), st.integers(1, 4)),
)  # fmt: skip


def _walk(steps: list[str], shares: tuple[float, float], wants: list[str], fails: bool | None) -> Course:
    course = Course(dict(zip("AB", shares, strict=True)), wants, fails)
    for step in steps:
        words = step.split()
        known = course.holds.get(words[1])
        state = known[1]["state"] if known else ""
        # Guards of the commands: a hold is placed once, taken up or turned down from proposed, lifted while it lies.
        if words[0] in ("hold", "propose") and known:
            continue
        if words[0] in ("take-up", "turn-down") and state != "proposed":
            continue
        if words[0] in ("lift", "check") and state not in ("placed", "under-check"):
            continue
        course.step(step)
    return course


WALKS = {
    "steps": st.lists(_STEPS, max_size=12),
    "shares": st.sampled_from(((1.0, 0.0), (0.99, 0.02), (0.9, 0.5), (1.0, 0.008), (0.97, 0.05))),
    "wants": st.lists(st.sampled_from(("transition", "event")), max_size=1),
    "fails": st.sampled_from((True, False, None)),
}


@settings(max_examples=400, derandomize=True, deadline=None)
@given(**WALKS)
def test_released_means_every_heat_released_nothing_held_and_own_doubts_decided(
    steps: list[str], shares: tuple[float, float], wants: list[str], fails: bool | None
) -> None:
    course = _walk(steps, shares, wants, fails)
    if course.part(Use("R")).value != RELEASED:
        return
    for subject, (on, hold) in course.holds.items():
        if on == "part" and hold["requirement"] in (None, "R", "G"):
            assert hold["state"] not in ("placed", "under-check"), subject
    for name, share in course.shares.items():
        made = [m for of, m in course.decisions if of == name and m.requirement == "R"]
        if share >= 0.01:
            assert made and made[-1].kind == "release"
    if wants or any(on == "part" and h["state"] == "lifted" and h["requirement"] in (None, "R", "G")
                    for on, h in course.holds.values()):  # fmt: skip
        assert [m.kind for of, m in course.decisions if of == "part" and m.requirement == "R"][-1] == "release"


@settings(max_examples=300, derandomize=True, deadline=None)
@given(**WALKS, subject=st.sampled_from(_SUBJECTS), reason=st.sampled_from(("LEVEL", "CHEM-HIGH")))
def test_hold_never_betters_a_part_and_lifting_it_never_releases(
    steps: list[str], shares: tuple[float, float], wants: list[str], fails: bool | None, subject: str, reason: str
) -> None:
    course = _walk(steps, shares, wants, fails)
    before = course.part(Use("R"))
    course.step(f"hold H9 {subject} {reason}")
    held = course.part(Use("R"))
    assert WORST[held.value] >= WORST[before.value]
    course.step("lift H9")
    after = course.part(Use("R"))
    if held.value == HELD:
        assert after.value != RELEASED


@settings(max_examples=300, derandomize=True, deadline=None)
@given(**WALKS)
def test_releasing_a_heat_frees_no_part_with_a_hold_or_doubt_of_its_own(
    steps: list[str], shares: tuple[float, float], wants: list[str], fails: bool | None
) -> None:
    course = _walk(steps, shares, wants, fails)
    own = [c for c in course.part(Use("R")).causes if c.kind in ("hold", "transition", "event", "lifted", "rejected")]
    course.step("release heat A")
    course.step("release heat B")
    after = course.part(Use("R"))
    if any(c.words.startswith(("the part", "transition", "event")) or "lies on" in c.words for c in own):
        assert after.value != RELEASED
