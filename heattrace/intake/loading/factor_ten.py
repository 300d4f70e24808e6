"""A content ten times too large or too small for the grade its heat was planned for: a decimal point moved."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import NamedTuple

from heattrace.findings import Finding
from heattrace.intake.loading.analysis_pack import PLACES
from heattrace.intake.reading.plain_contents import PlainContents
from heattrace.metallurgy.amount import UNIT_SHIFT, Amount
from heattrace.metallurgy.elements import ALIASES, ELEMENT_NUMBER
from heattrace.store.reader import Reader

# Metal before alloying lies outside its grade rightly; other people's metal is not ours to doubt.
NOT_YET_GRADE = frozenset(("furnace", "tap", "ladle-arrival", "control", "check", "referee"))
# Beyond the printed limit by this factor a moved point is likelier than such a heat (engineering default).
FACTOR = 5

Subject = Callable[[str], str]

_LIMITS = """
SELECT l.quantity, l.min_text, l.max_text, l.unit FROM heat_record r
JOIN grade_limit l ON l.edition_id = r.edition_id AND {live:l} WHERE {live:r} AND r.heat_id = :heat_id
AND l.basis IN ('cast', 'both')
"""


class Span(NamedTuple):
    """Widest cast limits of one element [mass %], and the contents from which a moved point is suspected.

    `first` and `last` are the whole parts per billion between which none is.
    """

    low: Decimal | None
    high: Decimal | None
    too_low: Decimal
    too_high: Decimal
    first: int
    last: int


class GradeBands:
    """The widest cast limits of each heat's planned grade, looked up once."""

    def __init__(self, reader: Reader) -> None:
        self.reader = reader
        self._bands: dict[int, dict[str, Span]] = {}

    def doubts(self, heat_id: int, kind: str, results: Mapping[str, Amount], subject: Subject) -> list[Finding]:
        """Findings for contents that look like a moved decimal point; `subject` says where an element's stands."""
        if kind in NOT_YET_GRADE:
            return []
        found, spans = [], self._of(heat_id)
        if spans and isinstance(results, PlainContents):
            ppb = dict(zip(results.shape.elements, results.ppb, strict=True))
            spans = {e: span for e, span in spans.items() if not span.first <= (ppb.get(e) or span.first) <= span.last}
        for element, span in spans.items():
            amount = results.get(element)
            if amount is None or amount.qualifier != "=" or not amount.value:
                continue
            meant = None
            if amount.value >= span.too_high and span.high and amount.value / 10 <= 2 * span.high:
                meant = amount.value / 10
            elif amount.value <= span.too_low and span.low and amount.value * 10 >= span.low / 2:
                meant = amount.value * 10
            if meant is not None:
                found.append(_finding(element, amount, span, meant, subject(element)))
        return found

    def _of(self, heat_id: int) -> dict[str, Span]:
        if heat_id not in self._bands:
            wide: dict[str, tuple[Decimal | None, Decimal | None]] = {}
            for row in self.reader.all(_LIMITS, heat_id=heat_id):
                element = ALIASES.get(row["quantity"], row["quantity"])
                if element in ELEMENT_NUMBER and row["unit"] in UNIT_SHIFT:
                    shift = UNIT_SHIFT[row["unit"]]
                    low, high = (_limit(text, shift) for text in (row["min_text"], row["max_text"]))
                    before = wide.get(element, (low, high))
                    wide[element] = (_widest(min, low, before[0]), _widest(max, high, before[1]))
            self._bands[heat_id] = {element: _span(low, high) for element, (low, high) in wide.items()}
        return self._bands[heat_id]


def _span(low: Decimal | None, high: Decimal | None) -> Span:
    too_low, too_high = (low or Decimal(0)) / FACTOR, FACTOR * high if high else Decimal(1000)
    first = int(too_low.scaleb(PLACES).to_integral_value(ROUND_FLOOR)) + 1
    last = int(too_high.scaleb(PLACES).to_integral_value(ROUND_CEILING)) - 1
    return Span(low, high, too_low, too_high, first, last)


def _limit(text: str | None, shift: int) -> Decimal | None:
    return (Decimal(text).scaleb(shift) or None) if text else None


def _widest(pick: object, one: Decimal | None, other: Decimal | None) -> Decimal | None:
    if one is None or other is None:
        return one if other is None else other
    return min(one, other) if pick is min else max(one, other)


def _finding(element: str, amount: Amount, span: Span, meant: Decimal, subject: str) -> Finding:
    low = f"{span.low} to " if span.low else "at most "
    wanted = f"{low}{span.high} %" if span.high else f"at least {span.low} %"
    step = f"Did a decimal point move? {meant.normalize():f} % would fit; the analysis is doubtful until it is settled"
    return Finding("REC37", subject, f"{element} {amount.text} %", f"{wanted} for the planned grade", step)
