"""Judging an estimated composition along a piece: numbers at its head, in the mean and at its tail.

An estimate is no analysis: it is exact arithmetic on shares and cast analyses, and what it says holds as well as they
do. The piece fits only where every limit is met at head, mean and tail, and everything in between lies between them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from heattrace.judging.judge import judge
from heattrace.judging.judgement import FAILS, MEETS, UNDECIDED, Judgement
from heattrace.judging.limits import CAST, Grade
from heattrace.judging.requirement import Requirement
from heattrace.metallurgy.amount import Amount, Composition
from heattrace.values import dataclass

POSITIONS: tuple[str, ...] = ("head", "mean", "tail")


@dataclass(frozen=True, slots=True)
class Fit:
    """How a piece stands to one requirement over its length; each position `meets`, `fails` or is `undecided`."""

    requirement: str
    head: str
    mean: str
    tail: str
    verdict: str
    judgements: tuple[Judgement, ...]


def judge_estimate(
    estimate: Mapping[str, Mapping[str, Decimal | Amount | None]],
    requirement: Requirement | Grade,
    *,
    piece: str = "piece",
    positions: Sequence[str] = POSITIONS,
) -> Fit:
    """Judge an estimated composition.

    Parameters
    ----------
    estimate : mapping of element to mapping of `head`, `mean`, `tail`
        Mass %, a decimal or an amount (`<` where a heat's report is one). None, or an element that does not stand in
        it, says that not every heat of the piece reports it: not determined is not zero, and its limits are undecided.
    positions : sequence of str
        `head`, `mean` and `tail`, and further places of the piece where its mixture turns.

    Returns
    -------
    Fit
        Fails where any position fails, meets where all meet, else undecided.
    """
    found = [
        judge(_at(estimate, position), requirement, basis=CAST, subject=f"{piece}, {position}")
        for position in positions
    ]
    verdicts = {position: judgement.verdict for position, judgement in zip(positions, found, strict=True)}
    kinds = set(verdicts.values())
    whole = FAILS if FAILS in kinds else MEETS if kinds == {MEETS} else UNDECIDED
    return Fit(found[0].requirement, verdicts["head"], verdicts["mean"], verdicts["tail"], whole, tuple(found))


def _at(estimate: Mapping[str, Mapping[str, Decimal | Amount | None]], position: str) -> Composition:
    composition: dict[str, Amount] = {}
    for element, places in estimate.items():
        content = places.get(position)
        if isinstance(content, Amount):
            composition[element] = content
        elif content is not None:
            composition[element] = Amount("=", content, format(content, "f"))
    return composition


def blend(shares: Mapping[str, Decimal], analyses: Mapping[str, Composition]) -> dict[str, Amount]:
    """The composition of a mixture: each element that all its heats report, by their shares.

    Parameters
    ----------
    shares : mapping of heat to share
        They sum to one; heats of no share need no analysis.

    Returns
    -------
    dict of element to Amount
        `<` where a heat's report is one: the mixture then lies at or below the sum of the greatest contents, and its
        digits are that sum. An element reported by `>` by any of them is left out, as is one that any of them lacks.
    """
    heats = [heat for heat, share in shares.items() if share > 0]
    if not heats or any(heat not in analyses for heat in heats):
        return {}
    mixed: dict[str, Amount] = {}
    for element in analyses[heats[0]]:
        amounts = [analyses[heat].get(element) for heat in heats]
        total, below = Decimal(0), False
        for heat, amount in zip(heats, amounts, strict=True):
            if amount is None or amount.value is None or amount.qualifier == ">":
                break
            total += shares[heat] * amount.value
            below = below or amount.qualifier == "<"
        else:
            mixed[element] = Amount("<" if below else "=", total, format(total, "f"))
    return mixed
