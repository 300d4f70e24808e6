"""One limit against one measured quantity: the line it gives, with the words beside it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from heattrace.judging.compare import Beside, compare_with, in_unit
from heattrace.judging.conditions.truth import Facts
from heattrace.judging.judgement import FAIL, NOT_REPORTED, PASS, SEVERITY, UNDECIDED, WAIVED, Judged
from heattrace.judging.limits import REQUIRES, Limit
from heattrace.judging.measure import Measured
from heattrace.judging.requirement import Requirement
from heattrace.judging.ruling import Ruling, Way, rule_on
from heattrace.judging.selection import Side
from heattrace.judging.wording import group_of, limit_digits, places_lost, reported_digits, requirement_in_words
from heattrace.metallurgy.amount import Composition
from heattrace.values import dataclass, replace

ONLY_CAST = "judged on the cast analysis, the basis its standard names"
CAST_TAKEN = "the cast limit: no product limit is printed"
CAST_MISSED = "a cast limit on a product analysis, and no permitted deviation is known: a failure decides nothing"


@dataclass(frozen=True, slots=True)
class Case:
    """What is judged: the analysis and what it is judged against."""

    composition: Composition
    requirement: Requirement


def judge_side(side: Side, measured: Measured, case: Case) -> Judged | None:
    """One line; None where no row prints a limit of that sense for this case."""
    first = side.limits[0]
    if side.other_basis or side.beyond:
        beside = Beside(WAIVED if side.other_basis else UNDECIDED, None, None, first.rounding)
        texts = [f"{row.band.text}: {row.text(side.sense)}" for row in side.limits if row.text(side.sense)]
        text = first.text(side.sense) if side.other_basis else ", ".join(texts)
        return _line(side, first, measured, text, beside, [side.beyond or ONLY_CAST])
    rows = [(limit, _judge_row(side, limit, measured, case)) for limit in side.limits]
    if len(rows) == 1:
        return rows[0][1]
    return _common(side, rows) if any(line is not None for _, line in rows) else None


def _judge_row(side: Side, limit: Limit, measured: Measured, case: Case) -> Judged | None:
    ruling = rule_on(limit, side.sense, Facts(case.composition, case.requirement, limit))
    if side.sense == REQUIRES:
        return _judge_requirement(side, limit, measured, ruling)
    if all(way.bound is None and not way.waived for way in ruling.ways):
        return None
    ways = [(way, _beside(way, side, limit, measured, case.requirement.rounding)) for way in ruling.ways]
    verdict = common_verdict([under(way, beside.verdict) for way, beside in ways])
    shown, beside = next(((w, b) for w, b in ways if w.bound is not None), ways[0])
    printed = text = limit.text(side.sense)
    if limit.when and shown.bound is not None and (not printed or shown.bound.value != Fraction(printed)):
        text = limit_digits(shown.bound, shown.place)
    notes = [*ruling.words, places_lost(measured, limit, text)]
    if printed and text != printed:
        notes.insert(0, f"printed {printed}")
    if verdict == PASS and beside.margin is not None and beside.margin < 0:
        notes.append("met by the rounding method only; unrounded it is missed")
    if side.fallback:
        notes.append(CAST_MISSED if verdict == FAIL else CAST_TAKEN)
        verdict = UNDECIDED if verdict == FAIL else verdict
    return _line(side, limit, measured, text, replace(beside, verdict=verdict), notes)


def _judge_requirement(side: Side, limit: Limit, measured: Measured, ruling: Ruling) -> Judged | None:
    """A row that must be reported, or whose condition is itself the limit."""
    verdicts = [{True: PASS, False: FAIL, None: UNDECIDED}[known] for known in ruling.required]
    notes = list(ruling.words)
    if limit.report:
        verdicts.append(NOT_REPORTED if measured.missing else PASS)
        notes.append("must be reported")
    if not verdicts:
        return None
    worst = max(verdicts, key=SEVERITY.__getitem__)
    if side.fallback and worst == FAIL:
        notes.append(CAST_MISSED)
        worst = UNDECIDED
    verdict = common_verdict([under(way, worst) for way in ruling.ways])
    return _line(side, limit, measured, requirement_in_words(limit), Beside(verdict, None, None, limit.rounding), notes)


def _beside(way: Way, side: Side, limit: Limit, measured: Measured, method: str | None) -> Beside:
    """How the value stands to the limit in one way; both ends of a limit known by its bounds must agree."""
    if way.bound is None:
        return Beside(PASS, None, None, limit.rounding)
    low, high = way.bound
    ends = [_at(end, way.place, side, limit, measured, method) for end in dict.fromkeys((low, high))]
    beside = (
        ends[0] if len(ends) == 1 else Beside(common_verdict([e.verdict for e in ends]), None, None, ends[0].method)
    )
    if measured.missing and beside.verdict != FAIL:
        return Beside(NOT_REPORTED, None, None, beside.method)
    return beside


def _at(
    end: Fraction | None, place: Decimal | None, side: Side, limit: Limit, measured: Measured, method: str | None
) -> Beside:
    if end is None:
        return Beside(UNDECIDED, None, None, limit.rounding)
    return compare_with(measured, limit, side.sense, end, place, method)


def under(way: Way, verdict: str) -> str:
    """The verdict of one way in which a row may stand."""
    if way.waived:
        return WAIVED
    if verdict == NOT_REPORTED:
        return NOT_REPORTED
    if way.agreed:
        return UNDECIDED
    return UNDECIDED if way.perhaps_agreed and verdict != PASS else verdict


def common_verdict(verdicts: Sequence[str]) -> str:
    """The verdict that holds in every case, else undecided; waived counts as pass beside a pass.

    >>> common_verdict(["pass", "waived"]), common_verdict(["fail", "waived"]), common_verdict(["fail", "fail"])
    ('pass', 'undecided', 'fail')
    """
    kinds = set(verdicts)
    if len(kinds) == 1:
        return verdicts[0]
    if kinds == {PASS, WAIVED}:
        return PASS
    return NOT_REPORTED if NOT_REPORTED in kinds and FAIL not in kinds and UNDECIDED not in kinds else UNDECIDED


def _common(side: Side, rows: Sequence[tuple[Limit, Judged | None]]) -> Judged:
    """One line for all bands of a quantity while the size is not stated."""
    each = [PASS if line is None else line.verdict for _, line in rows]
    lines = [line for _, line in rows if line is not None]
    worst = max(lines, key=lambda line: (SEVERITY[line.verdict], -(line.margin or 0)))
    size = "flange thickness" if rows[0][0].band.dimension == "flange" else "thickness of the ordered product"
    if len(set(each)) == 1:
        note = f"{size} not stated; the same in every band"
    else:
        said = [f"{limit.band.text} {verdict}" for (limit, _), verdict in zip(rows, each, strict=True)]
        note = f"{size} not stated: {', '.join(said)}"
    listed = [f"{limit.band.text}: {'no limit' if line is None else line.limit}" for limit, line in rows]
    one_text = len({line.limit for line in lines}) == 1 and len(lines) == len(rows)
    return replace(
        worst,
        limit=worst.limit if one_text else ", ".join(listed),
        verdict=common_verdict(each),
        note=_joined([note, worst.note]),
        status="memory" if any(line.status != "verified" for line in lines) else "verified",
    )


def _line(side: Side, limit: Limit, measured: Measured, text: str, beside: Beside, notes: Sequence[str]) -> Judged:
    bounds = in_unit(measured.bounds, limit)
    group = group_of(limit)
    unknown = bool(measured.missing) and beside.verdict != FAIL
    return Judged(
        quantity=side.quantity,
        sense=side.sense,
        limit=text,
        reported=reported_digits(measured, limit),
        value=None if unknown else bounds.value,
        low=None if unknown else bounds.low,
        high=None if unknown else bounds.high,
        rounded=beside.rounded,
        group=group[0] if group else None,
        alternative=group[1] if group else None,
        method=beside.method,
        margin=beside.margin,
        verdict=beside.verdict,
        note=_joined(notes),
        source=limit.source,
        status=limit.status,
        unit=limit.unit,
        computed=measured.computed,
    )


def _joined(notes: Sequence[str]) -> str:
    return "; ".join(note for note in notes if note)
