"""The schema: models and migrations agree, column types are the allowed ones, an older file is carried forward."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from heattrace.config import SCHEMA
from heattrace.errors import DatabaseRefused
from heattrace.schema.heats import Heat
from heattrace.schema.tables import metadata
from heattrace.store.check import table_counts
from heattrace.store.engine import check_ours, open_reader
from heattrace.store.guards import missing_guards
from heattrace.store.ledger import verify_chain
from heattrace.store.migrate import expected_guards, migrations_folder, upgrade
from heattrace.store.reader import Reader
from heattrace.store.work import begin_work


def test_models_and_migrations_agree(store: str) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext
    from sqlalchemy import create_engine

    engine = create_engine(f"sqlite:///{store}")
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata()) == []


def test_every_column_has_an_allowed_type_on_both_databases() -> None:
    """INTEGER / TEXT / BLOB in STRICT tables on SQLite; BIGINT / TEXT / BYTEA on PostgreSQL."""
    from sqlalchemy.dialects import postgresql, sqlite

    allowed = {("INTEGER", "BIGINT"), ("TEXT", "TEXT"), ("TEXT", 'TEXT COLLATE "C"'), ("BLOB", "BYTEA")}
    for table in metadata().tables.values():
        for column in table.columns:
            pair = (column.type.compile(sqlite.dialect()), column.type.compile(postgresql.dialect()))
            assert pair in allowed, f"{table.name}.{column.name}: {pair}"


def test_every_table_is_strict_and_every_column_is_explained(store: str) -> None:
    with open_reader(store) as reader:
        lax = [
            r["name"]
            for r in reader.all("SELECT name FROM pragma_table_list WHERE schema = 'main' AND strict = 0")
            if not r["name"].startswith(("sqlite_", "alembic_"))
        ]
    assert lax == []
    for table in metadata().tables.values():
        assert table.comment
        assert all(c.comment for c in table.columns), table.name


def test_no_constraint_deletes_children_and_all_have_names() -> None:
    for table in metadata().tables.values():
        for key in table.foreign_key_constraints:
            assert key.ondelete is None
            assert key.onupdate is None
        assert all(c.name for c in table.constraints), table.name


def test_every_fact_table_says_which_entry_wrote_it() -> None:
    """Except rows that take both numbers from their parent, look-ups, and the ledger itself."""
    from_parent = {"result", "result_text", "burn", "share", "speed", "cast_analysis_value"}
    look_ups = {"result_form", "element", "file_mark", "ledger"}
    for table in metadata().tables.values():
        if table.name in from_parent | look_ups:
            continue
        assert "entry_no" in table.columns, table.name
        assert "ended_no" in table.columns or table.name == "checkpoint", table.name


def test_guards_cover_every_table(store: str) -> None:
    names = expected_guards()
    for table in metadata().tables:
        assert f"guard_{table}_delete" in names
        assert f"guard_{table}_update" in names
    with open_reader(store) as reader:
        assert missing_guards(reader, names) == []


def later_migrations(tmp_path: Path, body: str) -> Path:
    """A copy of the migrations with one more on top."""
    folder = tmp_path / "later"
    shutil.copytree(migrations_folder(), folder)
    (folder / "versions" / "0002_later.py").write_text(
        f'import sqlalchemy as sa\nfrom alembic import op\nrevision = "0002"\ndown_revision = "{SCHEMA}"\n'
        f"def upgrade() -> None:\n    {body}\n",
        encoding="utf-8",
    )
    return folder


def fill(db: str) -> None:
    with begin_work(db, by="A. Weber", action="heat add", subject="x") as work:
        for n in range(7):
            work.add(Heat(heat_no=f"4187{n}", series="2026", written_no=f"4187{n}"))
        work.commit()


def counts(db: str) -> dict[str, int]:
    connection = sqlite3.connect(db)
    return table_counts(Reader(connection))


def test_upgrade_keeps_every_row_and_every_guard(store: str, tmp_path: Path) -> None:
    fill(store)
    before = counts(store)
    folder = later_migrations(
        tmp_path, "op.add_column('heat', sa.Column('colour', sa.Text(), nullable=True, comment='x'))"
    )
    was, now, saved = upgrade(store, folder=folder, to="0002")
    assert (was, now) == (SCHEMA, "0002")
    assert saved is not None
    assert counts(store) == before == counts(str(saved))
    connection = sqlite3.connect(store)
    assert check_ours(connection, store, any_schema=True) == "0002"
    assert {r[1] for r in connection.execute("PRAGMA table_info(heat)")} >= {"colour"}
    assert missing_guards(Reader(connection), expected_guards()) == []
    assert verify_chain(Reader(connection)).broken_at is None
    with pytest.raises(sqlite3.IntegrityError):
        connection.execute("DELETE FROM heat")


def test_upgrade_that_fails_leaves_the_file_as_it_was(store: str, tmp_path: Path) -> None:
    fill(store)
    before = counts(store)
    folder = later_migrations(tmp_path, "op.execute('CREATE TABLE stray (a)'); raise RuntimeError('power cut')")
    with pytest.raises(RuntimeError):
        upgrade(store, folder=folder, to="0002")
    assert counts(store) == before
    with open_reader(store) as reader:
        assert missing_guards(reader, expected_guards()) == []


def test_upgrade_of_a_current_file_changes_nothing(store: str) -> None:
    assert upgrade(store) == (SCHEMA, SCHEMA, None)


def test_a_newer_file_is_refused(store: str) -> None:
    connection = sqlite3.connect(store)
    connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.commit()
    with pytest.raises(DatabaseRefused, match="newer heattrace"):
        open_reader(store)


def test_an_older_file_is_refused_until_upgraded(store: str) -> None:
    connection = sqlite3.connect(store)
    connection.execute("UPDATE alembic_version SET version_num = '0000'")
    connection.commit()
    with pytest.raises(DatabaseRefused, match="db upgrade"):
        open_reader(store)


def test_a_foreign_file_is_refused_untouched(tmp_path: Path) -> None:
    path = tmp_path / "other.db"
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE steel (a)")
    connection.commit()
    connection.close()
    before = path.read_bytes()
    with pytest.raises(DatabaseRefused, match="not a heattrace database"):
        open_reader(str(path))
    assert path.read_bytes() == before


def test_a_text_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "notes.db"
    path.write_text("not a database at all, but a rather long line of text to be sure of it\n" * 40, encoding="utf-8")
    with pytest.raises(DatabaseRefused, match="not a heattrace database"):
        open_reader(str(path))


def test_a_network_share_is_refused(monkeypatch: pytest.MonkeyPatch, store: str) -> None:
    monkeypatch.setattr("heattrace.store.engine._mount_kind", lambda path: "a network share (nfs4)")
    with pytest.raises(DatabaseRefused, match="network share"):
        open_reader(store)


def test_too_old_a_sqlite_is_named(monkeypatch: pytest.MonkeyPatch, store: str) -> None:
    monkeypatch.setattr("sqlite3.sqlite_version_info", (3, 36, 0))
    with pytest.raises(DatabaseRefused, match=r"3\.37\.0 or newer"):
        open_reader(store)
