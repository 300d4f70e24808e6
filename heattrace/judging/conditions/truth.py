"""Whether a condition holds for one analysis and one order: true, false, or unknown.

A content reported with `<` or `>`, or not reported, makes a comparison unknown; so does a form or a size that is not
stated. An option or an evidence that is not stated is false.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

from heattrace.judging.conditions.clauses import (
    Arithmetic,
    Computed,
    Condition,
    Content,
    Either,
    Every,
    Expression,
    Extreme,
    Flag,
    Not,
    Number,
    Printed,
    Relation,
    Size,
    Trade,
)
from heattrace.judging.limits import BOTH, Limit
from heattrace.judging.requirement import FORMS, Requirement
from heattrace.metallurgy.amount import Composition
from heattrace.metallurgy.interval import UNKNOWN, Interval, content, is_reported, point
from heattrace.metallurgy.registry import evaluate
from heattrace.metallurgy.rounding import last_place
from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class Facts:
    """What a condition may ask: the analysis, what the order says, and the row it stands in."""

    composition: Composition
    requirement: Requirement
    limit: Limit


def holds(condition: Condition, facts: Facts) -> bool | None:
    """Whether a condition holds; None where that is unknown."""
    match condition:
        case Not(inner):
            known = holds(inner, facts)
            return None if known is None else not known
        case Every(parts):
            found = [holds(part, facts) for part in parts]
            return False if False in found else None if None in found else True
        case Either(parts):
            found = [holds(part, facts) for part in parts]
            return True if True in found else None if None in found else False
        case Flag():
            return _flag(condition, facts)
        case Relation():
            return _relation(condition, facts)


def _flag(flag: Flag, facts: Facts) -> bool | None:
    order = facts.requirement
    match flag.kind:
        case "ordered":
            return any(name in order.options for name in flag.names)
        case "named":
            return any(name in order.evidence for name in flag.names)
        case "form":
            kinds = FORMS.get(order.form or "")
            return None if kinds is None else any(name in kinds for name in flag.names)
        case "specified":
            return any(limit.quantity in flag.names and limit.min_text for limit in order.limits())
        case _:
            return any(is_reported(facts.composition, name) for name in flag.names)


def _relation(relation: Relation, facts: Facts) -> bool | None:
    left = rounded_for(relation.left, relation.right, facts).value
    right = rounded_for(relation.right, relation.left, facts).value
    if left is None or right is None:
        return None
    match relation.sign:
        case "<":
            return left < right
        case "<=":
            return left <= right
        case ">":
            return left > right
        case ">=":
            return left >= right
        case _:
            return left == right


def rounded_for(expression: Expression, beside: Expression, facts: Facts) -> Interval:
    """Bounds of an expression, rounded to the places of the literal it meets where it is an element or a sum."""
    bounds = bounds_of(expression, facts)
    digits = digits_of(beside, facts)
    if not digits or not is_sum(expression):
        return bounds
    place = Fraction(last_place(digits))
    return _each(bounds, lambda end: round(end / place) * place)


def digits_of(expression: Expression, facts: Facts) -> str:
    """The printed digits of a literal, or of a limit the expression refers to; empty for anything else."""
    if isinstance(expression, Number):
        return expression.text
    if isinstance(expression, Printed):
        texts = _printed(expression, facts)
        return texts[0] if len(texts) == 1 else ""
    return ""


def is_sum(expression: Expression) -> bool:
    """Whether an expression is an element or a weighted sum of elements, not a ratio, a size or a plain number."""
    match expression:
        case Content():
            return True
        case Computed(formula):
            return formula != "mn-s"
        case Arithmetic("+" | "-", left, right):
            return (is_sum(left) or is_plain(left)) and (is_sum(right) or is_plain(right)) and not is_plain(expression)
        case Arithmetic("*", left, right):
            return (is_plain(left) and is_sum(right)) or (is_sum(left) and is_plain(right))
        case Arithmetic("/", left, right):
            return is_sum(left) and is_plain(right)
        case _:
            return False


def is_plain(expression: Expression) -> bool:
    """Whether an expression is made of numbers alone."""
    match expression:
        case Number():
            return True
        case Arithmetic(_, left, right):
            return is_plain(left) and is_plain(right)
        case Extreme(_, several):
            return all(is_plain(one) for one in several)
        case _:
            return False


def bounds_of(expression: Expression, facts: Facts) -> Interval:
    """Exact bounds of an expression; contents in mass %, sizes in mm or mm2."""
    match expression:
        case Number(text):
            return point(Decimal(text))
        case Content(element):
            return (
                content(facts.composition, element)
                if is_reported(facts.composition, element)
                else Interval(Fraction(0), None)
            )
        case Computed(formula):
            return evaluate(formula, facts.composition)
        case Size(name):
            size = _size(name, facts.requirement)
            return UNKNOWN if size is None else point(size)
        case Printed():
            ends = [Fraction(text) for text in _printed(expression, facts)]
            return Interval(min(ends), max(ends)) if ends else UNKNOWN
        case Extreme(which, several):
            return extreme(which, [bounds_of(one, facts) for one in several])
        case Arithmetic(sign, left, right):
            return _joined(sign, bounds_of(left, facts), bounds_of(right, facts))


def _size(name: str, order: Requirement) -> Decimal | None:
    return {"t": order.size_mm, "flange": order.flange_mm, "area": order.area_mm2}[name]


def _printed(wanted: Printed, facts: Facts) -> list[str]:
    """The digits the grade prints for one side of an element, on the basis and in the band of the row that asks."""
    row = facts.limit
    rows = [
        limit
        for limit in facts.requirement.limits()
        if limit.quantity == wanted.element and limit.text(wanted.side) and limit.basis in (row.basis, BOTH)
    ]
    size = facts.requirement.size(row.band.dimension)
    if size is not None:
        rows = [limit for limit in rows if limit.band.dimension == "all" or limit.band.holds(size)]
    elif any(limit.band == row.band for limit in rows):
        rows = [limit for limit in rows if limit.band == row.band]
    return list(dict.fromkeys(limit.text(wanted.side) for limit in rows))


def steps_of(trade: Trade, facts: Facts) -> Interval:
    """Whole steps a term lies below or above its mark, never fewer than none; open where the term is."""
    mark = bounds_of(trade.mark, facts)
    term = rounded_for(trade.term, trade.mark, facts)
    step = Fraction(trade.step.text)
    apart = _joined("-", mark, term) if trade.below else _joined("-", term, mark)
    low, high = _each(apart, lambda end: Fraction(max(0, end // step)))
    return Interval(Fraction(0) if low is None else low, high)


def _each(bounds: Interval, change: Callable[[Fraction], Fraction]) -> Interval:
    low, high = bounds
    return Interval(None if low is None else change(low), None if high is None else change(high))


def extreme(which: str, several: list[Interval]) -> Interval:
    """Bounds of the least or the greatest of several."""
    lows, highs = [one.low for one in several], [one.high for one in several]
    known_lows = [low for low in lows if low is not None]
    known_highs = [high for high in highs if high is not None]
    if which == "least":
        low = min(known_lows) if len(known_lows) == len(lows) else None
        return Interval(low, min(known_highs) if known_highs else None)
    high = max(known_highs) if len(known_highs) == len(highs) else None
    return Interval(max(known_lows) if known_lows else None, high)


def _joined(sign: str, left: Interval, right: Interval) -> Interval:
    if sign in "+-":
        other = right if sign == "+" else Interval(_negated(right.high), _negated(right.low))
        low = None if left.low is None or other.low is None else left.low + other.low
        high = None if left.high is None or other.high is None else left.high + other.high
        return Interval(low, high)
    if sign == "/":
        # Only a divisor that is surely above or below zero has bounds; a condition never divides by a maybe.
        if right.low is None or right.high is None or right.low <= 0 <= right.high:
            return UNKNOWN
        right = Interval(1 / right.high, 1 / right.low)
    return _times(left, right)


def _times(left: Interval, right: Interval) -> Interval:
    """Bounds of a product; an open end stays open only against a factor at or above zero."""
    ends = (left.low, left.high, right.low, right.high)
    if None not in ends:
        products = [a * b for a in left if a is not None for b in right if b is not None]
        return Interval(min(products), max(products))
    if left.low is None or right.low is None or left.low < 0 or right.low < 0:
        return UNKNOWN
    return Interval(left.low * right.low, None)


def _negated(end: Fraction | None) -> Fraction | None:
    return None if end is None else -end
