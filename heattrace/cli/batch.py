"""`heattrace batch ...`: imports as wholes: list, show, undo."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, By, Database, Yes, require_by
from heattrace.cli.output import Answer, give, table, visible

if TYPE_CHECKING:
    from datetime import tzinfo

    from heattrace.store.reader import Row

batch_app = new_app("Imports as wholes.")

Number = Annotated[str, typer.Argument(metavar="I-...", help="The import.")]


@batch_app.command("list")
def list_(db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """List all imports, the undone ones too, oldest first.

    \b
    Example:
        heattrace batch list
    """
    from heattrace.intake.batches.batch import ALL
    from heattrace.store.engine import open_reader
    from heattrace.store.works import works_zone

    with open_reader(db) as reader:
        practice = reader.is_practice()
        zone = works_zone(reader)
        rows = reader.all(ALL)
    batches = [_object(row, zone) for row in rows]

    def lines() -> Iterable[str]:
        if not batches:
            yield 'nothing was imported yet; "heattrace import FILE --profile P"'
            return
        yield from table(
            ["import", "at", "by", "file", "profile", "state", "read", "taken", "same", "contested", "bench",
             "waiting"],
            [
                (
                    b["batch"], b["at"], b["by"], b["file"], b["profile"], b["state"],
                    *(b["rows"][name] for name in ("read", "taken", "same", "contested", "bench")), b["waiting"],
                )
                for b in batches
            ],
            right=range(6, 12),
        )  # fmt: skip

    give(Answer("batch list", {"batches": batches}, lines, practice=practice), as_json=as_json)


def _object(row: Row, zone: tzinfo) -> dict[str, Any]:
    from heattrace.intake.batches.batch import rows_of, state_of
    from heattrace.store.recorded import shown_at

    return {
        "batch": f"I-{row['batch_id']}", "file": row["file"], "profile": row["profile"], "state": state_of(row),
        "rows": rows_of(row), "kind": row["kind"], "profile_edition": row["profile_edition"], "sha256": row["sha256"],
        "at": shown_at(row["at"] // 1000 * 1000, zone), "by": row["by"], "entry_no": row["entry_no"],
        "waiting": row["waiting"],
    }  # fmt: skip


@batch_app.command("show")
def show(number: Number, db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """Show one import: its slip, its rows on the bench, and what it brought.

    \b
    Example:
        heattrace batch show I-12
    """
    from heattrace.findings import Finding
    from heattrace.intake.batches.batch import batch_number, batch_row, facts_of, slip_of
    from heattrace.intake.bench.rows import OF_BATCH, line_of
    from heattrace.store.engine import open_reader
    from heattrace.store.recorded import shown_at
    from heattrace.store.works import works_zone

    with open_reader(db) as reader:
        practice = reader.is_practice()
        zone = works_zone(reader)
        row = batch_row(reader, batch_number(number))
        facts = facts_of(reader, row["batch_id"])
        bench = [(line_of(r), r["state"]) for r in reader.all(OF_BATCH, batch_id=row["batch_id"])]
    slip = slip_of(row)
    findings = [Finding(**found) for found in slip["findings"]]
    data: dict[str, Any] = _object(row, zone) | {
        "facts": facts, "bench": [line.as_json() | {"state": state} for line, state in bench], "notes": slip["notes"],
    }  # fmt: skip
    if row["ended_no"] is not None:
        data |= {"undone_at": shown_at(row["undone_at"] // 1000 * 1000, zone), "undone_by": row["undone_by"]}

    def lines() -> Iterable[str]:
        yield f"{data['batch']}  {visible(data['file'])}  {data['state']}"
        edition = f" edition {row['profile_edition']}" if row["profile_edition"] else ""
        yield f"  profile {data['profile']}{edition}, digest {data['sha256']}"
        yield f"  {data['at']} by {visible(data['by'])}, ledger entry {data['entry_no']}"
        if "undone_at" in data:
            yield f"  undone {data['undone_at']} by {visible(data['undone_by'])}"
        yield "  rows    " + ", ".join(f"{count} {name}" for name, count in data["rows"].items() if count)
        if facts:
            yield "  brought " + ", ".join(f"{count} {name}" for name, count in facts.items())
        for note in slip["notes"]:
            yield f"  note    {visible(note)}"
        for line, state in bench:
            yield f"  {line.bench_no}  {state}  {line.code}  {visible(line.message)}"

    give(Answer("batch show", {"batch": data}, lines, findings, practice=practice), as_json=as_json)


@batch_app.command("undo")
def undo(
    number: Number,
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    yes: Yes = False,
    as_json: AsJson = False,
) -> None:
    """Undo an import as a whole; nothing is deleted, and the same file may then come again.

    It is refused while a fact of another import, a cast analysis, a decision or a hold rests on one of its rows; each
    is named.

    \b
    Exit status: 0 undone, 1 refused, nothing changed.

    \b
    Example:
        heattrace batch undo I-12 --by "A. Weber"
    """
    from heattrace.intake.batches.batch import batch_number
    from heattrace.intake.batches.batch import undo as undo_batch
    from heattrace.store.work import begin_work

    batch_id = batch_number(number)
    with begin_work(db, by=require_by(by), action="batch undo", subject=f"I-{batch_id}") as work:
        practice = work.reader.is_practice()
        ended = undo_batch(work, batch_id)
        work.commit()
    told = {name: count for name, count in ended.items() if name not in ("batch", "batch_count")}
    data = {"batch": f"I-{batch_id}", "state": "undone", "ended": told}
    words = ", ".join(f"{count} {name}" for name, count in sorted(told.items())) or "it had brought nothing"
    give(
        Answer(
            "batch undo", data, lambda: [f"I-{batch_id} undone: {words}"],
            messages=["nothing was deleted; the same file may be imported again"], practice=practice,
        ),
        as_json=as_json,
    )  # fmt: skip
