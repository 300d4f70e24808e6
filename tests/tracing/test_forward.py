"""A heat traced forward, and back again: both ways must meet for any cast."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from heattrace.errors import NotFound
from heattrace.store.engine import open_reader
from heattrace.store.reader import Reader
from heattrace.store.work import begin_work
from heattrace.tracing.backward import trace_piece
from heattrace.tracing.forward import trace_heat
from heattrace.tracing.pieces import Asked, list_pieces
from tests.make import make_heat, make_piece, make_sequence
from tests.tracing.plant import GRADE, Plant, make_plant

PIECE_KEYS = "piece_no share_mean strand_no run_no cut_no from_m to_m class heat_no quality whereabouts customer"


@pytest.fixture
def plant(store: str) -> Plant:
    return make_plant(store)


@pytest.fixture
def reader(plant: Plant) -> Iterator[Reader]:
    with open_reader(plant.db) as found:
        yield found


def test_every_promised_key_is_there(reader: Reader, plant: Plant) -> None:
    data = trace_heat(reader, plant.first)
    assert {"heat", "pieces", "order_lines", "cast_analysis", "temperatures", "decisions"} <= set(data)
    for piece in data["pieces"]:
        assert set(PIECE_KEYS.split()) <= set(piece)
    assert {"decision_no", "kind", "requirement", "by", "at", "signed"} <= set(data["decisions"][0])
    assert {"heat_no", "place", "tundish", "read_at", "temperature_c"} <= set(data["temperatures"][0])


def test_heat_names_every_piece_with_a_share_of_it_and_no_crop(reader: Reader, plant: Plant) -> None:
    pieces = {p["piece_no"]: p for p in trace_heat(reader, plant.first)["pieces"]}
    assert set(pieces) == {"S300-1-07", "S300-1-08", "S300-1-09", "S300-1-09-A", "OLD-1"}
    assert {n: p["share_mean"] for n, p in pieces.items()} == {
        "S300-1-07": 1.0, "S300-1-08": 0.5, "S300-1-09": 0.02, "S300-1-09-A": 0.02, "OLD-1": None,
    }  # fmt: skip
    assert pieces["S300-1-07"]["customer"] == "Harrow Forge"
    assert pieces["S300-1-07"]["delivery_note"] == "DN-900"
    assert (pieces["S300-1-08"]["customer"], pieces["S300-1-08"]["delivery_note"]) == ("Harrow Forge", None)
    assert pieces["S300-1-09-A"]["made_from"] == "S300-1-09"
    assert [p["quality"] for p in pieces.values()] == ["released", "held", "held", "released", "held"]


def test_heat_says_what_it_is_and_what_it_is_good_for(reader: Reader, plant: Plant) -> None:
    first, second = (trace_heat(reader, key) for key in (plant.first, plant.second))
    heat = first["heat"]
    assert (heat["heat_no"], heat["series"], heat["grade"], heat["quality"]) == ("41878", "2026", GRADE, "released")
    assert (heat["tapped_mass_t"], heat["ladle_no"], heat["record"]) == ("110", "7", "open")
    assert heat["pours"][0]["sequence_no"] == "300"
    assert second["heat"]["quality"] == "held"
    assert second["heat"]["qualities"][0]["because"] == "H-1 (CHEM-HIGH) lies on heat 41879"
    assert [o["order_no"] for o in first["order_lines"]] == ["4711"]
    assert {v["element"]: v["reported"] for v in first["cast_analysis"]["values"]}["N"] == "<0.0020"
    assert first["cast_analysis"]["frozen"] is True
    assert second["cast_analysis"]["frozen"] is False


def test_heat_that_is_not_there_is_refused(reader: Reader) -> None:
    with pytest.raises(NotFound):
        trace_heat(reader, 999)


def assert_ways_meet(reader: Reader, heats: list[int], parts: list[int]) -> None:
    forward = {
        (heat["heat"]["heat_no"], piece["piece_no"]): (piece["share_mean"], piece["quality"], piece["heat_no"])
        for heat in (trace_heat(reader, key) for key in heats)
        for piece in heat["pieces"]
    }
    backward: dict[tuple[str, str], Any] = {}
    for key in parts:
        data = trace_piece(reader, key).data
        if data["piece"]["kind"] == "piece":
            for heat in data["heats"]:
                backward[heat["heat_no"], data["piece"]["piece_no"]] = (
                    heat["share_mean"], data["piece"]["quality"], data["heat_no"],
                )  # fmt: skip
    assert {k: v[:2] for k, v in forward.items()} == {k: v[:2] for k, v in backward.items()}
    listed = {line.row["piece_no"]: line.as_json() for line in list_pieces(reader, Asked())}
    for (_, number), (_, quality, heat_no) in backward.items():
        assert (listed[number]["quality"], listed[number]["heat_no"]) == (quality, heat_no)


def test_ways_meet_on_the_small_cast(reader: Reader, plant: Plant) -> None:
    assert_ways_meet(reader, [plant.first, plant.second], list(plant.parts.values()))


SHARES = st.lists(st.integers(0, 1000), min_size=3, max_size=3).filter(lambda s: sum(s) > 0)


@settings(max_examples=25, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(SHARES, min_size=1, max_size=8))
def test_ways_meet_for_any_shares(empty_file: Path, tmp_path: Path, mixes: list[list[int]]) -> None:
    """Every heat of a piece leads back to the piece with the same share, and every piece of a heat to the heat."""
    path = tmp_path / "any.db"
    shutil.copy(empty_file, path)
    with begin_work(str(path), by="T. Test", action="import", subject="any") as work:
        heats = [make_heat(work, f"4100{n}") for n in range(3)]
        sequence = make_sequence(work, heat_ids=heats)
        parts = []
        for n, mix in enumerate(mixes):
            shares = {h: m / sum(mix) for h, m in zip(heats, mix, strict=True) if m}
            parts.append(
                make_piece(
                    work, f"P{n}", sequence_id=sequence, cut_no=n + 1, from_m=n * 6.0, to_m=n * 6.0 + 5.99,
                    shares=shares, cast_class="pure" if max(shares.values()) >= 0.95 else "transition",
                )
            )  # fmt: skip
        work.commit()
    with open_reader(str(path)) as reader:
        assert_ways_meet(reader, heats, parts)
        for part in parts:
            heats_of = trace_piece(reader, part).data["heats"]
            assert sum(h["share_mean"] for h in heats_of) == pytest.approx(1, abs=2e-6)
