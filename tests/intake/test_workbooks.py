"""Workbooks: what the fast reader cannot see is read from the sheet itself; dangerous ones are not opened."""

from __future__ import annotations

import datetime
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from heattrace.errors import FileRefused
from heattrace.intake.profiles.profile_text import read_profile
from heattrace.intake.profiles.shipped import shipped
from heattrace.intake.reading import archive
from heattrace.intake.reading.opening import open_file
from heattrace.intake.reading.records import FileContent
from tests.intake.examples import CAST, WIDE, wide_row, write_book, write_cast

HEADER = WIDE.split(",")


def cells(**changed: object) -> list[object]:
    row = dict(zip(HEADER, wide_row().split(","), strict=True)) | {"C": 0.182, "Si": 0.251, "Mn": 1.44, "P": 0.0121}
    return list((row | {"S": 0.0081, "N": 0.0058} | changed).values())


def lab(path: Path, *rows: list[object]) -> Path:
    return write_book(path, {"analyses": [HEADER, *rows]})


def rewrite(path: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
    """The workbook with one part of its archive changed."""
    with zipfile.ZipFile(path) as bundle:
        parts = {info.filename: bundle.read(info) for info in bundle.infolist()}
    parts[part] = change(parts[part])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, data in parts.items():
            bundle.writestr(name, data)
    return path


def read(path: Path) -> FileContent:
    return open_file(path, shipped("lab-wide"))


def refusal(path: Path, profile: str = "lab-wide") -> FileRefused:
    with pytest.raises(FileRefused) as refused:
        open_file(path, shipped(profile))
    return refused.value


def shown(content: FileContent, sample: str = "41878-1") -> dict[str, str]:
    (found,) = [a for a in content.analyses if a.sample_id.normal == sample]
    return {e: a.shown() for e, a in found.results.items()}


def test_numbers_and_texts_of_a_workbook_are_read_alike(tmp_path: Path) -> None:
    content = read(lab(tmp_path / "lab.xlsx", cells(), cells(sample_id="41879-1", C="0.180", N="<0.0020")))
    assert shown(content)["C"] == "0.182"
    assert shown(content, "41879-1") | {"C": "0.180", "N": "<0.0020"} == shown(content, "41879-1")
    assert content.raw(2).split(b"\t")[6] == b"0.182"


def test_zeros_that_a_number_format_shows_are_kept(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells(C=0.2), cells(sample_id="41879-1", C=0.18))
    book = load_workbook(path)
    for row in (2, 3):
        book["analyses"].cell(row, 7).number_format = "0.000"
    book.save(path)
    content = read(path)
    assert (shown(content)["C"], shown(content, "41879-1")["C"]) == ("0.200", "0.180")
    assert "C" not in content.places_lost


def test_zeros_that_a_general_format_lost_are_flagged(tmp_path: Path) -> None:
    content = read(lab(tmp_path / "lab.xlsx", cells(C=0.2), cells(sample_id="41879-1", C=0.18)))
    assert shown(content)["C"] == "0.2"
    assert content.places_lost == {"C": 2}
    assert ("ROW68", "lab.xlsx, row 2, column C") in {(f.code, f.subject) for f in content.findings}


@pytest.mark.parametrize("value", [datetime.datetime(2026, 12, 1), datetime.date(2026, 12, 1)])
def test_date_in_a_number_column_goes_to_the_bench_with_its_cause(tmp_path: Path, value: object) -> None:
    (fault,) = read(lab(tmp_path / "lab.xlsx", cells(Mn=value), cells(sample_id="41879-1"))).bench
    assert (fault.row, fault.column, fault.code) == (2, "Mn", "ROW10")
    assert "spreadsheet made a date of it" in fault.next


def test_true_in_a_number_column_goes_to_the_bench(tmp_path: Path) -> None:
    (fault,) = read(lab(tmp_path / "lab.xlsx", cells(C=True), cells(sample_id="41879-1"))).bench
    assert (fault.column, fault.code, fault.value) == ("C", "ROW11", "TRUE")


def test_number_cell_of_a_heat_number_is_read_as_its_digits(tmp_path: Path) -> None:
    (analysis,) = read(lab(tmp_path / "lab.xlsx", cells(heat_no=41878))).analyses
    assert analysis.heat_no is not None and analysis.heat_no.normal == "41878"


def test_percentage_format_goes_to_the_bench(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells(C=0.00182), cells(sample_id="41879-1"))
    book = load_workbook(path)
    book["analyses"]["G2"].number_format = "0.000%"
    book.save(path)
    (fault,) = read(path).bench
    assert (fault.row, fault.column, fault.code) == (2, "C", "ROW53")


def test_formula_without_result_goes_to_the_bench_and_one_with_result_is_flagged(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells(C="=0.1+0.08"), cells(sample_id="41879-1", C="=0.1+0.06"))
    sheet = "xl/worksheets/sheet1.xml"
    rewrite(path, sheet, lambda data: re.sub(rb"(<f>0\.1\+0\.06</f>)<v ?/>", rb"\1<v>0.16</v>", data))
    content = read(path)
    (fault,) = content.bench
    assert (fault.row, fault.column, fault.code) == (2, "C", "ROW51")
    assert shown(content, "41879-1")["C"] == "0.16"
    assert ("ROW52", "lab.xlsx, row 3, column C") in {(f.code, f.subject) for f in content.findings}


def test_error_value_goes_to_the_bench(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells(C="#N/A"), cells(sample_id="41879-1"))
    (fault,) = read(path).bench
    assert (fault.column, fault.code, fault.value) == ("C", "ROW08", "#N/A")


def test_hidden_rows_columns_and_sheets_are_read_and_told(tmp_path: Path) -> None:
    path = write_book(tmp_path / "lab.xlsx", {"cover": [], "analyses": [HEADER, cells(), cells(sample_id="41879-1")]})
    book = load_workbook(path)
    book["analyses"].row_dimensions[3].hidden = True
    book["analyses"].column_dimensions["L"].hidden = True
    book["analyses"].sheet_state = "hidden"
    book.save(path)
    content = read(path)
    assert len(content.analyses) == 2
    notes = " | ".join(content.notes)
    assert '"analyses" is hidden' in notes and "1 hidden rows were read (3)" in notes
    assert "hidden columns were read (L)" in notes


def test_merged_cells_in_the_data_refuse_the_file_and_name_the_range(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells(), cells(sample_id="41879-1"))
    book = load_workbook(path)
    book["analyses"].merge_cells("A2:A3")
    book.save(path)
    assert [f.code for f in refusal(path).findings] == ["FILE20"]
    assert "A2:A3" in str(refusal(path))


def test_merged_title_above_the_header_is_left_alone(tmp_path: Path) -> None:
    path = write_book(tmp_path / "lab.xlsx", {"analyses": [["Laboratory east"], HEADER, cells()]})
    book = load_workbook(path)
    book["analyses"].merge_cells("A1:F1")
    book.save(path)
    assert len(read(path).analyses) == 1


def test_several_sheets_with_rows_need_a_name(tmp_path: Path) -> None:
    path = write_book(tmp_path / "lab.xlsx", {"March": [HEADER, cells()], "April": [HEADER, cells()]})
    assert [f.code for f in refusal(path).findings] == ["FILE21"]
    named = read_profile('name = "own"\ntakes = "analyses"\n[file]\nsheet = "April"')
    assert len(open_file(path, named).analyses) == 1


def test_workbook_called_csv_is_refused_as_what_it_is(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells()).rename(tmp_path / "lab.csv")
    assert "really an xlsx workbook" in str(refusal(path))


def test_truncated_workbook_is_refused(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", *[cells(sample_id=f"S{n}") for n in range(50)])
    whole = path.read_bytes()
    for size in (len(whole) // 4, len(whole) // 2, len(whole) - 30):
        path.write_bytes(whole[:size])
        assert [f.code for f in refusal(path).findings] == ["FILE04"]


def test_damaged_part_is_refused(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells())
    whole = bytearray(path.read_bytes())
    at = whole.index(b"xl/worksheets/sheet1.xml") + 60
    whole[at : at + 20] = bytes(20)
    path.write_bytes(bytes(whole))
    assert [f.code for f in refusal(path).findings] == ["FILE04"]


def test_part_packed_far_too_well_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells())
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as bundle:
        bundle.writestr("xl/media/picture.bin", bytes(32 << 20))
    assert path.stat().st_size < 1 << 20
    assert [f.code for f in refusal(path).findings] == ["FILE05"]


def test_unpacked_size_and_number_of_parts_have_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = lab(tmp_path / "lab.xlsx", cells())
    monkeypatch.setattr(archive, "MOST_UNPACKED", 1000)
    assert "unpacked" in str(refusal(path))
    monkeypatch.setattr(archive, "MOST_UNPACKED", 1 << 30)
    monkeypatch.setattr(archive, "MOST_ENTRIES", 3)
    assert [f.code for f in refusal(path).findings] == ["FILE05"]


@pytest.mark.parametrize("part", ["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml"])
def test_declared_entities_refuse_the_workbook(tmp_path: Path, part: str) -> None:
    path = lab(tmp_path / "lab.xlsx", cells())
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaa"><!ENTITY b "&a;&a;&a;&a;"><!ENTITY c SYSTEM "file:///etc/hostname">]>'
    rewrite(path, part, lambda data: bomb + data)
    assert [f.code for f in refusal(path).findings] == ["FILE24"]


def test_macros_and_links_are_left_alone_and_told(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells())
    with zipfile.ZipFile(path, "a") as bundle:
        bundle.writestr("xl/vbaProject.bin", b"not run")
        bundle.writestr("xl/externalLinks/externalLink1.xml", "<externalLink/>")
        bundle.writestr("xl/embeddings/inner.zip", b"PK\x03\x04")
    content = read(path)
    assert len(content.analyses) == 1
    notes = " | ".join(content.notes)
    for what in ("macros", "links to other workbooks", "embedded objects"):
        assert f"{what} in the workbook left alone" in notes


def test_zip_without_a_workbook_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    with zipfile.ZipFile(path, "w") as bundle:
        bundle.writestr("readme.txt", "nothing")
    assert [f.code for f in refusal(path).findings] == ["FILE03"]


def test_cast_book_reads_alike_from_a_folder_and_from_a_workbook(tmp_path: Path) -> None:
    folder = open_file(write_cast(tmp_path / "Q1"), shipped("cast-book"))
    sheets = {name: [line.split(",") for line in lines] for name, lines in CAST.items()}
    book = open_file(write_book(tmp_path / "Q1.xlsx", sheets), shipped("cast-book"))
    assert {n: [r.values for r in s.rows] for n, s in folder.sheets.items()} == {
        n: [r.values for r in s.rows] for n, s in book.sheets.items()
    }
    assert len(folder.rows("cuts")) == 2


def test_moment_typed_as_a_date_cell_needs_a_zone(tmp_path: Path) -> None:
    moment = datetime.datetime(2026, 4, 3, 10, 15)
    path = write_book(tmp_path / "t.xlsx", {"temperatures": [
        ["heat_no", "place", "read_at", "temperature_c"], ["H1", "tundish", moment, 1556],
        ["H1", "tundish", "2026-04-03T10:25:00+02:00", 1557],
    ]})  # fmt: skip
    (fault,) = open_file(path, shipped("temperatures")).bench
    assert (fault.row, fault.code) == (2, "ROW22")
    zoned = read_profile('name = "own"\ntakes = "temperatures"\n[time]\nzone = "Europe/Vienna"')
    first, second = open_file(path, zoned).rows("temperatures")
    assert datetime.datetime.fromtimestamp(first.values["read_at"].utc_ms / 1000, datetime.UTC) == (
        datetime.datetime(2026, 4, 3, 8, 15, tzinfo=datetime.UTC)
    )
    assert second.values["read_at"].utc_ms - first.values["read_at"].utc_ms == 600_000


def test_sheet_without_cell_references_is_read(tmp_path: Path) -> None:
    path = lab(tmp_path / "lab.xlsx", cells(C=0.2), cells(sample_id="41879-1", C=0.18))
    book = load_workbook(path)
    for row in (2, 3):
        book["analyses"].cell(row, 7).number_format = "0.00"
    book.save(path)
    rewrite(path, "xl/worksheets/sheet1.xml", lambda data: re.sub(rb'(<c) r="[A-Z]+\d+"', rb"\1", data))
    assert shown(read(path))["C"] == "0.20"


def test_empty_workbook_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "lab.xlsx"
    Workbook().save(path)
    assert [f.code for f in refusal(path).findings] == ["FILE02"]
