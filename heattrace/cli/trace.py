"""`heattrace trace NUMBER`: from a piece back to heat and cast position, from a heat forward to its pieces.

It starts without the library behind the other commands: a person at the telephone waits for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from heattrace.cli.light_door import Given, LightDoor, Option
from heattrace.cli.output import Answer, give, visible
from heattrace.errors import WrongUsage
from heattrace.findings import Finding

DOOR = LightDoor(
    command="trace",
    argument="NUMBER",
    argument_help="A piece, another number of it, or a heat; heat:41878, heat:2026/41878, piece:... settle which.",
    text="""\
  Trace a piece back to its heats and its place in the cast, or a heat forward to its pieces.

  A number that none bears ends with the nearest ones; none of them is taken. Nothing is
  written, and no signature is verified: "heattrace ledger verify" does that.

  Exit status: 0 shown, 1 no such number or several, 2 wrong usage.

  Example:
      heattrace trace S300-1-07""",
    options=(
        Option("wildcard", ("--wildcard",), "Take * (any signs) and ? (one sign) as wildcards; lists what matches."),
        Option("db", ("--db",), "The database.", "PATH|URL", "heattrace.db", "HEATTRACE_DB"),
        Option("json", ("--json",), "Print one JSON object."),
    ),
)

UNVERIFIED = 'signatures and the ledger were not verified; "heattrace ledger verify" does that'


def trace_app(*, args: Sequence[str], prog_name: str) -> None:
    """Run the command line after the word `trace`."""
    given = DOOR.read(args)
    if given is None:
        print(DOOR.help())
        return
    trace(given)


def trace(given: Given) -> None:
    """Trace one number and end the command."""
    from heattrace.store.engine import open_reader
    from heattrace.tracing.numbered import HEAT
    from heattrace.tracing.numbers import find

    if not given.texts["db"]:
        raise WrongUsage("--db: a path was expected")
    with open_reader(given.texts["db"]) as reader:
        practice = reader.is_practice()
        found = find(reader, given.argument, wildcard="wildcard" in given.flags)
        lines: Iterable[str]
        if found.kind == HEAT:
            from heattrace.cli.heat_words import traced_heat_lines
            from heattrace.tracing.forward import trace_heat

            data = trace_heat(reader, found.id)
            lines = traced_heat_lines(data)
        else:
            from heattrace.tracing.backward import trace_piece

            traced = trace_piece(reader, found.id)
            data, fit, run_to_m = traced.data, traced.fit, traced.run_to_m
            if "json" not in given.flags:
                from heattrace.cli.trace_words import piece_lines

                lines = piece_lines(data, fit, run_to_m)
            else:
                lines = ()
    messages = [found.how] if found.how else []
    give(
        Answer(
            "trace",
            data,
            lambda: (visible(line) for line in lines),
            findings=[Finding(**finding) for finding in data["findings"]],
            messages=[*messages, UNVERIFIED],
            practice=practice,
        ),
        as_json="json" in given.flags,
    )
