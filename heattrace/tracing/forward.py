"""A heat traced forward: every piece with a share of it, what was decided, and where each piece is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import tzinfo
from typing import Any

from heattrace.errors import NotFound
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import TONNES, shown_at, written
from heattrace.store.works import works_zone
from heattrace.tracing import questions as q
from heattrace.tracing.backward import decision_json, temperatures_json
from heattrace.tracing.chemistry import chemistry_of_heats
from heattrace.tracing.holdings import hold_json, holds_on_heat
from heattrace.tracing.lineage import products_of, sources_of
from heattrace.tracing.qualities import qualities_of_heats, qualities_of_parts, worst_of
from heattrace.tracing.quality import UNDECIDED
from heattrace.tracing.requirements import Wanted, parts_wanted
from heattrace.tracing.whereabouts import loads_of, whereabouts_of

_MILLION = 1e6


def trace_heat(reader: Reader, heat_id: int) -> dict[str, Any]:
    """The promised data of `trace HEAT`, and beside it samples and holds.

    Raises
    ------
    NotFound
        There is no such heat.
    """
    row = reader.one(q.HEAT, heat=heat_id)
    if row is None:
        raise NotFound(f"no heat {heat_id}")
    zone = works_zone(reader)
    chemistry = chemistry_of_heats(reader, [heat_id])[heat_id]
    pieces = _pieces(reader, heat_id)
    wanted = parts_wanted(reader, [piece["part_id"] for piece in pieces])
    lines = _order_lines(reader, pieces, wanted)
    decisions = list(reader.by_keys(q.DECISIONS_ON_HEATS, [heat_id]))
    subject = f"heat {row['heat_no']}"
    return {
        "heat": _heat(reader, row, zone),
        "pieces": _pieces_json(reader, pieces, wanted, lines),
        "order_lines": list(lines.values()),
        "cast_analysis": chemistry.cast_json(),
        "temperatures": temperatures_json(reader, [heat_id], zone),
        "decisions": [decision_json(decision, subject, zone) for decision in decisions],
        "samples": chemistry.samples_json(zone),
        "holds": [hold_json(hold, zone) for hold in holds_on_heat(reader, heat_id)],
        "findings": [finding.as_json() for finding in chemistry.choice.findings],
    }


def _heat(reader: Reader, row: Row, zone: tzinfo) -> dict[str, Any]:
    qualities = qualities_of_heats(reader, [row["heat_id"]])[row["heat_id"]]
    worst = worst_of(qualities.values())
    return {
        "heat_no": row["heat_no"],
        "series": row["series"],
        "grade": row["requirement"] or row["grade_text"],
        "quality": worst.value if worst is not None else UNDECIDED,
        "qualities": [
            {"requirement": None if uses is None else uses.text, "quality": found.value, "because": found.because}
            for uses, found in qualities.items()
        ],
        "record": row["record"],
        "ladle_no": row["ladle_no"],
        "tapped_at": shown_at(row["tapped_at"], zone),
        "tapped_mass_t": written(row["tapped_mass_g"], row["tapped_mass_text"], TONNES),
        "evidence": [word.strip() for word in (row["evidence"] or "").split(";") if word.strip()],
        "pours": [
            {
                "sequence_no": pour["sequence_no"],
                "tundish": pour["tundish"],
                "opened_at": shown_at(pour["opened_at"], zone),
                "closed_at": shown_at(pour["closed_at"], zone),
            }
            for pour in reader.all(q.POURS_OF_HEAT, heat=row["heat_id"])
        ],
    }


def _pieces(reader: Reader, heat_id: int) -> list[dict[str, Any]]:
    """Pieces with a share of the heat in cast order, those from before the record, and all that was made from them."""
    placed = {row["part_id"]: _placed(row) for row in reader.all(q.PIECES_OF_HEAT, heat=heat_id)}
    earlier = {row["part_id"]: row["piece_no"] for row in reader.all(q.EARLIER_PIECES_OF_HEAT, heat=heat_id)}
    products = products_of(reader, [*placed, *earlier])
    children = list(dict.fromkeys(p for made in products.values() for p in made if p not in placed))
    sources = sources_of(reader, children)
    found = {key: piece for key, piece in placed.items() if piece["kind"] == "piece"}
    found.update({key: _unplaced(key, number) for key, number in earlier.items() if key not in found})
    lying = {row["part_id"] for row in reader.by_keys(q.PLACES_OF, sorted({p for s in sources.values() for p in s}))}
    for row in reader.by_keys(q.PIECES_BY_KEY, children):
        key = row["part_id"]
        homes = [p for p in sources[key] if p in lying]
        # A part without a place of its own lies where the one part it was made from lay.
        like = placed[homes[0]] if len(homes) == 1 and homes[0] in placed else _unplaced(key, None)
        found[key] = {**like, "part_id": key, "piece_no": row["piece_no"], "made_from": _name(like, sources[key])}
    return list(found.values())


def _placed(row: Row) -> dict[str, Any]:
    return {
        "part_id": row["part_id"],
        "piece_no": row["piece_no"],
        "kind": row["kind"],
        "share_mean": row["mean"] / _MILLION,
        "strand_no": row["strand_no"],
        "run_no": row["run_no"],
        "cut_no": row["cut_no"],
        "from_m": row["from_um"] / _MILLION,
        "to_m": row["to_um"] / _MILLION,
        "class": row["cast_class"],
        "heat_no": row["heat_no"],
        "sequence_no": row["sequence_no"],
        "mass_kg": row["mass_g"] / 1000,
        "made_from": None,
    }


def _unplaced(part_id: int, piece_no: str | None) -> dict[str, Any]:
    """A piece whose place, and with it its share of the heat, is not recorded."""
    nothing = ("share_mean", "strand_no", "run_no", "cut_no", "from_m", "to_m", "heat_no", "sequence_no", "mass_kg")
    return {
        "part_id": part_id,
        "piece_no": piece_no,
        "kind": "piece",
        **dict.fromkeys(nothing),
        "class": "undetermined",
        "made_from": None,
    }


def _name(like: Mapping[str, Any], sources: Sequence[int]) -> str:
    return str(like["piece_no"] or f"{len(sources)} parts")


def _order_lines(
    reader: Reader, pieces: Sequence[Mapping[str, Any]], wanted: Mapping[int, Wanted | None]
) -> dict[int, dict[str, Any]]:
    counts: dict[int, int] = {}
    for piece in pieces:
        uses = wanted[piece["part_id"]]
        if uses is not None and uses.order_line_id is not None:
            counts[uses.order_line_id] = counts.get(uses.order_line_id, 0) + 1
    return {
        row["order_line_id"]: {
            "order_no": row["order_no"],
            "line": row["line"],
            "customer": row["customer"],
            "grade": row["requirement"],
            "form": row["form"],
            "thickness_mm": row["thickness_mm"],
            "document": row["document"],
            "pieces": counts[row["order_line_id"]],
        }
        for row in reader.by_keys(q.ORDER_LINES_OF, sorted(counts))
    }


def _pieces_json(
    reader: Reader,
    pieces: Iterable[dict[str, Any]],
    wanted: Mapping[int, Wanted | None],
    lines: Mapping[int, Mapping[str, Any]],
) -> list[dict[str, Any]]:
    """The promised pieces; `customer` is who was sent it, before that who ordered it."""
    listed = list(pieces)
    keys = [piece["part_id"] for piece in listed]
    qualities = qualities_of_parts(reader, keys, wanted)
    places = whereabouts_of(reader, keys)
    loads = loads_of(reader, keys)
    answers = []
    for piece in listed:
        part_id = piece["part_id"]
        uses = wanted[part_id]
        load = loads.get(part_id)
        ordered = lines.get(uses.order_line_id or 0) if uses is not None else None
        answers.append(
            {
                **{name: value for name, value in piece.items() if name != "part_id"},
                "quality": qualities[part_id].value,
                "because": qualities[part_id].because,
                "requirement": None if uses is None else uses.text,
                "whereabouts": places.get(part_id),
                "customer": load.customer if load is not None else (ordered["customer"] if ordered else None),
                "delivery_note": None if load is None else load.delivery_note,
            }
        )
    return answers
