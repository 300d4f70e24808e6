"""Holds and their state: those on a part or a heat, and the list of all that are open, proposed or due."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import tzinfo
from typing import Any

from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import shown_at
from heattrace.tracing import questions as q
from heattrace.tracing.lineage import sources_of
from heattrace.tracing.qualities import hold_states
from heattrace.tracing.quality import BARRING
from heattrace.values import dataclass

# Subjects named one by one in the words of a scope; the rest are counted.
_NAMED = 6


@dataclass(frozen=True, slots=True)
class Holding:
    """One hold as it stands. `scope` says in words what it lies on; `by` and `at`: who placed it, when [ms UTC]."""

    hold_id: int
    reason: str
    note: str
    scope: str
    lift_on: str
    requirement: str | None
    state: str
    owner: str | None
    due_at: int | None
    caused_by: str | None
    by: str
    at: int

    @property
    def hold_no(self) -> str:
        """Our number: `H-12`."""
        return f"H-{self.hold_id}"

    @property
    def bars(self) -> bool:
        """Whether it lies: placed, or under check."""
        return self.state in BARRING


def hold_json(hold: Holding, zone: tzinfo | None = None) -> dict[str, Any]:
    """The promised object of one hold, and who pursues it until when."""
    return {
        "hold_no": hold.hold_no,
        "reason": hold.reason,
        "note": hold.note,
        "scope": hold.scope,
        "lift_on": hold.lift_on,
        "requirement": hold.requirement,
        "state": hold.state,
        "owner": hold.owner,
        "due_at": shown_at(hold.due_at, zone),
        "caused_by": hold.caused_by,
        "by": hold.by,
        "at": shown_at(hold.at, zone),
    }


def list_holds(reader: Reader, *, proposed: bool = False, due: bool = False, now: int | None = None) -> list[Holding]:
    """The open holds; with `proposed` those only proposed, with `due` those whose day has come at `now` [ms UTC]."""
    rows = reader.all(q.HOLDS)
    states = hold_states(reader, [row["hold_id"] for row in rows])
    wanted = ("proposed",) if proposed else BARRING
    kept = []
    for row in rows:
        state = states[row["hold_id"]].state if row["hold_id"] in states else "proposed"
        late = row["due_at"] is not None and now is not None and row["due_at"] <= now
        if state in wanted and (late or not due):
            kept.append(row)
    return _holdings(reader, kept)


def holds_by_key(reader: Reader, hold_ids: Iterable[int]) -> list[Holding]:
    """Holds by their keys, in the order they were placed."""
    return _holdings(reader, list(reader.by_keys(q.HOLDS_BY_KEY, sorted(set(hold_ids)))))


def holds_on_part(reader: Reader, part_id: int) -> list[Holding]:
    """All holds that ever lay on a part, on what it was made from, on metres it has a part of, or on a heat in it."""
    family = [part_id, *sources_of(reader, [part_id])[part_id]]
    found = {row["hold_id"] for row in reader.by_keys(q.HOLDS_ON_PARTS, family)}
    places = list(reader.by_keys(q.PLACES_OF, family))
    for row in reader.by_keys(q.HOLDS_ON_SEQUENCES, sorted({place["sequence_id"] for place in places})):
        if any(_on_run(row, place) for place in places):
            found.add(row["hold_id"])
    heats = {row["heat_id"] for row in reader.by_keys(q.SHARES_OF, family)}
    heats |= {row["heat_id"] for row in reader.by_keys(q.EARLIER_HEATS_OF, family)}
    found |= {row["hold_id"] for row in reader.by_keys(q.HOLDS_ON_HEATS, sorted(heats))}
    return holds_by_key(reader, found)


def holds_on_heat(reader: Reader, heat_id: int) -> list[Holding]:
    """All holds that ever lay on a heat."""
    return holds_by_key(reader, [row["hold_id"] for row in reader.by_keys(q.HOLDS_ON_HEATS, [heat_id])])


def _on_run(row: Row, place: Row) -> bool:
    same = (row["subject"], row["strand_no"], row["run_no"]) == (
        place["sequence_id"], place["strand_no"], place["run_no"],
    )  # fmt: skip
    return same and bool(row["from_um"] < place["to_um"] and row["to_um"] > place["from_um"])


def _holdings(reader: Reader, rows: Sequence[Row]) -> list[Holding]:
    keys = [row["hold_id"] for row in rows]
    states = hold_states(reader, keys)
    scopes: dict[int, list[Row]] = {}
    for row in reader.by_keys(q.HOLD_SCOPES, sorted(keys)):
        scopes.setdefault(row["hold_id"], []).append(row)
    return [
        Holding(
            row["hold_id"],
            row["reason"],
            row["note"],
            scope_words(scopes.get(row["hold_id"], ())),
            row["lift_on"],
            row["requirement"],
            states[row["hold_id"]].state if row["hold_id"] in states else "proposed",
            row["owner"],
            row["due_at"],
            row["caused_by"],
            row["by"],
            row["at"],
        )
        for row in rows
    ]


def scope_words(scopes: Sequence[Row]) -> str:
    """What a hold lies on: heats, pieces and metres of strands, the first few by name."""
    words = [_subject(row) for row in scopes[:_NAMED]]
    more = len(scopes) - _NAMED
    if more > 0:
        words.append(f"and {more} more")
    return ", ".join(words)


def _subject(row: Row) -> str:
    metres = "" if row["from_um"] is None else f" from {row['from_um'] / 1e6:.3f} to {row['to_um'] / 1e6:.3f} m"
    if row["heat_id"] is not None:
        return f"heat {row['heat_no']}"
    if row["part_id"] is not None:
        number = row["piece_no"] or f"at cut {row['cut_no']} of strand {row['part_strand']} run {row['part_run']}"
        return f"{row['kind']} {number}{metres}"
    return f"strand {row['sequence_no']}/{row['strand_no']}/{row['run_no']}{metres}"
