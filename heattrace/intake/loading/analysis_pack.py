"""Contents as the record keeps them: whole parts per billion, the form they were reported in, odd digits beside.

A part per billion of mass is 1e-7 mass %: 0.182 % is 1 820 000.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_EVEN, Decimal
from typing import NamedTuple

from heattrace.metallurgy.amount import NOT_REPORTED, Amount
from heattrace.store.ledger import canonical
from heattrace.store.work import Work

PLACES = 7
MOST_KEPT = 50_000
_FORM = ("form_id", "qualifier", "unit", "places", "method", "places_lost")


class Packed(NamedTuple):
    """One result ready to be stored: whole number, key of its form, its text where the number cannot rebuild it."""

    value_ppb: int | None
    form_id: int
    odd: str | None


class Reported(NamedTuple):
    """What two reports of one element are compared by: qualifier and digits in mass %."""

    qualifier: str
    digits: str


def whole_ppb(text: str) -> tuple[int, int, str | None]:
    """Whole parts per billion of digits in mass %, their places, and the digits where they cannot be rebuilt.

    >>> whole_ppb("0.182"), whole_ppb("0.20"), whole_ppb("0.00000012"), whole_ppb("00.2")
    ((1820000, 3, None), (2000000, 2, None), (1, 8, '0.00000012'), (2000000, 1, '00.2'))
    """
    before, _, part = text.partition(".")
    places = len(part)
    if places > PLACES:
        exact = Decimal(text).scaleb(PLACES)
        return int(exact.to_integral_value(ROUND_HALF_EVEN)), places, text
    value = int(before + part.ljust(PLACES, "0"))
    return value, places, None if rebuilt(value, places) == text else text


def rebuilt(value_ppb: int, places: int) -> str:
    """Digits in mass % of a stored whole number with so many decimals (at most seven).

    >>> rebuilt(1820000, 3), rebuilt(2000000, 2), rebuilt(-10000, 4), rebuilt(30000000, 0)
    ('0.182', '0.20', '-0.0010', '3')
    """
    sign, digits = ("-", str(-value_ppb)) if value_ppb < 0 else ("", str(value_ppb))
    digits = digits.rjust(PLACES + 1, "0")
    part = digits[-PLACES:][:places]
    return f"{sign}{digits[:-PLACES]}.{part}" if part else f"{sign}{digits[:-PLACES]}"


class ResultPacker:
    """Packs contents for one unit of work; a form met for the first time is written at once."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self._forms: dict[tuple[str, str, int, int], int] = {}
        self._reports: dict[int, tuple[str, int]] = {}
        for row in work.reader.all("SELECT * FROM result_form WHERE method = ''"):
            self._forms[row["qualifier"], row["unit"], row["places"], row["places_lost"]] = row["form_id"]
        for row in work.reader.all("SELECT form_id, qualifier, places FROM result_form"):
            self._reports[row["form_id"]] = (row["qualifier"], row["places"])
        self._kept: dict[tuple[str, str, str, int], Packed] = {}

    def pack(self, amount: Amount, unit: str, lost: int = 0) -> Packed:
        """One content; `unit` as the file reported it, `lost` 1 where trailing zeros may be gone."""
        key = (amount.qualifier, amount.text, unit, lost)
        known = self._kept.get(key)
        if known is None:
            known = self._pack(amount, unit, lost)
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            self._kept[key] = known
        return known

    def _pack(self, amount: Amount, unit: str, lost: int) -> Packed:
        if amount.qualifier == NOT_REPORTED:
            # The word for "over the range" is kept: the content is unknown, but somebody saw something.
            return Packed(None, self.form(NOT_REPORTED, unit, 0, 0), amount.text or None)
        value, places, odd = whole_ppb(amount.text)
        return Packed(value, self.form(amount.qualifier, unit, places, lost), odd)

    def form(self, qualifier: str, unit: str, places: int, lost: int) -> int:
        """Key of the form of results reported so."""
        key = (qualifier, unit, places, lost)
        if key not in self._forms:
            form_id = self.work.next_key("result_form", "form_id")
            self.work.bulk_insert("result_form", _FORM, [(form_id, qualifier, unit, places, "", lost)])
            self._forms[key] = form_id
            self._reports[form_id] = (qualifier, places)
        return self._forms[key]

    def reported(self, value_ppb: int | None, form_id: int, odd: str | None) -> Reported:
        """What a stored result says, for comparing."""
        qualifier, places = self._reports[form_id]
        if qualifier == NOT_REPORTED or value_ppb is None:
            return Reported(NOT_REPORTED, "")
        return Reported(qualifier, odd if odd is not None else rebuilt(value_ppb, places))


def report_of(amount: Amount) -> Reported:
    """What a content of a file says, for comparing."""
    return Reported(amount.qualifier, "" if amount.qualifier == NOT_REPORTED else amount.text)


def packed_burn(results: Mapping[str, Amount]) -> bytes:
    """Contents of one burn in one field: canonical JSON, element to digits with `<` or `>`, null if not reported."""
    said = {e: None if a.qualifier == NOT_REPORTED else a.shown() for e, a in results.items()}
    return canonical(said).encode("utf-8")


def differing(known: Mapping[str, Reported], new: Mapping[str, Reported]) -> list[str]:
    """Elements both report, and differently; what one of them does not report contradicts nothing."""
    return [
        element
        for element, report in new.items()
        if report.qualifier != NOT_REPORTED
        and element in known
        and known[element].qualifier != NOT_REPORTED
        and known[element] != report
    ]


def adding(known: Mapping[str, Reported], new: Mapping[str, Reported]) -> list[str]:
    """Elements the new report says something about that the known one does not."""
    return [
        element
        for element, report in new.items()
        if element not in known or (known[element].qualifier == NOT_REPORTED and report.qualifier != NOT_REPORTED)
    ]
