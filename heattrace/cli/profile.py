"""`heattrace profile ...`: how sources write their files: list, show, add, test, draft."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, By, Database, require_by
from heattrace.cli.output import Answer, give, table, visible

if TYPE_CHECKING:
    from heattrace.intake.profiles.profile import Profile
    from heattrace.intake.profiles.profile_shelf import Shelved
    from heattrace.store.reader import Reader

profile_app = new_app("How a source writes its files, said once, so that nothing is guessed.")

Name = Annotated[str, typer.Argument(metavar="NAME", help="The profile.")]


def _reader(db: str) -> Reader | None:
    """The database where there is one: the shipped profiles need none."""
    from heattrace.store.engine import database_path, open_reader

    if "://" not in db and not database_path(db).exists():
        return None
    return open_reader(db)


@profile_app.command("list")
def list_(db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """List the profiles of the works and those that come with the tool.

    \b
    Example:
        heattrace profile list
    """
    from heattrace.intake.profiles.profile_shelf import all_profiles

    reader = _reader(db)
    try:
        shelved = all_profiles(reader)
        practice = reader is not None and reader.is_practice()
    finally:
        if reader is not None:
            reader.close()
    data = {"profiles": [_object(each) for each in shelved]}

    def lines() -> Iterable[str]:
        yield from table(
            ["profile", "takes", "edition", "type", "decimal", "zone", "clock"],
            [
                (
                    s.profile.name, s.profile.takes, s.edition or "shipped", s.profile.file_type or "csv or xlsx",
                    s.profile.decimal, s.profile.zone, s.profile.clock,
                )
                for s in shelved
            ],
        )  # fmt: skip

    messages = ["your own: heattrace profile draft FILE > own.toml, answer its questions, then profile add own.toml"]
    give(Answer("profile list", data, lines, messages=messages, practice=practice), as_json=as_json)


def _object(shelved: Shelved) -> dict[str, Any]:
    profile = shelved.profile
    return {
        "name": profile.name, "takes": profile.takes, "edition": shelved.edition, "origin": shelved.origin,
        "file_type": profile.file_type, "encoding": profile.encoding, "delimiter": profile.delimiter,
        "decimal": profile.decimal, "zone": profile.zone, "clock": profile.clock,
    }  # fmt: skip


@profile_app.command("show")
def show(name: Name, db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """Show one profile: the columns a file of its kind has, and its TOML text to copy and change.

    \b
    Example:
        heattrace profile show lab-wide
    """
    from heattrace.cli.column_words import column_lines, columns_json
    from heattrace.intake.profiles.cast_book_sheets import KINDS
    from heattrace.intake.profiles.profile_shelf import find_profile

    reader = _reader(db)
    try:
        shelved = find_profile(reader, name)
        practice = reader is not None and reader.is_practice()
    finally:
        if reader is not None:
            reader.close()
    text = shelved.profile.text
    kind = KINDS[shelved.profile.takes]
    data = _object(shelved) | {"text": text, "sheets": columns_json(kind)}

    def lines() -> Iterable[str]:
        yield f"# {name}, {shelved.origin}"
        yield from text.rstrip("\n").split("\n")
        yield ""
        yield f"our columns of a file of {shelved.profile.takes}; a profile maps other names to them under [columns]"
        yield from column_lines(kind)

    give(Answer("profile show", {"profile": data}, lines, practice=practice), as_json=as_json)


@profile_app.command("add")
def add(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The profile's TOML.")],
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Add a profile, or the next edition of one; imports remember which edition they were read with.

    \b
    Exit status: 0 added or known already, 1 refused: each fault with its line.

    \b
    Example:
        heattrace profile add spark-east.toml --by "A. Weber"
    """
    from heattrace.intake.profiles.profile_shelf import add_profile
    from heattrace.store.work import begin_work

    writer = require_by(by)
    text = _text_of(file)
    with begin_work(db, by=writer, action="profile add", subject=file.name) as work:
        practice = work.reader.is_practice()
        shelved, written = add_profile(work, text)
        if written:
            work.payload = {
                "name": shelved.profile.name, "edition": shelved.edition, "takes": shelved.profile.takes, "body": text,
            }  # fmt: skip
            work.commit()
    name = shelved.profile.name
    words = f"{name} edition {shelved.edition} " + ("added" if written else "is known already; nothing was changed")
    messages = [f"use it: heattrace import FILE --profile {name}"]
    data = {"profile": _object(shelved), "added": written}
    give(Answer("profile add", data, lambda: [words], messages=messages, practice=practice), as_json=as_json)


@profile_app.command("test")
def test(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The profile's TOML.")],
    data_files: Annotated[
        list[Path] | None, typer.Argument(metavar="[DATA...]", help="Files to read with it; nothing is written.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Test a profile, by itself or on files of its source; needs no database and writes nothing.

    \b
    Exit status: 0 it reads, 1 the profile or a file is refused, 3 rows would go to the bench.

    \b
    Example:
        heattrace profile test spark-east.toml export-0412.csv
    """
    from heattrace.intake.profiles.profile_text import read_profile

    profile = read_profile(_text_of(file))
    read = [_read(path, profile) for path in data_files or []]
    bench = sum(len(each["bench"]) for each in read)

    def lines() -> Iterable[str]:
        sort = profile.file_type or "csv or xlsx"
        yield f"{profile.name}: takes {profile.takes}, {sort}, decimal sign {profile.decimal}"
        times = f"times {profile.format or 'with offset'}"
        yield f"  {times}{f' in zone {profile.zone}' if profile.zone else ''}"
        for theirs, ours in profile.columns.items():
            yield f"  {visible(theirs)} -> {ours.column}{f' [{ours.unit}]' if ours.unit else ''}"
        for theirs, element in profile.elements.items():
            yield f"  {visible(theirs)} -> {element.element} [{element.unit or 'unit column'}]"
        for each in read:
            yield f"{visible(each['file'])}: {each['read']} rows read, {len(each['bench'])} for the bench"
            for note in each["notes"]:
                yield f"  note    {visible(note)}"
            for fault in each["bench"]:
                yield f"  {fault['code']}  {visible(fault['message'])}"

    data = {"profile": {"name": profile.name, "takes": profile.takes}, "files": read}
    status = "attention" if bench else "done"
    messages = [f"to keep it: heattrace profile add {file}"]
    give(Answer("profile test", data, lines, messages=messages, status=status), as_json=as_json)


def _read(path: Path, profile: Profile) -> dict[str, Any]:
    from heattrace.intake.loading.slip import BenchLine
    from heattrace.intake.reading.opening import open_file

    content = open_file(path, profile)
    bench = [BenchLine(None, f.sheet, f.row, f.column, f.value, f.code, f.message, f.next) for f in content.bench]
    return {
        "file": content.name, "read": sum(sheet.read for sheet in content.sheets.values()), "notes": content.notes,
        "bench": [line.as_json() for line in bench], "findings": [f.as_json() for f in content.findings],
    }  # fmt: skip


@profile_app.command("draft")
def draft(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file of the source.")],
    as_json: AsJson = False,
) -> None:
    """Draft a profile from a file: every column found, with what is open as questions. It never imports.

    \b
    Example:
        heattrace profile draft export-0412.csv > spark-east.toml
    """
    from heattrace.intake.profiles.draft import draft_profile

    text = draft_profile(file)
    messages = ["answer the lines with a question mark, then: heattrace profile test FILE DATA"]
    give(
        Answer("profile draft", {"text": text}, lambda: text.rstrip("\n").split("\n"), messages=messages),
        as_json=as_json,
    )


def _text_of(file: Path) -> str:
    from heattrace.errors import FileRefused

    try:
        return file.read_text("utf-8-sig")
    except FileNotFoundError:
        raise FileRefused(f"{file}: there is no such file") from None
    except (OSError, UnicodeDecodeError) as fault:
        raise FileRefused(f"{file}: cannot be read as UTF-8 text ({fault})") from None
