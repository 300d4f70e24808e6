"""The program's door: finds the command word, loads that command's module only, and gives the exit status.

Start-up matters: the overview is plain text from the table below, and no command pays for another's imports.
"""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import TextIO

from heattrace.cli.output import give_error
from heattrace.errors import HeattraceError

# word -> (module below heattrace.cli, one line for the overview); the order is the overview's.
COMMANDS: dict[str, tuple[str, str]] = {
    "import": ("take_in", "take in analyses, a cast book, a grade book, orders, temperatures, events ..."),
    "judge": ("judge", "compare a heat, a piece or a typed analysis with the limits of a grade"),
    "hold": ("hold", "place a hold on a heat, pieces or metres of a strand"),
    "lift": ("hold", "lift a hold on the evidence it asks for"),
    "holds": ("holds", "list the holds"),
    "release": ("release", "release a heat or pieces for a requirement"),
    "trace": ("trace", "from a piece back to heat and cast position; from a heat forward to its pieces"),
    "why": ("why", "in words: why this status, why this cast analysis, which rule, which evidence"),
    "heat": ("heat", "heats: list, show"),
    "sample": ("sample", "samples: list, show"),
    "analysis": ("analysis", "analyses: show"),
    "piece": ("piece", "pieces: list, show"),
    "sequence": ("sequence", "sequences: list, show, balance"),
    "grade": ("grade", "grades and their limits: list, show"),
    "batch": ("batch", "imports as wholes: list, show, undo"),
    "bench": ("bench", "rows set aside at import: list, show, fix, attach, void"),
    "profile": ("profile", "how a source writes its files: list, show, add, test, draft"),
    "calc": ("calc", "formulas by name: list, and one per formula"),
    "works": ("works", "works values with their editions: show, set, history"),
    "ledger": ("ledger", "the chain of entries: show, verify"),
    "history": ("history", "who touched a number"),
    "db": ("db", "the database: init, upgrade, info, check, backup, restore"),
    "demo": ("demo", "build the practice database of an invented works and walk through the main job"),
}  # fmt: skip

# What typer ends with after Ctrl-C.
INTERRUPTED = 130

# A word that is itself the command, rather than a group of them.
SINGLE = {"import", "judge", "hold", "lift", "holds", "release", "trace", "why", "history", "demo"}


def overview() -> str:
    """The text of `heattrace --help`."""
    width = max(len(word) for word in COMMANDS)
    lines = [
        "Usage: heattrace COMMAND [OPTIONS]",
        "",
        "Heat records and quality traceability of a continuous-casting shop, over one database file.",
        "",
        *(f"  {word.ljust(width)}  {line}" for word, (_, line) in COMMANDS.items()),
        "",
        "After the command words: --db PATH|URL (HEATTRACE_DB; default heattrace.db), --json, --help;",
        "to write: --by NAME (HEATTRACE_BY). Exit status: 0 done, 1 refused or failed, 2 wrong usage,",
        "3 done and something needs a person.",
        "",
        'Example: heattrace demo                      heattrace calc cev --chem "C=0.16 Mn=0.90 Cr=0.05 Mo=0.02 '
        'V=0.01 Ni=0.05 Cu=0.10"',
    ]
    return "\n".join(lines)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit status."""
    try:
        status = _answered(list(sys.argv[1:] if argv is None else argv))
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader of our output went away (for instance `| head`): not our fault, and nothing to say.
        silence(sys.stdout)
        silence(sys.stderr)
        return 0
    return status


def _answered(words: list[str]) -> int:
    try:
        words = _database_last(words)
    except HeattraceError as error:
        return give_error("", error, as_json="--json" in words)
    if not words:
        print(overview(), file=sys.stderr)
        return 2
    if words[0] in ("--help", "-h", "help"):
        print(overview())
        return 0
    if words[0] == "--version":
        from heattrace import __version__

        print(f"heattrace {__version__}")
        return 0
    word, rest = words[0], words[1:]
    if word not in COMMANDS:
        from difflib import get_close_matches

        near = get_close_matches(word, COMMANDS, n=3, cutoff=0.5)
        hint = f"; nearest: {', '.join(near)}" if near else ""
        print(f'heattrace: no command "{word}"{hint}; "heattrace --help" lists them', file=sys.stderr)
        return 2
    return _run(word, rest)


def _run(word: str, rest: list[str]) -> int:
    as_json = "--json" in rest
    os.environ.setdefault("TYPER_USE_RICH", "0")
    module = importlib.import_module(f"heattrace.cli.{COMMANDS[word][0]}")
    app = getattr(module, f"{word}_app")
    name = f"{word} {rest[0]}" if rest and word not in SINGLE and not rest[0].startswith("-") else word
    try:
        app(args=rest, prog_name=f"heattrace {word}")
    except SystemExit as end:
        if end.code == INTERRUPTED:
            return _interrupted(word)
        if isinstance(end.__context__, BrokenPipeError):
            return 0  # the library behind the command saw that our reader went away, and ended
        return end.code if isinstance(end.code, int) else (0 if end.code is None else 1)
    except HeattraceError as error:
        return give_error(name, error, as_json=as_json)
    except KeyboardInterrupt:
        return _interrupted(word)
    except Exception as error:
        refused = _of_the_file(error)
        if refused is None:
            raise
        return give_error(name, refused, as_json=as_json)
    return 0


def _of_the_file(error: Exception) -> HeattraceError | None:
    """A refusal of the database library that no command put into words, in words; None for anything else."""
    if (type(error).__module__, type(error).__name__) != ("sqlite3", "OperationalError"):
        return None
    from heattrace.errors import DatabaseRefused
    from heattrace.store.engine import fault_words

    words = fault_words(None, error)
    return None if words is None else DatabaseRefused(words)


def silence(stream: TextIO) -> None:
    """Send the rest of a stream nowhere: its reader went away."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
    except (OSError, ValueError):
        return  # no file behind it


def _interrupted(word: str) -> int:
    print(f"heattrace {word}: interrupted; nothing was changed by what was not finished", file=sys.stderr)
    return 1


def _database_last(words: list[str]) -> list[str]:
    """`--db X` is also taken before the command words; it moves behind them.

    Raises
    ------
    WrongUsage
        Two databases are named.
    """
    front: list[str] = []
    while words and (words[0] == "--db" or words[0].startswith("--db=")):
        taken = 1 if "=" in words[0] else 2
        front += words[:taken]
        words = words[taken:]
    named = [word for word in front + words if word == "--db" or word.startswith("--db=")]
    if front and len(named) > 1:
        from heattrace.errors import WrongUsage

        raise WrongUsage("two databases named: --db is given more than once; name one")
    return words + front if words else front


def run() -> None:
    """Entry point of the installed program."""
    import gc

    if sys.argv[1:2] == ["trace"]:
        # It ends long before what it leaves behind could matter; looking for that costs a person's time.
        gc.disable()
    status = main()
    # Otherwise the last collection of the process walks over everything once more.
    gc.freeze()
    sys.exit(status)
