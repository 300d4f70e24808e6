"""How a part stands to the requirements planned, ordered and released for it, and whose fault a misfit is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from heattrace.judging.estimate import Fit, judge_estimate
from heattrace.judging.judge import judge
from heattrace.judging.judgement import FAILS, MEETS
from heattrace.judging.limits import PRODUCT
from heattrace.store.reader import Reader, Row
from heattrace.tracing.analyses import samples_of_parts
from heattrace.tracing.chemistry import HeatChemistry, chemistry_of_heats
from heattrace.tracing.chemistry_questions import HEATS_IN_PARTS
from heattrace.tracing.estimates import Estimate, estimate_of
from heattrace.tracing.grades import order_line_named, shelf_of
from heattrace.tracing.judged import PRODUCT_KINDS
from heattrace.tracing.judged_piece import fit_of_estimate, with_heat_evidence
from heattrace.tracing.quality import Uses
from heattrace.tracing.requirements import Wanted, heat_plans, requirements_of, wanted_grade, wanted_lines

PLANNED, ORDERED, RELEASED = "planned", "ordered", "released"
_SHARES = ("mean", "head", "tail", "least", "greatest")


def roles_of(
    reader: Reader, ordered: Wanted | None, heat_ids: Sequence[int], decisions: Iterable[Row]
) -> list[tuple[str, Wanted]]:
    """The requirements of a part with the role each has: planned of its heats, ordered, released by a decision."""
    plans = heat_plans(reader, heat_ids)
    roles: dict[tuple[str, Wanted], None] = {}
    for heat_id in heat_ids:
        planned = plans[heat_id].grade
        if planned is not None:
            roles[PLANNED, planned] = None
    if ordered is not None and ordered.order_line_id is not None:
        roles[ORDERED, ordered] = None
    released = [row for row in decisions if row["kind"] == "release"]
    roles.update(dict.fromkeys((RELEASED, wanted) for wanted in wanted_of_decisions(reader, released)))
    return list(roles)


def wanted_of_decisions(reader: Reader, decisions: Sequence[Row]) -> list[Wanted]:
    """The requirements some decisions were made for, each once."""
    keys = {row["decision_id"]: row["order_line_id"] or _line_named(reader, row["requirement"]) for row in decisions}
    lines = wanted_lines(reader, [key for key in keys.values() if key is not None])
    found: dict[str, Wanted] = {}
    for row in decisions:
        key, text = keys[row["decision_id"]], row["requirement"]
        found[text] = wanted_grade(reader, text) if key is None else lines[key]
    return list(found.values())


def _line_named(reader: Reader, requirement: str) -> int | None:
    return None if shelf_of(reader).holds(requirement) else order_line_named(reader, requirement)


def fits_of(
    reader: Reader, estimate: Estimate | None, roles: Sequence[tuple[str, Wanted]], piece: str
) -> list[tuple[str, Wanted, Fit]]:
    """How an estimate stands to each requirement; none where there is no estimate, or the record lacks the grade."""
    if estimate is None:
        return []
    requirements = requirements_of(reader, [wanted for _, wanted in roles])
    fits = {
        wanted: fit_of_estimate(estimate, with_heat_evidence(reader, requirement, estimate), piece)
        for wanted, requirement in requirements.items()
    }
    return [(role, wanted, fits[wanted]) for role, wanted in roles if wanted in fits]


def fails_because_of(reader: Reader, part_id: int, heat_id: int, uses: Uses) -> bool | None:
    """Whether the estimate of a part fails a requirement and would not if the heat's share were its main heat's.

    None where it is not known: no shares, no cast analysis, no such grade, or an undecided limit.
    """
    wanted = _as_wanted(reader, uses)
    requirement = requirements_of(reader, [wanted]).get(wanted)
    shares = {
        row["heat_id"]: {name: row[name] for name in _SHARES} for row in reader.by_keys(HEATS_IN_PARTS, [part_id])
    }
    if requirement is None or heat_id not in shares:
        return None
    chemistry = chemistry_of_heats(reader, shares)

    def verdict(of: Mapping[int, Mapping[str, int]]) -> str:
        estimate = estimate_of(of, _compositions(chemistry))
        return judge_estimate(estimate.contents, requirement, positions=estimate.positions).verdict

    whole = verdict(shares)
    if whole != FAILS:
        return False if whole == MEETS else None
    rest = {h: each for h, each in shares.items() if h != heat_id}
    return not rest or verdict(rest) != FAILS


def failing_products(reader: Reader, part_ids: Sequence[int], uses: Uses) -> str:
    """The valid product analyses of some parts that fail a requirement, in words; empty where none does.

    Empty too where the record lacks the grade: then nothing can be said of them.
    """
    wanted = _as_wanted(reader, uses)
    requirement = requirements_of(reader, [wanted]).get(wanted)
    if requirement is None:
        return ""
    samples = [s for s in samples_of_parts(reader, part_ids) if s.kind in PRODUCT_KINDS and s.sound]
    failing = [
        analysis.analysis_no
        for sample in samples
        for analysis in sample.analyses
        if analysis.state == "valid"
        and analysis.results
        and judge(analysis.amounts(), requirement, basis=PRODUCT).verdict == FAILS
    ]
    if not failing:
        return ""
    subject = "product analysis" if len(failing) == 1 else "product analyses"
    return f"{subject} {', '.join(failing)} {'fails' if len(failing) == 1 else 'fail'} for {uses.text}"


def _as_wanted(reader: Reader, uses: Uses) -> Wanted:
    return uses if isinstance(uses, Wanted) else wanted_grade(reader, uses.grade)


def _compositions(chemistry: Mapping[int, HeatChemistry]) -> dict[str, Any]:
    return {str(h): known.composition() for h, known in chemistry.items() if known.choice.picks}
