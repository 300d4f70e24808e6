"""Rows set aside: the fault of a cell, what the cells of a column were, and the row as the bench gets it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from heattrace.intake.reading.faults import CellFault, Place, sentence, shown
from heattrace.intake.reading.records import BenchFault


@dataclass(slots=True)
class Tally:
    """What the cells of one column were: taken, and faults by code with the first cell of each."""

    taken: int = 0
    with_sign: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    first: dict[str, tuple[int, str]] = field(default_factory=dict)
    doubtful_dates: list[tuple[int, str]] = field(default_factory=list)

    def fault(self, code: str, row: int, text: str) -> None:
        """Count one fault."""
        self.faults[code] += 1
        self.first.setdefault(code, (row, text))


@dataclass(frozen=True, slots=True)
class RowFault:
    """A fault of one cell: the file's header text of its column (None: the whole row), the text, and why."""

    column: str | None
    ours: str | None
    text: str
    fault: CellFault


def bench_row(place: Place, row: int, faults: list[RowFault], raw: bytes) -> BenchFault:
    """A row set aside for its first fault; the others are told in the message."""
    first = faults[0]
    column = first.column.strip() if first.column is not None else None
    message = sentence(place.quoted(row, column), first.text, first.fault.wanted)
    for other in faults[1:4]:
        also = f'column "{shown(other.column.strip())}"' if other.column is not None else "the row"
        message += f' Also {also}: found "{shown(other.text)}"; {other.fault.wanted} was expected.'
    set_it = f"--set {first.ours}=VALUE " if first.ours else "--set COLUMN=VALUE "
    step = f"{first.fault.step} Mend it: bench fix NUMBER {set_it}--reason TYPING".lstrip()
    return BenchFault(place.sheet, row, column, shown(first.text, 200), first.fault.code, message, step, raw)
