"""The demo works, built once for all tests through the program's own door: read as it is, or copied to write to."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from heattrace.cli.app import main
from tests.conftest import Ran


@dataclass(frozen=True)
class DemoWorks:
    """A folder the demo works was built in; `built` is how the building ended and `seconds` how long it took."""

    folder: Path
    built: Ran
    seconds: float
    answers: dict[tuple[str, ...], Ran] = field(default_factory=dict)

    @property
    def db(self) -> Path:
        """Its database."""
        return self.folder / "heattrace.db"

    def file(self, name: str) -> str:
        """Path of one of the practice files beside the database."""
        return str(self.folder / "files" / name)

    def run(self, *words: str) -> Ran:
        """Run one command line on its database."""
        return run(*words, "--db", str(self.db))

    def ask(self, *words: str) -> Ran:
        """Run a reading command line, once for all tests."""
        if words not in self.answers:
            self.answers[words] = self.run(*words)
        return self.answers[words]

    def json(self, *words: str) -> Ran:
        """Ask for the JSON."""
        return self.ask(*words, "--json")

    def copy(self, to: Path) -> DemoWorks:
        """The same works in another folder, to be written to."""
        shutil.copytree(self.folder, to)
        return DemoWorks(to, self.built, self.seconds)


def run(*words: str) -> Ran:
    """Run one command line through the program's own door."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = main(list(words))
    return Ran(status, out.getvalue(), err.getvalue())


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DemoWorks]:
    """The demo works as `heattrace demo` leaves it; tests only read it."""
    named = {name: os.environ.pop(name, None) for name in ("HEATTRACE_DB", "HEATTRACE_BY")}
    folder = tmp_path_factory.mktemp("demo") / "works"
    begun = time.perf_counter()
    built = run("demo", str(folder))
    yield DemoWorks(folder, built, time.perf_counter() - begun)
    os.environ.update({name: value for name, value in named.items() if value is not None})


@pytest.fixture
def demo_copy(demo: DemoWorks, tmp_path: Path) -> DemoWorks:
    """The demo works of this test's own."""
    return demo.copy(tmp_path / "works")
