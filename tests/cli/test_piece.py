"""Pieces in a list and by themselves."""

from __future__ import annotations

from typing import Any

import pytest

from tests.conftest import Run
from tests.tracing.plant import Plant, make_plant

KEYS = "piece_no kind sequence_no strand_no run_no cut_no class heat_no quality whereabouts"


@pytest.fixture
def plant(store: str) -> Plant:
    return make_plant(store)


def listed(run: Run, plant: Plant, *words: str) -> list[dict[str, Any]]:
    ran = run("piece", "list", *words, "--db", plant.db, "--json")
    assert ran.status == 0, ran.err
    found: list[dict[str, Any]] = ran.data["pieces"]
    return found


def test_list_has_every_promised_key(run: Run, plant: Plant) -> None:
    pieces = listed(run, plant)
    assert {p["piece_no"] for p in pieces} == {"S300-1-07", "S300-1-08", "S300-1-09", "S300-1-09-A", "OLD-1"}
    for piece in pieces:
        assert set(KEYS.split()) <= set(piece)
    assert pieces[0] | {"because": "", "requirement": ""} == {
        "piece_no": "S300-1-07", "kind": "piece", "sequence_no": "300", "strand_no": 1, "run_no": 1, "cut_no": 7,
        "class": "pure", "heat_no": "41878", "quality": "released", "whereabouts": "dispatched",
        "customer": "Harrow Forge", "because": "", "requirement": "",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("words", "numbers"),
    [
        (("--sequence", "300"), ["S300-1-07", "S300-1-08", "S300-1-09"]),
        (("--heat", "41879"), ["S300-1-08", "S300-1-09"]),
        (("--heat", "41878"), ["S300-1-07", "S300-1-08", "S300-1-09", "OLD-1"]),
        (("--heat", "41878", "--sequence", "300", "--class", "pure"), ["S300-1-07", "S300-1-09"]),
        (("--quality", "released"), ["S300-1-07", "OLD-1"]),
        (("--class", "transition"), ["S300-1-08"]),
        (("--kind", "head-crop"), [None]),
        (("--kind", "all", "--sequence", "300"), [None, "S300-1-07", "S300-1-08", "S300-1-09"]),
        (("--strand", "2"), []),
        (("--most", "1"), ["S300-1-07"]),
    ],
)
def test_list_is_narrowed(run: Run, plant: Plant, words: tuple[str, ...], numbers: list[str | None]) -> None:
    assert [p["piece_no"] for p in listed(run, plant, *words)] == numbers


def test_words_of_the_list_agree_with_the_json(run: Run, plant: Plant) -> None:
    words = run("piece", "list", "--db", plant.db).out
    for piece in listed(run, plant):
        row = next(line for line in words.splitlines() if line.startswith(f"{piece['piece_no']} "))
        for name in ("class", "quality", "heat_no", "whereabouts", "sequence_no"):
            assert piece[name] is None or str(piece[name]) in row
    assert "5 parts" in words


def test_list_that_was_cut_short_says_so(run: Run, plant: Plant) -> None:
    ran = run("piece", "list", "--most", "2", "--db", plant.db)
    assert "only the first 2" in ran.err


@pytest.mark.parametrize(
    ("words", "status"),
    [(("--quality", "good"), 2), (("--class", "mixed"), 2), (("--kind", "bloom"), 2), (("--sequence", "999"), 1),
     (("--heat", "99999"), 1), (("--heat", "S300-1-07"), 1)],
)  # fmt: skip
def test_word_that_is_none_of_the_known_is_refused(run: Run, plant: Plant, words: tuple[str, ...], status: int) -> None:
    assert run("piece", "list", *words, "--db", plant.db).status == status


def test_show_has_place_shares_order_and_movements(run: Run, plant: Plant) -> None:
    ran = run("piece", "show", "S300-1-07", "--db", plant.db)
    assert ran.status == 0
    for text in ("sequence 300, strand 1", "4711/1 by Harrow Forge", "dispatched", "3040", "pure"):
        assert text in ran.out
    data = run("piece", "show", "hf-2217", "--db", plant.db, "--json").data
    assert data["piece"]["piece_no"] == "S300-1-07"
    assert data["movements"][0]["delivery_note"] == "DN-900"
    assert data["weights"] == [{"mass_kg": "3040", "weighed_at": "2026-03-02T12:00:00+00:00"}]
    assert data["order_line"]["customer"] == "Harrow Forge"


def test_show_of_a_piece_from_before_the_record(run: Run, plant: Plant) -> None:
    assert "position not recorded" in run("piece", "show", "OLD-1", "--db", plant.db).out
    assert run("piece", "show", "41878", "--db", plant.db).status == 1
