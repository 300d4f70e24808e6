"""`heattrace analysis ...`: one analysis, or the cast analysis that speaks for a heat and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import tzinfo
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, table
from heattrace.store.recorded import shown_at
from heattrace.tracing.analyses import UNIT, RecordedAnalysis, RecordedSample, digits
from heattrace.tracing.chemistry import HeatChemistry

analysis_app = new_app("Analyses, and the cast analysis of a heat.")

Burns = Sequence[tuple[str, Mapping[str, Any]]]


@analysis_app.callback()
def analyses() -> None:
    """Analyses, and the cast analysis of a heat."""


@analysis_app.command("show")
def show_analysis(
    number: Annotated[str, typer.Argument(metavar="A-N|HEAT", help="An analysis, or a heat for its cast analysis.")],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show an analysis with its burns; of a heat its cast analysis, the source of each element, the rule and why.

    \b
    Example:
        heattrace analysis show 41878
        heattrace analysis show A-12
    """
    from heattrace.store.engine import open_reader
    from heattrace.store.works import works_zone
    from heattrace.tracing.analyses import burns_of
    from heattrace.tracing.chemistry import chemistry_of_heat
    from heattrace.tracing.numbered import HEAT
    from heattrace.tracing.numbers import find
    from heattrace.tracing.samples import analysis_key, analysis_numbered

    with open_reader(db) as reader:
        practice, zone = reader.is_practice(), works_zone(reader)
        key = analysis_key(number)
        if key is None:
            chemistry = chemistry_of_heat(reader, find(reader, number, kind=HEAT).id)
            data = {
                "heat_no": chemistry.heat_no,
                "cast_analysis": chemistry.cast_json(),
                "samples": chemistry.samples_json(zone),
            }
            answer = Answer("analysis show", data, lambda: cast_lines(chemistry), chemistry.choice.findings)
        else:
            sample, analysis = analysis_numbered(reader, key)
            burns = burns_of(reader, [key]).get(key, [])
            speaks = sample.heat_id is not None and key in chemistry_of_heat(reader, sample.heat_id).cast_ids()
            data = {"analysis": _analysis_json(sample, analysis, burns, zone, speaks)}
            answer = Answer("analysis show", data, lambda: _lines(sample, analysis, burns, zone, speaks))
    answer.practice = practice
    give(answer, as_json=as_json)


def _analysis_json(
    sample: RecordedSample, analysis: RecordedAnalysis, burns: Burns, zone: tzinfo, speaks: bool
) -> dict[str, Any]:
    return {
        **analysis.as_json(is_cast=speaks),
        "sample_id": sample.sample_id,
        "kind": sample.kind,
        "heat_no": sample.heat_no,
        "instrument": analysis.instrument or None,
        "profile": analysis.profile,
        "analysed_at": shown_at(analysis.analysed_at, zone),
        "why": analysis.why or None,
        "laboratory": analysis.laboratory,
        "report_no": analysis.report_no,
        "results": [
            {
                "element": element,
                "reported": digits(result.amount),
                "unit": UNIT,
                "written_unit": result.unit,
                "method": result.method or analysis.method,
                "places_lost": result.places_lost,
            }
            for element, result in analysis.results.items()
        ],
        "burns": [{"burn": label, "results": dict(contents)} for label, contents in burns],
    }


def _lines(
    sample: RecordedSample, analysis: RecordedAnalysis, burns: Burns, zone: tzinfo, speaks: bool
) -> Iterator[str]:
    heat = f"heat {sample.heat_no}" if sample.heat_no else "no heat"
    yield f"analysis {analysis.analysis_no}: sample {sample.sample_id} ({sample.kind}), {heat}"
    yield f"  run       {analysis.method} {analysis.instrument}".rstrip() + f", {shown_at(analysis.analysed_at, zone)}"
    yield f"  state     {analysis.state}" + (f" ({analysis.why})" if analysis.why else "")
    yield f"  use       {'speaks for the heat' if speaks else 'does not speak for the heat'}"
    yield f"  source    profile {analysis.profile}" + (f", report {analysis.report_no}" if analysis.report_no else "")
    yield ""
    rows = []
    for element, result in analysis.results.items():
        note = "a spreadsheet may have dropped trailing zeros" if result.places_lost else ""
        burnt = [str(contents.get(element) or "") for _, contents in burns]
        rows.append([element, digits(result.amount) or "not reported", *burnt, result.method, note])
    head = ["mass %", "reported", *(f"burn {label}" for label, _ in burns), "own method", "note"]
    if rows:
        yield from table(head, rows, right=range(1, 2 + len(burns)))
    else:
        yield "no results: nobody has said which burns count"
        for label, contents in burns:
            yield f"  burn {label}: " + " ".join(f"{e}={c}" for e, c in contents.items() if c is not None)


def cast_lines(chemistry: HeatChemistry) -> Iterator[str]:
    """The cast analysis of a heat: each element with its source, then the reasons in words."""
    choice = chemistry.choice
    state = "frozen" if chemistry.frozen is not None else "as the ladder chooses now, not frozen yet"
    if choice.picks:
        yield f"heat {chemistry.heat_no}: cast analysis by {choice.rule}, {state}"
        yield ""
        rows = [
            (element, pick.amount.shown(), pick.analysis_no, pick.sample_id, pick.kind, pick.method, pick.rule)
            for element, pick in choice.picks.items()
        ]
        yield from table(["mass %", "reported", "analysis", "sample", "kind", "method", "rule"], rows, right=[1])
    else:
        yield f"heat {chemistry.heat_no}: no cast analysis"
    if choice.words:
        yield ""
        yield "why"
        for words in choice.words:
            yield f"  {words}"
