"""Bad inputs of casts: places on the strand, grades one after the other, sections; catalogue numbers 107 to 122."""

from __future__ import annotations

import pytest

from tests.bad_inputs.outcomes import assert_benched, assert_file_no, assert_whole, only_file, plain
from tests.bad_inputs.practice_works import CAST, CLERK, GRADE, METALLURGIST, PracticeWorks, at, clamp

C45E = "EN 10083-2:2006 C45E"


def classes(works: PracticeWorks) -> dict[str, str]:
    return {p["piece_no"]: p["class"] for p in works.run("piece", "list", "--json").data["pieces"]}


def renamed(sequence: str, heats: tuple[str, str], grades: tuple[str, str] = (GRADE, GRADE)) -> dict[str, list[str]]:
    """The book of K7 under another number and with other heats, tapped when those of K7 were."""
    book = {}
    for sheet, rows in CAST.items():
        book[sheet] = [
            row.replace("K7,", f"{sequence},").replace("K7-", f"{sequence}-").replace("41877", heats[0])
            .replace("41878", heats[1]) for row in rows
        ]  # fmt: skip
    book["heats"] = [
        "heat_no,grade,tapped_at,tapped_mass_t",
        f"{heats[0]},{grades[0]},{at('06:50')},20.2",
        f"{heats[1]},{grades[1]},{at('07:40')},19.6",
    ]
    return book


def test_a_cut_that_overlaps_its_neighbour_is_benched_and_the_parts_on_both_sides_are_undetermined(
    works: PracticeWorks,
) -> None:
    """Bad input 107: the sixth cut lies at 43 m, behind the fifth at 49 m; the slip draws the interval."""
    # a clamp n min after 07:32 cuts at 2n - 28 m: 43 m is cut 35.5 min after it
    bad = f"K7,1,1,6,piece,K7-05,{at('08:07:30')}"
    cuts = [bad if ",K7-05," in row else row for row in CAST["cuts"]]
    ran = works.bring_cast("K7 again", cuts=cuts)
    line = assert_benched(works, ran, row=7, column="clamped_at", code="REC29", value=at("08:07:30"), raw=bad,
                          file="K7 again", sheet="cuts", wanted="a cut that fits its strand")  # fmt: skip
    assert "|49.00 m cut 5| x43.00 m cut 6x |73.00 m cut 7|" in line["next"]
    assert "Cut 5 could be the wrong one just as well." in line["next"]
    now = classes(works)
    # on both sides of the sixth cut, and of the fifth that contradicts it
    assert [name for name, word in now.items() if word == "undetermined"] == ["K7-04", "K7-05", "K7-06"]
    assert (now["K7-03"], now["K7-07"]) == ("pure", "transition")
    # what lies on the bad cut is no part of a heat number or a release, until the cut is mended
    traced = works.run("trace", "K7-06", "--json").data
    assert (traced["class"], traced["heat_no"]) == ("undetermined", None)
    done = works.run(
        "bench", "fix", "B-1", "--set", f"clamped_at={clamp(5)}", "--reason", "TYPING", "--by", CLERK, "--json"
    )
    assert done.status == 0, plain(done)
    assert {classes(works)[f"K7-{n:02d}"] for n in range(1, 7)} == {"pure"}
    place = works.run("trace", "K7-05", "--json").data["cast_position"]
    # the piece lies between the kerfs of 10 mm of two cuts, 12 m apart: 49 m to 61 m
    assert (place["from_m"], place["to_m"]) == pytest.approx((49.0, 61.0), abs=0.011)


def test_a_cut_beyond_the_end_of_the_strand_is_benched(works: PracticeWorks) -> None:
    """Bad input 107: the strand ends at 160 m (07:32 to 08:52 at 2 m/min); a clamp at 09:07 would cut at 162 m."""
    bad = f"K7,1,1,14,piece,K7-13,{at('09:07')}"
    cuts = [bad if ",K7-13," in row else row for row in CAST["cuts"]]
    ran = works.bring_cast("K7 again", cuts=cuts)
    assert_benched(works, ran, row=15, column="clamped_at", code="REC29", value=at("09:07"), raw=bad, file="K7 again",
                   sheet="cuts")  # fmt: skip
    now = classes(works)
    assert [name for name, word in now.items() if word == "undetermined"] == ["K7-13"]


def test_two_grades_one_after_the_other_are_taken_and_every_part_they_share_waits_undecided(
    works: PracticeWorks,
) -> None:
    """Bad input 112: different grades adjacent with no separation recorded."""
    ran = works.bring_cast("K8", **renamed("K8", ("51901", "51902"), (GRADE, C45E)))
    assert only_file(ran)["state"] == "taken"
    changes = [f for f in ran.json["findings"] if f["code"] == "REC40"]
    assert len(changes) == 1, ran.json["findings"]
    assert_whole(changes[0])
    assert "change of grade to 51902" in changes[0]["seen"]
    assert changes[0]["subject"] == "K8, sheet pours, row 3, column heat_no"
    assert (ran.status, ran.json["status"]) == (3, "attention")
    # the second heat reaches the nozzle at 08:11, 39 min after the start, at 78 m: the zone begins 3 m before
    k8 = {n: c for n, c in classes(works).items() if n.startswith("K8")}
    shared = [name for name, word in k8.items() if word == "transition"]
    assert shared[0] == "K8-07"  # 73 m to 85 m
    assert k8["K8-06"] == "pure"
    quality = {p["piece_no"]: p["quality"] for p in works.run("piece", "list", "--json").data["pieces"]}
    assert {quality[name] for name in shared} == {"undecided"}
    traced = works.run("trace", "K8-07", "--json").data
    assert (traced["class"], traced["heat_no"], traced["heat_no_rule"]) == ("transition", None, "decision")
    # proposed over just those parts, and it bars nothing until a person takes it up
    proposed = works.run("holds", "--proposed", "--json").data["holds"]
    assert [(h["reason"], h["state"]) for h in proposed] == [("TRANSITION", "proposed")]
    number = proposed[0]["hold_no"]
    assert number in changes[0]["next"]
    assert works.run("hold", "--proposed", number, "--by", METALLURGIST).status == 0
    after = {p["piece_no"]: p["quality"] for p in works.run("piece", "list", "--json").data["pieces"]}
    assert {after[name] for name in shared} == {"held"}
    assert after["K8-06"] == "undecided"


def test_one_grade_after_the_same_grade_proposes_nothing(works: PracticeWorks) -> None:
    """Bad input 112, the other way round: K7 pours two heats of one grade."""
    ran = works.bring_cast("K8", **renamed("K8", ("51901", "51902")))
    assert [f for f in ran.json["findings"] if f["code"] == "REC40"] == []
    assert works.run("holds", "--proposed", "--json").data["holds"] == []


def test_a_run_said_twice_with_another_section_refuses_the_book(works: PracticeWorks) -> None:
    """Bad input 117: strand row of the same run with another section and no `sections` row."""
    strands = [*CAST["strands"], CAST["strands"][1].replace("160,160", "180,180")]
    folder = works.write_cast("K7 again", strands=strands)
    finding = assert_file_no(works, folder, "cast-book", "FILE23", seen="sequence_no + strand_no + run_no")
    assert "sheet strands" in finding["subject"]
    # a change of section while casting has its own sheet
    sections = ["sequence_no,strand_no,run_no,from_m,thickness_mm,width_mm", "K7,1,1,61.0,160,180"]
    ran = works.bring_cast("K7 with sections", sections=sections)
    assert ran.status == 0, ran.out
    assert works.run("trace", "K7-12", "--json").data["piece"]["section"].startswith("160 x 180")


def test_a_heat_in_two_casts_at_a_time_refuses_the_second_book(works: PracticeWorks) -> None:
    """Bad input 111: a heat in two sequences."""
    book = renamed("K8", ("41877", "51902"))
    folder = works.write_cast("K8", **book)
    finding = assert_file_no(works, folder, "cast-book", "REC52", seen="41877")
    assert "sheet pours" in finding["subject"]
