"""Rows outside the chain that somebody altered with another program, who then put the triggers back."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from shutil import copy

import pytest

from heattrace.cli.app import main
from heattrace.store.check import check_database
from heattrace.store.engine import open_reader
from heattrace.store.migrate import expected_guards
from tests.cli.record import make_works
from tests.conftest import Run

BY = ("--by", "J. Albe")


@pytest.fixture(scope="module")
def decided(empty_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record with a release, a hold placed and lifted, and a works value set."""
    db = tmp_path_factory.mktemp("decided") / "works.db"
    copy(empty_file, db)
    make_works(str(db))
    for words in (
        ("works", "set", "pure-min", "0.97", "--reason", "tighter"),
        ("release", "41879"),
        ("hold", "41879", "--reason", "CHEM-HIGH", "--note", "look again", "--lift-on", "document"),
        ("lift", "H-2", "--evidence", "document:letter 7"),
    ):
        assert main([*words, *BY, "--db", str(db)]) in (0, 3), words
    return db


def altered(db: Path, to: Path, *statements: str) -> dict[str, list[str]]:
    """Findings of a copy altered behind the guards' back: subjects by code."""
    copy(db, to)
    connection = sqlite3.connect(to)
    for name in expected_guards():
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        assert connection.execute(statement).rowcount > 0, statement
    for body in expected_guards().values():
        connection.execute(body)
    connection.commit()
    connection.close()
    found: dict[str, list[str]] = {}
    with open_reader(str(to)) as reader:
        for finding in check_database(reader).findings:
            found.setdefault(finding.code, []).append(finding.subject)
    return found


def test_an_unaltered_record_holds(decided: Path, tmp_path: Path) -> None:
    assert altered(decided, tmp_path / "a.db") == {}
    with open_reader(str(decided)) as reader:
        actions = {row["action"] for row in reader.all("SELECT action FROM ledger")}
    assert {"works set", "release", "hold", "lift"} <= actions


ALTERED = [
    ("UPDATE decision SET requirement = 'another'", "DB-DECISION", "D-1"),
    ("UPDATE decision SET by = 'Somebody else'", "DB-DECISION", "D-1"),
    ("UPDATE decision SET snapshot = replace(snapshot, '1', '2')", "DB-DECISION", "D-1"),
    ("UPDATE decision SET snapshot_digest = 'aa'", "DB-DECISION", "D-1"),
    ("DELETE FROM decision", "DB-DECISION", "D-1"),
    ("UPDATE hold_event SET state = 'turned-down' WHERE state = 'placed' AND hold_id = 2", "DB-HOLD", "H-2"),
    ("UPDATE hold_event SET by = 'Somebody else' WHERE state = 'lifted'", "DB-HOLD", "H-2"),
    ("DELETE FROM hold_event WHERE state = 'lifted'", "DB-HOLD", "H-2"),
    ("UPDATE works_value SET value = '0.51'", "DB-WORKS", "works value pure-min edition 1"),
    ("DELETE FROM works_value", "DB-WORKS", "works value pure-min edition 1"),
]


@pytest.mark.parametrize(("statement", "code", "subject"), ALTERED)
def test_an_altered_row_is_named(decided: Path, tmp_path: Path, statement: str, code: str, subject: str) -> None:
    found = altered(decided, tmp_path / "a.db", statement)
    assert "DB-GUARD" not in found and "LEDGER-BROKEN" not in found
    assert set(found.get(code, ())) == {subject}


def test_a_file_without_any_trigger_is_summed_up(store: str, run: Run) -> None:
    connection = sqlite3.connect(store)
    for name in expected_guards():
        connection.execute(f"DROP TRIGGER {name}")
    connection.commit()
    connection.close()
    ran = run("db", "check", "--db", store)
    assert ran.status == 3
    rest = f"and {len(expected_guards()) - 5} more"
    assert rest in ran.out and rest in ran.err
    assert ran.err.count("DB-GUARD") <= 6
    assert len(ran.out.splitlines()) + len(ran.err.splitlines()) < 30
