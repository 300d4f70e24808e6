"""Releasing heats and pieces for a requirement: guards, the frozen facts, the decision, and what it frees."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from heattrace.errors import Refused
from heattrace.findings import Finding
from heattrace.judging.judgement import Judgement
from heattrace.release.freeze import freeze_cast_analysis, judged_json, rule_set, snapshot
from heattrace.release.guards import (
    DISAGREE,
    Despite,
    disagreement_bar,
    quality_bar,
    same_person_bar,
    unsigned_bar,
    verdict_bar,
)
from heattrace.schema.decisions import Decision, DecisionFinding
from heattrace.store.reader import Reader
from heattrace.store.work import Work
from heattrace.tracing.chemistry import HeatChemistry, chemistry_of_heats
from heattrace.tracing.grades import find_requirement, order_line_named, shelf_of
from heattrace.tracing.judged import judge_chemistry
from heattrace.tracing.judged_piece import judge_piece
from heattrace.tracing.numbered import HEAT, Found
from heattrace.tracing.qualities import standing_of_heats, standing_of_parts
from heattrace.tracing.quality import RELEASED, UNDECIDED, Quality
from heattrace.tracing.requirements import Wanted, heats_wanted, parts_wanted

HEATS_OF_PART = """
SELECT DISTINCT s.heat_id FROM placement p JOIN share s ON s.placement_id = p.placement_id
WHERE p.part_id = :part AND {live:p}
UNION SELECT e.heat_id FROM earlier_heat e WHERE e.part_id = :part AND {live:e}
"""


@dataclass(slots=True)
class Released:
    """What a release did: decisions made, subjects that stayed as they were, findings that barred or go with it."""

    decisions: list[dict[str, Any]] = field(default_factory=list)
    already: list[dict[str, Any]] = field(default_factory=list)
    barred: list[dict[str, Any]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    decided_for: set[str] = field(default_factory=set)


def wanted_of_text(reader: Reader, text: str) -> Wanted:
    """The requirement a person named with `--for`.

    Raises
    ------
    NotFound, Ambiguous
        No order line or grade edition bears that text, or several grades share the short name.
    """
    requirement = find_requirement(reader, text)
    line = None if requirement.order_line is None else order_line_named(reader, requirement.text)
    return Wanted(requirement.text, requirement.grade.key.text, line)


def release(work: Work, subjects: Sequence[Found], uses: Wanted | None, despite: Despite | None = None) -> Released:
    """Release each subject for the requirement given, or for every requirement it answers for.

    A new decision stands on what the ladder chooses at present: a frozen cast analysis that was amended or overtaken is
    never taken silently, the present choice is frozen beside it. `despite` is what a person says of analyses that
    disagree; without it they bar.

    A subject that meets one requirement and misses another is released for the one; nothing is written where nothing
    can be released.

    Raises
    ------
    Refused
        Nothing could be released; the findings name each missing thing.
    """
    done = Released()
    bar = unsigned_bar(work.reader)
    if bar:
        raise Refused("a release has to be signed here", findings=bar)
    for subject in subjects:
        if subject.kind == HEAT:
            _release_heat(work, subject, uses, done, despite)
        else:
            _release_part(work, subject, uses, done, despite)
    if not done.decisions and not done.already:
        names = ", ".join(s.number for s in subjects)
        raise Refused(f"{names}: not released; each missing thing is named below", findings=done.findings)
    return done


def _release_heat(work: Work, subject: Found, uses: Wanted | None, done: Released, despite: Despite | None) -> None:
    reader = work.reader
    known = chemistry_of_heats(reader, [subject.id])[subject.id]
    chemistry = known.anew()
    asked = heats_wanted(reader, [subject.id])[subject.id] if uses is None else (uses,)
    if not asked:
        done.findings.append(
            Finding("ORDER-MISSING", subject.number, "neither an order line nor a planned grade", "a requirement",
                    "name one with --for")
        )  # fmt: skip
    standing = standing_of_heats(reader, [subject.id])
    for wanted in asked:
        quality = standing.of_heat(subject.id, wanted)
        if quality.value == RELEASED:
            done.already.append({"subject": subject.number, "requirement": wanted.text, "because": quality.because})
            done.decided_for.add(wanted.text)
            done.findings += [f for f in known.choice.findings if f not in done.findings]
            continue
        judged = judge_chemistry(reader, chemistry, wanted=[wanted])
        barred = [
            *quality_bar(subject.number, quality),
            *verdict_bar(subject.number, wanted.text, judged.verdict, judged.findings),
            *disagreement_bar([chemistry], despite),
            *same_person_bar(reader, work.by, [chemistry]),
        ]
        if barred:
            _bar(done, subject.number, wanted, barred)
            continue
        findings = tuple(dict.fromkeys((*judged.findings, *chemistry.disagreements())))
        frozen = freeze_cast_analysis(work, chemistry)
        facts = [judged_json(j) for j in judged.judgements]
        _write(work, done, wanted, facts, [chemistry], findings, despite, heat=subject, cast_analysis_id=frozen)
        done.findings += _superheat_note(subject.number, judged.judgements)


def _release_part(work: Work, subject: Found, uses: Wanted | None, done: Released, despite: Despite | None) -> None:
    reader = work.reader
    wanted = parts_wanted(reader, [subject.id])[subject.id] if uses is None else uses
    if wanted is None:
        done.findings.append(
            Finding("ORDER-MISSING", subject.number, "no order line, and no one planned grade of its heats",
                    "a requirement", "name one with --for")
        )  # fmt: skip
        return
    standing = standing_of_parts(reader, [subject.id])
    quality = standing.of_part(subject.id, wanted)
    own = _own_release(quality)
    if quality.value == RELEASED or own:
        because = quality.because if quality.value == RELEASED else own
        done.already.append({"subject": subject.number, "requirement": wanted.text, "because": because})
        done.decided_for.add(wanted.text)
        done.findings += _still(subject.number, quality)
        return
    heats = [r["heat_id"] for r in reader.all(HEATS_OF_PART, part=subject.id)]
    anew = {heat_id: known.anew() for heat_id, known in chemistry_of_heats(reader, heats).items()}
    chemistry = list(anew.values())
    judged = judge_piece(reader, subject.id, uses=wanted, chemistry=anew)
    barred = [
        *quality_bar(subject.number, quality),
        *verdict_bar(subject.number, wanted.text, judged.verdict, judged.findings),
        *disagreement_bar(chemistry, despite),
        *same_person_bar(reader, work.by, chemistry),
    ]
    if barred:
        _bar(done, subject.number, wanted, barred)
        return
    for each in chemistry:
        freeze_cast_analysis(work, each)
    findings = tuple(dict.fromkeys((*judged.findings, *(f for c in chemistry for f in c.disagreements()))))
    _write(work, done, wanted, [judged.as_json()], chemistry, findings, despite, part=subject)
    done.findings += _still(subject.number, standing_of_parts(reader, [subject.id]).of_part(subject.id, wanted))


def _own_release(quality: Quality) -> str:
    """The words of a part's own release that stands while its heats are undecided still; else empty."""
    if quality.value != UNDECIDED:
        return ""
    return next((c.words for c in quality.causes if c.kind == "decision" and c.value == RELEASED), "")


def _still(number: str, after: Quality) -> list[Finding]:
    """That a part decided by itself waits for its heats."""
    if after.value == RELEASED:
        return []
    return [
        Finding("STILL-" + after.value.upper(), number, after.because, "its heats released too",
                "decide its heats for the same requirement")
    ]  # fmt: skip


def _bar(done: Released, subject: str, wanted: Wanted, barred: Sequence[Finding]) -> None:
    done.findings += barred
    done.barred.append(
        {"subject": subject, "requirement": wanted.text, "because": "; ".join(dict.fromkeys(f.code for f in barred))}
    )


def _write(
    work: Work,
    done: Released,
    wanted: Wanted,
    facts: Sequence[Mapping[str, Any]],
    chemistry: list[HeatChemistry],
    findings: Sequence[Finding],
    despite: Despite | None,
    *,
    heat: Found | None = None,
    part: Found | None = None,
    cast_analysis_id: int | None = None,
) -> None:
    subject = heat or part
    assert subject is not None
    said = despite if any(c.disagreements() for c in chemistry) else None
    more = {"subject": subject.typed, "by": work.by, **({} if said is None else {"despite": said.as_json()})}
    text, digest = snapshot({"results": list(facts)}, chemistry, more)
    decision_id = work.add(
        Decision(
            kind="release",
            qualifier="as-ordered",
            heat_id=heat.id if heat else None,
            part_id=part.id if part else None,
            requirement=wanted.text,
            edition_id=shelf_of(work.reader).edition_id(wanted.grade),
            order_line_id=wanted.order_line_id,
            verdict="meets",
            cast_analysis_id=cast_analysis_id,
            rule_set_id=rule_set(work),
            reason=None if said is None else DISAGREE,
            note=None if said is None else said.note,
            snapshot=text,
            snapshot_digest=digest,
            by=work.by,
            at=work.now,
        )
    )
    for finding in findings:
        work.add(
            DecisionFinding(
                decision_id=decision_id, code=finding.code, subject=finding.subject, seen=finding.seen,
                wanted=finding.wanted,
            )
        )  # fmt: skip
    done.decided_for.add(wanted.text)
    done.decisions.append(
        {
            "decision_no": f"D-{decision_id}", "subject": subject.number, "kind": subject.kind,
            "requirement": wanted.text, "snapshot_digest": digest, "signed": False,
            **({} if said is None else {"despite": said.as_json()}),
        }
    )  # fmt: skip


def _superheat_note(heat_no: str, judgements: Sequence[Judgement]) -> list[Finding]:
    if any(j.superheat for j in judgements):
        return []
    return [
        Finding("TEMP-MISSING", heat_no, "no tundish temperature", "a superheat judged beside the chemistry",
                "take in its temperatures")
    ]  # fmt: skip
