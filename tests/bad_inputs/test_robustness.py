"""Bad inputs that mean harm, and misfortunes; catalogue numbers 123 to 138."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import NoReturn

import pytest

from heattrace.store.work import Work, begin_work
from tests.bad_inputs.outcomes import assert_benched, assert_command_no, assert_unchanged, only_file, plain
from tests.bad_inputs.practice_works import CLERK, METALLURGIST, ORDERS, WIDE, PracticeWorks, lines, wide_row

ATTACKS = ("41878'; DROP TABLE heat;--", '" OR 1=1', "41878' OR '1'='1", "x') UNION SELECT * FROM ledger --")


@pytest.mark.parametrize("attack", ATTACKS)
def test_a_query_typed_as_a_number_is_text_and_no_such_heat(works: PracticeWorks, attack: str) -> None:
    """Bad input 123 (CWE-89): parameters only, on the command line."""
    by = ("--by", METALLURGIST)
    hold = ("--reason", "LEVEL", "--note", "x", "--lift-on", "document")
    for words in (
        ("trace", attack), ("judge", attack), ("why", attack), ("history", attack), ("heat", "show", attack),
        ("piece", "show", attack), ("sample", "show", attack), ("sequence", "show", attack), ("release", attack, *by),
        ("hold", attack, *hold, *by), ("release", "41878", "--for", attack, *by), ("grade", "show", attack),
        ("judge", "--grade", attack, "--chem", "C=0.18"), ("bench", "attach", "B-1", "--heat", attack, "--reason",
                                                           "WRONG-HEAT", *by),
    ):  # fmt: skip
        ran = assert_command_no(works, *words, says=())
        assert ran.out == ""
        assert ran.err.strip()


@pytest.mark.parametrize("attack", ATTACKS)
def test_a_query_in_a_file_is_text_and_no_such_heat(works: PracticeWorks, attack: str) -> None:
    """Bad input 123 (CWE-89): parameters only, in every kind of cell."""
    heats = works.state().tables["heat"]
    quoted = '"' + attack.replace('"', '""') + '"'
    bad = wide_row(quoted, "T2")
    ran = works.bring_wide(wide_row(sample=quoted), bad)
    assert_benched(works, ran, row=3, column="heat_no", code="REC01", value=attack, raw=bad)
    assert works.scalar("SELECT written_id FROM sample") == attack
    named = works.run("sample", "show", attack, "--json")
    assert [s["heat_no"] for s in named.data["samples"]] == ["41878"]
    assert works.state().tables["heat"] == heats
    assert works.run("db", "check").status == 0
    aliases = lines("piece_no,alias,owner,from", f"K7-01,{quoted},Harrow Forge,2024-05-02")
    assert works.bring("names.csv", aliases, "aliases").status == 0
    assert works.run("trace", attack, "--json").data["piece"]["piece_no"] == "K7-01"


@pytest.mark.parametrize("typed", ["K7-%", "K7_05", "%", "_____", "418%", "K7-0_"])
def test_signs_that_a_search_would_take_for_wildcards_are_taken_literally(works: PracticeWorks, typed: str) -> None:
    """Bad input 124: `%` and `_` typed as part of a number."""
    ran = works.run("trace", typed, "--json")
    assert ran.status == 1, ran.out
    assert ran.json["status"] == "refused"
    if "%" in typed:
        assert all(typed not in f["subject"] for f in ran.json["findings"])
    rows = lines("piece_no,alias,owner,from", f"K7-09,{typed},Harrow Forge,2024-05-02")
    assert works.bring("names.csv", rows, "aliases").status == 0
    assert works.run("trace", typed, "--json").data["piece"]["piece_no"] == "K7-09"


def test_a_backup_never_writes_over_what_is_there_or_through_a_link(works: PracticeWorks, tmp_path: Path) -> None:
    """Bad input 126: existing file, symbolic link, folder that is not there (CWE-22)."""
    kept = tmp_path / "kept.db"
    kept.write_text("not to be lost")
    link, dangling = tmp_path / "link.db", tmp_path / "dangling.db"
    link.symlink_to(kept)
    dangling.symlink_to(tmp_path / "elsewhere" / "new.db")
    for target in (kept, link, dangling, tmp_path / "no folder" / "b.db", Path(works.db)):
        assert_command_no(works, "db", "backup", target, says=(str(target),))
    assert kept.read_text() == "not to be lost"
    assert link.is_symlink()
    assert dangling.is_symlink()


def test_terminal_sequences_in_a_customer_s_name_never_reach_the_terminal(works: PracticeWorks) -> None:
    """Bad input 128: the row waits, shown escaped."""
    name = "\x1b[31mHarrow\x1b]0;owned\x07"
    bad = ORDERS.splitlines()[1].replace("4711,1", "4712,1").replace("Harrow Forge", name)
    path = works.write("orders2.csv", lines(ORDERS.splitlines()[0], bad))
    typed = works.run("import", path, "--profile", "orders", "--by", CLERK)
    assert typed.status == 3
    later = [works.run(*words) for words in (("bench", "list"), ("bench", "show", "B-1"), ("batch", "show", "I-4"))]
    for screen in (typed, *later):
        assert "\x1b" not in plain(screen)
        assert "\x07" not in plain(screen)
    assert "\\x1b[31mHarrow" in typed.out
    assert works.bench_bytes("B-1") == bad.encode()


def forge(db: str, *statements: str) -> None:
    """What somebody who owns the file can do with another program: guards taken away, rows altered, guards put back."""
    with closing(sqlite3.connect(db)) as other, other:
        guards = other.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            other.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert other.execute(statement).rowcount >= 1
        for _, sql in guards:
            other.execute(sql)


def test_an_altered_ledger_entry_is_named_by_check_and_verify(works: PracticeWorks) -> None:
    """Bad input 131: the first broken link is named; reading goes on."""
    works.bring_wide(wide_row())
    later = "UPDATE ledger SET at = at + 1 WHERE entry_no = 5"
    forge(works.db, "UPDATE ledger SET \"by\" = 'Nobody' WHERE entry_no = 3", later)
    for words in (("db", "check"), ("ledger", "verify")):
        ran = works.run(*words, "--json")
        assert ran.status == 3
        chain = ran.data["ledger"] if words[0] == "db" else ran.data
        assert chain["broken_at"] == 3
        (finding,) = [f for f in ran.json["findings"] if f["code"] == "LEDGER-BROKEN"]
        assert finding["subject"] == "ledger entry 3"
        assert finding["next"]
        assert "entry 3" in plain(works.run(*words))
    assert works.run("trace", "K7-05").status == 0


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("UPDATE result SET value_ppb = value_ppb - 100000 WHERE element_id = 1", "I-4"),
        ("UPDATE sample SET sample_id = 'OTHER'", "I-4"),
        ("DELETE FROM result WHERE element_id = 2", "I-4"),
        ("UPDATE cut SET piece_no = 'K7-99' WHERE piece_no = 'K7-05'", "I-3"),
    ],
    ids=["a content", "a sample's number", "a result taken away", "a cut"],
)
def test_an_altered_row_of_an_import_is_named_by_check(works: PracticeWorks, statement: str, named: str) -> None:
    """Bad input 131: the guards were put back, so only the digests in the ledger show it."""
    works.bring_wide(wide_row())
    assert works.run("db", "check").status == 0
    forge(works.db, statement)
    ran = works.run("db", "check", "--json")
    assert ran.status == 3, "an altered row was not seen"
    assert ran.data["ok"] is False
    assert any(named in f["subject"] + f["seen"] for f in ran.json["findings"]), ran.json["findings"]


def test_guards_taken_away_are_named_by_check(works: PracticeWorks) -> None:
    """Bad input 131: somebody worked on the file with another program."""
    with closing(sqlite3.connect(works.db)) as other, other:
        other.execute("DROP TRIGGER guard_result_update")
    ran = works.run("db", "check", "--json")
    assert ran.status == 3
    assert "trigger guard_result_update" in {f["subject"] for f in ran.json["findings"]}


def test_a_clock_set_back_is_marked_and_the_order_of_entries_kept(
    works: PracticeWorks, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bad input 132."""
    monkeypatch.setattr("heattrace.store.work.now_ms", lambda: 1_735_689_600_000)  # 2025-01-01T00:00:00Z
    ran = works.bring_wide(wide_row())
    assert ran.status == 0, ran.out
    monkeypatch.undo()
    entries = works.run("ledger", "show", "--json").data["entries"]
    assert [e["entry_no"] for e in entries] == list(range(1, len(entries) + 1))
    assert [e["clock_back"] for e in entries] == [False] * (len(entries) - 1) + [True]
    check = works.run("db", "check", "--json")
    assert (check.status, check.data["ok"]) == (0, True)
    back = [f["subject"] for f in check.json["findings"] if f["code"] == "CLOCK-BACK"]
    assert back == [f"ledger entry {len(entries)}"]


def test_a_backup_made_while_another_writes_is_whole_and_of_before(works: PracticeWorks, tmp_path: Path) -> None:
    """Bad input 136: consistent copy; restore only to a new file."""
    saved, back = tmp_path / "saved.db", tmp_path / "back.db"
    before = works.state()
    with begin_work(works.db, by=CLERK, action="half an import", subject="x") as work:
        work.bulk_insert("heat", ("heat_no", "series", "written_no", "entry_no"), [("9", "2024", "9", work.entry_no)])
        made = works.run("db", "backup", saved)
    assert made.status == 0, plain(made)
    assert works._run("db", "restore", saved, "--to", back).status == 0
    copy = PracticeWorks(str(back), works.folder, works._run)
    assert copy.state() == before
    assert copy.run("db", "check").status == 0
    held = Path(works.db).read_bytes()
    refused = works._run("db", "restore", saved, "--to", works.db)
    assert refused.status == 1
    assert "only a new file" in refused.err
    assert Path(works.db).read_bytes() == held


def test_ctrl_c_before_the_last_step_leaves_nothing_and_says_so(
    works: PracticeWorks, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bad input 137."""
    path = works.write("lab.csv", lines(WIDE, wide_row()))
    before = works.state()

    def interrupt(work: Work) -> NoReturn:
        raise KeyboardInterrupt

    monkeypatch.setattr(Work, "commit", interrupt)
    for words in (
        ("import", path, "--profile", "lab-wide"),
        ("hold", "41878", "--reason", "LEVEL", "--note", "x", "--lift-on", "document"),
    ):
        ran = works.run(*words, "--by", CLERK)
        assert ran.status == 1
        assert "interrupted; nothing was changed by what was not finished" in ran.err
    monkeypatch.undo()
    assert_unchanged(works, before)
    assert works.run("import", path, "--profile", "lab-wide", "--by", CLERK).status == 0


def test_statuses_part_refused_from_bench_from_done_and_data_from_words(works: PracticeWorks) -> None:
    """Bad input 138: 0 done, 1 refused, 2 wrong usage, 3 something needs a person; words on standard error."""
    good, bench, no = (works.write(f"{n}.csv", t) for n, t in (
        ("good", lines(WIDE, wide_row())), ("bench", lines(WIDE, wide_row("41887", "T2"))), ("no", ""),
    ))  # fmt: skip
    words = ("--profile", "lab-wide", "--by", CLERK)
    assert [works.run("import", path, *words).status for path in (good, bench, no)] == [0, 3, 1]
    assert works.run("import", good, "--profile", "lab-wide").status == 2
    typed = works.run("import", bench, *words)
    assert "PRACTICE" in typed.err
    assert "PRACTICE" not in typed.out
    assert works.run("import", bench, *words, "--json").err == ""
    several = works.run("import", no, good, *words, "--json")
    assert (several.status, several.json["status"]) == (3, "attention")
    assert only_file(works.run("import", no, *words, "--json"))["state"] == "refused"
