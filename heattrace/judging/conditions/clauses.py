"""The parts of a condition, as read from the `when` cell of a limit."""

from __future__ import annotations

from collections.abc import Iterator

from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class Number:
    """A literal; its digits say to which place a content that meets it is rounded."""

    text: str


@dataclass(frozen=True, slots=True)
class Content:
    """The content of an element, mass %."""

    element: str


@dataclass(frozen=True, slots=True)
class Computed:
    """A formula of `calc`."""

    formula: str


@dataclass(frozen=True, slots=True)
class Size:
    """`t` and `flange` in mm, `area` in mm2, of the ordered product."""

    name: str


@dataclass(frozen=True, slots=True)
class Printed:
    """The limit the grade prints for an element: `max(C)`."""

    side: str
    element: str


@dataclass(frozen=True, slots=True)
class Extreme:
    """`least` or `greatest` of several."""

    which: str
    of: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Arithmetic:
    """Two expressions joined by `+`, `-`, `*` or `/`."""

    sign: str
    left: Expression
    right: Expression


Expression = Number | Content | Computed | Size | Printed | Extreme | Arithmetic


@dataclass(frozen=True, slots=True)
class Flag:
    """`ordered`, `form`, `named`, `specified` or `reported` with names, of which one is enough."""

    kind: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Relation:
    """Two expressions compared: `<`, `<=`, `=`, `>=` or `>`."""

    left: Expression
    sign: str
    right: Expression


@dataclass(frozen=True, slots=True)
class Not:
    """The opposite of a condition."""

    of: Condition


@dataclass(frozen=True, slots=True)
class Every:
    """All of several conditions."""

    of: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Either:
    """At least one of several conditions."""

    of: tuple[Condition, ...]


Condition = Flag | Relation | Not | Every | Either


@dataclass(frozen=True, slots=True)
class Applies:
    """The row stands only if the condition holds; otherwise it is waived."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class Lapses:
    """The row, or one side of it, falls away if the condition holds."""

    side: str | None
    condition: Condition


@dataclass(frozen=True, slots=True)
class Agreed:
    """The limit is by agreement, hence undecided, if the condition holds."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class Requires:
    """The condition itself is what must hold."""

    condition: Condition


@dataclass(frozen=True, slots=True)
class Alternative:
    """The row belongs to one of the alternatives of a group, of which at least one must hold."""

    name: str
    group: str


@dataclass(frozen=True, slots=True)
class Sampled:
    """The quantity is checked once every so many tonnes or heats."""

    number: str
    unit: str


@dataclass(frozen=True, slots=True)
class Trade:
    """Counts whole steps that a term lies below or above an expression."""

    step: Number
    term: Expression
    below: bool
    mark: Expression


@dataclass(frozen=True, slots=True)
class Change:
    """A side of the limit moves (`+`, `-`) or becomes (`=`) an expression, as far as `to`, if the condition holds."""

    side: str
    sign: str
    by: Expression
    trade: Trade | None
    to: Expression | None
    condition: Condition | None


Clause = Applies | Lapses | Agreed | Requires | Alternative | Sampled | Change


Part = Expression | Condition


def parts_of(part: Part) -> Iterator[Part]:
    """A part and all parts inside it, in the order written."""
    yield part
    inside: tuple[Part, ...] = ()
    match part:
        case Arithmetic(_, left, right) | Relation(left, _, right):
            inside = (left, right)
        case Extreme(_, several) | Every(several) | Either(several):
            inside = several
        case Not(inner):
            inside = (inner,)
        case Flag() | Number() | Content() | Computed() | Size() | Printed():
            pass
    for one in inside:
        yield from parts_of(one)


def contents_in(part: Part) -> tuple[str, ...]:
    """The elements and formulas a part speaks of, each once."""
    names = [
        p.element if isinstance(p, Content) else p.formula for p in parts_of(part) if isinstance(p, Content | Computed)
    ]
    return tuple(dict.fromkeys(names))
