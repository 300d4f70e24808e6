"""A condition printed back in words, with how it stands."""

from __future__ import annotations

from functools import lru_cache

from heattrace.judging.conditions.clauses import (
    Agreed,
    Alternative,
    Applies,
    Arithmetic,
    Change,
    Clause,
    Computed,
    Condition,
    Content,
    Either,
    Every,
    Expression,
    Extreme,
    Flag,
    Lapses,
    Not,
    Number,
    Printed,
    Relation,
    Requires,
    Sampled,
    Size,
)

SIGNS = {"<": "below", "<=": "at most", "=": "equal to", ">=": "at least", ">": "above"}
SIZES = {"t": "the thickness", "flange": "the flange thickness", "area": "the cross-section"}
UNITS = {"t": " mm", "flange": " mm", "area": " mm2"}
STANDING = {True: "yes", False: "no", None: "not known"}


@lru_cache(maxsize=1024)
def clause_in_words(clause: Clause) -> str:
    """One clause as a phrase.

    >>> from heattrace.judging.conditions.parser import parse_when
    >>> clause_in_words(parse_when("max + 0.06 per 0.01 C below max(C) to 1.35")[0])
    'max raised by 0.06 for each whole 0.01 of C below the printed max of C, as far as 1.35'
    >>> clause_in_words(parse_when("lapses if Al >= 0.020 or named nitrogen-binders")[0])
    'lapses if Al is at least 0.020 or nitrogen-binders is named'
    """
    match clause:
        case Applies(condition):
            return f"applies only if {condition_in_words(condition)}"
        case Lapses(side, condition):
            return f"{side + ' ' if side else ''}lapses if {condition_in_words(condition)}"
        case Agreed(condition):
            return f"by agreement if {condition_in_words(condition)}"
        case Requires(condition):
            return f"requires that {condition_in_words(condition)}"
        case Alternative(name, group):
            return f"one alternative of {group}: {name}"
        case Sampled(number, unit):
            return f"checked once every {number} {unit}"
        case Change():
            return _change(clause)


def _change(clause: Change) -> str:
    by = expression_in_words(clause.by)
    text = {"+": f"{clause.side} raised by {by}", "-": f"{clause.side} lowered by {by}"}.get(
        clause.sign, f"{clause.side} becomes {by}"
    )
    if clause.trade:
        where = "below" if clause.trade.below else "above"
        term, mark = expression_in_words(clause.trade.term), expression_in_words(clause.trade.mark)
        text += f" for each whole {clause.trade.step.text} of {term} {where} {mark}"
    if clause.to:
        text += f", as far as {expression_in_words(clause.to)}"
    return text if clause.condition is None else f"{text} if {condition_in_words(clause.condition)}"


def condition_in_words(condition: Condition, inside: str = "") -> str:
    """A condition as a phrase; `inside` names the joint around it, so that brackets stand where they are needed."""
    match condition:
        case Either(parts):
            text = " or ".join(condition_in_words(part, "or") for part in parts)
            return f"({text})" if inside in ("and", "not") else text
        case Every(parts):
            text = " and ".join(condition_in_words(part, "and") for part in parts)
            return f"({text})" if inside == "not" else text
        case Not(Flag(kind, names)):
            return _flag(kind, " or ".join(names), " not")
        case Not(inner):
            return f"not {condition_in_words(inner, 'not')}"
        case Flag(kind, names):
            return _flag(kind, " or ".join(names))
        case Relation(left, sign, right):
            unit = UNITS.get(left.name, "") if isinstance(left, Size) else ""
            return f"{expression_in_words(left)} is {SIGNS[sign]} {expression_in_words(right)}{unit}"


def _flag(kind: str, names: str, negation: str = "") -> str:
    match kind:
        case "form":
            return f"the form is{negation} {names}"
        case "specified":
            return f"a minimum is{negation} specified for {names}"
        case _:
            return f"{names} is{negation} {kind}"


def expression_in_words(expression: Expression, inside: str = "") -> str:
    """An expression as it is written, with names in words."""
    match expression:
        case Number(text):
            return text
        case Content(name) | Computed(name):
            return name
        case Size(name):
            return SIZES[name]
        case Printed(side, element):
            return f"the printed {side} of {element}"
        case Extreme(which, several):
            return f"the {which} of {', '.join(expression_in_words(one) for one in several)}"
        case Arithmetic(sign, left, right):
            joint = f" {sign} " if sign in "+-" else sign
            text = f"{expression_in_words(left, sign)}{joint}{expression_in_words(right, sign + 'r')}"
            tight = inside[:1] in ("*", "/") and sign in "+-"
            return f"({text})" if tight or inside in ("-r", "/r") else text
