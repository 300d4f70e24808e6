"""What a number misread, mistyped or half read may have been: variants to look up, likeliest slip first.

Pure text. The count is bounded for any text, so that looking all of them up by index takes a bounded time.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from heattrace.values import dataclass

# Signs taken for one another on steel, labels and photographs (common practice).
LOOK_ALIKE: dict[str, str] = {
    sign: group.replace(sign, "") for group in ("0O", "1IL", "5S", "8B", "2Z", "6G") for sign in group
}
SEPARATORS = "-/. _"
LONGEST = 24

# Kinds of slip from the likeliest to the least likely; their place is the first thing candidates are ranked by.
KINDS = ("separators", "look-alike", "swap", "one sign", "sign missing", "sign too many", "reversed", "beginning lost",
         "beginning", "inside", "wildcard")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Slip:
    """One variant: the number it would be, the kind of slip, and how the two differ in words."""

    number: str
    kind: str
    words: str

    @property
    def rank(self) -> int:
        """Place of its kind among all kinds."""
        return KINDS.index(self.kind)


def slips(text: str) -> list[Slip]:
    """Variants of a number in its search form, each once, likeliest slip first.

    >>> [s.number for s in slips("7O") if s.kind in ("look-alike", "swap")]
    ['70', 'O7']
    >>> len(slips("S300-1-07")) < 1500 and slips("X" * 80) == []
    True
    """
    if not text or len(text) > LONGEST:
        return []
    found: dict[str, Slip] = {}
    for made in (_separators, _look_alikes, _swaps, _others, _missing, _too_many, _reversed, _beginning_lost):
        for slip in made(text):
            if slip.number and slip.number != text:
                found.setdefault(slip.number, slip)
    return list(found.values())


def look_alikes(text: str, most: int = 8) -> list[Slip]:
    """Variants with look-alike signs only, fewest first, at most so many."""
    return list(_look_alikes(text))[:most]


def _separators(text: str) -> Iterator[Slip]:
    words = "the same signs, otherwise parted"
    bare = "".join(sign for sign in text if sign not in SEPARATORS)
    if bare != text:
        for separator in SEPARATORS:
            even = "".join(separator if sign in SEPARATORS else sign for sign in text)
            yield Slip(even, "separators", words)
        yield Slip(bare, "separators", words)
        return
    places = range(1, len(text))
    for separator in "-/. ":
        for at in places:
            yield Slip(f"{text[:at]}{separator}{text[at:]}", "separators", words)
    for separator in "-/":
        for first, second in combinations(places, 2):
            parted = separator.join((text[:first], text[first:second], text[second:]))
            yield Slip(parted, "separators", words)


def _look_alikes(text: str) -> Iterator[Slip]:
    places = [at for at, sign in enumerate(text) if sign in LOOK_ALIKE]
    for count in (1, 2, 3):
        if count == 3 and len(places) > 6:
            return
        for chosen in combinations(places, count):
            yield from _put(text, chosen)


def _put(text: str, places: tuple[int, ...]) -> Iterator[Slip]:
    made: list[tuple[str, list[str]]] = [(text, [])]
    for at in places:
        made = [
            (f"{so_far[:at]}{sign}{so_far[at + 1 :]}", [*words, f"{sign} read as {text[at]} at place {at + 1}"])
            for so_far, words in made
            for sign in LOOK_ALIKE[text[at]]
        ]
    for number, words in made:
        yield Slip(number, "look-alike", ", ".join(words))


def _swaps(text: str) -> Iterator[Slip]:
    for at in range(len(text) - 1):
        if text[at] != text[at + 1]:
            number = f"{text[:at]}{text[at + 1]}{text[at]}{text[at + 2 :]}"
            yield Slip(number, "swap", f"signs {at + 1} and {at + 2} swapped")


def _others(text: str) -> Iterator[Slip]:
    for at, sign in enumerate(text):
        for other in _like(sign):
            if other != sign:
                number = f"{text[:at]}{other}{text[at + 1 :]}"
                yield Slip(number, "one sign", f"{other}, not {sign}, at place {at + 1}")


def _like(sign: str) -> str:
    if sign.isdigit():
        return "0123456789"
    return "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ" if sign.isalpha() else ""


def _missing(text: str) -> Iterator[Slip]:
    for at in range(len(text) + 1):
        for sign in "0123456789":
            yield Slip(f"{text[:at]}{sign}{text[at:]}", "sign missing", f"{sign} missing at place {at + 1}")


def _too_many(text: str) -> Iterator[Slip]:
    for at, sign in enumerate(text):
        yield Slip(text[:at] + text[at + 1 :], "sign too many", f"{sign} too many at place {at + 1}")


def _reversed(text: str) -> Iterator[Slip]:
    yield Slip(text[::-1], "reversed", "read from the other end")
    separator = next((sign for sign in text if sign in SEPARATORS), "")
    if separator:
        yield Slip(separator.join(reversed(text.split(separator))), "reversed", "its parts in the other order")


def _beginning_lost(text: str) -> Iterator[Slip]:
    for sign in "ABCDEFGHIJKLMNOPQRSTUVWXYZ":
        yield Slip(f"{sign}{text}", "beginning lost", f"{sign} lost at the beginning")
    for number in range(100):
        yield Slip(f"{number:02d}{text}", "beginning lost", f"{number:02d} lost at the beginning")


def beyond(prefix: str) -> str:
    """The least text that sorts after everything beginning with `prefix`, byte by byte.

    >>> beyond("S300"), beyond("41878-1")
    ('S301', '41878-2')
    """
    return prefix[:-1] + chr(ord(prefix[-1]) + 1) if prefix else "\U0010ffff"


def like_pattern(text: str) -> str:
    """A wildcard text (`*` any signs, `?` one sign) as a LIKE pattern escaped by a backslash; all else is literal.

    >>> like_pattern("41*_7?")
    '41%\\\\_7_'
    """
    escaped = "".join(f"\\{sign}" if sign in "\\%_" else sign for sign in text)
    return escaped.replace("*", "%").replace("?", "_")
