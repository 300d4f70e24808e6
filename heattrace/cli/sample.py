"""`heattrace sample ...`: the samples of the record and what was found in them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import tzinfo
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, table
from heattrace.store.recorded import shown_at
from heattrace.tracing.analyses import RecordedAnalysis, RecordedSample, digits

sample_app = new_app("Samples of steel and their analyses.")


@sample_app.callback()
def samples() -> None:
    """Samples of steel and their analyses."""


@sample_app.command("list")
def list_samples(
    heat: Annotated[str | None, typer.Option("--heat", metavar="HEAT", help="Only those of this heat.")] = None,
    limit: Annotated[
        int, typer.Option("--limit", metavar="N", min=1, help="Without a heat: at most so many, the newest.")
    ] = 1000,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """List samples with their analyses, the state of each, and which speak for the heat.

    \b
    Example:
        heattrace sample list --heat 41878
    """
    from heattrace.store.engine import open_reader
    from heattrace.store.works import works_zone
    from heattrace.tracing.chemistry import chemistry_of_heats
    from heattrace.tracing.numbered import HEAT
    from heattrace.tracing.numbers import find
    from heattrace.tracing.samples import newest_samples

    with open_reader(db) as reader:
        practice, zone = reader.is_practice(), works_zone(reader)
        if heat is not None:
            chemistry = chemistry_of_heats(reader, [find(reader, heat, kind=HEAT).id])
            found, more = [sample for each in chemistry.values() for sample in each.samples], False
        else:
            found, more = newest_samples(reader, limit)
            chemistry = chemistry_of_heats(reader, [s.heat_id for s in found if s.heat_id is not None])
        cast_ids = frozenset(key for each in chemistry.values() for key in each.cast_ids())
    data = {"samples": [sample.as_json(zone, cast_ids) for sample in found], "more": more}
    messages = [f"the newest {limit} samples; earlier ones: --limit N, or --heat HEAT"] if more else []
    give(
        Answer(
            "sample list", data, lambda: _list_lines(found, zone, cast_ids), messages=messages, practice=practice
        ),
        as_json=as_json,
    )  # fmt: skip


@sample_app.command("show")
def show_sample(
    number: Annotated[str, typer.Argument(metavar="SAMPLE", help="Number of the sample.")],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show one sample: where and when it was taken, every analysis with its digits as reported.

    \b
    Example:
        heattrace sample show 41878-T1
    """
    from heattrace.store.engine import open_reader
    from heattrace.store.works import works_zone
    from heattrace.tracing.chemistry import chemistry_of_heats
    from heattrace.tracing.samples import samples_numbered

    with open_reader(db) as reader:
        practice, zone = reader.is_practice(), works_zone(reader)
        found = samples_numbered(reader, number)
        chemistry = chemistry_of_heats(reader, [s.heat_id for s in found if s.heat_id is not None])
        cast_ids = frozenset(key for each in chemistry.values() for key in each.cast_ids())
    data = {"samples": [_sample_json(sample, zone, cast_ids) for sample in found]}
    give(
        Answer("sample show", data, lambda: _show_lines(found, zone, cast_ids), practice=practice),
        as_json=as_json,
    )


def _sample_json(sample: RecordedSample, zone: tzinfo, cast_ids: frozenset[int]) -> dict[str, Any]:
    """The promised sample with its particulars."""
    return {
        **sample.as_json(zone, cast_ids),
        "sound": sample.sound,
        "state": sample.state or None,
        "piece_no": sample.piece_no,
        **{name: sample.particulars.get(name) for name in PARTICULARS},
    }


PARTICULARS = ("tundish", "strand_no", "position_m", "ladle_mass_left_t", "piece_end", "laboratory", "report_no")


def _list_lines(found: Sequence[RecordedSample], zone: tzinfo, cast_ids: frozenset[int]) -> Iterator[str]:
    rows = [_row(sample, a, zone, cast_ids) for sample in found for a in sample.analyses or (None,)]
    if not rows:
        yield "no samples"
        return
    yield from table(["heat", "sample", "kind", "taken", "analysis", "method", "state", "use", "reports"], rows)


def _row(
    sample: RecordedSample, analysis: RecordedAnalysis | None, zone: tzinfo, cast_ids: frozenset[int]
) -> tuple[object, ...]:
    about = (sample.heat_no, sample.sample_id, sample.kind, shown_at(sample.taken_at, zone))
    if analysis is None:
        return (*about, "", "", "no analysis", "", "")
    state = analysis.state if sample.sound else f"{analysis.state}, sample condemned"
    use = "cast" if analysis.analysis_id in cast_ids else ""
    return (*about, analysis.analysis_no, analysis.method, state, use, " ".join(analysis.results))


def _show_lines(found: Sequence[RecordedSample], zone: tzinfo, cast_ids: frozenset[int]) -> Iterator[str]:
    for number, sample in enumerate(found):
        if number:
            yield ""
        yield from sample_lines(sample, zone, cast_ids)


def sample_lines(sample: RecordedSample, zone: tzinfo, cast_ids: frozenset[int]) -> Iterator[str]:
    """One sample in full: its particulars, then its analyses side by side."""
    heat = f"heat {sample.heat_no}" if sample.heat_no else "no heat"
    yield f"sample {sample.sample_id}: {sample.kind}, {heat}"
    yield f"  taken    {shown_at(sample.taken_at, zone) or 'time not recorded'}"
    if sample.piece_no:
        yield f"  piece    {sample.piece_no}"
    for name in PARTICULARS:
        if name in sample.particulars:
            yield f"  {name.replace('_', ' ')} {sample.particulars[name]}"
    if sample.state:
        yield f"  state    {sample.state} ({sample.why})"
    for analysis in sample.analyses:
        use = ", speaks for the heat" if analysis.analysis_id in cast_ids else ""
        why = f" ({analysis.why})" if analysis.why else ""
        run = f"{analysis.method} {analysis.instrument}".rstrip()
        yield f"  {analysis.analysis_no}  {run}, {shown_at(analysis.analysed_at, zone)}: {analysis.state}{why}{use}"
    if any(analysis.results for analysis in sample.analyses):
        yield ""
        yield from results_table(sample.analyses)


def results_table(analyses: Sequence[RecordedAnalysis]) -> list[str]:
    """Digits as reported, mass %: a row an element, a column an analysis; blank where it does not name the element."""
    elements = dict.fromkeys(element for analysis in analyses for element in analysis.results)
    rows = [
        [
            element,
            *(
                "" if (result := a.results.get(element)) is None else digits(result.amount) or "not reported"
                for a in analyses
            ),
        ]
        for element in elements
    ]
    return table(["mass %", *(a.analysis_no for a in analyses)], rows, right=range(1, len(analyses) + 1))
