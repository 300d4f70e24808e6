"""`heattrace demo [FOLDER]`: the practice database of an invented works."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import AsJson
from heattrace.cli.output import PRACTICE_MARK, Answer, give

demo_app = new_app("Build a practice database and walk through the main job.", single=True)


@demo_app.command()
def demo(
    folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="Where to build it.")] = Path("heattrace-demo"),
    again: Annotated[bool, typer.Option("--again", help="Replace an existing practice database there.")] = False,
    as_json: AsJson = False,
) -> None:
    """Build the practice database of an invented works and walk three people through their main job.

    It is made from the works' files by the same import a clerk uses; the files are put beside it to play with. An
    existing database is replaced only with --again, and only where it is marked practice.

    \b
    Example:
        heattrace demo
        heattrace demo training --again
    """
    import time

    from heattrace.cli.app import main, silence
    from heattrace.demo.walk import copy_files, walk
    from heattrace.errors import DatabaseRefused
    from heattrace.intake.first_entry import make_database

    begun = time.perf_counter()
    db = folder / "heattrace.db"
    try:
        _clear(db, again=again)
        folder.mkdir(parents=True, exist_ok=True)
        files = copy_files(folder)
    except OSError as fault:
        raise DatabaseRefused(
            f"{folder}: the practice files cannot be put there ({fault.strerror or fault}); name another folder"
        ) from None
    reader_left = False

    def say(text: str) -> None:
        nonlocal reader_left
        if reader_left:
            return
        try:
            print(text, file=sys.stderr if as_json else sys.stdout, flush=True)
        except BrokenPipeError:
            # Who reads our output went away (for instance `| head`): the database is still to be built whole.
            reader_left = True
            silence(sys.stderr if as_json else sys.stdout)

    say(f"{PRACTICE_MARK}.\nBuilding {db} from the files in {files} ...")
    make_database(str(db), by="M. Quist", practice=True)
    walk(main, db, files, say)
    seconds = time.perf_counter() - begun
    data = {"folder": str(folder), "database": str(db), "files": str(files), "practice": True}
    messages = [
        f"Built in {seconds:.1f} s. {PRACTICE_MARK}.",
        f'Go on with it: heattrace piece list --db {db}   (or set HEATTRACE_DB="{db}")',
    ]
    give(Answer("demo", data, lambda: [], messages=messages), as_json=as_json)


def _clear(db: Path, *, again: bool) -> None:
    """Make room for a practice database; anything else is left alone.

    Raises
    ------
    DatabaseRefused
        There is a database that is not marked practice, or --again was not given.
    """
    from heattrace.errors import DatabaseRefused
    from heattrace.store.engine import open_reader

    if not db.exists():
        return
    with open_reader(str(db)) as reader:
        practice = reader.is_practice()
    if not practice:
        raise DatabaseRefused(f"{db}: is not marked practice and was left as it is; name another folder")
    if not again:
        raise DatabaseRefused(f"{db}: exists; --again replaces this practice database, or name another folder")
    for file in (db, Path(f"{db}-wal"), Path(f"{db}-shm")):
        file.unlink(missing_ok=True)
