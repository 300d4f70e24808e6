"""`heattrace history NUMBER`: who touched a heat, a piece, or one of our own numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, visible

history_app = new_app("Who touched a number.", single=True)

NUMBERS = (
    "Heat, piece, or one of our own: B- bench row, I- import, H- hold, D- decision, A- analysis, E- event, "
    "Q- complaint, K- concession."
)


@history_app.command()
def history(
    number: Annotated[str, typer.Argument(metavar="NUMBER", help=NUMBERS)],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """List every ledger entry that wrote, superseded or undid anything about a number.

    Each command that changes the record leaves one entry; "heattrace ledger show" has its content.

    \b
    Example:
        heattrace history H-3
    """
    from heattrace.store.engine import open_reader
    from heattrace.tracing.history import history_of, subject_of

    with open_reader(db) as reader:
        practice = reader.is_practice()
        subject = subject_of(reader, number)
        entries = history_of(reader, subject)
    data = {"kind": subject.kind, "number": subject.number, "entries": entries}
    give(
        Answer(
            "history", data, lambda: _lines(f"{subject.kind} {subject.number}", entries),
            messages=[subject.how] if subject.how else [], practice=practice,
        ),
        as_json=as_json,
    )  # fmt: skip


def _lines(subject: str, entries: Sequence[dict[str, Any]]) -> Iterator[str]:
    from heattrace.cli.screen import said

    yield visible(f"{subject}: {len(entries)} ledger {'entry' if len(entries) == 1 else 'entries'}")
    yield ""
    for entry in entries:
        yield visible(f"{entry['entry_no']:>6}  {entry['at']}  {entry['by']}  {entry['action']}")
        for how in ("wrote", "ended"):
            found = [t for t in entry["touched"] if t["how"] == how]
            if found:
                words = ", ".join(f"{t['what']} ({t['rows']})" if t["rows"] > 1 else t["what"] for t in found)
                yield from said(f"        {how}", words)
