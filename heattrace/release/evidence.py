"""What would lift a hold, and whether a record is that evidence."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from heattrace.errors import Refused, WrongUsage
from heattrace.metallurgy.elements import ALIASES, ELEMENT_NUMBER, ELEMENTS
from heattrace.store.reader import Reader

KINDS = ("analysis", "inspection", "retest", "identity", "document")


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing a hold asks for: `kind`, and elements (analysis) or the scheme (inspection)."""

    kind: str
    of: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """As written on the command line."""
        return f"{self.kind}:{','.join(self.of)}" if self.of else self.kind


def read_evidence(words: Iterable[str]) -> tuple[Evidence, ...]:
    """Read `analysis:C,N`, `inspection:SCHEME`, `retest`, `identity`, `document`; several parted by `;`.

    Raises
    ------
    WrongUsage
        Not one of those.

    Examples
    --------
    >>> [e.text for e in read_evidence(["analysis:C,N; document"])]
    ['analysis:C,N', 'document']
    """
    found: list[Evidence] = []
    for word in (part.strip() for text in words for part in text.split(";")):
        if not word:
            continue
        kind, _, rest = word.partition(":")
        kind = kind.strip()
        of = tuple(p.strip() for p in rest.split(",") if p.strip())
        if kind not in KINDS:
            raise WrongUsage(f'--lift-on: found "{word}"; one of {", ".join(KINDS)} was expected')
        if kind == "analysis":
            of = tuple(ALIASES.get(e, e) for e in of)
            strange = [e for e in of if e not in ELEMENT_NUMBER]
            if strange or not of:
                raise WrongUsage(f'--lift-on: "{word}": elements such as analysis:C,N were expected')
        elif kind == "inspection":
            if len(of) != 1:
                raise WrongUsage(f'--lift-on: "{word}": one scheme such as inspection:etch was expected')
        elif of:
            raise WrongUsage(f'--lift-on: "{word}": {kind} takes nothing after it')
        found.append(Evidence(kind, of))
    if not found:
        raise WrongUsage(f"--lift-on: say what would lift the hold: {', '.join(KINDS)}")
    return tuple(found)


@dataclass(frozen=True, slots=True)
class HeldSubjects:
    """Keys of what a hold lies on: heats, parts, and of each part the heats that reach it (works value hold-reach)."""

    heat_ids: tuple[int, ...]
    part_ids: tuple[int, ...]
    heats_of_parts: Mapping[int, frozenset[int]]

    @property
    def subjects(self) -> frozenset[tuple[str, int]]:
        """All of them as (`heat` or `part`, key)."""
        return frozenset((*(("heat", h) for h in self.heat_ids), *(("part", p) for p in self.part_ids)))

    def spoken_of(self, heat_id: int | None, part_id: int | None) -> frozenset[tuple[str, int]]:
        """The held subjects a sample of a heat, or one cut from a part, says something of.

        A sample of a heat speaks for held pieces only where every one of them contains that heat; a sample cut from a
        piece speaks for that piece alone.
        """
        found = {("heat", heat_id)} if heat_id in self.heat_ids else set()
        if part_id is not None:
            found |= {("part", part_id)} if part_id in self.part_ids else set()
        elif self.part_ids and all(heat_id in self.heats_of_parts[p] for p in self.part_ids):
            found |= {("part", p) for p in self.part_ids}
        return frozenset(found)


ANALYSIS = """
SELECT a.analysis_id, a.entry_no, a.state, s.heat_id, s.part_id, s.entry_no AS sample_entry,
coalesce((SELECT t.state FROM analysis_state t WHERE t.analysis_id = a.analysis_id AND {live:t}
ORDER BY t.analysis_state_id DESC LIMIT 1), a.state) AS state_now
FROM analysis a JOIN sample s ON s.sample_key = a.sample_key WHERE a.analysis_id = :key AND {live:a} AND {live:s}
"""
REPORTED = """
SELECT r.element_id FROM result r JOIN result_form f ON f.form_id = r.form_id
WHERE r.analysis_id = :key AND f.qualifier <> 'not-reported'
"""
HEAT_NUMBERS = "SELECT h.heat_id, h.heat_no FROM heat h WHERE h.heat_id IN ({keys})"
PIECE_NUMBERS = "SELECT p.part_id, p.piece_no FROM part p WHERE p.part_id IN ({keys})"
INSPECTION = "SELECT part_id, scheme, entry_no FROM inspection i WHERE i.inspection_id = :key AND {live:i}"


def proof(reader: Reader, wanted: Evidence, refs: Sequence[str], held: HeldSubjects, since: int) -> str:
    """The references that are the wanted evidence: on all held heats or pieces, entered after the hold (entry `since`).

    Several analyses may together speak for what is held; any other evidence is one reference.

    Raises
    ------
    Refused
        None of the references is, or they leave a held piece out; the message says why for each.
    """
    reasons: list[str] = []
    sound: list[str] = []
    left = set(held.subjects)
    for ref in refs:
        fault = _fault(reader, wanted, ref.strip(), held, since)
        if fault:
            reasons.append(f"{ref}: {fault}")
        elif wanted.kind not in ("analysis", "retest"):
            return ref.strip()
        else:
            sound.append(ref.strip())
            left -= _spoken_of(reader, ref.strip(), held)
    if sound and not left:
        return ", ".join(dict.fromkeys(sound))
    if sound:
        reasons.append(
            f"{', '.join(sound)}: nothing is said of {', '.join(_named(reader, left))}; an analysis of each held "
            "piece, or of a heat all of them contain, was expected"
        )
    raise Refused(f"evidence {wanted.text} is not shown ({'; '.join(reasons) or 'no reference given'})")


def _fault(reader: Reader, wanted: Evidence, ref: str, held: HeldSubjects, since: int) -> str:
    if wanted.kind in ("analysis", "retest"):
        return _analysis_fault(reader, wanted, ref, held, since)
    if wanted.kind == "inspection":
        return _inspection_fault(reader, wanted, ref, held, since)
    # A paper outside this record is named by its own number; the statement is the person's and is printed as such.
    number = ref.removeprefix(f"{wanted.kind}:").strip()
    named = ref.startswith(f"{wanted.kind}:") and number.isprintable() and len(number.replace(" ", "")) >= 3
    repeated = number.partition(":")[0].strip().casefold() in KINDS or len(set(number)) == 1
    if not named or repeated or not any(letter.isdigit() for letter in number):
        return f"name the paper by its number, e.g. {wanted.kind}:QN-2031"
    return ""


def _spoken_of(reader: Reader, ref: str, held: HeldSubjects) -> frozenset[tuple[str, int]]:
    row = reader.one(ANALYSIS, key=int(ref.removeprefix("A-")))
    return frozenset() if row is None else held.spoken_of(row["heat_id"], row["part_id"])


def _named(reader: Reader, subjects: Iterable[tuple[str, int]]) -> list[str]:
    """Numbers of some heats and parts."""
    keys = sorted(subjects)
    heats = reader.by_keys(HEAT_NUMBERS, [key for kind, key in keys if kind == "heat"])
    pieces = reader.by_keys(PIECE_NUMBERS, [key for kind, key in keys if kind == "part"])
    numbers = [f"heat {row['heat_no']}" for row in heats]
    return sorted(numbers) + sorted(row["piece_no"] or f"part {row['part_id']}" for row in pieces)


def _analysis_fault(reader: Reader, wanted: Evidence, ref: str, held: HeldSubjects, since: int) -> str:
    match = re.fullmatch(r"A-(\d{1,15})", ref)
    row = reader.one(ANALYSIS, key=int(match[1])) if match else None
    if row is None:
        return "no such analysis; a number such as A-12 was expected"
    if not held.spoken_of(row["heat_id"], row["part_id"]):
        inside = [p for p in held.part_ids if row["part_id"] is None and row["heat_id"] in held.heats_of_parts[p]]
        if not inside:
            return "it is of another heat or piece"
        without = _named(reader, {("part", p) for p in held.part_ids if p not in inside})
        return f"its heat is not in {', '.join(without)}; an analysis of each held piece was expected"
    if row["entry_no"] <= since:
        return "it was entered before the hold"
    if row["state_now"] != "valid":
        return f"its state is {row['state_now']}"
    if wanted.kind == "retest" and row["sample_entry"] <= since:
        return "a retest is a new sample; this one was known before the hold"
    reported = {ELEMENTS[r["element_id"] - 1] for r in reader.all(REPORTED, key=row["analysis_id"])}
    lacking = [e for e in wanted.of if e not in reported]
    return f"it does not report {', '.join(lacking)}" if lacking else ""


def _inspection_fault(reader: Reader, wanted: Evidence, ref: str, held: HeldSubjects, since: int) -> str:
    match = re.fullmatch(r"inspection:(\d{1,15})", ref)
    row = reader.one(INSPECTION, key=int(match[1])) if match else None
    if row is None:
        return "no such inspection; a number such as inspection:12 was expected"
    if row["part_id"] not in held.part_ids:
        return "it is of another piece"
    if row["entry_no"] <= since:
        return "it was entered before the hold"
    if row["scheme"] != wanted.of[0]:
        return f"its scheme is {row['scheme']}"
    return ""


SCOPE = """
SELECT s.heat_id, s.part_id, s.sequence_id, s.strand_no, s.run_no, s.from_um, s.to_um FROM hold_scope s
WHERE s.hold_id = :hold AND {live:s}
"""
PARTS_BETWEEN = """
SELECT p.part_id FROM placement p WHERE p.sequence_id = :sequence AND p.strand_no = :strand AND p.run_no = :run
AND p.from_um < :until AND p.to_um > :since AND {live:p}
"""


def held_subjects(reader: Reader, hold_id: int) -> HeldSubjects:
    """What a hold lies on, its interval resolved to the parts that overlap it."""
    from heattrace.tracing.qualities import standing_of_parts

    heats: set[int] = set()
    parts: set[int] = set()
    for row in reader.all(SCOPE, hold=hold_id):
        if row["heat_id"] is not None:
            heats.add(row["heat_id"])
        elif row["part_id"] is not None:
            parts.add(row["part_id"])
        else:
            found = reader.all(
                PARTS_BETWEEN, sequence=row["sequence_id"], strand=row["strand_no"], run=row["run_no"],
                since=row["from_um"], until=row["to_um"],
            )  # fmt: skip
            parts.update(r["part_id"] for r in found)
    standing = standing_of_parts(reader, parts)
    floor = standing.reach.general
    of_parts = {p: frozenset(h for h, share in steel.shares if share >= floor) for p, steel in standing.parts.items()}
    return HeldSubjects(tuple(sorted(heats)), tuple(sorted(parts)), of_parts)
