"""The screen of one piece's trace and its JSON say the same, for pieces of every sort the demo works has."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.cli.demo_works import DemoWorks
from tests.cli.tables_on_screen import labelled, shows, table_of, told

# Dispatched and plain; a transition over a change of grade; marked by an event; held with its heat and a product sample
# nearby; over the tundish exchange; with a stop mark; with bounds; a slab of the lost strand.
PIECES = (
    "L119C017", "L119B028", "L119C015", "L118A026", "L119D018", "L118A032", "L118D015", "L119D026", "N052B009",
)  # fmt: skip


@pytest.fixture(params=PIECES)
def both(demo: DemoWorks, request: pytest.FixtureRequest) -> tuple[str, dict[str, Any]]:
    """Screen and data of one piece."""
    return demo.ask("trace", request.param).out, demo.json("trace", request.param).data


def test_what_it_is_and_where(both: tuple[str, dict[str, Any]]) -> None:
    screen, data = both
    piece = data["piece"]
    assert screen.splitlines()[0] == f"{piece['kind']} {piece['piece_no']}: {piece['form']} {piece['section']}"
    qualities = [text.removesuffix(f" ({piece['grade']})") for text in told(screen, "quality")]
    assert qualities == [
        f"{q['quality'].upper()} for {q['requirement'] or 'no requirement'}" for q in piece["qualities"]
    ]
    reasons = [*(q["because"] for q in piece["qualities"]), *(r["words"] for r in data["class_reasons"])]
    assert told(screen, "because") == reasons
    (length,) = told(screen, "length")
    digits = re.fullmatch(r"([\d.]+) m hot, ([\d.]+) m cold; measured ([\d.]+) m hot", length)
    assert digits and shows(digits[1], piece["length_hot_m"]) and shows(digits[2], piece["length_cold_m"])
    assert digits[3] == piece["length_measured_m"]
    (mass,) = told(screen, "mass")
    assert shows(mass.split()[0], piece["mass_kg"])
    assert re.findall(r"([\d.]+) kg weighed", mass) == ([piece["mass_weighed_kg"]] if piece["mass_weighed_kg"] else [])
    (where,) = told(screen, "where")
    assert where.split(":")[0] == piece["whereabouts"]
    if data["dispatch"]:
        load = data["dispatch"]
        assert where == (
            f"dispatched: delivery note {load['delivery_note']} to {load['customer']}, "
            f"order {load['order_no']}/{load['line']}, {load['dispatched_at']}"
        )


def test_its_place_in_the_cast(both: tuple[str, dict[str, Any]]) -> None:
    screen, data = both
    place = data["cast_position"]
    assert told(screen, "in the cast") == [
        f"sequence {place['sequence_no']}, strand {place['strand_no']}, run {place['run_no']}, cut {place['cut_no']}, "
        f"tundish {' then '.join(place['tundishes'])}"
    ]
    (metres,) = told(screen, "metres")
    found = re.fullmatch(r"([\d.]+) \(head\) to ([\d.]+) \(tail\) m of the strand, each end \+- ([\d.]+) m", metres)
    assert found
    for digits, key in zip(found.groups(), ("from_m", "to_m", "uncertainty_m"), strict=True):
        assert shows(digits, place[key])
    assert told(screen, "at the mould") == [f"{place['meniscus_from']} to {place['meniscus_to']}"]
    (cut,) = told(screen, "cut")
    moment = re.fullmatch(r"torch clamped (\S+), ([\d.]+) min after the mould", cut)
    assert moment and moment[1] == place["clamped_at"] and shows(moment[2], place["transit_min"])
    (check,) = told(screen, "check")
    assert shows(re.findall(r"[+-]\d+", check)[0], place["residual_mm"])
    marks = [digits for text in told(screen, "stop marks") for digits in re.findall(r"[\d.]+(?= m)", text)]
    assert len(marks) == len(place["stop_marks_m"])
    assert all(shows(d, m) for d, m in zip(marks, place["stop_marks_m"], strict=True))
    bounds = [digits for text in told(screen, "bounds") for digits in re.findall(r"\d+\.\d+", text)]
    ends = [*data["bounds"]["from_m"], *data["bounds"]["to_m"]] if data["bounds"] else []
    assert len(bounds) == len(ends)
    assert all(shows(d, m) for d, m in zip(bounds, ends, strict=True))


def test_its_heats_and_class(both: tuple[str, dict[str, Any]]) -> None:
    screen, data = both
    lines = re.findall(r"(\S+) +head +([\d.]+ %) \[.{24}\] +([\d.]+ %) tail +mean +([\d.]+ %)", screen)
    assert [line[0] for line in lines] == [heat["heat_no"] for heat in data["heats"]]
    for (_, *digits), heat in zip(lines, data["heats"], strict=True):
        for shown, key in zip(digits, ("share_head", "share_tail", "share_mean"), strict=True):
            assert shows(shown, heat[key])
    assert told(screen, "class") == [data["class"]]
    assert labelled(screen)["heat number"][0].split(":")[0] == (data["heat_no"] or "none yet")
    if data["heat_no"] is None:
        assert f"most of it is {data['majority_heat']}, the late heat is {data['late_heat']}" in screen


def test_its_estimated_composition_and_fits(both: tuple[str, dict[str, Any]]) -> None:
    screen, data = both
    table = table_of(screen, "", "head", "mean", "tail")
    rows = {row[0]: dict(zip(("head", "mean", "tail"), row[1:4], strict=True)) for row in table.rows}
    assert set(data["composition"]) <= set(rows)
    for element, content in data["composition"].items():
        for position, digits in rows[element].items():
            if content[position] is not None:
                assert shows(digits, content[position]), (element, digits)
            else:
                assert digits.startswith("<") and shows(digits[1:], content["below"][position]), (element, digits)
    verdicts = [
        f"{f['verdict'].upper()} for {f['requirement']} ({f['role']}): "
        f"head {f['head']}, mean {f['mean']}, tail {f['tail']}"
        for f in data["fits"]
    ]
    assert told(screen, "fit") == verdicts


def test_its_samples_readings_events_holds_and_decisions(both: tuple[str, dict[str, Any]]) -> None:
    screen, data = both
    rows = [
        (s["sample_id"], s["heat_no"], s["kind"], a["method"], "cast" if a["is_cast"] else a["state"])
        for s in data["samples"]
        for a in s["analyses"]
    ]
    samples = table_of(screen, "sample", "heat")
    assert [row[:5] for row in samples.rows] == rows
    analyses = [a for s in data["samples"] for a in s["analyses"]]
    for row, analysis in zip(samples.rows, analyses, strict=True):
        reported = " ".join(f"{r['element']} {r['reported']}" for r in analysis["results"])
        assert reported.startswith(row[5].removesuffix("...").strip())
    assert list(table_of(screen, "heat", "place").rows) == [
        (t["heat_no"], t["place"], t["tundish"] or "", t["read_at"], t["temperature_c"]) for t in data["temperatures"]
    ]
    events = table_of(screen, "event", "kind")
    assert [row[:2] for row in events.rows] == [(e["event_no"], e["kind"]) for e in data["events"]]
    for row, event in zip(events.rows, data["events"], strict=True):
        low, high = row[2].split(" to ")
        assert shows(low, event["from_m"]) and shows(high, event["to_m"])
    keys = ("hold_no", "state", "reason", "scope", "requirement", "lift_on")
    holds = [tuple(hold[key] or "all uses" for key in keys) for hold in data["holds"]]
    assert list(table_of(screen, "hold", "state").rows) == holds
    decisions = [
        (d["decision_no"], d["subject"], d["requirement"], d["by"], d["at"], "signed" if d["signed"] else "unsigned")
        for d in data["decisions"]
    ]
    assert [(row[0], *row[2:]) for row in table_of(screen, "", "decision").rows] == decisions
