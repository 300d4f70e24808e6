"""The chain: one entry per unit of work, nothing changed or deleted, the first broken entry named."""

from __future__ import annotations

import hashlib
import json
import sqlite3

import pytest

from heattrace.schema.heats import Heat
from heattrace.store.engine import open_reader
from heattrace.store.ledger import canonical, verify_chain
from heattrace.store.work import begin_work


def add_heat(db: str, heat_no: str, *, now: int | None = None) -> int:
    with begin_work(db, by="A. Weber", action="heat add", subject=heat_no, now=now) as work:
        key = work.add(Heat(heat_no=heat_no, series="2026", written_no=heat_no))
        work.payload = {"heat_no": heat_no}
        work.commit()
    return key


def broken_at(db: str) -> int | None:
    with open_reader(db) as reader:
        return verify_chain(reader).broken_at


def without_triggers(db: str, *statements: str) -> None:
    """What somebody who owns the file can do with another program."""
    connection = sqlite3.connect(db)
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type='trigger'").fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


def test_digest_is_sha256_over_canonical_fields(store: str) -> None:
    """Computed here with hashlib alone, from the fields as stored (FIPS 180-4 SHA-256)."""
    add_heat(store, "41878")
    row = (
        sqlite3.connect(store)
        .execute(
            'SELECT form, entry_no, at, "by", action, subject, payload, previous, digest FROM ledger WHERE entry_no = 2'
        )
        .fetchone()
    )
    text = json.dumps(list(row[:-1]), ensure_ascii=False, separators=(",", ":"))
    assert hashlib.sha256(text.encode()).hexdigest() == row[-1]


def test_canonical_text_sorts_keys_and_keeps_signs() -> None:
    assert canonical({"b": 1, "a": "Größe"}) == '{"a":"Größe","b":1}'


def test_work_left_without_commit_leaves_no_trace(store: str) -> None:
    with begin_work(store, by="A. Weber", action="heat add", subject="x") as work:
        work.add(Heat(heat_no="41878", series="2026", written_no="41878"))
    with open_reader(store) as reader:
        assert reader.scalar("SELECT count(*) FROM heat") == 0
        assert reader.scalar("SELECT count(*) FROM ledger") == 1


def test_work_that_fails_leaves_no_trace(store: str) -> None:
    with pytest.raises(RuntimeError), begin_work(store, by="A. Weber", action="heat add", subject="x") as work:
        work.add(Heat(heat_no="41878", series="2026", written_no="41878"))
        raise RuntimeError("power cut")
    with open_reader(store) as reader:
        assert reader.scalar("SELECT count(*) FROM heat") == 0


def test_untouched_chain_holds(store: str) -> None:
    for n in range(5):
        add_heat(store, f"4187{n}")
    with open_reader(store) as reader:
        chain = verify_chain(reader)
    assert (chain.entries, chain.broken_at) == (6, None)


@pytest.mark.parametrize(
    ("alteration", "named"),
    [
        ("UPDATE ledger SET payload = '{}' WHERE entry_no = 3", 3),
        ("UPDATE ledger SET \"by\" = 'Nobody' WHERE entry_no = 2", 2),
        ("UPDATE ledger SET at = at + 1 WHERE entry_no = 4", 4),
        ("UPDATE ledger SET digest = previous WHERE entry_no = 4", 4),
        ("UPDATE ledger SET subject = 'other' WHERE entry_no = 1", 1),
        ("DELETE FROM ledger WHERE entry_no = 3", 3),
    ],
    ids=["payload", "person", "time", "digest", "first entry", "entry removed"],
)
def test_first_altered_entry_is_named(store: str, alteration: str, named: int) -> None:
    for n in range(4):
        add_heat(store, f"4187{n}")
    without_triggers(store, alteration)
    assert broken_at(store) == named


def test_removed_tail_is_not_seen_and_that_is_said(store: str, run) -> None:  # type: ignore[no-untyped-def]
    for n in range(4):
        add_heat(store, f"4187{n}")
    without_triggers(store, "PRAGMA foreign_keys=OFF", "DELETE FROM ledger WHERE entry_no > 3")
    ran = run("ledger", "verify", "--db", store)
    assert ran.status == 0
    assert "removed tail" in ran.err


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM heat",
        "UPDATE heat SET heat_no = 'B'",
        "UPDATE heat SET ended_no = 1",
        "UPDATE heat SET ended_no = 99",
        "DELETE FROM ledger",
        "UPDATE ledger SET subject = 'x'",
        "INSERT OR REPLACE INTO heat VALUES (1, 'B', '2026', 'B', 3, NULL)",
        "INSERT INTO heat VALUES (9, 'B', '2026', 'B', 1, NULL)",
        "INSERT INTO ledger VALUES (9, 1, 'x', 'x', 'x', 1, '{}', 0, 'x', 'x')",
        "INSERT OR REPLACE INTO ledger SELECT entry_no, at, 'x', action, subject, form, payload, 0, previous, digest "
        "FROM ledger WHERE entry_no = 1",
        "UPDATE file_mark SET value = 'no'",
    ],
)
def test_guards_refuse_every_way_to_alter_a_record(store: str, statement: str) -> None:
    add_heat(store, "41878")
    connection = sqlite3.connect(store)
    before = list(connection.iterdump())
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute(statement)
    connection.rollback()
    assert list(connection.iterdump()) == before


def test_ending_a_row_is_the_one_change_allowed(store: str) -> None:
    key = add_heat(store, "41878")
    with begin_work(store, by="A. Weber", action="batch undo", subject="x") as work:
        assert work.end("heat", "heat_id", [key]) == 1
        assert work.end("heat", "heat_id", [key]) == 0
        work.commit()
    with open_reader(store) as reader:
        assert reader.scalar("SELECT count(*) FROM heat h WHERE {live:h}") == 0
        assert reader.scalar("SELECT count(*) FROM heat") == 1
    with open_reader(store, as_of=2) as reader:
        assert reader.scalar("SELECT count(*) FROM heat h WHERE {live:h}") == 1
    with open_reader(store, as_of=1) as reader:
        assert reader.scalar("SELECT count(*) FROM heat h WHERE {live:h}") == 0


def test_a_clock_set_back_is_marked_and_order_kept(store: str) -> None:
    add_heat(store, "41878", now=2_000_000_000_000)
    add_heat(store, "41879", now=1_900_000_000_000)
    with open_reader(store) as reader:
        assert [r["clock_back"] for r in reader.all("SELECT clock_back FROM ledger ORDER BY entry_no")] == [0, 0, 1]
        assert verify_chain(reader).broken_at is None


def test_a_second_writer_waits_for_the_first(store: str) -> None:
    import threading

    done: list[str] = []
    with begin_work(store, by="A. Weber", action="heat add", subject="1") as work:
        other = threading.Thread(target=lambda: (add_heat(store, "2"), done.append("second")))
        other.start()
        other.join(timeout=0.3)
        assert done == []
        work.add(Heat(heat_no="1", series="2026", written_no="1"))
        work.commit()
    other.join(timeout=20)
    assert done == ["second"]
    assert broken_at(store) is None
