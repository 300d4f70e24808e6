"""What an answer promises, told as data: nested shapes whose leaves are kinds of value.

A dict is an object with at least those keys; `Each`, `Named` and `Maybe` are a list, a mapping by name, and a value
that may be null. `departures` names every place where an answer is not what was promised.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeAlias
from zoneinfo import ZoneInfo

Shape: TypeAlias = "Kind | Each | Named | Maybe | Mapping[str, Any]"


@dataclass(frozen=True, slots=True)
class Kind:
    """A leaf: its name, and whether a value is of it."""

    name: str
    fits: Callable[[Any], bool]


@dataclass(frozen=True, slots=True)
class Each:
    """A list of one shape."""

    of: Any


@dataclass(frozen=True, slots=True)
class Named:
    """An object whose keys are names, each with one shape."""

    of: Any


@dataclass(frozen=True, slots=True)
class Maybe:
    """One shape, or null."""

    of: Any


def words(*promised: str) -> Kind:
    """One of the promised words."""
    return Kind(f"one of {', '.join(promised)}", lambda value: isinstance(value, str) and value in promised)


def like(name: str, pattern: str) -> Kind:
    """A text of that form."""
    form = re.compile(pattern)
    return Kind(name, lambda value: isinstance(value, str) and form.fullmatch(value) is not None)


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


# Europe/Andorra is the zone of the invented works: UTC+1, in summer UTC+2.
ZONE = ZoneInfo("Europe/Andorra")
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?[+-]\d\d:\d\d")


def _moment(value: Any) -> bool:
    """RFC 3339 with an offset, which is that of the works' zone on that day."""
    if not isinstance(value, str) or not _MOMENT.fullmatch(value):
        return False
    told = datetime.fromisoformat(value)
    return told.utcoffset() == told.astimezone(ZONE).utcoffset()


TEXT = Kind("a text that is not empty", lambda value: isinstance(value, str) and value != "")
ANY_TEXT = Kind("a text", lambda value: isinstance(value, str))
DIGITS = like("digits with a decimal point, as a person or an instrument wrote them", r"[<>]?-?\d+(\.\d+)?")
NUMBER = Kind("a number", _number)
WHOLE = Kind("a whole number", _whole)
FLAG = Kind("true or false", lambda value: isinstance(value, bool))
MOMENT = Kind("a time with the offset of the works' zone", _moment)
# As stored: metres to the micrometre, shares to the millionth.
MILLIONTHS = Kind("a number of at most six places", lambda value: _number(value) and round(value, 6) == value)
SHARE = Kind("a share of at most six places", lambda value: MILLIONTHS.fits(value) and 0 <= value <= 1)
FREE_SHARE = Kind("a share", lambda value: _number(value) and -1e-12 <= value <= 1 + 1e-12)
DIGEST = like("a SHA-256", r"[0-9a-f]{64}")
ANYTHING = Kind("anything", lambda value: True)


def departures(value: Any, shape: Shape, at: str = "data") -> Iterator[str]:
    """Where and how a value is not of its shape; nothing where all of it is."""
    if isinstance(shape, Maybe):
        if value is not None:
            yield from departures(value, shape.of, at)
    elif isinstance(shape, Kind):
        if not shape.fits(value):
            yield f"{at}: {value!r} is not {shape.name}"
    elif isinstance(shape, Each):
        if not isinstance(value, list):
            yield f"{at}: {value!r} is no list"
        else:
            for number, one in enumerate(value):
                yield from departures(one, shape.of, f"{at}[{number}]")
    elif isinstance(shape, Named):
        if not isinstance(value, dict):
            yield f"{at}: {value!r} is no object"
        else:
            for name, one in value.items():
                yield from departures(one, shape.of, f"{at}.{name}")
    elif not isinstance(value, dict):
        yield f"{at}: {value!r} is no object"
    else:
        for name, inner in shape.items():
            if name not in value:
                yield f"{at}.{name} is missing"
            else:
                yield from departures(value[name], inner, f"{at}.{name}")
