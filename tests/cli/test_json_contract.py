"""Every promised key with its promised type, on the demo works, through the program's own door."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.cli import promised
from tests.cli.contract import MOMENT, NUMBER, Each, Maybe, departures, words
from tests.cli.demo_works import DemoWorks, run
from tests.conftest import Ran

# Typed by hand, with what a laboratory may write: digits, "<", nothing for nitrogen.
CHEM = "C=0.18 Si=0.25 Mn=1.44 P=0.015 S=0.010 Cu=0.20 Ni=0.08 Cr=0.10 Mo=0.02 V=<0.005 Al=0.030"
CALC = "C=0.16 Mn=0.90 Cr=0.05 Mo=0.02 V=0.01 Ni=0.05 Cu=<0.10"
S355 = "EN 10025-2:2004 S355J0"

READING: tuple[tuple[tuple[str, ...], Any], ...] = (
    (("trace", "L119C017"), promised.TRACE_PIECE),
    (("trace", "25R048"), promised.TRACE_HEAT),
    (("judge", "25R043"), promised.JUDGED_HEAT),
    (("judge", "25R048", "--basis", "product"), promised.JUDGED_HEAT),
    (("judge", "--grade", S355, "--size", "28", "--chem", CHEM), promised.JUDGED),
    (("judge", "--grade", S355, "--chem", "C=0.18"), promised.JUDGED),
    (("judge", "L119C017"), promised.JUDGED),
    (("judge", "L119D018", "--basis", "product"), promised.JUDGED),
    (("judge", "L119B028"), promised.JUDGED_PIECE),
    (("calc", "list"), promised.FORMULAS),
    (("calc", "cev", "--chem", CALC), promised.CALCULATED),
    (("calc", "cev", "--chem", "C=0.16 Mn=0.90", "--absent", "zero"), promised.CALCULATED),
    (("calc", "pcm", "--chem", f"{CALC} Si=0.9 B=0.0005"), promised.CALCULATED),
    (("calc", "sum", "--of", "Cr+Mo+Ni", "--chem", CALC), promised.CALCULATED),
    (("sequence", "show", "L118"), promised.SEQUENCE_SHOW),
    (("sequence", "show", "L119"), promised.SEQUENCE_SHOW),
    (("sequence", "show", "N052"), promised.SEQUENCE_SHOW),
    (("sequence", "balance", "L118"), promised.SEQUENCE_BALANCE),
    (("sequence", "balance", "L119"), promised.SEQUENCE_BALANCE),
    (("sequence", "balance", "N052"), promised.SEQUENCE_BALANCE),
    (("piece", "list"), promised.PIECE_LIST),
    (("piece", "list", "--kind", "all"), promised.PIECE_LIST),
    (("heat", "list"), promised.HEAT_LIST),
    (("bench", "list"), promised.BENCH_LIST),
    (("bench", "list", "--all"), promised.BENCH_LIST),
    (("batch", "list"), promised.BATCH_LIST),
    (("db", "check"), promised.DB_CHECK),
    (("db", "info"), promised.DB_INFO),
)
STATUS = {"done": 0, "refused": 1, "attention": 3}


def kept(ran: Ran, shape: Any) -> None:
    """One JSON object as promised: its envelope, its exit status, its data."""
    assert ran.out.count("\n") == 1
    answer = ran.json
    assert list(departures(answer, promised.ENVELOPE, "answer")) == []
    assert ran.status == STATUS[answer["status"]]
    assert list(departures(answer["data"], shape)) == []


@pytest.mark.parametrize(
    ("words", "shape"), READING, ids=lambda value: " ".join(value[:2]) if value and isinstance(value, tuple) else ""
)
def test_a_reading_command_keeps_its_promise(demo: DemoWorks, words: tuple[str, ...], shape: Any) -> None:
    ran = demo.json(*words)
    kept(ran, shape)
    assert ran.json["command"] == (words[0] if words[0] in ("trace", "judge") else " ".join(words[:2]))


def test_every_piece_and_every_heat_traces_as_promised(demo: DemoWorks) -> None:
    pieces = [p["piece_no"] for p in demo.json("piece", "list").data["pieces"]]
    heats = [h["heat_no"] for h in demo.json("heat", "list").data["heats"]]
    assert (len(pieces), len(heats)) == (568, 14)
    wrong = [
        f"{number}: {departure}"
        for numbers, shape in ((pieces, promised.TRACE_PIECE), (heats, promised.TRACE_HEAT))
        for number in numbers
        for departure in departures(demo.json("trace", number).data, shape)
    ]
    assert wrong == []


def test_every_heat_is_judged_as_promised(demo: DemoWorks) -> None:
    for heat in demo.json("heat", "list").data["heats"]:
        kept(demo.json("judge", heat["heat_no"]), promised.JUDGED_HEAT)


def test_a_whole_file_is_judged_as_promised(demo: DemoWorks) -> None:
    ran = demo.json("judge", "--file", demo.file("lab/ladle-station.csv"), "--profile", "lab-wide", "--grade", S355)
    kept(ran, promised.JUDGED_FILE)
    # The file's rows: 28, each one sample.
    assert len(ran.data["results"]) == len({r["sample_id"] for r in ran.data["results"]}) == 28


def test_judging_a_typed_analysis_needs_no_database(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    kept(run("judge", "--grade", S355, "--size", "28", "--chem", CHEM, "--json"), promised.JUDGED)
    assert list(tmp_path.iterdir()) == []


def written_lab_file(folder: Path, *rows: str) -> str:
    path = folder / "lab.csv"
    head = "heat_no,sample_id,sample_kind,analysed_at,method,C,Mn,N"
    path.write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    return str(path)


GOOD = "25R042,25R042-X1,tundish-late,2025-03-11T07:10:00+01:00,spark-emission,0.163,1.38,<0.0020"
OTHER = "25R099,25R099-X1,tundish-late,2025-03-11T07:20:00+01:00,spark-emission,0.164,1.39,0.0080"
NOBODY: tuple[str, ...] = ("--by", "T. Test", "--json")


def test_an_import_keeps_its_promise_in_each_state(demo_copy: DemoWorks, tmp_path: Path) -> None:
    """Tried, taken with a row on the bench, sent again, and refused."""
    batch, bench = promised.numbered("I"), promised.numbered("B")
    lab = written_lab_file(tmp_path, GOOD, OTHER)
    other = str(tmp_path / "other.csv")
    Path(other).write_text("something,else\n1,2\n", encoding="utf-8")

    def take_in(*words: str) -> Ran:
        return demo_copy.run("import", *words, "--profile", "lab-wide", *NOBODY)

    tried = take_in(lab, "--dry-run")
    kept(tried, promised.imported("dry-run", Maybe(batch), Maybe(bench)))
    (dry,) = tried.data["files"]
    assert dry["batch"] is None and (tried.status, tried.json["status"]) == (3, "attention")

    taken = take_in(lab)
    kept(taken, promised.imported("taken-with-bench", batch, bench))
    (file,) = taken.data["files"]
    assert file["rows"] == dry["rows"] == {"read": 2, "taken": 1, "same": 0, "contested": 0, "bench": 1, "refused": 0}
    (row,) = file["bench"]
    # Its header is line 1 and its own line 3; the column is the file's own word.
    assert (row["row"], row["column"], row["value"]) == (3, "heat_no", "25R099")
    assert [{**r, "bench_no": None, "next": ""} for r in dry["bench"]] == [{**row, "bench_no": None, "next": ""}]

    again = take_in(lab)
    kept(again, promised.imported("same", batch, bench))
    assert (again.status, again.data["files"][0]["batch"]) == (0, file["batch"])
    assert again.data["files"][0]["rows"]["same"] == 2

    refused = take_in(other)
    kept(refused, promised.imported("refused", Maybe(batch), Maybe(bench)))
    assert (refused.status, refused.json["status"]) == (1, "refused")
    assert refused.data["files"][0]["batch"] is None

    both = take_in(other, written_lab_file(tmp_path, GOOD.replace("X1", "X2")))
    assert [f["state"] for f in both.data["files"]] == ["refused", "taken"]
    assert (both.status, both.json["status"]) == (3, "attention")


@pytest.mark.parametrize("name", ["casts/L118", "casts/N052.xlsx"])
def test_a_cast_book_sent_again_names_its_batch_and_its_rows(demo_copy: DemoWorks, name: str) -> None:
    ran = demo_copy.run("import", demo_copy.file(name), "--profile", "cast-book", *NOBODY)
    kept(ran, promised.imported("same", promised.numbered("I"), promised.numbered("B")))
    (file,) = ran.data["files"]
    assert file["rows"]["same"] == file["rows"]["read"] > 100


def test_rows_read_are_the_sum_of_what_became_of_them(demo: DemoWorks) -> None:
    for batch in demo.json("batch", "list").data["batches"]:
        rows = batch["rows"]
        assert rows["read"] == sum(count for name, count in rows.items() if name != "read"), batch["file"]


def test_a_release_keeps_its_promise(demo_copy: DemoWorks) -> None:
    ran = demo_copy.run("release", "25R042", "--for", "HAR-2207/1", *NOBODY)
    kept(ran, promised.RELEASE)


REFUSED: Sequence[tuple[tuple[str, ...], int]] = (
    (("trace", "L119CO17"), 1),
    (("trace", "no such number"), 1),
    (("judge", "99X999"), 1),
    (("sequence", "show", "Z999"), 1),
    (("calc", "cev", "--chem", "C=0.16"), 1),
    (("release", "25R043", "--by", "T. Test"), 1),
    (("release", "25R041"), 2),
    (("trace",), 2),
)


@pytest.mark.parametrize(
    ("words", "status"), REFUSED, ids=lambda value: " ".join(value) if isinstance(value, tuple) else ""
)
def test_a_refusal_is_one_json_object_too(demo_copy: DemoWorks, words: tuple[str, ...], status: int) -> None:
    ran = demo_copy.run(*words, "--json")
    assert ran.status == status
    assert list(departures(ran.json, promised.ENVELOPE, "answer")) == []
    assert ran.json["status"] == "refused"
    assert ran.json["messages"]


def test_the_nearest_numbers_stand_in_the_findings_and_none_is_picked(demo: DemoWorks) -> None:
    answer = demo.json("trace", "L119CO17").json
    assert "L119C017" in str(answer["findings"][0])
    assert "piece" not in answer["data"]


def moments(value: Any, at: str) -> Iterator[tuple[str, str]]:
    """Every text of an answer that begins like a time, and where it stands."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from moments(inner, f"{at}.{name}")
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from moments(inner, f"{at}[{number}]")
    elif isinstance(value, str) and re.match(r"\d{4}-\d\d-\d\d[T ]\d", value):
        yield at, value


def test_every_time_also_of_keys_beyond_the_promise_is_in_the_works_zone(demo: DemoWorks) -> None:
    asked = [words for words, _ in READING] + [
        ("heat", "show", "25R053"), ("piece", "show", "L119C017"), ("sample", "list"), ("holds",), ("why", "25R053"),
        ("history", "L119C017"), ("ledger", "show"), ("works", "history", "zone"), ("batch", "show", "I-3"),
        ("bench", "show", "B-1"), ("sequence", "list"),
    ]  # fmt: skip
    found = [(words, at, text) for words in asked for at, text in moments(demo.json(*words).data, "data")]
    assert len({words for words, _, _ in found}) > 15
    assert [one for one in found if not MOMENT.fits(one[2])] == []


def test_the_database_may_be_named_before_the_words_or_in_the_environment(
    demo: DemoWorks, monkeypatch: pytest.MonkeyPatch
) -> None:
    wanted = demo.json("heat", "list").out
    assert run("--db", str(demo.db), "heat", "list", "--json").out == wanted
    assert run(f"--db={demo.db}", "heat", "list", "--json").out == wanted
    monkeypatch.setenv("HEATTRACE_DB", str(demo.db))
    assert run("heat", "list", "--json").out == wanted
    assert run("trace", "L119C017", "--json").out == demo.json("trace", "L119C017").out


def test_a_departure_from_a_promise_is_named() -> None:
    """The comparison these tests rest on sees a missing key, a wrong type, another word, another zone."""
    shape = {"a": NUMBER, "b": Each({"c": words("x", "y")}), "d": Maybe(MOMENT)}
    assert list(departures({"a": 1.5, "b": [{"c": "x"}], "d": None, "more": 1}, shape)) == []
    assert list(departures({"a": 1, "b": [], "d": "2025-03-11T15:22:08.842+01:00"}, shape)) == []
    wrong = {"a": "1.5", "b": [{"c": "x"}, {"c": "z"}, {}], "d": "2025-07-11T15:22:08+01:00"}
    assert [text.split(":")[0] for text in departures(wrong, shape)] == [
        "data.a", "data.b[1].c", "data.b[2].c is missing", "data.d",
    ]  # fmt: skip
    assert list(departures({"a": True, "b": {}}, shape)) == [
        "data.a: True is not a number", "data.b: {} is no list", "data.d is missing",
    ]  # fmt: skip
