"""`heattrace bench ...`: rows set aside at import: list, show, fix, attach, void."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, By, Database, require_by
from heattrace.cli.output import Answer, give, table, visible

if TYPE_CHECKING:
    from heattrace.intake.loading.slip import LoadCounts
    from heattrace.store.reader import Row
    from heattrace.store.work import Work

bench_app = new_app("Rows set aside at import: read again with a cell put right, attached to a heat, or voided.")

Numbers = Annotated[list[str], typer.Argument(metavar="B-...", help="Rows; several of one analysis go together.")]
Reason = Annotated[str, typer.Option("--reason", metavar="CODE", help="TYPING, WRONG-HEAT, DOUBLE-ROW ...")]


@bench_app.command("list")
def list_(
    waiting: Annotated[bool, typer.Option("--waiting", help="Only rows that wait (the default).")] = False,
    everything: Annotated[bool, typer.Option("--all", help="Also rows fixed, attached and voided.")] = False,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """List the rows set aside, oldest first.

    \b
    Example:
        heattrace bench list
        heattrace bench list --all --json
    """
    from heattrace.errors import WrongUsage
    from heattrace.intake.bench.rows import ALL
    from heattrace.store.engine import open_reader

    if waiting and everything:
        raise WrongUsage("--waiting and --all exclude each other")
    with open_reader(db) as reader:
        practice = reader.is_practice()
        rows = [row for row in reader.all(ALL) if everything or row["state"] == "waiting"]

    def lines() -> Iterable[str]:
        if not rows:
            yield "the bench is empty" if everything else "no row waits on the bench"
            return
        yield from table(
            ["row", "state", "import", "file", "at", "column", "found", "why"],
            [
                (
                    f"B-{r['bench_id']}", r["state"], f"I-{r['batch_id']}", r["file"], _where(r), r["column_name"],
                    _short(r["value"], 24), _why(r),
                )
                for r in rows
            ],
        )  # fmt: skip

    messages = ["each with its next step: heattrace bench show B-..."] if rows else []
    data = {"bench": [_object(row) for row in rows]}
    give(Answer("bench list", data, lines, messages=messages, practice=practice), as_json=as_json)


def _object(row: Row) -> dict[str, Any]:
    from heattrace.intake.bench.rows import line_of

    return line_of(row).as_json() | {"state": row["state"], "batch": f"I-{row['batch_id']}", "file": row["file"]}


def _where(row: Row) -> str:
    return f"{row['sheet']} row {row['row_no']}" if row["sheet"] else f"row {row['row_no']}"


def _short(text: str | None, longest: int) -> str:
    return (text or "") if len(text or "") <= longest else f"{(text or '')[: longest - 3]}..."


def _why(row: Row) -> str:
    from heattrace.intake.loading.record_codes import RECORD_CODES
    from heattrace.intake.reading.codes import CODES

    title = CODES.get(row["code"]) or RECORD_CODES.get(row["code"], "")
    return f"{row['code']} {title}"


@bench_app.command("show")
def show(
    number: Annotated[str, typer.Argument(metavar="B-...", help="The row.")],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show one row: its cells, its original bytes, why it was set aside, and what became of it.

    \b
    Example:
        heattrace bench show B-12
    """
    from heattrace.intake.bench.rows import bench_number, bench_row, story_of
    from heattrace.store.engine import open_reader
    from heattrace.store.recorded import shown_at
    from heattrace.store.works import works_zone

    with open_reader(db) as reader:
        practice = reader.is_practice()
        row = bench_row(reader, bench_number(number))
        zone = works_zone(reader)
        story = [s.as_json(shown_at(s.at // 1000 * 1000, zone)) for s in story_of(reader, row["bench_id"])]
    header, cells, raw = json.loads(row["header"]), json.loads(row["cells"]), bytes(row["raw"])
    data = _object(row) | {"profile": row["profile"], "header": header, "cells": cells, "raw_hex": raw.hex()}
    data |= {"story": story}

    def lines() -> Iterable[str]:
        yield f"B-{row['bench_id']}  {row['state']}  {_why(row)}"
        yield f"  {visible(row['message'])}"
        if row["state"] == "waiting":
            yield f"  {visible(row['next'])}"
        yield f"  import I-{row['batch_id']}, {visible(row['file'])}, {_where(row)}, profile {row['profile']}"
        yield "  cells"
        for at, cell in enumerate(cells):
            name = header[at] if at < len(header) else f"(cell {at + 1})"
            marked = "*" if row["column_name"] is not None and name.strip() == row["column_name"] else " "
            yield f"   {marked}{visible(name.strip()).ljust(20)} {visible(cell)}"
        yield f"  original bytes ({len(raw)})"
        yield f"    {visible(raw.decode('utf-8', 'backslashreplace'))}"
        for event in story:
            yield f"  {event['state']} {event['at']} by {visible(event['by'])}: {event['reason']} {event['note'] or ''}"
            for column, value in event["changes"].items():
                yield f"    {visible(column.strip())} = {visible(value)}"

    give(Answer("bench show", {"bench": data}, lines, practice=practice), as_json=as_json)


@bench_app.command("fix")
def fix(
    numbers: Numbers,
    reason: Reason,
    settings: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="COLUMN=VALUE", help="The file's column or ours; repeat for more."),
    ] = None,
    note: Annotated[str | None, typer.Option("--note", metavar="TEXT", help="The same in words.")] = None,
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Read rows again with cells put right, through the same checks, and take them in; the original bytes stay.

    Numbers have a decimal point here, whatever the file uses. Without --set a row is only tried again, for instance
    when the orders or the cast book it names have come.

    \b
    Exit status: 0 taken in, 1 still wrong (nothing was changed), 3 taken in as contested.

    \b
    Example:
        heattrace bench fix B-12 --set C=0.182 --reason TYPING --by "A. Weber"
        heattrace bench fix B-13 --reason DOC-MISSING --note "orders taken in" --by "A. Weber"
    """
    from heattrace.intake.bench.mending import check_bench_reason
    from heattrace.intake.bench.mending import fix as fix_rows

    code = check_bench_reason(reason)
    _settle("fix", numbers, db, by, as_json, lambda work, keys: fix_rows(work, keys, settings or [], code, note))


@bench_app.command("attach")
def attach(
    numbers: Numbers,
    heat: Annotated[str, typer.Option("--heat", metavar="HEAT", help="The heat; SERIES/HEAT where two fit.")],
    reason: Reason,
    note: Annotated[str | None, typer.Option("--note", metavar="TEXT", help="The same in words.")] = None,
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Take rows in for the heat you name; the original bytes stay.

    \b
    Exit status: 0 taken in, 1 still wrong (nothing was changed), 3 taken in as contested.

    \b
    Example:
        heattrace bench attach B-12 --heat 41878 --reason WRONG-HEAT --by "A. Weber"
    """
    from heattrace.intake.bench.mending import attach as attach_rows
    from heattrace.intake.bench.mending import check_bench_reason

    code = check_bench_reason(reason)
    _settle("attach", numbers, db, by, as_json, lambda work, keys: attach_rows(work, keys, heat, code, note))


def _settle(
    word: str, numbers: list[str], db: str, by: str | None, as_json: bool, act: Callable[[Work, list[int]], LoadCounts]
) -> None:
    from heattrace.intake.bench.rows import bench_number, bench_row
    from heattrace.store.work import begin_work

    keys = [bench_number(number) for number in numbers]
    named = ", ".join(f"B-{key}" for key in keys)
    with begin_work(db, by=require_by(by), action=f"bench {word}", subject=named) as work:
        practice = work.reader.is_practice()
        counts = act(work, keys)
        rows = [bench_row(work.reader, key) for key in dict.fromkeys(keys)]
        work.commit()
    data = {
        "bench": [_object(row) for row in rows],
        "rows": {"taken": counts.taken, "same": counts.same, "contested": counts.contested},
    }
    words = [f"{counts.taken} rows taken"] if counts.taken else []
    words += [f"{counts.same} known already"] if counts.same else []
    words += [f"{counts.contested} contested"] if counts.contested else []
    state = "fixed" if word == "fix" else "attached"
    lines = [f"{named} {state}: {', '.join(words) or 'nothing to write'}; the original bytes are kept"]
    status = "attention" if counts.contested else "done"
    give(Answer(f"bench {word}", data, lambda: lines, counts.findings, counts.notes, status, practice), as_json=as_json)


@bench_app.command("void")
def void(
    numbers: Numbers,
    reason: Reason,
    note: Annotated[str, typer.Option("--note", metavar="TEXT", help="Why the row is left out.")],
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Leave rows out for good; their original bytes and your reason stay.

    \b
    Example:
        heattrace bench void B-14 --reason DOUBLE-ROW --note "the sampler sent it twice" --by "A. Weber"
    """
    from heattrace.errors import WrongUsage
    from heattrace.intake.bench.mending import check_bench_reason
    from heattrace.intake.bench.mending import void as void_rows
    from heattrace.intake.bench.rows import bench_number, bench_row
    from heattrace.store.work import begin_work

    code = check_bench_reason(reason)
    if not note.strip():
        raise WrongUsage("--note: say in words why the row is left out")
    keys = [bench_number(number) for number in numbers]
    named = ", ".join(f"B-{key}" for key in keys)
    with begin_work(db, by=require_by(by), action="bench void", subject=named) as work:
        practice = work.reader.is_practice()
        void_rows(work, keys, code, note.strip())
        rows = [bench_row(work.reader, key) for key in dict.fromkeys(keys)]
        work.commit()
    data = {"bench": [_object(row) for row in rows]}
    give(
        Answer("bench void", data, lambda: [f"{named} void: left out; the original bytes are kept"], practice=practice),
        as_json=as_json,
    )
