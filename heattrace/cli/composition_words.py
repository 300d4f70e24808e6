"""The estimated composition of a piece beside its limits, for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from heattrace.cli.screen import said, section
from heattrace.judging.estimate import POSITIONS, Fit
from heattrace.judging.judgement import FAIL, Judged
from heattrace.judging.limits import MAX


def composition_lines(data: Mapping[str, Any], fit: Fit | None) -> Iterator[str]:
    """The estimated composition from head to tail beside the limits, and how it fits."""
    contents = data["composition"]
    if contents:
        rows = _content_rows(contents, fit)
        against = "" if fit is None else f" against {fit.requirement}"
        head = ["", "head", "mean", "tail", "limit", "verdict"] if fit is not None else ["", "head", "mean", "tail"]
        title = f"composition, estimated from shares and cast analyses [mass %]{against}"
        yield from section(title, head, rows, [1, 2, 3])
    elif data["heats"]:
        yield from said("composition", "not known: no element is determined for every heat in it")
    for one in data["fits"]:
        where = ", ".join(f"{place} {one[place]}" for place in ("head", "mean", "tail"))
        yield from said("fit", f"{one['verdict'].upper()} for {one['requirement']} ({one['role']}): {where}")


def _content_rows(contents: Mapping[str, Mapping[str, Any]], fit: Fit | None) -> list[list[str]]:
    limits: dict[str, list[tuple[Judged, ...]]] = {}
    if fit is not None:
        for lines in zip(*(judgement.limits for judgement in fit.judgements), strict=False):
            limits.setdefault(lines[0].quantity, []).append(lines)
    rows = []
    for name, places in contents.items():
        found = limits.pop(name, [])
        row = [name, *(_content(places, n, found) for n in range(3))]
        rows.append([*row, *_limit_cells(found)] if fit is not None else row)
    for name, found in limits.items():
        values = [_computed(line, n, found) if line.computed else "?" for n, line in enumerate(found[0][:3])]
        rows.append([name, *values, *_limit_cells(found)])
    return rows


def _content(places: Mapping[str, Any], at: int, limits: Sequence[tuple[Judged, ...]]) -> str:
    place = POSITIONS[at]
    if places.get(place) is not None:
        return _digits(places[place], at, limits)
    below = places.get("below", {}).get(place)
    return "?" if below is None else f"<{_digits(below, at, limits)}"


def _computed(line: Judged, at: int, limits: Sequence[tuple[Judged, ...]]) -> str:
    if line.value is not None:
        return _digits(line.value, at, limits)
    if line.low is None or line.high is None:
        return "?"
    return f"{_digits(line.low, at, limits)} to {_digits(line.high, at, limits)}"


def _digits(value: Any, at: int, limits: Sequence[tuple[Judged, ...]]) -> str:
    """An estimated content with up to five decimals, at least three, no idle zeros beyond.

    More where a limit is missed at that position: a value that fails is never shown in digits that would pass.
    """
    exact = Fraction(value)
    missed = [found[at] for found in limits if found[at].verdict == FAIL]
    for decimals in range(5, 13):
        text = f"{float(exact):.{decimals}f}".rstrip("0")
        if not any(_would_pass(Fraction(text), exact, line) for line in missed):
            break
    return text + "0" * max(0, 3 - len(text.partition(".")[2]))


def _would_pass(shown: Fraction, exact: Fraction, line: Judged) -> bool:
    """Whether shown digits stand on the sound side of a printed limit that the exact value is beyond."""
    try:
        limit = Fraction(line.limit)
    except ValueError:
        return False
    return shown <= limit < exact if line.sense == MAX else exact < limit <= shown


def _limit_cells(lines: Sequence[tuple[Judged, ...]]) -> list[str]:
    """Limits of one quantity, and the worst that is said of it with the positions it is said of."""
    if not lines:
        return ["", ""]
    shown = ", ".join(dict.fromkeys(f"{found[0].sense} {found[0].limit}" for found in lines))
    said_of: dict[str, list[str]] = {}
    for found in lines:
        for line in found:
            place = line_place(found, line)
            if place not in said_of.setdefault(line.verdict, []):
                said_of[line.verdict].append(place)
    words = []
    for verdict in ("fail", "undecided", "not-reported"):
        places = said_of.get(verdict)
        if places:
            where = "" if len(places) == len(lines[0]) else f" at {', '.join(places)}"
            words.append(f"{verdict.upper()}{where}")
    passed = "pass" if "pass" in said_of else ""
    return [shown if len(shown) <= 24 else f"{shown[:21]}...", "; ".join(words) or passed]


def line_place(found: Sequence[Judged], line: Judged) -> str:
    """Which position of the piece a line is about."""
    at = next(n for n, one in enumerate(found) if one is line)
    return POSITIONS[at] if at < len(POSITIONS) else "inside"
