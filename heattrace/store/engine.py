"""Opening a database: where it lies, whether it is ours, and the settings of each connection."""

from __future__ import annotations

import sqlite3
import sys
from pathlib import Path

from heattrace.config import APPLICATION_ID, LEAST_SQLITE, SCHEMA
from heattrace.errors import DatabaseRefused
from heattrace.store.reader import Reader

# synchronous=FULL: what was acknowledged to a person survives a power cut.
PRAGMAS = (
    "PRAGMA foreign_keys=ON",
    "PRAGMA busy_timeout=30000",
    "PRAGMA synchronous=FULL",
    "PRAGMA temp_store=MEMORY",
    "PRAGMA recursive_triggers=ON",
    "PRAGMA cache_size=-32000",
)

_NETWORK = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "ncpfs", "afs", "fuse.sshfs", "9p", "ceph", "glusterfs", "davfs"}


def check_sqlite() -> None:
    """Refuse to start on a SQLite library too old for STRICT tables.

    Raises
    ------
    DatabaseRefused
        The library is older than the least version.
    """
    if sqlite3.sqlite_version_info < LEAST_SQLITE:
        wanted = ".".join(map(str, LEAST_SQLITE))
        raise DatabaseRefused(
            f"this Python carries SQLite {sqlite3.sqlite_version}; {wanted} or newer was expected. "
            "Use a newer Python build"
        )


def database_path(db: str) -> Path:
    """The file a `--db` text names.

    Raises
    ------
    DatabaseRefused
        The text is an URL of a database server, which this version does not keep records in.
    """
    if "://" in db:
        if db.startswith("sqlite:///"):
            return Path(db.removeprefix("sqlite:///"))
        raise DatabaseRefused(f"{db.split('://', 1)[0]}: this version keeps its record in one SQLite file; give a path")
    return Path(db)


def refuse_network_share(path: Path) -> None:
    """Refuse a file on a network share, where SQLite's locks cannot be trusted.

    Raises
    ------
    DatabaseRefused
        The folder is mounted from another computer.
    """
    text = str(path)
    kind = "a network path" if text.startswith(("\\\\", "//")) else _mount_kind(path)
    if kind:
        raise DatabaseRefused(
            f"{path}: lies on {kind}; locks do not hold there and the record could be damaged. "
            "Keep the file on one computer and work on it by remote login, or use a database server"
        )


def _mount_kind(path: Path) -> str:
    if not sys.platform.startswith("linux"):
        return ""
    try:
        mounts = Path("/proc/mounts").read_text(encoding="utf-8", errors="replace")
        place = str(path.absolute().parent.resolve())
    except OSError:
        return ""
    best, found = -1, ""
    for line in mounts.splitlines():
        words = line.split(" ")
        if len(words) < 3:
            continue
        point = words[1].replace("\\040", " ")
        inside = place == point or place.startswith(point.rstrip("/") + "/")
        if inside and len(point) >= best:
            best, found = len(point), words[2]
    return f"a network share ({found})" if found in _NETWORK else ""


def connect(path: Path) -> sqlite3.Connection:
    """A connection to an existing database file with the settings every connection has."""
    connection = sqlite3.connect(path, isolation_level=None, timeout=30)
    for pragma in PRAGMAS:
        connection.execute(pragma)
    return connection


def check_ours(connection: sqlite3.Connection, name: str, *, any_schema: bool = False) -> str:
    """Refuse a foreign, newer or older file; give the schema it stands at.

    Raises
    ------
    DatabaseRefused
        The file is not ours, or its schema is not the one this program works with.
    """
    try:
        mark = connection.execute("PRAGMA application_id").fetchone()[0]
        if mark != APPLICATION_ID:
            raise DatabaseRefused(f"{name}: not a heattrace database; nothing was read from it or written to it")
        row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    except sqlite3.DatabaseError as fault:
        raise DatabaseRefused(f"{name}: not a heattrace database ({fault})") from None
    schema = str(row[0]) if row else ""
    if any_schema or schema == SCHEMA:
        return schema
    if schema > SCHEMA:
        raise DatabaseRefused(
            f"{name}: made by a newer heattrace (schema {schema}, this program knows {SCHEMA}); install the newer one"
        )
    raise DatabaseRefused(f'{name}: stands at schema {schema}; run "heattrace db upgrade" (it makes a backup first)')


def open_file(db: str, *, any_schema: bool = False) -> tuple[sqlite3.Connection, Path]:
    """Open an existing database file after all checks.

    Raises
    ------
    DatabaseRefused
        The file is missing, foreign, newer, older, unreadable, or on a network share.
    """
    check_sqlite()
    path = database_path(db)
    if not path.exists():
        raise DatabaseRefused(
            f'no database at {path}; make one with "heattrace db init --db {path} --by NAME", or name it with --db'
        )
    if path.is_dir():
        raise DatabaseRefused(f"{path}: is a folder; a database file was expected")
    refuse_network_share(path)
    try:
        connection = connect(path)
    except sqlite3.OperationalError as fault:
        raise DatabaseRefused(f"{path}: cannot be opened ({fault})") from None
    except sqlite3.DatabaseError as fault:
        raise DatabaseRefused(f"{path}: not a heattrace database ({fault})") from None
    try:
        check_ours(connection, str(path), any_schema=any_schema)
    except BaseException:
        connection.close()
        raise
    return connection, path


def open_reader(db: str, *, as_of: int | None = None) -> Reader:
    """Open a database for reading only."""
    connection, path = open_file(db)
    connection.execute("PRAGMA query_only=ON")
    # One read transaction: every question of an answer sees the same state of the record.
    connection.execute("BEGIN")
    return Reader(connection, name=str(path), as_of=as_of)
