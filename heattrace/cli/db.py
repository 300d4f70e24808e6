"""`heattrace db ...`: make, upgrade, look at, check, back up and restore the database file."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, By, Database, require_by
from heattrace.cli.output import Answer, give, table

db_app = new_app("Make, upgrade, look at, check, back up and restore the database file.")


@db_app.command("init")
def init(
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    practice: Annotated[bool, typer.Option("--practice", help="Mark it practice on every screen.")] = False,
    as_json: AsJson = False,
) -> None:
    """Make a new database with all tables and the shipped grade book.

    \b
    Exit status: 0 made, 1 refused (the file exists, its folder does not, a network share).

    \b
    Example:
        heattrace db init --db works.db --by "A. Weber"
    """
    from heattrace.intake.first_entry import make_database

    path, limits = make_database(db, by=require_by(by), practice=practice)
    messages = [
        "The shipped limits are gathered facts, not the standards: compare them with the edition named in the order. "
        "The decision is the authorised person's."
    ]
    data: dict[str, Any] = {"path": str(path), "practice": practice, "limits": limits}
    give(
        Answer(
            "db init", data, lambda: [f"made {path} with {limits} shipped limits"], messages=messages, practice=practice
        ),
        as_json=as_json,
    )


@db_app.command("upgrade")
def upgrade(db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """Bring an older database to this program's schema; a backup is made first.

    \b
    Example:
        heattrace db upgrade --db works.db
    """
    from heattrace.store.migrate import upgrade as run_upgrade

    before, after, saved = run_upgrade(db)
    words = (
        f"already at schema {after}; nothing was changed"
        if saved is None
        else f"schema {before} -> {after}; the file as it was lies in {saved}"
    )
    data = {"before": before, "after": after, "backup": None if saved is None else str(saved)}
    give(Answer("db upgrade", data, lambda: [words], practice=_is_practice(db)), as_json=as_json)


def _is_practice(db: str) -> bool:
    """Whether a file is marked practice, whatever schema it stands at."""
    from contextlib import closing

    from heattrace.store.engine import open_file
    from heattrace.store.reader import Reader

    connection, _ = open_file(db, any_schema=True)
    with closing(connection):
        return Reader(connection).is_practice()


@db_app.command("info")
def info(db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """Schema, practice mark, and rows of every table: those that stand, and all that were ever stored.

    \b
    Example:
        heattrace db info
    """
    import sqlite3

    from heattrace.config import SCHEMA
    from heattrace.store.check import standing_counts, table_counts
    from heattrace.store.engine import open_reader

    with open_reader(db) as reader:
        counts = standing_counts(reader)
        stored = table_counts(reader)
        practice = reader.is_practice()
        name = reader.name
    data = {
        "schema": SCHEMA,
        "practice": practice,
        "tables": counts,
        "stored": stored,
        "sqlite": sqlite3.sqlite_version,
        "path": name,
    }

    def lines() -> Iterable[str]:
        yield f"{name}: schema {SCHEMA}, SQLite {sqlite3.sqlite_version}, {'practice' if practice else 'real record'}"
        rows = [(n, counts[n], c) for n, c in stored.items() if c]
        yield from table(["table", "standing", "stored"], rows, right=[1, 2])
        empty = sum(1 for c in stored.values() if not c)
        yield f"and {empty} tables without a row"

    give(Answer("db info", data, lines, practice=practice), as_json=as_json)


@db_app.command("check")
def check(db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """Is the file whole: integrity, references, guards, the ledger's chain, the rows of every import, what was derived.

    \b
    Exit status: 0 everything held, 3 something did not (it is named).

    \b
    Example:
        heattrace db check --json
    """
    from heattrace.intake.batches.content_check import check_imports
    from heattrace.store.check import check_database
    from heattrace.store.engine import open_reader

    with open_reader(db) as reader:
        done = check_database(reader)
        imports = check_imports(reader)
        practice = reader.is_practice()
    done.findings += imports.findings
    data = done.data | {"imports": imports.as_json(), "ok": done.ok and not imports.altered}
    ok = bool(data["ok"])

    def lines() -> Iterable[str]:
        chain = data["ledger"]
        yield f"file integrity   {data['integrity']}"
        yield f"references       {data['foreign_keys']}"
        yield f"guards           {data['guards'] if data['guards'] == 'ok' else _guards(data['guards'])}"
        broken = "unbroken" if chain["broken_at"] is None else f"BROKEN at entry {chain['broken_at']}"
        yield f"ledger           {chain['entries']} entries, {broken}, tip {chain['tip'][:16]}"
        altered = f"ALTERED since: {', '.join(imports.altered)}" if imports.altered else "as they were written"
        yield f"imports          {imports.checked}, rows {altered}"
        yield f"derived          {data['derived']['placements']} placed parts, {data['derived']['faults']} faults"
        yield f"decisions        {data['signatures']['unsigned_decisions']} unsigned"
        yield "everything held" if ok else "NOT everything held; see below"

    messages = [
        "A chain computed anew by whoever holds the file, or a removed tail, cannot be seen here: "
        "compare the tip with a digest printed earlier."
    ]
    give(
        Answer("db check", data, lines, done.findings, messages, "done" if ok else "attention", practice),
        as_json=as_json,
    )


def _guards(wrong: list[str]) -> str:
    from heattrace.store.check import FEW

    more = f" and {len(wrong) - FEW} more" if len(wrong) > FEW else ""
    return f"{len(wrong)} missing or changed: {', '.join(wrong[:FEW])}{more}"


@db_app.command("backup")
def backup(
    to: Annotated[Path, typer.Argument(metavar="FILE", help="New file for the copy.")],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Copy the database to a new file, consistent even while others write; the copy is checked.

    \b
    Example:
        heattrace db backup works-2026-03-01.db
    """
    from heattrace.store.backup import back_up

    size, tip = back_up(db, to)
    data = {"file": str(to), "bytes": size, "ledger_tip": tip}
    words = f"{to}: {size} bytes, checked; ledger tip {tip[:16]}"
    give(Answer("db backup", data, lambda: [words], practice=_is_practice(str(to))), as_json=as_json)


@db_app.command("restore")
def restore(
    source: Annotated[Path, typer.Argument(metavar="BACKUP", help="The backup.")],
    to: Annotated[Path, typer.Option("--to", metavar="FILE", help="New file; never an existing one.")],
    as_json: AsJson = False,
) -> None:
    """Copy a backup to a NEW file after checking it; swapping the names is left to you.

    \b
    Example:
        heattrace db restore works-2026-03-01.db --to works-restored.db
    """
    from heattrace.store.backup import restore as run_restore

    size, tip = run_restore(source, to)
    data = {"file": str(to), "bytes": size, "ledger_tip": tip}
    give(
        Answer(
            "db restore", data, lambda: [f"{to}: {size} bytes, checked; ledger tip {tip[:16]}"],
            messages=[f"Look at it first: heattrace db check --db {to}"], practice=_is_practice(str(to)),
        ),
        as_json=as_json,
    )  # fmt: skip
