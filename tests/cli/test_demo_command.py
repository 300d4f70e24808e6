"""`heattrace demo`: quick, complete, and careful about what lies in its way."""

from __future__ import annotations

import hashlib
import re
import sqlite3
from pathlib import Path

import pytest

from heattrace.demo.order_of_import import STORY
from tests.cli.demo_works import DemoWorks, run


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_it_takes_under_twenty_seconds_and_says_how_long(demo: DemoWorks) -> None:
    assert demo.built.status == 0
    assert demo.seconds < 20
    (said,) = re.findall(r"Built in ([\d.]+) s", demo.built.err)
    assert 0 < float(said) <= demo.seconds + 0.05


def test_its_screen_has_the_three_people_and_their_main_steps_with_real_output(demo: DemoWorks) -> None:
    screen = demo.built.out
    assert all(f"\n{number}  The " in screen for number in (1, 2, 3))
    typed = re.findall(r"^\$ heattrace (.*)$", screen, re.M)
    assert [words.split()[0] for words in typed] == [
        "bench", "bench", "bench", "judge", "hold", "release", "release", "release", "holds", "why", "trace", "trace",
        "why", "db",
    ]  # fmt: skip
    # A command typed again at the end of the walk says what the walk showed.
    for words in (("trace", STORY.complaint_piece), ("holds", "--proposed"), ("why", STORY.complaint_piece)):
        told = screen.split(f"$ heattrace {' '.join(words)}\n", 1)[1].split("\n$ heattrace", 1)[0]
        assert demo.ask(*words).out.strip() in told
    assert f"heattrace trace {STORY.complaint_as_read}" in screen


def test_the_files_it_was_made_from_lie_beside_it(demo: DemoWorks) -> None:
    for name in ("orders.csv", "casts/L118/cuts.csv", "casts/N052.xlsx", "dispatch/LN-3044.csv", "complaint.txt"):
        assert Path(demo.file(name)).is_file()


def test_it_leaves_an_existing_works_alone_unless_told_again(demo_copy: DemoWorks) -> None:
    before = digest(demo_copy.db)
    refused = run("demo", str(demo_copy.folder), "--json")
    assert (refused.status, refused.json["status"]) == (1, "refused")
    assert "--again" in refused.json["messages"][0]
    assert digest(demo_copy.db) == before
    # A change of our own, so that it can be seen to be gone.
    demo_copy.run("release", "25R042", "--by", "T. Test")
    again = run("demo", str(demo_copy.folder), "--again", "--json")
    assert (again.status, again.json["status"]) == (0, "done")
    assert demo_copy.run("db", "info", "--json").data["tables"]["decision"] == 4


@pytest.mark.parametrize("again", [(), ("--again",)])
def test_it_never_replaces_a_database_that_is_not_marked_practice(tmp_path: Path, again: tuple[str, ...]) -> None:
    db = tmp_path / "heattrace.db"
    run("db", "init", "--db", str(db), "--by", "T. Test")
    before = digest(db)
    refused = run("demo", str(tmp_path), *again)
    assert refused.status == 1
    assert "not marked practice" in refused.err
    assert digest(db) == before
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()] == []


@pytest.mark.parametrize("again", [(), ("--again",)])
def test_it_never_replaces_a_file_of_another_kind(tmp_path: Path, again: tuple[str, ...]) -> None:
    db = tmp_path / "heattrace.db"
    connection = sqlite3.connect(db)
    connection.execute("CREATE TABLE something (x INTEGER)")
    connection.commit()
    connection.close()
    before = digest(db)
    assert run("demo", str(tmp_path), *again).status == 1
    assert digest(db) == before


def test_built_twice_it_is_the_same_works_but_for_the_moments(demo: DemoWorks, tmp_path: Path) -> None:
    assert run("demo", str(tmp_path / "other")).status == 0
    for words in (
        ("piece", "list", "--kind", "all"), ("sequence", "balance", "L119"), ("heat", "list"),
        ("bench", "list", "--all"),
    ):  # fmt: skip
        other = run(*words, "--db", str(tmp_path / "other" / "heattrace.db"), "--json")
        assert other.data == demo.json(*words).data
