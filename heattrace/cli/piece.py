"""`heattrace piece ...`: the pieces of the record, and what is kept about one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import TYPE_CHECKING, Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, table
from heattrace.errors import WrongUsage

if TYPE_CHECKING:
    from heattrace.tracing.pieces import PieceLine

piece_app = new_app("Pieces: where they lay, what they are made of, their quality, where they are.")

_CLASSES = ("pure", "transition", "undetermined")
_KINDS = ("piece", "head-crop", "tail-crop", "sample", "scrap", "all")
_MOST = 10_000


@piece_app.callback()
def pieces() -> None:
    """Pieces: where they lay, what they are made of, their quality, where they are."""


@piece_app.command("list")
def list_command(
    sequence: Annotated[str | None, typer.Option("--sequence", metavar="SEQ", help="Only of one sequence.")] = None,
    heat: Annotated[str | None, typer.Option("--heat", metavar="HEAT", help="Only those with a share of it.")] = None,
    strand: Annotated[int | None, typer.Option("--strand", metavar="N", help="Only of one strand.")] = None,
    quality: Annotated[
        str | None, typer.Option("--quality", metavar="Q", help="Only released, undecided, held or rejected.")
    ] = None,
    class_: Annotated[
        str | None, typer.Option("--class", metavar="C", help=f"Only {', '.join(_CLASSES[:-1])} or {_CLASSES[-1]}.")
    ] = None,
    kind: Annotated[str, typer.Option("--kind", metavar="K", help=f"{', '.join(_KINDS)}.")] = "piece",
    most: Annotated[int, typer.Option("--most", metavar="N", min=1, help="At most so many.")] = _MOST,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """List pieces with class, heat number, quality for what they are ordered for, and whereabouts.

    \b
    Example:
        heattrace piece list --heat 41878 --quality held
    """
    from heattrace.store.engine import open_reader
    from heattrace.tracing.pieces import Asked, list_pieces
    from heattrace.tracing.quality import WORST

    _check("--quality", quality, tuple(WORST))
    _check("--class", class_, _CLASSES)
    _check("--kind", kind, _KINDS)
    with open_reader(db) as reader:
        practice = reader.is_practice()
        asked = Asked(sequence, heat, strand, quality, class_, kind)
        found = list(islice(list_pieces(reader, asked), most + 1))
    more = len(found) > most
    shown = found[:most]
    give(
        Answer(
            "piece list",
            {"pieces": [line.as_json() for line in shown]},
            lambda: _list_lines(shown),
            messages=[f"only the first {most}: narrow the list, or give --most"] if more else [],
            practice=practice,
        ),
        as_json=as_json,
    )


def _check(option: str, word: str | None, known: Sequence[str]) -> None:
    if word is not None and word not in known:
        raise WrongUsage(f'{option}: "{word}" is none of {", ".join(known)}')


def _list_lines(found: Sequence[PieceLine]) -> Iterator[str]:
    if not found:
        yield "no pieces"
        return
    rows = []
    for line in found:
        row = line.row
        cut = "" if row["strand_no"] is None else f"{row['strand_no']}/{row['run_no']}/{row['cut_no'] or '-'}"
        rows.append(
            (
                row["piece_no"] or f"({row['kind']})",
                row["sequence_no"],
                cut,
                line.cast_class,
                line.heat_no or "to be decided",
                line.quality.value,
                "none" if line.requirement is None else line.requirement.text,
                line.whereabouts,
                line.customer,
            )
        )
    head = ["piece", "sequence", "strand/run/cut", "class", "heat", "quality", "for", "where", "sent to"]
    yield from table(head, rows)
    yield f"{len(found)} {'part' if len(found) == 1 else 'parts'}"


@piece_app.command("show")
def show_command(
    number: Annotated[str, typer.Argument(metavar="NUMBER", help="Number of the piece, or another number of it.")],
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show what is kept about one piece: place, shares, order, movements, weighings, marks, inspections.

    \b
    Example:
        heattrace piece show S300-1-07
    """
    from heattrace.store.engine import open_reader
    from heattrace.tracing.numbered import PIECE
    from heattrace.tracing.numbers import find
    from heattrace.tracing.pieces import show_piece

    with open_reader(db) as reader:
        practice = reader.is_practice()
        found = find(reader, number, kind=PIECE)
        data = show_piece(reader, found.id)
    give(
        Answer(
            "piece show",
            data,
            lambda: _show_lines(data),
            messages=[found.how] if found.how else [],
            practice=practice,
        ),
        as_json=as_json,
    )


def _show_lines(data: Mapping[str, Any]) -> Iterator[str]:
    from heattrace.cli.trace_words import class_lines, head_lines, heat_lines, position_lines

    yield from head_lines(data)
    yield from position_lines(data)
    yield from heat_lines(data)
    yield from class_lines(data)
    order = data["order_line"]
    if order is not None:
        yield f"ordered      {order['order_no']}/{order['line']} by {order['customer']}, {order['grade']}"
    for name in ("movements", "weights", "marks", "inspections"):
        yield from _rows(name, data[name])


def _rows(name: str, rows: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    if rows:
        yield ""
        yield name
        head = list(rows[0])
        yield from (f"  {line}" for line in table(head, [[row[h] for h in head] for row in rows]))
