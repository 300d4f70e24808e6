"""Bad inputs of numbers and moments, catalogue numbers 68 to 81."""

from __future__ import annotations

import pytest

from tests.bad_inputs.outcomes import (
    assert_all_taken,
    assert_benched,
    assert_command_no,
    assert_file_no,
    assert_flagged,
    assert_unchanged,
    only_file,
    plain,
)
from tests.bad_inputs.practice_works import (
    CAST,
    CLERK,
    DAY,
    SPARK,
    SPARK_NORTH,
    WIDE,
    PracticeWorks,
    at,
    clamp,
    lines,
    spark_row,
    wide_row,
)

HEAT_OF_SAMPLE = "SELECT s.sample_id, h.heat_no FROM sample s LEFT JOIN heat h ON h.heat_id = s.heat_id ORDER BY 1"


def test_an_unknown_heat_number_is_benched_with_the_nearest_heats_and_no_heat_is_made(works: PracticeWorks) -> None:
    """Bad input 68: 41887 for 41878."""
    bad = wide_row("41887", "T2")
    heats = works.state().tables["heat"]
    ran = works.bring_wide(wide_row(), bad)
    line = assert_benched(works, ran, row=3, column="heat_no", code="REC01", value="41887", raw=bad,
                          wanted="a heat of the record was expected")  # fmt: skip
    # taken at 09:10; 41878 was tapped at 07:40
    assert "41878 (signs 4 and 5 swapped; tapped 1 h 30 min before)" in line["next"]
    assert works.state().tables["heat"] == heats
    assert works.rows(HEAT_OF_SAMPLE) == [("41878-T1", "41878")]
    done = works.run("bench", "attach", "B-1", "--heat", "41878", "--reason", "WRONG-HEAT", "--by", CLERK)
    assert done.status == 0, plain(done)
    assert works.rows(HEAT_OF_SAMPLE) == [("41878-T1", "41878"), ("T2", "41878")]
    assert works.bench_bytes("B-1") == bad.encode()


@pytest.mark.parametrize("text", ["4.1878E4", "41878.0", "4,1878E+04"])
def test_a_heat_number_that_a_spreadsheet_rewrote_is_recognised_and_asked(works: PracticeWorks, text: str) -> None:
    """Bad input 69: 4.1878E4, 41878.0."""
    bad = wide_row(f'"{text}"', "T2")
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="heat_no", code="ROW32", value=text, raw=bad, step="It looks like 41878")
    assert works.rows(HEAT_OF_SAMPLE) == [("41878-T1", "41878")]


def test_a_lost_leading_zero_is_recognised_and_never_padded(works: PracticeWorks) -> None:
    """Bad input 69: 004187 became 4187; --yes does not answer for a person."""
    bad = wide_row("4187", "T2", taken="07:10", analysed="07:22")
    ran = works.bring("lab.csv", lines(WIDE, wide_row(), bad), "lab-wide", "--yes")
    line = assert_benched(works, ran, row=3, column="heat_no", code="REC01", value="4187", raw=bad, step="004187")
    assert "lost at the beginning" in line["next"]
    assert works.rows(HEAT_OF_SAMPLE) == [("41878-T1", "41878")]
    # with its zeros it is that heat and no other
    assert_all_taken(works.bring_wide(wide_row("004187", "T3", taken="07:10", analysed="07:22"), name="zeros.csv"), 1)
    assert ("T3", "004187") in works.rows(HEAT_OF_SAMPLE)


@pytest.mark.parametrize("text", ["41878 ", "41878\u200b", "4\u00ad1878"])
def test_a_number_with_odd_signs_is_found_its_original_kept_and_the_slip_says_so(
    works: PracticeWorks, text: str
) -> None:
    """Bad input 70: trailing blank, zero-width space, soft hyphen."""
    ran = works.bring_wide(wide_row(text))
    assert_all_taken(ran, 1)
    assert works.rows(HEAT_OF_SAMPLE) == [("41878-T1", "41878")]
    if text.strip() != text:
        assert any("heat_no" in note and "without blanks" in note for note in only_file(ran)["notes"])
    else:
        assert_flagged(ran, code="ROW33", row=2, column="heat_no")


def test_letter_case_and_sorts_of_dashes_do_not_part_one_sample_in_two(works: PracticeWorks) -> None:
    """Bad input 70: lower case, an en dash inside a sample number."""
    works.bring_wide(wide_row(sample="41878\u2013t1"))
    later = works.bring_wide(wide_row(sample="41878-T1"), name="later.csv")
    assert only_file(later)["rows"]["same"] == 1
    assert works.rows("SELECT sample_id, written_id FROM sample") == [("41878-T1", "41878\u2013t1")]


def test_a_heat_number_of_another_year_is_benched(works: PracticeWorks) -> None:
    """Bad input 71: 41878 of the record was tapped in April 2024."""
    bad = wide_row(sample="T2", day="2025-04-12")
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="heat_no", code="REC02", value="41878", raw=bad,
                   wanted="a heat of that time", step="2024/41878")  # fmt: skip


def test_a_sample_number_again_with_the_same_values_is_skipped_and_with_others_contested(works: PracticeWorks) -> None:
    """Bad input 72: duplicate sample id."""
    works.bring_wide(wide_row(c="0.182"))
    before = works.state()
    same = works.bring_wide(wide_row(c="0.182"), "", name="again.csv")
    assert (same.status, only_file(same)["rows"]["same"], only_file(same)["rows"]["taken"]) == (0, 1, 0)
    assert works.state().tables["analysis"] == before.tables["analysis"]
    other = works.bring_wide(wide_row(c="0.192"), name="other.csv")
    assert other.status == 3
    assert only_file(other)["rows"] == {"read": 1, "taken": 0, "same": 0, "contested": 1, "bench": 0, "refused": 0}
    (finding,) = [f for f in other.json["findings"] if f["code"] == "REC32"]
    assert finding["subject"].startswith("other.csv, row 2")
    assert "C 0.192 (known 0.182)" in finding["seen"]
    assert finding["next"]
    (sample,) = works.run("sample", "show", "41878-T1", "--json").data["samples"]
    assert [(a["state"], a["is_cast"]) for a in sample["analyses"]] == [("valid", True), ("contested", False)]
    # what the heat is judged by has not moved
    limits = works.run("judge", "41878", "--json").data["results"][0]["limits"]
    assert [each["reported"] for each in limits if each["quantity"] == "C"] == ["0.182"]


def test_one_sample_number_twice_in_a_file_with_other_values_stays_beside_as_contested(works: PracticeWorks) -> None:
    """Bad input 72: within one file."""
    ran = works.bring_wide(wide_row(c="0.182"), wide_row(c="0.182"), wide_row(c="0.192"))
    assert only_file(ran)["rows"] == {"read": 3, "taken": 1, "same": 1, "contested": 1, "bench": 0, "refused": 0}


def test_a_sample_number_of_another_heat_is_benched_and_both_heats_are_named(works: PracticeWorks) -> None:
    """Bad input 73."""
    works.bring_wide(wide_row("41878", "T9"))
    bad = wide_row("41877", "T9")
    ran = works.bring_wide(wide_row(sample="T2"), bad, name="later.csv")
    line = assert_benched(works, ran, row=3, column="sample_id", code="REC04", value="T9", raw=bad, file="later.csv")
    assert "41877" in line["message"]
    assert "41878" in line["message"]


def test_dates_of_two_kinds_in_one_column_refuse_the_file(works: PracticeWorks) -> None:
    """Bad input 74: 03/04/2026 beside 2026-04-03: day and month cannot be told apart."""
    slashed = wide_row(sample="T2").replace(at("09:22"), "03/04/2024 09:22")
    path = works.write("lab.csv", lines(WIDE, wide_row(), slashed))
    assert_file_no(works, path, "lab-wide", "FILE17", seen='"03/04/2024 09:22", where day and month', row=3,
                   column="analysed_at", step="[time] format")  # fmt: skip
    works.add_profile(SPARK_NORTH)
    theirs = works.write("spark.csv", lines(SPARK, spark_row(), spark_row(sample="N2", time="04/12/2024 09:30")))
    assert_file_no(works, theirs, "spark-north", "FILE17", seen="04/12/2024 09:30", row=3, column="Zeit")


def test_a_clear_date_of_another_kind_is_benched_alone(works: PracticeWorks) -> None:
    """Bad inputs 74 and 75: 3.4.26 has a year of two digits, but day and month of the file are not in doubt."""
    bad = spark_row(sample="N2", time="13.4.24 09:30")
    ran = works.bring_spark(spark_row(), bad)
    assert_benched(works, ran, row=3, column="Zeit", code="ROW26", value="13.4.24 09:30", raw=bad, file="spark.csv",
                   wanted="a year of four digits")  # fmt: skip


@pytest.mark.parametrize("text", ["1899-12-30T00:00:00+01:00", "1900-02-29T00:00:00+01:00", "45394.39"])
def test_what_a_spreadsheet_makes_of_dates_is_benched_and_file_wide_refused(works: PracticeWorks, text: str) -> None:
    """Bad input 75: 1899-12-30, 1900-02-29, a day count."""
    bad = wide_row(sample="T2").replace(at("09:22"), text)
    ran = works.bring_wide(wide_row(), bad)
    line = assert_benched(works, ran, row=3, column="analysed_at", code="ROW23", value=text, raw=bad)
    assert "spreadsheet" in line["message"] + line["next"]
    path = works.write("all.csv", lines(WIDE, bad, bad.replace("T2", "T3")))
    assert_file_no(works, path, "lab-wide", "FILE22", seen="no cell that can be read", column="analysed_at")


@pytest.mark.parametrize("text", ["2023-02-29T09:22:00+02:00", f"{DAY}T12:60:00+02:00", f"{DAY}T25:10:00+02:00"])
def test_a_moment_off_the_calendar_is_benched(works: PracticeWorks, text: str) -> None:
    """Bad input 76: 29 February of a common year, 12:60, 25:10."""
    bad = wide_row(sample="T2").replace(at("09:22"), text)
    ran = works.bring_wide(wide_row(), bad)
    assert_benched(works, ran, row=3, column="analysed_at", code="ROW20", value=text, raw=bad,
                   wanted="a date and time of the calendar")  # fmt: skip


def test_24_00_is_the_next_day_with_a_note(works: PracticeWorks) -> None:
    """Bad input 76: 24:00."""
    ran = works.bring_wide(wide_row().replace(at("09:22"), f"{DAY}T24:00:00+02:00"))
    assert_all_taken(ran, 1)
    assert any("24:00 read as 00:00 of the next day" in note for note in only_file(ran)["notes"])
    # midnight after 12 April 2024 in +02:00 is 22:00 UTC of that day, the 19 825th after 1970-01-01
    assert works.scalar("SELECT analysed_at FROM analysis") == (19_825 * 86_400 + 22 * 3600) * 1000


@pytest.mark.parametrize(
    ("time", "code", "words"),
    [
        # Vienna went back from +02:00 to +01:00 at 03:00 on 27 October 2024, and forward at 02:00 on 31 March 2024
        ("27.10.2024 02:30", "ROW24", "is +02:00 or +01:00 in Europe/Vienna"),
        ("31.03.2024 02:30", "ROW25", "clocks in Europe/Vienna went forward over it"),
    ],
)
def test_the_hour_that_comes_twice_and_the_one_that_never_comes_are_benched(
    works: PracticeWorks, time: str, code: str, words: str
) -> None:
    """Bad input 77: local times without an offset; a question about meaning benches, also with --yes."""
    works.add_profile(SPARK_NORTH)
    bad = spark_row(sample="N2", time=time, kind="PR")
    ran = works.bring("spark.csv", lines(SPARK, spark_row(), bad), "spark-north", "--yes")
    assert_benched(works, ran, row=3, column="Zeit", code=code, value=time, raw=bad, file="spark.csv", wanted=words)
    assert only_file(ran)["rows"]["taken"] == 1
    assert any("Europe/Vienna" in note for note in only_file(ran)["notes"])


def test_the_hour_that_comes_twice_is_mended_with_its_offset(works: PracticeWorks) -> None:
    """Bad input 77: the person who knows says which it was."""
    works.bring_spark(spark_row(sample="N2", time="27.10.2024 02:30", kind="PR"), spark_row())
    done = works.run(
        "bench", "fix", "B-1", "--set", "analysed_at=2024-10-27T02:30:00+01:00", "--reason", "TYPING", "--by", CLERK
    )
    assert done.status == 0, plain(done)
    # 02:30 in +01:00 is 01:30 UTC of 27 October 2024, the 20 023rd day after 1970-01-01
    found = works.scalar("SELECT max(analysed_at) FROM analysis")
    assert found == (20_023 * 86_400 + 3600 + 1800) * 1000


@pytest.mark.parametrize(
    ("row", "column", "code", "value"),
    [
        (wide_row(sample="T2", taken="09:30", analysed="09:22"), "analysed_at", "ROW28", at("09:22")),
        (wide_row(sample="T2", taken="07:30", analysed="07:50"), "taken_at", "REC07", at("07:30")),
        (wide_row(sample="T2", day="2090-04-12"), "taken_at", "ROW29", at("09:10", "2090-04-12")),
    ],
    ids=["analysed before taken", "taken before tapping", "still to come"],
)
def test_moments_that_cannot_follow_each_other_bench_the_row(
    works: PracticeWorks, row: str, column: str, code: str, value: str
) -> None:
    """Bad input 78; heat 41878 was tapped at 07:40."""
    ran = works.bring_wide(wide_row(), row)
    assert_benched(works, ran, row=3, column=column, code=code, value=value, raw=row)
    assert only_file(ran)["rows"]["taken"] == 1


def test_a_whole_file_before_its_tapping_moments_suggests_a_wrong_clock(works: PracticeWorks) -> None:
    """Bad input 78: clock offset suggestion if the whole file is shifted."""
    rows = [wide_row(sample=f"T{n}", taken="06:10", analysed="06:22") for n in range(4)]
    ran = works.bring_wide(*rows)
    assert only_file(ran)["rows"]["bench"] == 4
    assert any("clock of this source wrong?" in note for note in only_file(ran)["notes"])


def test_a_cut_before_its_cast_began_is_benched(works: PracticeWorks) -> None:
    """Bad input 78: a torch that clamps before the strand started at 07:32."""
    bad = f"K7,1,1,4,piece,K7-03,{at('07:31')}"
    cuts = [bad if ",K7-03," in row else row for row in CAST["cuts"]]
    ran = works.bring_cast("K7 again", cuts=cuts)
    assert_benched(works, ran, row=5, column="clamped_at", code="REC29", value=at("07:31"), raw=bad, file="K7 again",
                   sheet="cuts")  # fmt: skip


def test_a_piece_number_that_stands_twice_benches_both_rows(works: PracticeWorks) -> None:
    """Bad input 80: piece number double."""
    cuts = [row.replace("K7-05", "K7-04") for row in CAST["cuts"]]
    ran = works.bring_cast("K7 again", cuts=cuts)
    answer = only_file(ran)
    assert ran.status == 3
    assert [(b["sheet"], b["row"], b["column"], b["code"]) for b in answer["bench"]] == [
        ("cuts", 6, "piece_no", "REC19"), ("cuts", 7, "piece_no", "REC19")
    ]  # fmt: skip
    listed = {p["piece_no"]: p["class"] for p in works.run("piece", "list", "--json").data["pieces"]}
    assert "K7-04" not in listed or listed["K7-04"] == "undetermined"
    assert listed["K7-01"] == "pure"


def test_a_cut_of_a_strand_that_the_cast_does_not_have_is_benched_alone(works: PracticeWorks) -> None:
    """Bad input 80: strand 9 of 1."""
    bad = f"K7,9,1,16,piece,K7-99,{clamp(13)}"
    ran = works.bring_cast("K7 again", cuts=[*CAST["cuts"], bad])
    assert_benched(works, ran, row=17, column="strand_no", code="REC15", value="9", raw=bad, file="K7 again",
                   sheet="cuts", wanted="a strand and run of this cast (1/1)")  # fmt: skip
    listed = [p["piece_no"] for p in works.run("piece", "list", "--json").data["pieces"]]
    assert listed == [f"K7-{n:02d}" for n in range(1, 14)]


@pytest.mark.parametrize("strand", ["0", "13", "9"])
def test_a_cut_under_a_wrong_strand_is_benched_and_its_neighbours_are_undetermined(
    works: PracticeWorks, strand: str
) -> None:
    """Bad input 80: strand 0, strand 9 of 1: the cut that is missing on the right strand makes K7-06 doubtful."""
    good = CAST["cuts"][6]
    bad = good.replace("K7,1,1,", f"K7,{strand},1,")
    assert "K7-05" in bad
    ran = works.bring_cast("K7 again", cuts=[bad if row == good else row for row in CAST["cuts"]])
    code = "REC15" if strand == "9" else "ROW13"
    assert_benched(works, ran, row=7, column="strand_no", code=code, value=strand, raw=bad, file="K7 again",
                   sheet="cuts")  # fmt: skip
    listed = {p["piece_no"]: p["class"] for p in works.run("piece", "list", "--json").data["pieces"]}
    assert (listed["K7-04"], listed["K7-06"]) == ("pure", "undetermined")
    assert "K7-05" not in listed


def test_a_piece_number_of_another_cast_is_benched(works: PracticeWorks) -> None:
    """Bad input 80: a piece number reused after years."""
    before = works.run("trace", "K7-05", "--json").data["piece"]
    changed = {sheet: [row.replace("K7,", "K9,") for row in rows] for sheet, rows in CAST.items()}
    changed["heats"] = [row.replace("41877", "51877").replace("41878", "51878") for row in CAST["heats"]]
    changed["pours"] = [row.replace("41877", "51877").replace("41878", "51878") for row in changed["pours"]]
    changed["cuts"] = [row.replace("K7-", "K9-").replace("K9-05", "K7-05") for row in changed["cuts"]]
    later = {s: [row.replace(DAY, "2025-04-12") for row in rows] for s, rows in changed.items()}
    ran = works.bring_cast("K9", **later)
    (line,) = only_file(ran)["bench"]
    assert (line["row"], line["column"], line["code"], line["value"]) == (7, "piece_no", "REC19", "K7-05")
    assert "of sequence K7" in line["message"]
    assert works.run("trace", "K7-05", "--json").data["piece"] == before


@pytest.mark.parametrize(
    ("text", "code", "shown"),
    [("4" * 10_000, "ROW31", "4444"), ("41\x07878", "ROW30", "41\\x07878"), ("41\u202e878", "ROW30", "41\\u202e878")],
    ids=["10 000 signs", "a control character", "a right-to-left override"],
)
def test_an_overlong_or_steering_number_is_benched_and_shown_escaped(
    works: PracticeWorks, text: str, code: str, shown: str
) -> None:
    """Bad input 81."""
    bad = wide_row(text, "T2")
    ran = works.bring_wide(wide_row(), bad)
    (line,) = only_file(ran)["bench"]
    assert (line["row"], line["column"], line["code"]) == (3, "heat_no", code)
    assert shown in line["message"]
    assert works.bench_bytes(line["bench_no"]) == bad.encode()
    typed = plain(works.run("bench", "show", "B-1"))
    assert "\x07" not in typed
    assert "\u202e" not in typed


@pytest.mark.parametrize("word", ["attach", "fix", "void"])
def test_a_bench_command_that_names_no_row_or_heat_changes_nothing(works: PracticeWorks, word: str) -> None:
    """Bad input 68: after the bench as before it nothing is picked."""
    works.bring_wide(wide_row("41887", "T2"))
    more = {
        "attach": ("--heat", "41899"), "fix": ("--set", "heat_no=41899"), "void": ("--note", "sent twice")
    }[word]  # fmt: skip
    number = "B-9" if word == "void" else "B-1"
    says = "B-9" if word == "void" else "41899"
    assert_command_no(works, "bench", word, number, *more, "--reason", "TYPING", "--by", CLERK, says=(says,))


def test_a_file_of_bad_rows_alone_is_still_one_import_that_can_be_undone(works: PracticeWorks) -> None:
    """Bad input 68: nothing went in but the rows on the bench, and those go back as a whole."""
    before = works.live_counts()
    works.bring_wide(wide_row("41887", "T2"), wide_row("41889", "T3"))
    assert works.run("batch", "undo", "I-4", "--by", CLERK).status == 0
    assert works.live_counts() == before
    state = works.state()
    assert works.run("bench", "list", "--json").data["bench"] == []
    assert_unchanged(works, state)
