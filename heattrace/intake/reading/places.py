"""Places of reported contents: whether a spreadsheet took trailing zeros away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import count

from heattrace.findings import Finding
from heattrace.intake.loading.analysis_pack import PLACES, rebuilt
from heattrace.intake.reading.faults import Place
from heattrace.intake.reading.plain_contents import PlainContents
from heattrace.metallurgy.amount import Amount

# A column of some values in which more than this share has fewer places is written so by habit.
HABIT = 0.5
FEW_VALUES = 6
# More zeros than this at the end of a value are not to be expected.
MOST_ZEROS = 2
MOST_WATCHED = 2000
# Contents that are all at most this never add up to more than 100 %.
SMALL = Decimal(2)
_SMALL_PPB = 2 * 10**PLACES


class PlacesWatch:
    """Watches the places of each element's different values, to see whether a spreadsheet took trailing zeros away.

    `all_small` says that no content was seen that could bring a sum over 100 %.
    """

    def __init__(self) -> None:
        self._seen: dict[str, dict[str, int]] = {}
        # Elements of which enough was seen.
        self._full: set[str] = set()
        self.all_small = True

    def see(self, element: str, amount: Amount, row: int) -> None:
        """Take note of one value and the first row it was met in; enough different ones are enough."""
        if amount.qualifier == "=" and amount.value:
            self.all_small = self.all_small and amount.value <= SMALL
            seen = self._seen.setdefault(element, {})
            if len(seen) < MOST_WATCHED:
                seen.setdefault(amount.text, row)

    def see_plain(self, contents: PlainContents, digits: Sequence[str] | None, first: int) -> None:
        """The same of the contents of successive rows from `first` on; `digits` are their texts where at hand."""
        if self.all_small and max(filter(None, contents.ppb), default=0) > _SMALL_PPB:
            self.all_small = False
        elements = contents.shape.elements
        if self._full.issuperset(elements):
            return
        for at, element, value, report, row in zip(
            count(), elements, contents.ppb, contents.shape.reports, count(first), strict=False
        ):
            if value and report.qualifier == "=" and element not in self._full:
                seen = self._seen.setdefault(element, {})
                if len(seen) < MOST_WATCHED:
                    seen.setdefault(digits[at] if digits is not None else rebuilt(value, report.places), row)
                else:
                    self._full.add(element)

    def lost(self) -> dict[str, int]:
        """The places of their column, for elements whose trailing zeros look lost."""
        return {element: places for element, (places, _) in self._found().items()}

    def findings(self, place: Place, headers: Mapping[str, str], value: str = "") -> list[Finding]:
        """One finding for each such element, at the first row with fewer places.

        `headers` are the file's names of element columns; `value` that of the one column of a row-a-result file.
        """
        out = []
        for element, (most, fewer) in self._found().items():
            shortest = ", ".join(fewer[:3])
            seen = f"{element} with {most} places, but also {shortest}, and never a 0 at the end"
            step = "Export as text from the source; until then a verdict at a limit says that places are lost."
            row = min(self._seen[element][text] for text in fewer)
            where = place.at(row, value or headers.get(element, element))
            out.append(Finding("ROW68", where, seen, "equal places", step))
        return out

    def _found(self) -> dict[str, tuple[int, list[str]]]:
        out = {}
        for element, texts in sorted(self._seen.items()):
            places = {text: len(text.partition(".")[2]) for text in texts}
            most = max(places.values())
            fewer = sorted(text for text, n in places.items() if most - MOST_ZEROS <= n < most)
            by_habit = len(texts) >= FEW_VALUES and len(fewer) > HABIT * len(texts)
            if fewer and not by_habit and not any(text.endswith("0") for text in texts):
                out[element] = (most, fewer)
        return out
