"""Fixtures every test may use: an empty migrated database, and the program run by its command line."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from heattrace.cli.app import main
from heattrace.store.migrate import create
from heattrace.store.work import begin_work


@dataclass(frozen=True)
class Ran:
    """Outcome of one command line."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        """The one JSON object on standard output."""
        answer: dict[str, Any] = json.loads(self.out)
        return answer

    @property
    def data(self) -> dict[str, Any]:
        """Its `data`."""
        data: dict[str, Any] = self.json["data"]
        return data


Run = Callable[..., Ran]


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with all tables and one ledger entry, made once."""
    path = tmp_path_factory.mktemp("empty") / "empty.db"
    create(str(path), practice=True)
    with begin_work(str(path), by="T. Test", action="db init", subject="empty.db") as work:
        work.commit()
    return path


@pytest.fixture
def store(empty_file: Path, tmp_path: Path) -> str:
    """Path of an empty migrated practice database of this test's own; it holds no grade book."""
    path = tmp_path / "works.db"
    shutil.copy(empty_file, path)
    return str(path)


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run one command line through the program's own door."""
    for name in ("HEATTRACE_DB", "HEATTRACE_BY"):
        monkeypatch.delenv(name, raising=False)

    def once(*words: str | Path) -> Ran:
        capsys.readouterr()
        status = main([str(w) for w in words])
        captured = capsys.readouterr()
        return Ran(status, captured.out, captured.err)

    return once
