"""What a person sees, read back: tables by the dashes under their heads, labelled lines, and digits shown."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

_DASHES = re.compile(r" *-+( +-+)*")
_LABEL = 14


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a screen: its head and its rows, cells without the blanks that set them out."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def column(self, name: str) -> list[str]:
        """The cells below one head."""
        place = self.head.index(name)
        return [row[place] for row in self.rows]


def tables(screen: str) -> list[Table]:
    """Every table of a screen, from its top down."""
    lines = screen.splitlines()
    found = []
    for number, line in enumerate(lines):
        if number and _DASHES.fullmatch(line):
            spans = [match.span() for match in re.finditer("-+", line)]
            head = _cells(lines[number - 1], spans)
            found.append(Table(head, tuple(_rows(lines[number + 1 :], spans))))
    return found


def table_of(screen: str, *head: str) -> Table:
    """The one table whose head begins so; one without rows where there is none."""
    (found,) = [t for t in tables(screen) if t.head[: len(head)] == head] or [Table(head, ())]
    return found


def _rows(lines: list[str], spans: list[tuple[int, int]]) -> Iterator[tuple[str, ...]]:
    """Lines below a head up to one that is not set in its columns, or is a line of words in the first of many."""
    between = [(left[1], right[0]) for left, right in pairwise(spans)]
    for line in lines:
        if not line.strip() or line[: spans[0][0]].strip() or any(line[a:b].strip() for a, b in between):
            return
        cells = _cells(line, spans)
        if len(cells) > 2 and not any(cells[1:]):
            return
        yield cells


def _cells(line: str, spans: list[tuple[int, int]]) -> tuple[str, ...]:
    ends = [end for _, end in spans[:-1]] + [len(line)]
    return tuple(line[begin:end].strip() for (begin, _), end in zip(spans, ends, strict=True))


def labelled(screen: str) -> dict[str, list[str]]:
    """Texts by the label in front of them; a line without a label goes on with the one before it."""
    found: dict[str, list[str]] = {}
    label = ""
    for line in screen.splitlines():
        if not line.strip() or (line.startswith("  ") and line[:_LABEL].strip() not in ("", "because")):
            label = ""
            continue
        here = line[:_LABEL].strip()
        if here:
            label = here
            found.setdefault(label, []).append(line[_LABEL:].strip())
        elif label:
            found[label].append(f"+ {line.strip()}")
    return found


def told(screen: str, label: str) -> list[str]:
    """Texts of one label, those broken over several lines put together again."""
    whole: list[str] = []
    for text in labelled(screen).get(label, []):
        if text.startswith("+ ") and whole:
            whole[-1] += text[1:]
        else:
            whole.append(text)
    return whole


def shows(digits: str, value: float) -> bool:
    """Whether digits on a screen are a number rounded to as many places."""
    text = digits.replace("%", "").replace("+", "").strip()
    if "e" in text:
        return abs(float(text) - value) <= abs(value) * 0.06
    value = value * 100 if "%" in digits else value
    half_place = 0.5 / 10.0 ** len(text.partition(".")[2])
    return abs(float(text) - value) <= half_place + 1e-9
