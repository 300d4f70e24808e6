"""The screen of a trace: it says what the JSON says, starts light, and never picks a number."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from typing import Any

import pytest

from heattrace.store.work import begin_work
from tests.conftest import Ran, Run
from tests.make import make_analysis, make_dispatch, make_grade, make_heat, make_piece, make_sample, make_sequence
from tests.tracing.plant import GRADE, Plant, make_plant


@pytest.fixture
def plant(store: str) -> Plant:
    return make_plant(store)


def trace(run: Run, plant: Plant, *words: str) -> Ran:
    return run("trace", *words, "--db", plant.db)


def both(run: Run, plant: Plant, number: str) -> tuple[dict[str, Any], str]:
    return trace(run, plant, number, "--json").data, trace(run, plant, number).out


def test_answer_is_one_json_object_and_ends_done(run: Run, plant: Plant) -> None:
    ran = trace(run, plant, "S300-1-07", "--json")
    assert ran.status == 0
    assert (ran.json["heattrace"], ran.json["command"], ran.json["status"]) == (1, "trace", "done")
    assert ran.json["messages"] == ['signatures and the ledger were not verified; "heattrace ledger verify" does that']
    assert ran.data["piece"]["piece_no"] == "S300-1-07"


@pytest.mark.parametrize("number", ["S300-1-07", "S300-1-08", "S300-1-09", "S300-1-09-A", "OLD-1"])
def test_words_say_what_the_json_says(run: Run, plant: Plant, number: str) -> None:
    data, words = both(run, plant, number)
    piece = data["piece"]
    assert words.startswith(f"piece {number}")
    assert f"{piece['quality'].upper()} for {piece['requirement'] or 'no requirement'}" in words
    assert all(heat["heat_no"] in words for heat in data["heats"])
    assert re.search(rf"^class +{data['class']}$", words, re.MULTILINE)
    assert f"heat number   {data['heat_no'] or 'none yet'}" in words
    for reason in data["class_reasons"]:
        assert reason["words"] in words
    for name, key in (
        ("samples", "sample_id"),
        ("holds", "hold_no"),
        ("events", "event_no"),
        ("decisions", "decision_no"),
    ):
        assert all(item[key] in words for item in data[name]), name
    assert all(f"{reading['temperature_c']}" in words for reading in data["temperatures"])
    for fit in data["fits"]:
        assert f"{fit['verdict'].upper()} for {fit['requirement']} ({fit['role']})" in words
    for element, places in data["composition"].items():
        if places["mean"] is not None:
            row = next(line for line in words.splitlines() if re.match(rf"  {element} ", line))
            assert [float(w) for w in row.split()[1:4]] == pytest.approx([places[p] for p in ("head", "mean", "tail")])
    if data["cast_position"]:
        place = data["cast_position"]
        assert f"{place['from_m']:.3f} (head) to {place['to_m']:.3f} (tail) m of the strand" in words
        assert place["meniscus_from"] in words
    else:
        assert "position not recorded" in words
    if data["dispatch"]:
        assert f"delivery note {data['dispatch']['delivery_note']} to {data['dispatch']['customer']}" in words


def test_shares_are_drawn_from_head_to_tail_in_tenths(run: Run, plant: Plant) -> None:
    """0.75 falls to 0.25 through a mean of 0.50: a straight line of digits from 7 to 2."""
    words = trace(run, plant, "S300-1-08").out
    first, second = re.findall(r"head +([\d.]+) % \[([\d#]+)\] +([\d.]+) % tail +mean +([\d.]+) %", words)
    assert (first[0], first[2], first[3]) == ("75.0", "25.0", "50.0")
    assert (first[1][0], first[1][-1]) == ("7", "2")
    assert list(first[1]) == sorted(first[1], reverse=True)
    assert list(second[1]) == sorted(second[1])
    pure = trace(run, plant, "S300-1-07").out
    assert "[########################]" in pure


def test_place_is_marked_on_the_strand(run: Run, plant: Plant) -> None:
    """30 to 36 m of a run whose last part ends at 48.02 m: signs 31 to 37 of 50."""
    words = trace(run, plant, "S300-1-07").out
    (bar,) = re.findall(r"0 m \|([-#]+)\| 48\.0 m", words)
    assert (len(bar), bar.index("#"), bar.rindex("#")) == (50, 31, 36)


def test_limit_that_is_missed_is_named_where_it_is_missed(run: Run, plant: Plant) -> None:
    words = trace(run, plant, "S300-1-08").out
    assert re.search(r"  C +0\.190 +0\.200 +0\.210 +max 0\.20 +FAIL at tail", words)
    assert re.search(r"  Mn +1\.425 +1\.450 +1\.475 +max 1\.60 +pass", words)
    assert re.search(r"  N +<0\.003 ", words)


def test_screen_keeps_to_a_hundred_columns(run: Run, plant: Plant) -> None:
    for number in ("S300-1-07", "S300-1-08", "S300-1-09", "41878", "OLD-1"):
        long = [line for line in trace(run, plant, number).out.splitlines() if len(line) > 100]
        assert not long, (number, long)


def test_practice_database_is_marked(run: Run, plant: Plant) -> None:
    assert trace(run, plant, "S300-1-07").err.startswith("PRACTICE DATABASE")


def test_heat_is_traced_forward_in_the_same_words(run: Run, plant: Plant) -> None:
    data, words = both(run, plant, "41878")
    assert words.startswith(f"heat 41878 of series 2026: {GRADE}")
    assert f"{data['heat']['quality'].upper()} for 4711/1" in words
    for piece in data["pieces"]:
        row = next(line for line in words.splitlines() if re.match(rf"  {piece['piece_no']} ", line))
        assert piece["quality"] in row
        if piece["share_mean"] is not None:
            assert f"{piece['share_mean'] * 100:.1f} %" in row
    assert "C 0.18 Mn 1.40 S 0.008 N <0.0020 [mass %], frozen" in words
    assert "5 pieces; 3 held, 2 released" in words


def test_another_number_says_whose_it_is(run: Run, plant: Plant) -> None:
    ran = trace(run, plant, "hf-2217", "--json")
    assert ran.data["piece"]["piece_no"] == "S300-1-07"
    assert ran.json["messages"][0].startswith("HF-2217 is a number of Harrow Forge for piece S300-1-07")
    assert "HF-2217, number of Harrow Forge" in trace(run, plant, "S300-1-07").out


def test_misread_number_ends_refused_and_lists_the_nearest(run: Run, plant: Plant) -> None:
    ran = trace(run, plant, "S300-1-O7", "--json")
    assert (ran.status, ran.json["status"], ran.data) == (1, "refused", {"code": "NOT-FOUND"})
    assert ran.json["findings"][0]["subject"] == "piece:S300-1-07"
    assert set(ran.json["findings"][0]) == {"code", "subject", "seen", "wanted", "next"}
    plain = trace(run, plant, "S300-1-O7")
    assert plain.status == 1
    assert plain.out == ""
    assert "0 read as O at place 8" in plain.err
    assert "heattrace trace piece:S300-1-07" in plain.err


def test_number_of_a_heat_and_a_piece_is_refused_with_both(run: Run, plant: Plant) -> None:
    with begin_work(plant.db, by="T. Test", action="x", subject="x") as work:
        make_piece(work, "41878")
        work.commit()
    ran = trace(run, plant, "41878", "--json")
    assert (ran.status, ran.data["code"]) == (1, "AMBIGUOUS")
    assert {f["subject"] for f in ran.json["findings"]} == {"heat:2026/41878", "piece:41878"}
    assert trace(run, plant, "heat:41878").status == 0
    assert trace(run, plant, "piece:41878").status == 0


@pytest.mark.parametrize(
    "number", ["41878'; DROP TABLE heat;--", '" OR 1=1', "S300%", "S300-1-0_", "\x1b[31mS300", "-- S300"]
)
def test_signs_of_a_query_are_only_text(run: Run, plant: Plant, number: str) -> None:
    """Bad inputs 123 and 124."""
    ran = run("trace", "--db", plant.db, "--json", "--", number)
    assert (ran.status, ran.data["code"]) == (1, "NOT-FOUND")
    assert trace(run, plant, "S300-1-07").status == 0


def test_wildcards_only_where_asked(run: Run, plant: Plant) -> None:
    asked = trace(run, plant, "S300-*-08", "--wildcard", "--json")
    assert (asked.status, [f["subject"] for f in asked.json["findings"]]) == (1, ["piece:S300-1-08"])
    assert "matches" in asked.json["findings"][0]["seen"]
    plain = trace(run, plant, "S300-*-08", "--json")
    assert all("matches" not in f["seen"] for f in plain.json["findings"])


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("S300-1-07", "S300-1-08"),
        ("S300-1-07", "--colour"),
        ("S300-1-07", "--json=1"),
        ("S300-1-07", "--db"),
        (" ",),
    ],
)
def test_wrong_usage_ends_two(run: Run, plant: Plant, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEATTRACE_DB", plant.db)
    ran = run("trace", *words)
    assert ran.status == 2
    assert ran.err
    assert "Traceback" not in ran.err


def test_options_are_taken_in_every_place_and_form(run: Run, plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = trace(run, plant, "S300-1-07", "--json").out
    assert run("--db", plant.db, "trace", "S300-1-07", "--json").out == wanted
    assert run("trace", f"--db={plant.db}", "--json", "S300-1-07").out == wanted
    monkeypatch.setenv("HEATTRACE_DB", plant.db)
    assert run("trace", "--json", "--", "S300-1-07").out == wanted


@pytest.mark.parametrize("word", ["--help", "-h"])
def test_help_has_an_example_and_every_option(run: Run, word: str) -> None:
    ran = run("trace", word)
    assert ran.status == 0
    assert "Usage: heattrace trace [OPTIONS] NUMBER" in ran.out
    assert "heattrace trace S300-1-07" in ran.out
    for text in ("--db PATH|URL", "--json", "--wildcard", "HEATTRACE_DB", "Exit status", "-h, --help"):
        assert text in ran.out
    assert max(map(len, ran.out.splitlines())) <= 100


def test_terminal_signs_in_a_name_are_shown_escaped(run: Run, plant: Plant) -> None:
    """Bad input 128."""
    with begin_work(plant.db, by="T. Test", action="x", subject="x") as work:
        make_dispatch(work, [plant.parts["S300-1-09"]], delivery_note="DN-901", customer="Forge\x1b[31m\u202ered")
        work.commit()
    words = trace(run, plant, "S300-1-09").out
    assert "\x1b" not in words
    assert "\u202e" not in words
    assert "Forge\\x1b[31m\\u202ered" in words


def test_no_database_is_refused_with_the_next_step(run: Run, tmp_path: Any) -> None:
    ran = run("trace", "S300-1-07", "--db", tmp_path / "none.db")
    assert ran.status == 1
    assert "heattrace db init" in ran.err


HEAVY = ("sqlalchemy", "sqlmodel", "pydantic", "pandas", "numpy", "rich", "openpyxl", "typer", "click", "dataclasses",
         "inspect", "argparse", "python_calamine", "alembic", "heattrace.schema")  # fmt: skip


@pytest.mark.parametrize("words", [["S300-1-07"], ["S300-1-07", "--json"], ["41878"], ["S300-1-O7"], ["--help"]])
def test_trace_loads_nothing_heavy(plant: Plant, words: list[str]) -> None:
    code = (
        "import sys\nfrom heattrace.cli.app import main\n"
        f"main({['trace', *words, '--db', plant.db]!r})\n"
        f"sys.stderr.write('LOADED ' + ' '.join(m for m in {HEAVY!r} if m in sys.modules))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert "LOADED" in ran.stderr, ran.stderr
    assert ran.stderr.rsplit("LOADED", 1)[1].split() == []


def test_trace_changes_nothing(run: Run, plant: Plant) -> None:
    before = run("ledger", "verify", "--db", plant.db, "--json").data
    for number in ("S300-1-07", "41878"):
        trace(run, plant, number)
    assert run("ledger", "verify", "--db", plant.db, "--json").data == before
    assert json.loads(json.dumps(before)) == before


def test_content_that_fails_is_never_shown_in_digits_that_pass(run: Run, store: str) -> None:
    """Limit 0.20 absolute; 0.999999 x 0.20 + 0.000001 x 0.60 = 0.2000004 is above it."""
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        edition = make_grade(work, limits=[("C", "", "0.20")])
        work.connection.execute("DROP TRIGGER guard_grade_limit_update")
        work.connection.execute("UPDATE grade_limit SET rounding = 'absolute'")
        heats = [make_heat(work, n, edition_id=edition) for n in ("1", "2")]
        for heat, chem in zip(heats, ("C=0.20", "C=0.60"), strict=True):
            make_analysis(work, make_sample(work, heat), chem)
        trace_of = {"mean": 1e-6, "head": 1e-6, "tail": 1e-6, "least": 1e-6, "greatest": 2e-4}
        sequence = make_sequence(work, heat_ids=heats)
        make_piece(work, "EDGE", sequence_id=sequence, shares={heats[0]: 0.999999, heats[1]: trace_of})
        work.commit()
    words = run("trace", "EDGE", "--db", store).out
    assert re.search(r"  C +0\.2000004 +0\.2000004 +0\.2000004 +max 0\.20 +FAIL", words)
