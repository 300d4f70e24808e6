"""What bears a number: a heat or a piece found, said in words."""

from __future__ import annotations

from collections.abc import Iterable

from heattrace.store.number_form import searched
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import shown_at
from heattrace.store.works import works_zone
from heattrace.tracing import questions as q
from heattrace.values import dataclass

HEAT, PIECE = "heat", "piece"
LISTED = 12


@dataclass(frozen=True, slots=True)
class Found:
    """The record that bears a number: `kind` is heat or piece, `id` its key, `number` our number for it.

    `how` says in words by what it was found where that was not our own number; `series` is a heat's.
    """

    kind: str
    id: int
    number: str
    how: str = ""
    series: str = ""

    @property
    def typed(self) -> str:
        """The text that names it and nothing else."""
        return f"heat:{self.series}/{self.number}" if self.kind == HEAT else f"piece:{self.number}"


def of_alias(reader: Reader, row: Row) -> Found:
    """The piece another number stands for, with whose number it is and since when."""
    zone = works_zone(reader)
    begin, end = ((shown_at(row[name], zone) or "")[:10] for name in ("from_at", "to_at"))
    valid = f"from {begin} to {end}" if end else f"from {begin}"
    number = row["piece_no"] or f"part {row['part_id']}"
    how = f"{row['written']} is a number of {row['owner']} for piece {number}, valid {valid}"
    return Found(PIECE, row["part_id"], number, how)


def heats_numbered(reader: Reader, number: str, *, with_series: bool) -> list[Found]:
    """Heats of a number in all series; `SERIES/NUMBER` is read too where asked for."""
    rows = reader.all(q.HEAT_NUMBERED, number=number)
    found = [Found(HEAT, r["heat_id"], r["heat_no"], series=r["series"]) for r in rows]
    if with_series:
        for at, sign in enumerate(number):
            if sign == "/":
                series, rest = number[:at].strip(), number[at + 1 :].strip()
                found += [
                    Found(HEAT, row["heat_id"], row["heat_no"], series=row["series"])
                    for row in reader.all(q.HEAT_NUMBERED, number=rest)
                    if searched(row["series"]) == series
                ]
    return found


@dataclass(frozen=True, slots=True)
class Described:
    """What a heat or piece is, in words; `gone` says that a piece was dispatched."""

    words: str
    gone: bool = False


def describe(reader: Reader, found: Iterable[Found]) -> dict[tuple[str, int], Described]:
    """What each heat or piece is, by (kind, key)."""
    listed = list(found)
    told: dict[tuple[str, int], Described] = {}
    for row in reader.by_keys(q.HEATS_DESCRIBED, sorted({f.id for f in listed if f.kind == HEAT})):
        told[HEAT, row["heat_id"]] = Described(_heat_words(row))
    zone = works_zone(reader)
    for row in reader.by_keys(q.PARTS_DESCRIBED, sorted({f.id for f in listed if f.kind == PIECE})):
        day = (shown_at(row["dispatched_at"], zone) or "")[:10]
        told[PIECE, row["part_id"]] = Described(_piece_words(row, day), row["customer"] is not None)
    return told


def _heat_words(row: Row) -> str:
    parts = [f"heat {row['heat_no']} of series {row['series']}", row["requirement"] or row["grade_text"]]
    if row["sequence_no"]:
        parts.append(f"sequence {row['sequence_no']}")
    return ", ".join(p for p in parts if p)


def _piece_words(row: Row, day: str) -> str:
    parts = [f"{row['kind']} {row['piece_no'] or 'without a number'}"]
    if row["heat_no"]:
        parts.append(f"heat {row['heat_no']}")
    if row["sequence_no"]:
        parts.append(f"sequence {row['sequence_no']} strand {row['strand_no']} run {row['run_no']} cut {row['cut_no']}")
    if row["section"]:
        parts.append(row["section"])
    if row["origin"] == "earlier":
        parts.append("from before the record began")
    if row["customer"]:
        parts.append(f"to {row['customer']} on {row['delivery_note']} {day}".rstrip())
    elif row["whereabouts"]:
        parts.append(row["whereabouts"])
    return ", ".join(parts)
