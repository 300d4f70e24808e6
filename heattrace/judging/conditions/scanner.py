"""Moves along a `when` cell word by word and sign by sign, and tells where it is not of the language."""

from __future__ import annotations

import re

SIDES = ("max", "min")
SIZES = ("t", "flange", "area")

# A condition nests this deep at most; the book's own go to three.
DEEPEST = 20

WORD = re.compile(r"[A-Za-z][\w-]*")
PLAIN = re.compile(r"[A-Za-z][A-Za-z_]*")
_BLANK = re.compile(r"\s*")


class ConditionUnreadable(ValueError):
    """A `when` cell is not of the language; the message says where and what was expected."""


class Scanner:
    """A place in the text, moved on by what was understood."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.depth = 0

    def keyword(self, *words: str) -> str:
        """Take one of some words of the language."""
        word = self.word_ahead()
        if word not in words:
            raise self.fault(" or ".join(f'"{w}"' for w in words))
        self.at += len(word)
        return word

    def word_ahead(self) -> str:
        """The word that comes next; a hyphen behind a side or a size is a minus sign."""
        self.skip()
        found, plain = WORD.match(self.text, self.at), PLAIN.match(self.text, self.at)
        if found is None or plain is None:
            return ""
        return plain[0] if plain[0] in (*SIDES, *SIZES) else found[0]

    def peek(self) -> str:
        """The sign that comes next, empty at the end."""
        self.skip()
        return self.text[self.at : self.at + 1]

    def take(self, sign: str) -> bool:
        """Take a sign if it comes next."""
        if self.peek() != sign:
            return False
        self.at += 1
        return True

    def need(self, sign: str) -> None:
        """Take a sign that must come next."""
        if not self.take(sign):
            raise self.fault(f'"{sign}"')

    def match(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Take what a pattern finds right here."""
        self.skip()
        found = pattern.match(self.text, self.at)
        if found:
            self.at = found.end()
        return found

    def skip(self) -> None:
        """Pass over blanks."""
        found = _BLANK.match(self.text, self.at)
        if found:
            self.at = found.end()

    def deeper(self) -> None:
        """Count one more bracket or negation around what is read."""
        self.depth += 1
        if self.depth > DEEPEST:
            raise ConditionUnreadable(f'"{self.text}": brackets nest deeper than {DEEPEST}')

    def end(self) -> None:
        """Refuse anything that is left over."""
        self.skip()
        if self.at < len(self.text):
            raise self.fault('";" or the end')

    def fault(self, expected: str) -> ConditionUnreadable:
        """The refusal of what stands here; the caller raises it."""
        self.skip()
        rest = self.text[self.at :] or "its end"
        return ConditionUnreadable(f'"{self.text}": at "{rest}" {expected} was expected')
