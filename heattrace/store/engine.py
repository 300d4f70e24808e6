"""Opening a database: where it lies, whether it is ours, and the settings of each connection."""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
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


# Part of the library's words -> ours.
_FAULTS = {
    "locked": "database busy ({fault}), try again; nothing was changed",
    "busy": "database busy ({fault}), try again; nothing was changed",
    "readonly": "cannot be written ({fault}): the file or its folder{folder} may not be written by you; "
    "nothing was changed",
    "unable to open": "cannot be opened for writing ({fault}): the folder{folder} must exist and be writable, "
    "because files are kept beside the database; nothing was changed",
    "full": "the disk is full ({fault}); nothing was changed. Make room in its folder{folder}, then try again",
    "disk I/O error": "the disk failed ({fault}); nothing was changed. Look at the disk before anything else",
}


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
    except sqlite3.OperationalError as fault:
        # A mark can be read before the lock of another, or a missing right, shows.
        raise DatabaseRefused(fault_words(Path(name), fault) or f"{name}: not a heattrace database ({fault})") from None
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


@contextmanager
def plain_faults(path: Path) -> Iterator[None]:
    """Say in words what the operating system or another writer refused, wherever it shows.

    Raises
    ------
    DatabaseRefused
        The file is busy, cannot be opened or written, or the disk is full. Nothing was changed.
    """
    try:
        yield
    except sqlite3.OperationalError as fault:
        words = fault_words(path, fault)
        if words is None:
            raise
        raise DatabaseRefused(words) from None


def fault_words(path: Path | None, fault: Exception) -> str | None:
    """What a refusal of the database library means to a person; None where it is none of those known."""
    text = str(fault)
    for part, words in _FAULTS.items():
        if part in text:
            folder = "" if path is None else f" {path.absolute().parent}"
            return ("" if path is None else f"{path}: ") + words.format(folder=folder, fault=text)
    return None


def open_file(db: str, *, any_schema: bool = False, reading: bool = False) -> tuple[sqlite3.Connection, Path]:
    """Open an existing database file after all checks; for `reading` also one in a folder that cannot be written.

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
    connection = _opened(path, reading=reading)
    try:
        check_ours(connection, str(path), any_schema=any_schema)
    except BaseException:
        connection.close()
        raise
    return connection, path


def _opened(path: Path, *, reading: bool) -> sqlite3.Connection:
    connection: sqlite3.Connection | None = None
    try:
        connection = connect(path)
        # The first look into the file is where a missing right shows.
        connection.execute("PRAGMA application_id").fetchone()
        return connection
    except sqlite3.DatabaseError as fault:
        if connection is not None:
            connection.close()
        if not isinstance(fault, sqlite3.OperationalError):
            raise DatabaseRefused(f"{path}: not a heattrace database ({fault})") from None
        if reading and any(words in str(fault) for words in ("unable to open", "readonly")):
            return _connect_unchanging(path)
        raise DatabaseRefused(fault_words(path, fault) or f"{path}: cannot be opened ({fault})") from None


def _connect_unchanging(path: Path) -> sqlite3.Connection:
    """A connection that needs no file beside the database: for a copy in a folder that may not be written.

    It does not see what lies in the write-ahead file, so it is refused where that has content.
    """
    waiting = Path(f"{path}-wal")
    folder = path.absolute().parent
    try:
        if waiting.exists() and waiting.stat().st_size:
            raise DatabaseRefused(
                f"{path}: {waiting.name} beside it holds entries that are not in the file yet, and the folder {folder} "
                'may not be written. Make the copy with "heattrace db backup", or open both where you may write'
            )
        connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True, isolation_level=None)
        connection.execute("PRAGMA application_id").fetchone()
    except (OSError, sqlite3.DatabaseError) as fault:
        raise DatabaseRefused(f"{path}: cannot be read ({fault}); you need the right to read it") from None
    for pragma in PRAGMAS:
        connection.execute(pragma)
    return connection


def open_reader(db: str, *, as_of: int | None = None) -> Reader:
    """Open a database for reading only."""
    connection, path = open_file(db, reading=True)
    connection.execute("PRAGMA query_only=ON")
    # One read transaction: every question of an answer sees the same state of the record.
    connection.execute("BEGIN")
    return Reader(connection, name=str(path), as_of=as_of)
