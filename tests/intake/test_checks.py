"""Checks across rows, on materials whose composition others certified."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from heattrace.errors import FileRefused
from heattrace.intake.profiles.shipped import shipped
from heattrace.intake.reading.opening import open_file
from tests.intake.examples import AT, write

CASES = Path(__file__).parent / "cases" / "reference_materials.toml"
MATERIALS = tomllib.loads(CASES.read_text("utf-8"))["material"]
ENGINEERING = [m for m in MATERIALS if m["shift_shows"]]


def lab_file(folder: Path, elements: list[str], values: list[str]) -> Path:
    header = "heat_no,sample_id,sample_kind,analysed_at,method,instrument," + ",".join(elements)
    rows = [f"H{n},H{n}-1,control,{AT},spark-emission,S2," + ",".join(values) for n in range(3)]
    return write(folder / "lab.csv", [header, *rows])


def name(material: dict[str, Any]) -> str:
    return str(material["name"])


@pytest.mark.parametrize("material", MATERIALS, ids=name)
def test_certified_steel_is_read_as_it_stands(tmp_path: Path, material: dict[str, Any]) -> None:
    content = open_file(lab_file(tmp_path, material["elements"], material["values"]), shipped("lab-wide"))
    assert content.bench == []
    assert {e: a.text for e, a in content.analyses[0].results.items()} == dict(
        zip(material["elements"], material["values"], strict=True)
    )


@pytest.mark.parametrize("material", ENGINEERING, ids=name)
@pytest.mark.parametrize("side", ["left", "right"])
def test_engineering_steel_one_column_off_is_refused(tmp_path: Path, material: dict[str, Any], side: str) -> None:
    values = material["values"]
    moved = [*values[1:], ""] if side == "left" else ["", *values[:-1]]
    with pytest.raises(FileRefused) as refused:
        open_file(lab_file(tmp_path, material["elements"], moved), shipped("lab-wide"))
    assert [f.code for f in refused.value.findings] == ["FILE18"]
    assert "columns look shifted by one" in str(refused.value)


def swapped(folder: Path, one: str, two: str, elements: list[str]) -> list[tuple[str, str]]:
    values = {"Mn": "1.44", "Si": "0.25", "P": "0.012", "S": "0.004", "Cr": "1.05", "Ni": "0.12"}
    rows = [[f"{values[e]}{n}" for e in elements] for n in range(1, 5)]
    at, to = elements.index(one), elements.index(two)
    rows[2][at], rows[2][to] = rows[2][to], rows[2][at]
    header = "heat_no,sample_id,sample_kind,analysed_at,method," + ",".join(elements)
    lines = [f"H1,S{n},tundish-steady,{AT},m," + ",".join(row) for n, row in enumerate(rows)]
    content = open_file(write(folder / "lab.csv", [header, *lines]), shipped("lab-wide"))
    assert len(content.analyses) == 4
    return [(f.code, f.subject) for f in content.findings]


@pytest.mark.parametrize(("one", "two"), [("Mn", "Si"), ("P", "S"), ("Cr", "Ni")])
def test_swapped_elements_of_one_sample_are_flagged_and_taken(tmp_path: Path, one: str, two: str) -> None:
    found = swapped(tmp_path, one, two, ["Mn", "Si", "P", "S", "Cr", "Ni"])
    assert found == [("ROW67", f"lab.csv, row 4, column {one}")]
