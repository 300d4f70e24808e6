"""Making and upgrading a database file: backup first, foreign keys checked, triggers made again and compared."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from heattrace.config import APPLICATION_ID, SCHEMA, now_ms
from heattrace.errors import DatabaseRefused
from heattrace.metallurgy.elements import ELEMENTS
from heattrace.store.engine import (
    check_ours,
    check_sqlite,
    connect,
    database_path,
    open_file,
    plain_faults,
    refuse_network_share,
)
from heattrace.store.guards import missing_guards, triggers
from heattrace.store.reader import Reader

if TYPE_CHECKING:
    from alembic.config import Config


def migrations_folder() -> Path:
    """Where the migrations lie: inside the installed package, or beside it in a checkout.

    Raises
    ------
    DatabaseRefused
        They are in neither place: the installation is damaged.
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "migrations", package.parent / "migrations"):
        if (folder / "env.py").is_file():
            return folder
    raise DatabaseRefused("the migrations are missing from this installation; install it anew")


def create(db: str, *, practice: bool, now: int | None = None) -> Path:
    """Make a new, empty database file: schema, triggers, elements, marks. The ledger's first entry is the caller's.

    Raises
    ------
    DatabaseRefused
        The file exists already, its folder does not or cannot be written, or it lies on a network share.
    """
    check_sqlite()
    path = database_path(db)
    try:
        with plain_faults(path):
            return _made(path, practice=practice, now=now)
    except OSError as fault:
        raise DatabaseRefused(
            f"{path}: cannot be made ({fault.strerror or fault}); name a place you may write"
        ) from None


def _made(path: Path, *, practice: bool, now: int | None) -> Path:
    if path.exists() or path.is_symlink():
        raise DatabaseRefused(f"{path}: exists already and was left as it is; name another file with --db")
    if path.parent.is_file():
        raise DatabaseRefused(f"{path}: {path.parent} is a file; a folder was expected")
    if not path.parent.is_dir():
        raise DatabaseRefused(f"{path}: the folder {path.parent} does not exist")
    refuse_network_share(path)
    # Built beside its place and moved there whole, so that no half-made file ever bears the name.
    making = path.with_name(path.name + ".making")
    making.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(making, isolation_level=None)) as connection:
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        _run_migrations(making, SCHEMA)
        with closing(connect(making)) as connection:
            connection.execute("PRAGMA journal_mode=WAL")
            connection.execute("BEGIN IMMEDIATE")
            connection.executemany(
                "INSERT INTO element (element_id, symbol) VALUES (?, ?)", list(enumerate(ELEMENTS, start=1))
            )
            connection.executemany(
                "INSERT INTO file_mark (name, value) VALUES (?, ?)",
                [("made_at", str(now_ms() if now is None else now)), ("practice", "yes" if practice else "no")],
            )
            _make_guards(connection)
            connection.execute("COMMIT")
        making.rename(path)
    finally:
        for left in (making, Path(f"{making}-wal"), Path(f"{making}-shm"), Path(f"{making}-journal")):
            left.unlink(missing_ok=True)
    return path


def upgrade(db: str, *, folder: Path | None = None, to: str = SCHEMA) -> tuple[str, str, Path | None]:
    """Bring a database file to this program's schema; give the schema before, after, and the backup's path.

    Raises
    ------
    DatabaseRefused
        The file is foreign or newer, or the upgraded copy does not hold; the file is then as it was.
    """
    connection, path = open_file(db, any_schema=True)
    with closing(connection):
        before = check_ours(connection, str(path), any_schema=True)
        if before == to:
            return before, before, None
        if before > to:
            raise DatabaseRefused(f"{path}: made by a newer heattrace (schema {before}, this program knows {to})")
        saved = path.with_name(f"{path.name}.schema-{before}.backup")
        if saved.exists():
            raise DatabaseRefused(f"{saved}: a backup of that name exists; move it away, then upgrade again")
        copy_file(connection, saved)
    try:
        _run_migrations(path, to, folder)
        with closing(connect(path)) as fresh:
            fresh.execute("PRAGMA foreign_keys=OFF")
            fresh.execute("BEGIN IMMEDIATE")
            _drop_guards(fresh)
            _make_guards(fresh)
            broken = fresh.execute("PRAGMA foreign_key_check").fetchall()
            wrong = missing_guards(Reader(fresh), expected_guards())
            if broken or wrong:
                fresh.execute("ROLLBACK")
                raise DatabaseRefused(f"{path}: the upgrade does not hold ({len(broken)} broken references, {wrong})")
            fresh.execute("COMMIT")
    except BaseException:
        _put_back(saved, path)
        raise
    return before, to, saved


def expected_guards() -> dict[str, str]:
    """Every trigger a database of this schema must have."""
    from heattrace.schema.tables import metadata

    return triggers(metadata())


def copy_file(connection: sqlite3.Connection, to: Path) -> None:
    """A consistent copy, also while others write."""
    with closing(sqlite3.connect(to)) as target:
        connection.backup(target)


def _put_back(saved: Path, path: Path) -> None:
    with closing(sqlite3.connect(saved)) as source, closing(sqlite3.connect(path)) as target:
        source.backup(target)


def _drop_guards(connection: sqlite3.Connection) -> None:
    for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        connection.execute(f'DROP TRIGGER "{name}"')


def _make_guards(connection: sqlite3.Connection) -> None:
    for body in expected_guards().values():
        connection.execute(body)


def alembic_config(folder: Path | None = None) -> Config:
    """Alembic's settings without an ini file."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(folder or migrations_folder()).replace("%", "%%"))
    return config


def _run_migrations(path: Path, to: str, folder: Path | None = None) -> None:
    from alembic import command
    from sqlalchemy import create_engine

    config = alembic_config(folder)
    engine = create_engine("sqlite://", creator=lambda: sqlite3.connect(path))
    try:
        with engine.begin() as connection:
            # Off on purpose: a batch change of a parent table with foreign keys on can lose its children.
            connection.exec_driver_sql("PRAGMA foreign_keys=OFF")
            config.attributes["connection"] = connection
            command.upgrade(config, to)
    finally:
        engine.dispose()
