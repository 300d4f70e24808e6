"""Where heats of different grades were cast one into the other, a hold is proposed over the parts they share."""

from __future__ import annotations

from collections.abc import Mapping

from heattrace.findings import Finding
from heattrace.metallurgy.elements import ELEMENTS
from heattrace.release.hold import Scope, hold_words, place_hold
from heattrace.store.work import Work
from heattrace.strand.traced import TracedPart
from heattrace.tracing.cast_trace import TracedRecord, piece_words

REASON = "TRANSITION"
CODE = "grade-change"
_ALREADY = """
SELECT x.part_id FROM hold_scope x JOIN hold h ON h.hold_id = x.hold_id
WHERE x.part_id IN ({keys}) AND h.reason = 'TRANSITION' AND {live:x} AND {live:h}
"""
_LIMITED = """
SELECT DISTINCT l.quantity FROM grade_limit l JOIN edition e ON e.edition_id = l.edition_id
WHERE e.requirement IN (SELECT e2.requirement FROM heat_record r JOIN edition e2 ON e2.edition_id = r.edition_id
WHERE r.heat_id IN ({keys}) AND {live:r}) AND {live:l}
"""


def propose_holds(work: Work, record: TracedRecord, parts: Mapping[int, TracedPart]) -> tuple[list[int], list[Finding]]:
    """Propose one hold for each change of grade over the parts that overlap it and bear no such hold yet.

    Gives the numbers of the holds and the findings that name them. A proposed hold bars nothing; the parts have their
    own undecided by their class.
    """
    by_change: dict[str, list[int]] = {}
    for part_id, part in parts.items():
        for words in {reason.words for reason in part.class_reasons if reason.code == CODE}:
            by_change.setdefault(words, []).append(part_id)
    overlapping = sorted({part_id for ids in by_change.values() for part_id in ids})
    already = {row["part_id"] for row in work.reader.by_keys(_ALREADY, overlapping)}
    holds, findings = [], []
    for words, ids in sorted(by_change.items()):
        fresh = [part_id for part_id in ids if part_id not in already]
        if not fresh:
            continue
        sequence = record.recorded.sequence_no
        note = f"{words} in sequence {sequence} with no separation recorded"
        said = hold_words(
            reason=REASON, note=note, lift_on=[_lift_on(work, record)], owner=None, due_at=None, requirement=None
        )
        hold_id = place_hold(work, [Scope(part_id=i) for i in fresh], said, state="proposed", cause=note)
        already |= set(fresh)
        holds.append(hold_id)
        named = [_name(parts[i]) for i in fresh]
        seen = f"{words}: {len(fresh)} parts overlap it, {piece_words(named)}"
        step = f"H-{hold_id} is proposed over them: hold --proposed H-{hold_id} takes it up; until then it bars nothing"
        findings.append(Finding("REC40", f"sequence {sequence}", seen, "one grade, or a separation between", step))
    return holds, findings


def _lift_on(work: Work, record: TracedRecord) -> str:
    """The elements that the grades of the cast limit: a product analysis of them says which grade a part meets."""
    keys = sorted(int(heat.heat_id) for heat in record.traced.heats)
    limited = {row["quantity"] for row in work.reader.by_keys(_LIMITED, keys)}
    elements = [element for element in ELEMENTS if element in limited]
    return f"analysis:{','.join(elements)}" if elements else "document"


def _name(part: TracedPart) -> str:
    return part.piece_no or f"{part.kind} of strand {part.strand_no} run {part.run_no}, cut {part.cut_no}"
