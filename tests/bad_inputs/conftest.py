"""The practice works, built once by the program's own commands, and a copy of it for each story."""

from __future__ import annotations

import contextlib
import io
import shutil
from pathlib import Path

import pytest

from heattrace.cli.app import main
from tests.bad_inputs.practice_works import PracticeWorks, build
from tests.conftest import Ran, Run


def _run_once(*words: str | Path) -> Ran:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main([str(word) for word in words])
    return Ran(status, out.getvalue(), err.getvalue())


@pytest.fixture(scope="session")
def built_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The database of the practice works, made once."""
    return build(tmp_path_factory.mktemp("practice-works"), _run_once)


@pytest.fixture
def works(built_file: Path, tmp_path: Path, run: Run) -> PracticeWorks:
    """The practice works for one story."""
    path = tmp_path / "works.db"
    shutil.copy(built_file, path)
    return PracticeWorks(str(path), tmp_path / "files", run)
