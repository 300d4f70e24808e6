"""From the numbers a file writes to the rows of the record they name. Nothing is guessed and nothing is made."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from heattrace.errors import Ambiguous, NotFound
from heattrace.intake.loading.nearest_heats import near_words, nearest_heats
from heattrace.intake.reading.records import Ident
from heattrace.judging.grades import find_grade
from heattrace.judging.limits import GradeKey
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import shown_at
from heattrace.store.works import works_value, works_zone

DAY_MS = 86_400_000
# A sample is analysed within this span of the tapping, or the number is of another series (engineering default).
NEAR_DAYS = 90
# Metal of the finished product comes back years later under the same number.
LATER_KINDS = frozenset(("product", "transition-product", "check", "referee"))

_HEATS = """
SELECT h.heat_id, h.heat_no, h.series, coalesce(r.tapped_at,
  (SELECT min(p.opened_at) FROM pour p WHERE p.heat_id = h.heat_id AND {live:p})) AS at, r.tapped_at
FROM heat h LEFT JOIN heat_record r ON r.heat_id = h.heat_id AND {live:r}
WHERE {live:h} AND h.heat_no IN (%s) ORDER BY h.heat_id
"""
_GRADES = """
SELECT e.edition_id, g.standard, e.edition, g.name FROM edition e JOIN grade g ON g.grade_id = e.grade_id
WHERE {live:e} ORDER BY e.edition_id
"""
_VALIDITY = """
SELECT min(coalesce(valid_from, '')) AS first, max(coalesce(valid_until, '9999-12-31')) AS last
FROM grade_limit l WHERE {live:l} AND l.edition_id = :edition_id
"""
_PART = "SELECT * FROM part p WHERE {live:p} AND p.piece_no = :piece_no"
_ALIAS = "SELECT DISTINCT a.part_id FROM alias a WHERE {live:a} AND a.alias = :alias"
_SEQUENCE = "SELECT s.sequence_id FROM sequence s WHERE {live:s} AND s.sequence_no = :sequence_no"
_ORDER_LINE = """
SELECT o.order_line_id, o.customer_id, c.name AS customer FROM order_line o
JOIN customer c ON c.customer_id = o.customer_id WHERE {live:o} AND o.order_no = :order_no AND o.line = :line
"""
_LINES = "SELECT o.line FROM order_line o WHERE {live:o} AND o.order_no = :order_no ORDER BY o.line"


@dataclass(frozen=True, slots=True)
class Unknown:
    """A number that names nothing, or not one thing: finding code, what was expected, the step to take."""

    code: str
    wanted: str
    step: str


@dataclass(frozen=True, slots=True)
class KnownHeat:
    """A heat of the record; `at` is its tapping, else its first pour [ms UTC]."""

    heat_id: int
    heat_no: str
    series: str
    at: int | None
    tapped_at: int | None

    def words(self, zone: Any) -> str:
        """`2026/41878, tapped 2026-04-03T10:15:00+02:00`."""
        when = f", tapped {shown_at(self.at, zone)}" if self.at is not None else ""
        return f"{self.series}/{self.heat_no}{when}"


class Numbers:
    """The record's numbers while one file is taken in, each looked up once. `attached` is a heat a person has named."""

    def __init__(self, reader: Reader, *, attached: int | None = None) -> None:
        self.reader = reader
        self.attached = attached
        self.zone = works_zone(reader)
        self.series_rule = str(works_value(reader, "heat-series"))
        self._heats: dict[str, list[KnownHeat]] = {}
        self._grades: dict[GradeKey, int] | None = None
        self._texts: dict[str, int | Unknown] = {}
        self._parts: dict[str, Row | Unknown] = {}
        self._sequences: dict[str, int | Unknown] = {}
        self._lines: dict[tuple[str, str], Row | Unknown] = {}
        self._near: dict[tuple[str, int], str] = {}

    def prepare_heats(self, numbers: Iterable[str]) -> None:
        """Look up many heat numbers in few questions."""
        wanted = sorted({n for n in numbers if n not in self._heats})
        for start in range(0, len(wanted), 500):
            lot = wanted[start : start + 500]
            marks = ",".join(f":n{i}" for i in range(len(lot)))
            for number in lot:
                self._heats[number] = []
            for row in self.reader.all(_HEATS.replace("%s", marks), **{f"n{i}": n for i, n in enumerate(lot)}):
                self._heats[row["heat_no"]].append(
                    KnownHeat(row["heat_id"], row["heat_no"], row["series"], row["at"], row["tapped_at"])
                )

    def forget_heat(self, number: str) -> None:
        """A heat of that number was written: look again."""
        self._heats.pop(number, None)

    def heats(self, number: str) -> list[KnownHeat]:
        """All heats that bear a number, whatever their series."""
        if number not in self._heats:
            self.prepare_heats([number])
        return self._heats[number]

    def heat(self, ident: Ident, at: int | None, *, later: bool = False) -> KnownHeat | Unknown:
        """The one heat a number names for something that happened at a moment; `series/number` names it outright.

        `later` says that the metal may come back long after the heat was made.
        """
        if self.attached is not None:
            return self._attached()
        known = self.heats(ident.normal)
        if not known and "/" in ident.normal:
            series, _, number = ident.normal.rpartition("/")
            named = [heat for heat in self.heats(number) if heat.series.upper() == series]
            if len(named) == 1:
                return named[0]
        if not known:
            return self._no_heat(ident, at)
        fitting = [heat for heat in known if self._fits(heat, at, later)]
        if len(fitting) == 1:
            return fitting[0]
        listed = "; ".join(heat.words(self.zone) for heat in (fitting or known))
        if fitting:
            step = f"It fits {listed}. Say which: bench attach NUMBER --heat SERIES/HEAT --reason WRONG-HEAT"
            return Unknown("REC03", "a number that names one heat", step)
        step = (
            f"The record has {listed}, which does not fit this moment. If it is that heat: "
            "bench attach NUMBER --heat SERIES/HEAT --reason WRONG-HEAT"
        )
        return Unknown("REC02", "a heat of that time", step)

    def _attached(self) -> KnownHeat:
        row = self.reader.one(
            "SELECT h.heat_id, h.heat_no, h.series, r.tapped_at FROM heat h LEFT JOIN heat_record r "
            "ON r.heat_id = h.heat_id AND {live:r} WHERE h.heat_id = :key",
            key=self.attached,
        )
        assert row is not None
        return KnownHeat(row["heat_id"], row["heat_no"], row["series"], row["tapped_at"], row["tapped_at"])

    def _no_heat(self, ident: Ident, at: int | None) -> Unknown:
        key = (ident.normal, -1 if at is None else at // DAY_MS)
        if key not in self._near:
            self._near[key] = near_words(nearest_heats(self.reader, ident.normal, at))
        near = self._near[key]
        first = re.search(r"heats: (\S+) \(", near)
        if first is None:
            step = "No open heat has a number near it; heats come from the heats file or a cast book. "
            return Unknown("REC01", "a heat of the record", f"{step}Then: bench fix NUMBER --reason DOC-MISSING")
        step = f"{near} If it is one of them: bench attach NUMBER --heat {first[1]} --reason WRONG-HEAT"
        return Unknown("REC01", "a heat of the record", step)

    def _fits(self, heat: KnownHeat, at: int | None, later: bool) -> bool:
        if at is None:
            return True
        if heat.at is not None:
            after = at - heat.at
            return after >= -DAY_MS and (later or after <= NEAR_DAYS * DAY_MS)
        if self.series_rule == "year" and re.fullmatch(r"[0-9]{4}", heat.series):
            year = datetime.fromtimestamp(at / 1000, UTC).astimezone(self.zone).year
            return int(heat.series) <= year if later else abs(year - int(heat.series)) <= 1
        return True

    def grade(self, text: str) -> int | Unknown:
        """Key of the grade edition a text names."""
        if text not in self._texts:
            self._texts[text] = self._grade(text)
        return self._texts[text]

    def _grade(self, text: str) -> int | Unknown:
        if self._grades is None:
            rows = self.reader.all(_GRADES)
            self._grades = {GradeKey(r["standard"], r["edition"], r["name"]): r["edition_id"] for r in rows}
        try:
            return self._grades[find_grade(text, list(self._grades))]
        except Ambiguous as fault:
            return Unknown("REC13", "a grade written STANDARD:EDITION GRADE", f"{fault}.")
        except NotFound as fault:
            return Unknown("REC12", "a grade of the grade book", f"{str(fault)[:1].upper()}{str(fault)[1:]}.")

    def edition_holds(self, edition_id: int, day: str) -> bool:
        """Whether any limit of an edition holds on a day (`2026-04-03`)."""
        row = self.reader.one(_VALIDITY, edition_id=edition_id)
        return row is None or row["first"] is None or str(row["first"]) <= day <= str(row["last"])

    def part(self, ident: Ident) -> Row | Unknown:
        """The part that bears a piece number, or whose only part an alias is."""
        if ident.normal not in self._parts:
            self._parts[ident.normal] = self._part(ident)
        return self._parts[ident.normal]

    def _part(self, ident: Ident) -> Row | Unknown:
        row = self.reader.one(_PART, piece_no=ident.normal)
        if row is not None:
            return row
        by_alias = self.reader.all(_ALIAS, alias=ident.normal)
        if len(by_alias) == 1:
            found = self.reader.one("SELECT * FROM part p WHERE p.part_id = :key AND {live:p}", key=by_alias[0][0])
            if found is not None:
                return found
        step = f'Look for it: heattrace trace "{ident.original.strip()}" lists the nearest numbers'
        return Unknown("REC09", "a piece of the record", step)

    def forget_part(self, number: str) -> None:
        """A part of that number was written: look again."""
        self._parts.pop(number, None)

    def sequence(self, ident: Ident) -> int | Unknown:
        """Key of a sequence."""
        if ident.normal not in self._sequences:
            key = self.reader.scalar(_SEQUENCE, sequence_no=ident.normal)
            self._sequences[ident.normal] = (
                int(key)
                if key is not None
                else Unknown("REC10", "a sequence of the record", "Take its cast book in first, then this row again")
            )
        return self._sequences[ident.normal]

    def order_line(self, order_no: Ident, line: Ident) -> Row | Unknown:
        """The order line of two numbers."""
        key = (order_no.normal, line.normal)
        if key not in self._lines:
            row = self.reader.one(_ORDER_LINE, order_no=key[0], line=key[1])
            self._lines[key] = row if row is not None else self._no_line(key)
        return self._lines[key]

    def _no_line(self, key: tuple[str, str]) -> Unknown:
        lines = [r["line"] for r in self.reader.all(_LINES, order_no=key[0])]
        has = f"Order {key[0]} has the lines {', '.join(lines)}. " if lines else f"No order {key[0]} is in the record. "
        return Unknown(
            "REC11", "an order line of the record",
            f"{has}Take the orders in, then: bench fix NUMBER --reason DOC-MISSING",
        )  # fmt: skip

    def series_of(self, number: str, tapped_at: int | None, offset_min: int | None) -> str | None:
        """Series of a heat by the works value `heat-series`; None where the rule does not say."""
        if self.series_rule != "year":
            found = re.search(self.series_rule, number)
            if found is None:
                return None
            return next((part for part in found.groups() if part), found[0])
        if tapped_at is None:
            return None
        moment = datetime.fromtimestamp(tapped_at / 1000, UTC)
        return str(moment.astimezone(self.zone).year)


def idents(values: Sequence[Any]) -> list[str]:
    """Search forms of those values that are numbers of the plant."""
    return [value.normal for value in values if isinstance(value, Ident)]
