"""How intake says what is wrong: what, where, found, expected, next step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from heattrace.errors import FileRefused
from heattrace.findings import Finding

LONGEST_SHOWN = 60


class CellFault(ValueError):
    """A cell that cannot be taken: the `code`, what was `wanted` instead, and the `step` to take."""

    def __init__(self, code: str, wanted: str, step: str = "") -> None:
        super().__init__(wanted)
        self.code, self.wanted, self.step = code, wanted, step


class Warned(NamedTuple):
    """A cell that is taken and flagged: code, what was expected, what to look at."""

    code: str
    wanted: str
    step: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """A table of a file, to say where: the file's name and, in a book of sheets, the sheet."""

    file: str
    sheet: str = ""

    def at(self, row: int | None = None, column: str | None = None) -> str:
        """`FILE, row N, column C`, as far as it is known."""
        parts = [shown(self.file, 120)]
        if self.sheet:
            parts.append(f"sheet {self.sheet}")
        if row is not None:
            parts.append(f"row {row}")
        if column is not None:
            parts.append(f"column {shown(column)}")
        return ", ".join(parts)

    def quoted(self, row: int | None = None, column: str | None = None) -> str:
        """The same with the column in quotes, for sentences."""
        return self.at(row) + (f', column "{shown(column)}"' if column is not None else "")


def shown(text: str, longest: int = LONGEST_SHOWN) -> str:
    """Text made safe for a terminal: signs that do not show are escaped (NUL as \\0), long text is cut.

    >>> shown("41\\x00878"), shown("a\\u202eb")
    ('41\\\\0878', 'a\\\\u202eb')
    """
    cut = text if len(text) <= longest else text[: longest - 3] + "..."
    if cut.isprintable():
        return cut
    out = [sign if sign.isprintable() else _escaped(sign) for sign in cut]
    return "".join(out)


def _escaped(sign: str) -> str:
    return "\\0" if sign == "\0" else sign.encode("unicode_escape").decode("ascii")


def sentence(where: str, found: str, wanted: str) -> str:
    """`lab.csv, row 37, column "C": found "0,18 2"; a number such as 0.182 was expected.`"""
    return f'{where}: found "{shown(found)}"; {wanted} was expected.'


def refusal(findings: Sequence[Finding]) -> FileRefused:
    """The refusal of a file for structure faults; the message has the first in full and names the others.

    The findings' subjects already say where.
    """
    first = findings[0]
    message = f"{_said(first)} {first.next}".rstrip()
    if len(findings) > 1:
        message += " Further: " + " ".join(_said(finding) for finding in findings[1:5])
    if len(findings) > 5:
        message += f" And {len(findings) - 5} more."
    return FileRefused(f"{message} Nothing of the file was taken.", findings=findings)


def _said(finding: Finding) -> str:
    found = f"found {finding.seen}; " if finding.seen else ""
    return f"{finding.subject}: {found}expected {finding.wanted}."


def refuse(
    place: Place, code: str, seen: str, wanted: str, step: str, row: int | None = None, column: str | None = None
) -> FileRefused:
    """The refusal of a file for one structure fault."""
    return refusal([Finding(code, place.at(row, column), seen, wanted, step)])
