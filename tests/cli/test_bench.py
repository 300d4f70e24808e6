"""Rows set aside, put right: the same checks again, the original kept, the reason beside it."""

from __future__ import annotations

import json
import shutil

from heattrace.demo.order_of_import import source_folder
from tests.melt_shop import BY, WIDE, MeltShop, wide_row

FIX = ("--reason", "TYPING", "--by", BY, "--json")
SPARK = "Charge;Probe;Art;Zeile;Zeit;C;Mn;N;Al;Bemerkung\n"


def test_a_cell_put_right_takes_the_row_in_with_its_own_row_number(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(sample="T2"), wide_row(c="0,18"), name="lab.csv")
    melt_shop.import_text("quoted.csv", f"{WIDE}\n{wide_row(c='0.18 2')}\n", "lab-wide")
    (bench,) = melt_shop.run("bench", "list", "--json").data["bench"][-1:]
    assert (bench["column"], bench["value"]) == ("C", "0.18 2")
    assert "--set C=VALUE" in bench["next"]
    done = melt_shop.run("bench", "fix", bench["bench_no"], "--set", "C=0.182", *FIX)
    assert done.status == 0, done.out
    assert done.data["rows"] == {"taken": 1, "same": 0, "contested": 0}
    assert done.data["bench"][0]["state"] == "fixed"
    row = melt_shop.rows("SELECT a.row_no, a.batch_id FROM analysis a ORDER BY a.analysis_id DESC LIMIT 1")
    assert row == [(2, 4)]
    changes, reason = melt_shop.rows("SELECT changes, reason FROM bench_event")[0]
    assert (json.loads(str(changes)), reason) == ({"C": "0.182"}, "TYPING")
    assert melt_shop.rows("SELECT action FROM ledger ORDER BY entry_no DESC LIMIT 1") == [("bench fix",)]


def test_a_row_that_is_still_wrong_changes_nothing(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(c="0.18 2"))
    before = melt_shop.all_counts()
    for setting in ("C=0.18 3", "heat_no=99999"):
        refused = melt_shop.run("bench", "fix", "B-1", "--set", setting, *FIX)
        assert refused.status == 1
        assert "Nothing was changed" in refused.json["messages"][0] or "cannot be read" in refused.json["messages"][0]
    unknown = melt_shop.run("bench", "fix", "B-1", "--set", "Carbon=0.182", *FIX)
    assert unknown.status == 2
    assert melt_shop.run("bench", "fix", "B-7", *FIX).status == 1
    assert melt_shop.run("bench", "fix", "B-1", "--set", "C=0.182", "--reason", "NONSENSE", "--by", BY).status == 2
    assert melt_shop.all_counts() == before


def test_a_row_is_settled_once(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(c="0.18 2"))
    assert melt_shop.run("bench", "fix", "B-1", "--set", "C=0.182", *FIX).status == 0
    again = melt_shop.run("bench", "fix", "B-1", "--set", "C=0.183", *FIX)
    assert again.status == 1
    assert "fixed already" in again.json["messages"][0]


def test_numbers_typed_with_a_point_and_times_with_an_offset_reach_a_file_of_commas_and_local_times(
    melt_shop: MeltShop,
) -> None:
    melt_shop.add_profile()
    rows = "41878;V1;TV;MW;;0,18 2;1,44;58;0,03;\n41877;V2;TV;MW;24.04.2024 09:31;0,18;1,4;58;0,03;\n"
    melt_shop.import_text("export.csv", SPARK + rows, "spark-east")
    done = melt_shop.run(
        "bench", "fix", "B-1", "--set", "C=0.182", "--set", "analysed_at=2024-04-24T09:22:00+02:00", *FIX
    )
    assert done.status == 0, done.out
    # 09:22 in Vienna in April is 07:22 UTC; the day is the 19 837th after 1970-01-01.
    mended = melt_shop.rows("SELECT analysed_at FROM analysis ORDER BY analysis_id DESC LIMIT 1")
    assert mended == [((19_837 * 86_400 + 7 * 3600 + 22 * 60) * 1000,)]
    assert melt_shop.rows("SELECT value_ppb FROM result WHERE element_id = 1 AND analysis_id = 2") == [(1_820_000,)]
    told = json.loads(str(melt_shop.scalar("SELECT changes FROM bench_event")))
    assert told == {"C": "0,182", "Zeit": "24.04.2024 09:22"}


def test_rows_of_one_analysis_are_attached_together(melt_shop: MeltShop) -> None:
    head = "heat_no,sample_id,sample_kind,taken_at,analysed_at,method,instrument,element,value,unit"
    about = "41887,T1,tundish-steady,2024-04-12T09:10:00+02:00,2024-04-12T09:44:00+02:00,combustion-infrared,CS1"
    ran = melt_shop.import_text("cs.csv", f"{head}\n{about},C,0.181,%\n{about},S,0.0081,%\n", "lab-long")
    assert ran.data["files"][0]["rows"]["bench"] == 2
    done = melt_shop.run("bench", "attach", "B-1", "B-2", "--heat", "41878", "--reason", "WRONG-HEAT", "--by", BY)
    assert done.status == 0
    assert melt_shop.scalar("SELECT count(*) FROM analysis") == 1
    assert melt_shop.scalar("SELECT count(*) FROM result") == 2
    assert melt_shop.rows("SELECT DISTINCT state FROM bench_event") == [("attached",)]


def test_one_result_mended_later_joins_its_analysis(melt_shop: MeltShop) -> None:
    head = "heat_no,sample_id,sample_kind,taken_at,analysed_at,method,instrument,element,value,unit"
    about = "41878,T1,tundish-steady,2024-04-12T09:10:00+02:00,2024-04-12T09:44:00+02:00,combustion-infrared,CS1"
    melt_shop.import_text("cs.csv", f"{head}\n{about},C,0.181,%\n{about},S,0.oo81,%\n", "lab-long")
    assert melt_shop.run("bench", "fix", "B-1", "--set", "value=0.0081", *FIX).status == 0
    live = "SELECT r.element_id FROM result r JOIN analysis a ON a.analysis_id = r.analysis_id AND a.ended_no IS NULL"
    assert melt_shop.rows(f"{live} ORDER BY 1") == [(1,), (5,)]


def test_a_void_row_keeps_its_bytes_its_reason_and_its_note(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(c="0.18 2"))
    raw = melt_shop.scalar("SELECT raw FROM bench_row")
    without = melt_shop.run("bench", "void", "B-1", "--reason", "DOUBLE-ROW", "--note", " ", "--by", BY)
    assert without.status == 2
    done = melt_shop.run("bench", "void", "B-1", "--reason", "DOUBLE-ROW", "--note", "sent twice", "--by", BY)
    assert done.status == 0
    shown = melt_shop.run("bench", "show", "B-1", "--json").data["bench"]
    assert shown["state"] == "void"
    assert bytes.fromhex(shown["raw_hex"]) == raw
    assert [(e["state"], e["reason"], e["note"]) for e in shown["story"]] == [("void", "DOUBLE-ROW", "sent twice")]


def test_a_row_is_shown_with_its_cells_and_odd_signs_escaped(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row("41\u202e878"), wide_row(sample="T\x002"))
    shown = melt_shop.run("bench", "show", "B-1")
    assert shown.status == 0
    assert "\u202e" not in shown.out
    assert "\\u202e" in shown.out
    assert "*heat_no" in shown.out
    assert "\x00" not in melt_shop.run("bench", "show", "B-2").out


def test_a_row_waiting_for_its_orders_is_tried_again_when_they_have_come(melt_shop: MeltShop) -> None:
    heats = "heat_no,grade,tapped_at,order_no,line\n41960,EN 10083-2:2006 C45E,2024-04-21T07:00:00+02:00,5001,2\n"
    ran = melt_shop.import_text("heats2.csv", heats, "heats")
    (bench,) = ran.data["files"][0]["bench"]
    assert bench["code"] == "REC11"
    early = melt_shop.run("bench", "fix", "B-1", "--reason", "DOC-MISSING", "--by", BY)
    assert early.status == 1
    orders = (
        "order_no,line,ordered_at,customer,grade,form,section,thickness_mm,length_m,mass_t,document\n"
        "5001,2,2024-03-01,Harrow Forge,EN 10083-2:2006 C45E,bar,220 x 300,95,4.6,100,3.1\n"
    )
    melt_shop.import_text("orders2.csv", orders, "orders")
    assert melt_shop.run("bench", "fix", "B-1", "--reason", "DOC-MISSING", "--by", BY).status == 0
    linked = melt_shop.scalar(
        "SELECT o.order_no FROM heat_record r JOIN heat h ON h.heat_id = r.heat_id JOIN order_line o "
        "ON o.order_line_id = r.order_line_id WHERE h.heat_no = '41960'"
    )
    assert linked == "5001"


def test_a_temperature_of_an_unknown_heat_is_attached(melt_shop: MeltShop) -> None:
    text = "heat_no,place,read_at,temperature_c\n41887,tundish,2024-04-12T09:00:00+02:00,1541\n"
    ran = melt_shop.import_text("t.csv", text, "temperatures")
    assert ran.data["files"][0]["bench"][0]["code"] == "REC01"
    done = melt_shop.run("bench", "attach", "B-1", "--heat", "41878", "--reason", "WRONG-HEAT", "--by", BY)
    assert done.status == 0
    assert melt_shop.rows("SELECT temperature_dc FROM temperature") == [(15410,)]


def test_a_cut_of_a_cast_book_is_mended_and_its_neighbours_are_no_longer_in_doubt(melt_shop: MeltShop) -> None:
    source = source_folder()
    for name in ("orders", "heats"):
        assert melt_shop.run("import", source / f"{name}.csv", "--profile", name, "--by", BY).status == 0
    folder = melt_shop.folder / "L118"
    shutil.copytree(source / "casts" / "L118", folder)
    lines = (folder / "cuts.csv").read_text().splitlines()
    header = lines[0].split(",")
    at = header.index("clamped_at")
    cells = lines[6].split(",")
    right = cells[at]
    cells[at] = right[:11] + "09:6x" + right[16:]
    lines[6] = ",".join(cells)
    (folder / "cuts.csv").write_text("\n".join(lines) + "\n")
    ran = melt_shop.run("import", folder, "--profile", "cast-book", "--by", BY, "--json")
    (bench,) = ran.data["files"][0]["bench"]
    assert (bench["sheet"], bench["row"], bench["column"]) == ("cuts", 7, "clamped_at")
    undetermined = "SELECT count(*) FROM placement p WHERE p.cast_class = 'undetermined' AND p.ended_no IS NULL"
    assert int(str(melt_shop.scalar(undetermined))) >= 2
    done = melt_shop.run("bench", "fix", bench["bench_no"], "--set", f"clamped_at={right}", *FIX)
    assert done.status == 0, done.out
    assert melt_shop.scalar(undetermined) == 0
    assert melt_shop.scalar("SELECT raw FROM bench_row") == lines[6].encode()
