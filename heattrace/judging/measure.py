"""What a composition says of one quantity: bounds, the digits that were reported, and what is not reported."""

from __future__ import annotations

from functools import lru_cache

from heattrace.metallurgy.amount import Amount, Composition
from heattrace.metallurgy.interval import UNKNOWN, Interval, is_reported, lacking
from heattrace.metallurgy.quantity import Quantity, parse_quantity
from heattrace.metallurgy.registry import evaluate, members_of
from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class Measured:
    """A quantity of one composition, in mass % (a ratio has no unit).

    `bounds` are exact; where `missing` names elements that are not reported they are what is known all the same: a sum
    may be too high whatever the missing element holds. `amount` is the report itself where the quantity is an element,
    `members` are the reports a computed quantity is made of.
    """

    quantity: Quantity
    bounds: Interval
    missing: tuple[str, ...] = ()
    amount: Amount | None = None
    members: tuple[tuple[str, Amount], ...] = ()

    @property
    def computed(self) -> bool:
        """Whether it is more than one element's report."""
        return self.quantity.kind != "element"


@lru_cache(maxsize=1024)
def quantity_of(name: str) -> Quantity:
    """The quantity a canonical name stands for."""
    return parse_quantity(name)


@lru_cache(maxsize=1024)
def elements_of(name: str) -> tuple[str, ...]:
    """The elements a quantity is computed from."""
    return members_of(quantity_of(name))


def measure(name: str, composition: Composition) -> Measured:
    """Measure a quantity by its canonical name.

    Not determined is not zero: a member that is not reported leaves the quantity open on the side it could move, and
    is named in `missing`.
    """
    quantity = quantity_of(name)
    elements = elements_of(name)
    missing = lacking(composition, elements)
    if quantity.kind == "element":
        if missing:
            return Measured(quantity, UNKNOWN, missing)
        return Measured(quantity, evaluate(quantity, composition), (), composition[name])
    members = tuple((e, composition[e]) for e in elements if is_reported(composition, e))
    return Measured(quantity, evaluate(quantity, composition), missing, None, members)
