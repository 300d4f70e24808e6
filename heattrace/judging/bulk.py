"""Judging many analyses: whole parts per billion against whole-number thresholds, with the verdicts of the exact path.

A linear quantity times its common divisor is a whole number of ppb (30 CEV = 30 C + 5 Mn + 6 (Cr + Mo + V) + 2 (Ni +
Cu)), and rounding half to even to the last place of a limit is one threshold for it: a maximum of 0.20 is met up to
0.205 itself, one of 0.21 only below 0.215. What is no such number (`<`, unreported, a condition that asks the analysis,
a formula that is not linear) goes through the exact path.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor, lcm

from heattrace.judging.conditions.clauses import Change, Flag, Requires, contents_in, parts_of
from heattrace.judging.conditions.parser import parse_when
from heattrace.judging.conditions.truth import Facts, holds
from heattrace.judging.judge import group_verdict, whole_verdict
from heattrace.judging.judgement import FAIL, PASS, UNDECIDED, WAIVED
from heattrace.judging.limits import ABSOLUTE, CAST, MAX, MIN, Grade, Limit
from heattrace.judging.measure import measure, quantity_of
from heattrace.judging.one_limit import Case, common_verdict, judge_side, under
from heattrace.judging.requirement import Requirement, requirement_of
from heattrace.judging.ruling import Way, rule_on
from heattrace.judging.selection import Side, sides_of
from heattrace.judging.wording import group_of
from heattrace.metallurgy.amount import Amount, Composition
from heattrace.metallurgy.quantity import Quantity
from heattrace.metallurgy.registry import FORMULAS
from heattrace.values import dataclass

PPB_PLACES = 7  # 1 ppb = 1e-7 mass %


@dataclass(frozen=True, slots=True)
class Threshold:
    """A limit on a weighted sum of whole ppb: it passes from `least` up and to `most`, both included; None is open.

    A ratio a/b against r is the sum q a - p b (r = p/q) against zero; `divisor` then names b, which must not be zero.
    """

    weights: tuple[tuple[str, int], ...]
    least: int | None
    most: int | None
    divisor: str = ""

    def passes(self, ppb: Mapping[str, int]) -> bool:
        """Whether an analysis that reports all its elements meets it."""
        total = 0
        for element, weight in self.weights:
            total += weight * ppb[element]
        return (self.least is None or total >= self.least) and (self.most is None or total <= self.most)


def threshold(quantity: Quantity, sense: str, edge: Fraction, place: Fraction | None) -> Threshold | None:
    """The threshold of a limit; None where the quantity is not linear.

    Parameters
    ----------
    edge : Fraction
        The limit, mass % or a ratio.
    place : Fraction or None
        What a value is rounded to before it meets the limit; None: it is met unrounded.

    Examples
    --------
    0.205 rounds to the even 0.20 and 0.215 to 0.22, so a maximum of 0.20 is met by 2 050 000 ppb, one of 0.21 not by
    2 150 000:

    >>> [threshold(quantity_of("C"), "max", Fraction(e), Fraction("0.01")).most for e in ("0.20", "0.21")]
    [2050000, 2149999]
    """
    turn, included = turning_point(sense, edge, place)
    if quantity.kind == "ratio" or quantity.formula == "mn-s":
        over, divisor = ("Mn", "S") if quantity.formula else (quantity.terms[0][0], quantity.divisor)
        weights: tuple[tuple[str, int], ...] = ((over, turn.denominator), (divisor, -turn.numerator))
        turn = Fraction(0)
    else:
        terms = FORMULAS[quantity.formula].terms if quantity.formula else quantity.terms
        if not terms:
            return None
        common = lcm(*(weight.denominator for _, weight in terms))
        weights = tuple((element, int(weight * common)) for element, weight in terms)
        divisor = ""
        turn *= common * 10**PPB_PLACES
    if sense == MAX:
        return Threshold(weights, None, floor(turn) if included else ceil(turn) - 1, divisor)
    return Threshold(weights, ceil(turn) if included else floor(turn) + 1, None, divisor)


def turning_point(sense: str, edge: Fraction, place: Fraction | None) -> tuple[Fraction, bool]:
    """The value at which a limit turns from met to missed, and whether it is itself met."""
    if place is None:
        return edge, True
    half = Fraction(1, 2)
    if sense == MAX:
        steps = floor(edge / place)
        return (steps + half) * place, steps % 2 == 0
    steps = ceil(edge / place)
    return (steps - half) * place, steps % 2 == 0


@dataclass(frozen=True, slots=True)
class _Compiled:
    """One side made ready: its ways with their thresholds, per row; `fixed` where the verdict never changes."""

    side: Side
    elements: tuple[str, ...]
    rows: tuple[tuple[tuple[Way, Threshold | None], ...], ...]
    group: tuple[str, str] | None
    fixed: str = ""


class BulkJudge:
    """Judges many analyses against one requirement; the verdicts are those of `judge`."""

    def __init__(self, requirement: Requirement | Grade, basis: str = CAST) -> None:
        self.requirement = requirement_of(requirement) if isinstance(requirement, Grade) else requirement
        sides, _ = sides_of(self.requirement, basis)
        self.sides = [_compiled(side, self.requirement) for side in sides]

    def comparisons(self) -> int:
        """How many limits one analysis meets as whole numbers."""
        return sum(len(ways) for side in self.sides for ways in side.rows)

    def verdict(self, ppb: Mapping[str, int], others: Composition | None = None) -> str:
        """`meets`, `fails` or `undecided`.

        Parameters
        ----------
        ppb : mapping of element to content
            Whole parts per billion of mass, of the elements reported as a value.
        others : Composition, optional
            Contents that are no whole ppb: reported by `<` or `>`, or finer.
        """
        verdicts: list[str] = []
        groups: dict[str, dict[str, list[str]]] = {}
        case: Case | None = None
        for compiled in self.sides:
            verdict = compiled.fixed or _quick(compiled, ppb)
            if not verdict:
                case = case or Case({**_amounts(ppb), **(others or {})}, self.requirement)
                line = judge_side(compiled.side, measure(compiled.side.quantity, case.composition), case)
                if line is None:
                    continue
                verdict = line.verdict
            if compiled.group is None:
                verdicts.append(verdict)
            else:
                name, alternative = compiled.group
                groups.setdefault(name, {}).setdefault(alternative, []).append(verdict)
        verdicts += [group_verdict(alternatives.values()) for alternatives in groups.values()]
        return whole_verdict(verdicts)


def _quick(compiled: _Compiled, ppb: Mapping[str, int]) -> str:
    """The verdict from whole numbers; empty where the exact path is needed."""
    if not compiled.rows:
        return ""
    for element in compiled.elements:
        if element not in ppb:
            return ""
    rows: list[str] = []
    for ways in compiled.rows:
        found: list[str] = []
        for way, limit in ways:
            if limit is None:
                found.append(under(way, PASS))
                continue
            if limit.divisor and ppb[limit.divisor] <= 0:
                return ""
            found.append(under(way, PASS if limit.passes(ppb) else FAIL))
        verdict = found[0] if len(found) == 1 else common_verdict(found)
        rows.append(UNDECIDED if verdict == FAIL and compiled.side.fallback else verdict)
    return rows[0] if len(rows) == 1 else common_verdict(rows)


def _compiled(side: Side, requirement: Requirement) -> _Compiled:
    group = group_of(side.limits[0])
    if side.beyond or side.other_basis:
        return _Compiled(side, (), (), group, WAIVED if side.other_basis else UNDECIDED)
    quantity = quantity_of(side.quantity)
    rows = [_ways(side, limit, quantity, requirement) for limit in side.limits]
    ready = [ways for ways in rows if ways is not None]
    if side.sense not in (MIN, MAX) or len(ready) < len(rows):
        return _Compiled(side, (), (), group)
    elements = tuple(dict.fromkeys(e for ways in ready for _, t in ways if t is not None for e, _ in t.weights))
    return _Compiled(side, elements, tuple(ready), group)


def _ways(
    side: Side, limit: Limit, quantity: Quantity, requirement: Requirement
) -> tuple[tuple[Way, Threshold | None], ...] | None:
    """The ways of one row with their thresholds; None where they hang on the analysis, or there is no limit at all."""
    facts = Facts({}, requirement, limit)
    if any(_asks_analysis(clause, facts) for clause in parse_when(limit.when)):
        return None
    ruling = rule_on(limit, side.sense, facts)
    if all(way.bound is None and not way.waived for way in ruling.ways):
        return None
    found: list[tuple[Way, Threshold | None]] = []
    for way in ruling.ways:
        if way.bound is None or way.waived:
            found.append((way, None))
            continue
        if way.bound.value is None:
            return None
        unit = Fraction(10) ** limit.shift
        absolute = way.place is None or (requirement.rounding or limit.rounding) == ABSOLUTE
        place = None if absolute or way.place is None else Fraction(way.place) / unit
        limit_of_way = threshold(quantity, side.sense, way.bound.value / unit, place)
        if limit_of_way is None:
            return None
        found.append((way, limit_of_way))
    return tuple(found)


def _asks_analysis(clause: object, facts: Facts) -> bool:
    """Whether a clause's outcome can differ from one analysis to the next.

    With nothing reported every content is unknown, so a condition that is true or false all the same never differs;
    `reported` alone is false then, and is no such condition.
    """
    if isinstance(clause, Change):
        moved = [part for part in (clause.by, clause.to) if part is not None and contents_in(part)]
        idle = clause.condition is not None and holds(clause.condition, facts) is False
        if (moved or clause.trade) and not (idle and not _asks_reported(clause)):
            return True
    condition = getattr(clause, "condition", None)
    if condition is None:
        return False
    if isinstance(clause, Requires) or any(
        isinstance(part, Flag) and part.kind == "reported" for part in parts_of(condition)
    ):
        return True
    return holds(condition, facts) is None and bool(contents_in(condition))


def _asks_reported(clause: Change) -> bool:
    condition = clause.condition
    return condition is not None and any(
        isinstance(part, Flag) and part.kind == "reported" for part in parts_of(condition)
    )


def _amounts(ppb: Mapping[str, int]) -> dict[str, Amount]:
    found = {}
    for element, whole in ppb.items():
        value = Decimal(whole).scaleb(-PPB_PLACES)
        found[element] = Amount("=", value, format(value, "f"))
    return found


def whole_ppb(composition: Composition) -> tuple[dict[str, int], dict[str, Amount]]:
    """Contents as whole ppb, and those that are none: `<`, `>`, not reported, or finer than a ppb."""
    ppb: dict[str, int] = {}
    others: dict[str, Amount] = {}
    for element, amount in composition.items():
        whole = None if amount.value is None else amount.value.scaleb(PPB_PLACES)
        if amount.qualifier == "=" and whole is not None and whole == whole.to_integral_value():
            ppb[element] = int(whole)
        else:
            others[element] = amount
    return ppb, others
