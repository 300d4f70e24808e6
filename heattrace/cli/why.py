"""`heattrace why NUMBER`: in words, why a heat or a piece stands as it does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, visible
from heattrace.cli.screen import said
from heattrace.cli.trace_words import RULES
from heattrace.findings import Finding

why_app = new_app("Why a heat or a piece stands as it does.", single=True)


@why_app.command()
def why(
    number: Annotated[str, typer.Argument(metavar="NUMBER", help="A heat or a piece.")],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Say in words why a heat or a piece has its quality: which holds, events, limits and decisions, and whose.

    Also why the piece has its class and its heat number, why that cast analysis speaks for the heat, and on what
    evidence holds were lifted.

    \b
    Example:
        heattrace why 41878
    """
    from heattrace.store.engine import open_reader
    from heattrace.tracing.numbered import HEAT
    from heattrace.tracing.numbers import find
    from heattrace.tracing.why import why_heat, why_piece

    with open_reader(db) as reader:
        practice = reader.is_practice()
        found = find(reader, number)
        data = why_heat(reader, found.id) if found.kind == HEAT else why_piece(reader, found.id)
    give(
        Answer(
            "why",
            data,
            lambda: (visible(line) for line in why_lines(data)),
            findings=[Finding(**finding) for finding in data["findings"]],
            messages=[found.how] if found.how else [],
            practice=practice,
        ),
        as_json=as_json,
    )


def why_lines(data: Mapping[str, Any]) -> Iterator[str]:
    """The screen of `why`."""
    subject = data["subject"]
    for quality in data["qualities"]:
        use = quality["requirement"] or "no requirement"
        yield f"{subject['kind']} {subject['number']} is {quality['quality'].upper()} for {use}"
        for cause in quality["causes"]:
            decides = "because" if cause["quality"] == quality["quality"] else f"({cause['quality']})"
            yield from said(f"  {decides}", cause["words"])
        yield ""
    if "class" in data:
        yield from said("class", data["class"])
        for reason in data["class_reasons"]:
            yield from said("  because", reason["words"])
        rule = RULES.get(data["heat_no_rule"], data["heat_no_rule"])
        yield from said("heat number", f"{data['heat_no'] or 'none yet'}: {rule}")
        if data["heat_no"] is None and data["majority_heat"]:
            yield from said("", f"most of it is {data['majority_heat']}, the late heat is {data['late_heat']}")
        yield ""
    for analysis in data["cast_analyses"]:
        yield from _cast_analysis(analysis)
    yield from _judgements(data)
    yield from _holds(data)
    yield from _decisions(data)
    yield from _values(data)


def _cast_analysis(analysis: Mapping[str, Any]) -> Iterator[str]:
    state = "frozen with a decision" if analysis["frozen"] else "chosen now by the ladder, not frozen"
    yield f"cast analysis of heat {analysis['heat_no']}: {state if analysis['values'] else 'none'}"
    for words in analysis["words"]:
        yield from said("  because", words)
    sources: dict[str, list[str]] = {}
    for value in analysis["values"]:
        source = f"{value['analysis_no']}, {value['method']}, sample {value['sample_id']} ({value['kind']})"
        sources.setdefault(source, []).append(f"{value['element']} {value['reported']}")
    for source, values in sources.items():
        yield from said("  from", f"{source}: {' '.join(values)}")
    yield ""


def _judgements(data: Mapping[str, Any]) -> Iterator[str]:
    for judged in data["judgements"]:
        size = f", {judged['size_mm']} mm" if judged["size_mm"] else ""
        grade = "" if judged["grade"] == judged["requirement"] else f" ({judged['grade']}{size})"
        yield f"{judged['subject']}: {judged['verdict'].upper()} for {judged['requirement']}{grade}"
        met = judged["limits_judged"] - len(judged["limits"])
        yield from said("  limits", f"{met} of {judged['limits_judged']} met or not applying")
        for line in judged["limits"]:
            value = line["reported"] or _bounds(line)
            words = f"{line['quantity']} {line['sense']} {line['limit']}: {value}, {line['verdict']}"
            yield from said("  not met", f"{words} [{line['status']}: {line['source'] or 'no source named'}]")
            if line["note"]:
                yield from said("", line["note"])
    if data["judgements"]:
        yield ""


def _bounds(line: Mapping[str, Any]) -> str:
    if line["value"] is not None:
        return f"{float(line['value']):.4f}"
    low, high = line["low"], line["high"]
    if low is None and high is None:
        return "not reported"
    ends = ("?" if end is None else f"{float(end):.4f}" for end in (low, high))
    return f"between {' and '.join(ends)}"


def _holds(data: Mapping[str, Any]) -> Iterator[str]:
    for hold in data["holds"]:
        yield f"hold {hold['hold_no']} ({hold['reason']}) on {hold['scope']}: {hold['state']}"
        yield from said("  note", hold["note"])
        yield from said("  bars", hold["requirement"] or "all uses")
        yield from said("  lifted on", hold["lift_on"])
        for step in hold["steps"]:
            shown = "".join(f"; {asked}: {ref}" for asked, ref in (step["evidence"] or {}).items())
            note = f"; {step['note']}" if step["note"] else ""
            yield from said(f"  {step['state']}", f"by {step['by']}, {step['at']}{shown}{note}")
    if data["holds"]:
        yield ""


def _decisions(data: Mapping[str, Any]) -> Iterator[str]:
    for made in data["decisions"]:
        qualifier = f" {made['qualifier']}" if made["qualifier"] else ""
        what = f"{made['kind']}{qualifier} of {made['subject']}"
        yield f"decision {made['decision_no']}: {what} for {made['requirement']}"
        how = "signed" if made["signed"] else "unsigned: the name is the person's own statement"
        yield from said("  by", f"{made['by']}, {made['at']}, {how}")
        yield from said("  rules said", made["verdict"])
        if made["reason"] or made["note"]:
            yield from said("  reason", ": ".join(w for w in (made["reason"], made["note"]) if w))
        yield from said("  facts", f"frozen, SHA-256 {made['snapshot_digest'][:16]}...")
    if data["decisions"]:
        yield ""


def _values(data: Mapping[str, Any]) -> Iterator[str]:
    for value in data["works_values"]:
        if isinstance(value["value"], dict):
            continue
        edition = f"edition {value['edition']}" if value["edition"] else "as shipped"
        shown = value["value"] if not isinstance(value["value"], list) else ", ".join(map(str, value["value"]))
        yield from said("works value", f"{value['name']}, {edition}: {shown}")
