"""`heattrace release ...`: the decision, and what it frees."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, By, Database, require_by
from heattrace.cli.output import Answer, give, table

release_app = new_app("Release heats or pieces for a requirement.", single=True)

CAUTION = (
    "Unsigned: the name is the person's own statement. The limits are those of the record; the order's edition, the "
    "codes that apply and the works' own procedures stand above them, and the decision is the authorised person's."
)


@release_app.command()
def release(
    numbers: Annotated[list[str], typer.Argument(metavar="NUMBER...", help="Heats or pieces.")],
    requirement: Annotated[
        str | None,
        typer.Option("--for", metavar="REQUIREMENT", help="STANDARD:EDITION GRADE or ORDER/LINE; else each its own."),
    ] = None,
    despite: Annotated[
        str | None,
        typer.Option(
            "--despite", metavar="CODE", help="CHEM-DISAGREE: release although analyses disagree; --note why."
        ),
    ] = None,
    note: Annotated[str | None, typer.Option("--note", metavar="TEXT", help="Why, in words; with --despite.")] = None,
    emergency: Annotated[bool, typer.Option("--emergency", help="Needs a signature and a second one later.")] = False,
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Release heats or pieces: judge them, freeze what the decision stands on, and say what is free now.

    Without --for each subject is decided for its own requirement, a heat for every order line of its parts. A part of
    several heats, one that an event marks, one whose product analysis fails and one with a hold of its own are never
    freed by a heat's release. Where analyses of a heat disagree, a release waits until a person says why it may go.

    \b
    Exit status: 0 all its pieces are free, 1 refused and nothing changed, 3 released and some pieces are not free.

    \b
    Example:
        heattrace release 62117 --by "A. Weber"
        heattrace release 62117 --for "EN 10025-2:2004 S355J2" --by "A. Weber" --json
        heattrace release 62117 --despite CHEM-DISAGREE --note "combustion counts" --by "A. Weber"
    """
    from heattrace.errors import Refused
    from heattrace.release.decide import release as run_release
    from heattrace.release.decide import wanted_of_text
    from heattrace.release.freed import pieces_freed
    from heattrace.release.guards import read_despite
    from heattrace.store.work import begin_work
    from heattrace.tracing.numbers import find

    writer = require_by(by)
    said = read_despite(despite, note)
    if emergency:
        raise Refused("an emergency release needs a signature, and this version keeps unsigned decisions only")
    with begin_work(db, by=writer, action="release", subject=", ".join(numbers)) as work:
        reader = work.reader
        subjects = list({(f.kind, f.id): f for f in (find(reader, n) for n in numbers)}.values())
        uses = None if requirement is None else wanted_of_text(reader, requirement)
        done = run_release(work, subjects, uses, said)
        freed = pieces_freed(reader, subjects, done.decided_for, uses)
        practice = reader.is_practice()
        if done.decisions:
            work.payload = {
                "decisions": done.decisions,
                "free": len(freed.free),
                "held": len(freed.held),
                "transition": len(freed.transition),
                "other_orders": len(freed.other_orders),
            }
            work.commit()
    data: dict[str, Any] = {
        **freed.as_json(),
        "decisions": done.decisions,
        "already": done.already,
        "not_released": done.barred,
    }

    def lines() -> Iterable[str]:
        for d in done.decisions:
            yield f"{d['decision_no']}  {d['kind']} {d['subject']} released for {d['requirement']} (unsigned)"
            if "despite" in d:
                yield f"     despite {d['despite']['code']}: {d['despite']['note']}"
        for a in done.already:
            yield f"{a['subject']} was released before: {a['because']}"
        for b in done.barred:
            yield f"{b['subject']} NOT released for {b['requirement']}: {b['because']}"
        yield ""
        yield f"free          {len(freed.free):>5}  {_some(freed.free)}"
        yield f"held          {len(freed.held):>5}"
        yield f"transition    {len(freed.transition):>5}  {_some(freed.transition)}"
        yield f"other orders  {len(freed.other_orders):>5}"
        if freed.held:
            yield ""
            yield from table(["not free", "because"], [(h["piece_no"], h["because"]) for h in freed.held])
        if freed.other_orders:
            yield ""
            rows = [(o["piece_no"], o["requirement"]) for o in freed.other_orders]
            yield from table(["for another order", "requirement"], rows)

    attention = freed.needs_a_person or bool(done.barred)
    give(
        Answer(
            "release", data, lines, done.findings, [CAUTION], "attention" if attention else "done", practice
        ),
        as_json=as_json,
    )  # fmt: skip


def _some(numbers: list[str], most: int = 6) -> str:
    return ", ".join(numbers[:most]) + (f" and {len(numbers) - most} more" if len(numbers) > most else "")
