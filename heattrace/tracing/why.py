"""Why a heat or a piece stands as it does: quality, class, heat number, cast analysis, limits, evidence, persons."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import tzinfo
from typing import Any

from heattrace.findings import Finding
from heattrace.judging.judgement import FAIL, NOT_REPORTED, UNDECIDED, Judgement
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import shown_at
from heattrace.store.works import works_edition, works_zone
from heattrace.tracing import questions as q
from heattrace.tracing.backward import decision_json
from heattrace.tracing.chemistry import HeatChemistry, chemistry_of_heats
from heattrace.tracing.fits import wanted_of_decisions
from heattrace.tracing.holdings import Holding, hold_json, holds_on_heat, holds_on_part
from heattrace.tracing.judged import judge_chemistry
from heattrace.tracing.judged_piece import judge_piece
from heattrace.tracing.placed import NO_PLACE, reasons_json
from heattrace.tracing.qualities import qualities_of_heats, standing_of_heats, standing_of_parts
from heattrace.tracing.quality import Quality, Uses
from heattrace.tracing.requirements import parts_wanted
from heattrace.tracing.steel import steel_of

_VALUES = ("hold-reach", "hold-reach-chemistry", "event-wants-check", "ladder", "method-precedence")
_OPEN = (FAIL, UNDECIDED, NOT_REPORTED)


def why_piece(reader: Reader, part_id: int) -> dict[str, Any]:
    """Why a piece has its quality, its class, its heat number, and what all of it rests on."""
    zone = works_zone(reader)
    steel = steel_of(reader, part_id)
    wanted = parts_wanted(reader, [part_id])[part_id]
    numbers = {row["heat_id"]: row["heat_no"] for row in steel.heats}
    on_part = list(reader.by_keys(q.DECISIONS_ON_PARTS, [part_id]))
    decisions = [*on_part, *reader.by_keys(q.DECISIONS_ON_HEATS, sorted(numbers))]
    standing = standing_of_parts(reader, [part_id])
    asked = list(dict.fromkeys([wanted, *wanted_of_decisions(reader, decisions)]))
    chemistry = chemistry_of_heats(reader, numbers)
    judged = judge_piece(reader, part_id)
    judgements = [*(judged.fit.judgements if judged.fit is not None else ()), *judged.products]
    place = steel.place
    only = next(iter(numbers.values())) if len(numbers) == 1 else None
    return {
        "subject": {"kind": "piece", "number": steel.part["piece_no"]},
        "qualities": [quality_json(uses, standing.of_part(part_id, uses)) for uses in asked],
        "class": place["cast_class"] if place is not None else "undetermined",
        "class_reasons": reasons_json(place["class_reasons"]) if place is not None else [NO_PLACE],
        "heat_no": place["heat_no"] if place is not None else only,
        "heat_no_rule": place["heat_no_rule"] if place is not None else "pure" if only else "decision",
        "majority_heat": place["majority_heat"] if place is not None else only,
        "late_heat": place["late_heat"] if place is not None else only,
        "cast_analyses": [chemistry[heat_id].cast_json() for heat_id in numbers],
        "judgements": judgements_json(judgements),
        "findings": _findings([*(f for c in chemistry.values() for f in c.choice.findings), *judged.findings]),
        "holds": _holds(reader, holds_on_part(reader, part_id), zone),
        "decisions": _decisions(decisions, {part_id: f"piece {steel.part['piece_no']}"}, numbers, zone),
        "works_values": _values(reader),
    }


def why_heat(reader: Reader, heat_id: int) -> dict[str, Any]:
    """Why a heat has its quality, why that cast analysis speaks for it, and what all of it rests on."""
    zone = works_zone(reader)
    chemistry: HeatChemistry = chemistry_of_heats(reader, [heat_id])[heat_id]
    judged = judge_chemistry(reader, chemistry)
    decisions = list(reader.by_keys(q.DECISIONS_ON_HEATS, [heat_id]))
    qualities = dict(qualities_of_heats(reader, [heat_id])[heat_id])
    standing = standing_of_heats(reader, [heat_id])
    for uses in wanted_of_decisions(reader, decisions):
        qualities.setdefault(uses, standing.of_heat(heat_id, uses))
    return {
        "subject": {"kind": "heat", "number": chemistry.heat_no},
        "qualities": [quality_json(uses, quality) for uses, quality in qualities.items()],
        "cast_analyses": [chemistry.cast_json()],
        "judgements": judgements_json(judged.judgements),
        "findings": _findings([*chemistry.choice.findings, *judged.findings]),
        "holds": _holds(reader, holds_on_heat(reader, heat_id), zone),
        "decisions": _decisions(decisions, {}, {heat_id: chemistry.heat_no}, zone),
        "works_values": _values(reader),
    }


def _findings(findings: Iterable[Finding]) -> list[dict[str, str]]:
    return [finding.as_json() for finding in dict.fromkeys(findings)]


def quality_json(uses: Uses | None, quality: Quality) -> dict[str, Any]:
    """A quality with every cause, also those that do not decide."""
    return {
        "requirement": None if uses is None else uses.text,
        "quality": quality.value,
        "because": quality.because,
        "causes": [
            {"kind": cause.kind, "quality": cause.value, "words": cause.words, "ref": cause.ref}
            for cause in quality.causes
        ],
    }


def judgements_json(judgements: Iterable[Judgement]) -> list[dict[str, Any]]:
    """Judgements with the limits that are not met or not decided, each with its source."""
    return [
        {
            "subject": judgement.subject,
            "requirement": judgement.requirement,
            "grade": judgement.grade,
            "basis": judgement.basis,
            "size_mm": judgement.size_mm,
            "verdict": judgement.verdict,
            "limits_judged": len(judgement.limits),
            "limits": [line.as_json() for line in judgement.limits if line.verdict in _OPEN],
            "missing": list(judgement.missing),
        }
        for judgement in judgements
    ]


def _holds(reader: Reader, holds: Sequence[Holding], zone: tzinfo) -> list[dict[str, Any]]:
    steps: dict[int, list[dict[str, Any]]] = {}
    for row in reader.by_keys(q.HOLD_STEPS, sorted(hold.hold_id for hold in holds)):
        steps.setdefault(row["hold_id"], []).append(
            {
                "state": row["state"],
                "by": row["by"],
                "at": shown_at(row["at"], zone),
                "note": row["note"],
                "evidence": json.loads(row["evidence"]) if row["evidence"] else None,
            }
        )
    return [{**hold_json(hold, zone), "steps": steps.get(hold.hold_id, [])} for hold in holds]


def _decisions(
    decisions: Sequence[Row], parts: Mapping[int, str], heats: Mapping[int, str], zone: tzinfo
) -> list[dict[str, Any]]:
    answers = []
    for row in decisions:
        subject = parts[row["subject"]] if row["on_part"] else f"heat {heats[row['subject']]}"
        rests = {"cast_analysis_id": row["cast_analysis_id"], "snapshot_digest": row["snapshot_digest"]}
        answers.append({**decision_json(row, subject, zone), **rests})
    return answers


def _values(reader: Reader) -> list[dict[str, Any]]:
    """The works values the answer rests on, with their editions; edition 0 is the shipped value."""
    return [
        {"name": name, "value": value, "edition": edition}
        for name in _VALUES
        for value, edition in (works_edition(reader, name),)
    ]
