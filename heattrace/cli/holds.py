"""`heattrace holds`: the holds that lie, those only proposed, those that are due."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, table, visible

if TYPE_CHECKING:
    from datetime import tzinfo

    from heattrace.tracing.holdings import Holding

holds_app = new_app("List the holds.", single=True)


@holds_app.command()
def holds(
    proposed: Annotated[bool, typer.Option("--proposed", help="Those only proposed; they bar nothing.")] = False,
    due: Annotated[bool, typer.Option("--due", help="Only those whose due day has come.")] = False,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """List the holds that lie: on what, why, what would lift them, who pursues them.

    \b
    Example:
        heattrace holds --due
    """
    from heattrace.config import now_ms
    from heattrace.store.engine import open_reader
    from heattrace.store.works import works_zone
    from heattrace.tracing.holdings import hold_json, list_holds

    with open_reader(db) as reader:
        practice, zone = reader.is_practice(), works_zone(reader)
        found = list_holds(reader, proposed=proposed, due=due, now=now_ms())
    data = {"holds": [hold_json(hold, zone) for hold in found]}
    hint = 'take one up with "heattrace hold --proposed H-...", or turn it down with --turn-down'
    give(
        Answer(
            "holds",
            data,
            lambda: hold_table(found, zone, "no hold is proposed" if proposed else "no hold lies"),
            messages=[hint] if proposed and found else [],
            practice=practice,
        ),
        as_json=as_json,
    )


def hold_table(found: Sequence[Holding], zone: tzinfo, none: str) -> Iterator[str]:
    """Holds as a table, each with its note in words below."""
    from heattrace.store.recorded import shown_at

    if not found:
        yield none
        return
    rows = [
        (
            hold.hold_no,
            hold.state,
            hold.reason,
            hold.scope,
            hold.requirement or "all uses",
            hold.lift_on,
            hold.owner,
            (shown_at(hold.due_at, zone) or "")[:10],
            (shown_at(hold.at, zone) or "")[:10],
            hold.by,
        )
        for hold in found
    ]
    head = ["hold", "state", "reason", "lies on", "bars", "lifted on", "owner", "due", "since", "by"]
    lines = table(head, rows)
    yield from lines[:2]
    for hold, line in zip(found, lines[2:], strict=True):
        yield line
        yield visible(f"      {hold.note}")
        if hold.caused_by:
            yield visible(f"      caused by {hold.caused_by}")
