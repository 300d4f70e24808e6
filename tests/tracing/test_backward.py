"""A piece traced back: every promised key, numbers by hand, steel from before the record, steel made from steel."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from heattrace.cli.output import plain_number
from heattrace.errors import NotFound
from heattrace.store.engine import open_reader
from heattrace.store.reader import Reader
from heattrace.store.work import begin_work
from heattrace.tracing.backward import trace_piece
from tests.make import make_earlier_piece, make_heat, make_parentage, make_piece, make_sequence
from tests.tracing.plant import GRADE, Plant, make_plant

# The keys promised for `trace PIECE --json`, list by list.
KEYS = {
    "": "piece cast_position heats bounds class class_reasons majority_heat late_heat heat_no heat_no_rule composition "
        "fits samples temperatures events holds decisions family dispatch certificates",
    "piece": "piece_no kind form section length_hot_m length_cold_m mass_kg mass_weighed_kg quality qualities "
        "whereabouts",
    "piece.qualities": "requirement quality because",
    "cast_position": "sequence_no strand_no run_no cut_no tundish tundishes from_m to_m meniscus_from meniscus_to "
        "clamped_at transit_min residual_mm stop_marks_m uncertainty_m",
    "heats": "heat_no share_mean share_head share_tail share_min share_max uncertainty_head uncertainty_tail grade",
    "composition.C": "head mean tail",
    "fits": "requirement role head mean tail verdict",
    "samples": "sample_id kind heat_no taken_at analyses",
    "samples.analyses": "analysis_no method state is_cast results",
    "samples.analyses.results": "element reported unit",
    "temperatures": "heat_no place tundish read_at temperature_c",
    "events": "event_no kind from_m to_m from_at to_at",
    "holds": "hold_no reason note scope lift_on requirement state",
    "decisions": "decision_no kind requirement by at signed",
    "family": "parents children",
    "dispatch": "delivery_note customer order_no line dispatched_at",
}  # fmt: skip


@pytest.fixture
def plant(store: str) -> Plant:
    return make_plant(store)


@pytest.fixture
def reader(plant: Plant) -> Iterator[Reader]:
    with open_reader(plant.db) as found:
        yield found


def traced(reader: Reader, plant: Plant, name: str) -> dict[str, Any]:
    """As the JSON says it: numbers as they are printed."""
    answer: dict[str, Any] = json.loads(json.dumps(trace_piece(reader, plant.parts[name]).data, default=plain_number))
    return answer


def reached(data: Any, path: str) -> list[dict[str, Any]]:
    found = [data]
    for word in path.split(".") if path else []:
        found = [item for each in found for item in (each[word] if isinstance(each[word], list) else [each[word]])]
    return found


@pytest.mark.parametrize("path", KEYS)
def test_every_promised_key_is_there_with_a_true_example(reader: Reader, plant: Plant, path: str) -> None:
    name = {"events": "S300-1-08", "composition.C": "S300-1-08", "holds": "S300-1-09"}.get(path, "S300-1-07")
    found = reached(traced(reader, plant, name), path)
    assert found, "an example"
    for item in found:
        assert set(KEYS[path].split()) <= set(item)


def test_pure_piece_is_traced_with_its_digits(reader: Reader, plant: Plant) -> None:
    data = traced(reader, plant, "S300-1-07")
    piece, place = data["piece"], data["cast_position"]
    assert (piece["section"], piece["length_hot_m"], piece["mass_kg"]) == ("220 x 300 mm", 6.0, 3042.0)
    assert piece["mass_weighed_kg"] == "3040"
    assert piece["length_measured_m"] == "6.00"
    assert (place["sequence_no"], place["strand_no"], place["run_no"], place["cut_no"]) == ("300", 1, 1, 7)
    assert (place["from_m"], place["to_m"], place["stop_marks_m"]) == (30.0, 36.0, [31.5])
    assert place["clamped_at"] == "2026-03-02T08:49:00+00:00"
    assert place["transit_min"] == pytest.approx(26.6667, abs=1e-4)
    assert [h["share_mean"] for h in data["heats"]] == [1.0]
    assert (data["class"], data["heat_no"], data["heat_no_rule"]) == ("pure", "41878", "pure")
    assert data["temperatures"] == [
        {"heat_no": "41878", "place": "tundish", "tundish": "A", "read_at": "2026-03-02T07:30:00+00:00",
         "temperature_c": "1548.5"}
    ]  # fmt: skip
    assert data["dispatch"] == {
        "delivery_note": "DN-900", "customer": "Harrow Forge", "order_no": "4711", "line": "1",
        "dispatched_at": "2026-03-02T15:00:00+00:00",
    }  # fmt: skip
    assert piece["whereabouts"] == "dispatched"
    assert piece["quality"] == "released"
    assert [q["requirement"] for q in piece["qualities"]] == ["4711/1"]


def test_weighed_mass_of_the_cut_stands_where_no_weighing_came_later(store: str) -> None:
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        sequence = make_sequence(work, heat_ids=(make_heat(work),))
        part = make_piece(work, sequence_id=sequence, mass_kg="3042.50")
        work.commit()
    with open_reader(store) as reader:
        assert trace_piece(reader, part).data["piece"]["mass_weighed_kg"] == "3042.50"


def test_composition_is_shares_times_cast_analyses(reader: Reader, plant: Plant) -> None:
    """By hand: head C 0.75 x 0.18 + 0.25 x 0.22 = 0.19; mean 0.20; tail 0.21; Mn 1.425, 1.45, 1.475; S .0085 ...

    Nitrogen of the first heat is `<0.0020`: the mixture lies at or below 0.75 x 0.0020 + 0.25 x 0.0060 = 0.0030.
    """
    found = traced(reader, plant, "S300-1-08")["composition"]
    assert {e: tuple(found[e][p] for p in ("head", "mean", "tail")) for e in ("C", "Mn", "S")} == {
        "C": (0.19, 0.2, 0.21),
        "Mn": (1.425, 1.45, 1.475),
        "S": (0.0085, 0.009, 0.0095),
    }
    assert (found["N"]["head"], found["N"]["below"]["head"]) == (None, 0.003)


def test_fit_is_said_at_head_mean_and_tail(reader: Reader, plant: Plant) -> None:
    """C max 0.20 by rounding: 0.19 and 0.20 meet it, 0.21 does not; the piece fits only over its whole length."""
    fits = {f["role"]: f for f in traced(reader, plant, "S300-1-08")["fits"]}
    assert (fits["ordered"]["requirement"], fits["planned"]["requirement"]) == ("4711/1", GRADE)
    for fit in fits.values():
        assert (fit["head"], fit["mean"], fit["tail"], fit["verdict"]) == ("meets", "meets", "fails", "fails")
    assert fits["released"]["requirement"] == "4711/1"


def test_samples_say_which_analysis_speaks_for_the_heat(reader: Reader, plant: Plant) -> None:
    samples = {s["sample_id"]: s for s in traced(reader, plant, "S300-1-08")["samples"]}
    assert set(samples) == {"41878-T1", "41878-E1", "41879-T1"}
    (cast,) = samples["41878-T1"]["analyses"]
    assert (cast["is_cast"], cast["state"]) == (True, "valid")
    assert {r["element"]: r["reported"] for r in cast["results"]} == {
        "C": "0.18", "Mn": "1.40", "S": "0.008", "N": "<0.0020",
    }  # fmt: skip
    (early,) = samples["41878-E1"]["analyses"]
    assert (early["is_cast"], early["state"]) == (False, "doubtful")


def test_event_marks_the_piece_it_lies_on_and_no_other(reader: Reader, plant: Plant) -> None:
    (event,) = traced(reader, plant, "S300-1-08")["events"]
    assert (event["kind"], event["from_m"], event["to_m"]) == ("level-swing", 37.0, 38.5)
    assert (event["from_at"], event["wants_check"]) == ("2026-03-02T08:20:00+00:00", True)
    assert traced(reader, plant, "S300-1-07")["events"] == []
    assert traced(reader, plant, "S300-1-09")["events"] == []


def test_transition_is_undecided_by_class_and_event_and_held_by_the_heat_it_has_half_of(
    reader: Reader, plant: Plant
) -> None:
    data = traced(reader, plant, "S300-1-08")
    assert data["class_reasons"] == [
        {"code": "mixed", "words": "two heats from 41.2 m on", "from_m": 41.2, "to_m": 42.0}
    ]
    assert (data["heat_no"], data["heat_no_rule"], data["late_heat"]) == ("41879", "late", "41879")
    (quality,) = data["piece"]["qualities"]
    assert quality["quality"] == data["piece"]["quality"] == "held"
    assert "H-1 (CHEM-HIGH) on heat 41879 reaches the part: largest share 0.75, reaches from 0.05" in quality["because"]


def test_every_hold_and_decision_on_the_steel_is_shown(reader: Reader, plant: Plant) -> None:
    data = traced(reader, plant, "S300-1-09")
    assert [(h["hold_no"], h["state"], h["scope"]) for h in data["holds"]] == [("H-1", "placed", "heat 41879")]
    assert [(d["decision_no"], d["subject"], d["signed"]) for d in data["decisions"]] == [("D-1", "heat 41878", False)]
    assert traced(reader, plant, "S300-1-07")["holds"] == []


def test_piece_from_before_the_record_says_position_not_recorded(reader: Reader, plant: Plant) -> None:
    data = traced(reader, plant, "OLD-1")
    assert data["cast_position"] is None
    assert data["piece"]["position"] == "position not recorded"
    assert data["class_reasons"][0]["words"] == "position not recorded"
    assert [(h["heat_no"], h["share_mean"], h["grade"]) for h in data["heats"]] == [("41878", None, GRADE)]
    assert (data["heat_no"], data["heat_no_rule"]) == ("41878", "pure")
    assert data["composition"]["C"]["mean"] == 0.18
    assert data["piece"]["quality"] == "released"


def test_piece_from_before_of_several_heats_bears_none(store: str) -> None:
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        part = make_earlier_piece(work, "OLD-2", [make_heat(work, "1"), make_heat(work, "2")])
        work.commit()
    with open_reader(store) as reader:
        data = trace_piece(reader, part).data
    assert (data["heat_no"], data["heat_no_rule"], data["composition"]) == (None, "decision", {})
    assert [h["heat_no"] for h in data["heats"]] == ["1", "2"]


def test_piece_made_from_another_lies_where_that_one_lay(reader: Reader, plant: Plant) -> None:
    parent, child = traced(reader, plant, "S300-1-09"), traced(reader, plant, "S300-1-09-A")
    assert child["cast_position"] == parent["cast_position"]
    assert child["heats"] == parent["heats"]
    assert child["composition"] == parent["composition"] != {}
    assert child["piece"]["position"] == "position of S300-1-09 it was made from"
    assert [p["piece_no"] for p in child["family"]["parents"]] == ["S300-1-09"]
    assert [c["piece_no"] for c in parent["family"]["children"]] == ["S300-1-09-A"]
    assert child["piece"]["quality"] == "held"
    assert child["piece"]["requirement"] == parent["piece"]["requirement"] == "4711/1"


def test_piece_made_from_two_has_both_their_heats_and_no_one_place(store: str) -> None:
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        heats = [make_heat(work, "1"), make_heat(work, "2")]
        sequence = make_sequence(work, heat_ids=heats)
        child = make_piece(work, "BUNDLE", origin="rolled")
        for n, heat in enumerate(heats, start=1):
            make_parentage(work, make_piece(work, f"P{n}", sequence_id=sequence, cut_no=n, shares={heat: 1.0}), child)
        work.commit()
    with open_reader(store) as reader:
        data = trace_piece(reader, child).data
    assert data["cast_position"] is None
    assert {h["heat_no"] for h in data["heats"]} == {"1", "2"}
    assert {p["piece_no"] for p in data["family"]["parents"]} == {"P1", "P2"}


def test_parts_that_were_made_from_each_other_do_not_hang_the_reader(store: str) -> None:
    """Bad input 119: a loop in the record."""
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        one, two = make_piece(work, "L1", origin="recut"), make_piece(work, "L2", origin="recut")
        make_parentage(work, one, two)
        make_parentage(work, two, one)
        work.commit()
    with open_reader(store) as reader:
        assert trace_piece(reader, one).data["heats"] == []


def test_bounds_are_shown_where_a_speed_is_unknown(store: str) -> None:
    bounds = {
        "from_um": [30_000_000, 31_000_000], "to_um": [36_000_000, 37_500_000], "meniscus_from": [0, 60_000],
        "meniscus_to": [120_000, 180_000], "mass_g": [3_000_000, 3_300_000],
        "shares": [{"heat_no": "41878", "mean": [900_000, 1_000_000], "head": [900_000, 1_000_000],
                    "tail": [800_000, 1_000_000], "anywhere": [800_000, 1_000_000]}],
    }  # fmt: skip
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        heat = make_heat(work)
        part = make_piece(
            work, sequence_id=make_sequence(work, heat_ids=(heat,)), shares={heat: 1.0}, bounds=bounds,
            cast_class="undetermined",
        )  # fmt: skip
        work.commit()
    with open_reader(store) as reader:
        data = trace_piece(reader, part).data
    assert data["bounds"]["from_m"] == [30.0, 31.0]
    assert data["bounds"]["meniscus_to"] == ["1970-01-01T00:02:00+00:00", "1970-01-01T00:03:00+00:00"]
    assert data["piece"]["quality"] == "undecided"


def test_part_that_is_not_there_is_refused(reader: Reader) -> None:
    with pytest.raises(NotFound):
        trace_piece(reader, 999)
