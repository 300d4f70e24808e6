"""What the condition of a row leaves of its limit, read from the heads of its clauses.

The conditions themselves are not computed yet. A clause that can only loosen leaves a pass a pass and makes a failure
undecided; a clause that could tighten or switch makes the row undecided where that could change the verdict. One thing
is settled: a clause that asks for an order option which was not ordered is idle.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from heattrace.judging.limits import Limit
from heattrace.judging.requirement import Requirement
from heattrace.judging.selection import clauses_of

STANDS, WAIVED, AGREED, LOOSER, TIGHTER, OPEN = "stands", "waived", "agreed", "looser", "tighter", "open"

_CHANGE = re.compile(r"(min|max) ([-+=])(.*)")
_ORDERED = re.compile(r"ordered ([\w-]+|\"[^\"]*\")")


@dataclass(frozen=True, slots=True)
class World:
    """One way a row may stand: `state`, the digits its limit then has (in its unit), empty where it has none."""

    state: str
    text: str


def worlds_of(limit: Limit, sense: str, requirement: Requirement) -> list[World]:
    """The ways in which one sense of a row may stand for this requirement; one where its condition settles nothing."""
    printed = limit.text(sense)
    worlds = [World(STANDS, printed)]
    for clause in clauses_of(limit.when):
        if clause.startswith("alternative ") or clause.startswith("every ") or _is_idle(clause, requirement):
            continue
        state = _effect(clause, sense)
        if state:
            worlds.append(World(state, printed))
    return worlds


def _effect(clause: str, sense: str) -> str:
    change = _CHANGE.match(clause)
    if change:
        side, sign, rest = change.groups()
        if side != sense:
            return ""
        if sign == "=" or " per " in rest:
            return OPEN
        return LOOSER if (sign == "+") == (side == "max") else TIGHTER
    words = clause.removeprefix("min ").removeprefix("max ")
    if words != clause and not clause.startswith(sense):
        return ""
    if words.startswith("lapses if") or words.startswith("applies if"):
        return WAIVED
    if words.startswith("agreed if"):
        return AGREED
    return OPEN


def _is_idle(clause: str, requirement: Requirement) -> bool:
    """Whether the clause's condition is a plain chain of `and` that asks for an option nobody ordered."""
    _, asked, condition = clause.partition(" if ")
    if not asked or " or " in condition or "not " in condition or "(" in condition or "applies" in clause:
        return False
    named = [name.strip('"') for name in _ORDERED.findall(condition)]
    return any(name not in requirement.options for name in named) and "," not in condition
