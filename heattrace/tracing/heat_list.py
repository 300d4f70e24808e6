"""The heats of the record, each with its grade, its quality and the state of its record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import tzinfo
from typing import Any

from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import shown_at
from heattrace.tracing.chemistry_questions import HEATS_AFTER, KEY_BEFORE_LAST_HEATS
from heattrace.tracing.qualities import qualities_of_heats, worst_of
from heattrace.tracing.quality import UNDECIDED, Quality
from heattrace.tracing.requirements import Wanted
from heattrace.values import dataclass

# Heats weighed at once: many enough to ask little, few enough to hold their pieces in memory.
LOT = 200


@dataclass(frozen=True, slots=True)
class HeatLine:
    """One heat of the list; `quality` is the worst over what it answers for, `qualities` are (requirement, quality)."""

    heat_no: str
    series: str
    grade: str | None
    record: str
    tapped_at: int | None
    quality: str
    qualities: tuple[tuple[str | None, str], ...]

    def as_json(self, zone: tzinfo) -> dict[str, Any]:
        """The promised object of `heat list`, with its series, its tapping and its qualities."""
        return {
            "heat_no": self.heat_no,
            "grade": self.grade,
            "quality": self.quality,
            "record": self.record,
            "series": self.series,
            "tapped_at": shown_at(self.tapped_at, zone),
            "qualities": [{"requirement": text, "quality": quality} for text, quality in self.qualities],
        }


def heat_lines(reader: Reader, *, newest: int | None = None) -> Iterator[HeatLine]:
    """All heats in the order they came into the record, or only the newest so many."""
    after = 0
    if newest is not None:
        after = int(reader.scalar(KEY_BEFORE_LAST_HEATS, skipped=newest) or 0)
    while rows := reader.all(HEATS_AFTER, after=after, most=LOT):
        qualities = qualities_of_heats(reader, [row["heat_id"] for row in rows])
        for row in rows:
            yield _line(row, qualities[row["heat_id"]])
        after = rows[-1]["heat_id"]


def _line(row: Row, qualities: Mapping[Wanted | None, Quality]) -> HeatLine:
    worst = worst_of(qualities.values())
    return HeatLine(
        heat_no=row["heat_no"],
        series=row["series"],
        grade=row["requirement"] or row["grade_text"],
        record=row["record"],
        tapped_at=row["tapped_at"],
        quality=UNDECIDED if worst is None else worst.value,
        # A list may hold every heat of ten years: it keeps words only, and "why" says the reasons.
        qualities=tuple((None if uses is None else uses.text, found.value) for uses, found in qualities.items()),
    )
