"""Imports as wholes: listed, shown, and taken back without deleting anything."""

from __future__ import annotations

import shutil
import subprocess
import sys
from typing import Any

from heattrace.demo.order_of_import import source_folder
from heattrace.intake.batches.batch import BROUGHT
from heattrace.store.citations import columns_of
from heattrace.store.work import begin_work
from tests.make import make_hold
from tests.melt_shop import BY, HEATS, MeltShop, wide_row


def test_undo_restores_every_count_and_the_same_file_may_come_again(melt_shop: MeltShop) -> None:
    before = melt_shop.live_counts()
    melt_shop.import_wide(wide_row("41887"), wide_row(sample="T2"), wide_row(sample="T3"))
    everything = melt_shop.all_counts()
    done = melt_shop.run("batch", "undo", "I-3", "--by", BY, "--json")
    assert done.status == 0
    assert done.data["ended"]["analysis"] == 2
    assert melt_shop.live_counts() == before
    after = melt_shop.all_counts()
    assert after == everything | {"ledger": everything["ledger"] + 1}
    again = melt_shop.import_wide(wide_row("41887"), wide_row(sample="T2"), wide_row(sample="T3"))
    assert again.data["files"][0]["state"] == "taken-with-bench"
    assert again.data["files"][0]["batch"] == "I-4"
    assert melt_shop.live_counts()["analysis"] == 2


def test_undo_takes_back_rows_mended_on_the_bench_too(melt_shop: MeltShop) -> None:
    before = melt_shop.live_counts()
    melt_shop.import_wide(wide_row(c="0.18 2"), wide_row(sample="T2", c="O.2"))
    assert melt_shop.run("bench", "fix", "B-1", "--set", "C=0.182", "--reason", "TYPING", "--by", BY).status == 0
    void = ("bench", "void", "B-2", "--reason", "TYPING", "--note", "unreadable", "--by", BY)
    assert melt_shop.run(*void).status == 0
    assert melt_shop.run("batch", "undo", "I-3", "--by", BY).status == 0
    assert melt_shop.live_counts() == before


def test_undo_puts_back_what_the_import_had_taken_the_place_of(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(n=""), name="first.csv")
    before = melt_shop.live_counts()
    shown = melt_shop.run("sample", "show", "41878-T1", "--json").data
    heats = HEATS.replace("41878,EN 10025-2:2004 S355J2,7,", "41878,EN 10025-2:2004 S355J2,9,")
    melt_shop.import_text("heats-again.csv", heats, "heats")
    melt_shop.import_wide(wide_row(n="0.0061"), name="fuller.csv")
    assert melt_shop.run("batch", "undo", "I-5", "--by", BY).status == 0
    assert melt_shop.run("batch", "undo", "I-4", "--by", BY).status == 0
    assert melt_shop.live_counts() == before
    now = melt_shop.run("sample", "show", "41878-T1", "--json").data
    strip = [[(a["state"], a["results"]) for a in s["analyses"]] for s in now["samples"]]
    assert strip == [[(a["state"], a["results"]) for a in s["analyses"]] for s in shown["samples"]]
    ladle = "SELECT ladle_no FROM heat_record r JOIN heat h ON h.heat_id = r.heat_id WHERE r.ended_no IS NULL"
    assert melt_shop.rows(f"{ladle} AND h.heat_no = '41878'") == [("7",)]


def test_undo_is_refused_while_another_import_rests_on_it(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row())
    before = melt_shop.all_counts()
    refused = melt_shop.run("batch", "undo", "I-2", "--by", BY, "--json")
    assert refused.status == 1
    codes = {(f["code"], f["subject"]) for f in refused.json["findings"]}
    assert ("UNDO-CITED", "I-3") in codes
    assert "1 samples on its heats" in refused.json["findings"][0]["seen"]
    assert melt_shop.all_counts() == before
    orders = melt_shop.run("batch", "undo", "I-1", "--by", BY, "--json")
    assert "particulars of heats on its order lines" in orders.json["messages"][0]


def test_undo_is_refused_while_a_later_import_restated_its_rows(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(n=""), name="first.csv")
    melt_shop.import_wide(wide_row(n="0.0061"), name="fuller.csv")
    refused = melt_shop.run("batch", "undo", "I-3", "--by", BY, "--json")
    assert refused.status == 1
    assert "I-4" in refused.json["messages"][0]
    assert melt_shop.run("batch", "undo", "I-4", "--by", BY).status == 0
    assert melt_shop.run("batch", "undo", "I-3", "--by", BY).status == 0


def test_undo_is_refused_while_a_hold_or_a_frozen_cast_analysis_cites_it(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row("41950", "T9", day="2024-04-20"))
    heat = int(str(melt_shop.scalar("SELECT heat_id FROM heat WHERE heat_no = '41950'")))
    heats_only = "heat_no,grade,tapped_at\n41999,EN 10083-2:2006 C45E,2024-04-22T07:00:00+02:00\n"
    melt_shop.import_text("one.csv", heats_only, "heats")
    new_heat = int(str(melt_shop.scalar("SELECT heat_id FROM heat WHERE heat_no = '41999'")))
    with begin_work(melt_shop.db, by=BY, action="hold", subject="41999") as work:
        make_hold(work, heat_id=new_heat)
        from heattrace.schema.analyses import CastAnalysis, CastAnalysisValue

        choice = work.add(CastAnalysis(heat_id=heat, rule="tundish-steady", ladder_edition=0, words="[]"))
        work.add(CastAnalysisValue(cast_analysis_id=choice, element_id=1, analysis_id=1, rule="base"))
        work.commit()
    held = melt_shop.run("batch", "undo", "I-4", "--by", BY, "--json")
    assert held.status == 1
    assert "1 holds on its heats" in held.json["messages"][0]
    frozen = melt_shop.run("batch", "undo", "I-3", "--by", BY, "--json")
    assert frozen.status == 1
    assert "frozen cast analyses on its analyses" in frozen.json["messages"][0]


def test_the_list_and_one_import_show_what_was_promised(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row("41887"), wide_row(sample="T2"))
    melt_shop.run("batch", "undo", "I-3", "--by", BY)
    listed = melt_shop.run("batch", "list", "--json")
    assert listed.status == 0
    batches = listed.data["batches"]
    assert [(b["batch"], b["state"]) for b in batches] == [("I-1", "taken"), ("I-2", "taken"), ("I-3", "undone")]
    assert all({"batch", "file", "profile", "state", "rows"} <= set(b) for b in batches)
    assert batches[2]["rows"] == {"read": 2, "taken": 1, "same": 0, "contested": 0, "bench": 1, "refused": 0}
    shown = melt_shop.run("batch", "show", "I-2", "--json").data["batch"]
    assert shown["facts"] == {"heat_record": 3}
    assert shown["by"] == BY
    words = melt_shop.run("batch", "list").out
    assert "undone" in words
    assert "lab.csv" in words


def test_an_undone_import_cannot_be_undone_again(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row())
    assert melt_shop.run("batch", "undo", "I-3", "--by", BY).status == 0
    again = melt_shop.run("batch", "undo", "I-3", "--by", BY)
    assert again.status == 1
    assert "undone before" in again.err
    assert melt_shop.run("batch", "undo", "I-77", "--by", BY).status == 1
    assert melt_shop.run("batch", "undo", "seven", "--by", BY).status == 2


def pieces_of(melt_shop: MeltShop) -> list[dict[str, Any]]:
    listed: list[dict[str, Any]] = melt_shop.run("piece", "list", "--json").data["pieces"]
    return sorted(listed, key=lambda piece: str(piece["piece_no"]))


def test_a_cast_book_and_its_later_edition_are_undone_one_after_the_other(melt_shop: MeltShop) -> None:
    source = source_folder()
    for name in ("orders", "heats"):
        assert melt_shop.run("import", source / f"{name}.csv", "--profile", name, "--by", BY).status == 0
    start = melt_shop.live_counts()
    folder = melt_shop.folder / "L118"
    shutil.copytree(source / "casts" / "L118", folder)
    first = melt_shop.run("import", folder, "--profile", "cast-book", "--by", BY, "--json")
    assert first.data["files"][0]["state"] == "taken", first.out
    before, pieces = melt_shop.live_counts(), pieces_of(melt_shop)
    assert before["placement"] == before["part"] > 300
    cuts = (folder / "cuts.csv").read_text().splitlines()
    at = next(n for n, line in enumerate(cuts) if ",piece," in line)
    cuts[at] = cuts[at].replace(cuts[at].split(",")[5], "RENUMBERED-1")
    (folder / "cuts.csv").write_text("\n".join(cuts) + "\n")
    second = melt_shop.run("import", folder, "--profile", "cast-book", "--by", BY, "--json")
    assert second.data["files"][0]["rows"]["taken"] >= 1, second.out
    assert pieces_of(melt_shop) != pieces
    refused = melt_shop.run("batch", "undo", str(first.data["files"][0]["batch"]), "--by", BY)
    assert refused.status == 1
    undone = melt_shop.run("batch", "undo", str(second.data["files"][0]["batch"]), "--by", BY)
    assert undone.status == 0, undone.err
    assert melt_shop.live_counts() == before
    assert pieces_of(melt_shop) == pieces
    assert melt_shop.run("batch", "undo", str(first.data["files"][0]["batch"]), "--by", BY).status == 0
    assert melt_shop.live_counts() == start
    assert melt_shop.run("db", "check").status == 0


def test_every_table_that_names_its_import_is_told_of() -> None:
    naming = {name for name, columns in columns_of().items() if "batch_id" in columns}
    assert set(BROUGHT) == naming - {"batch", "batch_count", "bench_row"}


def test_lists_of_imports_and_of_the_bench_load_no_table_classes(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row("41887"))
    words = [["batch", "list"], ["batch", "show", "I-3"], ["bench", "list"], ["bench", "show", "B-1"]]
    words.append(["profile", "list"])
    code = (
        "import sys\nfrom heattrace.cli.app import main\n"
        f"for words in {words!r}:\n    assert main([*words, '--db', {melt_shop.db!r}]) == 0\n"
        "sys.exit(sum(name in sys.modules for name in ('sqlalchemy', 'sqlmodel', 'pydantic', 'openpyxl', 'rich')))"
    )
    assert subprocess.run([sys.executable, "-c", code], stdout=subprocess.DEVNULL, check=False).returncode == 0
