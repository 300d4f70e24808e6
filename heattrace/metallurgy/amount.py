"""One element's reported content in mass %: exact decimals, `<` and `>`, and "not reported" kept apart from zero."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal

from heattrace.metallurgy.elements import ALIASES, ELEMENT_NUMBER
from heattrace.values import dataclass

NOT_REPORTED = "not-reported"

# Powers of ten from the unit to mass %. ppm here is mg/kg.
UNIT_SHIFT: Mapping[str, int] = {"%": 0, "mass %": 0, "ppm": -4, "mg/kg": -4, "ppb": -7}

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,2})?")
_LOOK_ALIKE = str.maketrans({"O": "0", "o": "0", "l": "1", "I": "1", "S": "5", "−": "-"})


class AmountUnreadable(ValueError):
    """A text that is not a content; `reason` says why, `suggestion` may hold what was probably meant."""

    def __init__(self, reason: str, suggestion: str = "") -> None:
        super().__init__(reason)
        self.reason = reason
        self.suggestion = suggestion


@dataclass(frozen=True, slots=True)
class Amount:
    """Content of one element.

    `qualifier` is `=`, `<`, `>` or `not-reported`; `value` is in mass %, exact; `text` holds the reported digits in
    mass % with a decimal point (a ppm value with its point moved, no digit added), so that `0.20` stays `0.20`.
    """

    qualifier: str
    value: Decimal | None
    text: str

    def low(self) -> Decimal | None:
        """Least content the report allows, mass %; None when nothing is known."""
        if self.qualifier == "<":
            return Decimal(0)
        return self.value if self.qualifier in ("=", ">") else None

    def high(self) -> Decimal | None:
        """Greatest content the report allows, mass %; None when open."""
        return self.value if self.qualifier in ("=", "<") else None

    def shown(self) -> str:
        """Text for a person: `0.18`, `<0.002`, `not reported`."""
        if self.qualifier == NOT_REPORTED:
            return "not reported"
        return self.text if self.qualifier == "=" else f"{self.qualifier}{self.text}"


Composition = Mapping[str, Amount]

UNREPORTED = Amount(NOT_REPORTED, None, "")


def shift_point(text: str, places: int) -> str:
    """Move the decimal point of plain digits by `places` powers of ten; no digit is added or dropped.

    >>> shift_point("58", -4), shift_point("5.80", -4), shift_point("0.0058", 4), shift_point("0.18", 0)
    ('0.0058', '0.000580', '58', '0.18')
    """
    if places == 0:
        return text
    sign, digits = ("-", text[1:]) if text.startswith("-") else ("", text.removeprefix("+"))
    whole, _, part = digits.partition(".")
    if places < 0:
        whole = whole.rjust(1 - places, "0")
        whole, part = whole[:places], whole[places:] + part
    else:
        part = part.ljust(places, "0")
        whole, part = whole + part[:places], part[places:]
    whole = whole.lstrip("0") or "0"
    return f"{sign}{whole}.{part}" if part else f"{sign}{whole}"


def read_number(text: str, decimal: str = ".") -> tuple[Decimal, str]:
    """Read one number exactly: its value and its digits with a decimal point.

    Raises
    ------
    AmountUnreadable
        Not a plain number; thousands separators, NaN and infinities are never read.
    """
    raw = text.strip()
    other = "," if decimal == "." else "."
    body = raw.replace(",", ".") if decimal == "," and "." not in raw else raw
    if not body.isascii() or not _NUMBER.fullmatch(body):
        raise AmountUnreadable(_why_not(raw, decimal, other), _suggest(raw, decimal))
    value = Decimal(body)
    if "e" in body.lower():
        return value, format(value, "f")
    digits = body.removeprefix("+")
    if digits.startswith((".", "-.")):
        digits = digits.replace(".", "0.", 1)
    return value, digits.removesuffix(".")


def _why_not(raw: str, decimal: str, other: str) -> str:
    if raw.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        return "not a number"
    if other in raw and decimal in raw:
        return f'both "{decimal}" and "{other}" stand in it; no composition needs a thousands separator'
    if other in raw:
        return f'"{other}" stands where the decimal sign is "{decimal}"'
    return "not a number"


def _suggest(raw: str, decimal: str) -> str:
    guess = raw.translate(_LOOK_ALIKE)
    body = guess.replace(",", ".") if decimal == "," else guess
    return guess if guess != raw and _NUMBER.fullmatch(body) else ""


def read_amount(text: str, *, unit: str = "%", decimal: str = ".") -> Amount:
    """Read one reported content.

    Parameters
    ----------
    text : str
        Digits, or a bound as `<0.002`, `< 0.002`, `>1.20`, `≤0.002` (read as `<`: at or below that limit).
    unit : str, [%, mass %, ppm, mg/kg, ppb]
    decimal : str
        Decimal sign of the text, `.` or `,`.

    Raises
    ------
    AmountUnreadable
        The text is no content in that notation. Empty text is not a content either: the caller knows its tokens.

    Examples
    --------
    >>> read_amount("<0,0020", decimal=",")
    Amount(qualifier='<', value=Decimal('0.0020'), text='0.0020')
    >>> read_amount("58", unit="ppm")
    Amount(qualifier='=', value=Decimal('0.0058'), text='0.0058')
    """
    if unit not in UNIT_SHIFT:
        raise AmountUnreadable(f'unit "{unit}" is not one of {", ".join(UNIT_SHIFT)}')
    raw = text.strip()
    qualifier = "="
    if raw[:1] in ("<", ">", "≤", "≥"):
        qualifier = "<" if raw[0] in "<≤" else ">"
        raw = raw[1:].strip()
    _, digits = read_number(raw, decimal)
    shifted = shift_point(digits, UNIT_SHIFT[unit])
    return Amount(qualifier, Decimal(shifted), shifted)


_PAIR = re.compile(r"([A-Za-z_-]+)\s*=\s*([<>≤≥]?\s*[^\s,;=]+)")


def read_chem(text: str) -> dict[str, Amount]:
    """Read a composition typed on the command line; blanks, commas or semicolons stand between, the sign is a point.

    Raises
    ------
    AmountUnreadable
        Something is left over, an element is unknown or stands twice, or a content cannot be read.

    Examples
    --------
    >>> {e: a.shown() for e, a in read_chem("C=0.18 Mn=1.44, N=<0.0020; Al_total=0.030").items()}
    {'C': '0.18', 'Mn': '1.44', 'N': '<0.0020', 'Al': '0.030'}
    """
    found: dict[str, Amount] = {}
    rest = _PAIR.sub(" ", text).strip(" ,;\t\n")
    if rest:
        raise AmountUnreadable(f'"{rest}" is not of the form ELEMENT=CONTENT')
    for name, content in _PAIR.findall(text):
        symbol = ALIASES.get(name, name)
        if symbol not in ELEMENT_NUMBER:
            near = next((e for e in ELEMENT_NUMBER if e.lower() == symbol.lower()), "")
            raise AmountUnreadable(f'"{name}" is no element this tool knows', near)
        if symbol in found:
            raise AmountUnreadable(f"{symbol} stands twice")
        try:
            found[symbol] = read_amount(content)
        except AmountUnreadable as fault:
            raise AmountUnreadable(f'{symbol}: "{content}" is unreadable: {fault.reason}', fault.suggestion) from None
    return found
