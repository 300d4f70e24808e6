"""The record behind the demo works: an entry a change, nothing twice, imports taken back whole, practice said."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from heattrace.cli.app import main
from heattrace.cli.output import PRACTICE_MARK
from heattrace.demo.order_of_import import DISPATCHES, LATE, OWN_PROFILES, STEPS, source_folder
from heattrace.demo.walk import walk
from heattrace.intake.first_entry import make_database
from tests.cli.demo_works import DemoWorks, run
from tests.conftest import Ran

BY = ("--by", "T. Test")
ALL_STEPS = (*STEPS, *DISPATCHES, *LATE)


def entries(db: Path) -> list[tuple[int, str, str]]:
    """Number, action and subject of every ledger entry, read past the program."""
    connection = sqlite3.connect(db)
    try:
        return connection.execute("SELECT entry_no, action, subject FROM ledger ORDER BY entry_no").fetchall()
    finally:
        connection.close()


# Words of a command that changes the record when it succeeds.
CHANGING = {
    ("profile", "add"), ("works", "set"), ("import",), ("bench", "fix"), ("hold",), ("release",), ("lift",),
    ("batch", "undo"),
}  # fmt: skip


def test_each_changing_command_of_the_walk_leaves_one_entry_and_no_other_command_any(tmp_path: Path) -> None:
    db = tmp_path / "works.db"
    make_database(str(db), by="T. Test", practice=True)
    expected = [("db init", "works.db")]
    assert [(action, subject) for _, action, subject in entries(db)] == expected
    left: Counter[tuple[str, int, int]] = Counter()

    def door(words: Sequence[str]) -> int:
        before = len(entries(db))
        status = main(words)
        changes = any(tuple(words[: len(change)]) == change for change in CHANGING) and status in (0, 3)
        left[(words[0], int(changes), len(entries(db)) - before)] += 1
        return status

    walk(door, db, source_folder(), lambda text: None)
    assert {(wanted, made) for _, wanted, made in left} == {(0, 0), (1, 1)}
    made = [(n, action) for n, action, _ in entries(db)]
    assert [n for n, _ in made] == list(range(1, len(made) + 1))
    assert Counter(action for _, action in made) == {
        "db init": 1, "profile add": len(OWN_PROFILES), "works set": 3, "import": len(ALL_STEPS), "bench fix": 2,
        "hold": 1, "release": 3,
    }  # fmt: skip


def test_the_demo_works_ledger_is_that_of_its_commands(demo: DemoWorks) -> None:
    found = demo.json("ledger", "show", "--last", "1000").data["entries"]
    assert [(e["entry_no"], e["action"], e["subject"]) for e in found] == entries(demo.db)
    assert {e["by"] for e in found} == {"M. Quist", "J. Albe"}
    checked = demo.json("db", "check").data
    assert checked["ledger"] == {**checked["ledger"], "entries": len(found), "broken_at": None}
    verified = demo.json("ledger", "verify")
    assert (verified.status, verified.json["status"]) == (0, "done")
    batches = demo.json("batch", "list").data["batches"]
    imports = [e["entry_no"] for e in found if e["action"] == "import"]
    assert [b["entry_no"] for b in batches] == imports


def state(db: Path) -> tuple[dict[str, int], dict[str, int], list[tuple[int, str, str]]]:
    """Standing and stored rows of every table, and the ledger."""
    data = run("db", "info", "--db", str(db), "--json").data
    return data["tables"], data["stored"], entries(db)


@pytest.mark.parametrize("step", ALL_STEPS, ids=lambda step: step.path)
def test_the_same_file_sent_again_changes_nothing(demo: DemoWorks, step: Any) -> None:
    """On the session's own works: a command that changes nothing cannot disturb the other tests."""
    before = state(demo.db)
    ran = demo.run("import", demo.file(step.path), "--profile", step.profile, *BY, "--json")
    (file,) = ran.data["files"]
    assert (ran.status, file["state"]) == (0, "same")
    assert file["rows"]["same"] == file["rows"]["read"] > 0
    assert state(demo.db) == before


@pytest.fixture(scope="module")
def taken_in(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """A fresh practice database with every file of the demo works that needs no release, and its state after each."""
    db = tmp_path_factory.mktemp("taken") / "works.db"
    make_database(str(db), by="T. Test", practice=True)
    for profile in OWN_PROFILES:
        assert run("profile", "add", str(source_folder() / profile), "--db", str(db), *BY).status == 0
    after: dict[str, Any] = {"": state(db)}
    for step in STEPS:
        take_in(db, step)
        after[step.path] = state(db)
    return db, after


def take_in(db: Path, step: Any) -> Ran:
    ran = run("import", str(source_folder() / step.path), "--profile", step.profile, "--db", str(db), *BY, "--json")
    assert ran.data["files"][0]["state"] in ("taken", "taken-with-bench")
    return ran


def test_undone_from_the_last_to_the_first_each_import_gives_back_the_counts_before_it(
    taken_in: tuple[Path, dict[str, Any]],
) -> None:
    db, after = taken_in
    kept = dict(after)
    paths = list(kept)
    for number in range(len(STEPS), 0, -1):
        ran = run("batch", "undo", f"I-{number}", "--db", str(db), *BY, "--json")
        assert (ran.status, ran.data["state"]) == (0, "undone")
        standing, stored, ledger = state(db)
        was_standing, _, was = kept[paths[number - 1]]
        # The works values and the ledger go on; every table of facts stands as it stood before the import.
        apart = {"ledger"}
        assert {t: n for t, n in standing.items() if t not in apart} == {
            t: n for t, n in was_standing.items() if t not in apart
        }, paths[number]
        assert ledger[-1][1:] == ("batch undo", f"I-{number}")
        assert len(ledger) > len(was)
        # Nothing was deleted.
        assert all(stored[table] >= count for table, count in kept[paths[number]][1].items())
    batches = run("batch", "list", "--db", str(db), "--json").data["batches"]
    assert {b["state"] for b in batches} == {"undone"}
    checked = run("db", "check", "--db", str(db), "--json")
    assert (checked.status, checked.data["ok"]) == (0, True)
    # And the same files may then come again, with the same outcome.
    for step in STEPS:
        take_in(db, step)
    again = state(db)[0]
    wanted = kept[paths[-1]][0]
    assert {t: n for t, n in again.items() if t != "ledger"} == {t: n for t, n in wanted.items() if t != "ledger"}


def test_an_import_something_rests_on_is_not_undone_and_each_thing_is_named(demo: DemoWorks) -> None:
    before = state(demo.db)
    for number, named in (("I-1", "decisions"), ("I-4", "cast analys"), ("I-8", "I-14"), ("I-2", "I-8")):
        ran = demo.run("batch", "undo", number, *BY, "--json")
        assert ran.status == 1
        assert named in str(ran.json["messages"]) + str(ran.json["findings"]), number
    assert state(demo.db) == before


SCREENS: tuple[tuple[str, ...], ...] = (
    ("trace", "L119C017"), ("trace", "25R048"), ("trace", "L119CO17"), ("trace", "no such"), ("why", "25R053"),
    ("why", "L119C017"), ("judge", "25R043"), ("judge", "L119B028"), ("judge", "no such"), ("history", "L119C017"),
    ("holds",), ("holds", "--proposed"), ("heat", "list"), ("heat", "show", "25R048"), ("heat", "show", "no such"),
    ("piece", "list"), ("piece", "list", "--quality", "held"), ("piece", "show", "L119C017"), ("sample", "list"),
    ("sample", "show", "25R048-TS1"), ("analysis", "show", "25R048"), ("analysis", "show", "A-1"),
    ("sequence", "list"), ("sequence", "show", "L119"), ("sequence", "balance", "L119"), ("sequence", "show", "Z9"),
    ("grade", "list"), ("grade", "show", "EN 10083-2:2006 C45E"), ("batch", "list"), ("batch", "show", "I-3"),
    ("batch", "undo", "I-1", *BY), ("bench", "list"), ("bench", "list", "--all"), ("bench", "show", "B-1"),
    ("bench", "show", "B-99"), ("profile", "list"), ("profile", "show", "gas-ppm"), ("works", "show"),
    ("works", "show", "zone"), ("works", "history", "zone"), ("ledger", "show"), ("ledger", "verify"),
    ("db", "info"), ("db", "check"), ("db", "upgrade"), ("release", "25R043", *BY), ("release", "25R048", *BY),
    ("lift", "H-1", "--evidence", "A-1", *BY),
)  # fmt: skip


@pytest.mark.parametrize("words", SCREENS, ids=" ".join)
def test_every_screen_of_a_practice_database_says_so(demo_copy: DemoWorks, words: tuple[str, ...]) -> None:
    ran = demo_copy.run(*words)
    assert ran.status in (0, 1, 3)
    assert ran.err.splitlines()[0] == PRACTICE_MARK


def test_screens_of_files_say_practice_too(demo_copy: DemoWorks, tmp_path: Path) -> None:
    orders, about = demo_copy.file("orders.csv"), demo_copy.file("about.txt")
    copy = str(tmp_path / "copy.db")
    for words in (
        ("import", orders, "--profile", "orders", *BY),
        ("import", orders, "--profile", "orders", "--dry-run"),
        ("import", about, "--profile", "orders", *BY),
        ("db", "backup", copy),
        ("hold", "25R041", "--reason", "LEVEL", "--note", "words", "--lift-on", "document", *BY),
        ("release", "25R042", *BY),
        ("works", "set", "zone", "Europe/Andorra", "--reason", "again", *BY),
    ):
        assert demo_copy.run(*words).err.startswith(PRACTICE_MARK), words
    assert run("db", "restore", copy, "--to", str(tmp_path / "again.db")).err.startswith(PRACTICE_MARK)
    assert demo_copy.built.out.startswith(PRACTICE_MARK)


def test_a_database_that_is_not_marked_never_says_practice(tmp_path: Path) -> None:
    db = str(tmp_path / "works.db")
    screens = [run("db", "init", "--db", db, *BY), run("heat", "list", "--db", db), run("trace", "41878", "--db", db)]
    assert [screen.status for screen in screens] == [0, 0, 1]
    assert not any("PRACTICE" in screen.out + screen.err for screen in screens)
