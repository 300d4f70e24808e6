"""What another writer, a missing right or a full disk makes of a command: a plain sentence, never a trace of calls."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from heattrace.demo.order_of_import import DISPATCHES, LATE, STEPS
from heattrace.errors import DatabaseRefused
from heattrace.store import engine, work
from tests.conftest import Run

SET = ("works", "set", "zone", "Europe/Vienna", "--reason", "ours", "--by", "A. Weber")


class Failing(sqlite3.Connection):
    """A connection that refuses statements that begin with some words."""

    words, fault = "", ""

    def execute(self, sql: str, *more: Any) -> sqlite3.Cursor:
        """As of any connection, but for the refused words."""
        if sql.startswith(self.words):
            raise sqlite3.OperationalError(self.fault)
        return super().execute(sql, *more)


def fail(monkeypatch: pytest.MonkeyPatch, words: str, fault: str) -> None:
    """Let every statement that begins with these words end with that fault."""
    made = type("Failing", (Failing,), {"words": words, "fault": fault})
    whole = sqlite3.connect

    def connect(*given: Any, **named: Any) -> sqlite3.Connection:
        return whole(*given, factory=made, **named)

    monkeypatch.setattr(sqlite3, "connect", connect)


def test_a_committed_work_is_done_though_its_statistics_were_refused(
    store: str, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        fail(patch, "PRAGMA optimize", "database is locked")
        assert run(*SET, "--db", store).status == 0
    assert run("works", "show", "zone", "--db", store, "--json").data["values"][0]["value"] == "Europe/Vienna"


# The faults as the database library words them (sqlite.org, result codes BUSY, READONLY, CANTOPEN, FULL; from memory).
FAULTS = [
    ("BEGIN IMMEDIATE", "database is locked", "database busy"),
    ("INSERT INTO works_value", "database is locked", "try again"),
    ("COMMIT", "database or disk is full", "disk is full"),
    ("INSERT INTO ledger", "attempt to write a readonly database", "cannot be written"),
    ("BEGIN IMMEDIATE", "unable to open database file", "cannot be opened for writing"),
]


@pytest.mark.parametrize(("words", "fault", "told"), FAULTS)
def test_a_refused_work_is_told_in_a_sentence_and_changes_nothing(
    store: str, run: Run, monkeypatch: pytest.MonkeyPatch, words: str, fault: str, told: str
) -> None:
    with monkeypatch.context() as patch:
        fail(patch, words, fault)
        ran = run(*SET, "--db", store)
    assert ran.status == 1
    assert told in ran.err and fault in ran.err and "Traceback" not in ran.err
    assert run("ledger", "verify", "--db", store, "--json").data["entries"] == 1


def test_a_fault_of_our_own_is_not_called_one_of_the_file(store: str) -> None:
    with (
        pytest.raises(sqlite3.OperationalError, match="no such table"),
        work.begin_work(store, by="T. Test", action="test", subject="x") as begun,
    ):
        begun.connection.execute("SELECT * FROM no_table")


def test_init_and_demo_where_the_folder_is_a_file_say_so(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "notes"
    file.write_text("not a folder")
    for words in (("db", "init", "--db", file / "new.db", "--by", "A. Weber"), ("demo", file), ("demo", file / "sub")):
        ran = run(*words)
        assert ran.status == 1, words
        assert str(file) in ran.err


def test_init_in_a_folder_that_may_not_be_written_says_so(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fail(monkeypatch, "PRAGMA application_id", "unable to open database file")
    ran = run("db", "init", "--db", tmp_path / "new.db", "--by", "A. Weber")
    assert ran.status == 1
    assert str(tmp_path) in ran.err and "writable" in ran.err
    assert not list(tmp_path.glob("new.db*"))


def without_rights(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the usual opening fail as in a folder that may not be written."""

    def connect(path: Path) -> sqlite3.Connection:
        raise sqlite3.OperationalError("unable to open database file")

    monkeypatch.setattr(engine, "connect", connect)


def test_a_copy_in_a_folder_that_may_not_be_written_is_read(store: str, monkeypatch: pytest.MonkeyPatch) -> None:
    without_rights(monkeypatch)
    with engine.open_reader(store) as reader:
        assert reader.scalar("SELECT count(*) FROM ledger") == 1
    with (
        pytest.raises(DatabaseRefused, match=str(Path(store).parent)),
        work.begin_work(store, by="T. Test", action="test", subject="x"),
    ):
        pass


def test_a_copy_with_entries_beside_it_is_not_read_without_them(store: str, monkeypatch: pytest.MonkeyPatch) -> None:
    Path(f"{store}-wal").write_bytes(b"x" * 100)
    without_rights(monkeypatch)
    with pytest.raises(DatabaseRefused, match=r"works\.db-wal beside it holds entries"):
        engine.open_reader(store)


@pytest.mark.parametrize("words", [("--help",), ("ledger", "show", "--help"), ("db", "info")])
def test_output_whose_reader_left_ends_quietly(store: str, words: tuple[str, ...]) -> None:
    read, write = os.pipe()
    os.close(read)
    environment = {**os.environ, "HEATTRACE_DB": store}
    door = [sys.executable, "-m", "heattrace", *words]
    ended = subprocess.run(door, stdout=write, stderr=subprocess.PIPE, env=environment, check=False)
    os.close(write)
    assert b"Traceback" not in ended.stderr and b"BrokenPipe" not in ended.stderr
    assert ended.returncode == 0


def test_the_demo_is_built_though_nobody_reads_on(tmp_path: Path) -> None:
    read, write = os.pipe()
    os.close(read)
    door = [sys.executable, "-m", "heattrace", "demo", str(tmp_path / "demo")]
    ended = subprocess.run(door, stdout=write, stderr=subprocess.PIPE, check=False)
    os.close(write)
    assert ended.returncode == 0, ended.stderr
    with engine.open_reader(str(tmp_path / "demo" / "heattrace.db")) as reader:
        assert reader.scalar("SELECT count(*) FROM decision") > 0
        assert reader.scalar("SELECT count(*) FROM ledger WHERE action = 'import'") == len((*STEPS, *DISPATCHES, *LATE))


def test_two_databases_named_are_refused(store: str, run: Run) -> None:
    for words in (("--db", store, "heat", "list", "--db", "b.db"), (f"--db={store}", "heat", "list", "--db=b.db")):
        ran = run(*words)
        assert ran.status == 2
        assert "two databases" in ran.err
