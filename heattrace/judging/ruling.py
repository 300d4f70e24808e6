"""What the conditions of a row leave of its limit: the ways it may stand for one analysis and one order.

Each unknown condition splits the ways in two, with it and without it; a verdict counts only where all of them agree.
So an unknown condition matters only where it could change the verdict, and never turns steel good by silence.
"""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache

from heattrace.judging.conditions.clauses import (
    Agreed,
    Alternative,
    Applies,
    Change,
    Clause,
    Condition,
    Flag,
    Lapses,
    Number,
    Requires,
    Sampled,
    Size,
    contents_in,
    parts_of,
)
from heattrace.judging.conditions.parser import parse_when
from heattrace.judging.conditions.truth import Facts, bounds_of, extreme, holds, is_plain, steps_of
from heattrace.judging.conditions.words import STANDING, clause_in_words
from heattrace.judging.limits import MAX, MIN, Limit
from heattrace.judging.measure import elements_of
from heattrace.metallurgy.interval import Interval, is_reported, point
from heattrace.metallurgy.rounding import last_place
from heattrace.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class Way:
    """One way a side of a row may stand.

    `bound` is the limit in its own unit, None where that side has none; `place` is what a value is rounded to before it
    meets it, None for a limit computed from the analysis, which is met unrounded. `waived`: the row falls away.
    `agreed`: the limit is by agreement, hence unknown here; `perhaps_agreed`: it may be, which only saves a failure.
    """

    bound: Interval | None
    place: Decimal | None
    waived: bool = False
    agreed: bool = False
    perhaps_agreed: bool = False


@dataclass(frozen=True, slots=True)
class Ruling:
    """The ways a side may stand, what it requires beside its limit, and the conditions in words."""

    ways: tuple[Way, ...]
    required: tuple[bool | None, ...]
    words: tuple[str, ...]


def rule_on(limit: Limit, sense: str, facts: Facts) -> Ruling:
    """Read the conditions of a row for one sense (`min`, `max` or `requires`), from left to right."""
    ways = [_printed_way(limit.text(sense), limit.round_to)]
    if not limit.when:
        return Ruling(tuple(ways), (), ())
    required: list[bool | None] = []
    words: list[str] = []
    for clause in parse_when(limit.when):
        if isinstance(clause, Alternative) or not _concerns(clause, sense):
            continue
        if isinstance(clause, Sampled):
            words.append(clause_in_words(clause))
            continue
        condition = clause.condition
        known = True if condition is None else holds(condition, facts)
        words.append(clause_in_words(clause) + _standing(condition, known, facts))
        if isinstance(clause, Requires):
            required.append(known)
        else:
            ways = _after(ways, clause, known, facts)
    return Ruling(tuple(dict.fromkeys(ways)), tuple(required), tuple(words))


@lru_cache(maxsize=4096)
def _printed_way(digits: str, round_to: str) -> Way:
    """A side as it is printed."""
    if not digits:
        return Way(None, None)
    return Way(point(Decimal(digits)), Decimal(round_to) if round_to else last_place(digits))


def _concerns(clause: Clause, sense: str) -> bool:
    if isinstance(clause, Change):
        return clause.side == sense
    if isinstance(clause, Lapses):
        return clause.side in (None, sense)
    if isinstance(clause, Requires):
        return sense not in (MIN, MAX)
    return True


def _after(ways: list[Way], clause: Applies | Lapses | Agreed | Change, known: bool | None, facts: Facts) -> list[Way]:
    """The ways after one more clause."""
    if isinstance(clause, Agreed):
        if known is None:
            return [replace(way, perhaps_agreed=True) for way in ways]
        return [replace(way, agreed=True) for way in ways] if known else ways
    if isinstance(clause, Applies):
        # Reads the other way round: the row falls away where the condition does not hold.
        known = None if known is None else not known
    if known is False:
        return ways
    if isinstance(clause, Change):
        changed = [way if way.waived else _moved(way, clause, facts) for way in ways]
    else:
        changed = [replace(way, waived=True) for way in ways]
    return changed if known else ways + changed


def _moved(way: Way, change: Change, facts: Facts) -> Way:
    """A way with its bound moved; a cap holds only what was moved, never the printed limit itself."""
    by = bounds_of(change.by, facts)
    cap = None if change.to is None else bounds_of(change.to, facts)
    place = _place(way, change, facts)
    if change.sign == "=":
        bound = by
        if cap is not None:
            bound = extreme("least" if change.side == MAX else "greatest", [by, cap])
        return replace(way, bound=bound, place=place)
    if way.bound is None:
        return way
    if change.trade:
        steps = steps_of(change.trade, facts)
        by = Interval(
            None if by.low is None or steps.low is None else by.low * steps.low,
            None if by.high is None or steps.high is None else by.high * steps.high,
        )
    low, high = way.bound
    if change.sign == "+":
        bound = Interval(
            None if low is None or by.low is None else low + by.low,
            None if high is None or by.high is None else high + by.high,
        )
        if cap is not None:
            bound = extreme("least", [bound, extreme("greatest", [way.bound, cap])])
    else:
        bound = Interval(
            None if low is None or by.high is None else low - by.high,
            None if high is None or by.low is None else high - by.low,
        )
        if cap is not None:
            bound = extreme("greatest", [bound, extreme("least", [way.bound, cap])])
    return replace(way, bound=bound, place=place)


def _place(way: Way, change: Change, facts: Facts) -> Decimal | None:
    """What is rounded to before a moved limit is met.

    A trade keeps the printed places; a limit made of numbers has the places of its digits; one computed from the
    analysis or a size is met unrounded, unless its row names a place.
    """
    if facts.limit.round_to:
        return Decimal(facts.limit.round_to)
    if change.trade:
        return way.place
    if not is_plain(change.by) or (change.sign == "=" and change.to is not None and not is_plain(change.to)):
        return None
    places = [last_place(part.text) for part in parts_of(change.by) if isinstance(part, Number)]
    if change.sign == "=":
        return min(places)
    return None if way.place is None else min(way.place, *places)


def _standing(condition: Condition | None, known: bool | None, facts: Facts) -> str:
    if condition is None:
        return ""
    if known is not None:
        return f" ({STANDING[known]})"
    return f" (not known: {', '.join(_unknowns(condition, facts))})"


def _unknowns(condition: Condition, facts: Facts) -> list[str]:
    """What would have to be known."""
    found: list[str] = []
    for name in contents_in(condition):
        for element in elements_of(name):
            if not is_reported(facts.composition, element):
                found.append(f"{element} not reported")
            elif facts.composition[element].qualifier != "=":
                found.append(f"{element} reported as {facts.composition[element].shown()}")
    order = facts.requirement
    stated = {"t": order.size_mm, "flange": order.flange_mm, "area": order.area_mm2}
    for part in parts_of(condition):
        if isinstance(part, Flag) and part.kind == "form" and order.form is None:
            found.append("form not stated")
        if isinstance(part, Size) and stated[part.name] is None:
            found.append(f"{'thickness' if part.name == 't' else part.name} not stated")
    return list(dict.fromkeys(found)) or ["it cannot be computed"]
