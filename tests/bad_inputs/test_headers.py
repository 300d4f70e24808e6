"""Bad inputs of the header and its columns, catalogue numbers 31 to 42."""

from __future__ import annotations

import pytest

from tests.bad_inputs.outcomes import assert_all_taken, assert_file_no, only_file
from tests.bad_inputs.practice_works import SPARK, SPARK_NORTH, WIDE, PracticeWorks, lines, spark_row, wide_row


def test_a_column_that_stands_twice_refuses_the_file_and_names_both_places(works: PracticeWorks) -> None:
    """Bad input 31: header "C" twice."""
    path = works.write("lab.csv", lines(f"{WIDE},C", f"{wide_row()},0.191"))
    # C is the 8th column of the file, and stands behind the 19th once more
    assert_file_no(works, path, "lab-wide", "FILE10", seen="columns 8 and 20", row=1, column="C", wanted="once")


def test_an_unknown_column_refuses_the_file(works: PracticeWorks) -> None:
    """Bad input 32: column "Xx"; a profile may list columns to leave out, and the slip names them."""
    path = works.write("lab.csv", lines(f"{WIDE},Xx", f"{wide_row()},1"))
    assert_file_no(
        works, path, "lab-wide", "FILE11", seen="an unknown column, number 20", row=1, column="Xx", step="[ignore]"
    )
    ran = works.bring_spark(spark_row())
    assert_all_taken(ran, 1)
    assert any('column "Bemerkung" left out' in note for note in only_file(ran)["notes"])


def test_a_missing_heat_number_column_refuses_the_file(works: PracticeWorks) -> None:
    """Bad input 33: required column missing, under our name and under theirs."""
    path = works.write("lab.csv", lines(WIDE.partition(",")[2], wide_row().partition(",")[2]))
    assert_file_no(works, path, "lab-wide", "FILE12", seen="no column heat_no", row=1, step="Export it with this")
    works.add_profile(SPARK_NORTH)
    theirs = works.write("spark.csv", lines(SPARK.partition(";")[2], spark_row().partition(";")[2]))
    assert_file_no(works, theirs, "spark-north", "FILE12", seen="no column Charge (heat_no)", row=1)


@pytest.mark.parametrize(
    ("ours", "theirs", "sign"),
    [
        ("C", "\u0421", "U+0421 CYRILLIC CAPITAL LETTER ES"),
        ("N", "\u039d", "U+039D GREEK CAPITAL LETTER NU"),
        ("Mn", "\uff2dn", "U+FF2D FULLWIDTH LATIN CAPITAL LETTER M"),
        ("heat_no", "he\u0430t_no", "U+0430 CYRILLIC SMALL LETTER A"),
    ],
)
def test_a_letter_that_only_looks_right_refuses_the_file_and_is_named(
    works: PracticeWorks, ours: str, theirs: str, sign: str
) -> None:
    """Bad input 34: look-alike names; code points as the Unicode standard names them."""
    header = ",".join(theirs if name == ours else name for name in WIDE.split(","))
    path = works.write("lab.csv", lines(header, wide_row()))
    finding = assert_file_no(works, path, "lab-wide", "FILE13", seen=sign, row=1, wanted=f'"{ours}" in plain letters')
    assert finding["subject"] == f"lab.csv, row 1, column {theirs}"


def test_letter_case_counts_co_is_cobalt_and_capitals_are_no_element(works: PracticeWorks) -> None:
    """Bad input 34: "Co" against "CO"."""
    path = works.write("lab.csv", lines(f"{WIDE},CO", f"{wide_row()},0.008"))
    assert_file_no(works, path, "lab-wide", "FILE11", seen="unknown column", column="CO", step="Did you mean Co?")
    assert_all_taken(works.bring("co.csv", lines(f"{WIDE},Co", f"{wide_row()},0.008"), "lab-wide"), 1)
    assert works.reported("41878-T1")["Co"] == "0.008"
    assert works.reported("41878-T1")["C"] == "0.182"


def test_old_and_foreign_names_are_read_by_a_table_and_aluminium_has_to_be_said(works: PracticeWorks) -> None:
    """Bad input 35: Cb for niobium, "Phos", kinds of aluminium; bare Al of a foreign source."""
    header = WIDE.replace(",P,", ",Phos,").replace(",Al,", ",Al-T,") + ",Cb,Al sol"
    ran = works.bring("lab.csv", lines(header, f"{wide_row()},0.021,0.028"), "lab-wide")
    assert_all_taken(ran, 1)
    found = works.reported("41878-T1")
    assert {name: found[name] for name in ("P", "Al", "Nb", "Als")} == {
        "P": "0.012", "Al": "0.031", "Nb": "0.021", "Als": "0.028"
    }  # fmt: skip
    assert any('column "Cb" read as Nb' in note for note in only_file(ran)["notes"])
    works.add_profile(SPARK_NORTH)
    theirs = works.write("spark.csv", lines(SPARK.replace(";N;", ";Al;N;"), spark_row().replace(";58;", ";0,03;58;")))
    assert_file_no(
        works, theirs, "spark-north", "FILE14", seen="total or soluble not said", column="Al", step="[elements]"
    )


@pytest.mark.parametrize("step", [1, -1])
def test_a_header_shifted_by_one_against_its_data_refuses_the_file(works: PracticeWorks, step: int) -> None:
    """Bad input 36: the contents fit the neighbouring names."""
    names, elements = WIDE.split(",")[:7], WIDE.split(",")[7:]
    moved = elements[-step:] + elements[:-step]
    rows = [wide_row(sample=f"T{n}", c=f"0.18{n}", mn=f"1.4{n}", p=f"0.01{n}") for n in range(1, 6)]
    path = works.write("lab.csv", lines(",".join(names + moved), *rows))
    assert_file_no(works, path, "lab-wide", "FILE18", seen="columns look shifted by one", step="Compare a row")
    # the same rows under their own names are not suspected
    assert_all_taken(works.bring("right.csv", lines(WIDE, *rows), "lab-wide"), 5)


def test_odd_blanks_in_names_and_columns_in_another_order_are_taken_and_told(works: PracticeWorks) -> None:
    """Bad inputs 39 and 41: another order of columns, a no-break space in a name, an empty column behind the last."""
    order = [WIDE.split(",").index(name) for name in sorted(WIDE.split(","))]
    cells = [wide_row().split(",")[at] for at in order]
    header = ",".join(sorted(WIDE.split(","))) + ",Al\u00a0sol,"
    ran = works.bring("lab.csv", lines(header, ",".join(cells) + ",0.028,"), "lab-wide")
    assert_all_taken(ran, 1)
    assert works.reported("41878-T1")["Mn"] == "1.44"
    notes = " | ".join(only_file(ran)["notes"])
    assert 'read as "Al sol"' in notes
    assert "columns without a name left out: 21" in notes
    assert works.reported("41878-T1")["Als"] == "0.028"


def test_a_row_of_units_that_contradicts_the_profile_refuses_the_file(works: PracticeWorks) -> None:
    """Bad input 38: a row of units under the header."""
    units = "," * 7 + ",".join(["%"] * 11)
    path = works.write("lab.csv", lines(WIDE, f"{units},ppm", wide_row(n="58")))
    assert_file_no(works, path, "lab-wide", "FILE19", seen="unit ppm", row=2, column="N", wanted="%")
    assert_all_taken(works.bring("right.csv", lines(WIDE, f"{units},%", wide_row()), "lab-wide"), 1)


def test_one_element_under_two_names_refuses_the_file(works: PracticeWorks) -> None:
    """Bad input 42: a column twice under different names."""
    path = works.write("lab.csv", lines(f"{WIDE},Nb,Cb", f"{wide_row()},0.02,0.03"))
    assert_file_no(works, path, "lab-wide", "FILE10", seen="Nb in two columns, 20 and 21", step="which one counts")
