"""Rows of every other kind of file, from their text to the record."""

from __future__ import annotations

import pytest

from heattrace.intake.batches.import_file import LOADERS
from heattrace.intake.profiles.shipped import shipped, shipped_names
from heattrace.store.work import begin_work
from tests.conftest import Ran
from tests.make import make_decision, make_piece, make_sequence
from tests.melt_shop import BY, MeltShop

PIECES = ("S300-1-07", "S300-1-08")


def rows_of(ran: Ran) -> dict[str, int]:
    (file,) = ran.data["files"]
    return {name: count for name, count in file["rows"].items() if count and name != "read"}


def codes_of(ran: Ran) -> list[str]:
    (file,) = ran.data["files"]
    return [bench["code"] for bench in file["bench"]]


@pytest.fixture
def yard(melt_shop: MeltShop) -> MeltShop:
    """The melt shop with a traced sequence and two pieces of heat 41878."""
    heat = int(str(melt_shop.scalar("SELECT heat_id FROM heat WHERE heat_no = '41878'")))
    with begin_work(melt_shop.db, by=BY, action="test", subject="yard") as work:
        sequence = make_sequence(work, "S-300", strands=(1, 2), heat_ids=(heat,))
        for number, piece_no in enumerate(PIECES):
            make_piece(
                work, piece_no, sequence_id=sequence, cut_no=7 + number, from_m=30.0 + 6 * number,
                to_m=36.0 + 6 * number, shares={heat: 1.0}, heat_id=heat,
            )  # fmt: skip
        work.commit()
    return melt_shop


def test_every_shipped_profile_has_a_loader() -> None:
    assert {shipped(name).takes for name in shipped_names()} == set(LOADERS)


def test_a_heat_stated_anew_is_the_same_heat(melt_shop: MeltShop) -> None:
    head = "heat_no,grade,ladle_no,tapped_at,tapped_mass_t,evidence\n"
    same = "41878,EN 10025-2:2004 S355J2,7,2024-04-12T07:40:00+02:00,109.6,\n"
    assert rows_of(melt_shop.import_text("h1.csv", head + same, "heats")) == {"same": 1}
    fuller = "41878,S355J2,7,2024-04-12T07:40:00+02:00,109.6,nitrogen-binders\n"
    ran = melt_shop.import_text("h2.csv", head + fuller, "heats")
    assert (rows_of(ran), ran.json["findings"]) == ({"taken": 1}, [])
    other = fuller.replace(",7,", ",9,")
    ran = melt_shop.import_text("h4.csv", head + other, "heats")
    assert [f["code"] for f in ran.json["findings"]] == ["REC30"]
    assert melt_shop.scalar("SELECT count(*) FROM heat") == 3
    live = "SELECT ladle_no, evidence, order_line_id FROM heat_record r WHERE r.heat_id = 2 AND r.ended_no IS NULL"
    assert melt_shop.rows(live) == [("9", "nitrogen-binders", 1)]


def test_a_short_name_that_two_standards_have_goes_to_the_bench_with_both(melt_shop: MeltShop) -> None:
    text = "heat_no,grade,tapped_at\n41990,42CrMo4,2024-04-22T07:00:00+02:00\n"
    ran = melt_shop.import_text("h.csv", text, "heats")
    assert codes_of(ran) == ["REC13"]
    assert "EN 10083-3:2006 42CrMo4" in ran.data["files"][0]["bench"][0]["next"]
    mend = ("--set", "grade=EN 10083-3:2006 42CrMo4", "--reason", "TYPING", "--by", BY)
    assert melt_shop.run("bench", "fix", "B-1", *mend).status == 0


def test_an_unknown_grade_sends_a_heat_to_the_bench_with_the_nearest(melt_shop: MeltShop) -> None:
    text = "heat_no,grade,tapped_at\n41990,EN 10025-2:2004 S355J9,2024-04-22T07:00:00+02:00\n"
    ran = melt_shop.import_text("h.csv", text, "heats")
    assert codes_of(ran) == ["REC12"]
    assert "EN 10025-2:2004 S355J2" in ran.data["files"][0]["bench"][0]["next"]
    assert melt_shop.scalar("SELECT count(*) FROM heat") == 3


def test_a_heat_without_its_tapping_time_takes_the_year_of_the_import_and_says_so(melt_shop: MeltShop) -> None:
    ran = melt_shop.import_text("h.csv", "heat_no,grade\n50001,EN 10083-2:2006 C45E\n", "heats")
    assert [f["code"] for f in ran.json["findings"]] == ["REC31"]
    later = "heat_no,grade,tapped_at\n50001,EN 10083-2:2006 C45E,2024-04-30T07:00:00+02:00\n"
    assert rows_of(melt_shop.import_text("h2.csv", later, "heats")) == {"taken": 1}
    assert melt_shop.scalar("SELECT count(*) FROM heat WHERE heat_no = '50001'") == 1


def test_a_pattern_of_the_works_gives_the_series(melt_shop: MeltShop) -> None:
    set_it = ("works", "set", "heat-series", r"^(\d\d)R", "--reason", "our numbers", "--by", BY)
    assert melt_shop.run(*set_it).status == 0
    text = "heat_no,grade\n24R100,EN 10083-2:2006 C45E\nX100,EN 10083-2:2006 C45E\n"
    ran = melt_shop.import_text("h.csv", text, "heats")
    assert codes_of(ran) == ["REC23"]
    assert melt_shop.scalar("SELECT series FROM heat WHERE heat_no = '24R100'") == "24"


def test_temperatures_are_known_by_heat_place_and_moment(melt_shop: MeltShop) -> None:
    head = "heat_no,place,tundish,read_at,temperature_c\n"
    one = "41878,tundish,A,2024-04-12T09:00:00+02:00,1541\n"
    cold, early = one.replace("1541", "1042"), one.replace("2024-04", "2090-04")
    ran = melt_shop.import_text("t.csv", head + one + cold.replace("09:00", "09:01") + early, "temperatures")
    assert rows_of(ran) == {"taken": 1, "bench": 2}
    assert codes_of(ran) == ["ROW13", "ROW29"]
    assert rows_of(melt_shop.import_text("t2.csv", head + one + "\n", "temperatures")) == {"same": 1}
    ran = melt_shop.import_text("t3.csv", head + one.replace("1541", "1543.5"), "temperatures")
    assert [f["code"] for f in ran.json["findings"]] == ["REC30"]
    live = melt_shop.rows("SELECT temperature_dc, temperature_text FROM temperature WHERE ended_no IS NULL")
    assert live == [(15435, None)]
    assert melt_shop.scalar("SELECT count(*) FROM temperature") == 2


def test_additions_are_taken_by_heat_material_and_moment(melt_shop: MeltShop) -> None:
    head = "heat_no,material,mass_kg,added_at\n"
    rows = "41878,FeMn,82.50,2024-04-12T07:55:00+02:00\n99999,FeSi,40,2024-04-12T07:55:00+02:00\n"
    ran = melt_shop.import_text("a.csv", head + rows, "additions")
    assert rows_of(ran) == {"taken": 1, "bench": 1}
    assert melt_shop.rows("SELECT mass_g, mass_text FROM addition") == [(82500, "82.50")]


def test_events_need_a_known_sequence_strand_tundish_and_a_place(yard: MeltShop) -> None:
    with begin_work(yard.db, by=BY, action="test", subject="no book") as work:
        work.end("cast_record", "cast_record_id", [1])
        work.commit()
    head = "sequence_no,strand_no,run_no,tundish,heat_no,kind,from_at,to_at,from_m,to_m,note\n"
    good = "S-300,1,1,A,41878,level-swing,2024-04-12T09:30:00+02:00,2024-04-12T09:34:00+02:00,,,swing\n"
    bad = (
        "S-999,1,1,,,level-swing,2024-04-12T09:30:00+02:00,,,,\n"
        "S-300,9,1,,,level-swing,2024-04-12T09:30:00+02:00,,,,\n"
        "S-300,1,3,,,level-swing,2024-04-12T09:30:00+02:00,,,,\n"
        "S-300,1,1,Z,,level-swing,2024-04-12T09:30:00+02:00,,,,\n"
        "S-300,1,1,,,level-swing,,,,,\n"
    )
    ran = yard.import_text("e.csv", head + good + bad, "events")
    assert codes_of(ran) == ["REC10", "REC15", "REC15", "REC15", "REC16"]
    assert rows_of(yard.import_text("e2.csv", head + good + "\n", "events")) == {"same": 1}
    metres = "S-300,1,1,,,nozzle-clog,,,30.50,36,\n"
    assert rows_of(yard.import_text("e3.csv", head + metres, "events")) == {"taken": 1}
    held = yard.rows("SELECT from_um, from_text, to_um, to_text FROM event ORDER BY event_id DESC LIMIT 1")
    assert held == [(30_500_000, "30.50", 36_000_000, None)]


def test_fittings_and_oscillation_belong_to_a_sequence(yard: MeltShop) -> None:
    head = "sequence_no,strand_no,tundish,kind,number_or_lot,from_at,to_at\n"
    row = "S-300,1,A,nozzle,N-77,2024-04-12T09:00:00+02:00,\n"
    assert rows_of(yard.import_text("f.csv", head + row + row.replace("S-300,1", "S-300,7"), "fittings")) == {
        "taken": 1, "bench": 1,
    }  # fmt: skip
    assert rows_of(yard.import_text("f2.csv", head + row + "\n", "fittings")) == {"same": 1}
    swing = "sequence_no,strand_no,from_at,stroke_mm,per_min\nS-300,1,2024-04-12T09:00:00+02:00,8.0,120\n"
    assert rows_of(yard.import_text("o.csv", swing, "oscillation")) == {"taken": 1}
    assert yard.rows("SELECT stroke_mm, per_min FROM oscillation") == [("8.0", "120")]


def test_a_load_is_recorded_and_every_piece_not_released_is_named(yard: MeltShop) -> None:
    part = int(str(yard.scalar("SELECT part_id FROM part WHERE piece_no = 'S300-1-07'")))
    heat = int(str(yard.scalar("SELECT heat_id FROM heat WHERE heat_no = '41878'")))
    with begin_work(yard.db, by=BY, action="test", subject="release") as work:
        for subject in ({"heat_id": heat}, {"part_id": part}):
            make_decision(work, kind="release", requirement="4711/1", **subject)
        hold_other = {"part_id": part + 1, "kind": "reject", "requirement": "4711/1"}
        make_decision(work, **hold_other)
        work.commit()
    head = "delivery_note,customer,order_no,line,piece_no,dispatched_at\n"
    rows = "".join(f"LN-1,Harrow Forge,4711,1,{p},2024-04-20T10:00:00+02:00\n" for p in (*PIECES, "S300-1-99"))
    ran = yard.import_text("d.csv", head + rows, "dispatch")
    assert ran.status == 3
    assert rows_of(ran) == {"taken": 2, "bench": 1}
    assert codes_of(ran) == ["REC09"]
    (finding,) = ran.json["findings"]
    assert finding["code"] == "REC34"
    assert "S300-1-08 is rejected for 4711/1" in finding["seen"]
    assert yard.rows("SELECT whereabouts FROM movement WHERE delivery_note_id = 1") == [("dispatched",)] * 2
    assert rows_of(yard.import_text("d2.csv", head + rows.splitlines()[0] + "\n\n", "dispatch")) == {"same": 1}
    again = rows.replace("LN-1", "LN-2").splitlines()[0] + "\n"
    assert codes_of(yard.import_text("d3.csv", head + again, "dispatch")) == ["REC18"]


def test_one_file_is_one_load_for_the_customer_of_the_order(yard: MeltShop) -> None:
    head = "delivery_note,customer,order_no,line,piece_no,dispatched_at\n"
    row = "LN-1,Harrow Forge,4711,1,{},2024-04-20T10:00:00+02:00\n"
    before = yard.all_counts()
    two = head + row.format(PIECES[0]) + row.format(PIECES[1]).replace("LN-1", "LN-2")
    refused = yard.import_text("d.csv", two, "dispatch")
    assert refused.status == 1
    assert "one file is one load" in refused.data["files"][0]["message"]
    assert yard.all_counts() == before
    other = head + row.format(PIECES[0]).replace("Harrow Forge", "Somebody Else")
    assert codes_of(yard.import_text("d2.csv", other, "dispatch")) == ["REC17"]


def test_weights_inspections_and_other_numbers_belong_to_a_known_piece(yard: MeltShop) -> None:
    rows = "S300-1-07,3105.0,2024-04-13T10:00:00+02:00\nX-1,900,2024-04-13T10:00:00+02:00\n"
    ran = yard.import_text("w.csv", "piece_no,mass_kg,weighed_at\n" + rows, "weights")
    assert (rows_of(ran), codes_of(ran)) == ({"taken": 1, "bench": 1}, ["REC09"])
    assert yard.rows("SELECT mass_g, mass_text FROM weight") == [(3_105_000, "3105.0")]
    head = "piece_no,scheme,edition,item,rating,read_by\n"
    row = "S300-1-07,ISO 4968,2022,centre,2,R. Reader\n"
    assert rows_of(yard.import_text("i.csv", head + row, "inspections")) == {"taken": 1}
    assert rows_of(yard.import_text("i2.csv", head + row + "\n", "inspections")) == {"same": 1}
    head = "piece_no,alias,owner,from,to\n"
    good = "S300-1-07,HF-881,Harrow Forge,2024-04-20,\n"
    clash = "S300-1-08,HF-881,Harrow Forge,2024-05-01,\nS300-1-08,S300-1-07,Harrow Forge,2024-05-01,\n"
    ran = yard.import_text("n.csv", head + good + clash, "aliases")
    assert (rows_of(ran), codes_of(ran)) == ({"taken": 1, "bench": 2}, ["REC19", "REC19"])
    weighed = "piece_no,mass_kg,weighed_at\nHF-881,3106,2024-04-21T10:00:00+02:00\n"
    assert rows_of(yard.import_text("w2.csv", weighed, "weights")) == {"taken": 1}


def test_rolling_makes_children_and_uses_up_their_parent(yard: MeltShop) -> None:
    head = "parent_no,child_no,mass_kg,rolled_at,position\n"
    two = (
        "S300-1-07,R-1,1500,2024-04-25T10:00:00+02:00,head\nS300-1-07,R-2,1480,2024-04-25T10:00:00+02:00,tail\n"
        "S300-1-99,R-3,1480,2024-04-25T10:00:00+02:00,\nS300-1-08,R-4,1480,2024-04-25T10:00:00+02:00,left\n"
    )
    ran = yard.import_text("r.csv", head + two, "rolling")
    assert (rows_of(ran), codes_of(ran)) == ({"taken": 2, "bench": 2}, ["REC09", "ROW40"])
    assert yard.rows("SELECT whereabouts FROM movement WHERE part_id = 1 ORDER BY movement_id DESC LIMIT 1") == [
        ("rolled",)
    ]
    back = yard.run("trace", "R-2", "--json")
    assert [h["heat_no"] for h in back.data["heats"]] == ["41878"]
    assert rows_of(yard.import_text("r2.csv", head + two.splitlines()[0] + "\n\n", "rolling")) == {"same": 1}


def test_pieces_from_before_the_record_bring_their_heat(melt_shop: MeltShop) -> None:
    head = "piece_no,heat_no,customer,delivery_note,dispatched_at\n"
    rows = "OLD-1,33001,Harrow Forge,LN-9,2019-03-04\nOLD-2,41878,,,\nOLD-3,33001,,LN-9,2019-03-04\n"
    ran = melt_shop.import_text("p.csv", head + rows, "earlier-pieces")
    assert (rows_of(ran), codes_of(ran)) == ({"taken": 2, "bench": 1}, ["ROW72"])
    assert melt_shop.rows("SELECT series FROM heat WHERE heat_no = '33001'") == [("earlier",)]
    assert rows_of(melt_shop.import_text("p2.csv", head + rows.splitlines()[0] + "\n\n", "earlier-pieces")) == {
        "same": 1
    }
    traced = melt_shop.run("trace", "OLD-1", "--json")
    assert traced.data["dispatch"]["delivery_note"] == "LN-9"


def test_extra_limits_of_an_order_are_checked_like_a_grade_book(melt_shop: MeltShop) -> None:
    head = "order_no,line,basis,size_band_mm,quantity,min,aim,max,unit,rounding,round_to,when,report\n"
    good = "4711,1,cast,all,Cu,,,0.20,mass %,rounding,,,\n"
    bad = "4711,9,cast,all,Cu,,,0.20,mass %,rounding,,,\n4711,1,cast,all,Xx,,,0.20,mass %,rounding,,,\n"
    ran = melt_shop.import_text("l.csv", head + good + bad, "order-limits")
    assert (rows_of(ran), codes_of(ran)) == ({"taken": 1, "bench": 2}, ["REC11", "REC22"])
    assert melt_shop.rows("SELECT quantity, max_text FROM order_limit") == [("Cu", "0.20")]
    assert rows_of(melt_shop.import_text("l2.csv", head + good + "\n", "order-limits")) == {"same": 1}


def test_an_edition_out_of_force_on_the_day_of_the_order_is_not_taken(melt_shop: MeltShop) -> None:
    """Bad input 84: the editions in force are offered."""
    book = "standard,edition,grade,basis,size_band_mm,quantity,min,max,unit,rounding,source,status,valid_from,"
    book += "valid_until\n"
    for edition, first, last in (("2001", "2001-01-01", "2015-12-31"), ("2016", "2016-01-01", "")):
        row = f"W 1,{edition},Q1,cast,all,C,,0.20,mass %,rounding,made for a test,memory,{first},{last}\n"
        assert melt_shop.import_text(f"book{edition}.csv", book + row, "grade-book").status == 0
    head = "order_no,line,ordered_at,customer,grade,form,section,thickness_mm,length_m,mass_t,document\n"
    order = "77,1,2024-03-01,Harrow Forge,W 1:2001 Q1,bar,160 x 160,28,11.0,100,3.1\n"
    ran = melt_shop.import_text("o.csv", head + order, "orders")
    assert codes_of(ran) == ["REC21"]
    assert "W 1:2016 Q1" in ran.data["files"][0]["bench"][0]["next"]
