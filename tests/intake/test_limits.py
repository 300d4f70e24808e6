"""Stated limits: each refuses the file, names itself, and says what to do."""

from __future__ import annotations

from pathlib import Path

import pytest

from heattrace.errors import FileRefused
from heattrace.intake.profiles.profile_text import read_profile
from heattrace.intake.profiles.shipped import shipped
from heattrace.intake.reading import analysis_file, csvrows, sniffing
from heattrace.intake.reading.analysis_file import AnalysisFile
from heattrace.intake.reading.opening import open_file
from tests.intake.examples import LONG, WIDE, long_row, wide_row, write, write_cast


def refusal(path: Path, profile: str) -> str:
    with pytest.raises(FileRefused) as refused:
        open_file(path, shipped(profile))
    assert [f.code for f in refused.value.findings] == ["FILE05"]
    return str(refused.value)


def test_cell_beyond_the_limit_refuses_the_file_and_names_the_limit(tmp_path: Path) -> None:
    path = write(tmp_path / "lab.csv", [WIDE, wide_row(), wide_row(sample="x" * 200_000)])
    assert "a cell of more than 131072 signs" in refusal(path, "lab-wide")


def test_line_beyond_the_limit_refuses_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(csvrows, "LONGEST_LINE", 50_000)
    path = write(tmp_path / "lab.csv", [WIDE, "," * 100_000])
    assert "a line of more than 50000 bytes" in refusal(path, "lab-wide")


def test_file_too_large_to_be_held_is_refused_and_a_streamed_one_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sniffing, "MOST_HELD", 2_000)
    monkeypatch.setattr(analysis_file, "STREAMED_FROM", 1_000)
    heats = write(tmp_path / "heats.csv", ["heat_no,grade", *[f"H{n},G1" for n in range(500)]])
    assert "at most 0 MiB" in refusal(heats, "heats")
    lab = write(tmp_path / "lab.csv", [LONG, *[long_row("C", "0.182", sample=f"S{n}") for n in range(300)]])
    file = AnalysisFile(lab, shipped("lab-long"))
    assert file.streams and sum(len(b.analyses) for b in file.batches()) == 300
    with pytest.raises(FileRefused):
        AnalysisFile(lab, shipped("lab-long"), whole=True)


def test_columns_that_are_missing_take_their_defaults_and_the_slip_says_so(tmp_path: Path) -> None:
    notes = open_file(write_cast(tmp_path / "Q1"), shipped("cast-book")).notes
    for note in (
        "strands: no column kerf_mm: 10 taken for every row",
        "tundishes: no column working_mass_t: mass_at_start_t taken for every row",
        "cuts: no column clamp_distance_m: strands.machine_length_m taken for every row",
    ):
        assert note in notes


def test_header_with_a_composed_letter_is_the_same_header(tmp_path: Path) -> None:
    profile = read_profile(
        'name = "own"\ntakes = "weights"\n[columns]\n"Stück" = "piece_no"\n"Masse" = "mass_kg"\n"Zeit" = "weighed_at"\n'
        '[ignore]\ncolumns = ["x"]'
    )
    path = write(tmp_path / "w.csv", ["Stu\u0308ck,Masse,Zeit,x,x", "P1,2140,2026-04-03T10:00:00+02:00,a,b"])
    content = open_file(path, profile)
    assert [row.values["piece_no"].normal for row in content.rows("weights")] == ["P1"]
    assert any('column "x" left out' in note for note in content.notes)
