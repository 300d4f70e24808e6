"""Qualities of many heats and parts at once: what stands on them, gathered in a fixed number of questions."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence

from heattrace.store.reader import Reader, Row
from heattrace.store.works import works_value
from heattrace.tracing import questions as q
from heattrace.tracing.lineage import sources_of
from heattrace.tracing.quality import (
    MILLION,
    LaidHold,
    Made,
    Quality,
    Reach,
    SteelOfHeat,
    SteelOfPart,
    Uses,
    quality_of_heat,
    quality_of_part,
)
from heattrace.tracing.requirements import Wanted, heats_wanted, parts_wanted
from heattrace.values import dataclass, field, replace


@dataclass(slots=True)
class Standing:
    """What stands on some parts and on their heats, ready for weighing; `reach` holds the works values used.

    `sampled` are, by part, the parts a product sample was cut from: itself, or one it was made from.
    """

    reader: Reader
    parts: dict[int, SteelOfPart]
    heats: dict[int, SteelOfHeat]
    reach: Reach
    sampled: Mapping[int, Sequence[int]] = field(default_factory=dict)
    _fails: dict[tuple[int, int, str], bool | None] = field(default_factory=dict)
    _products: dict[tuple[int, str], str] = field(default_factory=dict)

    def of_part(self, part_id: int, uses: Uses | None) -> Quality:
        """Quality of one of the parts for a requirement."""
        part = self.parts[part_id]
        failing = "" if uses is None else self.failing_products(part_id, uses)
        if failing:
            part = replace(part, wants=(*part.wants, ("product", failing)))
        return quality_of_part(uses, part, self.heats, self.reach, self.fails_because_of)

    def of_heat(self, heat_id: int, uses: Uses | None) -> Quality:
        """Quality of one of the heats for a requirement."""
        return quality_of_heat(uses, self.heats[heat_id])

    def fails_because_of(self, part_id: int, heat_id: int, uses: Uses) -> bool | None:
        """Whether the estimated composition of a part fails a requirement and would not without a heat in it.

        None where the composition or the grade is not known. Only asked where a chemistry hold lies on the heat.
        """
        key = (part_id, heat_id, uses.text)
        if key not in self._fails:
            from heattrace.tracing.fits import fails_because_of

            self._fails[key] = fails_because_of(self.reader, part_id, heat_id, uses)
        return self._fails[key]

    def failing_products(self, part_id: int, uses: Uses) -> str:
        """What a part's product analyses say against a requirement, in words; empty where they say nothing."""
        cut_from = self.sampled.get(part_id, ())
        if not cut_from:
            return ""
        key = (part_id, uses.text)
        if key not in self._products:
            from heattrace.tracing.fits import failing_products

            self._products[key] = failing_products(self.reader, cut_from, uses)
        return self._products[key]


def reach_of(reader: Reader) -> Reach:
    """The floors the works has set."""
    return Reach(
        round(float(works_value(reader, "hold-reach")) * MILLION),
        round(float(works_value(reader, "hold-reach-chemistry")) * MILLION),
    )


def standing_of_heats(reader: Reader, heat_ids: Iterable[int]) -> Standing:
    """What stands on some heats."""
    return Standing(reader, {}, _steel_of_heats(reader, sorted(set(heat_ids))), reach_of(reader))


def standing_of_parts(reader: Reader, part_ids: Iterable[int]) -> Standing:
    """What stands on some parts and on every heat in them.

    A part that was made from others and has no place of its own stands as the parts it was made from do; holds on the
    parts it was made from lie on it too.
    """
    keys = sorted(set(part_ids))
    sources = sources_of(reader, keys)
    everything = sorted({*keys, *(p for found in sources.values() for p in found)})
    places = {row["part_id"]: row for row in reader.by_keys(q.PLACES_OF, everything)}
    shares: dict[int, dict[int, int]] = {}
    for row in reader.by_keys(q.SHARES_OF, everything):
        shares.setdefault(row["part_id"], {})[row["heat_id"]] = row["greatest"]
    for row in reader.by_keys(q.EARLIER_HEATS_OF, everything):
        shares.setdefault(row["part_id"], {})[row["heat_id"]] = MILLION
    heats = _steel_of_heats(reader, sorted({h for found in shares.values() for h in found}))
    decisions = _decisions(reader.by_keys(q.DECISIONS_ON_PARTS, keys))
    holds = _PartHolds(reader, everything, places)
    events = _events(reader, places)
    with_sample = {row["part_id"] for row in reader.by_keys(q.PARTS_WITH_PRODUCT_SAMPLES, everything)}
    sampled = {p: [s for s in (p, *sources[p]) if s in with_sample] for p in keys} if with_sample else {}
    parts = {}
    for part_id in keys:
        placed = [part_id] if part_id in places else [p for p in sources[part_id] if p in places]
        mixed: dict[int, int] = {}
        for source in placed or [part_id, *sources[part_id]]:
            for heat_id, greatest in shares.get(source, {}).items():
                mixed[heat_id] = max(greatest, mixed.get(heat_id, 0))
        wants = dict.fromkeys(want for p in placed for want in _wants(places[p], events))
        parts[part_id] = SteelOfPart(
            part_id,
            tuple(sorted(mixed.items(), key=lambda pair: (-pair[1], pair[0]))),
            tuple(wants),
            tuple(decisions.get(part_id, ())),
            holds.on(part_id, places.get(part_id), sources[part_id]),
            bool(placed),
        )
    return Standing(reader, parts, heats, reach_of(reader), sampled)


def qualities_of_parts(
    reader: Reader, part_ids: Iterable[int], wanted: Mapping[int, Wanted | None] | None = None
) -> dict[int, Quality]:
    """Quality of each part for its own requirement, or for the one given."""
    keys = sorted(set(part_ids))
    asked = parts_wanted(reader, keys) if wanted is None else wanted
    standing = standing_of_parts(reader, keys)
    return {part_id: standing.of_part(part_id, asked.get(part_id)) for part_id in keys}


def qualities_of_heats(reader: Reader, heat_ids: Iterable[int]) -> dict[int, dict[Wanted | None, Quality]]:
    """Quality of each heat for every requirement it answers for; where there is none, for none."""
    keys = sorted(set(heat_ids))
    standing = standing_of_heats(reader, keys)
    asked = heats_wanted(reader, keys)
    return {key: {uses: standing.of_heat(key, uses) for uses in asked[key] or (None,)} for key in keys}


def worst_of(qualities: Iterable[Quality]) -> Quality | None:
    """The worst of some qualities; None where there is none."""
    from heattrace.tracing.quality import WORST

    return max(qualities, key=lambda quality: WORST[quality.value], default=None)


def _steel_of_heats(reader: Reader, heat_ids: Sequence[int]) -> dict[int, SteelOfHeat]:
    numbers = {row["heat_id"]: row["heat_no"] for row in reader.by_keys(q.HEAT_NUMBERS_OF, heat_ids)}
    decisions = _decisions(reader.by_keys(q.DECISIONS_ON_HEATS, heat_ids))
    rows = list(reader.by_keys(q.HOLDS_ON_HEATS, heat_ids))
    states = hold_states(reader, [row["hold_id"] for row in rows])
    holds: dict[int, list[LaidHold]] = {}
    for row in rows:
        laid = _laid(row, states, f"heat {numbers[row['subject']]}")
        holds.setdefault(row["subject"], []).append(laid)
    return {
        h: SteelOfHeat(h, number, tuple(decisions.get(h, ())), tuple(holds.get(h, ()))) for h, number in numbers.items()
    }


def _decisions(rows: Iterable[Row]) -> dict[int, list[Made]]:
    found: dict[int, list[Made]] = {}
    for row in rows:
        if row["kind"] != "number":
            found.setdefault(row["subject"], []).append(
                Made(
                    f"D-{row['decision_id']}", row["kind"], row["qualifier"], row["requirement"], row["entry_no"],
                    row["by"], row["signature_id"] is not None,
                )
            )  # fmt: skip
    return found


@dataclass(frozen=True, slots=True)
class HoldState:
    """State of a hold now, and the ledger entry that first placed it (None: never placed)."""

    state: str
    placed_no: int | None


def hold_states(reader: Reader, hold_ids: Iterable[int]) -> dict[int, HoldState]:
    """State of each hold; one without any is `proposed`."""
    found: dict[int, HoldState] = {}
    for row in reader.by_keys(q.HOLD_STATES, sorted(set(hold_ids))):
        known = found.get(row["hold_id"])
        placed = known.placed_no if known else None
        if placed is None and row["state"] in ("placed", "under-check", "lifted"):
            placed = row["entry_no"]
        found[row["hold_id"]] = HoldState(row["state"], placed)
    return found


_NOT_PLACED = HoldState("proposed", None)


def _laid(row: Row, states: Mapping[int, HoldState], scope: str) -> LaidHold:
    held = states.get(row["hold_id"], _NOT_PLACED)
    return LaidHold(f"H-{row['hold_id']}", row["reason"], row["requirement"], held.state, held.placed_no, scope)


class _PartHolds:
    """Holds on parts and on metres of strands, by the parts they lie on."""

    def __init__(self, reader: Reader, part_ids: Sequence[int], places: Mapping[int, Row]) -> None:
        self._on_parts = list(reader.by_keys(q.HOLDS_ON_PARTS, part_ids))
        sequences = sorted({row["sequence_id"] for row in places.values()})
        self._on_runs: dict[tuple[int, int, int], list[Row]] = {}
        for row in reader.by_keys(q.HOLDS_ON_SEQUENCES, sequences):
            self._on_runs.setdefault((row["subject"], row["strand_no"], row["run_no"]), []).append(row)
        runs = [row for rows in self._on_runs.values() for row in rows]
        self._states = hold_states(reader, [row["hold_id"] for row in (*self._on_parts, *runs)])
        self._by_part: dict[int, list[Row]] = {}
        for row in self._on_parts:
            self._by_part.setdefault(row["subject"], []).append(row)
        self._places = places

    def on(self, part_id: int, place: Row | None, sources: Sequence[int]) -> tuple[LaidHold, ...]:
        """Holds on one part: laid on it, on what it was made from, on metres it has a part of."""
        found: dict[str, LaidHold] = {}
        for subject in (part_id, *sources):
            for row in self._by_part.get(subject, ()):
                if subject == part_id or _meets(row, place):
                    scope = "the part" if subject == part_id else "a part it was made from"
                    laid = _laid(row, self._states, scope + _metres(row))
                    found.setdefault(laid.hold_no, laid)
        for placed in [place] if place is not None else [self._places[s] for s in sources if s in self._places]:
            run = (placed["sequence_id"], placed["strand_no"], placed["run_no"])
            for row in self._on_runs.get(run, ()):
                if _meets(row, placed):
                    laid = _laid(row, self._states, f"strand {run[1]} run {run[2]}{_metres(row)}")
                    found.setdefault(laid.hold_no, laid)
        return tuple(found.values())


def _meets(row: Row, place: Row | None) -> bool:
    """Whether metres of a hold overlap a place; a hold without metres, or a part without a place, always does."""
    if row["from_um"] is None or row["to_um"] is None or place is None:
        return True
    return bool(row["from_um"] < place["to_um"] and row["to_um"] > place["from_um"])


def _metres(row: Row) -> str:
    if row["from_um"] is None or row["to_um"] is None:
        return ""
    return f" from {row['from_um'] / MILLION:.3f} to {row['to_um'] / MILLION:.3f} m"


def _events(reader: Reader, places: Mapping[int, Row]) -> dict[tuple[int, int, int], list[Row]]:
    """Events that want a check, by the run whose metres they mark."""
    kinds = frozenset(works_value(reader, "event-wants-check"))
    found: dict[tuple[int, int, int], list[Row]] = {}
    for row in reader.by_keys(q.EVENTS_OF_SEQUENCES, sorted({p["sequence_id"] for p in places.values()})):
        if row["kind"] in kinds:
            found.setdefault((row["sequence_id"], row["strand_no"], row["run_no"]), []).append(row)
    return found


def marks(event: Row, place: Row) -> bool:
    """Whether the metres an event marks are metres of a place; a mark of no length counts where it lies."""
    begin, end = event["from_um"], event["to_um"]
    if begin == end:
        return bool(place["from_um"] <= begin < place["to_um"])
    return bool(begin < place["to_um"] and end > place["from_um"])


def _wants(place: Row, events: Mapping[tuple[int, int, int], Sequence[Row]]) -> list[tuple[str, str]]:
    wants = []
    if place["cast_class"] != "pure":
        words = ", ".join(reason_words(place["class_reasons"]))
        wants.append((place["cast_class"], f"{place['cast_class']}: {words}" if words else place["cast_class"]))
    for event in events.get((place["sequence_id"], place["strand_no"], place["run_no"]), ()):
        if marks(event, place):
            reach = f"{event['from_um'] / MILLION:.3f} to {event['to_um'] / MILLION:.3f} m"
            wants.append(("event", f"E-{event['event_id']} {event['kind']} marks {reach} and wants a check"))
    return wants


def reason_words(stored: str) -> list[str]:
    """The words of stored class reasons."""
    return [reason["words"] if isinstance(reason, dict) else str(reason) for reason in json.loads(stored)]
