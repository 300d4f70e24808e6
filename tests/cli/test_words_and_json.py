"""A screen and its JSON say the same: numbers to the digits shown, words to the letter."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from tests.cli.demo_works import DemoWorks
from tests.cli.tables_on_screen import labelled, shows, table_of, tables, told

SEQUENCES = ("L118", "L119", "N052")


def shown(cells: list[str], values: list[Any]) -> None:
    """A column of digits shows a list of numbers, empty where there is none."""
    assert len(cells) == len(values)
    for cell, value in zip(cells, values, strict=True):
        assert (cell == "") == (value is None), (cell, value)
        assert value is None or shows(cell, value), (cell, value)


@pytest.mark.parametrize("heat", ["25R043", "25R046", "25R053"])
def test_judge_heat(demo: DemoWorks, heat: str) -> None:
    screen, data = demo.ask("judge", heat).out, demo.json("judge", heat).data
    results = data["results"]
    judged = [t for t in tables(screen) if "quantity" in t.head]
    assert len(judged) == len(results)
    for table, result in zip(judged, results, strict=True):
        limits = result["limits"]
        assert f"{heat} for {result['requirement']}: {result['verdict'].upper()}" in screen
        assert table.column("quantity") == [limit["quantity"] for limit in limits]
        assert table.column("rounded") == [limit["rounded"] or "" for limit in limits]
        assert [v.lower() for v in table.column("verdict")] == [limit["verdict"] for limit in limits]
        assert table.column("method") == [limit["method"] for limit in limits]
        assert [b.split()[1].lower() for b in table.column("book")] == [limit["status"] for limit in limits]
        for cell, digits, limit in zip(table.column("limit"), table.column("value"), limits, strict=True):
            if "see note" not in cell and cell != "must be reported":
                assert cell == f"{limit['sense']} {limit['limit']}"
            assert digits == limit["reported"] or shows(digits, limit["value"])
        # A margin is unrounded in the JSON and at most a few places on the screen.
        margins = [(m, limit["margin"]) for m, limit in zip(table.column("margin"), limits, strict=True)]
        assert all((m == "") == (v is None) and (v is None or shows(m, v)) for m, v in margins)
    superheat = results[0]["superheat"]
    table = table_of(screen, "tundish", "read at")
    assert table.column("read at") == [s["read_at"] for s in superheat]
    assert table.column("degree C") == [s["temperature_c"] for s in superheat]
    shown(table.column("liquidus"), [s["liquidus_c"] for s in superheat])
    shown(table.column("superheat"), [s["superheat_c"] for s in superheat])


@pytest.mark.parametrize("sequence", SEQUENCES)
def test_sequence_show(demo: DemoWorks, sequence: str) -> None:
    screen, data = demo.ask("sequence", "show", sequence).out, demo.json("sequence", "show", sequence).data
    parts = data["pieces"]
    classes = Counter(part["class"] for part in parts)
    kinds = Counter(part["piece"]["kind"] for part in parts)
    assert f"{len(parts)} parts: " + ", ".join(f"{kinds[kind]} {kind}" for kind in sorted(kinds)) in screen
    assert f"class: {classes['pure']} pure, {classes['transition']} transition, {classes['undetermined']}" in screen
    runs = table_of(screen, "strand/run")
    assert runs.column("strand/run") == [f"{run['strand_no']}/{run['run_no']}" for run in data["runs"]]
    shown(runs.column("metres"), [run["length_m"] for run in data["runs"]])
    by_strand = Counter(part["cast_position"]["strand_no"] for part in parts)
    assert [int(n) for n in runs.column("parts")] == [by_strand[run["strand_no"]] for run in data["runs"]]


@pytest.mark.parametrize(("sequence", "strand"), [("L118", "4"), ("L119", "4"), ("N052", "2")])
def test_sequence_show_of_one_strand(demo: DemoWorks, sequence: str, strand: str) -> None:
    parts = demo.json("sequence", "show", sequence, "--strand", strand).data["pieces"]
    table = table_of(demo.ask("sequence", "show", sequence, "--strand", strand).out, "cut", "piece")
    assert [int(cut) for cut in table.column("cut")] == [p["cast_position"]["cut_no"] for p in parts]
    assert table.column("piece") == [p["piece"]["piece_no"] or f"({p['piece']['kind']})" for p in parts]
    for column, key in (("from m", "from_m"), ("to m", "to_m")):
        shown(table.column(column), [p["cast_position"][key] for p in parts])
    for column, key in (("mould from", "meniscus_from"), ("mould to", "meniscus_to")):
        assert table.column(column) == [p["cast_position"][key][11:19] for p in parts]
    assert table.column("class") == [p["class"] for p in parts]
    assert table.column("heat") == [p["heat_no"] or "to be decided" for p in parts]
    assert table.column("quality") == [p["piece"]["quality"] for p in parts]
    for cell, part in zip(table.column("mean shares"), parts, strict=True):
        listed = re.findall(r"(\S+) ([\d.]+%)", cell)
        assert [heat for heat, _ in listed] == [h["heat_no"] for h in part["heats"]]
        assert all(shows(d, h["share_mean"]) for (_, d), h in zip(listed, part["heats"], strict=True))


@pytest.mark.parametrize("sequence", SEQUENCES)
def test_sequence_balance(demo: DemoWorks, sequence: str) -> None:
    screen, data = demo.ask("sequence", "balance", sequence).out, demo.json("sequence", "balance", sequence).data
    heats = data["heats"]
    where, strands = table_of(screen, "heat", "initial"), table_of(screen, "heat", "pieces")
    for table, columns in (
        (where, ("initial", "poured", "strands=strand", "in tundish=tundish_left", "loss", "closure")),
        (strands, ("pieces", "crops", "kerf", "in machine=in_machine", "weighed=weighed_pieces", "band")),
    ):
        assert table.column("heat") == [*(h["heat_no"] for h in heats), "all"]
        for column in columns:
            name, _, key = column.partition("=")
            cells, values = table.column(name), [h[f"{key or name}_t"] for h in heats]
            shown(cells[:-1], values)
            assert cells[-1] == "" or name == "closure" or shows(cells[-1], sum(values))
    assert where.column("tapped")[:-1] == [h["tapped_t"] for h in heats]
    runs = table_of(screen, "strand/run")
    assert runs.column("lengths") == [run["flag"] for run in data["runs"]]
    for column, key in (("counter m", "counter_m"), ("measured m", "measured_m"), ("scale", "scale")):
        shown(runs.column(column), [run[key] for run in data["runs"]])
    shown(runs.column("foreign t"), [run["foreign_t"] for run in data["runs"]])
    for name in ("strand", "prime"):
        (digits,) = re.findall(rf"{name} yield +([\d.]+%)", screen)
        assert shows(digits, data["yield"][name])
    residuals = dict(re.findall(r"(T\d) ([+-][\d.]+) t", screen))
    assert set(residuals) == set(data["reading_residual_t"])
    assert all(shows(digits, data["reading_residual_t"][tundish]) for tundish, digits in residuals.items())


@pytest.mark.parametrize("kind", ["piece", "all"])
def test_piece_list(demo: DemoWorks, kind: str) -> None:
    words = ("piece", "list", "--kind", kind)
    pieces, screen = demo.json(*words).data["pieces"], demo.ask(*words).out
    table = table_of(screen, "piece", "sequence")
    assert table.column("piece") == [p["piece_no"] or f"({p['kind']})" for p in pieces]
    for column, key in (
        ("sequence", "sequence_no"),
        ("class", "class"),
        ("quality", "quality"),
        ("where", "whereabouts"),
    ):
        assert table.column(column) == [p[key] for p in pieces]
    assert table.column("strand/run/cut") == [f"{p['strand_no']}/{p['run_no']}/{p['cut_no']}" for p in pieces]
    assert table.column("heat") == [p["heat_no"] or "to be decided" for p in pieces]
    assert f"{len(pieces)} parts" in screen


def test_heat_list(demo: DemoWorks) -> None:
    heats, table = demo.json("heat", "list").data["heats"], table_of(demo.ask("heat", "list").out, "heat")
    for column, key in (("heat", "heat_no"), ("grade", "grade"), ("quality", "quality"), ("record", "record")):
        assert table.column(column) == [heat[key] for heat in heats]


def test_bench_list(demo: DemoWorks) -> None:
    rows, table = (
        demo.json("bench", "list", "--all").data["bench"],
        table_of(demo.ask("bench", "list", "--all").out, "row"),
    )
    assert len(rows) == 2
    for column, key in (("row", "bench_no"), ("state", "state"), ("column", "column"), ("found", "value")):
        assert table.column(column) == [row[key] for row in rows]
    assert table.column("at") == [f"row {row['row']}" for row in rows]
    assert [why.split()[0] for why in table.column("why")] == [row["code"] for row in rows]


def test_batch_list(demo: DemoWorks) -> None:
    batches, table = demo.json("batch", "list").data["batches"], table_of(demo.ask("batch", "list").out, "import")
    for column, key in (("import", "batch"), ("file", "file"), ("profile", "profile"), ("state", "state")):
        assert table.column(column) == [batch[key] for batch in batches]
    for name in ("read", "taken", "same", "contested", "bench"):
        assert [int(n) for n in table.column(name)] == [batch["rows"][name] for batch in batches]


@pytest.mark.parametrize("words", [("25R042", "--for", "HAR-2207/1"), ("25R049",), ("L118E006",)])
def test_release(demo: DemoWorks, tmp_path: Path, words: tuple[str, ...]) -> None:
    said = demo.copy(tmp_path / "said").run("release", *words, "--by", "T. Test")
    told_json = demo.copy(tmp_path / "json").run("release", *words, "--by", "T. Test", "--json")
    data = told_json.data
    assert said.status == told_json.status
    counts = {name: re.search(rf"^{name} +(\d+)", said.out, re.M) for name in ("free", "held", "transition")}
    assert {name: int(found[1]) for name, found in counts.items() if found} == {
        name: len(data[name]) for name in counts
    }
    others = re.search(r"^other orders +(\d+)", said.out, re.M)
    assert others and int(others[1]) == len(data["other_orders"])
    held = table_of(said.out, "not free")
    assert list(held.rows) == [(h["piece_no"], h["because"]) for h in data["held"]]
    orders = table_of(said.out, "for another order")
    assert list(orders.rows) == [(o["piece_no"], o["requirement"]) for o in data["other_orders"]]
    first = [line.rsplit(" and ", 1)[0].split(", ") for line in re.findall(r"^free +\d+ +(\S.*)", said.out, re.M)]
    assert not first or first[0] == data["free"][: len(first[0])]


def test_db_check(demo: DemoWorks) -> None:
    data, screen = demo.json("db", "check").data, demo.ask("db", "check").out
    lines = dict(re.split(r" {2,}", line, maxsplit=1) for line in screen.splitlines() if "  " in line)
    assert (lines["file integrity"], lines["references"]) == (data["integrity"], data["foreign_keys"])
    assert lines["ledger"].startswith(f"{data['ledger']['entries']} entries, unbroken")
    assert lines["derived"] == f"{data['derived']['placements']} placed parts, {data['derived']['faults']} faults"
    assert lines["decisions"] == f"{data['signatures']['unsigned_decisions']} unsigned"
    assert data["ok"] and "everything held" in screen


def test_trace_heat(demo: DemoWorks) -> None:
    screen, data = demo.ask("trace", "25R043").out, demo.json("trace", "25R043").data
    pieces, table = data["pieces"], table_of(screen, "piece", "share")
    assert table.column("piece") == [p["piece_no"] for p in pieces]
    shown(table.column("share"), [p["share_mean"] for p in pieces])
    assert table.column("cut") == [f"{p['strand_no']}/{p['run_no']}/{p['cut_no']}" for p in pieces]
    for cell, piece in zip(table.column("metres"), pieces, strict=True):
        low, high = cell.split("-")
        assert shows(low, piece["from_m"]) and shows(high, piece["to_m"])
    for column, key in (("class", "class"), ("quality", "quality"), ("where", "whereabouts"), ("customer", "customer")):
        assert table.column(column) == [p[key] for p in pieces]
    assert table.column("heat") == [p["heat_no"] or "-" for p in pieces]
    (chosen,) = told(screen, "cast analysis")
    for value in data["cast_analysis"]["values"]:
        assert f"{value['element']} {value['reported']}" in chosen
    lines = table_of(screen, "order", "customer")
    assert [int(n) for n in lines.column("pieces")] == [o["pieces"] for o in data["order_lines"]]
    (hold,) = data["holds"]
    assert table_of(screen, "hold", "state").rows[0][:4] == tuple(
        hold[k] for k in ("hold_no", "state", "reason", "scope")
    )
    assert labelled(screen)["quality"] == [
        f"{q['quality'].upper()} for {q['requirement']}" for q in data["heat"]["qualities"]
    ]
