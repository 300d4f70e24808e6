"""How screens of running words are laid out: a label with its text, a titled table, on at most 100 columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from heattrace.cli.output import table

WIDTH = 100
LABEL = 14


def said(label: str, *texts: str | None) -> Iterator[str]:
    """A label with its text beside it, broken at blanks where it is too long for the screen."""
    for text in texts:
        line = label.ljust(LABEL)
        started = False
        for word in (text or "").split(" "):
            if started and len(line) + 1 + len(word) > WIDTH:
                yield line.rstrip()
                line, started = " " * LABEL, False
            line += f" {word}" if started else word
            started = True
        yield line.rstrip()
        label = ""


def section(
    title: str, head: Sequence[str], rows: Iterable[Sequence[object]], right: Sequence[int] = ()
) -> Iterator[str]:
    """A titled table; nothing where it has no rows."""
    listed = list(rows)
    if listed:
        yield ""
        yield title
        yield from (f"  {line}" for line in table(head, listed, right=right))
