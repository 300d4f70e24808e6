"""The estimated composition of a piece beside its limits, for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from heattrace.cli.trace_words import said, section
from heattrace.judging.estimate import Fit
from heattrace.judging.judgement import Judged


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
        row = [name, *(_content(places, place) for place in ("head", "mean", "tail"))]
        rows.append([*row, *_limit_cells(limits.pop(name, []))] if fit is not None else row)
    for name, found in limits.items():
        values = [_computed(line) if line.computed else "?" for line in found[0][:3]]
        rows.append([name, *values, *_limit_cells(found)])
    return rows


def _content(places: Mapping[str, Any], place: str) -> str:
    if places.get(place) is not None:
        return _digits(places[place])
    below = places.get("below", {}).get(place)
    return "?" if below is None else f"<{_digits(below)}"


def _computed(line: Judged) -> str:
    if line.value is not None:
        return _digits(line.value)
    if line.low is None or line.high is None:
        return "?"
    return f"{_digits(line.low)} to {_digits(line.high)}"


def _digits(value: Any) -> str:
    """An estimated content with up to six decimals, at least three, no idle zeros beyond."""
    text = f"{float(value):.6f}".rstrip("0")
    return text + "0" * max(0, 3 - len(text.partition(".")[2]))


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
    return ("head", "mean", "tail")[at] if at < 3 else "inside"
