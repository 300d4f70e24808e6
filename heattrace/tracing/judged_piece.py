"""Judging a piece: its estimated composition along the length, and the product analyses taken from it.

A piece meets its requirement only where every position does; one product analysis that fails outweighs any estimate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from heattrace.findings import Finding
from heattrace.judging.estimate import Fit, judge_estimate
from heattrace.judging.judgement import FAILS, UNDECIDED, Judgement
from heattrace.judging.limits import CAST, PRODUCT
from heattrace.judging.requirement import Requirement
from heattrace.store.reader import Reader
from heattrace.tracing.analyses import samples_of_parts
from heattrace.tracing.chemistry import HeatChemistry, chemistry_of_heats
from heattrace.tracing.chemistry_questions import PART_NUMBER
from heattrace.tracing.estimates import Estimate, estimates_of_parts
from heattrace.tracing.judged import PRODUCT_KINDS, judge_products, judgement_json, worst_verdict
from heattrace.tracing.requirements import Wanted, heat_plans, parts_wanted, requirements_of
from heattrace.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class JudgedPiece:
    """One piece against its requirement; `fit` is None where it has no estimate, `products` its product analyses."""

    piece_no: str
    requirement: str | None
    fit: Fit | None
    estimate: Estimate | None
    products: tuple[Judgement, ...] = ()
    findings: tuple[Finding, ...] = ()
    messages: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """`fails` where the estimate or a product analysis does; `meets` where all there is does; else `undecided`."""
        worst = worst_verdict(self.products)
        if self.fit is None:
            return worst
        if FAILS in (self.fit.verdict, worst if self.products else ""):
            return FAILS
        return self.fit.verdict if not self.products or worst == self.fit.verdict else UNDECIDED

    def as_json(self) -> dict[str, Any]:
        """`judge PIECE` data: the fit over its length, judge objects at each position, then of its product analyses."""
        results: list[dict[str, Any]] = []
        if self.fit is not None and self.estimate is not None:
            for position, judgement in zip(self.estimate.positions, self.fit.judgements, strict=True):
                results.append({**judgement_json(judgement), "position": position})
        results += [{**judgement_json(judgement), "position": None} for judgement in self.products]
        return {
            "piece_no": self.piece_no,
            "requirement": self.requirement,
            "verdict": self.verdict,
            "fit": None if self.fit is None else fit_json(self.fit, "ordered"),
            "composition": None if self.estimate is None else self.estimate.as_json(),
            "results": results,
        }


def fit_json(fit: Fit, role: str) -> dict[str, str]:
    """The promised object of one fit; `role` is `planned`, `ordered` or `released`."""
    return {
        "requirement": fit.requirement,
        "role": role,
        "head": fit.head,
        "mean": fit.mean,
        "tail": fit.tail,
        "verdict": fit.verdict,
    }


def judge_piece(
    reader: Reader,
    part_id: int,
    *,
    basis: str | None = None,
    uses: Wanted | None = None,
    chemistry: Mapping[int, HeatChemistry] | None = None,
) -> JudgedPiece:
    """Judge one piece against its requirement.

    Parameters
    ----------
    basis : str, optional
        `cast` for the estimate alone, `product` for its product analyses alone; both where not given.
    uses : Wanted, optional
        Another requirement than its own.
    chemistry : mapping, optional
        Chemistry of its heats by heat_id where another than the record's is to speak.
    """
    piece_no = reader.scalar(PART_NUMBER, part=part_id) or f"part {part_id}"
    wanted = parts_wanted(reader, [part_id])[part_id] if uses is None else uses
    requirement, findings = _requirement(reader, piece_no, wanted)
    estimate: Estimate | None = None
    fit: Fit | None = None
    products: tuple[Judgement, ...] = ()
    messages: tuple[str, ...] = ()
    if basis != PRODUCT:
        estimate = estimates_of_parts(reader, [part_id], chemistry).get(part_id)
        findings += _without_estimate(piece_no, estimate)
        if estimate is not None:
            known = chemistry_of_heats(reader, estimate.heat_ids) if chemistry is None else chemistry
            findings += [f for heat_id in estimate.heat_ids for f in known[heat_id].choice.findings]
        if estimate is not None and requirement is not None:
            fit = fit_of_estimate(estimate, with_heat_evidence(reader, requirement, estimate), piece_no)
            findings += _said_once(fit)
    if basis != CAST and requirement is not None:
        samples = [s for s in samples_of_parts(reader, [part_id]) if s.kind in PRODUCT_KINDS]
        products, messages = judge_products(samples, [requirement], piece_no)
        findings += [finding for judgement in products for finding in judgement.findings]
        if basis == PRODUCT and not products:
            step = "take in its product analyses, or judge its estimate (--basis cast)"
            findings.append(Finding("CHEM-MISSING", piece_no, "no valid product analysis", "a product sample", step))
    return JudgedPiece(
        piece_no,
        None if wanted is None else wanted.text,
        fit,
        estimate,
        products,
        tuple(dict.fromkeys(findings)),
        messages,
    )


def _requirement(reader: Reader, piece_no: str, wanted: Wanted | None) -> tuple[Requirement | None, list[Finding]]:
    if wanted is None:
        step = "put it to an order line, or judge its heats for a grade each"
        seen = "no order line, and no one planned grade of its heats"
        return None, [Finding("ORDER-MISSING", piece_no, seen, "a requirement", step)]
    requirement = requirements_of(reader, [wanted]).get(wanted)
    if requirement is None:
        step = "take in a grade book that has it"
        return None, [Finding("GRADE-UNKNOWN", piece_no, wanted.grade, "a grade of the record", step)]
    return requirement, []


def with_heat_evidence(reader: Reader, requirement: Requirement, estimate: Estimate) -> Requirement:
    """The requirement with the evidence that is named for every heat in the piece beside that of the order."""
    plans = heat_plans(reader, estimate.heat_ids)
    named = [plans[heat_id].evidence for heat_id in estimate.heat_ids]
    common = frozenset.intersection(*named) if named else frozenset()
    return replace(requirement, evidence=requirement.evidence | common)


def fit_of_estimate(estimate: Estimate, requirement: Requirement, piece: str) -> Fit:
    """How an estimated composition stands to one requirement, at all positions of the estimate."""
    return judge_estimate(estimate.contents, requirement, piece=piece, positions=estimate.positions)


def fits_of_parts(
    reader: Reader,
    wanted: Mapping[int, Sequence[Wanted]],
    chemistry: Mapping[int, HeatChemistry] | None = None,
) -> dict[int, list[Fit]]:
    """Fits of many parts, each for several requirements, in few questions; one without shares or grade has none."""
    estimates = estimates_of_parts(reader, wanted, chemistry)
    requirements = requirements_of(reader, [w for asked in wanted.values() for w in asked])
    found: dict[int, list[Fit]] = {}
    for part_id, asked in wanted.items():
        estimate = estimates.get(part_id)
        if estimate is not None:
            found[part_id] = [
                fit_of_estimate(estimate, with_heat_evidence(reader, requirements[w], estimate), "")
                for w in dict.fromkeys(asked)
                if w in requirements
            ]
    return found


def _without_estimate(piece_no: str, estimate: Estimate | None) -> list[Finding]:
    if estimate is None:
        seen = "its place in the cast and its shares of heats are not recorded"
        return [Finding("ESTIMATE-MISSING", piece_no, seen, "an estimated composition", "judge its heats one by one")]
    findings = []
    if not estimate.contents:
        seen = "no element is determined for all of its heats"
        step = 'look at their cast analyses: "heattrace analysis show HEAT"'
        findings.append(Finding("ESTIMATE-MISSING", piece_no, seen, "a cast analysis of each heat in it", step))
    if estimate.turns:
        seen = "three or more heats turn inside it; judged are head, mean and tail only"
        step = "take a product sample where the mixture turns before releasing it"
        findings.append(Finding("ESTIMATE-INSIDE", piece_no, seen, "a mixture known over the whole length", step))
    return findings


def _said_once(fit: Fit) -> list[Finding]:
    """Findings of all positions; what holds at every position is said for the first only."""
    seen: set[tuple[str, str, str, str]] = set()
    said = []
    for judgement in fit.judgements:
        for finding in judgement.findings:
            quantity = finding.subject.rpartition(", ")[2]
            same = (finding.code, quantity, finding.seen, finding.wanted)
            if same not in seen:
                seen.add(same)
                said.append(finding)
    return said
