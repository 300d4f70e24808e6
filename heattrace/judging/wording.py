"""Judging in words: the note beside a limit, and the sentence of a finding."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from heattrace.findings import Finding
from heattrace.judging.compare import in_unit
from heattrace.judging.conditions.clauses import Requires
from heattrace.judging.conditions.parser import parse_when
from heattrace.judging.conditions.words import condition_in_words
from heattrace.judging.judgement import FAIL, NOT_REPORTED, Judged
from heattrace.judging.limits import MAX, MIN, Limit
from heattrace.judging.measure import Measured
from heattrace.judging.selection import alternative_of
from heattrace.metallurgy.formula import shown_number
from heattrace.metallurgy.interval import Interval
from heattrace.metallurgy.rounding import last_place, round_to, show_beside

NEXT_FAIL = "hold it with that reason, or judge it for another grade"
NEXT_MISSING = "have it determined; it cannot be released before"
NEXT_UNDECIDED = "undecided never ships: settle what the note says"


def group_of(limit: Limit) -> tuple[str, str] | None:
    """(group, alternative) of a row that is one of several alternatives."""
    found = alternative_of(limit)
    return (found.group, found.name) if found else None


def requirement_in_words(limit: Limit) -> str:
    """What a row without a printed limit asks for."""
    asked = [condition_in_words(c.condition) for c in parse_when(limit.when) if isinstance(c, Requires)]
    return "; ".join([*asked, "reported"] if limit.report else asked)


def limit_digits(bound: Interval, place: Decimal | None) -> str:
    """A limit's digits: those of its last place where it has one, else the number as it was computed."""
    if bound.value is None:
        return f"between {_end(bound.low, 'anything')} and {_end(bound.high, 'anything')}"
    if place is not None and bound.value % Fraction(place) == 0:
        return format(round_to(bound.value, place), "f")
    return shown_number(bound.value)


def reported_digits(measured: Measured, limit: Limit) -> str | None:
    """The reported digits in the limit's unit, for a computed quantity those of its members in mass %."""
    if measured.amount is not None:
        sign = "" if measured.amount.qualifier == "=" else measured.amount.qualifier
        return f"{sign}{limit.in_unit(measured.amount.text)}"
    return " ".join(f"{element}={amount.shown()}" for element, amount in measured.members) or None


def places_lost(measured: Measured, limit: Limit, text: str) -> str:
    """A word of warning where a value has fewer places than the limit and the lost ones could decide."""
    amount = measured.amount
    if amount is None or not amount.value or not text.replace(".", "", 1).isdigit():
        return ""
    digits = limit.in_unit(amount.text)
    reach = Fraction(last_place(digits)) / 2
    if last_place(digits) <= last_place(text) or abs(Fraction(digits) - Fraction(text)) > reach:
        return ""
    return f"places lost: {digits} was reported with fewer places than the limit {text} has"


def value_shown(measured: Measured, limit: Limit, sense: str, line: Judged) -> str:
    """A measured value for a sentence: reported digits, or a computed number that never hides a failure."""
    if measured.amount is not None:
        return reported_digits(measured, limit) or "not reported"
    low, high = in_unit(measured.bounds, limit)
    if low is None or low != high:
        return f"between {_end(low, 'anything')} and {_end(high, 'anything')}"
    if line.verdict == FAIL and line.limit.replace(".", "", 1).isdigit():
        return show_beside(low, line.limit, "max" if sense == MAX else "min", passes=False)
    return shown_number(low)


def _end(value: Fraction | None, unknown: str) -> str:
    return unknown if value is None else shown_number(value)


def finding_of(line: Judged, seen: str, subject: str, missing: Sequence[str], *, beyond: bool) -> Finding:
    """The finding for a limit that is missed or open, with its reason code."""
    where = f"{subject}, {line.quantity}"
    wanted = f"{line.sense} {line.limit}" + ("" if line.unit in ("ratio", "") else f" {line.unit}")
    if line.verdict == FAIL:
        return Finding(_code(line), where, seen, wanted, NEXT_FAIL)
    if line.verdict == NOT_REPORTED:
        return Finding("CHEM-MISSING", where, f"not reported: {', '.join(missing)}", wanted, NEXT_MISSING)
    code = "CHEM-NO-LIMIT" if beyond else "CHEM-UNDECIDED"
    because = "; ".join(part for part in line.note.split("; ") if not part.endswith(("(no)", "(yes)")))
    return Finding(code, where, f"{seen} ({because})" if because else seen, wanted, NEXT_UNDECIDED)


def _code(line: Judged) -> str:
    if line.unit == "ratio":
        return "CHEM-RATIO"
    return {MAX: "CHEM-HIGH", MIN: "CHEM-LOW"}.get(line.sense, "CHEM-REQUIRES")


def finding_of_group(
    name: str,
    alternatives: Mapping[str, Sequence[tuple[Measured, Judged]]],
    verdict: str,
    subject: str,
    missing: Sequence[str],
) -> Finding:
    """The finding for a group of which no alternative holds for certain."""
    where = f"{subject}, {name}"
    wanted = f"at least one of {', '.join(alternatives)}"
    if verdict == FAIL:
        failed = [
            f"{alternative} misses {', '.join(dict.fromkeys(j.quantity for _, j in rows if j.verdict == FAIL))}"
            for alternative, rows in alternatives.items()
        ]
        return Finding("CHEM-ALTERNATIVE", where, "; ".join(failed), wanted, NEXT_FAIL)
    if missing:
        listed = ", ".join(dict.fromkeys(missing))
        return Finding("CHEM-MISSING", where, f"none holds for certain; not reported: {listed}", wanted, NEXT_MISSING)
    return Finding("CHEM-UNDECIDED", where, "none holds for certain", wanted, NEXT_UNDECIDED)
