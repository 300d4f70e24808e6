"""What a new trace touches: parts whose place or shares changed, parts that are gone, and what was decided on them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import Any

from heattrace.consequence.placements import ShareRow
from heattrace.findings import Finding
from heattrace.schema.decisions import HoldScope
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import shown_at
from heattrace.store.work import Work
from heattrace.tracing import questions as q
from heattrace.tracing.cast_trace import piece_words

CHANGED, GONE, DECIDED = "REC38", "REC39", "REC35"
_MILLION = 1e6
CutKey = tuple[int, int, int | None]

_SCOPES = """
SELECT x.hold_id, x.part_id, x.from_um, x.to_um FROM hold_scope x JOIN hold h ON h.hold_id = x.hold_id
WHERE x.part_id IN ({keys}) AND {live:x} AND {live:h} ORDER BY x.hold_scope_id
"""
_MOVES = """
SELECT m.part_id, m.whereabouts FROM movement m WHERE m.part_id IN ({keys}) AND {live:m} ORDER BY m.movement_id
"""


@dataclass(frozen=True, slots=True)
class ChangedPart:
    """A part that stays and whose place, class or shares are not what they were; `words` say what changed."""

    part_id: int
    name: str
    words: str
    heats: frozenset[int]


@dataclass(frozen=True, slots=True)
class EndedPart:
    """A part the record no longer has."""

    part_id: int
    name: str
    cut: CutKey
    heats: frozenset[int]


def change_of(
    part_id: int,
    name: str,
    before: Row,
    shares_before: Sequence[ShareRow],
    after: Mapping[str, Any],
    shares_after: Sequence[ShareRow],
    heat_numbers: Mapping[Any, str],
) -> ChangedPart | None:
    """What changed of a part that matters to a person; None where only doubts, masses or the like moved."""
    words = []
    if (before["from_um"], before["to_um"]) != (after["from_um"], after["to_um"]):
        words.append(f"place {_metres(before)} -> {_metres(after)}")
    if (before["meniscus_from"], before["meniscus_to"]) != (after["meniscus_from"], after["meniscus_to"]):
        words.append(f"at the meniscus {_shift(before, after)}")
    if before["cast_class"] != after["cast_class"]:
        words.append(f"class {before['cast_class']} -> {after['cast_class']}")
    if before["heat_id"] != after["heat_id"]:
        old, new = (heat_numbers.get(each["heat_id"], "no heat") for each in (before, after))
        words.append(f"number {old} -> {new}")
    old_of, new_of = ({row[0]: row for row in rows} for rows in (shares_before, shares_after))
    for heat in sorted(old_of.keys() | new_of.keys()):
        old_row, new_row = old_of.get(heat), new_of.get(heat)
        if (old_row and old_row[1:6]) != (new_row and new_row[1:6]):
            old_mean, new_mean = ((row[1] / _MILLION if row else 0.0) for row in (old_row, new_row))
            words.append(f"share of {heat_numbers.get(heat, 'another heat')} {old_mean:.6f} -> {new_mean:.6f}")
    if not words:
        return None
    return ChangedPart(part_id, name, "; ".join(words), frozenset(old_of.keys() | new_of.keys()))


def _metres(place: Any) -> str:
    return f"{place['from_um'] / _MILLION:.3f} to {place['to_um'] / _MILLION:.3f} m"


def _shift(before: Row, after: Mapping[str, Any]) -> str:
    moved = [(after[name] - before[name]) / 1000 for name in ("meniscus_from", "meniscus_to")]
    return " and ".join(f"{seconds:+.3f} s" for seconds in dict.fromkeys(moved))


def changed_findings(
    reader: Reader, changed: Sequence[ChangedPart], ended: Sequence[EndedPart], zone: tzinfo
) -> list[Finding]:
    """A finding for each part that changed or is gone, and for each decision or hold that stands on such parts."""
    step = "The new trace stands; the earlier one stays in the history"
    findings = [Finding(CHANGED, part.name, part.words, "as traced before", step) for part in changed]
    where = {
        row["part_id"]: row["whereabouts"] for row in reader.by_keys(_MOVES, sorted(part.part_id for part in ended))
    }
    for gone in ended:
        seen = f"no row of the book brings it any more; last known to be {where.get(gone.part_id, 'nowhere')}"
        findings.append(Finding(GONE, gone.name, seen, "as traced before", "Its record stays in the history"))
    return findings + _decided(reader, [*changed, *ended], zone) + _held(reader, ended)


def _decided(reader: Reader, parts: Sequence[ChangedPart | EndedPart], zone: tzinfo) -> list[Finding]:
    names = {part.part_id: part.name for part in parts}
    by_heat: dict[int, list[str]] = {}
    for part in parts:
        for heat in part.heats:
            by_heat.setdefault(heat, []).append(part.name)
    rows = [(row, [names[row["subject"]]]) for row in reader.by_keys(q.DECISIONS_ON_PARTS, sorted(names))]
    rows += [(row, by_heat[row["subject"]]) for row in reader.by_keys(q.DECISIONS_ON_HEATS, sorted(by_heat))]
    findings = []
    for row, touched in sorted(rows, key=lambda pair: int(pair[0]["decision_id"])):
        made = f"{row['kind']} for {row['requirement']} by {row['by']}, {shown_at(row['at'], zone)}"
        seen = f"{made}, touches {piece_words(touched)}"
        step = "Look at them: heattrace why NUMBER. No decision was changed"
        findings.append(Finding(DECIDED, f"D-{row['decision_id']}", seen, "parts as they were decided on", step))
    return findings


def _held(reader: Reader, ended: Sequence[EndedPart]) -> list[Finding]:
    names = {part.part_id: part.name for part in ended}
    held: dict[int, list[str]] = {}
    for row in reader.by_keys(q.HOLDS_ON_PARTS, sorted(names)):
        held.setdefault(row["hold_id"], []).append(names[row["subject"]])
    return [
        Finding(
            DECIDED, f"H-{hold_id}", f"it lies on {piece_words(on)}, which no row of the book brings any more",
            "parts of the record", "Look at it: heattrace holds",
        )
        for hold_id, on in sorted(held.items())
    ]  # fmt: skip


def follow_renamed(work: Work, ended: Iterable[EndedPart], by_cut: Mapping[CutKey, tuple[int, str]]) -> list[Finding]:
    """Lay the holds of a part that is now called otherwise on the part of the same cut: it is the same steel."""
    heirs = {part.part_id: by_cut[part.cut] for part in ended if part.cut in by_cut}
    names = {part.part_id: part.name for part in ended}
    findings = []
    for row in work.reader.by_keys(_SCOPES, sorted(heirs)):
        part_id, name = heirs[row["part_id"]]
        work.add(HoldScope(hold_id=row["hold_id"], part_id=part_id, from_um=row["from_um"], to_um=row["to_um"]))
        seen = f"it lay on {names[row['part_id']]}, which the book now calls {name}"
        findings.append(
            Finding(DECIDED, f"H-{row['hold_id']}", seen, "the number it was placed for", f"It lies on {name} too")
        )
    return findings
