"""Worked casts from a cast book to `sequence show` and `sequence balance`, by command line.

Source of the expected values: worked scenarios A and E of the strand model (tests/strand/cases/worked_casts.json), each
checked there four ways: closed form against an ODE solver, piece integrals against sampling, closure on the liquid and
the strand side, a time-marched parcel simulation. Moments of a book are whole milliseconds, which is 1.2e-5 m at
0.7 m/min.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from tests.cast_books import GRADE, START, Caster, book_of, small_book
from tests.conftest import Run
from tests.strand.scenario_casts import KINDS, cast_of, scenario

NAMES = ("A_steady_one_exchange", "E_stop_and_restart")


@pytest.fixture
def caster(tmp_path: Path, run: Run) -> Caster:
    """A works with a grade book."""
    return Caster(tmp_path, run)


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """`sequence show` and `sequence balance` of both worked casts, made once."""
    import contextlib
    import io
    import json

    from heattrace.cli.app import main
    from tests.conftest import Ran

    def run(*words: object) -> Ran:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = main([str(word) for word in words])
        return Ran(status, out.getvalue(), err.getvalue())

    answers = {}
    for name in NAMES:
        caster = Caster(tmp_path_factory.mktemp(name), run)
        taken = caster.file(caster.send(book_of(cast_of(name))))
        assert taken["state"] == "taken", taken
        answers[name] = {
            "taken": taken,
            "db": caster.db,
            **{
                verb: json.loads(caster.run("sequence", verb, name, "--json").out)["data"]
                for verb in ("show", "balance")
            },
        }
    return answers


def _minute(moment: str) -> float:
    return (datetime.fromisoformat(moment) - START).total_seconds() / 60


PIECES = [
    pytest.param(name, row, id=f"{name[0]}-{row['strand']}-{row['no']}")
    for name in NAMES
    for row in scenario(name)["expected"]["pieces"]
]


@pytest.mark.parametrize(("name", "expected"), PIECES)
def test_every_part_shows_the_worked_place_window_and_shares(
    worked: dict[str, Any], name: str, expected: dict[str, Any]
) -> None:
    key = {"strand_no": expected["strand"], "run_no": 1, "cut_no": expected["no"]}
    (part,) = [p for p in worked[name]["show"]["pieces"] if key.items() <= p["cast_position"].items()]
    place, piece = part["cast_position"], part["piece"]
    assert piece["kind"] == KINDS[expected["kind"]]
    assert place["from_m"] == pytest.approx(expected["sigma_head"], abs=1e-3)
    assert place["to_m"] == pytest.approx(expected["sigma_tail"], abs=1e-3)
    assert piece["length_hot_m"] == pytest.approx(expected["len_hot"], abs=1e-3)
    assert piece["length_cold_m"] == pytest.approx(expected["len_cold"], abs=1e-3)
    assert piece["mass_kg"] == pytest.approx(expected["mass"] * 1000, abs=0.5)
    assert _minute(place["meniscus_from"]) == pytest.approx(expected["t_head"], abs=0.01)
    assert _minute(place["meniscus_to"]) == pytest.approx(expected["t_tail"], abs=0.01)
    if expected["t_cut"] is None:
        assert (place["clamped_at"], place["transit_min"]) == (None, None)
    else:
        assert _minute(place["clamped_at"]) == pytest.approx(expected["t_cut"], abs=0.001)
        assert place["transit_min"] > 0
    shares = {heat["heat_no"]: heat for heat in part["heats"]}
    for heat in ("H1", "H2"):
        for end in ("mean", "head", "tail"):
            shown = shares[heat][f"share_{end}"] if heat in shares else 0.0
            assert shown == pytest.approx(expected[end][heat], abs=1e-5 if heat in shares else 1e-4)
    assert place["stop_marks_m"] == pytest.approx(expected["stop_marks"], abs=1e-3)
    assert (part["majority_heat"], part["late_heat"]) == (expected["heat_majority"], expected["heat_late"])
    assert (f"pure {part['heat_no']}" if part["class"] == "pure" else part["class"]) == expected["class"]


@pytest.mark.parametrize("name", NAMES)
def test_every_part_is_shown_once(worked: dict[str, Any], name: str) -> None:
    assert len(worked[name]["show"]["pieces"]) == len(scenario(name)["expected"]["pieces"])


@pytest.mark.parametrize("name", NAMES)
def test_the_balance_is_the_worked_one_and_closes(worked: dict[str, Any], name: str) -> None:
    expected = scenario(name)["expected"]["balance"]
    for heat in worked[name]["balance"]["heats"]:
        number = heat["heat_no"]
        for shown, wanted in (
            (heat["initial_t"], "initial"), (heat["poured_t"], "poured"), (heat["strand_t"], "strand"),
            (heat["tundish_left_t"], "tundish_left"), (heat["kerf_t"], "kerf"), (heat["in_machine_t"], "in_machine"),
            (heat["pieces_t"] + heat["crops_t"], "pieces_and_crops"),
        ):  # fmt: skip
            assert shown == pytest.approx(expected[wanted][number], abs=2e-3), wanted
        assert abs(heat["closure_t"]) < 1e-9
        terms = ("tundish_left_t", "pieces_t", "crops_t", "kerf_t", "in_machine_t", "loss_t")
        left = heat["initial_t"] + heat["poured_t"] - sum(heat[term] for term in terms)
        assert left == pytest.approx(heat["closure_t"], abs=1e-9)
    assert len(worked[name]["balance"]["heats"]) == 2


@pytest.mark.parametrize("name", NAMES)
def test_the_strand_yield_is_strands_over_initial_and_poured(worked: dict[str, Any], name: str) -> None:
    expected = scenario(name)["expected"]["balance"]
    strands, liquid = (
        sum(sum(expected[key].values()) for key in keys) for keys in (("strand",), ("initial", "poured"))
    )
    found = worked[name]["balance"]["yield"]
    assert found["strand"] == pytest.approx(strands / liquid, abs=1e-5)
    assert found["prime"] == 0.0


@pytest.mark.parametrize("name", NAMES)
def test_what_is_kept_says_the_same_to_its_last_place(worked: dict[str, Any], name: str) -> None:
    """`trace` prints what is kept, in millionths; `sequence show` computes it anew."""
    from heattrace.store.engine import open_reader

    with open_reader(worked[name]["db"]) as reader:
        kept = {
            (row["strand_no"], row["run_no"], row["cut_no"]): row
            for row in reader.all(
                "SELECT p.strand_no, p.run_no, p.cut_no, pl.* FROM placement pl JOIN part p ON p.part_id = pl.part_id"
            )
        }
        shares = {
            (row["placement_id"], row["heat_no"]): row
            for row in reader.all("SELECT s.*, h.heat_no FROM share s JOIN heat h ON h.heat_id = s.heat_id")
        }
    for part in worked[name]["show"]["pieces"]:
        place = part["cast_position"]
        row = kept[place["strand_no"], place["run_no"], place["cut_no"]]
        assert row["from_um"] == pytest.approx(place["from_m"] * 1e6, abs=0.501)
        assert row["to_um"] == pytest.approx(place["to_m"] * 1e6, abs=0.501)
        assert row["mass_g"] == pytest.approx(part["piece"]["mass_kg"] * 1000, abs=0.501)
        for heat in part["heats"]:
            share = shares[row["placement_id"], heat["heat_no"]]
            for column, key in (
                ("mean", "mean"),
                ("head", "head"),
                ("tail", "tail"),
                ("least", "min"),
                ("greatest", "max"),
            ):
                assert share[column] == pytest.approx(heat[f"share_{key}"] * 1e6, abs=0.501)


def test_show_has_every_promised_key(caster: Caster) -> None:
    caster.send(small_book())
    part = caster.parts()["S7-04"]
    assert {
        "piece", "cast_position", "heats", "class", "class_reasons", "majority_heat", "late_heat", "heat_no",
        "heat_no_rule",
    } <= part.keys()  # fmt: skip
    assert {
        "piece_no", "kind", "form", "section", "length_hot_m", "length_cold_m", "mass_kg", "mass_weighed_kg", "quality",
        "qualities", "whereabouts",
    } <= part["piece"].keys()  # fmt: skip
    assert {
        "sequence_no", "strand_no", "run_no", "cut_no", "tundish", "tundishes", "from_m", "to_m", "meniscus_from",
        "meniscus_to", "clamped_at", "transit_min", "residual_mm", "stop_marks_m", "uncertainty_m",
    } <= part["cast_position"].keys()  # fmt: skip
    assert {
        "heat_no", "share_mean", "share_head", "share_tail", "share_min", "share_max", "uncertainty_head",
        "uncertainty_tail", "grade",
    } <= part["heats"][0].keys()  # fmt: skip
    assert part["piece"]["whereabouts"] == "cut"
    assert part["heats"][0]["grade"] == GRADE
    assert part["piece"]["qualities"][0]["requirement"] == GRADE


def test_places_and_windows_are_those_of_hand_arithmetic(caster: Caster) -> None:
    """Cut 4 lies at 5 x 4 - 4 = 16 m, cut 3 at 11 m; half a kerf of 10 mm each; at 1 m/min S is the minute less 5."""
    caster.send(small_book())
    part = caster.parts()["S7-04"]
    place = part["cast_position"]
    assert (place["from_m"], place["to_m"]) == (pytest.approx(11.005), pytest.approx(15.995))
    assert _minute(place["meniscus_from"]) == pytest.approx(16.005, abs=1e-4)
    assert _minute(place["meniscus_to"]) == pytest.approx(20.995, abs=1e-4)
    assert place["transit_min"] == pytest.approx(20.0)
    assert part["piece"]["mass_kg"] == pytest.approx(4.99 * 7.85 * 0.22 * 0.3 / 1.0118 * 1000)


def test_words_and_numbers_of_show_agree(caster: Caster) -> None:
    caster.send(small_book())
    words = caster.run("sequence", "show", "s7", "--strand", "1").out
    part = caster.parts()["S7-10"]
    (line,) = [line for line in words.splitlines() if "S7-10" in line]
    place = part["cast_position"]
    assert f"{place['from_m']:.3f}" in line and f"{place['to_m']:.3f}" in line
    assert part["class"] in line
    for heat in part["heats"]:
        assert f"{heat['heat_no']} {heat['share_mean']:.1%}" in line
    assert "5001  EN 10025-2:2004 S355J2  T1       2025-03-11T08:00:00+00:00  2025-03-11T08:40:00+00:00" in words
    assert "5002  EN 10025-2:2004 S355J2  T1       2025-03-11T08:40:00+00:00  open" in words
    assert "10 parts: 1 head-crop, 9 piece" in words


def test_words_and_numbers_of_the_balance_agree(caster: Caster) -> None:
    book = small_book()
    for row in book["heats"]:
        row["tapped_mass_t"] = "110.20"
    for cut in book["cuts"][1:]:
        cut["mass_kg"], cut["measured_length_m"] = "2560", "4.99"
    caster.send(book)
    data = caster.run("sequence", "balance", "S7", "--json").data
    words = caster.run("sequence", "balance", "S7").out
    for heat in data["heats"]:
        figures = [f"{heat[name]:.3f}" for name in ("initial_t", "poured_t", "strand_t", "tundish_left_t", "loss_t")]
        (line,) = [
            line for line in words.splitlines() if line.startswith(heat["heat_no"]) and line.endswith(heat["tapped_t"])
        ]
        assert line.split()[1:6] == figures
        (line,) = [
            line for line in words.splitlines()
            if line.startswith(heat["heat_no"]) and line.endswith(f"{heat['band_t']:.3f}")
        ]  # fmt: skip
        assert f"{heat['weighed_pieces_t']:.3f}" in line
    assert data["heats"][0]["tapped_t"] == "110.20"
    assert f"{data['yield']['strand']:.2%}" in words


def test_balance_has_every_promised_key_and_a_band_against_weighed_pieces(caster: Caster) -> None:
    """Nine pieces of 4.99 m weigh 9 x 4.99 x 7.85 x 0.066 / 1.0118 = 22.997 t; a scale 3 % above lies beyond 2 %."""
    computed = 9 * 4.99 * 7.85 * 0.22 * 0.3 / 1.0118
    book = small_book()
    for cut in book["cuts"][1:]:
        cut["mass_kg"] = f"{computed / 9 * 1.03 * 1000:.3f}"
        cut["measured_length_m"] = "4.98"
        cut["foreign_mass_kg"] = "2"
    caster.send(book)
    data = caster.run("sequence", "balance", "S7", "--json").data
    assert {"heats", "runs", "yield", "reading_residual_t"} <= data.keys()
    for heat in data["heats"]:
        assert {
            "heat_no", "initial_t", "poured_t", "strand_t", "tundish_left_t", "pieces_t", "crops_t", "kerf_t",
            "in_machine_t", "loss_t", "closure_t", "tapped_t", "weighed_pieces_t", "band_t", "cause",
        } <= heat.keys()  # fmt: skip
    total = sum(heat["weighed_pieces_t"] for heat in data["heats"])
    assert total == pytest.approx(computed * 1.03, abs=1e-4)
    assert sum(heat["band_t"] for heat in data["heats"]) == pytest.approx(computed * 0.02, abs=1e-4)
    assert all("weighed pieces +3.0%" in heat["cause"] for heat in data["heats"])
    (run,) = data["runs"]
    assert run["foreign_t"] == pytest.approx(0.018)
    # From cut 1 at 1 m to cut 10 at 46 m: 45 m by the counter, 9 x (4.98 + 0.01) m measured with kerfs.
    assert (run["counter_m"], run["measured_m"]) == (pytest.approx(45.0), pytest.approx(44.91))
    assert (run["scale"], run["flag"]) == (pytest.approx(45.0 / 44.91), "ok")


def test_list_counts_heats_strands_and_parts(caster: Caster) -> None:
    caster.send(small_book())
    (row,) = caster.run("sequence", "list", "--json").data["sequences"]
    assert (row["sequence_no"], row["caster"], row["heats"], row["strands"]) == ("S7", "CC1", 2, 1)
    assert (row["pieces"], row["other_parts"]) == (9, 1)
    assert row["from"] == "2025-03-11T08:00:00+00:00"


def test_an_empty_record_says_how_to_begin(caster: Caster) -> None:
    assert "heattrace import" in caster.run("sequence", "list").out


def test_an_unknown_sequence_lists_the_nearest_and_picks_none(caster: Caster) -> None:
    caster.send(small_book())
    ran = caster.run("sequence", "show", "S8", "--json")
    assert ran.status == 1
    assert [finding["subject"] for finding in ran.json["findings"]] == ["S7"]


def test_a_strand_the_cast_has_not_is_refused(caster: Caster) -> None:
    caster.send(small_book())
    ran = caster.run("sequence", "show", "S7", "--strand", "4")
    assert ran.status == 1
    assert "it has 1" in ran.err


def test_show_and_balance_load_nothing_heavy(caster: Caster) -> None:
    from tests.test_architecture import loaded_after

    caster.send(small_book())
    for verb in ("show", "balance"):
        assert loaded_after("sequence", verb, "S7", "--db", caster.db, "--json") == set()


def test_a_heat_outside_its_band_is_told_though_no_piece_was_weighed(caster: Caster) -> None:
    """More than 10 t of each heat went through the mould of a strand of 0.518 t/m that ran tens of metres."""
    book = small_book()
    for heat in book["heats"]:
        heat["tapped_mass_t"] = "10"
    caster.send(book)
    ran = caster.run("sequence", "balance", "S7")
    assert ran.status == 0
    assert "more poured than the 10 t tapped" in ran.out
    found = caster.run("sequence", "balance", "S7", "--json").json
    assert all(heat["band_t"] is None and heat["weighed_pieces_t"] is None for heat in found["data"]["heats"])
    assert {f["wanted"] for f in found["findings"] if f["code"] == "balance-band"} == {"within 2.0%"}
