"""Cast books into the record: what their rows become, what a later edition changes, what a bad row reaches.

The small book has places in whole metres (see `small_book`), so that every expected place is hand arithmetic.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from heattrace.demo.order_of_import import source_folder
from heattrace.store.work import begin_work
from tests.cast_books import GRADE, OTHER_GRADE, CastBook, Caster, clock, findings_of, small_book
from tests.conftest import Run
from tests.make import make_decision

BY = "T. Test"
LIVE_PARTS = "SELECT piece_no, part_id FROM part WHERE ended_no IS NULL AND piece_no IS NOT NULL ORDER BY cut_no"


@pytest.fixture
def caster(tmp_path: Path, run: Run) -> Caster:
    """A works with a grade book."""
    return Caster(tmp_path, run)


def undetermined(caster: Caster) -> set[str]:
    return {name for name, part in caster.parts().items() if part["class"] == "undetermined"}


def event(kind: str = "level-swing", **cells: str) -> dict[str, str]:
    row = dict.fromkeys(
        (
            "strand_no",
            "run_no",
            "tundish",
            "heat_no",
            "kind",
            "from_at",
            "to_at",
            "from_m",
            "to_m",
            "device_distance_m",
        ),
        "",
    )
    return {"sequence_no": "S7"} | row | {"kind": kind} | cells


def marked(caster: Caster, kind: str = "level-swing") -> set[str]:
    """Pieces whose trace shows an event of a kind."""
    found = set()
    for number, _ in caster.rows(LIVE_PARTS):
        if any(e["kind"] == kind for e in caster.run("trace", number, "--json").data["events"]):
            found.add(number)
    return found


# --- taken in ---------------------------------------------------------------------------------------------------------


def test_every_row_of_a_sound_book_is_taken_and_its_parts_are_placed(caster: Caster) -> None:
    answer = caster.file(caster.send(small_book()))
    assert answer["state"] == "taken"
    assert answer["rows"]["taken"] == answer["rows"]["read"] == 2 + 1 + 1 + 2 + 1 + 1 + 1 + 10
    assert list(caster.parts()) == ["head-crop 1", *(f"S7-{k:02d}" for k in range(2, 11))]
    assert caster.run("db", "check", "--json").data["ok"] is True


def test_defaults_that_were_taken_are_told_on_the_slip(caster: Caster) -> None:
    book = small_book()
    book["strands"][0]["kerf_mm"] = ""
    book["tundishes"][0]["working_mass_t"] = ""
    notes = caster.file(caster.send(book))["notes"]
    assert any("kerf_mm empty in 1 rows: 10 taken" in note for note in notes)
    assert any("working_mass_t empty in 1 rows: mass_at_start_t taken" in note for note in notes)


def test_shares_of_every_kept_part_add_up_to_one_within_rounding(caster: Caster) -> None:
    caster.send(small_book())
    for total, heats in caster.rows("SELECT sum(mean), count(*) FROM share GROUP BY placement_id"):
        assert abs(total - 1_000_000) <= heats + 100  # heats below 1e-4 everywhere are not listed


def test_a_new_piece_lies_where_it_was_cut(caster: Caster) -> None:
    caster.send(small_book())
    assert caster.rows("SELECT DISTINCT whereabouts FROM movement") == [("cut",)]
    assert caster.scalar("SELECT count(*) FROM movement") == 10


def test_the_order_line_of_a_cut_is_that_of_the_record(caster: Caster) -> None:
    caster.send_file(
        "orders",
        "order_no,line,ordered_at,customer,grade,form,section,thickness_mm,length_m,mass_t,document\n"
        f"4711,1,2025-02-10,Harrow Forge,{GRADE},bar,160 x 160,28,11.0,520,3.1\n",
    )
    book = small_book()
    book["cuts"][4] |= {"order_no": "4711", "line": "1"}
    caster.send(book)
    assert caster.parts()["S7-05"]["piece"]["qualities"][0]["requirement"] == "4711/1"
    assert caster.parts()["S7-06"]["piece"]["qualities"][0]["requirement"] == GRADE


def test_a_heat_of_that_number_in_another_series_is_another_heat(caster: Caster) -> None:
    heats = f"heat_no,grade,series,tapped_at\n5001,{OTHER_GRADE},2024,2024-03-11T07:00:00+00:00\n"
    assert caster.send_file("heats", heats).status == 0
    caster.send(small_book())
    assert caster.parts()["S7-03"]["heats"][0]["grade"] == GRADE
    series = "SELECT h.series FROM pour p JOIN heat h ON h.heat_id = p.heat_id ORDER BY p.opened_at"
    assert caster.rows(series) == [("2025",), ("2025",)]


def test_a_heat_without_a_series_column_is_of_the_year_it_was_poured(caster: Caster) -> None:
    book = small_book()
    for row in book["heats"]:
        del row["series"]
    caster.send(book)
    assert set(caster.rows("SELECT series FROM heat")) == {("2025",)}


def test_the_casts_of_the_practice_works_come_in_clean(caster: Caster) -> None:
    folder = source_folder()
    for name, profile in (("orders.csv", "orders"), ("heats.csv", "heats")):
        caster.run("import", folder / name, "--profile", profile, "--by", BY)
    for name, parts in (("L118", 305), ("L119", 238), ("N052.xlsx", 51)):
        ran = caster.run("import", folder / "casts" / name, "--profile", "cast-book", "--by", BY, "--json")
        answer = caster.file(ran)
        assert (answer["state"], answer["bench"]) == ("taken", [])
        sequence = name.removesuffix(".xlsx")
        shown = caster.run("sequence", "show", sequence, "--json").data["pieces"]
        assert len(shown) == parts
        assert not [p for p in shown if p["class"] == "undetermined"]
    assert caster.run("db", "check", "--json").data["ok"] is True


def test_steel_in_the_tundish_at_the_start_is_of_the_heat_the_book_says(caster: Caster) -> None:
    """20 t of heat 5000 stood in the tundish and nothing of it was poured."""
    book = small_book()
    book["heats"].append({"heat_no": "5000", "grade": GRADE, "series": "2025"})
    book["tundishes"][0]["heat_at_start"] = "5000"
    caster.send(book)
    heats = {h["heat_no"]: h for h in caster.run("sequence", "balance", "S7", "--json").data["heats"]}
    assert (heats["5000"]["initial_t"], heats["5000"]["poured_t"]) == (20.0, 0.0)
    assert heats["5001"]["initial_t"] == 0.0
    first = {heat["heat_no"]: heat for heat in caster.parts()["head-crop 1"]["heats"]}
    assert first["5000"]["share_head"] == 1.0


def test_a_heat_nobody_poured_is_none_of_the_cast(caster: Caster) -> None:
    book = small_book()
    book["heats"].append({"heat_no": "5000", "grade": GRADE, "series": "2025"})
    caster.send(book)
    balance = caster.run("sequence", "balance", "S7", "--json").data
    assert [heat["heat_no"] for heat in balance["heats"]] == ["5001", "5002"]


# --- editions ---------------------------------------------------------------------------------------------------------


def test_the_same_book_twice_changes_nothing(caster: Caster) -> None:
    book = small_book()
    caster.send(book)
    before = caster.rows("SELECT max(entry_no) FROM ledger")
    again = caster.file(caster.send(book))
    assert (again["state"], again["batch"]) == ("same", "I-1")
    assert caster.rows("SELECT max(entry_no) FROM ledger") == before


def test_the_same_rows_in_another_file_are_all_same_and_make_no_edition(caster: Caster) -> None:
    caster.send(small_book())
    other = small_book()
    other.sheets["cuts"] = [dict(reversed(row.items())) for row in other["cuts"]]
    answer = caster.file(caster.send(other))
    assert answer["state"] == "taken"
    assert answer["rows"]["same"] == answer["rows"]["read"]
    assert caster.rows("SELECT edition FROM cast_record WHERE ended_no IS NULL") == [(1,)]
    written = "SELECT count(*) FROM {} WHERE entry_no = (SELECT max(entry_no) FROM ledger) OR ended_no IS NOT NULL"
    for table in ("cut", "pour", "placement", "part", "event_reach", "cast_sheet"):
        assert caster.scalar(written.format(table)) == 0


def test_a_later_book_of_a_running_cast_extends_it(caster: Caster) -> None:
    first = small_book(6)
    first.sheets["events"] = [event(strand_no="1", from_m="12", to_m="13")]
    caster.send(first)
    parts, number = caster.rows(LIVE_PARTS), caster.scalar("SELECT event_id FROM event")
    later = small_book(10)
    later.sheets["events"] = [
        event(strand_no="1", from_m="12", to_m="13"),
        event(strand_no="1", from_m="17", to_m="18"),
    ]
    answer = caster.file(caster.send(later))
    assert answer["rows"]["taken"] == 4 + 1 + 1  # cuts, an event, the book's own row with its later end
    assert caster.rows(LIVE_PARTS)[: len(parts)] == parts
    assert len(caster.rows(LIVE_PARTS)) == 9
    assert caster.rows("SELECT event_id FROM event WHERE from_um = 12000000 AND ended_no IS NULL") == [(number,)]
    assert caster.scalar("SELECT count(*) FROM placement WHERE ended_no IS NOT NULL") == 0
    assert caster.rows("SELECT edition FROM cast_record WHERE ended_no IS NULL") == [(2,)]


def test_a_corrected_ladle_time_traces_anew_and_names_the_changed_parts(caster: Caster) -> None:
    """The ladle opened in minute 40, when S was 35 m: what was cast before stays, cut 8 ends at 36 m and does not."""
    book = small_book()
    caster.send(book)
    parts, before = caster.rows(LIVE_PARTS), caster.parts()
    with begin_work(caster.db, by=BY, action="release", subject="5001") as work:
        heat_id = work.reader.scalar("SELECT heat_id FROM heat WHERE heat_no = '5001'")
        make_decision(work, requirement=GRADE, heat_id=heat_id)
        work.commit()
    late = book.copy()
    late["pours"][1]["opened_at"] = clock(45)
    ran = caster.send(late)
    changed = {f["subject"] for f in findings_of(ran, "REC38")}
    assert changed == {"piece S7-08", "piece S7-09", "piece S7-10"}
    (time,) = findings_of(ran, "REC30")
    assert time["subject"] == "book, sheet pours, row 3, column opened_at"
    assert (time["seen"], time["wanted"]) == (clock(45), f"{clock(40)}, as recorded")
    (decision,) = findings_of(ran, "REC35")
    assert decision["subject"] == "D-1"
    assert "touches piece S7-08, piece S7-09, piece S7-10" in decision["seen"]
    assert ran.status == 3
    after = caster.parts()
    assert caster.rows(LIVE_PARTS) == parts
    assert [name for name in before if before[name]["heats"] != after[name]["heats"]] == ["S7-08", "S7-09", "S7-10"]
    assert caster.scalar("SELECT count(*) FROM placement WHERE ended_no IS NOT NULL") == 3


def test_sheets_a_later_book_leaves_out_stay(caster: Caster) -> None:
    book = small_book()
    book.sheets["events"] = [event(strand_no="1", from_m="12", to_m="13")]
    caster.send(book)
    later = small_book(11)
    caster.send(later)
    assert marked(caster) == {"S7-04"}
    without = small_book(11)
    without.sheets["events"] = [event(strand_no="1", from_m="17", to_m="18")]
    caster.send(without)
    assert marked(caster) == {"S7-05"}


def test_rows_of_another_file_stay_and_are_not_written_twice(caster: Caster) -> None:
    caster.send(small_book())
    row = event(strand_no="1", from_m="12", to_m="13")
    text = ",".join(row) + "\n" + ",".join(row.values()) + "\n"
    assert caster.file(caster.send_file("events", text))["rows"]["taken"] == 1
    with_it = small_book(11)
    with_it.sheets["events"] = [row, event(strand_no="1", from_m="17", to_m="18")]
    caster.send(with_it)
    assert caster.scalar("SELECT count(*) FROM event WHERE ended_no IS NULL") == 2
    without = small_book(12)
    without.sheets["events"] = [event(strand_no="1", from_m="17", to_m="18")]
    caster.send(without)
    assert marked(caster) == {"S7-04", "S7-05"}


def test_temperatures_a_later_book_no_longer_states_are_ended(caster: Caster) -> None:
    book = small_book()
    reading = {"heat_no": "5001", "place": "tundish", "tundish": "T1", "temperature_c": "1538"}
    book.sheets["temperatures"] = [reading | {"read_at": clock(10)}, reading | {"read_at": clock(20)}]
    caster.send(book)
    later = book.copy()
    later["temperatures"][1]["read_at"] = clock(21)
    caster.send(later)
    live = "SELECT count(*) FROM temperature WHERE ended_no IS NULL"
    assert caster.scalar(live) == 2
    assert caster.scalar("SELECT count(*) FROM temperature WHERE ended_no IS NOT NULL") == 1


def test_a_cut_kind_corrected_is_another_part(caster: Caster) -> None:
    book = small_book()
    caster.send(book)
    later = book.copy()
    later["cuts"][9] |= {"kind": "scrap", "piece_no": ""}
    ran = caster.send(later)
    assert [f["subject"] for f in findings_of(ran, "REC39")] == ["piece S7-10"]
    assert "scrap 10" in caster.parts()


def test_a_hold_follows_a_piece_that_is_now_called_otherwise(caster: Caster) -> None:
    book = small_book()
    caster.send(book)
    placed = caster.run(
        "hold", "S7-04", "--reason", "LEVEL", "--note", "level swung", "--lift-on", "inspection:etch", "--by", BY
    )
    assert placed.status in (0, 3), placed.err
    later = book.copy()
    later["cuts"][3]["piece_no"] = "S7-4A"
    ran = caster.send(later)
    assert "H-1" in {f["subject"] for f in findings_of(ran, "REC35")}
    assert caster.run("trace", "S7-4A", "--json").data["piece"]["quality"] == "held"


def test_a_grade_planned_anew_traces_its_cast_anew(caster: Caster) -> None:
    caster.send(small_book())
    assert "transition" not in {caster.parts()[name]["class"] for name in ("S7-06", "S7-07")}
    text = f"heat_no,grade,series\n5002,{OTHER_GRADE},2025\n"
    ran = caster.send_file("heats", text)
    assert {f["subject"] for f in findings_of(ran, "REC38")} >= {"piece S7-08"}
    kept = "SELECT class_reasons FROM placement pl JOIN part p ON p.part_id = pl.part_id AND pl.ended_no IS NULL"
    assert "grade-change" in caster.scalar(f"{kept} WHERE p.piece_no = 'S7-08'")


def test_undoing_a_book_leaves_no_part_and_lets_it_come_again(caster: Caster) -> None:
    caster.send(small_book())
    assert caster.run("batch", "undo", "I-1", "--by", BY).status == 0
    for table in ("part", "placement", "cut", "pour", "cast_record", "movement"):
        assert caster.scalar(f"SELECT count(*) FROM {table} WHERE ended_no IS NULL") == 0
    assert caster.file(caster.send(small_book()))["state"] == "taken"
    assert len(caster.parts()) == 10


def test_undoing_a_later_edition_puts_the_earlier_one_back(caster: Caster) -> None:
    book = small_book()
    caster.send(book)
    before = caster.parts()
    late = book.copy()
    late["pours"][1]["opened_at"] = clock(45)
    late["speeds"].append(late["speeds"][0] | {"from_at": clock(60), "speed_m_min": "1.1"})
    caster.send(late)
    assert caster.parts() != before
    assert caster.run("batch", "undo", "I-2", "--by", BY).status == 0
    assert caster.parts() == before
    assert caster.run("db", "check", "--json").data["ok"] is True


# --- bad cuts ---------------------------------------------------------------------------------------------------------


def test_a_clamp_time_that_does_not_rise_leaves_both_neighbours_undetermined(caster: Caster) -> None:
    book = small_book()
    book["cuts"][5]["clamped_at"] = clock(38)  # cut 4 was clamped in minute 41
    ran = caster.send(book)
    answer = caster.file(ran)
    assert (answer["state"], ran.status) == ("taken-with-bench", 3)
    (bench,) = answer["bench"]
    assert (bench["sheet"], bench["row"], bench["code"], bench["column"]) == ("cuts", 7, "REC29", "clamped_at")
    assert "|16.00 m cut 4| |21.00 m cut 5| x13.00 m cut 6x |31.00 m cut 7| |36.00 m cut 8|" in bench["next"]
    assert undetermined(caster) == {"S7-06", "S7-07"}
    assert caster.parts()["S7-06"]["piece"]["quality"] == "undecided"
    assert caster.run("db", "check", "--json").data["ok"] is True


def test_a_mended_cut_gives_its_neighbours_their_places_back(caster: Caster) -> None:
    book = small_book()
    sound = Caster.parts
    caster.send(book.copy())
    clean = sound(caster)
    caster.run("batch", "undo", "I-1", "--by", BY)
    book["cuts"][5]["clamped_at"] = clock(38)
    caster.send(book)
    kept = caster.rows(LIVE_PARTS)
    fixed = caster.run("bench", "fix", "B-1", "--set", f"clamped_at={clock(51)}", "--reason", "TYPING", "--by", BY)
    assert fixed.status == 0, fixed.err
    assert caster.parts() == clean
    assert caster.rows(LIVE_PARTS) == kept


def test_a_mending_that_still_contradicts_is_refused(caster: Caster) -> None:
    book = small_book()
    book["cuts"][5]["clamped_at"] = clock(38)
    caster.send(book)
    ran = caster.run("bench", "fix", "B-1", "--set", f"clamped_at={clock(39)}", "--reason", "TYPING", "--by", BY)
    assert ran.status == 1
    assert undetermined(caster) == {"S7-06", "S7-07"}


def test_a_cut_beyond_the_strands_end_goes_to_the_bench(caster: Caster) -> None:
    """The feed ends in minute 50, when S is 45 m; cut 10 would lie at 46 m."""
    book = small_book()
    book["feeds"][0]["to_at"] = clock(50)
    (bench,) = caster.file(caster.send(book))["bench"]
    assert (bench["row"], bench["code"]) == (11, "REC29")
    assert "beyond the strand's end at 45.000 m" in bench["message"]
    assert "S7-10" in undetermined(caster)


@pytest.mark.parametrize("cell", [("mass_kg", "abc"), ("clamped_at", "noon"), ("kind", "peice"), ("cut_no", "six")])
def test_a_cell_that_cannot_be_read_leaves_both_neighbours_undetermined(caster: Caster, cell: tuple[str, str]) -> None:
    book = small_book()
    book["cuts"][5][cell[0]] = cell[1]
    answer = caster.file(caster.send(book))
    assert [line["row"] for line in answer["bench"]] == [7]
    doubtful = {(p["cast_position"]["cut_no"]) for p in caster.parts().values() if p["class"] == "undetermined"}
    assert doubtful == {6, 7}
    assert caster.run("db", "check", "--json").data["ok"] is True


def test_a_row_whose_strand_cannot_be_read_leaves_its_neighbours_in_the_sheet_undetermined(caster: Caster) -> None:
    book = small_book()
    book["cuts"][5] |= {"strand_no": "x", "cut_no": "y"}
    caster.send(book)
    doubtful = {(p["cast_position"]["cut_no"]) for p in caster.parts().values() if p["class"] == "undetermined"}
    assert doubtful == {6, 7}
    both = ("--set", "strand_no=1", "--set", "cut_no=6")
    fixed = caster.run("bench", "fix", "B-1", *both, "--reason", "TYPING", "--by", BY)
    assert fixed.status == 0, fixed.err
    assert undetermined(caster) == set()


def test_a_piece_without_its_number_goes_to_the_bench(caster: Caster) -> None:
    book = small_book()
    book["cuts"][5]["piece_no"] = ""
    (bench,) = caster.file(caster.send(book))["bench"]
    assert (bench["row"], bench["code"], bench["column"]) == (7, "ROW01", "piece_no")
    assert undetermined(caster) == {"piece 6", "S7-07"}


def test_a_piece_number_twice_in_a_book_sends_both_rows_to_the_bench(caster: Caster) -> None:
    book = small_book()
    book["cuts"][5]["piece_no"] = "S7-05"
    answer = caster.file(caster.send(book))
    assert [(line["row"], line["code"]) for line in answer["bench"]] == [(6, "REC19"), (7, "REC19")]
    assert "S7-05" not in caster.parts()
    assert undetermined(caster) == {"piece 5", "piece 6", "S7-07"}


def test_a_piece_number_of_another_cast_goes_to_the_bench(caster: Caster) -> None:
    caster.send(small_book())
    book = small_book(sequence_no="S8", heats=("5003", "5004"))
    book["cuts"][5]["piece_no"] = "S7-05"
    (bench,) = caster.file(caster.send(book))["bench"]
    assert (bench["row"], bench["code"]) == (7, "REC19")
    assert "sequence S7" in bench["message"]


@pytest.mark.parametrize(("cells", "code"), [({"strand_no": "9"}, "REC15"), ({"sequence_no": "S9"}, "REC10")])
def test_a_cut_of_no_strand_of_this_cast_goes_to_the_bench_alone(
    caster: Caster, cells: dict[str, str], code: str
) -> None:
    book = small_book()
    book["cuts"].append(book["cuts"][9] | {"cut_no": "11", "piece_no": "S7-11"} | cells)
    (bench,) = caster.file(caster.send(book))["bench"]
    assert bench["code"] == code
    assert undetermined(caster) == set()


def test_a_strand_number_beyond_what_a_caster_has_goes_to_the_bench(caster: Caster) -> None:
    for number in ("0", "99"):
        book = small_book(sequence_no=f"S{number}", heats=(f"6{number}1", f"6{number}2"))
        book["cuts"].append(book["cuts"][9] | {"cut_no": "11", "piece_no": f"X{number}", "strand_no": number})
        assert caster.file(caster.send(book))["state"] == "taken-with-bench"


def test_an_unknown_order_on_a_cut_goes_to_the_bench(caster: Caster) -> None:
    book = small_book()
    book["cuts"][5] |= {"order_no": "9999", "line": "1"}
    (bench,) = caster.file(caster.send(book))["bench"]
    assert bench["code"] == "REC11"
    assert undetermined(caster) == {"S7-06", "S7-07"}


def test_a_length_that_does_not_fit_flags_its_row(caster: Caster) -> None:
    """Cut 6 closes 4.990 m; 4.80 m measured is 190 mm short."""
    book = small_book()
    book["cuts"][5]["measured_length_m"] = "4.80"
    (finding,) = findings_of(caster.send(book), "length-residual")
    assert finding["subject"] == "book, sheet cuts, row 7, column measured_length_m"
    assert "-190 mm" in finding["seen"]
    part = caster.parts()["S7-06"]
    assert part["cast_position"]["residual_mm"] == pytest.approx(-190.0)
    assert part["class"] != "undetermined"


def test_a_bad_section_or_counter_goes_to_the_bench_alone_and_can_be_mended(caster: Caster) -> None:
    """From 20 m on the section is 220 x 320 mm: 4.99 m of it weigh 4.99 x 7.85 x 0.0704 / 1.0118 = 2.7255 t."""
    book = small_book()
    run = {"sequence_no": "S7", "strand_no": "1", "run_no": "1"}
    book.sheets["sections"] = [run | {"from_m": "20", "thickness_mm": "220", "width_mm": "wide"}]
    book.sheets["counters"] = [
        run | {"read_at": clock(25), "counter_m": "20.0"}, run | {"read_at": clock(35), "counter_m": "far"},
    ]  # fmt: skip
    answer = caster.file(caster.send(book))
    assert [(line["sheet"], line["row"]) for line in answer["bench"]] == [("counters", 3), ("sections", 2)]
    assert undetermined(caster) == set()
    assert caster.parts()["S7-08"]["piece"]["section"] == "220 x 300 mm"
    for number, cell in (("B-1", "counter_m=30.0"), ("B-2", "width_mm=320")):
        fixed = caster.run("bench", "fix", number, "--set", cell, "--reason", "TYPING", "--by", BY)
        assert fixed.status in (0, 3), fixed.err
    piece = caster.parts()["S7-08"]["piece"]
    assert piece["section"] == "220 x 320 mm"
    assert piece["mass_kg"] == pytest.approx(4.99 * 7.85 * 0.0704 / 1.0118 * 1000)
    assert caster.scalar("SELECT count(*) FROM counter WHERE ended_no IS NULL") == 2


# --- books refused ----------------------------------------------------------------------------------------------------


def _spoil(sheet: str, **cells: str) -> Any:
    def spoil(book: CastBook) -> None:
        book[sheet][0] |= cells

    return spoil


def _another_section(book: CastBook) -> None:
    book["strands"].append(book["strands"][0] | {"thickness_mm": "250"})


def _reading(book: CastBook) -> None:
    book.sheets["tundish_masses"] = [{"sequence_no": "S7", "tundish": "T9", "read_at": clock(9), "mass_t": "20"}]


def _tapped_late(book: CastBook) -> None:
    book["heats"][1]["tapped_at"] = clock(41)


def _at_one_moment(book: CastBook) -> None:
    book["pours"][1]["opened_at"] = clock(0)


def _again_later(book: CastBook) -> None:
    book["pours"][1] |= {"closed_at": clock(60)}
    book["pours"].append(book["pours"][0] | {"opened_at": clock(60), "closed_at": ""})


def _two_sequences(book: CastBook) -> None:
    book["sequences"].append(book["sequences"][0] | {"sequence_no": "S8"})


def _no_feed(book: CastBook) -> None:
    book["feeds"][0]["run_no"] = "2"
    book["strands"].append(book["strands"][0] | {"run_no": "2", "started_at": clock(50)})


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (_spoil("speeds", speed_m_min="fast"), "FILE23"),
        (_spoil("speeds", strand_no="2"), "REC15"),
        (_spoil("feeds", tundish="T9"), "REC15"),
        (_spoil("feeds", from_at="noon"), "FILE23"),
        (_spoil("pours", tundish="T9"), "REC15"),
        (_spoil("pours", heat_no="9999"), "REC01"),
        (_spoil("tundishes", mass_at_start_t="-3"), "FILE23"),
        (_spoil("tundishes", heat_at_start="9999"), "REC01"),
        (_spoil("strands", thickness_mm=""), "FILE23"),
        (_spoil("pours", sequence_no="S9"), "REC50"),
        (_reading, "REC15"),
        (_another_section, "FILE23"),
        (_tapped_late, "REC53"),
        (_at_one_moment, "REC53"),
        (_again_later, "REC53"),
        (_two_sequences, "REC50"),
        (_no_feed, "REC54"),
    ],
)
def test_a_bad_row_that_all_others_rest_on_refuses_the_book(caster: Caster, spoil: Any, code: str) -> None:
    book = small_book()
    spoil(book)
    ran = caster.send(book)
    assert caster.file(ran)["state"] == "refused"
    assert ran.status == 1
    assert code in {f["code"] for f in ran.json["findings"]}
    for table in ("sequence", "heat", "batch", "cast_record", "part"):
        assert caster.scalar(f"SELECT count(*) FROM {table}") == 0


def test_a_heat_of_another_sequence_refuses_the_book(caster: Caster) -> None:
    caster.send(small_book())
    ran = caster.send(small_book(sequence_no="S8", heats=("5002", "5003")))
    assert caster.file(ran)["state"] == "refused"
    (finding,) = findings_of(ran, "REC52")
    assert "sequence S7" in finding["seen"]


def test_a_heat_number_that_fits_two_heats_refuses_the_book(caster: Caster) -> None:
    caster.send_file("heats", f"heat_no,grade,series\n5001,{GRADE},north\n5001,{GRADE},south\n")
    book = small_book()
    for row in book["heats"]:
        del row["series"]
    ran = caster.send(book)
    assert caster.file(ran)["state"] == "refused"
    (finding,) = findings_of(ran, "REC03")
    assert "north/5001" in finding["next"]
    assert "south/5001" in finding["next"]


def test_a_sequence_number_of_another_caster_is_refused(caster: Caster) -> None:
    caster.send(small_book())
    other = small_book()
    other["sequences"][0]["caster"] = "CC2"
    assert findings_of(caster.send(other), "REC51")


def test_a_sequence_number_used_again_a_year_later_is_refused(caster: Caster) -> None:
    caster.send(small_book())
    other = small_book(heats=("7001", "7002"))
    for rows in other.sheets.values():
        for row in rows:
            row.update({name: text.replace("2025-", "2026-") for name, text in row.items() if "T" in text})
    (finding,) = findings_of(caster.send(other), "REC51")
    assert "2026-03-11" in finding["seen"]


# --- events -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cells", "pieces"),
    [
        # In minute 20.5 S is 15.5 m, in minute 24.2 it is 19.2 m; cut 4 lies at 16 m.
        ({"strand_no": "1", "from_at": clock(20.5), "to_at": clock(24.2)}, {"S7-04", "S7-05"}),
        # 5 m below the mould it touches 10.5 to 14.2 m; cut 3 lies at 11 m.
        (
            {"strand_no": "1", "from_at": clock(20.5), "to_at": clock(24.2), "device_distance_m": "5"},
            {"S7-03", "S7-04"},
        ),
        ({"strand_no": "1", "from_m": "27", "to_m": "28"}, {"S7-07"}),
        ({"tundish": "T1", "from_at": clock(20.5), "to_at": clock(20.6)}, {"S7-04"}),
        # No end: from 38 m, cut 9 lies at 41 m, to the strand's end.
        ({"strand_no": "1", "from_at": clock(43)}, {"S7-09", "S7-10"}),
    ],
)
def test_an_event_marks_the_pieces_it_overlaps(caster: Caster, cells: dict[str, str], pieces: set[str]) -> None:
    book = small_book()
    book.sheets["events"] = [event(**cells)]
    ran = caster.send(book)
    assert caster.file(ran)["state"] == "taken"
    assert marked(caster) == pieces
    assert bool(findings_of(ran, "event-open-end")) == ("to_at" not in cells and "to_m" not in cells)
    for name in pieces:
        assert caster.parts()[name]["piece"]["quality"] == "undecided"


@pytest.mark.parametrize(
    ("cells", "code"),
    [
        ({"strand_no": "1", "from_at": clock(30), "to_at": clock(20)}, "ROW28"),
        ({"strand_no": "1", "from_at": clock(1), "to_at": clock(2)}, "REC24"),
        ({"strand_no": "2", "from_at": clock(20), "to_at": clock(21)}, "REC15"),
        ({"tundish": "T9", "from_at": clock(20), "to_at": clock(21)}, "REC15"),
        ({"strand_no": "1"}, "REC16"),
        ({"sequence_no": "S9", "from_m": "3"}, "REC10"),
    ],
)
def test_an_event_that_cannot_stand_goes_to_the_bench_alone(caster: Caster, cells: dict[str, str], code: str) -> None:
    book = small_book()
    book.sheets["events"] = [event(**cells), event(strand_no="1", from_m="12", to_m="13")]
    answer = caster.file(caster.send(book))
    assert [(line["sheet"], line["row"], line["code"]) for line in answer["bench"]] == [("events", 2, code)]
    assert marked(caster) == {"S7-04"}


def test_an_event_file_is_held_to_the_same(caster: Caster) -> None:
    caster.send(small_book())
    row = event(strand_no="1", from_at=clock(1), to_at=clock(2))
    text = ",".join(row) + "\n" + ",".join(row.values()) + "\n"
    (bench,) = caster.file(caster.send_file("events", text))["bench"]
    assert bench["code"] == "REC24"


def test_an_event_in_minutes_marks_the_widest_stretch_where_the_speed_is_unknown(caster: Caster) -> None:
    """Unknown from minute 30 to 40 between 1.0 and 1.2 m/min: S(40) is 35 to 37 m, then 1.2 m/min.

    Minute 45 to 46 is 41.0 to 42.2 m by the lower end, 43.0 to 44.2 m by the upper.
    """
    book = small_book()
    row = book["speeds"][0]
    unknown, known = {"from_at": clock(30), "speed_m_min": ""}, {"from_at": clock(40), "speed_m_min": "1.2"}
    book["speeds"].extend([row | unknown, row | known])
    book.sheets["events"] = [event(strand_no="1", from_at=clock(45), to_at=clock(46))]
    ran = caster.send(book)
    ((low, high),) = caster.rows("SELECT from_um, to_um FROM event_reach")
    assert (low, high) == (41_000_000, 44_200_000)
    assert findings_of(ran, "event-without-metres")


def test_a_works_reach_widens_an_event(caster: Caster) -> None:
    """27 to 28 m with 2 m towards older and 4 m towards newer steel: 25 to 32 m; cuts lie at 26 and 31 m."""
    caster.run("works", "set", "event-reach", "level-swing=2,4", "--reason", "test", "--by", BY)
    book = small_book()
    book.sheets["events"] = [event(strand_no="1", from_m="27", to_m="28")]
    caster.send(book)
    assert marked(caster) == {"S7-06", "S7-07", "S7-08"}


# --- a change of grade ------------------------------------------------------------------------------------------------


def graded_book(cuts: int = 10) -> CastBook:
    book = small_book(cuts)
    book["heats"][1]["grade"] = OTHER_GRADE
    return book


def test_a_change_of_grade_proposes_a_hold_over_its_parts_once(caster: Caster) -> None:
    """The new heat reaches the nozzle at 35 m, less 3 m of guard: from 32 m on, so cut 8 (31 to 36 m) and all after."""
    ran = caster.send(graded_book())
    assert findings_of(ran, "REC40")
    changed = {name for name, part in caster.parts().items() if part["class"] == "transition"}
    assert changed == {"S7-08", "S7-09", "S7-10"}
    scopes = "SELECT x.hold_id, p.piece_no FROM hold_scope x JOIN part p ON p.part_id = x.part_id ORDER BY p.piece_no"
    assert caster.rows(scopes) == [(1, "S7-08"), (1, "S7-09"), (1, "S7-10")]
    assert caster.rows("SELECT reason, state FROM hold JOIN hold_event USING (hold_id)") == [("TRANSITION", "proposed")]
    assert caster.parts()["S7-08"]["piece"]["quality"] == "undecided"
    taken_up = caster.run("hold", "--proposed", "H-1", "--by", BY)
    assert taken_up.status in (0, 3), taken_up.err
    assert caster.parts()["S7-08"]["piece"]["quality"] == "held"
    caster.send(graded_book(11))
    assert caster.rows(scopes) == [(1, "S7-08"), (1, "S7-09"), (1, "S7-10"), (2, "S7-11")]


def test_a_proposed_hold_goes_with_the_book_that_is_undone(caster: Caster) -> None:
    caster.send(graded_book())
    assert caster.run("batch", "undo", "I-1", "--by", BY).status == 0
    assert caster.scalar("SELECT count(*) FROM hold WHERE ended_no IS NULL") == 0


def test_heats_of_one_grade_propose_nothing(caster: Caster) -> None:
    assert not findings_of(caster.send(small_book()), "REC40")
    assert caster.scalar("SELECT count(*) FROM hold") == 0


def test_a_heat_whose_grade_is_not_known_is_taken_as_a_change_of_grade(caster: Caster) -> None:
    book = small_book()
    book["heats"][1]["grade"] = "Q999 of nowhere"
    answer = caster.file(caster.send(book))
    assert [line["code"] for line in answer["bench"]] == ["REC12"]
    assert caster.parts()["S7-08"]["class"] == "transition"
    fixed = caster.run("bench", "fix", "B-1", "--set", f"grade={GRADE}", "--reason", "TYPING", "--by", BY)
    assert fixed.status in (0, 3), fixed.err
    reasons = {reason["code"] for reason in caster.parts()["S7-09"]["class_reasons"]}
    assert "grade-change" not in reasons
