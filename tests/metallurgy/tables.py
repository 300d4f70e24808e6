"""Reads the case tables beside these tests."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path
from typing import Any

CASES = Path(__file__).parent / "cases"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of a CSV table of cases; each must name its source."""
    with (CASES / name).open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file))
    assert found and all(row["source"] and row["status"] for row in found), f"{name}: a case lacks its source"
    return found


def toml(name: str) -> dict[str, Any]:
    """A TOML table of cases."""
    return tomllib.loads((CASES / name).read_text(encoding="utf-8"))


def id_of(row: dict[str, str]) -> str:
    """The case's name in test reports."""
    return row["id"]
