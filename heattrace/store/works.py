"""Works-editable values: what a works may set, the shipped value of each, and the edition that holds."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from heattrace.errors import NotFound, WrongUsage
from heattrace.store.reader import Reader
from heattrace.values import dataclass

if TYPE_CHECKING:
    from datetime import tzinfo


@dataclass(frozen=True, slots=True)
class WorksValue:
    """One value a works may set. `kind` is number, text, list or map; `origin` says what the shipped value rests on."""

    name: str
    title: str
    kind: str
    unit: str
    shipped: Any
    origin: str
    scoped: str = ""


_DEFAULT = "engineering default, to be replaced by the works"
_FAMILY = "grade family"
_LIST = (
    WorksValue("zone", "time zone of printed times", "text", "IANA name", "UTC", "UTC until set"),
    WorksValue(
        "heat-series", "pattern that gives a heat number's series", "text", "regular expression, or year",
        "year", "the year of tapping, where a heat's row names no series",
    ),
    WorksValue(
        "pure-min", "least share of one heat everywhere in a pure part", "number", "share", 0.95, _DEFAULT,
        scoped=_FAMILY,
    ),
    WorksValue(
        "old-max", "largest sum of older shares for the late heat's number", "number", "share", 0.05, _DEFAULT,
        scoped=_FAMILY,
    ),
    WorksValue(
        "step-min", "step of a share that makes a part transition", "number", "share", 0.01, _DEFAULT, scoped=_FAMILY
    ),
    WorksValue("guard-ahead", "metres added ahead of a grade change", "number", "m", 3.0, _DEFAULT, scoped=_FAMILY),
    WorksValue("guard-behind", "metres added behind a grade change", "number", "m", 1.0, _DEFAULT, scoped=_FAMILY),
    WorksValue(
        "density", "conventional cold density of carbon steel", "number", "t/m3", 7.85, "EN 1991-1-1 Table A.4",
        scoped=_FAMILY,
    ),
    WorksValue(
        "event-reach", "metres an event reaches beyond its own, towards older and towards newer steel", "map",
        "metres by event kind", {}, "none until set: an event marks the metres it is recorded for",
    ),
    WorksValue("scale-warn", "counter against measured lengths: look", "number", "share", 0.005, _DEFAULT),
    WorksValue("scale-distrust", "counter against measured lengths: distrust", "number", "share", 0.01, _DEFAULT),
    WorksValue("residual-warn", "measured less counter length: look", "number", "mm", 50.0, _DEFAULT),
    WorksValue("residual-error", "measured less counter length: wrong", "number", "mm", 150.0, _DEFAULT),
    WorksValue(
        "balance-band", "weighed against computed tonnes of one heat: look beyond", "number", "share", 0.02, _DEFAULT
    ),
    WorksValue("counter-error", "relative error of a length counter", "number", "share", 0.005, _DEFAULT),
    WorksValue("clamp-time-error", "error of a clamp time", "number", "min", 0.2, _DEFAULT),
    WorksValue("clamp-place-error", "error of a clamp distance", "number", "m", 0.1, _DEFAULT),
    WorksValue(
        "ladder", "sample kinds that may speak for a heat, first choice first", "list", "sample kinds",
        ["tundish-steady", "tundish-late", "mould", "ladle-final"],
        "common practice: steady tundish, another tundish, mould, last ladle sample with nothing added after",
    ),
    WorksValue(
        "method-precedence", "whose value counts where two methods report one element", "map", "methods by element",
        {
            "C": ["combustion", "spark-emission"], "S": ["combustion", "spark-emission"],
            "N": ["fusion", "spark-emission"], "O": ["fusion"], "H": ["fusion"],
        },
        "common practice: combustion for C and S, fusion for N, O and H, before spark emission",
    ),
    WorksValue(
        "critical-difference", "difference of two methods on one sample that is still agreement", "numbers",
        "mass % by element", {}, "none is shipped: until it is set, the reported digits decide",
    ),
    WorksValue(
        "liquidus-formula", "formula behind superheat", "text", "formula name",
        "liquidus-handbook-1990-carbon", "Continuous Casting Handbook 1990 p 81, as transcribed; check with own dips",
        scoped=_FAMILY,
    ),
    WorksValue("hold-reach", "largest share from which a heat's hold reaches", "number", "share", 0.01, _DEFAULT),
    WorksValue(
        "hold-reach-chemistry", "the same for a hold with a chemistry reason", "number", "share", 0.05, _DEFAULT
    ),
    WorksValue(
        "event-wants-check", "event kinds that leave the parts they mark undecided", "list", "event kinds",
        [
            "level-swing", "nozzle-clog", "nozzle-change", "stopper-hunt", "open-stream", "shroud-off", "argon-loss",
            "lubricant-fault", "mould-change", "oscillation-fault", "stirrer-fault", "spray-fault", "reduction-fault",
            "sticker-alarm", "bleed", "breakout", "cold-straightening", "ladle-slag-seen", "late-addition",
            "wire-fault", "tundish-low",
        ],
        _DEFAULT,
    ),
)  # fmt: skip

WORKS_VALUES: dict[str, WorksValue] = {v.name: v for v in _LIST}

_EDITIONS = (
    "SELECT w.name, w.scope, w.edition, w.value, w.reason, w.entry_no, l.at, l.by FROM works_value w "
    "JOIN ledger l ON l.entry_no = w.entry_no WHERE {live:w}"
)
CURRENT = f"{_EDITIONS} AND w.name = :name AND w.scope = :scope ORDER BY w.edition DESC LIMIT 1"
HISTORY = f"{_EDITIONS} AND w.name = :name ORDER BY w.scope, w.edition"
ALL_CURRENT = f"{_EDITIONS} ORDER BY w.name, w.scope, w.edition"


def declared(name: str) -> WorksValue:
    """The works value of that name.

    Raises
    ------
    NotFound
        There is none; the message lists the nearest.
    """
    if name not in WORKS_VALUES:
        from difflib import get_close_matches

        near = get_close_matches(name, WORKS_VALUES, n=3, cutoff=0.4) or sorted(WORKS_VALUES)
        raise NotFound(f'no works value "{name}"; nearest: {", ".join(near)}')
    return WORKS_VALUES[name]


def works_value(reader: Reader, name: str, scope: str = "") -> Any:
    """The value that holds, for a scope where one is set for it, else for all, else the shipped one."""
    return works_edition(reader, name, scope)[0]


def works_edition(reader: Reader, name: str, scope: str = "") -> tuple[Any, int]:
    """The value that holds and its edition; edition 0 is the shipped value."""
    shipped = declared(name).shipped
    for place in (scope, "") if scope else ("",):
        row = reader.one(CURRENT, name=name, scope=place)
        if row is not None:
            return json.loads(row["value"]), int(row["edition"])
    return shipped, 0


def all_works_values(reader: Reader) -> dict[str, Any]:
    """Every value that holds for all scopes, in one question."""
    held = {name: v.shipped for name, v in WORKS_VALUES.items()}
    for row in reader.all(ALL_CURRENT):
        if row["scope"] == "":
            held[row["name"]] = json.loads(row["value"])
    return held


def read_value(name: str, text: str) -> Any:
    """Read a typed value of the declared kind.

    Raises
    ------
    WrongUsage
        The text is not of that kind.
    """
    from heattrace.store.works_bounds import check_liquidus, check_number, check_words

    value = declared(name)
    if value.kind == "number":
        try:
            number = float(text)
        except ValueError:
            raise WrongUsage(f'{name}: found "{text}"; a number [{value.unit}] was expected') from None
        check_number(name, number, text)
        return number
    if value.kind == "list":
        words = [w.strip() for w in text.split(",") if w.strip()]
        if not words:
            raise WrongUsage(f"{name}: words separated by commas were expected [{value.unit}]")
        check_words(name, words)
        return words
    if value.kind == "map":
        return _read_map(name, text)
    if value.kind == "numbers":
        return _read_numbers(name, text)
    if name == "liquidus-formula":
        check_liquidus(text)
    return _checked_text(name, text)


def _read_map(name: str, text: str) -> dict[str, list[str]]:
    from heattrace.store.works_bounds import check_elements, check_kinds

    found: dict[str, list[str]] = {}
    for part in text.split(";"):
        word, _, rest = part.partition("=")
        words = [w.strip() for w in rest.split(",") if w.strip()]
        if not word.strip() or not words:
            raise WrongUsage(f'{name}: found "{part.strip()}"; "C=combustion,spark-emission; N=fusion" was expected')
        found[word.strip()] = words
    if name == "event-reach":
        _check_reaches(found)
        check_kinds(name, found)
    else:
        check_elements(name, found)
    return found


def _check_reaches(found: dict[str, list[str]]) -> None:
    for kind, metres in found.items():
        try:
            fit = len(metres) <= 2 and all(0 <= float(m) <= 100 for m in metres)
        except ValueError:
            fit = False
        if not fit:
            raise WrongUsage(
                f'event-reach: found "{kind}={",".join(metres)}"; metres towards older and towards newer steel, '
                'such as "level-swing=0.5,1", were expected'
            )


def _read_numbers(name: str, text: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for word, listed in _read_map(name, text).items():
        if len(listed) != 1 or not re.fullmatch(r"\d+(\.\d+)?", listed[0]):
            raise WrongUsage(f'{name}: found "{word}={",".join(listed)}"; "C=0.012; S=0.002" was expected')
        found[word] = listed[0]
    return found


def _checked_text(name: str, text: str) -> str:
    if name == "zone":
        named_zone(text)
    if name == "heat-series" and text != "year":
        try:
            re.compile(text)
        except re.error as fault:
            raise WrongUsage(f"heat-series: not a regular expression ({fault})") from None
    return text


def named_zone(name: str) -> tzinfo:
    """The time zone of that IANA name.

    Raises
    ------
    WrongUsage
        There is none.
    """
    from datetime import UTC

    if name == "UTC":
        return UTC
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise WrongUsage(f'no time zone "{name}"; a name such as Europe/Vienna was expected') from None


def works_zone(reader: Reader) -> tzinfo:
    """The zone of printed times."""
    return named_zone(str(works_value(reader, "zone")))
