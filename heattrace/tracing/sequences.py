"""Sequences of the record: the list of them, and every part of one as computed from what was recorded."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from heattrace.errors import NotFound
from heattrace.findings import Finding
from heattrace.store.number_form import searched
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import KILOGRAMS, shown_at, written
from heattrace.store.works import works_zone
from heattrace.strand.traced import ClassReason, PartBounds, PartShare, TracedPart
from heattrace.tracing import cast_questions as cq
from heattrace.tracing import questions as q
from heattrace.tracing.cast_trace import PartKey, TracedRecord, part_key, piece_words, trace_record
from heattrace.tracing.fits import wanted_of_decisions
from heattrace.tracing.qualities import Standing, standing_of_parts
from heattrace.tracing.requirements import Wanted, parts_wanted
from heattrace.tracing.whereabouts import whereabouts_of
from heattrace.values import dataclass

_MOST_NEAR = 5


def sequence_key(reader: Reader, number: str) -> int:
    """Key of the sequence of a number.

    Raises
    ------
    NotFound
        There is none; the nearest numbers stand in the findings, none is picked.
    """
    key = reader.scalar(cq.SEQUENCE_NUMBERED, number=searched(number))
    if key is not None:
        return int(key)
    from difflib import get_close_matches

    known = [row["sequence_no"] for row in reader.all(cq.SEQUENCES)]
    near = get_close_matches(searched(number), known, n=_MOST_NEAR, cutoff=0.4)
    findings = [Finding("NUMBER-NEAR", each, "a number of the record", "", "") for each in near]
    raise NotFound(f'no sequence "{number}"; "heattrace sequence list" lists them', findings=findings)


def list_sequences(reader: Reader) -> list[dict[str, Any]]:
    """Every sequence: caster, from its first ladle or strand to its book's last moment, heats, strands, parts."""
    zone = works_zone(reader)
    return [
        {
            "sequence_no": row["sequence_no"],
            "caster": row["caster"],
            "from": shown_at(_earliest(row["opened_at"], row["started_at"]), zone),
            "to": shown_at(row["last_at"], zone),
            "recorded_until": shown_at(row["recorded_until"], zone),
            "edition": row["edition"],
            "heats": row["heats"],
            "strands": row["strands"],
            "pieces": row["pieces"],
            "other_parts": row["others"],
            "transitions": row["transitions"],
            "undetermined": row["undetermined"],
        }
        for row in reader.all(cq.SEQUENCE_LINES)
    ]


def _earliest(*moments: int | None) -> int | None:
    return min((at for at in moments if at is not None), default=None)


@dataclass(frozen=True, slots=True)
class SequenceShown:
    """One sequence as computed now; `data` is the promised object, `pours` and `runs` are for people."""

    record: TracedRecord
    data: dict[str, Any]
    findings: tuple[Finding, ...]


def show_sequence(reader: Reader, number: str, strand_no: int | None = None) -> SequenceShown:
    """All parts of a sequence, unrounded, computed from the recorded inputs; of one strand where it is named.

    Raises
    ------
    NotFound
        There is no such sequence or strand, or no cast book of it.
    CastUnreadable
        The record contradicts itself so far that nothing can be computed.
    """
    record = trace_record(reader, sequence_key(reader, number))
    zone = works_zone(reader)
    strands = sorted({run.strand_no for run in record.traced.runs})
    if strand_no is not None and strand_no not in strands:
        listed = ", ".join(str(each) for each in strands)
        raise NotFound(f"sequence {record.recorded.sequence_no} has no strand {strand_no}; it has {listed}")
    parts = [part for part in record.traced.parts if strand_no in (None, part.strand_no)]
    kept = kept_parts(reader, record)
    shown = _Shown(reader, record, [kept[key] for part in parts if (key := part_key(part)) in kept])
    pieces = [shown.part(part, kept.get(part_key(part))) for part in parts]
    data = {
        "sequence_no": record.recorded.sequence_no,
        "caster": record.recorded.caster,
        "recorded_until": _until(record, zone),
        "heats": shown.heats(),
        "runs": [_run(record, run, zone) for run in record.traced.runs if strand_no in (None, run.strand_no)],
        "pieces": pieces,
    }
    findings = (*record.findings(zone), *record.rules.findings(record.recorded.sequence_no))
    return SequenceShown(record, data, (*findings, *stale_findings(reader, record, kept)))


def kept_parts(reader: Reader, record: TracedRecord) -> dict[PartKey, int]:
    """Key of the kept part for every part of a traced cast that the record keeps."""
    rows = reader.all(cq.PARTS, sequence=record.recorded.sequence_id)
    return {
        (row["strand_no"], row["run_no"], row["cut_no"], row["kind"], row["piece_no"]): int(row["part_id"])
        for row in rows
    }


def stale_findings(reader: Reader, record: TracedRecord, kept: Mapping[PartKey, int]) -> list[Finding]:
    """Parts that `trace` shows otherwise than this answer, since a rule value or a planned grade was set after it."""
    places = {row["part_id"]: row for row in reader.by_keys(q.PLACES_OF, sorted(kept.values()))}
    differ = []
    for part in record.traced.parts:
        row = places.get(kept.get(part_key(part), -1))
        place = (round(part.from_m * 1e6), round(part.to_m * 1e6), part.class_)
        if row is None or (row["from_um"], row["to_um"], row["cast_class"]) != place:
            differ.append(part.piece_no or f"{part.kind} {part.strand_no}/{part.run_no}/{part.cut_no}")
    if not differ:
        return []
    seen = f"{len(differ)} parts are kept otherwise: {piece_words(differ)}"
    step = "A value or a grade was set after their tracing; they are traced anew with the next edition of the book"
    return [Finding("kept-otherwise", f"sequence {record.recorded.sequence_no}", seen, "parts as kept", step)]


def _until(record: TracedRecord, zone: Any) -> str | None:
    until = record.recorded.cast.recorded_until
    return None if until is None else shown_at(record.recorded.ms(until), zone)


def _run(record: TracedRecord, run: Any, zone: Any) -> dict[str, Any]:
    written_run = next(each for each in record.recorded.cast.runs if each.key == run.key)

    def at(minute: float | None) -> str | None:
        return None if minute is None else shown_at(record.recorded.ms(minute), zone)

    return {
        "strand_no": run.strand_no,
        "run_no": run.run_no,
        "form": run.form,
        "section": f"{written_run.thickness_mm:g} x {written_run.width_mm:g} mm",
        "started_at": at(written_run.started),
        "stopped_at": at(written_run.stopped),
        "length_m": run.s_end,
        "ended": run.ended,
        "in_machine_from_m": run.in_machine_from_m,
        "stop_marks_m": list(run.stop_marks_m),
        "joints_m": list(run.joints_m),
    }


class _Shown:
    """Parts of one traced cast as answers give them, with what the record keeps about them in few questions."""

    def __init__(self, reader: Reader, record: TracedRecord, part_ids: Sequence[int]) -> None:
        self.reader, self.record = reader, record
        self.zone = works_zone(reader)
        traced = record.traced
        self.numbers = {heat.heat_id: heat.heat_no for heat in traced.heats}
        keys = sorted(int(heat.heat_id) for heat in traced.heats)
        self.grades = {r["heat_id"]: r["requirement"] or r["grade_text"] for r in reader.by_keys(cq.HEATS, keys)}
        self.wanted = parts_wanted(reader, part_ids)
        self.standing: Standing = standing_of_parts(reader, part_ids)
        self.whereabouts = whereabouts_of(reader, part_ids)
        self.weighed = weighed_masses(reader, part_ids)
        self.decided = {row["part_id"]: row for row in reader.by_keys(cq.DECIDED_NUMBERS, sorted(part_ids))}
        self.decisions: dict[int, list[Row]] = {}
        for row in reader.by_keys(q.DECISIONS_ON_PARTS, sorted(part_ids)):
            self.decisions.setdefault(row["subject"], []).append(row)
        self.heat_decisions: dict[int, list[Row]] = {}
        for row in reader.by_keys(q.DECISIONS_ON_HEATS, keys):
            self.heat_decisions.setdefault(row["subject"], []).append(row)
        self._asked: dict[tuple[int, ...], list[Wanted]] = {}

    def heats(self) -> list[dict[str, Any]]:
        """Heats of the cast in heat order with their pours."""
        pours: dict[Any, list[dict[str, Any]]] = {}
        for row in self.reader.all(cq.POURS, sequence=self.record.recorded.sequence_id):
            pours.setdefault(row["heat_id"], []).append(
                {
                    "tundish": row["tundish"],
                    "opened_at": shown_at(row["opened_at"], self.zone),
                    "closed_at": shown_at(row["closed_at"], self.zone),
                }
            )
        return [
            {"heat_no": heat.heat_no, "grade": self.grades.get(heat.heat_id), "pours": pours.get(heat.heat_id, [])}
            for heat in self.record.traced.heats
        ]

    def part(self, part: TracedPart, part_id: int | None) -> dict[str, Any]:
        """The promised object of one part."""
        decided = self.decided.get(part_id) if part_id is not None else None
        heat = part.heat if decided is None else decided["heat_id"]
        return {
            "piece": self._piece(part, part_id),
            "cast_position": self._position(part),
            "heats": [self._share(share) for share in part.listed(self.record.rules.rules.list_floor)],
            "bounds": None if part.bounds is None else self._bounds(part.bounds),
            "class": part.class_,
            "class_reasons": [_reason(reason) for reason in part.class_reasons],
            "majority_heat": self.numbers[part.majority_heat],
            "late_heat": self.numbers[part.late_heat],
            "heat_no": None if heat is None else self.numbers.get(heat, decided and decided["heat_no"]),
            "heat_no_rule": part.heat_no_rule if decided is None else "decided",
        }

    def _piece(self, part: TracedPart, part_id: int | None) -> dict[str, Any]:
        qualities = [] if part_id is None else self._qualities(part_id)
        wanted = None if part_id is None else self.wanted[part_id]
        return {
            "piece_no": part.piece_no,
            "kind": part.kind,
            "form": part.form,
            "section": part.section,
            "length_hot_m": part.length_hot_m,
            "length_cold_m": part.length_cold_m,
            "mass_kg": part.mass_t * 1000,
            "mass_weighed_kg": None if part_id is None else self.weighed.get(part_id),
            "quality": qualities[0]["quality"] if qualities else "undecided",
            "qualities": qualities,
            "requirement": None if wanted is None else wanted.text,
            "whereabouts": None if part_id is None else self.whereabouts.get(part_id),
        }

    def _qualities(self, part_id: int) -> list[dict[str, Any]]:
        """The quality for its own requirement first, then for those it or its heats were decided for."""
        rows = list(self.decisions.get(part_id, ()))
        for heat_id, _ in self.standing.parts[part_id].shares:
            rows += self.heat_decisions.get(heat_id, [])
        key = tuple(row["decision_id"] for row in rows)
        if key not in self._asked:
            self._asked[key] = wanted_of_decisions(self.reader, rows) if rows else []
        asked = dict.fromkeys([self.wanted[part_id], *self._asked[key]])
        return [
            {"requirement": None if uses is None else uses.text, "quality": found.value, "because": found.because}
            for uses in asked
            for found in (self.standing.of_part(part_id, uses),)
        ]

    def _at(self, minute: float) -> str | None:
        return shown_at(self.record.recorded.ms(minute), self.zone)

    def _position(self, part: TracedPart) -> dict[str, Any]:
        return {
            "sequence_no": self.record.recorded.sequence_no,
            "strand_no": part.strand_no,
            "run_no": part.run_no,
            "cut_no": None if part.implied else part.cut_no,
            "tundish": part.tundish,
            "tundishes": list(part.tundishes),
            "from_m": part.from_m,
            "to_m": part.to_m,
            "meniscus_from": self._at(part.meniscus_from),
            "meniscus_to": self._at(part.meniscus_to),
            "clamped_at": None if part.clamped is None else self._at(part.clamped),
            "transit_min": part.transit_min,
            "residual_mm": part.residual_mm,
            "stop_marks_m": list(part.stop_marks_m),
            "uncertainty_m": part.uncertainty_m,
        }

    def _share(self, share: PartShare) -> dict[str, Any]:
        return {
            "heat_no": self.numbers[share.heat_id],
            "share_mean": share.mean,
            "share_head": share.head,
            "share_tail": share.tail,
            "share_min": share.least,
            "share_max": share.greatest,
            "uncertainty_head": share.uncertainty_head,
            "uncertainty_tail": share.uncertainty_tail,
            "grade": self.grades.get(share.heat_id),
        }

    def _bounds(self, bounds: PartBounds) -> dict[str, Any]:
        return {
            "from_m": list(bounds.from_m),
            "to_m": list(bounds.to_m),
            "meniscus_from": [self._at(minute) for minute in bounds.meniscus_from],
            "meniscus_to": [self._at(minute) for minute in bounds.meniscus_to],
            "mass_kg": [mass * 1000 for mass in bounds.mass_t],
            "shares": [
                {
                    "heat_no": self.numbers[share.heat_id],
                    "mean": list(share.mean),
                    "head": list(share.head),
                    "tail": list(share.tail),
                    "anywhere": list(share.anywhere),
                }
                for share in bounds.shares
            ],
        }


def _reason(reason: ClassReason) -> dict[str, Any]:
    return {"code": reason.code, "words": reason.words, "from_m": reason.from_m, "to_m": reason.to_m}


def weighed_masses(reader: Reader, part_ids: Iterable[int]) -> dict[int, str]:
    """Weighed mass of each part that was weighed [kg], as written: its last weighing, else what its cut says."""
    keys = sorted(set(part_ids))
    found: dict[int, str | None] = {
        row["part_id"]: written(row["mass_g"], row["mass_text"], KILOGRAMS)
        for row in reader.by_keys(cq.CUT_MASSES_OF, keys)
    }
    for row in reader.by_keys(cq.WEIGHTS_OF, keys):
        found[row["part_id"]] = written(row["mass_g"], row["mass_text"], KILOGRAMS)
    return {part_id: mass for part_id, mass in found.items() if mass is not None}
