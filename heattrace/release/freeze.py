"""Freezing what a decision stands on: the cast analysis, and the snapshot of facts with its digest."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from heattrace.errors import Refused
from heattrace.judging.judgement import Judgement
from heattrace.metallurgy.elements import ELEMENT_NUMBER
from heattrace.schema.analyses import CastAnalysis
from heattrace.schema.people import RuleSet
from heattrace.store.ledger import canonical, digest_of
from heattrace.store.work import Work
from heattrace.store.works import works_edition
from heattrace.tracing.chemistry import HeatChemistry

# Raised whenever the same facts could give another verdict than before.
RULES_VERSION = "1"
RULES = {
    "CHEMISTRY": "every limit of the requirement is met by the cast analysis (ASTM E29 where the limit says rounding)",
    "COMPLETENESS": "every element that must be reported is reported",
    "TRANSITION": "a part of several heats meets its requirement at head, mean and tail by estimated composition",
    "HOLDS": "no hold lies on the subject; held never goes straight to released",
    "SAME-PERSON": "nobody releases on a result they entered",
}

KNOWN_RULES = "SELECT r.rule_set_id FROM rule_set r WHERE r.version = :version AND {live:r}"


def freeze_cast_analysis(work: Work, chemistry: HeatChemistry) -> int:
    """Key of the frozen cast analysis of a heat; the ladder's present choice is frozen where none is yet.

    Raises
    ------
    Refused
        No analysis speaks for the heat.
    """
    if chemistry.frozen is not None:
        return chemistry.frozen
    choice = chemistry.choice
    if not choice.picks:
        raise Refused(f"heat {chemistry.heat_no}: no cast analysis ({'; '.join(choice.words) or 'no analysis'})")
    _, edition = works_edition(work.reader, "ladder")
    key = work.add(
        CastAnalysis(
            heat_id=chemistry.heat_id, rule=choice.rule, ladder_edition=edition, words=canonical(list(choice.words))
        )
    )
    work.bulk_insert(
        "cast_analysis_value",
        ("cast_analysis_id", "element_id", "analysis_id", "rule"),
        sorted((key, ELEMENT_NUMBER[e], pick.analysis_id, pick.rule) for e, pick in choice.picks.items()),
    )
    return key


def rule_set(work: Work) -> int:
    """Key of the rule set in force, written at the first decision under it."""
    known = work.reader.scalar(KNOWN_RULES, version=RULES_VERSION)
    return int(known or work.add(RuleSet(version=RULES_VERSION, description=canonical(RULES))))


def snapshot(judgement: Mapping[str, Any], chemistry: list[HeatChemistry], more: Mapping[str, Any]) -> tuple[str, str]:
    """Canonical text of the facts a decision stands on, and its digest."""
    from heattrace.metallurgy.formula import json_number

    facts = {
        "judgement": judgement,
        "cast_analyses": [
            {
                "heat_no": c.heat_no,
                "rule": c.choice.rule,
                "values": {e: [p.amount.shown(), p.analysis_no, p.sample_id] for e, p in c.choice.picks.items()},
            }
            for c in chemistry
        ],
        "rules": RULES_VERSION,
        **more,
    }
    text = canonical(json.loads(json.dumps(facts, default=json_number)))
    return text, digest_of(text)


def judged_json(judgement: Judgement) -> dict[str, Any]:
    """What of a judgement a snapshot keeps."""
    return {"requirement": judgement.requirement, **judgement.as_json()}
