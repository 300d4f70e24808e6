"""Judging what the record holds: a heat by its cast analysis, or by each of its product analyses.

One result per requirement the heat answers for. Judging changes nothing; undecided never ships.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from typing import Any

from heattrace.findings import Finding
from heattrace.judging.judge import judge, judge_determinations
from heattrace.judging.judgement import FAILS, MEETS, UNDECIDED, Judgement
from heattrace.judging.limits import CAST, PRODUCT
from heattrace.judging.requirement import Requirement
from heattrace.metallurgy.amount import Composition
from heattrace.store.reader import Reader
from heattrace.store.works import works_zone
from heattrace.tracing.analyses import RecordedSample
from heattrace.tracing.chemistry import HeatChemistry, chemistry_of_heat
from heattrace.tracing.requirements import Wanted, heats_wanted, with_evidence
from heattrace.tracing.superheat import Reading, liquidus_formula, readings_of_heats, superheats
from heattrace.values import dataclass, replace

PRODUCT_KINDS = ("product",)


@dataclass(frozen=True, slots=True)
class JudgedHeat:
    """One heat against each requirement it answers for, with all findings; `messages` are for a person."""

    heat_no: str
    judgements: tuple[Judgement, ...]
    findings: tuple[Finding, ...] = ()
    messages: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """`fails` where any requirement is missed, `meets` where all are met, else `undecided`."""
        return worst_verdict(self.judgements)

    def as_json(self) -> dict[str, Any]:
        """The promised `judge HEAT` data."""
        return {"heat_no": self.heat_no, "results": [judgement_json(j) for j in self.judgements]}


def judgement_json(judgement: Judgement) -> dict[str, Any]:
    """The promised `judge` object with the requirement it was judged for."""
    return {**judgement.as_json(), "requirement": judgement.requirement}


def worst_verdict(judgements: Sequence[Judgement]) -> str:
    """The verdict over several judgements; nothing judged is undecided."""
    kinds = {judgement.verdict for judgement in judgements}
    if FAILS in kinds:
        return FAILS
    return MEETS if kinds == {MEETS} else UNDECIDED


def judge_heat(reader: Reader, heat_id: int, *, basis: str = CAST) -> JudgedHeat:
    """Judge one heat for every requirement it answers for."""
    return judge_chemistry(reader, chemistry_of_heat(reader, heat_id), basis=basis)


def judge_chemistry(
    reader: Reader, chemistry: HeatChemistry, *, basis: str = CAST, wanted: Sequence[Wanted] | None = None
) -> JudgedHeat:
    """Judge a heat whose chemistry is known already; `wanted` names other requirements than those it answers for."""
    heat_id, heat_no = chemistry.heat_id, chemistry.heat_no
    asked = heats_wanted(reader, [heat_id])[heat_id] if wanted is None else tuple(wanted)
    findings = _without_grade(heat_no, asked)
    requirements = with_evidence(reader, heat_id, asked)
    if basis == PRODUCT:
        judgements, more, messages = _by_product(chemistry, requirements)
        return JudgedHeat(heat_no, judgements, _each_once([*findings, *more]), messages)
    findings += chemistry.choice.findings
    composition = chemistry.composition()
    if not composition:
        findings.append(_no_cast_analysis(chemistry))
    zone = works_zone(reader)
    readings = readings_of_heats(reader, [heat_id])
    judgements = tuple(
        judge_for(reader, composition, requirement, heat_no, readings, zone) for requirement in requirements
    )
    findings += [finding for judgement in judgements for finding in judgement.findings]
    return JudgedHeat(heat_no, judgements, _each_once(findings), _without_family(requirements, judgements))


def judge_for(
    reader: Reader,
    composition: Composition,
    requirement: Requirement,
    heat_no: str,
    readings: Sequence[Reading],
    zone: tzinfo,
) -> Judgement:
    """Judge one heat's cast analysis for one requirement, its superheat beside it."""
    subject = f"{heat_no} for {requirement.text}"
    judgement = judge(composition, requirement, basis=CAST, subject=subject)
    formula = liquidus_formula(reader, requirement.grade.family)
    entries, open_ones = superheats(readings, composition, formula, zone, heat_no)
    return replace(judgement, subject=heat_no, superheat=entries, findings=(*judgement.findings, *open_ones))


def _by_product(
    chemistry: HeatChemistry, requirements: Sequence[Requirement]
) -> tuple[tuple[Judgement, ...], list[Finding], tuple[str, ...]]:
    """The product analyses of a heat against every requirement."""
    samples = [sample for sample in chemistry.samples if sample.kind in PRODUCT_KINDS]
    judgements, messages = judge_products(samples, requirements, chemistry.heat_no)
    findings = [finding for judgement in judgements for finding in judgement.findings]
    if not messages:
        step = "judge the cast analysis (--basis cast), or take in the product analyses"
        wanted = "a product sample of one of its pieces"
        findings.append(Finding("CHEM-MISSING", chemistry.heat_no, "no valid product analysis", wanted, step))
    return judgements, findings, messages


def judge_products(
    samples: Sequence[RecordedSample], requirements: Sequence[Requirement], subject: str
) -> tuple[tuple[Judgement, ...], tuple[str, ...]]:
    """Sound product samples against every requirement: each valid analysis is one determination, the worst counts.

    The messages say which determination is which analysis; there are none where there is nothing to judge.
    """
    valid = [(s, a) for s in samples if s.sound for a in s.analyses if a.state == "valid" and a.results]
    if not valid:
        return (), ()
    compositions = [analysis.amounts() for _, analysis in valid]
    judgements = tuple(
        replace(
            judge_determinations(compositions, wanted, basis=PRODUCT, subject=f"{subject} for {wanted.text}"),
            subject=subject,
        )
        for wanted in requirements
    )
    messages = tuple(
        f"determination {number}: {a.analysis_no} ({a.method}) of product sample {s.sample_id}"
        + (f", piece {s.piece_no}" if s.piece_no else "")
        + (f", {s.particulars['piece_end']} end" if "piece_end" in s.particulars else "")
        for number, (s, a) in enumerate(valid, start=1)
    )
    return judgements, messages


def _without_family(requirements: Sequence[Requirement], judgements: Sequence[Judgement]) -> tuple[str, ...]:
    """A grade without a family has the works values for all families; where one was used, that is said."""
    grades = dict.fromkeys(r.grade.key.text for r in requirements if not r.grade.family)
    if not grades or not any(judgement.superheat for judgement in judgements):
        return ()
    return (f"no grade family is known for {', '.join(grades)}: the liquidus formula for all families is used",)


def _no_cast_analysis(chemistry: HeatChemistry) -> Finding:
    reasons = "; ".join(chemistry.choice.words) or "no analysis speaks for it"
    return Finding(
        "CHEM-MISSING",
        chemistry.heat_no,
        reasons,
        "a cast analysis",
        f'look at its samples: "heattrace sample list --heat {chemistry.heat_no}"',
    )


def _without_grade(heat_no: str, asked: Sequence[Wanted]) -> list[Finding]:
    if not asked:
        step = "take in its heats row or its order; or judge it typed: judge --grade G --chem"
        return [Finding("ORDER-MISSING", heat_no, "neither an order line nor a planned grade", "a requirement", step)]
    return [
        Finding("GRADE-UNKNOWN", heat_no, one.grade, "a grade of the record", "take in a grade book that has it")
        for one in asked
        if not one.known
    ]


def _each_once(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    return tuple(dict.fromkeys(findings))
