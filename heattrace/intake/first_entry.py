"""The first entry of a new database: its tables and the shipped grade book."""

from __future__ import annotations

from pathlib import Path

from heattrace.store.migrate import create
from heattrace.store.work import begin_work


def make_database(db: str, *, by: str, practice: bool, now: int | None = None) -> tuple[Path, int]:
    """Make a database file and load the shipped grade book in its first ledger entry; give the path and the limits.

    Raises
    ------
    DatabaseRefused
        The file exists already, its folder does not, or it lies on a network share.
    """
    from heattrace.intake.loading.load_grade_book import load_shipped_grade_book

    path = create(db, practice=practice, now=now)
    try:
        with begin_work(str(path), by=by, action="db init", subject=path.name, now=now) as work:
            counts = load_shipped_grade_book(work)
            work.payload |= {"practice": practice, "grade_book_limits": counts.taken}
            work.commit()
    except BaseException:
        for left in (path, Path(f"{path}-wal"), Path(f"{path}-shm")):
            left.unlink(missing_ok=True)
        raise
    return path, int(counts.taken)
