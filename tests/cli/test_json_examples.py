"""On the demo works every list these commands promise has something in it, somewhere, and says what the files say."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import pytest

from heattrace.demo.order_of_import import STORY
from tests.cli.demo_works import DemoWorks

S355 = "EN 10025-2:2004 S355J0"
BY = ("--by", "T. Test")


@pytest.fixture(scope="module")
def traces(demo: DemoWorks) -> list[dict[str, Any]]:
    """The trace of every piece of the demo works."""
    return [demo.json("trace", p["piece_no"]).data for p in demo.json("piece", "list").data["pieces"]]


@pytest.fixture(scope="module")
def judged(demo: DemoWorks) -> list[dict[str, Any]]:
    """Every judgement of every heat of the demo works."""
    heats = demo.json("heat", "list").data["heats"]
    return [result for heat in heats for result in demo.json("judge", heat["heat_no"]).data["results"]]


def at(data: Any, path: Sequence[str]) -> Iterator[Any]:
    """What stands at a path of an answer, through every list on the way."""
    if isinstance(data, list):
        for one in data:
            yield from at(one, path)
    elif not path:
        yield data
    elif isinstance(data, dict) and path[0] in data:
        inner = data[path[0]]
        yield from [inner] if len(path) == 1 else at(inner, path[1:])


@pytest.mark.parametrize(
    "path",
    [
        "heats", "class_reasons", "fits", "samples", "samples.analyses", "samples.analyses.results", "temperatures",
        "events", "holds", "decisions", "composition", "dispatch", "piece.qualities", "piece.mass_weighed_kg",
        "cast_position.tundishes", "cast_position.stop_marks_m", "cast_position.residual_mm", "bounds", "heat_no",
    ],
)  # fmt: skip
def test_a_piece_of_the_demo_has_it(traces: list[dict[str, Any]], path: str) -> None:
    assert any(found for data in traces for found in at(data, path.split(".")))


def test_pieces_of_the_demo_have_the_words_that_can_be_met_there(traces: list[dict[str, Any]]) -> None:
    def met(path: str) -> set[Any]:
        return {found for data in traces for found in at(data, path.split("."))}

    assert met("class") == {"pure", "transition"}
    assert met("heat_no_rule") == {"pure", "late", "decision"}
    assert met("piece.quality") == {"undecided", "held", "released"}
    assert met("piece.whereabouts") == {"cut", "dispatched"}
    assert met("piece.form") == {"billet", "bloom", "slab"}
    assert met("fits.role") == {"planned", "ordered", "released"}
    assert met("fits.verdict") == {"meets", "fails", "undecided"}
    assert met("holds.state") == {"placed", "proposed"}
    assert met("decisions.signed") == {False}
    assert met("temperatures.place") == {"ladle-arrival", "ladle-rinse", "ladle-lift", "tundish"}
    assert met("samples.analyses.state") >= {"valid", "superseded"}
    assert met("samples.analyses.is_cast") == {True, False}
    assert {"level-swing", "spray-fault", "nozzle-clog", "lubricant-fault", "shroud-off", "tundish-exchange"} <= met(
        "events.kind"
    )


def test_a_piece_over_the_tundish_exchange_names_both_tundishes(traces: list[dict[str, Any]]) -> None:
    """One a strand: five strands stood while tundish 9 came in place of 14."""
    over = [d for d in traces if len(d["cast_position"]["tundishes"]) == 2]
    assert {d["cast_position"]["strand_no"] for d in over} <= {1, 2, 3, 4, 5} and over
    for data in over:
        place = data["cast_position"]
        assert place["sequence_no"] == STORY.exchange_sequence
        assert (place["tundishes"], place["tundish"]) == (["T1", "T2"], "T1")
        assert data["class"] == "transition"


def test_the_strand_that_stood_has_its_stop_mark_on_one_piece(traces: list[dict[str, Any]]) -> None:
    sequence, strand = STORY.stopped_strand
    places = [d["cast_position"] for d in traces if d["cast_position"]["stop_marks_m"]]
    own = [p for p in places if (p["sequence_no"], p["strand_no"], p["tundishes"]) == (sequence, strand, ["T1"])]
    (place,) = own
    (mark,) = place["stop_marks_m"]
    assert place["from_m"] < mark < place["to_m"]


def test_heats_of_the_demo_have_every_list_of_a_heats_trace(demo: DemoWorks) -> None:
    found = [demo.json("trace", h["heat_no"]).data for h in demo.json("heat", "list").data["heats"]]
    for name in ("pieces", "order_lines", "temperatures", "decisions", "holds", "samples"):
        assert any(data[name] for data in found), name
    assert all(data["cast_analysis"]["values"] for data in found)
    assert any(data["cast_analysis"]["frozen"] for data in found)
    pieces = [piece for data in found for piece in data["pieces"]]
    assert {p["customer"] for p in pieces} >= {"Harrowick Bar Mill", "Sennetby Forge", "Ollerfield Plate"}


def test_judging_the_demo_gives_carbon_equivalent_and_superheat(judged: list[dict[str, Any]]) -> None:
    for result in judged:
        assert result["cev"]["formula"] == "cev" and result["cev"]["value"] > 0.3
        # Three tundish readings a heat, a few degrees above its liquidus.
        assert len(result["superheat"]) == 3
        assert all(5 < r["superheat_c"] < 60 for r in result["superheat"])
    assert {result["verdict"] for result in judged} == {"meets", "fails"}
    assert {limit["verdict"] for result in judged for limit in result["limits"]} == {"pass", "fail", "waived"}
    assert any(limit["note"] for result in judged for limit in result["limits"])


def test_a_verified_limit_names_its_source(judged: list[dict[str, Any]]) -> None:
    limits = [limit for result in judged for limit in result["limits"]]
    assert {limit["status"] for limit in limits} == {"verified", "memory"}
    assert all(limit["source"] for limit in limits if limit["status"] == "verified")


def test_what_a_typed_analysis_lacks_stands_in_missing(demo: DemoWorks) -> None:
    data = demo.json("judge", "--grade", S355, "--size", "28", "--chem", "C=0.18 Mn=1.44").data
    assert (data["verdict"], data["cev"]) == ("undecided", None)
    assert {"Si", "P", "S"} <= set(data["missing"])
    # A992 proves killed steel by its silicon or by its aluminium: two alternatives of one group.
    typed = demo.json("judge", "--grade", "ASTM A992/A992M:2011 A992", "--chem", "C=0.18 Si=0.20 Al=0.002").data
    killed = {limit["quantity"]: limit for limit in typed["limits"] if limit["group"]}
    assert {q: limit["group"] for q, limit in killed.items()} == {
        "Si": {"name": "killed", "alternative": "silicon"}, "Al": {"name": "killed", "alternative": "aluminium"},
    }  # fmt: skip
    assert (killed["Si"]["verdict"], killed["Al"]["verdict"]) == ("pass", "fail")
    # J2 requires nitrogen-binding elements.
    fine = demo.json("judge", "--grade", "EN 10025-2:2004 S355J2", "--size", "28", "--chem", "C=0.18 Al=0.030").data
    assert "requires" in {limit["sense"] for limit in fine["limits"]}


def test_calc_has_absent_and_outside_elements_and_bounds(demo: DemoWorks) -> None:
    zero = demo.json("calc", "cev", "--chem", "C=0.30 Mn=0.90", "--absent", "zero").data
    assert (zero["absent"], set(zero["used"])) == (["Cr", "Mo", "V", "Ni", "Cu"], {"C", "Mn"})
    # 0.30 + 0.90/6 = 0.45.
    assert zero["value"] == 0.45
    assert zero["outside_range"][0]["element"] == "C"
    below = demo.json("calc", "cev", "--chem", "C=0.16 Mn=0.90 Cr=0.05 Mo=0.02 V=0.01 Ni=0.05 Cu=<0.15").data
    # 0.16 + 0.15 + 0.08/5 + 0.05/15 = 0.329333...; copper below 0.15 adds at most 0.01.
    assert below["value"] is None
    assert (below["low"], below["high"]) == (0.329333333333, 0.339333333333)


def test_lists_and_balances_of_the_demo_have_their_rows(demo: DemoWorks) -> None:
    assert {row["state"] for row in demo.json("bench", "list", "--all").data["bench"]} == {"fixed"}
    batches = demo.json("batch", "list").data["batches"]
    assert {batch["state"] for batch in batches} == {"taken", "taken-with-bench"}
    assert {h["quality"] for h in demo.json("heat", "list").data["heats"]} == {"undecided", "held", "released"}
    kinds = {part["kind"] for part in demo.json("piece", "list", "--kind", "all").data["pieces"]}
    assert kinds == {"piece", "head-crop", "tail-crop", "sample", "scrap"}
    balance = demo.json("sequence", "balance", "L118").data
    assert set(balance["reading_residual_t"]) == {"T1", "T2"}
    assert all(run["foreign_t"] == 0.009 and run["flag"] == "ok" for run in balance["runs"])
    assert all(0 < balance["yield"][name] < 1 for name in ("strand", "prime"))


def test_a_release_of_one_order_line_shows_all_four_lists(demo_copy: DemoWorks) -> None:
    """Strand 5 of L118 was cut for the second line from cut 6 to 14; 25R042 comes in at cut 10 of it."""
    data = demo_copy.run("release", "25R042", "--for", "HAR-2207/1", *BY, "--json").data
    assert all(data[name] for name in ("free", "held", "transition", "other_orders"))
    assert {o["piece_no"] for o in data["other_orders"]} == {f"L118E{cut:03d}" for cut in range(10, 15)}
    assert {o["requirement"] for o in data["other_orders"]} == {"HAR-2207/2"}
    assert any("shroud-off" in held["because"] for held in data["held"])
    assert any("CHEM-HIGH" in held["because"] for held in data["held"])


def test_a_row_for_a_heat_nobody_tapped_waits_on_the_bench(demo_copy: DemoWorks) -> None:
    path = demo_copy.folder / "late.csv"
    head = "heat_no,sample_id,sample_kind,analysed_at,method,C"
    path.write_text(f"{head}\n25R099,X1,tundish-late,2025-03-11T07:10:00+01:00,spark-emission,0.2\n", encoding="utf-8")
    demo_copy.run("import", str(path), "--profile", "lab-wide", *BY)
    (row,) = demo_copy.run("bench", "list", "--json").data["bench"]
    assert (row["state"], row["row"], row["column"], row["value"]) == ("waiting", 2, "heat_no", "25R099")
