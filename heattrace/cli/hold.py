"""`heattrace hold` and `heattrace lift`."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Annotated

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, By, Database, require_by
from heattrace.cli.output import Answer, give

if TYPE_CHECKING:
    from heattrace.release.hold import Scope
    from heattrace.store.reader import Reader
    from heattrace.store.work import Work

hold_app = new_app("Place a hold.", single=True)
lift_app = new_app("Lift a hold.", single=True)

NEXT = 'lift it on its evidence: "heattrace lift {} --evidence REF"; what it bars: "heattrace why NUMBER"'


@hold_app.command()
def hold(
    numbers: Annotated[list[str] | None, typer.Argument(metavar="[NUMBER...]", help="Heats or pieces.")] = None,
    reason: Annotated[str | None, typer.Option("--reason", metavar="CODE", help="Reason code.")] = None,
    note: Annotated[str | None, typer.Option("--note", metavar="TEXT", help="The same in words.")] = None,
    lift_on: Annotated[
        list[str] | None,
        typer.Option(
            "--lift-on",
            metavar="EVIDENCE",
            help="analysis:C,N, inspection:SCHEME, retest, identity or document; repeat or part by ;",
        ),
    ] = None,
    owner: Annotated[str | None, typer.Option("--owner", metavar="NAME", help="Who pursues it.")] = None,
    due: Annotated[str | None, typer.Option("--due", metavar="DATE", help="Due day, 2026-03-31.")] = None,
    requirement: Annotated[
        str | None, typer.Option("--for", metavar="REQUIREMENT", help="Bar only this use; else all.")
    ] = None,
    strand: Annotated[str | None, typer.Option("--strand", metavar="SEQ/STRAND/RUN", help="Metres of a run.")] = None,
    from_m: Annotated[float | None, typer.Option("--from", metavar="M", help="From, strand metres.")] = None,
    to_m: Annotated[float | None, typer.Option("--to", metavar="M", help="To, strand metres.")] = None,
    proposed: Annotated[
        str | None, typer.Option("--proposed", metavar="H-...", help="Take up a proposed hold.")
    ] = None,
    turn_down: Annotated[str | None, typer.Option("--turn-down", metavar="H-...", help="Turn one down.")] = None,
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Place a hold on heats, pieces, or metres of a strand; take up or turn down a proposed one.

    A hold bars all uses unless --for names one. It is lifted only on the evidence it names.

    \b
    Example:
        heattrace hold 62117-3-07 --reason LEVEL --note "level swing at 09:40" --lift-on inspection:etch --by "A. Weber"
        heattrace hold --strand S31/2/1 --from 40 --to 52.5 --reason NOZZLE --note "clogging" --lift-on document
        heattrace hold --proposed H-4 --by "A. Weber"
    """
    from heattrace.errors import WrongUsage
    from heattrace.store.work import begin_work

    writer = require_by(by)
    chosen = [bool(numbers), strand is not None, proposed is not None, turn_down is not None]
    if sum(chosen) != 1:
        raise WrongUsage("say one of: NUMBER..., --strand SEQ/STRAND/RUN, --proposed H-..., --turn-down H-...")
    subject = ", ".join(numbers or []) or strand or proposed or turn_down or ""
    with begin_work(db, by=writer, action="hold", subject=subject) as work:
        practice = work.reader.is_practice()
        if proposed or turn_down:
            hold_id, state = _settle(work, proposed, turn_down, note)
        else:
            hold_id, state = (
                _place(
                    work, numbers or [], strand, (from_m, to_m), reason, note, lift_on or [], owner, due, requirement
                ),
                "placed",
            )
        reaches = _reach(work.reader, hold_id)
        work.payload = {"hold": f"H-{hold_id}", "state": state, "pieces": len(reaches)}
        work.commit()
    data = {"hold_no": f"H-{hold_id}", "state": state, "pieces": reaches}
    words = f"H-{hold_id} {state}; it lies on {len(reaches)} pieces" + (
        f": {', '.join(reaches[:8])}" if reaches else ""
    )
    if len(reaches) > 8:
        words += f" and {len(reaches) - 8} more"
    messages = [] if state == "turned-down" else [NEXT.format(f"H-{hold_id}")]
    give(Answer("hold", data, lambda: [words], messages=messages, practice=practice), as_json=as_json)


def _settle(work: Work, proposed: str | None, turn_down: str | None, note: str | None) -> tuple[int, str]:
    from heattrace.release.hold import hold_number, take_up
    from heattrace.release.hold import turn_down as turn_it_down

    if proposed:
        hold_id = hold_number(proposed)
        take_up(work, hold_id)
        return hold_id, "placed"
    hold_id = hold_number(turn_down or "")
    turn_it_down(work, hold_id, note or "")
    return hold_id, "turned-down"


def _place(
    work: Work, numbers: list[str], strand: str | None, metres: tuple[float | None, float | None], reason: str | None,
    note: str | None, lift_on: list[str], owner: str | None, due: str | None, requirement: str | None,
) -> int:  # fmt: skip
    from heattrace.errors import WrongUsage
    from heattrace.release.decide import wanted_of_text
    from heattrace.release.hold import hold_words, place_hold

    lacking = [o for o, v in (("--reason", reason), ("--note", note), ("--lift-on", lift_on)) if not v]
    if lacking:
        raise WrongUsage(f'a hold needs {", ".join(lacking)}; "heattrace hold --help" shows an example')
    uses = None if requirement is None else wanted_of_text(work.reader, requirement).text
    words = hold_words(
        reason=reason or "", note=note or "", lift_on=lift_on, owner=owner, due_at=_due(work.reader, due),
        requirement=uses,
    )  # fmt: skip
    return place_hold(work, _scopes(work.reader, numbers, strand, metres), words)


def _scopes(
    reader: Reader, numbers: list[str], strand: str | None, metres: tuple[float | None, float | None]
) -> list[Scope]:
    from heattrace.errors import NotFound, WrongUsage
    from heattrace.release.hold import Scope
    from heattrace.tracing.numbered import HEAT
    from heattrace.tracing.numbers import find

    begin, end = (None if m is None else round(m * 1e6) for m in metres)
    if (begin is None) != (end is None):
        raise WrongUsage("--from and --to belong together, in metres of the strand")
    if strand is not None:
        words = strand.rsplit("/", 2)
        if len(words) != 3 or not words[1].isdigit() or not words[2].isdigit() or begin is None:
            raise WrongUsage("--strand: SEQ/STRAND/RUN such as S31/2/1 with --from M --to M was expected")
        sequence = reader.scalar(
            "SELECT s.sequence_id FROM sequence s WHERE s.sequence_no = :number AND {live:s}", number=words[0]
        )
        if sequence is None:
            raise NotFound(f'no sequence "{words[0]}"; "heattrace sequence list" lists them')
        return [Scope(strand=(int(sequence), int(words[1]), int(words[2])), from_um=begin, to_um=end)]
    found = list({(f.kind, f.id): f for f in (find(reader, n) for n in numbers)}.values())
    if begin is not None and (len(found) != 1 or found[0].kind == HEAT):
        raise WrongUsage("--from and --to go with one piece, or with --strand")
    return [Scope(heat_id=f.id) if f.kind == HEAT else Scope(part_id=f.id, from_um=begin, to_um=end) for f in found]


def _due(reader: Reader, due: str | None) -> int | None:
    from heattrace.errors import WrongUsage
    from heattrace.store.works import works_zone

    if due is None:
        return None
    try:
        day = date.fromisoformat(due)
    except ValueError:
        raise WrongUsage(f'--due: found "{due}"; a day such as 2026-03-31 was expected') from None
    # The end of that day in the works' zone.
    moment = datetime(day.year, day.month, day.day, 23, 59, 59, tzinfo=works_zone(reader))
    return round(moment.timestamp() * 1000)


def _reach(reader: Reader, hold_id: int) -> list[str]:
    """Numbers of the pieces whose quality the hold bears on, also by their heats."""
    from heattrace.release.freed import pieces_barred

    return pieces_barred(reader, hold_id)


@lift_app.command()
def lift(
    number: Annotated[str, typer.Argument(metavar="HOLD", help="Number of the hold, H-12.")],
    evidence: Annotated[
        list[str],
        typer.Option(
            "--evidence",
            metavar="REF",
            help="A-12 (analysis or retest), inspection:3, document:NUMBER, identity:NUMBER; repeat for several.",
        ),
    ],
    note: Annotated[str | None, typer.Option("--note", metavar="TEXT", help="A word beside it.")] = None,
    db: Database = DEFAULT_DATABASE,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Lift a hold on the evidence it asks for: a record on the held steel, entered after the hold.

    What it barred is undecided afterwards, never released: decide it anew.

    \b
    Example:
        heattrace lift H-3 --evidence A-118 --by "A. Weber"
    """
    from heattrace.release.hold import hold_number
    from heattrace.release.hold import lift as lift_hold
    from heattrace.store.work import begin_work

    writer = require_by(by)
    hold_id = hold_number(number)
    with begin_work(db, by=writer, action="lift", subject=f"H-{hold_id}") as work:
        pieces = _reach(work.reader, hold_id)
        shown = lift_hold(work, hold_id, evidence, note)
        practice = work.reader.is_practice()
        work.payload = {"hold": f"H-{hold_id}", "evidence": shown, "pieces": len(pieces)}
        work.commit()
    data = {"hold_no": f"H-{hold_id}", "state": "lifted", "evidence": shown, "pieces": pieces}
    words = f"H-{hold_id} lifted on " + ", ".join(f"{ref} ({asked})" for asked, ref in shown.items())
    messages = [f"{len(pieces)} pieces it bore on are not released by this: decide them anew (heattrace release)"]
    stated = [ref for asked, ref in shown.items() if asked in ("document", "identity")]
    if stated:
        messages.append(f"{', '.join(stated)}: a paper outside this record, by the person's own statement")
    give(Answer("lift", data, lambda: [words], messages=messages, practice=practice), as_json=as_json)
