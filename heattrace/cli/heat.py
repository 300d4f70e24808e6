"""`heattrace heat ...`: the heats of the record, and everything known of one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import tzinfo
from typing import Annotated, Any

import typer

from heattrace.cli.analysis import cast_lines
from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, table
from heattrace.errors import WrongUsage
from heattrace.store.recorded import shown_at
from heattrace.tracing.heat_list import HeatLine
from heattrace.tracing.heat_record import HeatRecord
from heattrace.tracing.quality import WORST
from heattrace.tracing.superheat import shown_superheat

heat_app = new_app("Heats: their grade, quality and record.")


@heat_app.callback()
def heats() -> None:
    """Heats: their grade, quality and record."""


@heat_app.command("list")
def list_heats(
    quality: Annotated[
        str | None, typer.Option("--quality", metavar="Q", help=f"Only those {', '.join(WORST)}.")
    ] = None,
    newest: Annotated[int | None, typer.Option("--newest", metavar="N", min=1, help="Only the newest so many.")] = None,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """List the heats with their planned grade, quality (the worst over what they are ordered for) and record state.

    \b
    Example:
        heattrace heat list --quality undecided
    """
    from heattrace.store.engine import open_reader
    from heattrace.store.works import works_zone
    from heattrace.tracing.heat_list import heat_lines

    if quality is not None and quality not in WORST:
        raise WrongUsage(f'--quality: "{quality}" is none of {", ".join(WORST)}')
    with open_reader(db) as reader:
        practice, zone = reader.is_practice(), works_zone(reader)
        found = [line for line in heat_lines(reader, newest=newest) if quality in (None, line.quality)]
    give(
        Answer(
            "heat list", {"heats": [line.as_json(zone) for line in found]}, lambda: _list_lines(found, zone),
            practice=practice,
        ),
        as_json=as_json,
    )  # fmt: skip


def _list_lines(found: Sequence[HeatLine], zone: tzinfo) -> Iterator[str]:
    if not found:
        yield "no heats"
        return
    rows = [
        (
            line.heat_no,
            line.series,
            line.grade or "no grade",
            line.quality,
            ", ".join(text for text, _ in line.qualities if text not in (None, line.grade)),
            line.record,
            shown_at(line.tapped_at, zone),
        )
        for line in found
    ]
    yield from table(["heat", "series", "grade", "quality", "orders", "record", "tapped"], rows)


@heat_app.command("show")
def show_heat(
    number: Annotated[str, typer.Argument(metavar="HEAT", help="Number of the heat.")],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show the record of one heat: grade, tapping, pours, additions, analyses, superheat, orders, holds, decisions.

    \b
    Example:
        heattrace heat show 41878
    """
    from heattrace.store.engine import open_reader
    from heattrace.tracing.heat_record import heat_record
    from heattrace.tracing.numbered import HEAT
    from heattrace.tracing.numbers import find

    with open_reader(db) as reader:
        practice = reader.is_practice()
        record = heat_record(reader, find(reader, number, kind=HEAT).id)
    give(
        Answer("heat show", record.data, lambda: record_lines(record), record.findings, practice=practice),
        as_json=as_json,
    )


def record_lines(record: HeatRecord) -> Iterator[str]:
    """The screen of one heat; what there is none of stays out."""
    yield from _head(record.data["heat"], record.data["pieces"])
    yield from _section(
        "additions", record.data["additions"], {"added": "added_at", "kg": "mass_kg", "material": "material"}
    )
    yield ""
    yield from cast_lines(record.chemistry)
    yield from _analyses(record.data["samples"])
    yield from _readings(record)
    lines = [{**line, "order": f"{line['order_no']}/{line['line']}"} for line in record.data["order_lines"]]
    yield from _section(
        "order lines", lines,
        {"order": "order", "customer": "customer", "grade": "grade", "form": "form", "mm": "thickness_mm",
         "pieces": "pieces"},
    )  # fmt: skip
    yield from _section(
        "holds", record.data["holds"],
        {"hold": "hold_no", "state": "state", "reason": "reason", "note": "note", "for": "requirement",
         "lift on": "lift_on"},
    )  # fmt: skip
    decisions = [{**d, "how": "signed" if d["signed"] else "unsigned"} for d in record.data["decisions"]]
    yield from _section(
        "decisions", decisions,
        {"decision": "decision_no", "kind": "kind", "for": "requirement", "by": "by", "at": "at", "": "how"},
    )  # fmt: skip


def _head(heat: Mapping[str, Any], pieces: Mapping[str, Any]) -> Iterator[str]:
    yield f"heat {heat['heat_no']} (series {heat['series']}): {heat['quality'].upper()}, record {heat['record']}"
    yield f"  grade    {heat['grade'] or 'none planned'}"
    mass = f", {heat['tapped_mass_t']} t" if heat["tapped_mass_t"] else ""
    yield f"  tapped   {heat['tapped_at'] or 'time not recorded'}{mass}"
    if heat["ladle_no"]:
        yield f"  ladle    {heat['ladle_no']}"
    for pour in heat["pours"]:
        until = f" to {pour['closed_at']}" if pour["closed_at"] else ", still open"
        yield f"  poured   {pour['opened_at']}{until}, sequence {pour['sequence_no']}, tundish {pour['tundish']}"
    if heat["evidence"]:
        yield f"  evidence {', '.join(heat['evidence'])}"
    for quality in heat["qualities"]:
        yield f"  for {quality['requirement'] or 'no requirement'}: {quality['quality']}, {quality['because']}"
    counted = ", ".join(f"{count} {word}" for word, count in pieces["by_quality"].items())
    yield f"  pieces   {pieces['count']}" + (f" ({counted})" if counted else "")


def _analyses(samples: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    if not samples:
        return
    yield ""
    yield "samples"
    rows = [
        (
            sample["sample_id"], sample["kind"], sample["taken_at"], analysis["analysis_no"], analysis["method"],
            analysis["state"], "cast" if analysis["is_cast"] else "",
        )
        for sample in samples
        for analysis in sample["analyses"] or ({"analysis_no": "", "method": "", "state": "no analysis", "is_cast": 0},)
    ]  # fmt: skip
    yield from table(["sample", "kind", "taken", "analysis", "method", "state", "use"], rows)


def _readings(record: HeatRecord) -> Iterator[str]:
    readings = record.data["temperatures"]
    if not readings:
        return
    over = {(entry.tundish, entry.read_at): shown_superheat(entry) for entry in record.superheat}
    formula = f", superheat by {record.superheat[0].liquidus_formula}" if record.superheat else ""
    yield ""
    yield f"temperatures{formula}"
    rows = [
        (
            reading["read_at"], reading["place"], reading["tundish"], reading["temperature_c"],
            over.get((reading["tundish"], reading["read_at"]), "") if reading["place"] == "tundish" else "",
        )
        for reading in readings
    ]  # fmt: skip
    yield from table(["read at", "place", "tundish", "degree C", "superheat"], rows, right=[3, 4])


def _section(title: str, rows: Sequence[Mapping[str, Any]], columns: Mapping[str, str]) -> Iterator[str]:
    """One list of the record as a table; nothing where it is empty."""
    if rows:
        yield ""
        yield title
        yield from table(list(columns), [[row[name] for name in columns.values()] for row in rows])
