"""Placing a hold, taking up or turning down a proposed one, lifting one on the evidence it asks for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from heattrace.errors import NotFound, Refused, WrongUsage
from heattrace.release.evidence import Evidence, held_subjects, proof, read_evidence
from heattrace.release.reasons import check_reason
from heattrace.schema.decisions import Hold, HoldEvent, HoldScope
from heattrace.store.ledger import canonical
from heattrace.store.reader import Reader
from heattrace.store.work import Work

HOLD_STATE = """
SELECT h.hold_id, h.reason, h.lift_on, h.entry_no, l.by,
(SELECT e.state FROM hold_event e WHERE e.hold_id = h.hold_id AND {live:e}
ORDER BY e.hold_event_id DESC LIMIT 1) AS state
FROM hold h JOIN ledger l ON l.entry_no = h.entry_no WHERE h.hold_id = :hold AND {live:h}
"""
RUN_LENGTH = """
SELECT max(p.to_um) AS until FROM placement p
WHERE p.sequence_id = :sequence AND p.strand_no = :strand AND p.run_no = :run AND {live:p}
"""
PLACE = "SELECT p.from_um, p.to_um FROM placement p WHERE p.part_id = :part AND {live:p}"


@dataclass(frozen=True, slots=True)
class Scope:
    """What a hold is to lie on; exactly one of heat, part, strand (sequence_id, strand_no, run_no). Ends in um."""

    heat_id: int | None = None
    part_id: int | None = None
    strand: tuple[int, int, int] | None = None
    from_um: int | None = None
    to_um: int | None = None


@dataclass(frozen=True, slots=True)
class HoldWords:
    """What a person says with a hold."""

    reason: str
    note: str
    lift_on: tuple[Evidence, ...]
    owner: str | None = None
    due_at: int | None = None
    requirement: str | None = None


def hold_words(
    *, reason: str, note: str, lift_on: Sequence[str], owner: str | None, due_at: int | None, requirement: str | None
) -> HoldWords:
    """Check the words of a hold.

    Raises
    ------
    WrongUsage
        Unknown reason code, no words beside it, or nothing that would lift it.
    """
    if not note.strip():
        raise WrongUsage("--note: say in words what was seen; the code alone does not tell the next shift")
    return HoldWords(check_reason(reason), note.strip(), read_evidence(lift_on), owner, due_at, requirement)


def check_interval(reader: Reader, scope: Scope) -> None:
    """Refuse metres that lie nowhere on the steel they are said of.

    Raises
    ------
    Refused
        The interval is empty, or outside the strand or the piece.
    """
    if scope.from_um is None or scope.to_um is None:
        return
    if scope.to_um <= scope.from_um:
        raise Refused(f"--from {scope.from_um / 1e6:g} --to {scope.to_um / 1e6:g}: the end must lie after the start")
    if scope.strand is not None:
        sequence_id, strand_no, run_no = scope.strand
        until = reader.scalar(RUN_LENGTH, sequence=sequence_id, strand=strand_no, run=run_no)
        if until is None:
            raise Refused(f"strand {strand_no}, run {run_no}: no part of it is placed; take its cast book in first")
        if scope.from_um >= until:
            raise Refused(f"--from {scope.from_um / 1e6:g}: the strand ends at {until / 1e6:.2f} m")
    elif scope.part_id is not None:
        place = reader.one(PLACE, part=scope.part_id)
        if place is None:
            raise Refused("metres were given, but the place of this piece is not recorded; hold the whole piece")
        if scope.from_um >= place["to_um"] or scope.to_um <= place["from_um"]:
            raise Refused(
                f"the piece lies from {place['from_um'] / 1e6:.2f} to {place['to_um'] / 1e6:.2f} m of its strand, "
                "the interval beside it"
            )


def place_hold(work: Work, scopes: Sequence[Scope], words: HoldWords, *, state: str = "placed", cause: str = "") -> int:
    """Write one hold over all scopes and give its number; state `proposed` bars nothing and names its cause."""
    for scope in scopes:
        check_interval(work.reader, scope)
    hold_id = work.add(
        Hold(
            reason=words.reason,
            note=words.note,
            lift_on="; ".join(e.text for e in words.lift_on),
            owner=words.owner,
            due_at=words.due_at,
            requirement=words.requirement,
            caused_by=cause or None,
        )
    )
    for scope in scopes:
        sequence_id, strand_no, run_no = scope.strand or (None, None, None)
        work.add(
            HoldScope(
                hold_id=hold_id, heat_id=scope.heat_id, part_id=scope.part_id, sequence_id=sequence_id,
                strand_no=strand_no, run_no=run_no, from_um=scope.from_um, to_um=scope.to_um,
            )
        )  # fmt: skip
    _note_state(work, hold_id, state)
    return hold_id


def _note_state(work: Work, hold_id: int, state: str, *, evidence: str | None = None, note: str | None = None) -> None:
    work.add(HoldEvent(hold_id=hold_id, state=state, evidence=evidence, note=note, at=work.now, by=work.by))


def hold_number(text: str) -> int:
    """Key of a hold written as `H-12`.

    Raises
    ------
    WrongUsage
        Not of that form.
    """
    match = re.fullmatch(r"[Hh]-(\d{1,15})", text.strip())
    if not match:
        raise WrongUsage(f'found "{text}"; the number of a hold such as H-12 was expected')
    return int(match[1])


def hold_state(reader: Reader, hold_id: int) -> tuple[str, str, int, str]:
    """State, what would lift it, entry that wrote it, and who placed it.

    Raises
    ------
    NotFound
        There is no such hold.
    """
    row = reader.one(HOLD_STATE, hold=hold_id)
    if row is None:
        raise NotFound(f'no hold H-{hold_id}; "heattrace holds" lists them')
    return row["state"], row["lift_on"], row["entry_no"], row["by"]


def take_up(work: Work, hold_id: int) -> None:
    """Place a proposed hold.

    Raises
    ------
    Refused
        It is not in state proposed.
    """
    state, *_ = hold_state(work.reader, hold_id)
    if state != "proposed":
        raise Refused(f"H-{hold_id} is {state}; only a proposed hold can be taken up")
    _note_state(work, hold_id, "placed")


def turn_down(work: Work, hold_id: int, note: str) -> None:
    """Turn a proposed hold down, with the reason in words.

    Raises
    ------
    Refused
        It is not in state proposed.
    """
    state, *_ = hold_state(work.reader, hold_id)
    if state != "proposed":
        raise Refused(f"H-{hold_id} is {state}; only a proposed hold can be turned down")
    if not note.strip():
        raise WrongUsage("--note: say why the proposal is turned down")
    _note_state(work, hold_id, "turned-down", note=note.strip())


def lift(work: Work, hold_id: int, refs: Sequence[str], note: str | None = None) -> dict[str, str]:
    """Lift a hold on the evidence it asks for; give evidence and reference.

    The quality below it returns to undecided, never straight to released.

    Raises
    ------
    Refused
        It does not lie, or an evidence it asks for is not shown.
    """
    state, lift_on, since, _ = hold_state(work.reader, hold_id)
    if state not in ("placed", "under-check"):
        raise Refused(f"H-{hold_id} is {state}; there is nothing to lift")
    held = held_subjects(work.reader, hold_id)
    shown = {e.text: proof(work.reader, e, refs, held, since) for e in read_evidence([lift_on])}
    _note_state(work, hold_id, "lifted", evidence=canonical(shown), note=note)
    return shown
