"""One limit against one measured quantity: the line it gives, with the words beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from heattrace.judging.compare import Beside, compare_with, in_unit
from heattrace.judging.judgement import FAIL, NOT_REPORTED, PASS, SEVERITY, UNDECIDED, WAIVED, Judged
from heattrace.judging.limits import REQUIRES, Limit
from heattrace.judging.measure import Measured
from heattrace.judging.requirement import Requirement
from heattrace.judging.ruling import AGREED, LOOSER, OPEN, TIGHTER, World, worlds_of
from heattrace.judging.selection import Side, clauses_of
from heattrace.judging.wording import condition_in_words, group_of, places_lost, reported_digits


def judge_side(side: Side, measured: Measured, wanted: Requirement) -> Judged | None:
    """One line; None where no row prints a limit of that sense for this case."""
    first = side.limits[0]
    if side.other_basis:
        note = "judged on the cast analysis, the basis its standard names"
        return _line(side, first, measured, wanted, Beside(WAIVED, None, None, first.rounding), note)
    if side.beyond:
        beside = Beside(UNDECIDED, None, None, first.rounding)
        return _line(side, first, measured, wanted, beside, side.beyond)
    rows = [(limit, _judge_row(side, limit, measured, wanted)) for limit in side.limits]
    lines = [(limit, line) for limit, line in rows if line is not None]
    if not lines:
        return None
    if len(rows) == 1:
        return lines[0][1]
    return _common(side, rows)


def _judge_row(side: Side, limit: Limit, measured: Measured, wanted: Requirement) -> Judged | None:
    notes = [condition_in_words(limit)]
    if side.sense == REQUIRES:
        reported = NOT_REPORTED if measured.missing else PASS
        verdicts = [reported] if limit.report else []
        if "requires" in limit.when:
            verdicts.append(UNDECIDED)
        notes.append("must be reported" if limit.report else "")
        beside = Beside(max(verdicts, key=SEVERITY.__getitem__), None, None, limit.rounding)
        return _line(side, limit, measured, wanted, beside, _joined(notes))
    worlds = worlds_of(limit, side.sense, wanted)
    if len(worlds) == 1 and not worlds[0].text:
        return None
    printed = limit.text(side.sense)
    beside = Beside(UNDECIDED, None, None, limit.rounding)
    if printed:
        beside = compare_with(measured, limit, side.sense, printed, wanted.rounding)
        if measured.missing and beside.verdict != FAIL:
            beside = replace(beside, verdict=NOT_REPORTED, rounded=None, margin=None)
        notes.append(places_lost(measured, limit, printed))
    verdict = common_verdict([_in_world(world, beside.verdict) for world in worlds])
    if side.fallback and verdict == FAIL:
        verdict = UNDECIDED
        notes.append("a cast limit on a product analysis: a failure decides nothing, no permitted deviation is known")
    elif side.fallback:
        notes.append("the cast limit: no product limit is printed")
    return _line(side, limit, measured, wanted, replace(beside, verdict=verdict), _joined(notes))


def _in_world(world: World, printed: str) -> str:
    """The verdict a row has in one of the ways it may stand, from its verdict as printed."""
    if world.state == WAIVED:
        return WAIVED
    if printed == NOT_REPORTED:
        return NOT_REPORTED
    if world.state in (AGREED, LOOSER):
        return PASS if printed == PASS else UNDECIDED
    if world.state == TIGHTER:
        return FAIL if printed == FAIL else UNDECIDED
    return UNDECIDED if world.state == OPEN else printed


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
    return NOT_REPORTED if kinds == {NOT_REPORTED, WAIVED} else UNDECIDED


def _common(side: Side, rows: Sequence[tuple[Limit, Judged | None]]) -> Judged:
    """One line for all bands of a quantity while the size is not stated."""
    verdict = common_verdict([PASS if line is None else line.verdict for _, line in rows])
    lines = [line for _, line in rows if line is not None]
    worst = max(lines, key=lambda line: (SEVERITY[line.verdict], -(line.margin or 0)))
    texts = {line.limit for line in lines}
    each = [f"{limit.band.text}: {'no limit' if line is None else line.limit}" for limit, line in rows]
    size = "flange thickness" if rows[0][0].band.dimension == "flange" else "thickness of the ordered product"
    if len({PASS if line is None else line.verdict for _, line in rows}) == 1:
        note = f"{size} not stated; the same in every band"
    else:
        verdicts = [f"{limit.band.text} {PASS if line is None else line.verdict}" for limit, line in rows]
        note = f"{size} not stated; {', '.join(verdicts)}"
    one_text = len(texts) == 1 and len(lines) == len(rows)
    return replace(
        worst,
        limit=worst.limit if one_text else ", ".join(each),
        verdict=verdict,
        note=_joined([note, worst.note]),
        status="memory" if any(line.status != "verified" for line in lines) else "verified",
    )


def _line(side: Side, limit: Limit, measured: Measured, wanted: Requirement, beside: Beside, note: str) -> Judged:
    bounds = in_unit(measured.bounds, limit)
    group = group_of(limit)
    open_ended = bool(measured.missing) and beside.verdict != FAIL
    return Judged(
        quantity=side.quantity,
        sense=side.sense,
        limit=_limit_text(side, limit),
        reported=reported_digits(measured, limit),
        value=None if open_ended else bounds.value,
        low=None if open_ended else bounds.low,
        high=None if open_ended else bounds.high,
        rounded=beside.rounded,
        group=group[0] if group else None,
        alternative=group[1] if group else None,
        method=wanted.rounding or beside.method,
        margin=beside.margin,
        verdict=beside.verdict,
        note=note,
        source=limit.source,
        status=limit.status,
        unit=limit.unit,
        computed=measured.computed,
    )


def _limit_text(side: Side, limit: Limit) -> str:
    if side.beyond:
        return ", ".join(f"{row.band.text}: {row.text(side.sense)}" for row in side.limits if row.text(side.sense))
    if side.sense == REQUIRES:
        return (
            "reported"
            if "requires" not in limit.when
            else next(clause for clause in clauses_of(limit.when) if clause.startswith("requires")).removeprefix(
                "requires "
            )
        )
    return limit.text(side.sense)


def _joined(notes: Sequence[str]) -> str:
    return "; ".join(note for note in notes if note)
