"""Commands asked about the same steel say the same: trace from both ends, lists, what is computed anew, the balance."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from heattrace.demo.order_of_import import STORY
from tests.cli.demo_works import DemoWorks

Data = dict[str, Any]
Key = tuple[str, int, int, int]
SEQUENCES = ("L118", "L119", "N052")


def key_of(row: Data) -> Key:
    """Sequence, strand, run and cut."""
    return row["sequence_no"], row["strand_no"], row["run_no"], row["cut_no"]


@pytest.fixture(scope="module")
def listed(demo: DemoWorks) -> dict[Key, Data]:
    """Every part of the demo works, as listed."""
    return {key_of(p): p for p in demo.json("piece", "list", "--kind", "all").data["pieces"]}


@pytest.fixture(scope="module")
def traced(demo: DemoWorks) -> dict[str, Data]:
    """The trace of every numbered piece."""
    return {p["piece_no"]: demo.json("trace", p["piece_no"]).data for p in demo.json("piece", "list").data["pieces"]}


@pytest.fixture(scope="module")
def forward(demo: DemoWorks) -> dict[str, Data]:
    """The trace of every heat."""
    return {h["heat_no"]: demo.json("trace", h["heat_no"]).data for h in demo.json("heat", "list").data["heats"]}


@pytest.fixture(scope="module")
def anew(demo: DemoWorks) -> dict[Key, Data]:
    """Every part as `sequence show` computes it now from the records."""
    parts = [part for s in SEQUENCES for part in demo.json("sequence", "show", s).data["pieces"]]
    return {key_of(part["cast_position"]): part for part in parts}


def test_back_and_forth_meet(traced: dict[str, Data], forward: dict[str, Data]) -> None:
    backward = {(p, h["heat_no"]): h["share_mean"] for p, data in traced.items() for h in data["heats"]}
    onward = {(p["piece_no"], heat): p["share_mean"] for heat, data in forward.items() for p in data["pieces"]}
    assert len(backward) > 1000
    assert backward == onward


def test_a_piece_seen_from_its_heat_is_the_piece_seen_by_itself(
    traced: dict[str, Data], forward: dict[str, Data]
) -> None:
    for data in forward.values():
        for piece in data["pieces"]:
            own = traced[piece["piece_no"]]
            place = own["cast_position"]
            assert key_of(piece) == key_of(place)
            assert (piece["from_m"], piece["to_m"]) == (place["from_m"], place["to_m"])
            assert (piece["class"], piece["heat_no"]) == (own["class"], own["heat_no"])
            assert (piece["quality"], piece["whereabouts"]) == (own["piece"]["quality"], own["piece"]["whereabouts"])


def test_the_list_says_what_each_trace_says(listed: dict[Key, Data], traced: dict[str, Data]) -> None:
    numbered = [part for part in listed.values() if part["piece_no"]]
    assert len(numbered) == len(traced) == 568
    for part in numbered:
        own = traced[part["piece_no"]]
        assert key_of(part) == key_of(own["cast_position"])
        assert (part["class"], part["heat_no"]) == (own["class"], own["heat_no"])
        assert (part["quality"], part["whereabouts"]) == (own["piece"]["quality"], own["piece"]["whereabouts"])
        assert own["piece"]["quality"] == own["piece"]["qualities"][0]["quality"]


def test_what_is_computed_now_is_what_was_stored(anew: dict[Key, Data], traced: dict[str, Data]) -> None:
    """Shares within 1e-6, places within a micrometre, times within a millisecond, words the same."""
    for part in anew.values():
        number = part["piece"]["piece_no"]
        if number is None:
            continue
        stored = traced[number]
        assert [h["heat_no"] for h in part["heats"]] == [h["heat_no"] for h in stored["heats"]]
        for now, then in zip(part["heats"], stored["heats"], strict=True):
            for name in ("share_mean", "share_head", "share_tail", "share_min", "share_max"):
                assert now[name] == pytest.approx(then[name], abs=1e-6), (number, name)
        now, then = part["cast_position"], stored["cast_position"]
        for name in ("from_m", "to_m", "uncertainty_m"):
            assert now[name] == pytest.approx(then[name], abs=1e-6), (number, name)
        assert now["transit_min"] == pytest.approx(then["transit_min"], abs=2 / 60_000)
        for name in ("meniscus_from", "meniscus_to", "clamped_at", "tundish", "tundishes"):
            assert now[name] == then[name], (number, name)
        for name in ("class", "majority_heat", "late_heat", "heat_no", "heat_no_rule"):
            assert part[name] == stored[name], (number, name)
        assert part["piece"]["quality"] == stored["piece"]["quality"]
        assert (part["bounds"] is None) == (stored["bounds"] is None)


def test_every_part_also_one_without_a_number_is_listed_and_computed(
    listed: dict[Key, Data], anew: dict[Key, Data]
) -> None:
    assert len(listed) == 594 and listed.keys() == anew.keys()
    for key, part in listed.items():
        now = anew[key]
        assert (part["piece_no"], part["kind"]) == (now["piece"]["piece_no"], now["piece"]["kind"])
        assert (part["class"], part["heat_no"]) == (now["class"], now["heat_no"])
        assert part["quality"] == now["piece"]["quality"]
        # Heats below 1e-4 everywhere are not listed: five or six heats a cast.
        assert sum(h["share_mean"] for h in now["heats"]) == pytest.approx(1, abs=5e-4)


def test_a_pieces_own_judgement_is_the_ordered_fit_of_its_trace(demo: DemoWorks, traced: dict[str, Data]) -> None:
    for number in (STORY.complaint_piece, "L118A026", "L118A032", "L119D026", "N052B009"):
        judged = demo.json("judge", number, "--basis", "cast").data
        (ordered,) = [fit for fit in traced[number]["fits"] if fit["role"] == "ordered"]
        assert judged["fit"] == ordered and judged["verdict"] == ordered["verdict"]
        assert judged["composition"] == traced[number]["composition"]
        assert [r["verdict"] for r in judged["results"]][:3] == [ordered[at] for at in ("head", "mean", "tail")]


def test_heats_have_one_quality_wherever_they_are_shown(demo: DemoWorks, forward: dict[str, Data]) -> None:
    for heat in demo.json("heat", "list").data["heats"]:
        own = forward[heat["heat_no"]]["heat"]
        assert (heat["grade"], heat["quality"], heat["record"]) == (own["grade"], own["quality"], own["record"])
        counted = Counter(p["quality"] for p in forward[heat["heat_no"]]["pieces"])
        record = demo.json("heat", "show", heat["heat_no"]).data
        assert record["pieces"]["count"] == sum(counted.values())
        assert record["pieces"]["by_quality"] == dict(counted)


@pytest.mark.parametrize("sequence", SEQUENCES)
def test_the_balance_closes_and_its_strands_are_the_parts(
    demo: DemoWorks, anew: dict[Key, Data], sequence: str
) -> None:
    balance = demo.json("sequence", "balance", sequence).data
    parts = [part for key, part in anew.items() if key[0] == sequence]
    for heat in balance["heats"]:
        assert abs(heat["closure_t"]) < 1e-9
        strands = sum(heat[f"{name}_t"] for name in ("pieces", "crops", "kerf", "in_machine"))
        assert heat["strand_t"] == pytest.approx(strands, abs=1e-9)
        out = heat["strand_t"] + heat["tundish_left_t"] + heat["loss_t"]
        assert heat["initial_t"] + heat["poured_t"] == pytest.approx(out, abs=1e-9)
        # Tonnes of the heat in the parts of `sequence show`; a share below 1e-4 is not listed there.
        inside: Counter[bool] = Counter()
        for part in parts:
            share = next((h["share_mean"] for h in part["heats"] if h["heat_no"] == heat["heat_no"]), 0.0)
            inside[part["piece"]["kind"] == "piece"] += part["piece"]["mass_kg"] / 1000 * share
        assert heat["pieces_t"] == pytest.approx(inside[True], abs=0.02)
        assert heat["crops_t"] == pytest.approx(inside[False], abs=0.002)
    for kind in (True, False):
        mass = sum(p["piece"]["mass_kg"] for p in parts if (p["piece"]["kind"] == "piece") is kind) / 1000
        total = sum(heat["pieces_t" if kind else "crops_t"] for heat in balance["heats"])
        # Foreign metal is no heat's and stands apart: neither in the tonnes of a heat nor in a part's computed mass.
        assert total == pytest.approx(mass, abs=1e-9)


@pytest.mark.parametrize("sequence", SEQUENCES)
def test_yields_are_the_strands_and_the_released_pieces_over_what_came(
    demo: DemoWorks, anew: dict[Key, Data], sequence: str
) -> None:
    balance = demo.json("sequence", "balance", sequence).data
    came = sum(heat["initial_t"] + heat["poured_t"] for heat in balance["heats"])
    strand = sum(heat["strand_t"] for heat in balance["heats"])
    own = [part["piece"] for key, part in anew.items() if key[0] == sequence]
    prime = sum(p["mass_kg"] for p in own if p["kind"] == "piece" and p["quality"] == "released") / 1000
    assert balance["yield"]["strand"] == pytest.approx(strand / came, abs=1e-12)
    assert balance["yield"]["prime"] == pytest.approx(prime / came, abs=1e-9)


@pytest.mark.parametrize(("heat", "uses"), [("25R042", "HAR-2207/1"), ("25R042", None), ("25R051", None)])
def test_a_release_counts_what_the_list_counts_afterwards(
    demo_copy: DemoWorks, traced: dict[str, Data], heat: str, uses: str | None
) -> None:
    asked = ("--for", uses) if uses else ()
    data = demo_copy.run("release", heat, *asked, "--by", "T. Test", "--json").data
    named = [
        *data["free"], *data["transition"], *(h["piece_no"] for h in data["held"]),
        *(o["piece_no"] for o in data["other_orders"]),
    ]  # fmt: skip
    # Its pieces are those whose largest share of it anywhere is at least 0.01, each in one list.
    own = {
        number
        for number, data in traced.items()
        if any(h["heat_no"] == heat and h["share_max"] >= 0.01 for h in data["heats"])
    }
    assert Counter(named) == Counter(own)
    pieces = {p["piece_no"]: p for p in demo_copy.run("piece", "list", "--json").data["pieces"]}
    assert {number for number in own if pieces[number]["quality"] == "released"} == set(data["free"])
    assert all(pieces[number]["class"] == "transition" for number in data["transition"])
    for held in data["held"]:
        assert held["because"] == pieces[held["piece_no"]]["because"]
