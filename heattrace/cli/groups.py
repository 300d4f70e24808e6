"""How a command module makes its typer app."""

from __future__ import annotations

import typer


def new_app(help_text: str, *, single: bool = False) -> typer.Typer:
    """A typer app for one command word; `single` where the word is itself the command."""
    return typer.Typer(
        help=help_text,
        no_args_is_help=not single,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        context_settings={"help_option_names": ["--help", "-h"]},
    )
