"""One place that prints what a command found out: for a person, or as one JSON object."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any, NoReturn

from heattrace.errors import HeattraceError
from heattrace.findings import Finding
from heattrace.values import dataclass, field

JSON_FORM = 1
EXIT_STATUS = {"done": 0, "refused": 1, "attention": 3}

# Set by the command once it knows the database; every screen of a practice database says so.
PRACTICE_MARK = "PRACTICE DATABASE: invented data, not a record of real steel"


@dataclass(slots=True)
class Answer:
    """What a command gives: `data` as promised, `lines` for a person (made only when needed), findings, messages."""

    command: str
    data: Mapping[str, Any]
    lines: Callable[[], Iterable[str]] | None = None
    findings: Sequence[Finding] = ()
    messages: Sequence[str] = ()
    status: str = "done"
    practice: bool = False
    exit_status: int | None = field(default=None)


def give(answer: Answer, *, as_json: bool) -> NoReturn:
    """Print the answer and end the command with its exit status.

    Data goes to standard output, words about it to standard error.
    """
    if as_json:
        _print_json(answer.command, answer.status, answer.data, answer.findings, answer.messages)
    else:
        if answer.practice:
            print(PRACTICE_MARK, file=sys.stderr)
        if answer.lines is not None:
            for line in answer.lines():
                print(line)
        sys.stdout.flush()
        for finding in answer.findings:
            print(finding.sentence(), file=sys.stderr)
        for message in answer.messages:
            print(message, file=sys.stderr)
    sys.stdout.flush()
    status = EXIT_STATUS[answer.status] if answer.exit_status is None else answer.exit_status
    raise SystemExit(status)


def give_error(command: str, error: HeattraceError, *, as_json: bool) -> int:
    """Print a refusal and return its exit status."""
    if as_json:
        _print_json(command, "refused", {"code": error.code}, error.findings, [str(error)])
    else:
        if error.practice:
            print(PRACTICE_MARK, file=sys.stderr)
        print(f"heattrace {command}: {error}" if command else f"heattrace: {error}", file=sys.stderr)
        for finding in error.findings:
            print(f"  {finding.sentence()}", file=sys.stderr)
    return error.exit_status


def _print_json(
    command: str, status: str, data: Mapping[str, Any], findings: Sequence[Finding], messages: Sequence[str]
) -> None:
    answer = {
        "heattrace": JSON_FORM,
        "command": command,
        "status": status,
        "data": data,
        "findings": [f.as_json() for f in findings],
        "messages": list(messages),
    }
    sys.stdout.write(json.dumps(answer, ensure_ascii=False, default=plain_number) + "\n")


def plain_number(value: object) -> object:
    """JSON form of an exact number: a whole number stays whole, other terminating and endless ones to 12 places."""
    if isinstance(value, Fraction):
        return value.numerator if value.denominator == 1 else round(float(value), 12)
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() and "." not in str(value) else float(value)
    raise TypeError(f"{type(value).__name__} has no JSON form")


def on_terminal() -> bool:
    """Whether standard output is a terminal (colour and progress bars only there)."""
    return sys.stdout.isatty()


def table(head: Sequence[str], rows: Iterable[Sequence[object]], *, right: Sequence[int] = ()) -> list[str]:
    """Lay rows out in columns parted by two blanks; `right` lists the columns set flush right.

    Control characters of stored text are shown escaped, so that no name can steer the terminal.
    """
    cells = [[visible("" if c is None else str(c)) for c in row] for row in rows]
    widths = [max(len(head[i]), *(len(r[i]) for r in cells)) if cells else len(head[i]) for i in range(len(head))]

    def lay(row: Sequence[str]) -> str:
        return "  ".join(
            cell.rjust(w) if i in right else cell.ljust(w) for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()

    return [lay(list(head)), lay(["-" * w for w in widths]), *(lay(r) for r in cells)]


def visible(text: str) -> str:
    """Text with control and direction-changing characters shown as escapes."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)
