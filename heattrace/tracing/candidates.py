"""Numbers near one that no record bears: looked up by index, ranked by the kind of slip, never picked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from heattrace.findings import Finding
from heattrace.store.reader import Reader, Row
from heattrace.tracing import questions as q
from heattrace.tracing.numbered import HEAT, LISTED, PIECE, Found, describe, heats_numbered, of_alias
from heattrace.tracing.slips import SEPARATORS, Slip, beyond, like_pattern, look_alikes, slips

Near = tuple[Found, Slip]

# How many sequences and heats are looked into for a number that lost its beginning.
_INSIDE = 6


def nearest(reader: Reader, asked: str, number: str) -> list[Finding]:
    """The nearest numbers, likeliest slip first; among equals what was dispatched comes first."""
    near = list(_by_variants(reader, asked, slips(number)))
    near += _by_beginning(reader, asked, number)
    if asked != PIECE and "/" in number:
        slip = Slip(number, "separators", "read as series and number")
        near += [(found, slip) for found in heats_numbered(reader, number, with_series=True)]
    if len(near) < LISTED // 2:
        near += _by_inside(reader, asked, number)
    if not near and asked != HEAT:
        near += _by_end(reader, number)
    return _findings(reader, number, near)


def matching(reader: Reader, asked: str, pattern: str) -> list[Finding]:
    """Numbers that match wildcards; the signs before the first wildcard are looked up by index."""
    head = pattern[: min(pattern.find(w) % (len(pattern) + 1) for w in "*?")]
    given = {"first": head, "beyond": beyond(head), "pattern": like_pattern(pattern), "most": LISTED}
    near: list[Near] = []
    if asked != HEAT:
        rows = reader.all(q.PARTS_LIKE, **given)
        near += [(_part(r), Slip(r["piece_no"], "wildcard", f"matches {pattern}")) for r in rows]
        rows = reader.all(q.ALIASES_LIKE, **given)
        near += [(of_alias(reader, r), Slip(r["alias"], "wildcard", f"matches {pattern}")) for r in rows]
    if asked != PIECE:
        rows = reader.all(q.HEATS_LIKE, **given)
        near += [(_heat(r), Slip(r["heat_no"], "wildcard", f"matches {pattern}")) for r in rows]
    return _findings(reader, pattern, near)


def _by_variants(reader: Reader, asked: str, variants: Sequence[Slip]) -> Iterator[Near]:
    by_number = {slip.number: slip for slip in variants}
    numbers = list(by_number)
    for start in range(0, len(numbers), q.LOT):
        lot = numbers[start : start + q.LOT]
        lot += [lot[-1]] * (q.LOT - len(lot))
        given = {f"n{i}": number for i, number in enumerate(lot)}
        if asked != HEAT:
            for row in reader.all(q.PARTS_NUMBERED, **given):
                yield _part(row), by_number[row["piece_no"]]
            for row in reader.all(q.ALIASES_NUMBERED, **given):
                yield of_alias(reader, row), by_number[row["alias"]]
        if asked != PIECE:
            for row in reader.all(q.HEATS_NUMBERED, **given):
                yield _heat(row), by_number[row["heat_no"]]


def _by_beginning(reader: Reader, asked: str, number: str) -> Iterator[Near]:
    """Numbers that go on where the text ends, also with look-alike signs in it."""
    for start in (Slip(number, "beginning", "the text is its beginning"), *look_alikes(number)):
        if not start.number:
            continue
        words = start.words if start.number == number else f"the text is its beginning, {start.words}"
        given = {"first": start.number, "beyond": beyond(start.number), "most": LISTED}
        if asked != HEAT:
            for row in reader.all(q.PARTS_BETWEEN, **given):
                yield _part(row), Slip(row["piece_no"], "beginning", words)
            for row in reader.all(q.ALIASES_BETWEEN, **given):
                yield of_alias(reader, row), Slip(row["alias"], "beginning", words)
        if asked != PIECE:
            for row in reader.all(q.HEATS_BETWEEN, **given):
                yield _heat(row), Slip(row["heat_no"], "beginning", words)


def _by_inside(reader: Reader, asked: str, number: str) -> Iterator[Near]:
    """Heats whose number holds the text, and pieces of the sequences whose number holds its longest part."""
    parts = number
    for separator in SEPARATORS:
        parts = parts.replace(separator, " ")
    longest = max(parts.split(), key=len, default="")
    if len(longest) < 2:
        return
    words = "the text stands inside it"
    if asked != PIECE and len(number) >= 3:
        for row in reader.all(q.HEATS_HOLDING, pattern=f"%{like_pattern_literal(number)}%", most=_INSIDE):
            yield _heat(row), Slip(row["heat_no"], "inside", words)
    if asked != HEAT:
        pattern = f"%{like_pattern_literal(longest)}%"
        for sequence in reader.all(q.SEQUENCES_HOLDING, pattern=pattern, most=_INSIDE):
            for row in reader.all(q.PARTS_OF_SEQUENCE, sequence=sequence["sequence_id"]):
                if number in row["piece_no"]:
                    yield _part(row), Slip(row["piece_no"], "inside", words)


def _by_end(reader: Reader, number: str) -> Iterator[Near]:
    """The newest pieces whose number holds a text that fits nothing else, such as the legible end of one."""
    if len(number) >= 3:
        pattern = f"%{like_pattern_literal(number)}%"
        for row in reader.all(q.NEWEST_PARTS_HOLDING, pattern=pattern, most=LISTED):
            yield _part(row), Slip(row["piece_no"], "inside", "the text stands inside it")


def like_pattern_literal(text: str) -> str:
    """A text as part of a LIKE pattern, every sign of it literal."""
    return "".join(f"\\{sign}" if sign in "\\%_" else sign for sign in text)


def _part(row: Row) -> Found:
    return Found(PIECE, row["part_id"], row["piece_no"])


def _heat(row: Row) -> Found:
    return Found(HEAT, row["heat_id"], row["heat_no"], series=row["series"])


def _findings(reader: Reader, number: str, near: Sequence[Near]) -> list[Finding]:
    best: dict[tuple[str, int], Near] = {}
    for found, slip in near:
        known = best.get((found.kind, found.id))
        if known is None or slip.rank < known[1].rank:
            best[found.kind, found.id] = (found, slip)
    # What is to be described grows with the candidates, so the kind of slip decides first which are.
    ranked = sorted(best.values(), key=lambda n: (n[1].rank, n[0].number))[: LISTED * 4]
    told = describe(reader, [found for found, _ in ranked])
    ranked.sort(key=lambda n: (n[1].rank, not told[n[0].kind, n[0].id].gone, n[0].number))
    return [
        Finding(
            "NUMBER-NEAR",
            found.typed,
            f"{number}: {slip.words}" + (f" ({found.how})" if found.how else ""),
            told[found.kind, found.id].words,
            f'If it is this one: "heattrace trace {found.typed}"',
        )
        for found, slip in ranked[:LISTED]
    ]
