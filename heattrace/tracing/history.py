"""Who touched a number: every ledger entry that wrote or ended a row about it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from heattrace.errors import Ambiguous, HeattraceError, NotFound
from heattrace.store.number_form import searched
from heattrace.store.reader import Reader
from heattrace.store.recorded import shown_at
from heattrace.store.works import works_zone
from heattrace.tracing.numbered import HEAT, PIECE, Found
from heattrace.tracing.numbers import find
from heattrace.values import dataclass

# Our own numbers: letter -> (what it is, table, key).
OWN: Mapping[str, tuple[str, str, str]] = {
    "B": ("bench row", "bench_row", "bench_id"),
    "I": ("import", "batch", "batch_id"),
    "H": ("hold", "hold", "hold_id"),
    "D": ("decision", "decision", "decision_id"),
    "A": ("analysis", "analysis", "analysis_id"),
    "E": ("event", "event", "event_id"),
    "Q": ("complaint", "complaint", "complaint_id"),
    "K": ("concession", "concession", "concession_id"),
}

# What an entry did to a row: wrote it, or ended it (superseded or undone; a row is never changed).
WROTE, ENDED = "wrote", "ended"

_SAMPLES = "sample s JOIN {0} x ON x.sample_key = s.sample_key"
_HOLDS = "hold_scope s JOIN {0} x ON x.hold_id = s.hold_id"

# For each kind of number the rows that are about it: (what, FROM part, condition on :key). `x` is the row itself.
_ROWS: Mapping[str, Sequence[tuple[str, str, str]]] = {
    HEAT: (
        ("heat", "heat x", "x.heat_id = :key"),
        ("particulars", "heat_record x", "x.heat_id = :key"),
        ("record state", "heat_state x", "x.heat_id = :key"),
        ("treatment", "treatment x", "x.heat_id = :key"),
        ("addition", "addition x", "x.heat_id = :key"),
        ("temperature", "temperature x", "x.heat_id = :key"),
        ("order line", "assignment x", "x.heat_id = :key"),
        ("pour", "pour x", "x.heat_id = :key"),
        ("sample", "sample x", "x.heat_id = :key"),
        ("sample state", _SAMPLES.format("sample_state"), "s.heat_id = :key"),
        ("analysis", _SAMPLES.format("analysis"), "s.heat_id = :key"),
        ("analysis state", "sample s JOIN analysis a ON a.sample_key = s.sample_key "
         "JOIN analysis_state x ON x.analysis_id = a.analysis_id", "s.heat_id = :key"),
        ("cast analysis", "cast_analysis x", "x.heat_id = :key"),
        ("hold", _HOLDS.format("hold"), "s.heat_id = :key"),
        ("hold state", _HOLDS.format("hold_event"), "s.heat_id = :key"),
        ("decision", "decision x", "x.heat_id = :key"),
    ),
    PIECE: (
        ("part", "part x", "x.part_id = :key"),
        # The places of all parts of its run are found by index, also the ended ones.
        ("place and shares", "part p JOIN placement x ON x.sequence_id = p.sequence_id AND x.strand_no = p.strand_no "
         "AND x.run_no = p.run_no AND x.part_id = p.part_id", "p.part_id = :key"),
        ("cut", "part p JOIN cut x ON x.sequence_id = p.sequence_id AND x.strand_no = p.strand_no "
         "AND x.run_no = p.run_no AND x.cut_no = p.cut_no AND x.ended_no IS NULL", "p.part_id = :key"),
        ("heat from before the record", "earlier_heat x", "x.part_id = :key"),
        ("made from", "parentage x", "x.child_id = :key"),
        ("made into", "parentage x", "x.parent_id = :key"),
        ("other number", "alias x", "x.part_id = :key"),
        ("movement", "movement x", "x.part_id = :key"),
        ("weighing", "weight x", "x.part_id = :key"),
        ("mark", "mark x", "x.part_id = :key"),
        ("inspection", "inspection x", "x.part_id = :key"),
        ("order line", "assignment x", "x.part_id = :key"),
        ("sample", "sample x", "x.part_id = :key"),
        ("analysis", _SAMPLES.format("analysis"), "s.part_id = :key"),
        ("hold", _HOLDS.format("hold"), "s.part_id = :key"),
        ("hold state", _HOLDS.format("hold_event"), "s.part_id = :key"),
        ("decision", "decision x", "x.part_id = :key"),
        ("certificate claim", "certificate_claim x", "x.part_id = :key"),
        ("complaint", "complaint_piece x", "x.part_id = :key"),
        ("suspected swap", "mix_member x", "x.part_id = :key"),
        ("concession", "concession_use x", "x.part_id = :key"),
        ("trace test", "drill x", "x.part_id = :key"),
    ),
    "bench row": (
        ("bench row", "bench_row x", "x.bench_id = :key"), ("what became of it", "bench_event x", "x.bench_id = :key"),
    ),
    "import": (
        ("import", "batch x", "x.batch_id = :key"), ("bench row", "bench_row x", "x.batch_id = :key"),
        ("analysis", "analysis x", "x.batch_id = :key"),
    ),
    "hold": (
        ("hold", "hold x", "x.hold_id = :key"), ("what it lies on", "hold_scope x", "x.hold_id = :key"),
        ("hold state", "hold_event x", "x.hold_id = :key"), ("retest", "retest x", "x.hold_id = :key"),
    ),
    "decision": (
        ("decision", "decision x", "x.decision_id = :key"), ("finding", "decision_finding x", "x.decision_id = :key"),
    ),
    "analysis": (
        ("analysis", "analysis x", "x.analysis_id = :key"),
        ("analysis state", "analysis_state x", "x.analysis_id = :key"),
        ("cast analysis", "cast_analysis_value v JOIN cast_analysis x ON x.cast_analysis_id = v.cast_analysis_id",
         "v.analysis_id = :key"),
    ),
    "event": (("event", "event x", "x.event_id = :key"), ("metres marked", "event_reach x", "x.event_id = :key")),
    "complaint": (
        ("complaint", "complaint x", "x.complaint_id = :key"), ("piece", "complaint_piece x", "x.complaint_id = :key"),
        ("step", "complaint_event x", "x.complaint_id = :key"), ("notice", "notice x", "x.complaint_id = :key"),
    ),
    "concession": (
        ("concession", "concession x", "x.concession_id = :key"),
        ("use", "concession_use x", "x.concession_id = :key"),
    ),
}  # fmt: skip

TOUCHES: Mapping[str, Sequence[tuple[str, str]]] = {
    kind: [(what, f"SELECT x.entry_no, x.ended_no FROM {source} WHERE {where}") for what, source, where in rows]
    for kind, rows in _ROWS.items()
}
EXISTS: Mapping[str, str] = {
    letter: f"SELECT x.{key} FROM {table} x WHERE x.{key} = :key" for letter, (_, table, key) in OWN.items()
}
ENTRIES = """
SELECT l.entry_no, l.at, l.by, l.action, l.subject FROM ledger l WHERE l.entry_no IN ({keys}) ORDER BY l.entry_no
"""


@dataclass(frozen=True, slots=True)
class Subject:
    """What a number names: `kind` is heat, piece or one of our own, `key` its key, `how` as in `Found`."""

    kind: str
    number: str
    key: int
    how: str = ""


def subject_of(reader: Reader, text: str) -> Subject:
    """What a number names: one of our own (`H-12`), else a heat or a piece.

    Raises
    ------
    NotFound, Ambiguous
        As for any number; one of our own that is also a piece's or a heat's is ambiguous.
    """
    own = _own(reader, text)
    try:
        found = find(reader, text)
    except HeattraceError:
        if own is None:
            raise
        return own
    if own is not None:
        raise Ambiguous(f'"{own.number}" is a {own.kind} and {found.typed}; say {found.typed} if you mean that')
    return _of_found(found)


def _own(reader: Reader, text: str) -> Subject | None:
    match = re.fullmatch(r"([A-Z])-(\d{1,15})", searched(text))
    if not match or match[1] not in OWN:
        return None
    kind = OWN[match[1]][0]
    key = reader.scalar(EXISTS[match[1]], key=int(match[2]))
    if key is None:
        return None
    return Subject(kind, f"{match[1]}-{key}", key)


def _of_found(found: Found) -> Subject:
    return Subject(found.kind, found.number, found.id, found.how)


def history_of(reader: Reader, subject: Subject) -> list[dict[str, Any]]:
    """Ledger entries that touched a subject, oldest first: when, who, by what command, and what of it they touched."""
    touched: dict[int, dict[tuple[str, str], int]] = {}
    for what, question in TOUCHES[subject.kind]:
        for row in reader.all(question, key=subject.key):
            for number, how in ((row["entry_no"], WROTE), (row["ended_no"], ENDED)):
                if number is not None:
                    counts = touched.setdefault(number, {})
                    counts[what, how] = counts.get((what, how), 0) + 1
    if not touched:
        raise NotFound(f"nothing is written of {subject.kind} {subject.number}")
    zone = works_zone(reader)
    return [
        {
            "entry_no": row["entry_no"],
            "at": shown_at(row["at"], zone),
            "by": row["by"],
            "action": row["action"],
            "subject": row["subject"],
            "touched": [
                {"what": what, "how": how, "rows": rows} for (what, how), rows in touched[row["entry_no"]].items()
            ],
        }
        for row in reader.by_keys(ENTRIES, sorted(touched))
    ]
