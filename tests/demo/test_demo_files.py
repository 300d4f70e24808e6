"""The practice files: the same each time, of the promised size, with the odd things the walk-through needs in them."""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path

import pytest
from practice_files import GRADE_BOOK, SHIPPED, Row, cells, rows, sheet

from heattrace.demo.files import write_demo_files
from heattrace.demo.order_of_import import DISPATCHES, LATE, OWN_PROFILES, STEPS, STORY
from heattrace.intake.profiles.profile_text import read_profile

SEQUENCES = ("L118", "L119", "N052")


@pytest.fixture(scope="module")
def anew(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("practice")
    write_demo_files(folder)
    return folder


def test_files_written_anew_are_the_files_shipped(anew: Path) -> None:
    names = {p.relative_to(anew) for p in anew.rglob("*") if p.is_file()}
    assert names == {p.relative_to(SHIPPED) for p in SHIPPED.rglob("*") if p.is_file()}
    for name in sorted(names):
        if name.suffix == ".xlsx":
            assert cells(anew / name) == cells(SHIPPED / name)
        else:
            assert (anew / name).read_bytes() == (SHIPPED / name).read_bytes(), name


def test_another_seed_changes_readings_and_not_the_story(anew: Path, tmp_path: Path) -> None:
    write_demo_files(tmp_path, seed=2)
    assert (tmp_path / "lab/gas.csv").read_bytes() != (anew / "lab/gas.csv").read_bytes()
    for name in ("casts/L119/speeds.csv", "casts/L119/pours.csv", "dispatch/LN-3044.csv", "complaint.txt"):
        texts = [re.sub(r",[0-9.]+\n", ",\n", (folder / name).read_text()) for folder in (tmp_path, anew)]
        assert texts[0] == texts[1], name


def test_the_folder_is_small_and_every_file_has_its_step() -> None:
    files = [p for p in SHIPPED.rglob("*") if p.is_file()]
    assert sum(p.stat().st_size for p in files) < 1_000_000
    reached = {*OWN_PROFILES, "about.txt", "complaint.txt"}
    for step in (*STEPS, *DISPATCHES, *LATE):
        path = SHIPPED / step.path
        assert path.exists(), step
        reached |= {str(p.relative_to(SHIPPED)) for p in (path.rglob("*") if path.is_dir() else (path,))}
    assert {str(p.relative_to(SHIPPED)) for p in files} == reached


def test_fourteen_heats_about_six_hundred_parts_three_customers_five_and_two_strands() -> None:
    assert len(rows("heats.csv")) == len({r["heat_no"] for r in rows("heats.csv")}) == 14
    cuts = [r for s in SEQUENCES for r in sheet(s, "cuts")]
    assert 560 <= len(cuts) <= 640
    assert len({r["customer"] for r in rows("orders.csv")}) == 3
    assert [len(sheet(s, "strands")) for s in SEQUENCES] == [5, 5, 2]
    sections = {(r["thickness_mm"], r["width_mm"]) for s in SEQUENCES[:2] for r in sheet(s, "strands")}
    assert sections == {("160", "160"), ("220", "300")}
    tapped = [float(r["tapped_mass_t"]) for r in rows("heats.csv")]
    assert all(109 <= t <= 111 for t in tapped)


def test_piece_numbers_are_unique_and_no_heat_bears_one() -> None:
    numbers = [r["piece_no"] for s in SEQUENCES for r in sheet(s, "cuts") if r["piece_no"]]
    assert len(numbers) == len(set(numbers))
    assert not set(numbers) & {r["heat_no"] for r in rows("heats.csv")}
    for s in SEQUENCES:
        assert all(bool(r["piece_no"]) == (r["kind"] == "piece") for r in sheet(s, "cuts"))


@pytest.mark.parametrize("sequence", SEQUENCES)
def test_only_the_last_cut_of_a_strand_has_no_clamp_time(sequence: str) -> None:
    by_strand: dict[str, list[Row]] = {}
    for row in sheet(sequence, "cuts"):
        by_strand.setdefault(row["strand_no"], []).append(row)
    for cuts in by_strand.values():
        assert [int(r["cut_no"]) for r in cuts] == list(range(1, len(cuts) + 1))
        times = [r["clamped_at"] for r in cuts]
        assert times[-1] == "" and cuts[-1]["kind"] == "tail-crop" and cuts[0]["kind"] == "head-crop"
        assert all(times[:-1]) and times[:-1] == sorted(times[:-1])


def test_heats_in_the_cast_books_are_the_heats_announced() -> None:
    assert [r for s in SEQUENCES for r in sheet(s, "heats")] == rows("heats.csv")


def test_every_grade_named_is_in_the_shipped_grade_book() -> None:
    with GRADE_BOOK.open(encoding="utf-8", newline="") as book:
        known = {f"{r['standard']}:{r['edition']} {r['grade']}" for r in csv.DictReader(book)}
    named = {r["grade"] for r in rows("heats.csv")} | {r["grade"] for r in rows("orders.csv")}
    assert len(named) == 4
    assert named <= known


def test_every_order_line_named_exists_and_is_for_that_grade() -> None:
    lines = {(r["order_no"], r["line"]): r for r in rows("orders.csv")}
    for heat in rows("heats.csv"):
        assert lines[heat["order_no"], heat["line"]]["grade"] == heat["grade"]
    for s in SEQUENCES:
        assert all((r["order_no"], r["line"]) in lines for r in sheet(s, "cuts") if r["order_no"])
    for step in DISPATCHES:
        for row in rows(step.path):
            assert lines[row["order_no"], row["line"]]["customer"] == row["customer"]


def test_two_rows_name_a_heat_that_does_not_exist() -> None:
    heats = {r["heat_no"] for r in rows("heats.csv")}
    typed = [r["heat_no"] for name in ("ladle-station", "combustion", "pieces") for r in rows(f"lab/{name}.csv")]
    typed += [r["Heat"] for name in ("lab/gas.csv", "lab/gas-amended.csv") for r in rows(name)]
    typed += [r["Heat"] for r in rows("lab/spark-south.csv", ";", 1) if r["Kind"] != "KP"]
    typed += [r["heat_no"] for r in rows("temperatures.csv")]
    assert sorted(t for t in typed if t not in heats) == sorted(wrong for wrong, _ in STORY.mistyped)
    assert {meant for _, meant in STORY.mistyped} <= heats


def test_spark_export_mixes_burns_means_deviations_and_controls_in_decimal_commas() -> None:
    lines = rows("lab/spark-south.csv", ";", 1)
    kinds = Counter(r["Line"] for r in lines)
    assert kinds["1"] == kinds["2"] == kinds["Mean"] + 1 == kinds["Dev"] + 1
    controls = [r for r in lines if r["Kind"] == "KP"]
    assert controls and not any(r["Heat"] for r in controls)
    assert re.fullmatch(r"0,\d{3}", lines[0]["C"])
    assert any(r["Nb"].startswith("<") for r in lines)
    lone = [r["Line"] for r in lines if r["Probe"] == STORY.burns_without_mean]
    assert lone == ["1", "2"]


def test_the_late_nitrogen_replaces_a_report_of_the_first_file() -> None:
    (late,) = rows("lab/gas-amended.csv")
    (first,) = [r for r in rows("lab/gas.csv") if r["Report"] == late["Replaces"]]
    assert (first["Report"], first["Sample"], first["Heat"]) == (
        STORY.amended_report,
        STORY.amended_sample,
        STORY.amended_heat,
    )
    assert late["Sample"] == first["Sample"] and late["Run"] > first["Run"]
    # Limit of the grade: N at most 0.012 %, which is 120 ppm; 125 ppm and more do not round back to it.
    assert int(first["N_ppm"]) <= 120 < 125 < int(late["N_ppm"])
    assert late["Run"] > max(r["dispatched_at"] for r in rows("dispatch/LN-3052.csv"))
    assert any(r["O_ppm"].startswith("<") for r in rows("lab/gas.csv"))


@pytest.mark.parametrize("path", OWN_PROFILES)
def test_own_profiles_are_readable(path: str) -> None:
    profile = read_profile((SHIPPED / path).read_text(encoding="utf-8"))
    assert profile.name == Path(path).stem
    assert profile.takes == "analyses"


def test_the_workbook_shows_every_decimal_that_was_recorded() -> None:
    masses = [r["mass_t"] for r in sheet("N052", "tundish_masses")]
    assert all(re.fullmatch(r"\d+\.\d", m) for m in masses)
    assert any(m.endswith(".0") for m in masses)
    lengths = [r["measured_length_m"] for r in sheet("N052", "cuts") if r["measured_length_m"]]
    assert all(re.fullmatch(r"\d+\.\d\d", m) for m in lengths)


def test_nothing_in_the_folder_could_be_taken_for_a_real_record() -> None:
    said = (SHIPPED / "about.txt").read_text(encoding="utf-8")
    assert "invented" in said and "Never release steel" in said
    customers = {r["customer"] for r in rows("orders.csv")}
    assert customers == {"Harrowick Bar Mill", "Sennetby Forge", "Ollerfield Plate"}
    assert all(town in said for town in ("Harrowick", "Sennetby", "Ollerfield"))
