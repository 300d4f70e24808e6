"""Tracing a cast anew and keeping the outcome: parts, their places and shares, the reach of events.

A part stays the same part while its strand, run, cut number, kind and piece number stay; what changed of its place or
shares is ended and written anew, what did not is left alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from heattrace.consequence.grade_changes import propose_holds
from heattrace.consequence.placements import PLACEMENT, SHARE, ShareRow, heat_numbers, placement_of, shares_of
from heattrace.consequence.reaches import store_reaches
from heattrace.consequence.touched import ChangedPart, EndedPart, change_of, changed_findings, follow_renamed
from heattrace.findings import Finding
from heattrace.store.ledger import canonical
from heattrace.store.work import Work
from heattrace.store.works import works_zone
from heattrace.strand.traced import TracedPart
from heattrace.tracing.cast_events import event_map
from heattrace.tracing.cast_trace import PartKey, TracedRecord, part_key, trace_record

_PARTS = """
SELECT p.part_id, p.strand_no, p.run_no, p.cut_no, p.kind, p.piece_no FROM part p
WHERE p.sequence_id = :sequence AND p.origin = 'cast' AND {live:p}
"""
_PLACEMENTS = f"""
SELECT pl.placement_id, pl.part_id, {", ".join(f"pl.{name}" for name in PLACEMENT)} FROM placement pl
JOIN part p ON p.part_id = pl.part_id WHERE pl.sequence_id = :sequence AND p.origin = 'cast' AND {{live:pl}}
"""
_SHARES = f"""
SELECT sh.placement_id, {", ".join(f"sh.{name}" for name in SHARE)} FROM share sh
WHERE sh.placement_id IN ({{keys}}) ORDER BY sh.placement_id, sh.heat_id
"""
_CUT_ROWS = """
SELECT c.strand_no, c.run_no, c.cut_no, c.piece_no, c.row_no, c.clamped_offset, r.batch_id FROM cut c
JOIN cast_sheet s ON s.cast_sheet_id = c.cast_sheet_id JOIN cast_record r ON r.cast_record_id = s.cast_record_id
WHERE c.sequence_id = :sequence AND {live:c}
"""


@dataclass(slots=True)
class Retraced:
    """Outcome of tracing a cast anew.

    `parts` maps (strand_no, run_no, cut_no, kind, piece_no) to part_id of every part that stands now; `changed` are
    parts kept whose place, class or shares are not what they were.
    """

    record: TracedRecord
    parts: dict[PartKey, int]
    added: list[int] = field(default_factory=list)
    ended: list[EndedPart] = field(default_factory=list)
    changed: list[ChangedPart] = field(default_factory=list)
    proposed: list[int] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def retrace(work: Work, sequence_id: int, record: TracedRecord | None = None) -> Retraced:
    """Trace a cast from its record and keep what came of it; `record` is that trace where it was just made.

    Raises
    ------
    NotFound
        The sequence has no cast book.
    CastUnreadable
        The record contradicts itself so far that nothing can be computed.
    """
    record = record or trace_record(work.reader, sequence_id)
    return _Keeping(work, record).keep()


class _Keeping:
    def __init__(self, work: Work, record: TracedRecord) -> None:
        self.work, self.record = work, record
        self.sequence_id = record.recorded.sequence_id
        self.zone = works_zone(work.reader)
        reader, sequence = work.reader, self.sequence_id
        self.known = {
            (row["strand_no"], row["run_no"], row["cut_no"], row["kind"], row["piece_no"]): int(row["part_id"])
            for row in reader.all(_PARTS, sequence=sequence)
        }
        self.standing = {int(row["part_id"]): row for row in reader.all(_PLACEMENTS, sequence=sequence)}
        self.shares: dict[int, list[ShareRow]] = {}
        keys = sorted(int(row["placement_id"]) for row in self.standing.values())
        for row in reader.by_keys(_SHARES, keys):
            self.shares.setdefault(row["placement_id"], []).append(tuple(row[name] for name in SHARE))
        self.cut_rows = {
            (row["strand_no"], row["run_no"], row["cut_no"]): row for row in reader.all(_CUT_ROWS, sequence=sequence)
        }
        self.outcome = Retraced(record, {})

    def keep(self) -> Retraced:
        out = self.outcome
        parts = self.record.traced.parts
        wanted = {part_key(part) for part in parts}
        self._end_parts(key for key in self.known if key not in wanted)
        for part in parts:
            key = part_key(part)
            if key in self.known:
                out.parts[key] = self.known[key]
        self._add_parts([part for part in parts if part_key(part) not in self.known])
        self._place(parts)
        out.findings += self.record.findings(self.zone)
        if out.added:
            out.findings += self.record.rules.findings(self.record.recorded.sequence_no)
        events = event_map(self.work.reader, self.record.recorded, self.record.traced)
        out.findings += store_reaches(self.work, events)
        out.findings += follow_renamed(self.work, out.ended, self._by_cut())
        out.findings += changed_findings(self.work.reader, out.changed, out.ended, self.zone)
        proposals, findings = propose_holds(self.work, self.record, {out.parts[part_key(p)]: p for p in parts})
        out.proposed += proposals
        out.findings += findings
        return out

    def _by_cut(self) -> dict[tuple[int, int, int | None], tuple[int, str]]:
        return {key[:3]: (part_id, part_name(key)) for key, part_id in self.outcome.parts.items()}

    def _end_parts(self, keys: Iterable[PartKey]) -> None:
        gone = sorted(keys, key=lambda key: self.known[key])
        ids = [self.known[key] for key in gone]
        self.work.end("part", "part_id", ids)
        placed = [int(self.standing[i]["placement_id"]) for i in ids if i in self.standing]
        self.work.end("placement", "placement_id", placed)
        self.outcome.ended += [
            EndedPart(part_id, part_name(key), key[:3], self._heats(part_id))
            for key, part_id in zip(gone, ids, strict=True)
        ]

    def _heats(self, part_id: int) -> frozenset[int]:
        row = self.standing.get(part_id)
        return frozenset(s[0] for s in self.shares.get(row["placement_id"], ())) if row is not None else frozenset()

    def _add_parts(self, parts: list[TracedPart]) -> None:
        """Write new parts and say that they were cut."""
        if not parts:
            return
        first = self.work.next_key("part", "part_id")
        rows, moves = [], []
        entry = self.work.entry_no
        for part_id, part in enumerate(parts, start=first):
            key = part_key(part)
            cut = None if part.implied else self.cut_rows.get((part.strand_no, part.run_no, part.cut_no))
            batch, row_no = (None, None) if cut is None else (cut["batch_id"], cut["row_no"])
            rows.append(
                (
                    part_id, part.kind, "cast", key[4], part.piece_no, part.form, self.sequence_id, part.strand_no,
                    part.run_no, key[2], batch, row_no, entry,
                )
            )  # fmt: skip
            at = self.record.recorded.ms(part.meniscus_to if part.clamped is None else part.clamped)
            offset = self.record.recorded.offset_min if cut is None else cut["clamped_offset"]
            moves.append((part_id, "cut", at, offset, batch, row_no, entry))
            self.outcome.parts[key] = part_id
            self.outcome.added.append(part_id)
        columns = (
            "part_id", "kind", "origin", "piece_no", "written_no", "form", "sequence_id", "strand_no", "run_no",
            "cut_no", "batch_id", "row_no", "entry_no",
        )  # fmt: skip
        self.work.bulk_insert("part", columns, rows)
        self.work.bulk_insert(
            "movement", ("part_id", "whereabouts", "at", "at_offset", "batch_id", "row_no", "entry_no"), moves
        )

    def _place(self, parts: Iterable[TracedPart]) -> None:
        """Write the places and shares that are new or not what they were."""
        recorded, floor = self.record.recorded, self.record.rules.rules.list_floor
        numbers = heat_numbers(self.record.traced)
        editions = canonical(self.record.rules.editions)
        placement_id = self.work.next_key("placement", "placement_id")
        ended, places, shares = [], [], []
        for part in parts:
            key = part_key(part)
            part_id = self.outcome.parts[key]
            place, made_of = placement_of(part, recorded, numbers), shares_of(part, floor)
            before = self.standing.get(part_id)
            if before is not None:
                _keep_decided(place, before, made_of)
                old_shares = self.shares.get(before["placement_id"], [])
                if old_shares == made_of and all(before[name] == place[name] for name in PLACEMENT):
                    continue
                ended.append(int(before["placement_id"]))
                change = change_of(part_id, part_name(key), before, old_shares, place, made_of, numbers)
                if change is not None:
                    self.outcome.changed.append(change)
            places.append((placement_id, part_id, *(place[n] for n in PLACEMENT), editions, self.work.entry_no))
            shares += [(placement_id, *row) for row in made_of]
            placement_id += 1
        self.work.end("placement", "placement_id", ended)
        self.work.bulk_insert("placement", ("placement_id", "part_id", *PLACEMENT, "rules_edition", "entry_no"), places)
        self.work.bulk_insert("share", ("placement_id", *SHARE), shares)


def part_name(key: PartKey) -> str:
    """`piece L118A002`, or `head-crop of strand 1 run 1, cut 1` where a part has no number."""
    strand, run, cut, kind, number = key
    if number is not None:
        return f"{kind} {number}"
    return f"{kind} of strand {strand} run {run}" + (f", cut {cut}" if cut is not None else "")


def _keep_decided(place: dict[str, Any], before: Any, made_of: list[ShareRow]) -> None:
    """A number a person decided stays while its heat is still in the part and no rule gives a pure part its own."""
    if before["heat_no_rule"] != "decided" or place["heat_no_rule"] == "pure":
        return
    if before["heat_id"] in {row[0] for row in made_of}:
        place["heat_id"], place["heat_no_rule"] = before["heat_id"], "decided"
