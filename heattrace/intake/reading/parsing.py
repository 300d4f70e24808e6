"""From a cell's text to the value its column declares. Each reader takes the text as it stands and raises CellFault."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Mapping
from decimal import Decimal

from heattrace.intake.profiles.kinds import Column
from heattrace.intake.reading.faults import CellFault, Warned
from heattrace.intake.reading.records import Ident, Number
from heattrace.metallurgy.amount import shift_point
from heattrace.store.number_form import searched as searched

UNIT_STEP = "Is it that unit? If not, take the import back: batch undo."
LONGEST_NUMBER = 40
LONGEST_IDENT = 64
LONGEST_TEXT = 4000

NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?", re.ASCII)
ERROR_VALUES = frozenset(
    (
        "#N/A",
        "#DIV/0!",
        "#VALUE!",
        "#REF!",
        "#NAME?",
        "#NUM!",
        "#NULL!",
        "#NV",
        "#WERT!",
        "#BEZUG!",
        "#ZAHL!",
        "#FEHLER!",
    )
)
_LETTERS = str.maketrans({"O": "0", "o": "0", "l": "1", "I": "1", "S": "5", "B": "8", "Z": "2"})
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(?:[ '’\u00a0\u202f]\d{3})+(?:[.,]\d+)?", re.ASCII)
_DATE_LIKE = re.compile(
    r"\d{1,2}[-. /]+(?:jan|feb|m[aä]r|apr|ma[yi]|jun|jul|aug|sep|o[ck]t|nov|de[cz])[a-zä]*\.?(?:[-. /]+\d{2,4})?"
    r"|(?:jan|feb|m[aä]r|apr|ma[yi]|jun|jul|aug|sep|o[ck]t|nov|de[cz])[a-zä]*[-. /]+\d{2,4}"
    r"|\d{4}-\d{2}-\d{2}(?:[T ].*)?|\d{1,2}[./]\d{1,2}[./]\d{2,4}",
    re.ASCII | re.IGNORECASE,
)
_WITH_UNIT = re.compile(r"([<>≤≥]?\s*[+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*([^\d\s.,+-].*)", re.ASCII)
_BIDI = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c")
_REWRITTEN = re.compile(r"\d+[.,]0+|\d[.,]\d*[eE][+-]?\d+|\d+[eE]\+\d+", re.ASCII)

# Powers of ten from their unit to ours.
UNIT_POWERS: Mapping[tuple[str, str], int] = {
    ("mm", "m"): -3, ("cm", "m"): -2, ("m", "m"): 0, ("km", "m"): 3,
    ("mm", "mm"): 0, ("cm", "mm"): 1, ("m", "mm"): 3,
    ("t", "t"): 0, ("kg", "t"): -3, ("kg", "kg"): 0, ("t", "kg"): 3, ("g", "kg"): -3,
    ("mm2", "mm2"): 0, ("cm2", "mm2"): 2, ("m2", "mm2"): 6,
    ("m/min", "m/min"): 0, ("cm/min", "m/min"): -2, ("mm/min", "m/min"): -3,
    ("degree C", "degree C"): 0, ("°C", "degree C"): 0, ("C", "degree C"): 0,
}  # fmt: skip


def plain_number(text: str, decimal: str) -> str | None:
    """Digits with a decimal point of a text in that notation, exponents spread out; None where it is no plain number.

    >>> plain_number("0,180", ","), plain_number("1.8E-3", "."), plain_number("1.250", ",")
    ('0.180', '0.0018', None)
    """
    raw = text.strip()
    if decimal == ",":
        if "." in raw:
            return None
        raw = raw.replace(",", ".")
    if len(raw) > LONGEST_NUMBER or not NUMBER.fullmatch(raw):
        return None
    if "e" in raw or "E" in raw:
        return format(Decimal(raw), "f")
    digits = raw.removeprefix("+")
    if digits.startswith((".", "-.")):
        digits = digits.replace(".", "0.", 1)
    return digits.removesuffix(".")


def number_fault(text: str, decimal: str, wanted: str) -> CellFault:
    """Why a text is no number in that notation, and what may have been meant."""
    raw = text.strip()
    other = "," if decimal == "." else "."
    if "\0" in raw or any(unicodedata.category(sign) == "Cc" for sign in raw):
        return CellFault("ROW30", wanted, "A control character stands in the cell; take the value from the source.")
    if len(raw) > LONGEST_NUMBER:
        return CellFault("ROW31", f"{wanted}, at most {LONGEST_NUMBER} signs")
    if raw.upper() in ERROR_VALUES:
        return CellFault("ROW08", wanted, "A spreadsheet's formula failed here; take the value from the source.")
    if raw.lower() in ("true", "false", "wahr", "falsch", "yes", "no"):
        return CellFault("ROW11", wanted, "Take the value from the source.")
    if raw.lower().lstrip("+-") in ("nan", "inf", "infinity") or re.fullmatch(r"[+-]?[\d.,]+[eE][+-]?\d{3,}", raw):
        return CellFault("ROW07", wanted, "Take the value from the source; an unknown value is left empty.")
    if _DATE_LIKE.fullmatch(raw):
        return CellFault("ROW10", wanted, "A spreadsheet made a date of it; export the column as text.")
    guess = "".join(_plain_sign(sign) for sign in raw)
    if guess != raw and plain_number(guess, decimal) is not None:
        return CellFault("ROW06", wanted, f"Did you mean {guess}?")
    if (other in raw and decimal in raw) or _THOUSANDS.fullmatch(raw):
        return CellFault("ROW04", f"{wanted}, without signs between thousands")
    if other in raw and (read := plain_number(raw.replace(other, decimal), decimal)) is not None:
        return CellFault("ROW03", f'{wanted} with "{decimal}" as decimal sign', _both_readings(raw, other, read))
    guess = raw.translate(_LETTERS)
    if guess != raw and any(sign.isdigit() for sign in raw) and plain_number(guess, decimal) is not None:
        return CellFault("ROW05", wanted, f"Did you mean {guess}?")
    if raw and not any(sign.isdigit() for sign in raw):
        return CellFault(
            "ROW09", wanted, "If it means not reported, list it under [tokens] not_reported of the profile."
        )
    return CellFault("ROW02", wanted)


def _both_readings(raw: str, other: str, read: str) -> str:
    whole, _, part = raw.partition(other)
    if len(part) == 3 and whole.lstrip("+-") not in ("", "0"):
        return f"It could be {read} or {whole}{part}; say which."
    return f"Did you mean {read}?"


def _plain_sign(sign: str) -> str:
    if sign in "−–—‒﹣－":
        return "-"
    if sign.isascii():
        return sign
    digit = unicodedata.digit(sign, -1)
    return str(digit) if digit >= 0 else unicodedata.normalize("NFKC", sign)


def split_unit(text: str) -> tuple[str, str] | None:
    """The number and the unit of a cell like `0.18 %` or `1565°C`; None where there is no such pair."""
    found = _WITH_UNIT.fullmatch(text.strip())
    return (found[1].strip(), found[2].strip()) if found else None


def read_decimal(text: str, column: Column, decimal: str, unit: str | None) -> tuple[Number, Warned | None]:
    """Read a number into the column's unit; `unit` is the profile's (None: ours); a unit in the cell may stand."""
    digits, warned = plain_number(text, decimal), None
    theirs = unit or column.unit
    if digits is None and (pair := split_unit(text)) is not None:
        digits = plain_number(pair[0], decimal)
        if digits is not None and (pair[1], column.unit) not in UNIT_POWERS:
            wanted = f"a number in {theirs or 'the unit of the column'}"
            raise CellFault("ROW12", wanted, f'The unit "{pair[1]}" is not taken here.')
        theirs = pair[1]
        warned = Warned("ROW34", f"a number without unit; read in {theirs}", UNIT_STEP)
    if digits is None:
        raise number_fault(text, decimal, _number_wanted(decimal, theirs))
    if theirs and theirs != column.unit:
        digits = shift_point(digits, UNIT_POWERS[theirs, column.unit])
    number = Number(Decimal(digits), digits)
    _believe(number, column)
    return number, warned


def _number_wanted(decimal: str, unit: str) -> str:
    return f"a number such as 1{decimal}25" + (f" in {unit}" if unit else "")


def _believe(number: Number, column: Column) -> None:
    low, high = column.low, column.high
    if (low is None or number.value >= Decimal(low)) and (high is None or number.value <= Decimal(high)):
        return
    step = ""
    if column.unit == "m" and low is not None and high is not None:
        moved = number.value.scaleb(-3)
        if Decimal(low) <= moved <= Decimal(high) and number.value > Decimal(high):
            step = f"Did you mean {number.text} mm = {shift_point(number.text, -3)} m?"
    if column.unit == "degree C" and number.value > Decimal(high or 0):
        celsius = (number.value - 32) * 5 / 9
        if Decimal(low or 0) <= celsius <= Decimal(high or 0):
            step = "Is it in degree Fahrenheit? Temperatures are recorded in degree C."
    raise CellFault("ROW13", f"{low or 'anything'} to {high or 'anything'} {column.unit}".rstrip(), step)


def read_whole(text: str, column: Column) -> int:
    """Read a whole number within the column's bounds."""
    raw = text.strip()
    if not re.fullmatch(r"[+-]?[0-9]{1,12}", raw):
        found = re.fullmatch(r"([0-9]{1,12})[.,]0+", raw)
        raise CellFault("ROW41", "a whole number", f"Did you mean {found[1]}?" if found else "")
    number = int(raw)
    if (column.low and number < int(column.low)) or (column.high and number > int(column.high)):
        raise CellFault("ROW13", f"a whole number from {column.low} to {column.high}")
    return number


def read_ident(text: str) -> Ident:
    """Read a number of the plant: the form for searching beside the original.

    Outer blanks, letter case, sorts of dashes and signs that do not show are evened out in the search form only;
    leading zeros stay as they are.

    >>> read_ident(" 240\\u2013117\\u00ad a ")
    Ident(normal='240-117 A', original=' 240–117\\xad a ')
    """
    if (
        text.isascii()
        and text.replace("-", "").isalnum()
        and len(text) <= LONGEST_IDENT
        and "-" not in (text[0], text[-1])
    ):
        return Ident(text.upper(), text)
    for sign in text.strip():
        if sign in _BIDI or (unicodedata.category(sign) in ("Cc", "Cs", "Co", "Cn")):
            step = "Take the number from the source and type it anew."
            raise CellFault("ROW30", "a number without control characters", step)
    if len(text) > LONGEST_IDENT + 16 or len(text.strip()) > LONGEST_IDENT:
        raise CellFault("ROW31", f"a number of at most {LONGEST_IDENT} signs")
    raw = text.strip()
    if _REWRITTEN.fullmatch(raw):
        whole = plain_number(raw.replace(",", "."), ".") or raw
        meant = whole.rstrip("0").rstrip(".") if "." in whole else whole
        step = f"It looks like {meant} after a spreadsheet; a leading zero may be gone too. Say which number it is."
        raise CellFault("ROW32", "a number of the plant as it was written down", step)
    normal = searched(raw)
    if not normal:
        raise CellFault("ROW30", "a number with at least one sign that shows")
    return Ident(normal, text)


def hidden_signs(ident: Ident) -> bool:
    """Whether the original differs from the search form by more than letter case and outer blanks."""
    return ident.original.strip().upper() != ident.normal


def read_text(text: str) -> str:
    """Read free text: outer blanks gone, control characters other than line ends and tabs refused."""
    raw = text.strip()
    if len(raw) > LONGEST_TEXT:
        raise CellFault("ROW31", f"at most {LONGEST_TEXT} signs")
    if not raw.isprintable():
        for sign in raw:
            if sign in _BIDI or (unicodedata.category(sign) in ("Cc", "Cs") and sign not in "\n\r\t"):
                raise CellFault("ROW30", "text without control characters", "Take the text from the source.")
    return raw


def read_choice(text: str, column: Column, words: Mapping[str, str]) -> str:
    """Read one of the column's words; `words` are the profile's own words for them."""
    raw = text.strip()
    word = words.get(raw, raw)
    if word in column.choices:
        return word
    near = [c for c in column.choices if c.lower() == raw.lower()] or difflib.get_close_matches(raw, column.choices, 1)
    step = f"Did you mean {near[0]}?" if near else f"Say in the profile, under [values.{column.name}], what it means."
    raise CellFault("ROW40", "one of " + ", ".join(column.choices), step)


def read_flag(text: str) -> bool:
    """Read `yes` or `no`."""
    raw = text.strip().lower()
    if raw not in ("yes", "no"):
        raise CellFault("ROW40", "yes or no")
    return raw == "yes"
