"""Codes of intake: each used one has its title, each titled one is used, examples in docstrings hold."""

from __future__ import annotations

import doctest
import importlib
import re
from pathlib import Path

import pytest

import heattrace.intake
from heattrace.intake.reading.codes import CODES

SOURCES = Path(heattrace.intake.__file__).parent
MODULES = sorted(
    str(path.relative_to(SOURCES).with_suffix("")).replace("/", ".")
    for path in SOURCES.rglob("*.py")
    if path.stem != "__init__"
)


def used() -> set[str]:
    text = "".join(path.read_text("utf-8") for path in SOURCES.rglob("*.py") if path.stem != "codes")
    return set(re.findall(r'"((?:FILE|ROW|PROF)\d\d)"', text))


def test_every_code_that_is_used_has_a_title() -> None:
    assert used() - set(CODES) == set()


def test_every_code_with_a_title_is_used() -> None:
    assert set(CODES) - used() == set()


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_hold(name: str) -> None:
    assert doctest.testmod(importlib.import_module(f"heattrace.intake.{name}")).failed == 0


def test_reading_a_csv_file_loads_no_heavy_library() -> None:
    import subprocess
    import sys

    code = (
        "import sys; from heattrace.intake.reading.opening import open_file; "
        "from heattrace.intake.profiles.shipped import shipped; "
        "from pathlib import Path; p = Path(sys.argv[1]); open_file(p, shipped('lab-wide')); "
        "print(sorted({'sqlalchemy', 'sqlmodel', 'pandas', 'numpy', 'openpyxl', 'python_calamine'} & set(sys.modules)))"
    )
    example = Path(__file__).parent / "files" / "lab-wide" / "028-cr-only.csv"
    ran = subprocess.run([sys.executable, "-c", code, str(example)], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
