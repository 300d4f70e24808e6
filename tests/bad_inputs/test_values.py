"""Bad inputs of single values, catalogue numbers 43 to 67."""

from __future__ import annotations

import pytest

from tests.bad_inputs.outcomes import (
    assert_all_taken,
    assert_benched,
    assert_file_no,
    assert_flagged,
    only_file,
    plain,
)
from tests.bad_inputs.practice_works import CLERK, WIDE, PracticeWorks, lines, spark_row, wide_row


def test_a_decimal_comma_in_one_row_benches_it_and_in_all_rows_refuses_the_file(works: PracticeWorks) -> None:
    """Bad input 43: 0,182 where the profile says point."""
    bad = wide_row(sample="T2", c='"0,182"')
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="C", code="ROW03", value="0,182", raw=bad,
                   wanted='with "." as decimal sign', step="Did you mean 0.182?")  # fmt: skip
    assert only_file(ran)["rows"]["taken"] == 1
    cells = wide_row().split(",")
    commas = ['"' + cell.replace(".", ",") + '"' for cell in cells[7:]]
    path = works.write("commas.csv", lines(WIDE, ",".join(cells[:7] + commas)))
    assert_file_no(works, path, "lab-wide", "FILE16", seen="decimal comma found", row=2, column="C", step="decimal")


@pytest.mark.parametrize("text", ["1.234,5", "1,234.5", "1 234.5", "1'234.5"])
def test_signs_between_thousands_bench_the_row(works: PracticeWorks, text: str) -> None:
    """Bad input 44: no composition needs them."""
    bad = wide_row(sample="T2", mn=f'"{text}"')
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="Mn", code="ROW04", value=text, raw=bad, wanted="without signs between")
    assert only_file(ran)["rows"]["taken"] == 1


def test_a_comma_before_three_digits_is_never_guessed(works: PracticeWorks) -> None:
    """Bad input 45: "1,250" is 1.250 or 1250; without a terminal a question benches, also with --yes."""
    bad = wide_row(sample="T2", mn='"1,250"')
    ran = works.bring("lab.csv", lines(WIDE, wide_row(), bad), "lab-wide", "--yes")
    assert_benched(works, ran, row=3, column="Mn", code="ROW03", value="1,250", raw=bad,
                   step="It could be 1.250 or 1250; say which.")  # fmt: skip


@pytest.mark.parametrize("text", ["<0.002", "< 0.002", "≤0.002"])
def test_a_bound_in_a_listed_form_is_read_as_below(works: PracticeWorks, text: str) -> None:
    """Bad input 46: "<0.002", "< 0.002", "≤0.002"."""
    assert_all_taken(works.bring_wide(wide_row(n=text)), 1)
    assert works.reported("41878-T1")["N"] == "<0.002"
    (line,) = [
        each for each in works.run("judge", "41878", "--json").data["results"][0]["limits"] if each["quantity"] == "N"
    ]
    assert line["reported"] == "<0.002"


def test_a_bound_with_a_decimal_comma_in_ppm_is_read_as_below_its_limit_in_percent(works: PracticeWorks) -> None:
    """Bad input 46: "<0,002" of a source that writes commas, here "<20,5" ppm: the point moved, no digit added."""
    assert_all_taken(works.bring_spark(spark_row(n="<20,5", c="<0,002")), 1)
    assert works.reported("N1") == {"C": "<0.002", "Mn": "1.44", "N": "<0.00205"}


@pytest.mark.parametrize(("text", "meant"), [("0.002<", "<0.002"), ("&lt;0.002", "<0.002")])
def test_a_bound_in_another_form_benches_the_row_with_what_was_meant(
    works: PracticeWorks, text: str, meant: str
) -> None:
    """Bad input 46: "0.002<", "&lt;0.002"."""
    bad = wide_row(sample="T2", n=text)
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="N", code="ROW02", value=text, raw=bad, step=f"Did you mean {meant}?")
    assert only_file(ran)["rows"]["taken"] == 1
    done = works.run("bench", "fix", "B-1", "--set", f"N={meant}", "--reason", "TYPING", "--by", CLERK)
    assert done.status == 0, plain(done)
    assert works.reported("T2")["N"] == "<0.002"
    assert works.bench_bytes("B-1") == bad.encode()


def test_words_a_profile_lists_are_not_reported_or_over_range_and_error_words_bench(works: PracticeWorks) -> None:
    """Bad input 47: "n.d.", "-", OVER; "***", #N/A, #DIV/0!."""
    ran = works.bring_spark(spark_row(c="n.d.", n="-"), spark_row(sample="N2", c="OVER"))
    assert_flagged(ran, code="ROW69", row=3, column="C", seen="OVER", file="spark.csv")
    assert works.reported("N1") == {"C": None, "Mn": "1.44", "N": None}
    assert works.reported("N2")["C"] != "0"
    for sample, text, code in (("E1", "***", "ROW09"), ("E2", "#N/A", "ROW08"), ("E3", "#DIV/0!", "ROW08")):
        bad = wide_row(sample=sample, n=text)
        ran = works.bring_wide(wide_row(sample=f"{sample}-ok"), bad, name=f"{sample}.csv")
        assert_benched(works, ran, row=3, column="N", code=code, value=text, raw=bad, file=f"{sample}.csv")


def test_empty_and_blank_are_not_reported_and_zero_stays_zero_with_a_warning(works: PracticeWorks) -> None:
    """Bad input 48: empty against a blank against "0"."""
    ran = works.bring_wide(wide_row(c="0", si=" ", mn=""))
    assert ran.status == 0
    assert_flagged(ran, code="ROW18", row=2, column="C", seen="0")
    found = works.reported("41878-T1")
    assert (found["C"], found["Si"], found["Mn"]) == ("0", None, None)


def test_a_small_negative_reading_is_kept_and_flagged_and_a_larger_one_benched(works: PracticeWorks) -> None:
    """Bad input 49: -0.0003, and -0.03."""
    bad = wide_row(sample="T2", n="-0.03")
    ran = works.bring_wide(wide_row(n="-0.0003"), bad)
    assert_flagged(ran, code="ROW35", row=2, column="N", seen="-0.0003")
    assert works.reported("41878-T1")["N"] == "-0.0003"
    assert_benched(works, ran, row=3, column="N", code="ROW17", value="-0.03", raw=bad, wanted="not negative")
    assert only_file(ran)["rows"]["taken"] == 1


def test_more_than_all_of_it_is_benched_and_a_sum_above_100_flagged(works: PracticeWorks) -> None:
    """Bad input 50: 101.2 %; contents that add up to more than 100 %."""
    bad = wide_row(sample="T2", mn="101.2")
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="Mn", code="ROW16", value="101.2", raw=bad)
    head, row = f"{WIDE},Fe", f"{wide_row(sample='T3')},99.5"
    ran = works.bring("sum.csv", lines(head, row), "lab-wide")
    codes = {f["code"]: f for f in ran.json["findings"]}
    assert only_file(ran)["rows"]["taken"] == 1, ran.out
    # 0.182 + 0.24 + 1.44 + 0.012 + 0.008 + 0.05 + 0.01 + 0.04 + 0.09 + 0.002 + 0.031 + 0.0058 + 99.5
    assert codes["ROW19"]["seen"] == "101.6108 % in all"
    assert codes["ROW19"]["subject"].startswith("sum.csv, row 2")


@pytest.mark.parametrize(("text", "code"), [("NaN", "ROW07"), ("inf", "ROW07"), ("-inf", "ROW07"), ("1e999", "ROW07")])
def test_what_is_no_number_or_infinite_benches_the_row(works: PracticeWorks, text: str, code: str) -> None:
    """Bad input 51: never reaches a float."""
    bad = wide_row(sample="T2", c=text)
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="C", code=code, value=text, raw=bad, wanted="a number such as 0.182")
    assert only_file(ran)["rows"]["taken"] == 1
    assert works.rows("SELECT count(*) FROM sample") == [(1,)]
    still = works.run("bench", "fix", "B-1", "--set", f"C={text}", "--reason", "TYPING", "--by", CLERK)
    assert still.status == 1
    assert "Traceback" not in plain(still)


def test_a_number_with_an_exponent_is_exact(works: PracticeWorks) -> None:
    """Bad input 52: 1.8E-3, and 1,8e-03 where the profile says comma."""
    works.bring_wide(wide_row(n="1.8E-3"))
    assert works.reported("41878-T1")["N"] == "0.0018"
    assert_all_taken(works.bring_spark(spark_row(c="1,8e-03")), 1)
    assert works.reported("N1")["C"] == "0.0018"


@pytest.mark.parametrize(
    ("column", "text", "asks"),
    [("N", "58", "58 % N? Did you mean 58 ppm = 0.0058 %?"), ("B", "22", "22 % B? Did you mean 22 ppm = 0.0022 %?")],
)
def test_ppm_in_a_column_of_percent_benches_the_row_and_offers_the_other_unit(
    works: PracticeWorks, column: str, text: str, asks: str
) -> None:
    """Bad input 53: N = 58, B = 22."""
    bad = wide_row(sample="T2", n="58") + "," if column == "N" else wide_row(sample="T2") + ",22"
    ran = works.bring("lab.csv", lines(f"{WIDE},B", f"{wide_row()},0.0004", bad), "lab-wide")
    assert_benched(works, ran, row=3, column=column, code="ROW14", value=text, raw=bad, step=asks)
    assert only_file(ran)["rows"]["taken"] == 1


def test_percent_in_a_column_of_ppm_benches_the_row(works: PracticeWorks) -> None:
    """Bad input 54: N = 0.0058 where the profile says ppm."""
    bad = spark_row(sample="N2", n="0,0058")
    ran = works.bring_spark(spark_row(), bad)
    assert_benched(works, ran, row=3, column="N", code="ROW15", value="0,0058", raw=bad, file="spark.csv",
                   step="Did you mean 0.0058 % = 58 ppm?")  # fmt: skip


def test_a_moved_decimal_point_is_taken_and_doubtful(works: PracticeWorks) -> None:
    """Bad input 55: 1.82 for C 0.182; EN 10025-2 S355J2 prints at most 0.20 % to 30 mm, 0.22 % above."""
    ran = works.bring_wide(wide_row(c="1.82"))
    finding = assert_flagged(ran, code="REC37", row=2, column="C", seen="C 1.82 %")
    assert "0.182 % would fit" in finding["next"]
    (sample,) = works.run("sample", "show", "41878-T1", "--json").data["samples"]
    assert [a["state"] for a in sample["analyses"]] == ["doubtful"]


def test_many_digits_are_kept_exactly(works: PracticeWorks) -> None:
    """Bad input 56: 0.18234567891 has more places than whole parts per billion hold."""
    assert_all_taken(works.bring_wide(wide_row(c="0.18234567891")), 1)
    assert works.reported("41878-T1")["C"] == "0.18234567891"
    (line,) = [
        each for each in works.run("judge", "41878", "--json").data["results"][0]["limits"] if each["quantity"] == "C"
    ]
    assert (line["reported"], line["rounded"]) == ("0.18234567891", "0.18")


def test_zeros_lost_by_a_spreadsheet_are_flagged_and_the_verdict_at_the_limit_says_so(works: PracticeWorks) -> None:
    """Bad input 57: 0.20 became 0.2 in a number cell; the limit is printed 0.20."""
    from openpyxl import Workbook

    book = Workbook()
    book.active.title = "analyses"
    book.active.append(WIDE.split(","))
    for heat, carbon in (("41878", 0.2), ("41877", 0.18), ("41950", 0.19)):
        cells: list[object] = list(wide_row(heat, f"{heat}-T1").split(","))
        cells[7] = carbon
        book.active.append(cells)
    works.folder.mkdir()
    book.save(works.folder / "lab.xlsx")
    ran = works.run("import", works.folder / "lab.xlsx", "--profile", "lab-wide", "--by", CLERK, "--json")
    assert ran.status == 0, ran.out
    finding = assert_flagged(ran, code="ROW68", row=2, column="C", seen="0.2", file="lab.xlsx")
    assert "places are lost" in finding["next"]
    assert works.reported("41878-T1")["C"] == "0.2"
    (line,) = [
        each for each in works.run("judge", "41878", "--json").data["results"][0]["limits"] if each["quantity"] == "C"
    ]
    assert "places lost" in line["note"], line


def test_a_date_in_a_column_of_numbers_benches_the_row_and_names_the_cause(works: PracticeWorks) -> None:
    """Bad input 58: a spreadsheet turned 1.25 into 1-Dec, or into 45992."""
    for sample, text in (("T2", "1-Dec"), ("T3", "45992")):
        bad = wide_row(sample=sample, mn=text)
        ran = works.bring_wide(wide_row(sample=f"{sample}-ok"), bad, name=f"{sample}.csv")
        line = assert_benched(works, ran, row=3, column="Mn", code="ROW10", value=text, raw=bad, file=f"{sample}.csv")
        assert "spreadsheet" in line["next"]


def test_a_unit_in_the_cell_is_stripped_and_noted_where_listed(works: PracticeWorks) -> None:
    """Bad input 59: "0.18 %", "58ppm"; other units bench."""
    bad = wide_row(sample="T2", n="58 gpl")
    ran = works.bring_wide(wide_row(c="0.18 %", n="58ppm"), bad)
    assert_flagged(ran, code="ROW34", row=2, column="N", seen="58ppm")
    found = works.reported("41878-T1")
    assert (found["C"], found["N"]) == ("0.18", "0.0058")
    assert_benched(works, ran, row=3, column="N", code="ROW12", value="58 gpl", raw=bad)


@pytest.mark.parametrize(("text", "meant"), [("O.182", "0.182"), ("l.25", "1.25"), ("0.1S2", "0.152")])
def test_letters_for_digits_bench_the_row_with_a_suggestion(works: PracticeWorks, text: str, meant: str) -> None:
    """Bad input 60: O, l and S for 0, 1 and 5."""
    bad = wide_row(sample="T2", mn=text)
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="Mn", code="ROW05", value=text, raw=bad, step=f"Did you mean {meant}?")


@pytest.mark.parametrize(
    ("text", "code"), [("approx 0.2", "ROW02"), ("0.18/0.19", "ROW02"), ("0.18*", "ROW02"), ("TRUE", "ROW11")]
)
def test_text_fractions_and_truth_values_bench_the_row(works: PracticeWorks, text: str, code: str) -> None:
    """Bad inputs 62 and 63: "approx 0.2", "0.18/0.19", "0.18*", TRUE."""
    bad = wide_row(sample="T2", c=text)
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="C", code=code, value=text, raw=bad)
    assert only_file(ran)["rows"]["taken"] == 1


def test_a_temperature_not_to_be_believed_is_benched(works: PracticeWorks) -> None:
    """Bad input 64: 15650, 2800 (degree F); outside 1300 to 1800 degree C the bench."""
    head = "heat_no,place,read_at,temperature_c"
    readings = (("20", "1541"), ("25", "15650"), ("30", "2800"))
    rows = [f"41878,tundish,2024-04-12T08:{minute}:00+02:00,{reading}" for minute, reading in readings]
    ran = works.bring("t.csv", lines(head, *rows), "temperatures")
    assert_benched(works, ran, row=3, column="temperature_c", code="ROW13", value="15650", raw=rows[1], file="t.csv")
    assert_benched(works, ran, row=4, column="temperature_c", code="ROW13", value="2800", raw=rows[2], file="t.csv",
                   step="Fahrenheit")  # fmt: skip
    assert only_file(ran)["rows"]["taken"] == 1


def test_the_profile_s_own_signs_are_read_as_the_profile_says(works: PracticeWorks) -> None:
    """Bad input 43, the other way round: a point where the profile says comma."""
    bad = spark_row(sample="N2", c="0.182")
    ran = works.bring_spark(spark_row(), bad)
    assert_benched(works, ran, row=3, column="C", code="ROW03", value="0.182", raw=bad, file="spark.csv",
                   wanted='with "," as decimal sign')  # fmt: skip
    assert works.run("bench", "fix", "B-1", "--set", "C=0.182", "--reason", "TYPING", "--by", CLERK).status == 0
    assert works.reported("N2")["C"] == "0.182"
