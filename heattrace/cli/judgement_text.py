"""A judgement for a person: a table of limits, the notes that matter, and the sources."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Literal

from heattrace.cli.output import table
from heattrace.judging.judgement import FAIL, NOT_REPORTED, PASS, UNDECIDED, WAIVED, Judged, Judgement
from heattrace.judging.limits import REQUIRES
from heattrace.metallurgy.formula import shown_number
from heattrace.metallurgy.rounding import show_beside

WIDEST_LIMIT = 14
WIDTH = 110
_MARK = {FAIL: "!", UNDECIDED: "?", NOT_REPORTED: "?"}


def judgement_lines(judgement: Judgement) -> Iterator[str]:
    """The screen of one judgement."""
    size = f", {judgement.size_mm} mm" if judgement.size_mm else ", thickness of the ordered product not stated"
    yield f"{judgement.subject} for {judgement.requirement}: {judgement.verdict.upper()}"
    if judgement.requirement != judgement.grade:
        yield f"  grade {judgement.grade}"
    yield f"  {judgement.basis} analysis{size}"
    yield ""
    sources = list(dict.fromkeys((line.source, line.status) for line in judgement.limits))
    grouped = any(line.group for line in judgement.limits)
    head = ["", "quantity", "limit", "value", "rounded", "margin", "verdict", "method", "book"]
    rows = [_row(line, sources) for line in judgement.limits]
    if grouped:
        head.insert(2, "alternative")
        for row, line in zip(rows, judgement.limits, strict=True):
            row.insert(2, f"{line.group}: {line.alternative}" if line.group else "")
    yield from table(head, rows, right=[5 + grouped])
    yield from _notes(judgement)
    yield ""
    yield "book"
    for number, (source, status) in enumerate(sources, start=1):
        yield f"  {number} {status:<8}  {source or 'no source is named'}"


def _row(line: Judged, sources: Sequence[tuple[str, str]]) -> list[str]:
    number = sources.index((line.source, line.status)) + 1
    status = line.status if line.status == "verified" else line.status.upper()
    # One alternative of a group may fail while the group holds: only a limit that counts by itself is called out.
    calls = line.group is None and line.verdict in _MARK
    verdict = line.verdict.upper() if calls else line.verdict
    return [
        _MARK[line.verdict] if calls else "",
        line.quantity,
        limit_shown(line),
        value_of(line),
        line.rounded or "",
        "" if line.margin is None else f"{'+' if line.margin >= 0 else ''}{shown_number(line.margin).split(' ')[0]}",
        verdict,
        line.method,
        f"{number} {status}",
    ]


def limit_shown(line: Judged) -> str:
    """Sense and printed digits; what is too long for a column stands in the notes."""
    if line.sense == REQUIRES:
        return "must be reported" if line.limit == "reported" else "condition, see note"
    return f"{line.sense} {line.limit}" if len(line.limit) <= WIDEST_LIMIT else f"{line.sense} by band, see note"


def value_of(line: Judged) -> str:
    """Reported digits, or the computed number in digits that never pass where the value does not."""
    if not line.computed:
        return line.reported or "not reported"
    if line.value is not None:
        exact = shown_number(line.value, 4).split(" ")[0]
        if line.verdict != FAIL or not line.limit.replace(".", "", 1).isdigit():
            return exact
        sense: Literal["min", "max"] = "max" if line.sense == "max" else "min"
        return max(show_beside(line.value, line.limit, sense, passes=False), exact, key=len)
    if line.low is None and line.high is None:
        return "not reported"
    low = "" if line.low is None else shown_number(line.low, 4).split(" ")[0]
    high = "" if line.high is None else shown_number(line.high, 4).split(" ")[0]
    return f"{low}..{high}"


def _notes(judgement: Judgement) -> Iterator[str]:
    notes: list[str] = []
    for line in judgement.limits:
        words = []
        if line.sense == REQUIRES and line.limit != "reported":
            words.append(f"requires that {line.limit}")
        elif len(line.limit) > WIDEST_LIMIT:
            words.append(f"{line.sense} {line.limit}")
        if line.computed and line.reported and line.verdict != WAIVED:
            words.append(f"from {line.reported}")
        if line.sense != REQUIRES:
            words += _telling(line)
        if words:
            notes.append(f"{line.quantity}: {'; '.join(words)}")
    notes += [f"{group}: {words}" for group, words in _groups(judgement).items()]
    notes += judgement.remarks
    if judgement.missing:
        notes.append(f"not reported and needed: {', '.join(judgement.missing)}")
    if notes:
        yield ""
        yield "notes"
        for note in dict.fromkeys(notes):
            yield from wrap(note, WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)


def _telling(line: Judged) -> list[str]:
    """The parts of a line's note that tell a person something: idle conditions stay out, but for a waived row's."""
    parts = [part for part in line.note.split("; ") if part]
    if line.verdict == WAIVED:
        return parts
    parts = [part for part in parts if not part.endswith("(no)")]
    if line.verdict == PASS:
        return [part for part in parts if not part.endswith(")") or "(yes)" in part]
    return parts


def _groups(judgement: Judgement) -> dict[str, str]:
    """What each group of alternatives rests on."""
    found: dict[str, dict[str, list[str]]] = {}
    for line in judgement.limits:
        if line.group:
            found.setdefault(line.group, {}).setdefault(line.alternative or "", []).append(line.verdict)
    words = {}
    for group, alternatives in found.items():
        held = [name for name, verdicts in alternatives.items() if set(verdicts) <= {PASS, WAIVED}]
        words[group] = f"one alternative is enough; met: {', '.join(held) or 'none'}"
    return words
