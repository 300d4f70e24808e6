"""Bad inputs of the file as a whole, catalogue numbers 1 to 30."""

from __future__ import annotations

import os
import struct
import tracemalloc
import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.bad_inputs.outcomes import (
    assert_all_taken,
    assert_benched,
    assert_command_no,
    assert_file_no,
    assert_unchanged,
    only_file,
    plain,
)
from tests.bad_inputs.practice_works import CLERK, WIDE, PracticeWorks, lines, wide_row


def workbook(works: PracticeWorks, name: str, *rows: list[Any], title: str = "analyses") -> Path:
    """Write a workbook of one sheet."""
    from openpyxl import Workbook

    book = Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    works.folder.mkdir(exist_ok=True)
    book.save(works.folder / name)
    return works.folder / name


def lab_workbook(works: PracticeWorks, name: str = "lab.xlsx") -> Path:
    return workbook(works, name, WIDE.split(","), list(wide_row().split(",")))


@pytest.mark.parametrize("what", ["no such file", "a folder", "no read right"])
def test_a_file_that_cannot_be_read_is_refused_in_a_plain_sentence(works: PracticeWorks, what: str) -> None:
    """Bad input 1: file does not exist, is a folder, no read right."""
    path = works.folder / "lab.csv"
    works.folder.mkdir()
    if what == "a folder":
        path.mkdir()
    if what == "no read right":
        path.write_text(lines(WIDE, wide_row()))
        path.chmod(0)
        if os.access(path, os.R_OK):
            pytest.skip("a superuser reads everything")
    seen = {"no such file": "No such file", "a folder": "a folder", "no read right": "Permission denied"}[what]
    assert_file_no(works, path, "lab-wide", "FILE01", seen=seen)


def test_an_empty_file_is_refused_as_empty(works: PracticeWorks) -> None:
    """Bad input 2: 0 bytes."""
    path = works.write("lab.csv", b"")
    assert_file_no(works, path, "lab-wide", "FILE02", seen="the file is empty", step="Export it again")


def test_a_header_without_rows_is_taken_and_the_slip_says_0_rows(works: PracticeWorks) -> None:
    """Bad input 3: header only."""
    ran = works.bring_wide()
    assert_all_taken(ran, 0)
    assert only_file(ran)["batch"] == "I-4"
    assert any("0 rows" in note for note in only_file(ran)["notes"])
    shown = works.run("batch", "show", "I-4")
    assert shown.status == 0
    assert "0 rows" in shown.out


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [("utf-8", b"\xef\xbb\xbf"), ("utf-16-le", b"\xff\xfe"), ("utf-16-be", b"\xfe\xff")],
    ids=["UTF-8", "UTF-16 LE", "UTF-16 BE"],
)
def test_a_byte_order_mark_is_recognised_and_never_part_of_the_first_column(
    works: PracticeWorks, encoding: str, mark: bytes
) -> None:
    """Bad input 5: BOM of UTF-8, UTF-16 LE, UTF-16 BE."""
    bad = wide_row(sample="T2", c="0.18 2")
    ran = works.bring("lab.csv", mark + lines(WIDE, wide_row(), bad).encode(encoding), "lab-wide")
    assert only_file(ran)["rows"]["taken"] == 1
    assert any("byte order mark removed" in note for note in only_file(ran)["notes"])
    assert works.reported("41878-T1")["C"] == "0.182"
    # had the mark stayed in the name, there would be no column heat_no and no heat
    assert works.scalar("SELECT h.heat_no FROM sample s JOIN heat h ON h.heat_id = s.heat_id") == "41878"
    shown = works.run("bench", "show", "B-1", "--json").data["bench"]
    assert shown["header"][0] == "heat_no"
    assert_benched(works, ran, row=3, column="C", code="ROW02", value="0.18 2", raw=bad.encode(encoding))


def test_utf_16_without_a_mark_is_refused_and_named(works: PracticeWorks) -> None:
    """Bad input 6: UTF-16 without BOM, NUL bytes throughout."""
    path = works.write("lab.csv", lines(WIDE, wide_row()).encode("utf-16-le"))
    assert_file_no(works, path, "lab-wide", "FILE06", seen="utf-16-le", step="encoding", wanted="utf-8")


def test_a_nul_in_one_cell_sets_that_row_aside_and_shows_it_escaped(works: PracticeWorks) -> None:
    """Bad input 7: a single NUL byte in a cell."""
    bad = wide_row(sample="T2", c="0.1\x0082")
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="C", code="ROW30", value="0.1\\082", raw=bad)
    assert only_file(ran)["rows"]["taken"] == 1
    assert "\x00" not in plain(works.run("bench", "show", "B-1"))


def test_one_row_in_another_encoding_refuses_the_file_and_names_the_first_bad_byte(works: PracticeWorks) -> None:
    """Bad input 8: UTF-8 rows and one of Windows-1252."""
    good = lines(f"{WIDE},laboratory", f"{wide_row()},Süd").encode()
    odd = f"{wide_row(sample='T2')},Süd\n".encode("cp1252")
    offset = len(good) + odd.index(b"\xfc")
    path = works.write("lab.csv", good + odd)
    # laboratory is the 20th column
    seen = f"byte 0xFC at offset {offset} (row 3, column 20)"
    assert_file_no(works, path, "lab-wide", "FILE06", seen=seen, wanted="utf-8", step="[file] encoding")


@pytest.mark.parametrize(
    ("name", "make", "says"),
    [
        ("lab.csv", "xlsx", "this is really an xlsx workbook"),
        ("lab.xlsx", "csv", "this is really text"),
        ("lab.xls", "html", "this is really a page of HTML"),
    ],
)
def test_a_file_under_a_wrong_name_is_refused_as_what_it_really_is(
    works: PracticeWorks, name: str, make: str, says: str
) -> None:
    """Bad input 9: xlsx named .csv, csv named .xlsx, HTML named .xls."""
    if make == "xlsx":
        lab_workbook(works).rename(works.folder / name)
    else:
        text = lines(WIDE, wide_row())
        works.write(name, text if make == "csv" else f"<html><table><tr><td>{text}</td></tr></table></html>")
    assert_file_no(works, works.folder / name, "lab-wide", "FILE03", seen=says, step="save it anew")


@pytest.mark.parametrize("protected", [False, True], ids=["old binary workbook", "workbook under a password"])
def test_an_old_or_protected_workbook_is_refused_with_how_to_save_it_anew(
    works: PracticeWorks, protected: bool
) -> None:
    """Bad input 10: old binary xls, xlsx under a password."""
    inside = "EncryptedPackage".encode("utf-16-le") if protected else b"Workbook"
    path = works.write("lab.xlsx" if protected else "lab.xls", bytes.fromhex("d0cf11e0a1b11ae1") + bytes(504) + inside)
    seen = "a workbook under a password" if protected else "an old binary workbook"
    assert_file_no(works, path, "lab-wide", "FILE04", seen=seen, step="save it anew as xlsx without a password")


def test_a_truncated_workbook_is_refused(works: PracticeWorks) -> None:
    """Bad input 11: truncated xlsx."""
    path = lab_workbook(works)
    path.write_bytes(path.read_bytes()[:-400])
    assert_file_no(works, path, "lab-wide", "FILE04", seen="a damaged workbook")


def bomb_of_one_part(path: Path) -> None:
    """64 MiB of blanks behind the rows of the sheet, packed to some 60 kB."""
    with zipfile.ZipFile(path) as bundle:
        parts = {info.filename: bundle.read(info) for info in bundle.infolist()}
    parts["xl/worksheets/sheet1.xml"] += b" " * (64 << 20)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as bundle:
        for name, data in parts.items():
            bundle.writestr(name, data)


def bomb_of_many_parts(path: Path) -> None:
    with zipfile.ZipFile(path, "a", zipfile.ZIP_STORED) as bundle:
        for n in range(6000):
            bundle.writestr(f"xl/media/{n}", b"")


def bomb_that_lies(path: Path) -> None:
    """The directory of the archive says that the sheet unpacks to 100 bytes."""
    bomb_of_one_part(path)
    data = bytearray(path.read_bytes())
    entry = data.rindex(b"xl/worksheets/sheet1.xml") - 46
    assert data[entry : entry + 4] == b"PK\x01\x02"
    data[entry + 24 : entry + 28] = struct.pack("<I", 100)
    path.write_bytes(bytes(data))


@pytest.mark.parametrize(
    ("arm", "code"),
    [(bomb_of_one_part, "FILE05"), (bomb_of_many_parts, "FILE05"), (bomb_that_lies, "FILE04")],
    ids=["one part", "many parts", "a lying directory"],
)
def test_a_workbook_that_would_unpack_beyond_the_limits_is_refused_before_reading(
    works: PracticeWorks, arm: Any, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bad input 12: zip bomb (CWE-409)."""
    import python_calamine

    class Reader:
        @staticmethod
        def from_path(path: Path) -> None:
            pytest.fail("the bomb was handed to the reader of workbooks")

    monkeypatch.setattr(python_calamine, "CalamineWorkbook", Reader)
    path = lab_workbook(works)
    arm(path)
    assert path.stat().st_size < 1 << 20
    tracemalloc.start()
    finding = assert_file_no(works, path, "lab-wide", code, seen="")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 24 << 20, f"{peak >> 20} MiB were held"
    assert code != "FILE05" or any(sign.isdigit() for sign in finding["wanted"])


def test_an_archive_inside_a_workbook_is_never_opened(works: PracticeWorks) -> None:
    """Bad input 12: nested zip."""
    path = lab_workbook(works)
    inner = works.folder / "inner.zip"
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as bundle:
        bundle.writestr("layer.bin", bytes(64 << 20))
    with zipfile.ZipFile(path, "a", zipfile.ZIP_STORED) as bundle:
        bundle.write(inner, "xl/embeddings/inner.zip")
    ran = works.run("import", path, "--profile", "lab-wide", "--by", CLERK, "--json")
    assert_all_taken(ran, 1)
    assert any("embedded objects in the workbook left alone" in note for note in only_file(ran)["notes"])


def test_entities_declared_in_a_workbook_refuse_it(works: PracticeWorks) -> None:
    """Bad input 13: XML entity expansion or external entity (CWE-776, CWE-611)."""
    path = lab_workbook(works)
    with zipfile.ZipFile(path) as bundle:
        parts = {info.filename: bundle.read(info) for info in bundle.infolist()}
    bomb = b'<!DOCTYPE x [<!ENTITY a "aa"><!ENTITY b SYSTEM "file:///etc/hostname">]>'
    parts["xl/worksheets/sheet1.xml"] = bomb + parts["xl/worksheets/sheet1.xml"]
    with zipfile.ZipFile(path, "w") as bundle:
        for name, data in parts.items():
            bundle.writestr(name, data)
    assert_file_no(works, path, "lab-wide", "FILE24", seen="entit")


def test_a_formula_without_its_result_is_benched_and_one_with_it_is_flagged(works: PracticeWorks) -> None:
    """Bad input 15: formula cells of a workbook."""
    first, second = ([*wide_row(sample=s).split(",")] for s in ("T1", "T2"))
    first[7], second[7] = "=0.1+0.06", "=0.1+0.08"
    path = workbook(works, "lab.xlsx", WIDE.split(","), first, second)
    with zipfile.ZipFile(path) as bundle:
        parts = {info.filename: bundle.read(info) for info in bundle.infolist()}
    sheet = "xl/worksheets/sheet1.xml"
    with_result = parts[sheet].replace(b"<f>0.1+0.06</f><v></v>", b"<f>0.1+0.06</f><v>0.16</v>")
    with_result = with_result.replace(b"<f>0.1+0.06</f><v/>", b"<f>0.1+0.06</f><v>0.16</v>")
    with_result = with_result.replace(b"<f>0.1+0.06</f><v />", b"<f>0.1+0.06</f><v>0.16</v>")
    assert with_result != parts[sheet]
    parts[sheet] = with_result
    with zipfile.ZipFile(path, "w") as bundle:
        for name, data in parts.items():
            bundle.writestr(name, data)
    ran = works.run("import", path, "--profile", "lab-wide", "--by", CLERK, "--json")
    line = only_file(ran)["bench"][0]
    assert (line["row"], line["column"], line["code"]) == (3, "C", "ROW51")
    assert works.bench_bytes(line["bench_no"]).decode().split("\t")[7] == "=0.1+0.08"
    assert works.reported("T1")["C"] == "0.16"
    (flag,) = [f for f in ran.json["findings"] if f["code"] == "ROW52"]
    assert flag["subject"] == "lab.xlsx, row 2, column C"


def test_merged_cells_in_the_data_refuse_the_file_and_name_the_range(works: PracticeWorks) -> None:
    """Bad input 17: merged cells."""
    from openpyxl import load_workbook

    rows = [wide_row(sample=s).split(",") for s in ("T1", "T2")]
    path = workbook(works, "lab.xlsx", WIDE.split(","), *rows)
    book = load_workbook(path)
    book.active.merge_cells("A2:A3")
    book.save(path)
    assert_file_no(works, path, "lab-wide", "FILE20", seen="A2:A3")


@pytest.mark.parametrize(
    ("sign", "named"), [(";", 'cells parted by ";"'), ("\t", "cells parted by a tab"), ("|", 'cells parted by "|"')]
)
def test_another_delimiter_than_the_profile_says_refuses_the_file(works: PracticeWorks, sign: str, named: str) -> None:
    """Bad input 18: semicolon or tab where the profile says comma."""
    path = works.write("lab.csv", lines(WIDE, wide_row(), wide_row(sample="T2")).replace(",", sign))
    assert_file_no(
        works, path, "lab-wide", "FILE07", seen=named, wanted='cells parted by ","', step="[file] delimiter", row=1
    )


def test_decimal_commas_in_a_comma_separated_file_refuse_it_by_the_number_of_cells(works: PracticeWorks) -> None:
    """Bad input 18: decimal comma with comma delimiter."""
    rows = [wide_row(sample=f"T{n}", c="0,182") for n in range(4)]
    path = works.write("lab.csv", lines(WIDE, *rows))
    assert_file_no(works, path, "lab-wide", "FILE15", seen=("4 of 4 rows", "row 2"), wanted="19 cells",
                   step="A decimal comma also parts cells", row=2)  # fmt: skip


def test_one_odd_row_is_benched_and_more_than_2_percent_refuse_the_file(works: PracticeWorks) -> None:
    """Bad input 20: rows with differing column counts."""
    rows = [wide_row(sample=f"T{n}") for n in range(100)]
    short = wide_row(sample="T100").rpartition(",")[0]
    ran = works.bring_wide(*rows, short)
    assert_benched(
        works, ran, row=102, column=None, code="ROW50", value="18 cells", raw=short, wanted="19 cells, as in the header"
    )
    assert only_file(ran)["rows"]["taken"] == 100
    path = works.write("odd.csv", lines(WIDE, *rows[:96], short, short, short))
    assert_file_no(works, path, "lab-wide", "FILE15", seen="3 of 99 rows", row=98)


def test_an_unclosed_quote_refuses_the_file_and_names_the_row_where_it_opened(works: PracticeWorks) -> None:
    """Bad input 19: an unclosed quote swallows rows."""
    rows = [wide_row(sample=f"T{n}") for n in range(400)]
    rows[2] = wide_row(sample='"T2')
    path = works.write("lab.csv", lines(WIDE, *rows))
    assert_file_no(works, path, "lab-wide", "FILE08", seen="", row=4, step="quote")


@pytest.mark.parametrize("name", ["lab.csv", "the same under a new name.csv"])
def test_a_file_sent_twice_is_known_again_and_changes_nothing(works: PracticeWorks, name: str) -> None:
    """Bad input 22: same file twice; same content under a new name."""
    text = lines(WIDE, wide_row(), wide_row("41887", "T2"))
    first = only_file(works.bring("lab.csv", text, "lab-wide"))
    before = works.state()
    again = works.bring(name, text, "lab-wide")
    assert again.status == 0
    assert again.json["status"] == "done"
    file = only_file(again)
    assert (file["state"], file["batch"]) == ("same", first["batch"])
    assert file["rows"] == {"read": 2, "taken": 0, "same": 2, "contested": 0, "bench": 0, "refused": 0}
    assert file["message"].startswith("already taken on ")
    assert f"as {first['batch']}" in file["message"]
    assert name == "lab.csv" or "under the name lab.csv" in file["message"]
    typed = works.run("import", works.folder / name, "--profile", "lab-wide", "--by", CLERK)
    assert typed.status == 0
    assert "already taken on" in typed.out
    assert_unchanged(works, before)


def test_a_cast_book_sent_twice_is_known_again_and_changes_nothing(works: PracticeWorks) -> None:
    """Bad input 22: the same book, also as a folder of another name."""
    before = works.state()
    for name in ("K7", "K7 again"):
        again = works.bring_cast(name)
        assert (again.status, only_file(again)["state"], only_file(again)["batch"]) == (0, "same", "I-3")
    assert_unchanged(works, before)


def test_a_cumulative_export_brings_new_rows_and_contests_changed_ones(works: PracticeWorks) -> None:
    """Bad input 23: cumulative export overlapping earlier imports."""
    works.bring_wide(wide_row(), wide_row(sample="T2"))
    ran = works.bring_wide(wide_row(), wide_row(sample="T2", c="0.192"), wide_row(sample="T3"), name="later.csv")
    assert ran.status == 3
    assert only_file(ran)["rows"] == {"read": 3, "taken": 1, "same": 1, "contested": 1, "bench": 0, "refused": 0}


@pytest.mark.parametrize(
    "name", ["with blank.csv", 'it\'s "quoted".csv', "new\nline.csv", "furnace-\U0001f525.csv", "-rf.csv", "--yes.csv"]
)
def test_odd_file_names_are_taken_and_shown_safely(
    works: PracticeWorks, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bad input 27: blanks, quotes, a newline, emoji, a leading dash."""
    works.write(name, lines(WIDE, wide_row("41887")))
    monkeypatch.chdir(works.folder)
    words = ("import", "--profile", "lab-wide", "--by", CLERK, "--json")
    if name.startswith("-"):
        assert works.run(*words, name).status == 2
        # behind "--" every word is a file, however it begins
        ran = works._run(*words, "--db", works.db, "--", name)
    else:
        ran = works.run(*words, name)
    (line,) = only_file(ran)["bench"]
    assert only_file(ran)["file"] == name
    assert "\n" not in line["message"]
    listed = works.run("bench", "list").out.splitlines()
    assert len(listed) == 3
    assert listed[2].startswith("B-1 ")


def test_line_ends_of_any_sort_are_accepted(works: PracticeWorks) -> None:
    """Bad input 28: CR only, CRLF, mixed; Ctrl-Z at the end."""
    rows = [wide_row(sample=f"T{n}") for n in range(3)]
    text = lines(WIDE, *rows)
    assert_all_taken(works.bring("cr.csv", text.replace("\n", "\r"), "lab-wide"), 3)
    for name, other in {
        "crlf.csv": text.replace("\n", "\r\n") + "\x1a",
        "mixed.csv": f"{WIDE}\r\n{rows[0]}\r{rows[1]}\n{rows[2]}",
    }.items():
        ran = works.bring(name, other, "lab-wide")
        assert (ran.status, only_file(ran)["rows"]["same"], only_file(ran)["rows"]["bench"]) == (0, 3, 0)


def test_a_file_of_one_laboratory_with_the_profile_of_another_is_refused(works: PracticeWorks) -> None:
    """Bad input 29: wrong profile."""
    from tests.bad_inputs.practice_works import SPARK, SPARK_NORTH, spark_row

    works.add_profile(SPARK_NORTH)
    theirs = works.write("spark.csv", lines(SPARK, spark_row()))
    assert_file_no(works, theirs, "lab-wide", "FILE07", seen='cells parted by ";"', step="delimiter")
    temperatures = "heat_no,place,read_at,temperature_c\n41878,tundish,2024-04-12T08:30:00+02:00,1541\n"
    other = works.write("temperatures.csv", temperatures)
    assert_file_no(works, other, "lab-wide", "FILE09", seen="no header of profile lab-wide", step="profile")
    ours = works.write("lab.csv", lines(WIDE, wide_row()))
    assert_file_no(works, ours, "spark-north", "FILE07", seen='cells parted by ","', step="delimiter")


def test_a_database_that_is_no_record_of_ours_is_refused_with_the_reason(
    works: PracticeWorks, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bad input 30: foreign file, newer schema, network share, read-only file; nothing is upgraded unasked."""
    import sqlite3

    path = works.write("lab.csv", lines(WIDE, wide_row()))
    foreign, text, newer, fixed = (tmp_path / f"{n}.db" for n in ("foreign", "text", "newer", "fixed"))
    with sqlite3.connect(foreign) as other:
        other.execute("CREATE TABLE heat (heat_no TEXT)")
    text.write_text("not a database at all, but long enough to be looked at")
    for copy in (newer, fixed):
        copy.write_bytes(Path(works.db).read_bytes())
    with sqlite3.connect(newer) as other:
        other.execute("UPDATE alembic_version SET version_num = '9999'")
    words = ("import", path, "--profile", "lab-wide", "--by", CLERK, "--db")
    for db, says in ((foreign, "not a heattrace database"), (text, "not a heattrace database"), (newer, "newer")):
        bytes_before = db.read_bytes()
        ran = works._run(*words, db)
        assert ran.status == 1
        assert says in plain(ran)
        assert db.read_bytes() == bytes_before
    monkeypatch.setattr("heattrace.store.engine._mount_kind", lambda path: "a network share (nfs4)")
    shared = works.run("import", path, "--profile", "lab-wide", "--by", CLERK)
    assert shared.status == 1
    assert "a network share (nfs4)" in plain(shared)
    monkeypatch.undo()
    fixed.chmod(0o444)
    if not os.access(fixed, os.W_OK):
        ran = works._run(*words, fixed)
        assert ran.status == 1
        assert "Traceback" not in ran.err


def test_a_missing_database_is_never_made_by_an_import(works: PracticeWorks, tmp_path: Path) -> None:
    """Bad input 30: no database there."""
    path = works.write("lab.csv", lines(WIDE, wide_row()))
    ran = works._run("import", path, "--profile", "lab-wide", "--by", CLERK, "--db", tmp_path / "none.db")
    assert ran.status == 1
    assert "heattrace db init" in plain(ran)
    assert not (tmp_path / "none.db").exists()


def test_an_unknown_profile_is_refused_with_the_nearest(works: PracticeWorks) -> None:
    """Bad input 29: a profile that does not exist."""
    path = works.write("lab.csv", lines(WIDE, wide_row()))
    assert_command_no(works, "import", path, "--profile", "lab-wyde", "--by", CLERK, says=("lab-wide",))
