"""What holds for any file: only FileRefused is raised, no row is lost, no digit changed, order does not matter."""

from __future__ import annotations

import random
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from heattrace.errors import FileRefused
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.profiles.profile_text import read_profile
from heattrace.intake.profiles.shipped import shipped, shipped_names
from heattrace.intake.reading.contents import ContentReader
from heattrace.intake.reading.faults import CellFault
from heattrace.intake.reading.opening import open_file
from heattrace.intake.reading.records import FileContent
from tests.intake.examples import LONG, WIDE, long_row, wide_row, write, write_book

FEW = settings(
    max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
CELLS = st.text(st.characters(codec="utf-8"), max_size=12) | st.sampled_from(
    ["0.182", "0,182", "<0.002", "58", "n.d.", "", "-", "TRUE", "NaN", "1e999", "1-Dec", "2026-04-03T10:15:00+02:00",
     '"', '""', "41878", "4.1878E4", "\0", "\r", "\n", ",", ";", "С", "O.18", "45992", "24:00", "03/04/2026",
     "tundish-steady", "control"]
)  # fmt: skip


def try_open(path: Path, profile: Profile) -> FileContent | None:
    """The content, or None where the file is refused; any other exception is a failure."""
    try:
        return open_file(path, profile)
    except FileRefused as refused:
        assert refused.findings and str(refused)
        return None


def check_nothing_lost(content: FileContent) -> None:
    for sheet in content.sheets.values():
        assert sheet.read == len(sheet.rows) + len(sheet.bench) + sheet.repeated
        rows = [r.row for r in sheet.rows] + [b.row for b in sheet.bench]
        assert len(rows) == len(set(rows))


@FEW
@given(
    data=st.binary(max_size=400),
    name=st.sampled_from(["x.csv", "x.xlsx", "x"]),
    profile=st.sampled_from(shipped_names()),
)
def test_any_bytes_are_read_or_refused(tmp_path: Path, data: bytes, name: str, profile: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    if (content := try_open(path, shipped(profile))) is not None:
        check_nothing_lost(content)


@FEW
@given(rows=st.lists(st.lists(CELLS, min_size=11, max_size=13), max_size=6), long=st.booleans())
def test_any_cells_under_a_good_header_are_read_or_refused(tmp_path: Path, rows: list[list[str]], long: bool) -> None:
    header, profile = (LONG, "lab-long") if long else (WIDE, "lab-wide")
    lines = [header, *(",".join(row[: 9 if long else None]) for row in rows)]
    path = tmp_path / "lab.csv"
    path.write_bytes(("\n".join(lines) + "\n").encode())
    if (content := try_open(path, shipped(profile))) is not None:
        check_nothing_lost(content)


@FEW
@given(changes=st.lists(st.tuples(st.integers(2, 5), st.integers(0, 11), CELLS), min_size=1, max_size=4))
def test_good_file_with_odd_cells_is_read_or_refused(tmp_path: Path, changes: list[tuple[int, int, str]]) -> None:
    rows = [wide_row(f"4187{n}", f"4187{n}-1").split(",") for n in range(6)]
    for row, column, cell in changes:
        rows[row][column] = '"' + cell.replace('"', '""') + '"'
    path = tmp_path / "lab.csv"
    path.write_bytes(("\n".join([WIDE, *map(",".join, rows)]) + "\n").encode())
    if (content := try_open(path, shipped("lab-wide"))) is not None:
        check_nothing_lost(content)
        assert {2, 3} <= {r for a in content.analyses for r in a.rows}


@pytest.fixture(scope="module")
def workbook(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("book") / "lab.xlsx"
    write_book(path, {"analyses": [WIDE.split(","), *[wide_row(sample=f"S{n}").split(",") for n in range(20)]]})
    return path.read_bytes()


@FEW
@given(seed=st.integers(0, 10_000), changes=st.integers(1, 30))
def test_damaged_workbook_is_read_or_refused(tmp_path: Path, workbook: bytes, seed: int, changes: int) -> None:
    chance, data = random.Random(seed), bytearray(workbook)
    for _ in range(changes):
        data[chance.randrange(len(data))] = chance.randrange(256)
    path = tmp_path / "lab.xlsx"
    path.write_bytes(bytes(data[: chance.choice([len(data), chance.randrange(len(data))])]))
    if (content := try_open(path, shipped("lab-wide"))) is not None:
        check_nothing_lost(content)


@FEW
@given(
    text=st.text(max_size=200)
    | st.builds("name = {}\ntakes = 'analyses'\n[{}]\n{}".format, *[st.text(max_size=30)] * 3)
)
def test_any_text_is_a_profile_or_refused(text: str) -> None:
    try:
        assert read_profile(text).name
    except FileRefused as refused:
        assert refused.findings


@FEW
@given(order=st.permutations(range(12)))
def test_order_of_rows_does_not_change_what_is_found(tmp_path: Path, order: list[int]) -> None:
    rows = [
        wide_row("41878", "A"), wide_row("41879", "B", "0,167"), wide_row("41880", "C", "O.18"),
        wide_row("41881", "D", "0.2"), wide_row("41882", "E", "0"), wide_row("4.1E4", "F"),
        wide_row("41884", "G", n="58"),
        wide_row("41885", "H"), wide_row("41885", "H"), wide_row("41886", "K"), wide_row("41887", "K"),
        wide_row("41888", "L", at="yesterday"),
    ]  # fmt: skip
    rows[1] = wide_row("41879", "B", '"0,167"')
    first = open_file(write(tmp_path / "lab.csv", [WIDE, *rows]), shipped("lab-wide"))
    other = open_file(write(tmp_path / "lab.csv", [WIDE, *[rows[n] for n in order]]), shipped("lab-wide"))
    assert sorted((b.raw, b.code, b.column or "") for b in first.bench) == sorted(
        (b.raw, b.code, b.column or "") for b in other.bench
    )
    by_sample = [
        {a.sample_id.normal: {e: x.shown() for e, x in a.results.items()} for a in c.analyses} for c in (first, other)
    ]
    assert by_sample[0] == by_sample[1]
    assert sorted((f.code, f.seen) for f in first.findings) == sorted((f.code, f.seen) for f in other.findings)
    assert first.places_lost == other.places_lost and first.sheets["analyses"].repeated == 1


@FEW
@given(order=st.permutations(range(9)))
def test_order_of_results_does_not_change_the_analyses(tmp_path: Path, order: list[int]) -> None:
    rows = [
        long_row("C", "0.182"), long_row("N", "58", "ppm"), long_row("Mn", "1.44"), long_row("Mn", "1.46"),
        long_row("C", "0.167", sample="B", heat="2"), long_row("Si", "0,2"),
        long_row("S", "0.0081", sample="B", heat="2"),
        long_row("C", "0.182"), long_row("P", "x", sample="B", heat="2"),
    ]  # fmt: skip
    rows[5] = long_row("Si", '"0,2"')
    contents = [
        open_file(write(tmp_path / "lab.csv", [LONG, *given]), shipped("lab-long"))
        for given in (rows, [rows[n] for n in order])
    ]
    one, two = (
        {a.sample_id.normal: {e: x.shown() for e, x in a.results.items()} for a in c.analyses} for c in contents
    )
    assert one == two == {"41878-1": {"C": "0.182", "N": "0.0058"}, "B": {"C": "0.167", "S": "0.0081"}}
    first, other = (sorted((b.raw, b.code) for b in content.bench) for content in contents)
    assert first == other


@FEW
@given(
    digits=st.text("0123456789", min_size=1, max_size=12),
    unit=st.sampled_from(["%", "ppm", "mg/kg", "ppb"]),
    sign=st.sampled_from(["", "<", ">"]),
    comma=st.booleans(),
)
def test_no_digit_of_a_content_is_changed(digits: str, unit: str, sign: str, comma: bool) -> None:
    text = f"0.{digits}" if unit == "%" else f"{int(digits)}"
    reader = ContentReader(shipped("lab-wide"))
    if comma:
        reader.decimal = ","
    try:
        amount, _ = reader.read(sign + (text.replace(".", ",") if comma else text), "Mn", unit)
    except CellFault:
        return
    power = {"%": 0, "ppm": -4, "mg/kg": -4, "ppb": -7}[unit]
    assert amount.value == Decimal(text).scaleb(power) == Decimal(amount.text)
    assert amount.text.replace(".", "").lstrip("0") == text.replace(".", "").lstrip("0")
    assert amount.qualifier == (sign or "=")
