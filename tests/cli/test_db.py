"""`heattrace db`, `ledger` and `works` as their users type them."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from tests.conftest import Run


def test_db_check_has_its_promised_keys_and_holds(store: str, run: Run) -> None:
    ran = run("db", "check", "--db", store, "--json")
    assert ran.status == 0
    assert {"integrity", "foreign_keys", "ledger", "signatures", "derived", "ok"} <= ran.data.keys()
    assert ran.data["ok"] is True
    assert ran.data["ledger"]["entries"] == 1
    assert ran.data["ledger"]["broken_at"] is None


def test_db_check_names_one_altered_ledger_row(store: str, run: Run) -> None:
    run("works", "set", "zone", "Europe/Vienna", "--reason", "ours", "--by", "A. Weber", "--db", store)
    connection = sqlite3.connect(store)
    connection.execute("DROP TRIGGER guard_ledger_update")
    connection.execute("UPDATE ledger SET subject = 'other' WHERE entry_no = 2")
    connection.commit()
    connection.close()
    ran = run("db", "check", "--db", store, "--json")
    assert ran.status == 3
    assert ran.data["ledger"]["broken_at"] == 2
    assert {"LEDGER-BROKEN", "DB-GUARD"} == {f["code"] for f in ran.json["findings"]}
    assert "entry 2" in run("db", "check", "--db", store).err


def test_db_info_counts_rows_of_every_table(store: str, run: Run) -> None:
    ran = run("db", "info", "--db", store, "--json")
    assert ran.status == 0
    assert ran.data["tables"]["ledger"] == 1
    assert ran.data["practice"] is True
    assert len(ran.data["tables"]) > 80


def test_backup_and_restore_keep_every_row(store: str, run: Run, tmp_path: Path) -> None:
    saved, back = tmp_path / "saved.db", tmp_path / "back.db"
    assert run("db", "backup", saved, "--db", store).status == 0
    assert run("db", "restore", saved, "--to", back).status == 0
    tables = [run("db", "info", "--db", p, "--json").data["tables"] for p in (store, saved, back)]
    assert tables[0] == tables[1] == tables[2]


def test_restore_never_writes_over_a_file(store: str, run: Run, tmp_path: Path) -> None:
    saved = tmp_path / "saved.db"
    run("db", "backup", saved, "--db", store)
    before = Path(store).read_bytes()
    ran = run("db", "restore", saved, "--to", store)
    assert ran.status == 1
    assert "only a new file" in ran.err
    assert Path(store).read_bytes() == before


def test_a_damaged_backup_is_not_restored(store: str, run: Run, tmp_path: Path) -> None:
    saved = tmp_path / "saved.db"
    run("db", "backup", saved, "--db", store)
    data = bytearray(saved.read_bytes())
    for place in range(40_000, len(data) - 4096, 4096):
        data[place : place + 64] = b"\xff" * 64
    saved.write_bytes(data)
    ran = run("db", "restore", saved, "--to", tmp_path / "back.db")
    assert ran.status == 1
    assert not (tmp_path / "back.db").exists()


def test_init_refuses_an_existing_file(store: str, run: Run) -> None:
    before = Path(store).read_bytes()
    ran = run("db", "init", "--db", store, "--by", "A. Weber")
    assert ran.status == 1
    assert "exists already" in ran.err
    assert Path(store).read_bytes() == before


def test_init_needs_a_name(run: Run, tmp_path: Path) -> None:
    ran = run("db", "init", "--db", tmp_path / "new.db")
    assert ran.status == 2
    assert "--by" in ran.err
    assert not (tmp_path / "new.db").exists()


def test_db_before_the_words_is_the_same(store: str, run: Run) -> None:
    assert run("--db", store, "db", "info", "--json").data == run("db", "info", "--db", store, "--json").data


def test_missing_database_says_how_to_make_one(run: Run, tmp_path: Path) -> None:
    ran = run("db", "info", "--db", tmp_path / "none.db")
    assert ran.status == 1
    assert "db init" in ran.err


def test_a_server_url_is_refused_in_words(run: Run) -> None:
    ran = run("db", "info", "--db", "postgresql+psycopg://localhost/x")
    assert ran.status == 1
    assert "SQLite" in ran.err


def test_works_value_has_editions(store: str, run: Run) -> None:
    assert run("works", "show", "pure-min", "--db", store, "--json").data["values"][0]["edition"] == 0
    ran = run("works", "set", "pure-min", "0.97", "--reason", "tighter", "--by", "Q. Maier", "--db", store, "--json")
    assert ran.status == 0
    assert ran.data == {"name": "pure-min", "scope": "", "edition": 1, "value": 0.97, "before": 0.95}
    shown = run("works", "show", "pure-min", "--db", store, "--json").data["values"][0]
    assert (shown["value"], shown["edition"]) == (0.97, 1)
    editions = run("works", "history", "pure-min", "--db", store, "--json").data["editions"]
    assert [(e["edition"], e["value"], e["by"]) for e in editions] == [(0, 0.95, None), (1, 0.97, "Q. Maier")]


def test_works_value_of_the_wrong_kind_is_refused(store: str, run: Run) -> None:
    for name, value in [("pure-min", "high"), ("zone", "Mars/Olympus"), ("ladder", ","), ("heat-series", "(")]:
        ran = run("works", "set", name, value, "--reason", "x", "--by", "A. Weber", "--db", store)
        assert ran.status == 2, name
    assert run("ledger", "verify", "--db", store, "--json").data["entries"] == 1


def test_unknown_works_value_lists_the_nearest(store: str, run: Run) -> None:
    ran = run("works", "show", "lader", "--db", store)
    assert ran.status == 1
    assert "ladder" in ran.err


def test_ledger_show_gives_one_entry_whole(store: str, run: Run) -> None:
    run("works", "set", "zone", "Europe/Vienna", "--reason", "ours", "--by", "A. Weber", "--db", store)
    ran = run("ledger", "show", "2", "--db", store, "--json")
    entry = ran.data["entries"][0]
    assert (entry["by"], entry["action"], entry["subject"]) == ("A. Weber", "works set", "zone")
    assert entry["at"].endswith(("+01:00", "+02:00"))
    assert run("ledger", "show", "99", "--db", store).status == 1


def test_wrong_words_end_with_two(run: Run) -> None:
    for words in (["tarce"], [], ["db", "nonsense"], ["ledger", "verify", "--nonsense"]):
        assert run(*words).status == 2, words
    assert "trace" in run("tarce").err


def test_every_command_word_has_help_with_an_example(run: Run) -> None:
    from heattrace.cli.app import COMMANDS, SINGLE

    assert run("--help").status == 0
    for word in COMMANDS:
        ran = run(word, "--help")
        assert ran.status == 0, word
        if word in SINGLE:
            assert "Example" in ran.out, word


def test_db_check_names_rows_of_no_ledger_entry(store: str, run: Run) -> None:
    connection = sqlite3.connect(store)
    connection.execute("DROP TRIGGER guard_heat_insert")
    connection.execute("INSERT INTO heat VALUES (9, 'B', '2026', 'B', 77, NULL)")
    connection.commit()
    connection.close()
    ran = run("db", "check", "--db", store, "--json")
    assert ran.status == 3
    assert "DB-ENTRY" in {f["code"] for f in ran.json["findings"]}
