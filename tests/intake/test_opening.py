"""Files as such: not there, folders, names, digests, books of tables, files that change while they are read."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from heattrace.errors import FileRefused
from heattrace.intake.profiles.profile_text import read_profile
from heattrace.intake.profiles.shipped import shipped
from heattrace.intake.reading import opening
from heattrace.intake.reading.analysis_file import AnalysisFile
from heattrace.intake.reading.opening import open_file
from heattrace.intake.reading.sniffing import file_digest
from tests.intake.examples import WIDE, wide_row, write, write_book, write_cast


def refusal(path: Path | str, profile: str) -> FileRefused:
    with pytest.raises(FileRefused) as refused:
        open_file(path, shipped(profile))
    return refused.value


@pytest.mark.parametrize("profile", ["lab-wide", "heats", "cast-book", "grade-book"])
def test_file_that_is_not_there_is_refused_in_plain_words(tmp_path: Path, profile: str) -> None:
    refused = refusal(tmp_path / "none.csv", profile)
    assert [f.code for f in refused.findings] == ["FILE01"]
    assert "No such file" in str(refused) and refused.exit_status == 1


@pytest.mark.parametrize("profile", ["lab-wide", "heats"])
def test_folder_where_a_file_is_wanted_is_refused(tmp_path: Path, profile: str) -> None:
    assert "a folder" in str(refusal(tmp_path, profile))


@pytest.mark.skipif(getattr(os, "geteuid", lambda: 0)() == 0, reason="a superuser reads everything")
def test_file_without_read_right_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "lab.csv", [WIDE, wide_row()])
    path.chmod(0)
    assert [f.code for f in refusal(path, "lab-wide").findings] == ["FILE01"]


def test_name_with_a_nul_is_refused() -> None:
    assert [f.code for f in refusal("a\0b.csv", "lab-wide").findings] == ["FILE01"]


@pytest.mark.parametrize(
    "name", ["with blank.csv", 'it\'s "quoted".csv', "new\nline.csv", "ofen-\U0001f525.csv", "-rf.csv"]
)
def test_odd_file_names_are_read_and_shown_safely(tmp_path: Path, name: str) -> None:
    path = write(tmp_path / name, [WIDE, wide_row(), wide_row(sample="41878-2", c="O.18")])
    content = open_file(path, shipped("lab-wide"))
    assert content.name == name and len(content.analyses) == 1
    (fault,) = content.bench
    assert "\n" not in fault.message


def test_digest_is_of_the_content_not_of_the_name(tmp_path: Path) -> None:
    one = write(tmp_path / "one.csv", [WIDE, wide_row()])
    two = write(tmp_path / "two.csv", [WIDE, wide_row()])
    expected = hashlib.sha256(one.read_bytes()).hexdigest()
    assert [open_file(p, shipped("lab-wide")).sha256 for p in (one, two)] == [expected, expected]


def test_digest_of_a_folder_is_of_its_sorted_names_and_digests(tmp_path: Path) -> None:
    one = write_cast(tmp_path / "one")
    digests = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in one.iterdir()}
    text = "".join(f"{name}\t{digests[name]}\n" for name in sorted(digests))
    assert file_digest(one) == hashlib.sha256(text.encode()).hexdigest()
    (one / ".hidden").write_text("left out")
    assert open_file(one, shipped("cast-book")).sha256 == hashlib.sha256(text.encode()).hexdigest()
    (one / "cuts.csv").rename(one / "cuts2.csv")
    assert file_digest(one) != hashlib.sha256(text.encode()).hexdigest()


def test_file_that_changes_while_it_is_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(tmp_path / "heats.csv", ["heat_no,grade", "H1,G1"])
    real = opening.read_table

    def reading(*args: object) -> object:
        with path.open("a") as stream:
            stream.write("H2,G1\n")
        return real(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(opening, "read_table", reading)
    refused = refusal(path, "heats")
    assert [f.code for f in refused.findings] == ["FILE25"] and "try again" in str(refused)


def test_analyses_that_change_while_they_are_read_are_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "lab.csv", [WIDE, wide_row()])
    file = AnalysisFile(path, shipped("lab-wide"))
    with path.open("a") as stream:
        stream.write(wide_row(sample="41878-2") + "\n")
    with pytest.raises(FileRefused) as refused:
        list(file.batches())
    assert [f.code for f in refused.value.findings] == ["FILE25"]


def test_cast_book_without_a_needed_table_is_refused(tmp_path: Path) -> None:
    folder = write_cast(tmp_path / "Q1")
    (folder / "cuts.csv").rename(folder / "cut.csv")
    refused = refusal(folder, "cast-book")
    assert [f.code for f in refused.findings] == ["FILE21", "FILE21"]
    assert "cuts.csv" in str(refused) and '"cut.csv"' in str(refused)


def test_cast_book_as_one_csv_file_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "cuts.csv", ["sequence_no,cut_no", "Q1,1"])
    assert "a folder of CSV files" in str(refusal(path, "cast-book"))


@pytest.mark.parametrize(
    ("sheet", "row"),
    [
        ("speeds", "Q1,1,1,2026-04-03T10:20:00+02:00,fast"),
        ("feeds", "Q1,1,1,,2026-04-03T10:20:00+02:00,"),
        ("pours", "Q1,H1,A,yesterday"),
        ("tundishes", "Q1,A,7600"),
        ("strands", "Q1,1,1,beam,220,300,28.2,2026-04-03T10:15:00+02:00"),
    ],
)
def test_bad_row_that_others_rest_on_refuses_the_cast_book(tmp_path: Path, sheet: str, row: str) -> None:
    from tests.intake.examples import CAST

    folder = write_cast(tmp_path / "Q1", **{sheet: [*CAST[sheet], row]})
    refused = refusal(folder, "cast-book")
    assert [f.code for f in refused.findings] == ["FILE23"]
    assert f"Q1, sheet {sheet}, row 3" in str(refused)


def test_bad_row_of_the_cuts_goes_to_the_bench_alone(tmp_path: Path) -> None:
    from tests.intake.examples import CAST

    bad = "Q1,1,1,3,piece,P3,2026-04-03T25:08:00+02:00"
    content = open_file(write_cast(tmp_path / "Q1", cuts=[*CAST["cuts"], bad]), shipped("cast-book"))
    (fault,) = content.bench
    assert (fault.sheet, fault.row, fault.column, fault.raw) == ("cuts", 4, "clamped_at", bad.encode())
    assert fault.message.startswith('Q1, sheet cuts, row 4, column "clamped_at": found')
    assert len(content.rows("cuts")) == 2


def test_faults_of_several_tables_are_all_told(tmp_path: Path) -> None:
    folder = write_cast(
        tmp_path / "Q1", heats=["heat_no", "H1"], sequences=["sequence_no,caster,colour", "Q1,west,red"]
    )
    refused = refusal(folder, "cast-book")
    assert {(f.code, f.subject.split(",")[1]) for f in refused.findings} == {
        ("FILE12", " sheet heats"),
        ("FILE11", " sheet sequences"),
    }


def test_empty_cells_take_their_defaults(tmp_path: Path) -> None:
    content = open_file(write_cast(tmp_path / "Q1"), shipped("cast-book"))
    (strand,), (tundish,) = content.rows("strands"), content.rows("tundishes")
    assert (strand.values["kerf_mm"].text, strand.values["cut_temperature_c"].text) == ("10", "900")
    assert strand.values["plug_mass_t"].text == "0" and strand.values["stopped_at"] is None
    assert tundish.values["working_mass_t"] == tundish.values["mass_at_start_t"]


def test_foreign_cast_book_is_read_through_its_profile(tmp_path: Path) -> None:
    folder = write_cast(tmp_path / "Q1")
    (folder / "cuts.csv").unlink()
    lines = [
        "Seq;Str;Run;Nr;Art;Stueck;Zeit;Laenge", "Q1;1;1;1;Block;P1;03.04.2026 11:00;4620",
        "Q1;1;1;2;Rest;;03.04.2026 11:08;310",
    ]  # fmt: skip
    write(folder / "Schnitte.csv", [line.replace(";", ",") for line in lines])
    write(folder / "Notizen.csv", ["a,b"])
    profile = read_profile(
        """
        name = "book-east"
        takes = "cast-book"
        [sheets.cuts]
        file = "Schnitte.csv"
        format = "%d.%m.%Y %H:%M"
        zone = "Europe/Vienna"
        clock = "torch"
        [sheets.cuts.columns]
        "Seq" = "sequence_no"
        "Str" = "strand_no"
        "Run" = "run_no"
        "Nr" = "cut_no"
        "Art" = "kind"
        "Stueck" = "piece_no"
        "Zeit" = "clamped_at"
        "Laenge" = { column = "measured_length_m", unit = "mm" }
        [sheets.cuts.values.kind]
        "Block" = "piece"
        "Rest" = "tail-crop"
        """
    )
    content = open_file(folder, profile)
    first, second = content.rows("cuts")
    assert first.values["measured_length_m"].text == "4.620"
    assert (first.values["kind"], second.values["kind"]) == ("piece", "tail-crop")
    assert first.values["clamped_at"].utc_ms == 1775206800000  # 2026-04-03T09:00:00Z: 20546 days and 9 hours
    assert any('"Notizen.csv" left out' in note for note in content.notes)


def test_grade_book_comes_as_csv_folder_or_workbook(tmp_path: Path) -> None:
    header = "standard,edition,grade,basis,size_band_mm,quantity,max,unit,rounding,source,status"
    row = "WORKS 1,2020,G1,cast,all,C,0.20,mass %,rounding,works,memory"
    deviations = ["applies_to,element,limit_from,limit_to,under,over,kind,one_side,source,status",
                  "WORKS 1,C,,0.25,,0.02,absolute,no,works,memory"]  # fmt: skip
    write(tmp_path / "book.csv", [header, row])
    (tmp_path / "book").mkdir()
    write(tmp_path / "book" / "limits.csv", [header, row])
    write(tmp_path / "book" / "deviations.csv", deviations)
    sheets = {"limits": [header.split(","), row.split(",")], "deviations": [line.split(",") for line in deviations]}
    write_book(tmp_path / "book.xlsx", sheets)
    profile = shipped("grade-book")
    contents = [open_file(tmp_path / name, profile) for name in ("book.csv", "book", "book.xlsx")]
    assert [c.rows("limits")[0].values["max"].text for c in contents] == ["0.20"] * 3
    assert [len(c.rows("deviations")) for c in contents] == [0, 1, 1]


def test_shipped_grade_book_reads_without_a_fault() -> None:
    from importlib import resources

    book = Path(str(resources.files("heattrace.intake") / "shipped" / "grade_book.csv"))
    content = open_file(book, shipped("grade-book"))
    assert content.bench == [] and len(content.rows("limits")) > 300
