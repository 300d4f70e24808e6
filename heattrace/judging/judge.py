"""Judging a composition: every limit of a requirement, then the verdict of the whole.

Any limit missed: fails. Else anything undecided, or anything required and not reported: undecided. Else meets.
Reference limits are gathered facts; the edition named in the order and the authorised person decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from heattrace.findings import Finding
from heattrace.judging.judgement import (
    FAIL,
    FAILS,
    MEETS,
    PASS,
    SEVERITY,
    UNDECIDED,
    WAIVED,
    Judged,
    Judgement,
)
from heattrace.judging.limits import CAST, Grade
from heattrace.judging.measure import Measured, measure
from heattrace.judging.one_limit import Case, judge_side
from heattrace.judging.requirement import Requirement, requirement_of
from heattrace.judging.selection import Side, sides_of
from heattrace.judging.wording import finding_of, finding_of_group, value_shown
from heattrace.metallurgy.amount import Amount, Composition
from heattrace.metallurgy.interval import is_reported
from heattrace.values import replace


def judge(
    composition: Composition,
    requirement: Requirement | Grade,
    *,
    basis: str = CAST,
    subject: str = "the composition",
) -> Judgement:
    """Judge one composition against a requirement, or a bare grade.

    Parameters
    ----------
    basis : str
        `cast` or `product`: what kind of analysis the composition is.

    Examples
    --------
    >>> from heattrace.judging.grades import grades_from_rows
    >>> from heattrace.metallurgy.amount import read_chem
    >>> row = {"standard": "EN 10025-2", "edition": "2004", "grade": "S355J2", "basis": "cast", "size_band_mm": "all",
    ...        "quantity": "Mn", "min": "", "max": "1.60", "unit": "mass %", "rounding": "rounding", "source": "",
    ...        "status": "verified"}
    >>> grade = grades_from_rows([(2, row)])[0][0]
    >>> judge(read_chem("Mn=1.604"), grade).verdict, judge(read_chem("Mn=1.606"), grade).verdict
    ('meets', 'fails')
    """
    wanted = requirement_of(requirement) if isinstance(requirement, Grade) else requirement
    sides, remarks = sides_of(wanted, basis)
    if wanted.guard_band.strip("0."):
        remarks.append(f"guard band of {wanted.guard_band} x U ordered: not computed, no uncertainty is known")
    case = Case(composition, wanted)
    judged = [(side, measure(side.quantity, composition)) for side in sides]
    lines = [(side, measured, judge_side(side, measured, case)) for side, measured in judged]
    return _whole(composition, wanted, basis, subject, remarks, [(s, m, j) for s, m, j in lines if j is not None])


def _whole(
    composition: Composition,
    wanted: Requirement,
    basis: str,
    subject: str,
    remarks: Sequence[str],
    lines: Sequence[tuple[Side, Measured, Judged]],
) -> Judgement:
    missing: dict[str, None] = {}
    findings: list[Finding] = []
    verdicts: list[str] = []
    groups: dict[str, dict[str, list[tuple[Measured, Judged]]]] = {}
    for side, measured, line in lines:
        if line.group is not None:
            groups.setdefault(line.group, {}).setdefault(line.alternative or "", []).append((measured, line))
            continue
        verdicts.append(line.verdict)
        if line.verdict in (PASS, WAIVED):
            continue
        missing.update(dict.fromkeys(measured.missing))
        seen = value_shown(measured, side.limits[0], side.sense, line)
        findings.append(finding_of(line, seen, subject, measured.missing, beyond=bool(side.beyond)))
    for name, alternatives in groups.items():
        verdict = group_verdict([[line.verdict for _, line in rows] for rows in alternatives.values()])
        verdicts.append(verdict)
        if verdict != PASS:
            lacking = [e for rows in alternatives.values() for measured, _ in rows for e in measured.missing]
            missing.update(dict.fromkeys(lacking))
            findings.append(finding_of_group(name, alternatives, verdict, subject, lacking))
    return Judgement(
        subject=subject,
        requirement=wanted.text,
        grade=wanted.grade.key.text,
        edition=wanted.grade.key.edition,
        basis=basis,
        size_mm=None if wanted.size_mm is None else format(wanted.size_mm, "f"),
        verdict=whole_verdict(verdicts),
        limits=tuple(line for _, _, line in lines),
        missing=tuple(missing),
        remarks=tuple(remarks),
        findings=tuple(findings),
        guard_band=wanted.guard_band,
        cev=_cev(composition),
    )


def judge_determinations(
    compositions: Sequence[Composition],
    requirement: Requirement | Grade,
    *,
    basis: str = CAST,
    subject: str = "the composition",
) -> Judgement:
    """Judge several determinations of one heat: each limit is judged on every one, and the worst counts.

    An element that one determination does not report is taken from the first that does. Whether determinations may lie
    on both sides of a limit belongs to permitted deviations, of which none are known here: `both_ways` stays
    `not-in-force`.
    """
    if len(compositions) == 1:
        return judge(compositions[0], requirement, basis=basis, subject=subject)
    known: dict[str, Amount] = {}
    for composition in reversed(compositions):
        known.update({e: a for e, a in composition.items() if is_reported(composition, e)})
    found = [
        judge(
            {**known, **{e: a for e, a in composition.items() if is_reported(composition, e)}},
            requirement,
            basis=basis,
            subject=f"{subject}, determination {i}",
        )
        for i, composition in enumerate(compositions, start=1)
    ]
    worst = max(found, key=lambda judgement: _SEVERITY_OF_WHOLE[judgement.verdict])
    placed = [_placed(judgement.limits) for judgement in found]
    lines = []
    for place in dict.fromkeys(place for lines_of in placed for place in lines_of):
        each = [(i, lines_of[place]) for i, lines_of in enumerate(placed, start=1) if place in lines_of]
        i, line = max(each, key=lambda pair: (SEVERITY[pair[1].verdict], -(pair[1].margin or 0)))
        note = f"determination {i} of {len(found)}"
        lines.append(replace(line, note=f"{note}; {line.note}" if line.note else note))
    return replace(
        worst,
        subject=subject,
        limits=tuple(lines),
        missing=tuple(dict.fromkeys(element for judgement in found for element in judgement.missing)),
        findings=tuple(finding for judgement in found for finding in judgement.findings),
    )


_SEVERITY_OF_WHOLE: Mapping[str, int] = {FAILS: 2, UNDECIDED: 1, MEETS: 0}


def _placed(lines: Sequence[Judged]) -> dict[tuple[object, ...], Judged]:
    """Lines by what they are about, counted where several are about the same."""
    placed: dict[tuple[object, ...], Judged] = {}
    for line in lines:
        place: tuple[object, ...] = (line.quantity, line.sense, line.group, line.alternative)
        count = 0
        while (*place, count) in placed:
            count += 1
        placed[(*place, count)] = line
    return placed


def group_verdict(alternatives: Iterable[Sequence[str]]) -> str:
    """One alternative that holds is enough; the group fails where every one of them does.

    >>> group_verdict([["pass", "fail"], ["pass", "waived"]]), group_verdict([["fail"], ["not-reported"]])
    ('pass', 'undecided')
    """
    each = []
    for verdicts in alternatives:
        worst = max(verdicts, key=SEVERITY.__getitem__)
        each.append(PASS if worst in (PASS, WAIVED) else worst)
    if PASS in each:
        return PASS
    return FAIL if set(each) == {FAIL} else UNDECIDED


def whole_verdict(verdicts: Iterable[str]) -> str:
    """`fails`, `undecided` or `meets`, from the verdicts of all limits and groups.

    A requirement of which no limit stands for this case is not met by that: undecided.

    >>> whole_verdict(["pass", "not-reported"]), whole_verdict(["undecided", "fail"]), whole_verdict(["waived"])
    ('undecided', 'fails', 'undecided')
    """
    kinds = set(verdicts)
    if FAIL in kinds:
        return FAILS
    return MEETS if PASS in kinds and kinds <= {PASS, WAIVED} else UNDECIDED


def _cev(composition: Composition) -> Mapping[str, Any] | None:
    """The carbon equivalent of the IIW beside the verdict, where all its elements are reported."""
    measured = measure("cev", composition)
    if measured.missing:
        return None
    low, high = measured.bounds
    return {"formula": "cev", "value": measured.bounds.value, "low": low, "high": high}
