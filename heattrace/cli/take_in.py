"""`heattrace import`: files into the record."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, By, Database, Yes, require_by
from heattrace.cli.output import Answer, give

if TYPE_CHECKING:
    from heattrace.intake.loading.slip import FileAnswer

import_app = new_app("Take in files.", single=True)

BAR = 30


@import_app.command()
def import_(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="Files; a folder or workbook of sheets counts as one.")
    ],
    profile: Annotated[
        str, typer.Option("--profile", metavar="P", help="How they are written; heattrace profile list.")
    ],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Do everything but write: rows and bench as they would be.")
    ] = False,
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    yes: Yes = False,
    as_json: AsJson = False,
) -> None:
    """Take in analyses, a cast book, a grade book, orders, heats, temperatures, events, loads ...

    Each file is one import: all of it or nothing, known again by its digest, undone as a whole (batch undo). A fault
    that makes other cells uncertain refuses the file; a fault of one row puts that row on the bench, the rest goes in.
    A question about meaning is never answered by --yes: such a row waits on the bench.

    \b
    Exit status: 0 all taken (or taken before), 1 nothing taken, 3 taken and something needs a person: rows on the
    bench, contested analyses, a file among several that was refused.

    \b
    Example:
        heattrace import lab-0412.csv --profile lab-wide --by "A. Weber"
        heattrace import casts/S31 --profile cast-book --dry-run
        heattrace import week15/*.csv --profile spark-east --by "A. Weber" --json
    """
    from heattrace.errors import FileRefused
    from heattrace.intake.batches.import_file import import_file, refused
    from heattrace.store.engine import open_reader

    writer = (by or "").strip() or "dry run" if dry_run else require_by(by)
    with open_reader(db) as reader:
        practice = reader.is_practice()
    answers: list[FileAnswer] = []
    messages: list[str] = []
    for path in files:
        try:
            with ProgressBar(path) as progress:
                answers.append(import_file(db, path, profile, by=writer, dry_run=dry_run, progress=progress))
        except FileRefused as why:
            answers.append(refused(db, path, profile, why))
        except KeyboardInterrupt:
            if not answers:
                raise
            messages.append(f"interrupted: {path} and the files after it were not taken; what stands above was")
            break
    _give(answers, messages, practice=practice, interrupted=bool(messages), as_json=as_json)


def _give(answers: list[FileAnswer], messages: list[str], *, practice: bool, interrupted: bool, as_json: bool) -> None:
    from heattrace.intake.loading.slip import lines_of_slip

    refused_files = [answer for answer in answers if answer.state == "refused"]
    if len(refused_files) == len(answers):
        status = "refused"
    elif refused_files or interrupted or any(answer.attention for answer in answers):
        status = "attention"
    else:
        status = "done"
    messages += _next_steps(answers)

    def lines() -> Iterable[str]:
        for number, answer in enumerate(answers):
            if number:
                yield ""
            yield from lines_of_slip(answer)

    findings = [finding for answer in answers for finding in answer.findings]
    data = {"files": [answer.as_json() for answer in answers]}
    give(Answer("import", data, lines, findings, messages, status, practice), as_json=as_json)


def _next_steps(answers: list[FileAnswer]) -> list[str]:
    taken = [answer for answer in answers if answer.state in ("taken", "taken-with-bench")]
    waiting = sum(len(answer.bench) for answer in taken)
    steps = []
    if waiting:
        steps.append(f"{waiting} rows wait on the bench: heattrace bench list")
    if taken:
        steps.append(f"to take an import back as a whole: heattrace batch undo {taken[-1].batch}")
    return steps


class ProgressBar:
    """A progress bar on standard error while a file is read; nothing where that is no terminal."""

    def __init__(self, path: Path) -> None:
        self.name = path.name
        self.drawn = False

    def __enter__(self) -> Callable[[int, int | None], None] | None:
        return self._draw if sys.stderr.isatty() else None

    def _draw(self, done: int, expected: int | None) -> None:
        self.drawn = True
        share = min(done / expected, 1.0) if expected else 0.0
        bar = "#" * round(share * BAR)
        sys.stderr.write(f"\r{self.name[:40]}  [{bar.ljust(BAR, '.')}] {done} rows")
        sys.stderr.flush()

    def __exit__(self, *_: object) -> None:
        if self.drawn:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
