"""The trace of a heat for a person: the heat, its cast analysis, and every piece with a share of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from heattrace.cli.screen import said, section
from heattrace.cli.trace_words import decision_lines, hold_lines, reading_lines


def traced_heat_lines(data: Mapping[str, Any]) -> Iterator[str]:
    """The screen of `trace HEAT`."""
    heat = data["heat"]
    yield f"heat {heat['heat_no']} of series {heat['series']}: {heat['grade'] or 'no grade planned'}"
    yield ""
    for quality in heat["qualities"]:
        yield from said("quality", f"{quality['quality'].upper()} for {quality['requirement'] or 'no requirement'}")
        yield from said("  because", quality["because"])
    yield from said("record", heat["record"])
    mass = f", {heat['tapped_mass_t']} t" if heat["tapped_mass_t"] else ""
    ladle = f", ladle {heat['ladle_no']}" if heat["ladle_no"] else ""
    yield from said("tapped", f"{heat['tapped_at'] or 'time not recorded'}{mass}{ladle}")
    for pour in heat["pours"]:
        until = f"to {pour['closed_at']}" if pour["closed_at"] else "still open"
        place = f"sequence {pour['sequence_no']}, tundish {pour['tundish']}"
        yield from said("poured", f"{pour['opened_at']} {until}, {place}")
    yield from cast_analysis_lines(data["cast_analysis"])
    yield from reading_lines(data["temperatures"])
    yield from section(
        "order lines",
        ["order", "customer", "grade", "form", "mm", "pieces"],
        [
            (f"{o['order_no']}/{o['line']}", o["customer"], o["grade"], o["form"], o["thickness_mm"], o["pieces"])
            for o in data["order_lines"]
        ],
        [5],
    )
    yield from hold_lines(data["holds"])
    yield from decision_lines(data["decisions"])
    yield from _piece_lines(data["pieces"])


def cast_analysis_lines(analysis: Mapping[str, Any]) -> Iterator[str]:
    """The cast analysis in a line, by which rule it was chosen, and why."""
    values = " ".join(f"{v['element']} {v['reported']}" for v in analysis["values"])
    if not values:
        yield from said("cast analysis", "none")
    else:
        how = "frozen" if analysis["frozen"] else "chosen now, not frozen"
        yield from said("cast analysis", f"{values} [mass %], {how}, by rule {analysis['rule']}")
    for words in analysis["words"]:
        yield from said("  because", words)


def _piece_lines(pieces: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    rows = [
        (
            piece["piece_no"],
            "unknown" if piece["share_mean"] is None else f"{piece['share_mean'] * 100:.1f} %",
            _cut(piece),
            "" if piece["from_m"] is None else f"{piece['from_m']:.1f}-{piece['to_m']:.1f}",
            piece["class"],
            piece["heat_no"] or "-",
            piece["quality"],
            piece["whereabouts"],
            piece["customer"],
        )
        for piece in pieces
    ]
    head = ["piece", "share", "cut", "metres", "class", "heat", "quality", "where", "customer"]
    yield from section("pieces with a share of it", head, rows, [1])
    yield ""
    yield from said("counted", f"{len(pieces)} pieces; {counted(p['quality'] for p in pieces)}")
    yield from said("", counted(p["whereabouts"] or "not recorded" for p in pieces))


def _cut(piece: Mapping[str, Any]) -> str:
    if piece["strand_no"] is None:
        return f"from {piece['made_from']}" if piece["made_from"] else ""
    return f"{piece['strand_no']}/{piece['run_no']}/{piece['cut_no'] or '-'}"


def counted(words: Iterable[str]) -> str:
    """How often each word stands, most frequent first."""
    counts: dict[str, int] = {}
    for word in words:
        counts[word] = counts.get(word, 0) + 1
    return ", ".join(f"{n} {word}" for word, n in sorted(counts.items(), key=lambda pair: (-pair[1], pair[0])))
