"""Reads the plain contents of many rows at once; whatever asks for thought is left to be read cell by cell.

The cells of one analysis are read as one text. With its digits evened out that text is its form, such as `0.000` and
`<0.0000`, and few forms occur in a file: what a form means (qualifiers, places, limits) is worked out once, and then
only its digits are read, as whole numbers. No value passes through a binary fraction.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from operator import le, mul
from typing import NamedTuple

from heattrace.intake.loading.analysis_pack import PLACES
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.contents import band_ppb, plain_unit
from heattrace.intake.reading.faults import CellFault
from heattrace.intake.reading.plain_contents import PlainContents, Report, Shape
from heattrace.metallurgy.amount import NOT_REPORTED, UNIT_SHIFT

MOST_FORMS = 2000
# No cell of an analysis file holds it but a quoted one with a line break, and that changes the number of pieces.
_BETWEEN = "\n"
_EVENED = str.maketrans("123456789", "000000000")
_BARE_DIGITS = str.maketrans(dict.fromkeys(" <>.,"))
_NOUGHT_IN_FRONT = re.compile(r"(?:^|[^0-9.,])0[0-9]")

Settle = Callable[[str, str | None], tuple[str, str]]
"""(element cell, unit cell) -> symbol, unit; raises CellFault"""


class Form(NamedTuple):
    """What a form of cells means: its shape, whole parts per billion of a unit in the last place, and the limits.

    `bare` says that the cells of numbers are the digits in mass % as they stand; `long` that a number has several
    digits before its point, where a nought in front would not come back; `gone` which cells report nothing; `signs` how
    many decimal signs there are.
    """

    shape: Shape
    steps: tuple[int, ...]
    lows: tuple[int, ...]
    highs: tuple[int, ...]
    bare: bool
    long: bool
    gone: tuple[int, ...]
    signs: int


class PlainReader:
    """Reads results in one profile's notation; `settle` tells element and unit of a row."""

    def __init__(self, profile: Profile, settle: Settle) -> None:
        self.decimal, self.settle = profile.decimal, settle
        self._nothing = {word for word in profile.not_reported if not any(map(str.isdigit, word))}
        # The other words may look like a number once their digits are evened out.
        self._words = {word.translate(_EVENED) for word in (profile.not_reported | profile.over_range) - self._nothing}
        sign = re.escape(self.decimal)
        self._number = re.compile(rf" *([<>]?) *(0{{1,6}})(?:{sign}(0+))? *")
        self._heads: dict[tuple[tuple[str, ...], ...], dict[str, Form | None]] = {}
        self._forms = 0

    def read(self, columns: Sequence[tuple[str, ...]]) -> tuple[PlainContents, Form] | None:
        """Contents of some rows with their form; `columns` are the cells of element, value and, if there is one, unit.

        None where any of them is not plain: what is wrong with it, or to be said of it, shows cell by cell.
        """
        elements, cells, *units = columns
        text = _BETWEEN.join(cells)
        head = (elements, *units)
        forms = self._heads.get(head)
        if forms is None:
            forms = self._heads[head] = {}
        evened = text.translate(_EVENED)
        form = forms.get(evened)
        if form is None:
            if evened not in forms:
                form = self._meant(elements, units, evened)
                self._keep(head, evened, form)
            if form is None:
                return None
        if form.gone:
            text = _BETWEEN.join("0" if at in form.gone else cell for at, cell in enumerate(cells))
        if form.long and _NOUGHT_IN_FRONT.search(text):
            return None
        numbers = list(map(mul, map(int, text.translate(_BARE_DIGITS).split(_BETWEEN)), form.steps))
        if not (all(map(le, form.lows, numbers)) and all(map(le, numbers, form.highs))):
            return None
        ppb: list[int | None] = [*numbers]
        for at in form.gone:
            ppb[at] = None
        return PlainContents(form.shape, ppb), form

    def _keep(self, head: tuple[tuple[str, ...], ...], evened: str, form: Form | None) -> None:
        self._forms += 1
        if self._forms > MOST_FORMS:
            self._heads.clear()
            self._forms = 1
        self._heads.setdefault(head, {})[evened] = form

    def _meant(self, elements: tuple[str, ...], units: list[tuple[str, ...]], evened: str) -> Form | None:
        """What a form means for such elements and units; None where a cell of it has to be read by itself."""
        fields = evened.split(_BETWEEN)
        if len(fields) != len(elements):
            return None
        symbols, reports, steps, bands, gone = [], [], [], [], []
        bare, long = self.decimal == ".", False
        for at, (element, field) in enumerate(zip(elements, fields, strict=True)):
            try:
                symbol, unit = self.settle(element, units[0][at] if units else None)
            except CellFault:
                return None
            symbols.append(symbol)
            if not field.strip() or field.strip() in self._nothing:
                gone.append(at)
                reports.append(Report(NOT_REPORTED, plain_unit(unit), 0))
                steps.append(0)
                bands.append((0, 0))
                continue
            found = self._number.fullmatch(field) if field.strip() not in self._words else None
            places = len(found[3] or "") - UNIT_SHIFT[unit] if found else 0
            if found is None or places > PLACES:
                return None
            qualifier = found[1] or "="
            reports.append(Report(qualifier, plain_unit(unit), places))
            steps.append(int(10 ** (PLACES - places)))
            bands.append(band_ppb(symbol, unit, qualifier))
            bare = bare and (qualifier != "=" or (plain_unit(unit) == "%" and " " not in field))
            long = long or len(found[2]) > 1
        if len(set(symbols)) != len(symbols) or len(gone) == len(symbols):
            return None
        lows, highs = zip(*bands, strict=True)
        shape, signs = Shape(tuple(symbols), tuple(reports)), evened.count(self.decimal)
        return Form(shape, tuple(steps), lows, highs, bare, long, tuple(gone), signs)
