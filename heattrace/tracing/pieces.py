"""Pieces in lists, by sequence, strand, heat, class, quality, kind; and everything kept about one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from heattrace.errors import NotFound
from heattrace.store.number_form import searched
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import KILOGRAMS, shown_at, written
from heattrace.store.works import works_zone
from heattrace.tracing import questions as q
from heattrace.tracing.backward import piece_head
from heattrace.tracing.lineage import sources_of
from heattrace.tracing.numbered import HEAT
from heattrace.tracing.numbers import find
from heattrace.tracing.qualities import standing_of_parts
from heattrace.tracing.quality import Quality
from heattrace.tracing.requirements import Wanted, parts_wanted
from heattrace.tracing.whereabouts import loads_of, whereabouts_of
from heattrace.values import dataclass

# Parts weighed at once: enough to ask little, few enough to answer while a list still grows.
LOT = 900
ALL = "all"
_END = 1 << 62


@dataclass(frozen=True, slots=True)
class Asked:
    """What a list is to hold; None: any. `heat` and `sequence` are numbers as typed; `kind` may be `all`."""

    sequence: str | None = None
    heat: str | None = None
    strand: int | None = None
    quality: str | None = None
    cast_class: str | None = None
    kind: str = "piece"


@dataclass(frozen=True, slots=True)
class PieceLine:
    """One part of a list; `cast_class` and `heat_no` are those its trace shows."""

    row: Row
    cast_class: str
    heat_no: str | None
    quality: Quality
    requirement: Wanted | None
    whereabouts: str | None
    customer: str | None

    def as_json(self) -> dict[str, Any]:
        """The promised object of `piece list`, with its requirement, why it has its quality, and who was sent it."""
        row = self.row
        return {
            "piece_no": row["piece_no"],
            "kind": row["kind"],
            "sequence_no": row["sequence_no"],
            "strand_no": row["strand_no"],
            "run_no": row["run_no"],
            "cut_no": row["cut_no"],
            "class": self.cast_class,
            "heat_no": self.heat_no,
            "quality": self.quality.value,
            "whereabouts": self.whereabouts,
            "requirement": None if self.requirement is None else self.requirement.text,
            "because": self.quality.because,
            "customer": self.customer,
        }


def list_pieces(reader: Reader, asked: Asked) -> Iterator[PieceLine]:
    """Parts in cast order, or in the order they came into the record.

    Raises
    ------
    NotFound
        The record has no such sequence or heat.
    """
    for rows in _lots(reader, asked):
        kept = [row for row in rows if _fits(row, asked)]
        for line in _weighed(reader, kept):
            if asked.quality in (None, line.quality.value) and asked.cast_class in (None, line.cast_class):
                yield line


def _fits(row: Row, asked: Asked) -> bool:
    return asked.kind in (ALL, row["kind"]) and asked.strand in (None, row["strand_no"])


def _lots(reader: Reader, asked: Asked) -> Iterator[list[Row]]:
    if asked.heat is not None:
        heat = find(reader, asked.heat, kind=HEAT)
        keys = [row["part_id"] for row in reader.all(q.PARTS_WITH_HEAT, heat=heat.id)]
        keys += [row["part_id"] for row in reader.all(q.EARLIER_PIECES_OF_HEAT, heat=heat.id)]
        wanted = sequence_named(reader, asked.sequence)[1] if asked.sequence is not None else None
        for start in range(0, len(keys), LOT):
            lot = keys[start : start + LOT]
            known = {row["part_id"]: row for row in reader.by_keys(q.PIECES_BY_KEY, lot)}
            yield [known[key] for key in lot if key in known and wanted in (None, known[key]["sequence_no"])]
    elif asked.sequence is not None:
        sequence_id, _ = sequence_named(reader, asked.sequence)
        yield reader.all(q.PIECES_OF_SEQUENCE, sequence=sequence_id, most=_END)
    else:
        after = 0
        while rows := reader.all(q.PIECES, after=after, most=LOT):
            after = rows[-1]["part_id"]
            yield rows


def sequence_named(reader: Reader, text: str) -> tuple[int, str]:
    """Key and number of a sequence.

    Raises
    ------
    NotFound
        The record has none of that number; the nearest are named.
    """
    number = searched(text)
    row = reader.one(q.SEQUENCE_NUMBERED, number=number)
    if row is None:
        from difflib import get_close_matches

        near = get_close_matches(number, [r["sequence_no"] for r in reader.all(q.SEQUENCES)], n=4, cutoff=0.4)
        raise NotFound(f'no sequence "{number}"' + (f"; nearest: {', '.join(near)}" if near else " in the record"))
    return row["sequence_id"], row["sequence_no"]


def _weighed(reader: Reader, rows: list[Row]) -> Iterator[PieceLine]:
    keys = [row["part_id"] for row in rows]
    wanted = parts_wanted(reader, keys)
    standing = standing_of_parts(reader, keys)
    places, loads = whereabouts_of(reader, keys), loads_of(reader, keys)
    homes = _homes(reader, [row["part_id"] for row in rows if row["cast_class"] is None])
    for row in rows:
        key = row["part_id"]
        load = loads.get(key)
        home = homes.get(key, row)
        heats = [standing.heats[heat_id].heat_no for heat_id, _ in standing.parts[key].shares]
        heat_no = heats[0] if home["cast_class"] is None and len(heats) == 1 else home["heat_no"]
        yield PieceLine(
            row,
            home["cast_class"] or "undetermined",
            heat_no,
            standing.of_part(key, wanted[key]),
            wanted[key],
            places.get(key),
            None if load is None else load.customer,
        )


def _homes(reader: Reader, part_ids: list[int]) -> dict[int, Row]:
    """For parts without a place of their own, the one placed part each was made from."""
    sources = sources_of(reader, part_ids)
    known = {
        row["part_id"]: row
        for row in reader.by_keys(q.PIECES_BY_KEY, sorted({p for made in sources.values() for p in made}))
        if row["cast_class"] is not None
    }
    placed = {key: [known[p] for p in made if p in known] for key, made in sources.items()}
    return {key: rows[0] for key, rows in placed.items() if len(rows) == 1}


def show_piece(reader: Reader, part_id: int) -> dict[str, Any]:
    """What is kept about one piece beside its trace: what it is, movements, weighings, marks, inspections, order."""
    zone = works_zone(reader)
    data = piece_head(reader, part_id)
    wanted = parts_wanted(reader, [part_id])[part_id]
    lines = [] if wanted is None or wanted.order_line_id is None else [wanted.order_line_id]
    data["order_line"] = next(
        (
            {name: row[name] for name in ("order_no", "line", "customer", "form", "thickness_mm", "document")}
            | {"grade": row["requirement"]}
            for row in reader.by_keys(q.ORDER_LINES_OF, lines)
        ),
        None,
    )
    data["movements"] = [
        {
            "whereabouts": row["whereabouts"],
            "at": shown_at(row["at"], zone),
            "delivery_note": row["delivery_note"],
            "customer": row["customer"],
            "note": row["note"],
        }
        for row in reader.all(q.MOVEMENTS, part=part_id)
    ]
    data["weights"] = [
        {
            "mass_kg": written(row["mass_g"], row["mass_text"], KILOGRAMS),
            "weighed_at": shown_at(row["weighed_at"], zone),
        }
        for row in reader.all(q.WEIGHTS, part=part_id)
    ]
    data["marks"] = [
        {"mark": row["mark"], "manner": row["manner"], "at": shown_at(row["at"], zone)}
        for row in reader.all(q.MARKS, part=part_id)
    ]
    data["inspections"] = [
        {
            "inspection_no": f"inspection:{row['inspection_id']}",
            **{name: row[name] for name in ("scheme", "edition", "item", "rating", "read_by", "second_reader")},
        }
        for row in reader.all(q.INSPECTIONS, part=part_id)
    ]
    return data
