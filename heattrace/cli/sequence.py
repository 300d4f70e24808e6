"""`heattrace sequence ...`: the sequences of the record, their parts along the strands, their mass balance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any

import typer

from heattrace.cli.groups import new_app
from heattrace.cli.options import DEFAULT_DATABASE, AsJson, Database
from heattrace.cli.output import Answer, give, table

sequence_app = new_app("Sequences: their heats, their parts along the strands, their mass balance.")

Number = Annotated[str, typer.Argument(metavar="SEQ", help="Number of the sequence.")]
_CLASSES = ("pure", "transition", "undetermined")
_SHORT = ("pure", "transit.", "undet.")


@sequence_app.callback()
def sequences() -> None:
    """Sequences: their heats, their parts along the strands, their mass balance."""


@sequence_app.command("list")
def list_command(db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """List the sequences of the record, oldest first.

    \b
    Example:
        heattrace sequence list
    """
    from heattrace.store.engine import open_reader
    from heattrace.tracing.sequences import list_sequences

    with open_reader(db) as reader:
        practice = reader.is_practice()
        found = list_sequences(reader)

    def lines() -> Iterator[str]:
        if not found:
            yield 'no sequence yet; take a cast book in: heattrace import FOLDER --profile cast-book --by "A. Weber"'
            return
        head = ["sequence", "caster", "from", "to", "heats", "strands", "pieces", "other", *_SHORT[1:]]
        names = ("heats", "strands", "pieces", "other_parts", "transitions", "undetermined")
        rows = [
            (row["sequence_no"], row["caster"], _minute(row["from"]), _minute(row["to"]), *(row[n] for n in names))
            for row in found
        ]
        yield from table(head, rows, right=range(4, 10))

    give(Answer("sequence list", {"sequences": found}, lines, practice=practice), as_json=as_json)


@sequence_app.command("show")
def show_command(
    number: Number,
    strand: Annotated[int | None, typer.Option("--strand", metavar="N", help="Only this strand.")] = None,
    db: Database = DEFAULT_DATABASE,
    as_json: AsJson = False,
) -> None:
    """Show the heats of a sequence and every part of it, computed now from what was recorded.

    \b
    Example:
        heattrace sequence show S-300 --strand 2
    """
    from heattrace.store.engine import open_reader
    from heattrace.tracing.sequences import show_sequence

    with open_reader(db) as reader:
        practice = reader.is_practice()
        shown = show_sequence(reader, number, strand)
    give(
        Answer(
            "sequence show",
            shown.data,
            lambda: _show_lines(shown.data, one_strand=strand is not None),
            findings=shown.findings,
            practice=practice,
        ),
        as_json=as_json,
    )


def _show_lines(data: Mapping[str, Any], *, one_strand: bool) -> Iterator[str]:
    until = f", recorded until {data['recorded_until']}" if data["recorded_until"] else ""
    yield f"sequence {data['sequence_no']} on caster {data['caster']}{until}"
    yield ""
    at_start = {"tundish": "in it at the start", "opened_at": "", "closed_at": ""}
    pours = [
        (heat["heat_no"], heat["grade"] or "not recorded", p["tundish"], p["opened_at"], p["closed_at"] or "open")
        for heat in data["heats"]
        for p in heat["pours"] or [at_start]
    ]
    yield from table(["heat", "grade", "tundish", "ladle open", "ladle closed"], pours)
    yield ""
    yield from _run_lines(data)
    parts = data["pieces"]
    yield ""
    if one_strand:
        yield from _part_lines(parts)
        yield ""
    classes = Counter(part["class"] for part in parts)
    kinds = Counter(part["piece"]["kind"] for part in parts)
    yield f"{len(parts)} parts: " + ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items()))
    yield "class: " + ", ".join(f"{classes[name]} {name}" for name in _CLASSES)
    if not one_strand:
        yield f"Each part of one strand: heattrace sequence show {data['sequence_no']} --strand N"


def _run_lines(data: Mapping[str, Any]) -> Iterator[str]:
    rows = []
    for run in data["runs"]:
        key = (run["strand_no"], run["run_no"])
        places = [(part["cast_position"], part["class"]) for part in data["pieces"]]
        own = [class_ for place, class_ in places if (place["strand_no"], place["run_no"]) == key]
        classes = Counter(own)
        machine = run["in_machine_from_m"]
        rows.append(
            (
                f"{run['strand_no']}/{run['run_no']}", f"{run['form']} {run['section']}", _clock(run["started_at"]),
                _clock(run["stopped_at"]) or "running", f"{run['length_m']:.3f}",
                "" if machine is None else f"{run['length_m'] - machine:.3f}", len(own),
                *(classes[name] for name in _CLASSES),
            )
        )  # fmt: skip
    head = ["strand/run", "section", "started", "stopped", "metres", "in machine", "parts", *_SHORT]
    yield from table(head, rows, right=range(4, 10))


def _part_lines(parts: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    rows = []
    for part in parts:
        place, piece = part["cast_position"], part["piece"]
        shares = ", ".join(f"{heat['heat_no']} {heat['share_mean']:.1%}" for heat in part["heats"])
        rows.append(
            (
                "-" if place["cut_no"] is None else place["cut_no"], piece["piece_no"] or f"({piece['kind']})",
                f"{place['from_m']:.3f}", f"{place['to_m']:.3f}", _clock(place["meniscus_from"]),
                _clock(place["meniscus_to"]), part["class"], part["heat_no"] or "to be decided", shares,
                piece["quality"],
            )
        )  # fmt: skip
    head = ["cut", "piece", "from m", "to m", "mould from", "mould to", "class", "heat", "mean shares", "quality"]
    yield from table(head, rows, right=(0, 2, 3))


def _clock(moment: str | None) -> str:
    """The time of day of a moment, to the second."""
    return "" if moment is None else moment[11:19]


def _minute(moment: str | None) -> str:
    """Day and time of a moment, to the minute."""
    return "" if moment is None else moment[:16].replace("T", " ")


@sequence_app.command("balance")
def balance_command(number: Number, db: Database = DEFAULT_DATABASE, as_json: AsJson = False) -> None:
    """Balance a sequence: where every heat went, counters against measured lengths, yields.

    \b
    Example:
        heattrace sequence balance S-300
    """
    from heattrace.store.engine import open_reader
    from heattrace.tracing.balances import balance_sequence

    with open_reader(db) as reader:
        practice = reader.is_practice()
        found = balance_sequence(reader, number)
    give(
        Answer(
            "sequence balance",
            found.data,
            lambda: _balance_lines(found.data),
            findings=found.findings,
            practice=practice,
        ),
        as_json=as_json,
    )


_WHERE = (
    ("initial", "initial_t"), ("poured", "poured_t"), ("strands", "strand_t"), ("in tundish", "tundish_left_t"),
    ("loss", "loss_t"),
)  # fmt: skip
_STRANDS = (("pieces", "pieces_t"), ("crops", "crops_t"), ("kerf", "kerf_t"), ("in machine", "in_machine_t"))


def _balance_lines(data: Mapping[str, Any]) -> Iterator[str]:
    heats = data["heats"]
    yield f"sequence {data['sequence_no']}: tonnes of each heat"
    yield ""
    rows = [(h["heat_no"], *_tonnes(h, _WHERE), f"{h['closure_t']:.1e}", h["tapped_t"]) for h in heats]
    rows.append(("all", *_totals(heats, _WHERE), f"{sum(h['closure_t'] for h in heats):.1e}", ""))
    yield from table(["heat", *(title for title, _ in _WHERE), "closure", "tapped"], rows, right=range(1, 8))
    yield "initial + poured = strands + in tundish + loss + closure"
    yield ""
    rows = [(h["heat_no"], *_tonnes(h, _STRANDS), _three(h["weighed_pieces_t"]), _three(h["band_t"])) for h in heats]
    rows.append(("all", *_totals(heats, _STRANDS), "", ""))
    yield from table(["heat", *(title for title, _ in _STRANDS), "weighed", "band"], rows, right=range(1, 7))
    yield "strands = pieces + crops + kerf + in machine; weighed: those pieces that were, by the scale"
    for heat in data["heats"]:
        if heat["cause"]:
            yield f"{heat['heat_no']}: {heat['cause']}"
    yield ""
    runs = [
        (
            f"{run['strand_no']}/{run['run_no']}", f"{run['counter_m']:.3f}",
            "" if run["measured_m"] is None else f"{run['measured_m']:.3f}",
            "" if run["scale"] is None else f"{run['scale']:.5f}", run["flag"], f"{run['foreign_t']:.3f}",
        )
        for run in data["runs"]
    ]  # fmt: skip
    head = ["strand/run", "counter m", "measured m", "scale", "lengths", "foreign t"]
    yield from table(head, runs, right=(1, 2, 3, 5))
    yield ""
    for name, words in (("strand", "strands over initial and poured"), ("prime", "released pieces over the same")):
        share = data["yield"][name]
        yield f"{name} yield  " + (f"{share:.2%}" if share is not None else "none") + f"  ({words})"
    residuals = ", ".join(f"{tundish} {value:+.3f} t" for tundish, value in sorted(data["reading_residual_t"].items()))
    yield f"tundish readings the model could not follow: {residuals or 'none'}"
    if data["nominal_level"]:
        yield f"nominal level, not weighed: tundish {', '.join(data['nominal_level'])}"


def _tonnes(heat: Mapping[str, Any], columns: Sequence[tuple[str, str]]) -> list[str]:
    return [_three(heat[name]) for _, name in columns]


def _totals(heats: Sequence[Mapping[str, Any]], columns: Sequence[tuple[str, str]]) -> list[str]:
    return [_three(sum(heat[name] for heat in heats)) for _, name in columns]


def _three(value: float | None) -> str:
    return "" if value is None else f"{value:.3f}"
