"""What a limit speaks of: an element, a formula, a weighted sum or a ratio, read from its printed name."""

from __future__ import annotations

import re
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from heattrace.errors import FormulaError
from heattrace.metallurgy.elements import ALIASES, ELEMENT_NUMBER
from heattrace.values import dataclass

# Formulas of one composition alone, which a limit may name. Superheat needs a temperature and is no limit's quantity.
LIMIT_FORMULAS: tuple[str, ...] = (
    "cev", "cet", "pcm", "cen", "ce-aws-d1-1", "ce-a706", "mn-s",
    "liquidus-handbook-1990-carbon", "liquidus-principles-1994",
)  # fmt: skip

# Names that printed limits use for a formula. They name the formula, never an edition's own variant of it.
FORMULA_ALIASES: MappingProxyType[str, str] = MappingProxyType(
    {
        "CEV": "cev",
        "CEIIW": "cev",
        "CE(IIW)": "cev",
        "Ceq": "cev",
        "CET": "cet",
        "CEPcm": "pcm",
        "Pcm": "pcm",
        "CEN": "cen",
        "CE_A706": "ce-a706",
    }
)

# A hyphen is a minus sign, but for the two spellings of aluminium that carry one.
_ELEMENT = r"(Al-(?:tot|sol)|[A-Za-z][A-Za-z_]*)"
_TERM = re.compile(rf"([+-]?)\s*(\d+(?:\.\d+)?|\.\d+)?\s*\*?\s*{_ELEMENT}(?:\s*/\s*(\d+(?:\.\d+)?))?\s*")
_RATIO = re.compile(rf"{_ELEMENT}\s*/\s*{_ELEMENT}")


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity that can be computed from a composition.

    `name` is canonical (aliases resolved), `text` as written. `terms` are the weighted elements of an element, a sum or
    a ratio's dividend; `divisor` is a ratio's other element; `formula` is a formula's name, whose elements the registry
    knows.
    """

    kind: Literal["element", "formula", "sum", "ratio"]
    name: str
    text: str
    terms: tuple[tuple[str, Fraction], ...] = ()
    divisor: str = ""
    formula: str = ""

    @property
    def unit(self) -> str:
        """`ratio`, `degree C` for a liquidus, else `mass %`."""
        if self.kind == "ratio" or self.formula == "mn-s":
            return "ratio"
        return "degree C" if self.formula.startswith("liquidus-") else "mass %"


def element_symbol(text: str) -> str:
    """The symbol for an element's name, aliases resolved.

    Raises
    ------
    FormulaError
        No element this tool knows; the message offers the one that differs by capitals alone.
    """
    symbol = ALIASES.get(text, text)
    if symbol in ELEMENT_NUMBER:
        return symbol
    near = next((e for e in ELEMENT_NUMBER if e.lower() == symbol.lower()), "")
    offer = f'; write "{near}"' if near else "; symbols are those of the periodic table, Al total and Als acid-soluble"
    raise FormulaError(f'"{text}" is no element this tool knows{offer}')


def parse_quantity(text: str) -> Quantity:
    """Read a quantity: `Mn`, `Al_total`, `CEV`, `ce-a706`, `Cr+Mo+Ni`, `Cu+10Sn`, `C+Mn/6`, `Mn/S`.

    Raises
    ------
    FormulaError
        An element is unknown or stands twice, a weight is zero, or the text is none of the four kinds.

    Examples
    --------
    >>> parse_quantity("Ceq").name, parse_quantity("Al_total/N").name
    ('cev', 'Al/N')
    >>> parse_quantity("Cu+10Sn").terms
    (('Cu', Fraction(1, 1)), ('Sn', Fraction(10, 1)))
    """
    plain = text.strip()
    formula = FORMULA_ALIASES.get(plain, plain)
    if formula in LIMIT_FORMULAS:
        return Quantity("formula", formula, text, formula=formula)
    ratio = _RATIO.fullmatch(plain)
    if ratio:
        dividend, divisor = element_symbol(ratio[1]), element_symbol(ratio[2])
        if dividend == divisor:
            raise FormulaError(f'"{text}": the ratio of {dividend} to itself says nothing')
        return Quantity("ratio", f"{dividend}/{divisor}", text, ((dividend, Fraction(1)),), divisor)
    terms = parse_terms(plain)
    if len(terms) == 1 and terms[0][1] == 1:
        return Quantity("element", terms[0][0], text, terms)
    return Quantity("sum", sum_name(terms), text, terms)


def parse_terms(text: str) -> tuple[tuple[str, Fraction], ...]:
    """Read a weighted sum: terms joined by `+` or `-`, each an element with an optional factor or whole divisor.

    >>> parse_terms("3.4N + 1.5S")
    (('N', Fraction(17, 5)), ('S', Fraction(3, 2)))
    """
    terms: dict[str, Fraction] = {}
    at = 0
    while at < len(text):
        found = _TERM.match(text, at)
        if not found or (at and not found[1]):
            raise FormulaError(
                f'"{text}" is no quantity: at "{text[at:]}" a sign and an element were expected; '
                "write an element, a formula of calc, a sum as Cu+10Sn, or a ratio as Mn/S"
            )
        symbol = element_symbol(found[3])
        if symbol in terms:
            raise FormulaError(f'"{text}": {symbol} stands twice')
        if found[4] and Fraction(found[4]) == 0:
            raise FormulaError(f'"{text}": {symbol} is divided by zero')
        weight = Fraction(found[2] or 1) / Fraction(found[4] or 1) * (-1 if found[1] == "-" else 1)
        if weight == 0:
            raise FormulaError(f'"{text}": {symbol} has the weight zero')
        terms[symbol] = weight
        at = found.end()
    if not terms:
        raise FormulaError("no quantity is given; write an element, a formula of calc, a sum or a ratio")
    return tuple(terms.items())


def sum_name(terms: tuple[tuple[str, Fraction], ...]) -> str:
    """Canonical text of a weighted sum, in the order written.

    >>> sum_name(parse_terms("C+Mn/6-0.5Mo"))
    'C+Mn/6-Mo/2'
    """
    parts: list[str] = []
    for element, weight in terms:
        size = abs(weight)
        factor = "" if size.numerator == 1 else str(size.numerator)
        over = "" if size.denominator == 1 else f"/{size.denominator}"
        parts.append(("-" if weight < 0 else "+") + factor + element + over)
    return "".join(parts).removeprefix("+")
