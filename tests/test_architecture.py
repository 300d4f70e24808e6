"""The house: import direction, file sizes, names of rooms, and what a start of the program may load."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "heattrace"


def test_import_contracts_hold() -> None:
    """The layer list in .importlinter is exhaustive: a new folder must be given its place."""
    ran = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()", "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "0 broken" in ran.stdout


def test_no_file_outgrew_its_room() -> None:
    long = {
        str(path.relative_to(ROOT)): lines
        for path in PACKAGE.rglob("*.py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert not long


def test_rooms_have_names() -> None:
    vague = [p.name for p in PACKAGE.rglob("*.py") if re.match(r"(utils?|helpers?|common|misc|manager)", p.stem)]
    assert not vague


def test_package_files_stay_empty() -> None:
    """Or a pure part would drag in its neighbours."""
    files = [p for p in PACKAGE.rglob("__init__.py") if p.parent != PACKAGE]
    filled = [str(p) for p in files if p.read_text(encoding="utf-8").strip()]
    assert not filled


HEAVY = ("sqlalchemy", "sqlmodel", "pydantic", "pandas", "numpy", "openpyxl", "rich", "alembic")


def loaded_after(*words: str) -> set[str]:
    """Heavy packages in memory after one command line."""
    code = (
        "import sys\nfrom heattrace.cli.app import main\n"
        f"try:\n    main({list(words)!r})\nexcept SystemExit:\n    pass\n"
        f"sys.stderr.write('LOADED ' + ' '.join(m for m in {HEAVY!r} if m in sys.modules))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, cwd=ROOT)
    assert "LOADED" in ran.stderr, ran.stderr
    return set(ran.stderr.rsplit("LOADED", 1)[1].split())


@pytest.mark.parametrize("word", ["trace", "judge", "import", "release", "db", "heat", "piece", "calc"])
def test_help_loads_nothing_heavy(word: str) -> None:
    assert loaded_after(word, "--help") == set()
