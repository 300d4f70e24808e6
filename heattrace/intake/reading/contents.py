"""From a cell's text to the content of an element: bounds, tokens, units, bands. Equal cells are read once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from heattrace.intake.loading.analysis_pack import PLACES
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.faults import CellFault, Warned
from heattrace.intake.reading.parsing import UNIT_STEP, number_fault, plain_number, split_unit
from heattrace.metallurgy.amount import NOT_REPORTED, UNIT_SHIFT, UNREPORTED, Amount, shift_point
from heattrace.metallurgy.elements import ALIASES, ELEMENT_NUMBER, PLAUSIBLE_PCT

Reading = tuple[Amount, tuple[Warned, ...]]

# So little below zero is an instrument's reading near zero, kept as observed (common practice); further below: bench.
NEAR_ZERO_PCT = Decimal("-0.001")
# No method in a steelworks reports less than this in ppm other than zero (common practice): such a cell holds mass %.
LEAST_PPM = Decimal("0.05")
# Elements that are reported in ppm anywhere have bands up to here, mass %.
MOST_IN_PPM = 8
ZERO_IS_ODD = frozenset(("C", "Mn", "Si"))
MOST_KEPT = 30_000

UNIT_WORDS: Mapping[str, str] = {
    "%": "%", "mass %": "%", "mass-%": "%", "wt%": "%", "wt.%": "%", "wt %": "%", "m%": "%", "Gew.-%": "%",
    "Masse-%": "%", "ppm": "ppm", "mg/kg": "mg/kg", "ppb": "ppb",
}  # fmt: skip

# Header words for an element besides its symbol. Bare "Al" of a foreign file is not here: its profile has to say.
ELEMENT_WORDS: Mapping[str, str] = {
    **ALIASES, "Phos": "P", "Al T": "Al", "Al_T": "Al", "Al-T": "Al", "Altot": "Al", "Al tot": "Al", "Al sol": "Als",
}  # fmt: skip

_BOUND_BEHIND = re.compile(r"([\d.,]+)\s*([<>≤≥])", re.ASCII)


def plain_unit(unit: str) -> str:
    """The unit under one name for mass %."""
    return "%" if unit == "mass %" else unit


def element_of(word: str) -> str | None:
    """The element a symbol or an alias names; letter case counts (Co is cobalt). None where it names none."""
    symbol = ELEMENT_WORDS.get(word, word)
    return symbol if symbol in ELEMENT_NUMBER else None


def band_ppb(symbol: str, unit: str, qualifier: str) -> tuple[int, int]:
    """First and last whole part per billion of mass that is believed of an element without a word about it.

    `qualifier` is `=`, `<` or `>`; a bound may lie as low as it likes, in mass %. What lies outside need not be a
    fault: `ContentReader` says what it is.
    """
    low, high = PLAUSIBLE_PCT[symbol]
    shift = UNIT_SHIFT[unit]
    if shift:
        low = max(low, LEAST_PPM.scaleb(shift))
    elif qualifier != "=":
        low = Decimal(0)
    first = int(low.scaleb(PLACES).to_integral_value(ROUND_CEILING))
    if shift or (symbol in ZERO_IS_ODD and qualifier == "="):
        first = max(first, 1)
    return first, int(high.scaleb(PLACES).to_integral_value(ROUND_FLOOR))


class ContentReader:
    """Reads contents in one profile's notation."""

    def __init__(self, profile: Profile) -> None:
        self.decimal = profile.decimal
        self.not_reported = profile.not_reported
        self.over_range = profile.over_range
        self._kept: dict[tuple[str, str, str], Reading] = {}

    def read(self, text: str, symbol: str, unit: str) -> Reading:
        """Read one cell of an element in a unit (%, mass %, ppm, mg/kg, ppb); gives the amount in mass % and flags.

        A word that means over the range gives an amount not reported whose text is that word: the content is unknown.

        Raises
        ------
        CellFault
            Unreadable, or not believed of that element.
        """
        key = (text, symbol, unit)
        known = self._kept.get(key)
        if known is None:
            known = self._read(text.strip(), symbol, unit)
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            self._kept[key] = known
        return known

    def _read(self, raw: str, symbol: str, unit: str) -> Reading:
        if raw in self.not_reported or not raw:
            return UNREPORTED, ()
        if raw in self.over_range:
            warned = Warned("ROW69", "a number", "The method's range is passed; have the element determined otherwise.")
            return Amount(NOT_REPORTED, None, raw), (warned,)
        qualifier, body = "=", raw
        if raw[0] in "<>≤≥":
            qualifier, body = ("<" if raw[0] in "<≤" else ">"), raw[1:].strip()
        flags: list[Warned] = []
        digits = plain_number(body, self.decimal)
        if digits is None:
            digits, unit = self._with_unit(raw, body, unit)
            flags.append(Warned("ROW34", f"a number without unit; read as {unit}", UNIT_STEP))
        moved = shift_point(digits, UNIT_SHIFT[unit]) if unit != "%" else digits
        amount = Amount(qualifier, Decimal(moved), moved)
        self._believe(amount, digits, symbol, unit, flags)
        return amount, tuple(flags)

    def _with_unit(self, raw: str, body: str, unit: str) -> tuple[str, str]:
        """Digits and unit of a cell that names its unit; everything else is a fault."""
        pair = split_unit(body)
        digits = plain_number(pair[0], self.decimal) if pair else None
        if pair is not None and digits is not None and pair[1] in UNIT_WORDS:
            return digits, UNIT_WORDS[pair[1]]
        wanted = self._wanted(unit)
        if pair is not None and digits is not None and pair[1] not in "*<>≤≥" and not pair[1].startswith(("/", "(")):
            guess = number_fault(raw, self.decimal, wanted)
            if guess.code == "ROW02":
                raise CellFault("ROW12", wanted, f'The unit "{pair[1]}" is not taken here.')
        behind = _BOUND_BEHIND.fullmatch(raw)
        if behind is not None:
            raise CellFault("ROW02", wanted, f"Did you mean {behind[2]}{behind[1]}?")
        if raw.startswith(("&lt;", "&gt;")):
            meant = ("<" if raw[1] == "l" else ">") + raw[4:]
            raise CellFault("ROW02", wanted, f"Did you mean {meant}?")
        raise number_fault(body, self.decimal, wanted)

    def _wanted(self, unit: str) -> str:
        sample = "58" if unit not in ("%", "mass %") else f"0{self.decimal}182"
        return f"a number such as {sample}"

    def _believe(self, amount: Amount, digits: str, symbol: str, unit: str, flags: list[Warned]) -> None:
        value = amount.value or Decimal(0)
        low, high = PLAUSIBLE_PCT[symbol]
        if value < 0:
            if amount.qualifier != "=" or value < NEAR_ZERO_PCT:
                raise CellFault("ROW17", f"a content of {symbol} that is not negative")
            flags.append(Warned("ROW35", "no negative content", "Kept as the instrument's reading near zero."))
            return
        if value == 0:
            if symbol in ZERO_IS_ODD and amount.qualifier == "=":
                step = "If it was not determined, the cell should be empty."
                flags.append(Warned("ROW18", f"a content of {symbol} above zero", step))
            return
        percent = UNIT_SHIFT[unit] == 0
        if not percent and (value.scaleb(-UNIT_SHIFT[unit]) < LEAST_PPM or value < low):
            step = f"Did you mean {digits} % = {shift_point(digits, 4)} ppm?"
            raise CellFault("ROW15", f"a content of {symbol} in {unit} that can be believed", step)
        if value > high:
            raise self._too_much(value, digits, symbol, unit, high)
        if value < low and amount.qualifier == "=":
            raise CellFault("ROW13", f"a content of {symbol} from {low} to {high} %")

    @staticmethod
    def _too_much(value: Decimal, digits: str, symbol: str, unit: str, high: Decimal) -> CellFault:
        if 36000 <= value <= 55000 and "." not in digits:
            return CellFault("ROW10", "a number", "It is a spreadsheet's day count; export the column as text.")
        low = PLAUSIBLE_PCT[symbol][0]
        if UNIT_SHIFT[unit] == 0 and high <= MOST_IN_PPM and low <= value.scaleb(-4) <= high:
            meant = f"{digits} ppm = {shift_point(digits, -4)} %"
            return CellFault(
                "ROW14", f"a content of {symbol} up to {high} %", f"{digits} % {symbol}? Did you mean {meant}?"
            )
        if value > 100:
            return CellFault("ROW16", f"a content of {symbol} up to {high} %")
        return CellFault("ROW13", f"a content of {symbol} up to {high} %")
