"""Options shared by the commands; they stand after the command words."""

from __future__ import annotations

import os
from typing import Annotated

import typer

from heattrace.errors import WrongUsage

DEFAULT_DATABASE = "heattrace.db"

Database = Annotated[
    str,
    typer.Option(
        "--db", envvar="HEATTRACE_DB", metavar="PATH|URL", show_default=DEFAULT_DATABASE, help="The database."
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]
By = Annotated[
    str | None,
    typer.Option("--by", envvar="HEATTRACE_BY", metavar="NAME", help="Who writes; required on commands that write."),
]
Yes = Annotated[bool, typer.Option("--yes", help="Answer confirmations, never a question about meaning.")]


def require_by(by: str | None) -> str:
    """The name of the person who writes.

    Raises
    ------
    WrongUsage
        Nobody is named.
    """
    name = (by or "").strip()
    if not name:
        raise WrongUsage('a command that writes needs --by NAME (or HEATTRACE_BY); for instance --by "A. Weber"')
    if len(name) > 200 or not name.isprintable():
        raise WrongUsage("--by: a name of at most 200 printable characters was expected")
    return name


def given_database() -> str | None:
    """The database named in the environment, for commands that can do without one."""
    return os.environ.get("HEATTRACE_DB")
