"""Drafting a profile and trying one: every column is there, nothing is decided, nothing is written."""

from __future__ import annotations

from pathlib import Path

import pytest

from heattrace.errors import FileRefused
from heattrace.intake.profiles.draft import draft_profile
from heattrace.intake.profiles.profile_text import read_profile
from heattrace.intake.profiles.shipped import shipped
from heattrace.intake.profiles.trial import try_file
from tests.intake.examples import WIDE, wide_row, write, write_book

EAST = ["Laboratory east", "Charge;Probe;Art;Zeit;C;N;Al;Prüfer", "41878;P1;TV;03.04.2026 10:15;0,182;58;0,031;Köhler"]


def test_draft_has_every_column_and_reads_as_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "east export.csv"
    path.write_bytes("\n".join(EAST).encode("cp1252"))
    text = draft_profile(path)
    for column in EAST[1].split(";"):
        assert f'"{column}" = ' in text
    profile = read_profile(text)
    assert (profile.name, profile.encoding, profile.delimiter, profile.decimal) == ("east-export", "cp1252", ";", ",")
    assert profile.elements == {} and profile.columns == {}
    assert "the header stands in row 2" in text and "total or soluble" in text and "which part is the day?" in text


def test_draft_of_a_workbook_names_the_sheet(tmp_path: Path) -> None:
    path = write_book(tmp_path / "lab.xlsx", {"cover": [], "March": [WIDE.split(","), wide_row().split(",")]})
    assert 'sheet = "March"' in draft_profile(path)


def test_draft_filled_in_by_a_person_imports_the_file(tmp_path: Path) -> None:
    path = tmp_path / "east.csv"
    path.write_bytes("\n".join(EAST).encode("cp1252"))
    text = draft_profile(path)
    for theirs, ours in (
        ("Charge", "heat_no"),
        ("Probe", "sample_id"),
        ("Art", "sample_kind"),
        ("Zeit", "analysed_at"),
    ):
        text = text.replace(f'# "{theirs}" = "..."', f'"{theirs}" = "{ours}"')
    for old, new in (
        ('# "C" =', '"C" ='), ('# "N" = { element = "N", unit = "%" }', '"N" = { element = "N", unit = "ppm" }'),
        ('# "Al" = { element = "Al", form = "..."', '"Al" = { element = "Al", form = "total"'),
        ('# zone =', 'zone ='), ('# format =', 'format ='), ('# method =', 'method ='),
        ("columns = []", 'columns = ["Prüfer"]'),
    ):  # fmt: skip
        assert old in text
        text = text.replace(old, new)
    text = text.replace('# "Prüfer" = "..."', "#") + '\n[values.sample_kind]\nTV = "tundish-steady"\n'
    trial = try_file(path, read_profile(text))
    assert trial.refused is None and trial.sheets[0].taken == 1


def test_draft_of_what_is_no_table_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(b"")
    with pytest.raises(FileRefused):
        draft_profile(path)


def test_trial_tells_what_would_be_taken(tmp_path: Path) -> None:
    path = write(tmp_path / "lab.csv", [WIDE, wide_row(), wide_row(sample="B", c="O.18")])
    trial = try_file(path, shipped("lab-wide"))
    (sheet,) = trial.sheets
    assert (sheet.read, sheet.taken, sheet.bench) == (2, 1, 1)
    assert trial.as_json()["bench"][0]["column"] == "C"


def test_trial_of_a_file_that_would_be_refused_says_why(tmp_path: Path) -> None:
    path = write(tmp_path / "lab.csv", [WIDE + ",Xx", wide_row() + ",1"])
    trial = try_file(path, shipped("lab-wide"))
    assert trial.refused is not None and "Xx" in trial.refused and trial.sheets == []
    assert [f.code for f in trial.findings] == ["FILE11"]
