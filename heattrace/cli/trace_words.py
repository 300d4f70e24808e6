"""The trace of a piece for a person: what it is, where it lay, what is in it, what was decided, where it went.

Drawn with plain signs on at most 100 columns from the same data as the JSON, so that both say the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from heattrace.cli.composition_words import composition_lines
from heattrace.cli.screen import LABEL, WIDTH, said, section

if TYPE_CHECKING:
    from heattrace.judging.estimate import Fit

_BAR = 50

RULES = {
    "pure": "the one heat it is made of",
    "late": "a transition within one grade bears the newest heat whose older shares are small everywhere in it",
    "decided": "decided by a person",
    "decision": "a person has to decide which heat it bears",
}


def piece_lines(data: Mapping[str, Any], fit: Fit | None, run_to_m: float | None) -> Iterator[str]:
    """The screen of `trace PIECE`; `run_to_m` is where the last part of its run ends."""
    yield from head_lines(data)
    yield from position_lines(data, run_to_m)
    yield from heat_lines(data)
    yield from class_lines(data)
    yield from composition_lines(data, fit)
    yield from sample_lines(data["samples"])
    yield from reading_lines(data["temperatures"])
    yield from event_lines(data["events"])
    yield from hold_lines(data["holds"])
    yield from decision_lines(data["decisions"])
    yield from _end(data)


def head_lines(data: Mapping[str, Any]) -> Iterator[str]:
    """What the piece is, what it is good for, where it is."""
    piece = data["piece"]
    shape = " ".join(word for word in (piece["form"], piece["section"]) if word)
    yield f"{piece['kind']} {piece['piece_no'] or 'without a number'}" + (f": {shape}" if shape else "")
    yield ""
    for quality in piece["qualities"]:
        use = quality["requirement"] or "no requirement"
        grade = piece["grade"] if quality["requirement"] == piece["requirement"] != piece["grade"] else None
        yield from said("quality", f"{quality['quality'].upper()} for {use}" + (f" ({grade})" if grade else ""))
        yield from said("  because", quality["because"])
    yield from said("where", _where(data))
    if piece["length_hot_m"] is not None:
        cold = f"{piece['length_hot_m']:.3f} m hot, {piece['length_cold_m']:.3f} m cold"
        measured = f"; measured {piece['length_measured_m']} m hot" if piece["length_measured_m"] else ""
        yield from said("length", f"{cold}{measured}")
    masses = [f"{piece['mass_kg']:.0f} kg computed"] if piece["mass_kg"] is not None else []
    masses += [f"{piece['mass_weighed_kg']} kg weighed"] if piece["mass_weighed_kg"] else []
    if masses:
        yield from said("mass", ", ".join(masses))
    for alias in piece["aliases"]:
        until = f" to {alias['to'][:10]}" if alias["to"] else ""
        known = f"{alias['alias']}, number of {alias['owner']} from {alias['from'][:10]}{until}"
        yield from said("also known as", known)
    if piece["origin"] == "earlier":
        yield from said("origin", "from before the record began")
    for name, words in (("parents", "made from"), ("children", "made into")):
        kin = [f"{k['piece_no']} ({k['manner']})" for k in data["family"][name]]
        if kin:
            yield from said(words, ", ".join(kin))


def _where(data: Mapping[str, Any]) -> str:
    load = data.get("dispatch")
    where = data["piece"]["whereabouts"] or "not recorded"
    if load is None:
        return where
    order = f", order {load['order_no']}/{load['line']}" if load["order_no"] else ""
    at = f", {load['dispatched_at']}" if load["dispatched_at"] else ""
    return f"{where}: delivery note {load['delivery_note']} to {load['customer']}{order}{at}"


def position_lines(data: Mapping[str, Any], run_to_m: float | None = None) -> Iterator[str]:
    """Where the piece lay in the cast, with the strand drawn as a bar."""
    yield ""
    place = data["cast_position"]
    if place is None:
        yield from said("in the cast", data["piece"]["position"])
        return
    yield from said(
        "in the cast",
        f"sequence {place['sequence_no']}, strand {place['strand_no']}, run {place['run_no']}, cut {place['cut_no']}, "
        f"tundish {' then '.join(place['tundishes'])}",
    )
    if data["piece"]["position"] != "recorded":
        yield from said("", data["piece"]["position"])
    give = "" if place["uncertainty_m"] is None else f", each end +- {place['uncertainty_m']:.2f} m"
    yield from said("metres", f"{place['from_m']:.3f} (head) to {place['to_m']:.3f} (tail) m of the strand{give}")
    if run_to_m is not None and run_to_m > 0:
        yield from said("strand", _strand_bar(place, run_to_m))
    yield from said("at the mould", f"{place['meniscus_from']} to {place['meniscus_to']}")
    if place["clamped_at"] is not None:
        transit = "" if place["transit_min"] is None else f", {place['transit_min']:.1f} min after the mould"
        yield from said("cut", f"torch clamped {place['clamped_at']}{transit}")
    if place["residual_mm"] is not None:
        yield from said("check", f"measured less counter length {place['residual_mm']:+.0f} mm")
    if place["stop_marks_m"]:
        yield from said("stop marks", ", ".join(f"{m:.3f} m" for m in place["stop_marks_m"]))
    bounds = data["bounds"]
    if bounds is not None:
        low, high = bounds["from_m"], bounds["to_m"]
        yield from said(
            "bounds",
            f"a speed or clock is unknown: head between {low[0]:.2f} and {low[1]:.2f} m, "
            f"tail between {high[0]:.2f} and {high[1]:.2f} m",
        )


def _strand_bar(place: Mapping[str, Any], run_to_m: float) -> str:
    """The run from its start to the end of its last part, the piece marked; at least one sign wide."""
    begin = min(int(place["from_m"] / run_to_m * _BAR), _BAR - 1)
    end = max(begin + 1, min(round(place["to_m"] / run_to_m * _BAR), _BAR))
    return f"0 m |{'-' * max(begin, 0)}{'#' * (end - max(begin, 0))}{'-' * (_BAR - end)}| {run_to_m:.1f} m"


def heat_lines(data: Mapping[str, Any]) -> Iterator[str]:
    """The heats in the piece, each with its share drawn from head to tail."""
    if not data["heats"]:
        return
    yield ""
    wide = max(len(heat["heat_no"]) for heat in data["heats"])
    for number, heat in enumerate(data["heats"]):
        label = "heats" if number == 0 else ""
        name = heat["heat_no"].ljust(wide)
        if heat["share_mean"] is None:
            yield from said(label, f"{name}  share not recorded")
            continue
        head, mean, tail = (_percent(heat[f"share_{place}"]) for place in ("head", "mean", "tail"))
        yield f"{label.ljust(LABEL)}{name}  head {head} {share_bar(heat)} {tail} tail   mean {mean}"
    if any(heat["share_mean"] is not None for heat in data["heats"]):
        yield from said("", "(drawn from head to tail: tenths of the steel, # all of it)")
    grades = dict.fromkeys(heat["grade"] or "no grade planned" for heat in data["heats"])
    yield from said("planned", ", ".join(grades))


def _percent(share: float) -> str:
    return f"{share * 100:5.1f} %"


def share_bar(heat: Mapping[str, Any], wide: int = 24) -> str:
    """A share from head to tail in tenths: a digit a place, `#` for all of it.

    Between head, mean and tail it is drawn as the parabola they fix, kept within its least and greatest.
    """
    head, mean, tail = heat["share_head"], heat["share_mean"], heat["share_tail"]
    drawn = []
    for place in range(wide):
        u = (place + 0.5) / wide
        share = head + (tail - head) * u + 6 * (mean - (head + tail) / 2) * u * (1 - u)
        tenths = int(min(max(share, heat["share_min"]), heat["share_max"]) * 10 + 1e-9)
        drawn.append("#" if tenths >= 10 else str(tenths))
    return f"[{''.join(drawn)}]"


def class_lines(data: Mapping[str, Any]) -> Iterator[str]:
    """Class with its reasons, and whose heat number the piece bears by which rule."""
    yield from said("class", data["class"])
    for reason in data["class_reasons"]:
        yield from said("  because", reason["words"])
    number = data["heat_no"] or "none yet"
    yield from said("heat number", f"{number}: {RULES.get(data['heat_no_rule'], data['heat_no_rule'])}")
    if data["heat_no"] is None and data["majority_heat"]:
        yield from said("", f"most of it is {data['majority_heat']}, the late heat is {data['late_heat']}")


def sample_lines(samples: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Samples with their analyses and what those report."""
    rows = []
    none = {"method": "no analysis", "state": "", "is_cast": False, "results": []}
    for sample in samples:
        for analysis in sample["analyses"] or [none]:
            results = " ".join(f"{r['element']} {r['reported'] or 'n.r.'}" for r in analysis["results"])
            use = "cast" if analysis["is_cast"] else analysis["state"]
            rows.append((sample["sample_id"], sample["heat_no"], sample["kind"], analysis["method"], use, results))
    used = sum(max(len(str(row[i] or "")) for row in rows) + 2 for i in range(5)) + 2 if rows else 0
    room = max(WIDTH - used, 20)
    shown = [(*row[:5], _short(row[5], room)) for row in rows]
    yield from section("samples", ["sample", "heat", "kind", "method", "use", "reports [%]"], shown)


def _short(text: str, room: int) -> str:
    """A text in the room there is; what is left out shows as dots, never as half a number."""
    return text if len(text) <= room else f"{text[: room - 4].rsplit(' ', 2)[0]} ..."


def reading_lines(readings: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Temperature readings of the heats."""
    rows = [(r["heat_no"], r["place"], r["tundish"], r["read_at"], r["temperature_c"]) for r in readings]
    yield from section("temperatures", ["heat", "place", "tundish", "read at", "degree C"], rows, [4])


def event_lines(events: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Events that mark the piece."""
    rows = [
        (
            event["event_no"], event["kind"], f"{event['from_m']:.3f} to {event['to_m']:.3f}",
            "wants a check" if event["wants_check"] else "",
            "no end recorded: to the strand's end" if event["open_end"] else event["note"],
        )
        for event in events
    ]  # fmt: skip
    yield from section("events that mark it", ["event", "kind", "strand metres", "", "note"], rows)


def hold_lines(holds: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Holds that ever lay on the steel."""
    rows = [
        (h["hold_no"], h["state"], h["reason"], h["scope"], h["requirement"] or "all uses", h["lift_on"]) for h in holds
    ]
    yield from section("holds", ["hold", "state", "reason", "lies on", "bars", "lifted on"], rows)


def decision_lines(decisions: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Decisions on the steel."""
    rows = [
        (
            d["decision_no"], " ".join(w for w in (d["kind"], d["qualifier"]) if w), d["subject"], d["requirement"],
            d["by"], d["at"], "signed" if d["signed"] else "unsigned",
        )
        for d in decisions
    ]  # fmt: skip
    yield from section("decisions", ["", "decision", "on", "for", "by", "at", ""], rows)


def _end(data: Mapping[str, Any]) -> Iterator[str]:
    rows = [(c["certificate_no"], c["type"], c["state"]) for c in data["certificates"]]
    yield from section("certificates", ["certificate", "type", "state"], rows)
