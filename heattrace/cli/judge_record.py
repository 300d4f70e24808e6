"""`judge HEAT|PIECE`: what the record holds against what it is ordered for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NoReturn

from heattrace.cli.judgement_text import judgement_lines
from heattrace.cli.output import Answer, give, table
from heattrace.intake.grade_book import CAUTION
from heattrace.judging.judgement import MEETS, Judgement, Superheat
from heattrace.judging.limits import CAST
from heattrace.metallurgy.rounding import show
from heattrace.tracing.judged import JudgedHeat, judge_heat
from heattrace.tracing.judged_piece import JudgedPiece, judge_piece
from heattrace.tracing.superheat import shown_superheat


def judge_number(number: str, *, basis: str | None, db: str, as_json: bool) -> NoReturn:
    """Judge a heat or a piece of the record and end the command."""
    from heattrace.store.engine import open_reader
    from heattrace.tracing.numbered import HEAT
    from heattrace.tracing.numbers import find

    with open_reader(db) as reader:
        practice = reader.is_practice()
        found = find(reader, number)
        judged: JudgedHeat | JudgedPiece
        if found.kind == HEAT:
            judged = judge_heat(reader, found.id, basis=basis or CAST)
        else:
            judged = judge_piece(reader, found.id, basis=basis)
    how = [found.how] if found.how else []
    give(
        Answer(
            "judge",
            judged.as_json() if isinstance(judged, JudgedHeat) else piece_data(judged, basis or CAST),
            lines=lambda: heat_lines(judged) if isinstance(judged, JudgedHeat) else piece_lines(judged),
            findings=judged.findings,
            messages=[*how, *judged.messages, *caution_of(_judgements(judged))],
            status="attention" if judged.verdict != MEETS or _amended(judged) else "done",
            practice=practice,
        ),
        as_json=as_json,
    )


def _amended(judged: JudgedHeat | JudgedPiece) -> bool:
    """Whether the verdict rests on an analysis that no longer stands; a person has to look then."""
    return any(finding.code == "CHEM-AMENDED" for finding in judged.findings)


def _judgements(judged: JudgedHeat | JudgedPiece) -> Sequence[Judgement]:
    if isinstance(judged, JudgedHeat):
        return judged.judgements
    return (*(judged.fit.judgements if judged.fit else ()), *judged.products)


def piece_data(judged: JudgedPiece, basis: str) -> dict[str, Any]:
    """The promised judge object of the judgement that decides a piece, and beside it all that is told of the piece.

    Where nothing could be judged there is no grade and no limit.
    """
    judgements = _judgements(judged)
    if judgements:
        deciding = worst_position(judgements).as_json()
    else:
        empty = Judgement(judged.piece_no, "", "", "", basis, None, judged.verdict, ()).as_json()
        deciding = {**empty, "grade": None, "edition": None}
    return {**deciding, "subject": judged.piece_no, **judged.as_json()}


def caution_of(judgements: Sequence[Judgement]) -> list[str]:
    """What is to be said beside limits: how many are from memory, and who decides."""
    words = []
    for grade in dict.fromkeys(judgement.grade for judgement in judgements):
        limits = {
            (line.quantity, line.sense, line.limit): line.status
            for judgement in judgements
            if judgement.grade == grade
            for line in judgement.limits
        }
        memory = sum(status == "memory" for status in limits.values())
        if memory:
            words.append(f"{grade}: {memory} of {len(limits)} limits used here are from memory and are marked so")
    return [*words, CAUTION] if judgements else words


def heat_lines(judged: JudgedHeat) -> Iterator[str]:
    """The screen of one heat: each requirement in turn, then its superheat."""
    if not judged.judgements:
        yield f"heat {judged.heat_no}: {judged.verdict.upper()}, nothing could be judged"
    shown: tuple[Superheat, ...] = ()
    for number, judgement in enumerate(judged.judgements):
        if number:
            yield ""
        yield from judgement_lines(judgement)
        if judgement.superheat != shown:
            shown = judgement.superheat
            yield from superheat_lines(shown)
    if len(judged.judgements) > 1:
        yield ""
        yield from table(
            ["requirement", "grade", "mm", "verdict"],
            [(j.requirement, j.grade, j.size_mm, j.verdict.upper()) for j in judged.judgements],
        )


def superheat_lines(entries: Sequence[Superheat]) -> Iterator[str]:
    """Tundish readings with their superheat."""
    if not entries:
        return
    yield ""
    yield f"superheat by {entries[0].liquidus_formula}"
    rows = [(e.tundish, e.read_at, e.temperature_c, _liquidus(e), shown_superheat(e)) for e in entries]
    yield from table(["tundish", "read at", "degree C", "liquidus", "superheat"], rows, right=[2, 3, 4])


def _liquidus(entry: Superheat) -> str:
    if entry.liquidus_c is not None:
        return show(entry.liquidus_c, 1)
    if entry.liquidus_low_c is None or entry.liquidus_high_c is None:
        return "no number"
    low, high = show(entry.liquidus_low_c, 1), show(entry.liquidus_high_c, 1)
    return low if low == high else f"{low} to {high}"


def piece_lines(judged: JudgedPiece) -> Iterator[str]:
    """The screen of one piece: verdict by position, contents along it, the worst position in full, product analyses."""
    asked = judged.requirement or "no requirement"
    yield f"piece {judged.piece_no} for {asked}: {judged.verdict.upper()}"
    if judged.estimate is not None and judged.estimate.contents:
        yield ""
        yield "estimated composition, mass % (shares of its heats times their cast analyses)"
        positions = judged.estimate.positions
        rows = []
        for element, places in judged.estimate.contents.items():
            rows.append([element, *("not determined" if (a := places[p]) is None else a.shown() for p in positions)])
        if judged.fit is not None:
            rows.append(["", *(j.verdict.upper() for j in judged.fit.judgements)])
        yield from table(["element", *positions], rows, right=range(1, len(positions) + 1))
    if judged.fit is not None:
        yield ""
        yield from judgement_lines(worst_position(judged.fit.judgements))
    for judgement in judged.products:
        yield ""
        yield from judgement_lines(judgement)


def worst_position(judgements: Sequence[Judgement]) -> Judgement:
    """The judgement that decides a piece: the first of the worst verdict."""
    order = ("fails", "undecided", "meets")
    return min(judgements, key=lambda judgement: order.index(judgement.verdict))
