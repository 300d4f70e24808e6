"""From a NUMBER as somebody typed it to the heat or piece that bears it; where none does, the nearest ones.

A number is matched in its search form. `heat:41878`, `heat:2026/41878` and `piece:...` settle which is meant. Nothing
is ever picked: a number that fits several records is refused with all of them listed, one that fits none with the
nearest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from heattrace.errors import Ambiguous, NotFound, WrongUsage
from heattrace.findings import Finding
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


def find(reader: Reader, text: str, *, kind: str = "", wildcard: bool = False) -> Found:
    """The heat or piece a NUMBER names.

    Parameters
    ----------
    kind : str
        `heat` or `piece` where only one can be meant; else empty.
    wildcard : bool
        Take `*` and `?` as wildcards; the matches are only listed.

    Raises
    ------
    NotFound
        No record bears it; the findings are the nearest, likeliest first.
    Ambiguous
        Several do; the findings list all.
    WrongUsage
        There is no number in the text.
    """
    asked, number = _asked(text, kind)
    settled = asked == PIECE and searched(text) != number
    if not number:
        raise WrongUsage(f'found "{_shown(text)}"; the number of a heat or a piece was expected')
    if wildcard and ("*" in number or "?" in number):
        raise _matches(reader, text, asked, number)
    exact = _exact(reader, asked, number)
    if len(exact) == 1 or (settled and exact and not exact[0].how):
        return exact[0]
    if exact:
        raise _several(reader, text, exact)
    from heattrace.tracing.candidates import nearest

    near = nearest(reader, asked, number)
    raise NotFound(_none(text, asked, bool(near)), findings=near)


def _asked(text: str, kind: str) -> tuple[str, str]:
    number = searched(text)
    for word in (HEAT, PIECE):
        if number.startswith(f"{word.upper()}:"):
            if kind and kind != word:
                raise WrongUsage(f'found "{_shown(text)}"; the number of a {kind} was expected')
            return word, number[len(word) + 1 :].strip()
    return kind, number


def _exact(reader: Reader, asked: str, number: str) -> list[Found]:
    found: list[Found] = []
    if asked != HEAT:
        found += _pieces(reader, number)
    if asked != PIECE:
        found += heats_numbered(reader, number, with_series=asked == HEAT)
    return found


def _pieces(reader: Reader, number: str) -> list[Found]:
    own = [Found(PIECE, r["part_id"], r["piece_no"]) for r in reader.all(q.PART_NUMBERED, number=number)]
    known = {f.id for f in own}
    others: dict[int, Found] = {}
    for row in reader.all(q.ALIAS_NUMBERED, number=number):
        if row["part_id"] not in known:
            others[row["part_id"]] = of_alias(reader, row)
    return own + list(others.values())


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


def _several(reader: Reader, text: str, found: Sequence[Found]) -> Ambiguous:
    kinds = {f.kind for f in found}
    what = "a heat and a piece" if len(kinds) == 2 else f"{len(found)} {'heats' if kinds == {HEAT} else 'pieces'}"
    told = describe(reader, found)
    findings = [
        Finding("NUMBER-SHARED", f.typed, f.how or _shown(text), told[f.kind, f.id].words, f'name it "{f.typed}"')
        for f in found
    ]
    typed = ", ".join(f.typed for f in found)
    return Ambiguous(f'"{_shown(text)}" names {what}; say which: {typed}', findings=findings)


def _matches(reader: Reader, text: str, asked: str, number: str) -> NotFound | Ambiguous:
    from heattrace.tracing.candidates import matching

    findings = matching(reader, asked, number)
    if not findings:
        return NotFound(f'no {asked or "heat or piece"} matches "{_shown(text)}"')
    more = ", the first of more" if len(findings) >= LISTED else ""
    return Ambiguous(f'"{_shown(text)}" matches {len(findings)}{more}; name one of them', findings=findings)


def _none(text: str, asked: str, near: bool) -> str:
    what = asked or "heat or piece"
    if near:
        return f'no {what} "{_shown(text)}"; the nearest follow, none was taken: compare them with the steel or paper'
    return (
        f'no {what} "{_shown(text)}", and none near it; a part of a number is searched with '
        '"heattrace trace --wildcard" and * for the signs that cannot be read'
    )


def _shown(text: str) -> str:
    """What was typed, short enough for a message and with nothing in it that could steer a terminal."""
    short = text if len(text) <= 80 else f"{text[:77]}..."
    return short if short.isprintable() else short.encode("unicode_escape").decode()


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
