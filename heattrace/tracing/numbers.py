"""From a NUMBER as somebody typed it to the heat or piece that bears it; where none does, the nearest ones.

A number is matched in its search form. `heat:41878`, `heat:2026/41878` and `piece:...` settle which is meant. Nothing
is ever picked: a number that fits several records is refused with all of them listed, one that fits none with the
nearest.
"""

from __future__ import annotations

from collections.abc import Sequence

from heattrace.errors import Ambiguous, NotFound, WrongUsage
from heattrace.findings import Finding
from heattrace.store.number_form import searched
from heattrace.store.reader import Reader
from heattrace.tracing import questions as q
from heattrace.tracing.candidates import matching, nearest
from heattrace.tracing.numbered import HEAT, LISTED, PIECE, Found, describe, heats_numbered, of_alias


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
