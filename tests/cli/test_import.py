"""Stories of the lab clerk: files taken in, taken again, rows set aside, nothing written where nothing should be."""

from __future__ import annotations

import json
import sqlite3
from typing import Any

from heattrace.intake.batches.content_digest import HANGING, content_digest
from heattrace.store.citations import lender_of
from heattrace.store.engine import open_reader
from heattrace.store.ledger import verify_chain
from heattrace.store.work import begin_work
from tests.conftest import Ran
from tests.make import make_decision
from tests.melt_shop import BY, ORDERS, WIDE, MeltShop, wide_row

FILE_KEYS = {"batch", "file", "sha256", "profile", "state", "rows", "bench"}
ROW_KEYS = {"read", "taken", "same", "contested", "bench", "refused"}
BENCH_KEYS = {"bench_no", "sheet", "row", "column", "value", "code", "message", "next"}


def only(ran: Ran) -> dict[str, Any]:
    (file,) = ran.data["files"]
    return file  # type: ignore[no-any-return]


def sample_of(melt_shop: MeltShop, number: str) -> dict[str, Any]:
    (sample,) = melt_shop.run("sample", "show", number, "--json").data["samples"]
    return sample  # type: ignore[no-any-return]


def test_a_file_taken_in_has_every_promised_key_and_one_ledger_entry(melt_shop: MeltShop) -> None:
    before = melt_shop.scalar("SELECT max(entry_no) FROM ledger")
    ran = melt_shop.import_wide(wide_row())
    assert ran.status == 0
    assert set(ran.json) == {"heattrace", "command", "status", "data", "findings", "messages"}
    assert (ran.json["command"], ran.json["status"]) == ("import", "done")
    file = only(ran)
    assert set(file) >= FILE_KEYS
    assert set(file["rows"]) == ROW_KEYS
    assert file["rows"] == {"read": 1, "taken": 1, "same": 0, "contested": 0, "bench": 0, "refused": 0}
    assert (file["batch"], file["state"], file["file"], file["profile"]) == ("I-3", "taken", "lab.csv", "lab-wide")
    assert melt_shop.scalar("SELECT max(entry_no) FROM ledger") == before + 1  # type: ignore[operator]
    action, subject = melt_shop.rows("SELECT action, subject FROM ledger ORDER BY entry_no DESC LIMIT 1")[0]
    assert (action, subject) == ("import", "lab.csv")


def test_results_keep_the_digits_of_the_file(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(c="0.20", n="<0.0020"), wide_row(sample="T2", c="", n="0.00580001"))
    shown = sample_of(melt_shop, "41878-T1")
    results = {r["element"]: r["reported"] for r in shown["analyses"][0]["results"]}
    assert (results["C"], results["N"]) == ("0.20", "<0.0020")
    second = sample_of(melt_shop, "T2")["analyses"][0]["results"]
    assert {r["element"]: r["reported"] for r in second}["N"] == "0.00580001"
    assert {r["element"]: r["reported"] for r in second}["C"] is None


def test_the_same_file_again_changes_nothing_and_says_where_it_went(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(), wide_row(sample="T2"))
    before = melt_shop.all_counts()
    again = melt_shop.import_wide(wide_row(), wide_row(sample="T2"))
    assert again.status == 0
    assert only(again)["state"] == "same"
    assert only(again)["batch"] == "I-3"
    assert only(again)["rows"]["same"] == 2
    renamed = melt_shop.import_wide(wide_row(), wide_row(sample="T2"), name="another-name.csv")
    assert only(renamed)["state"] == "same"
    assert "as I-3 under the name lab.csv" in str(only(renamed)["message"])
    assert melt_shop.all_counts() == before


def test_a_cumulative_export_brings_only_its_new_rows(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(), wide_row(sample="T2"))
    more = melt_shop.import_wide(wide_row(), wide_row(sample="T2"), wide_row(sample="T3"), name="later.csv")
    assert only(more)["rows"] == {"read": 3, "taken": 1, "same": 2, "contested": 0, "bench": 0, "refused": 0}
    assert melt_shop.scalar("SELECT count(*) FROM analysis") == 3


def test_changed_values_of_a_known_analysis_stand_beside_it_as_contested(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(c="0.182"))
    changed = melt_shop.import_wide(wide_row(c="0.192"), name="later.csv")
    assert changed.status == 3
    assert only(changed)["rows"]["contested"] == 1
    (finding,) = changed.json["findings"]
    assert finding["code"] == "REC32"
    assert "C 0.192 (known 0.182)" in finding["seen"]
    states = melt_shop.rows("SELECT state FROM analysis ORDER BY analysis_id")
    assert states == [("valid",), ("contested",)]
    again = melt_shop.import_wide(wide_row(c="0.192"), wide_row(sample="T2"), name="third.csv")
    assert only(again)["rows"] == {"read": 2, "taken": 1, "same": 1, "contested": 0, "bench": 0, "refused": 0}


def test_an_element_that_comes_later_makes_the_analysis_fuller(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(n=""))
    later = melt_shop.import_wide(wide_row(n="0.0061"), name="later.csv")
    assert only(later)["rows"]["taken"] == 1
    live = melt_shop.rows("SELECT analysis_id, state FROM analysis WHERE ended_no IS NULL")
    assert live == [(2, "valid")]
    held = melt_shop.rows("SELECT value_ppb FROM result WHERE analysis_id = 2 AND element_id IN (1, 12) ORDER BY 1")
    assert held == [(61000,), (1820000,)]


def test_an_unknown_heat_goes_to_the_bench_with_the_nearest_open_heats(melt_shop: MeltShop) -> None:
    ran = melt_shop.import_wide(wide_row("41887"), wide_row(sample="T2"))
    assert ran.status == 3
    assert ran.json["status"] == "attention"
    file = only(ran)
    assert file["state"] == "taken-with-bench"
    (bench,) = file["bench"]
    assert set(bench) == BENCH_KEYS
    assert (bench["bench_no"], bench["sheet"], bench["row"], bench["column"]) == ("B-1", "", 2, "heat_no")
    assert (bench["value"], bench["code"]) == ("41887", "REC01")
    assert bench["message"] == 'lab.csv, row 2, column "heat_no": found "41887"; a heat of the record was expected.'
    # 41878 was tapped at 07:40, the sample taken at 09:10: an hour and a half after.
    assert "41878 (signs 4 and 5 swapped; tapped 1 h 30 min before)" in bench["next"]
    assert bench["next"].endswith("heattrace bench attach B-1 --heat 41878 --reason WRONG-HEAT")
    assert melt_shop.scalar("SELECT count(*) FROM heat") == 3


def test_the_original_bytes_of_a_row_stay_through_its_mending(melt_shop: MeltShop) -> None:
    text = f"{WIDE}\r\n{wide_row('41887').replace('S1', '  S1')}\r\n".encode()
    melt_shop.import_text("lab.csv", text, "lab-wide")
    raw = melt_shop.scalar("SELECT raw FROM bench_row")
    assert raw == text.split(b"\r\n")[1]
    done = melt_shop.run("bench", "attach", "B-1", "--heat", "41878", "--reason", "WRONG-HEAT", "--by", BY, "--json")
    assert done.status == 0
    assert melt_shop.scalar("SELECT raw FROM bench_row") == raw
    listed = melt_shop.run("bench", "list", "--all", "--json").data["bench"]
    assert [b["state"] for b in listed] == ["attached"]
    assert melt_shop.run("bench", "list", "--json").data["bench"] == []


def test_a_dry_run_says_what_would_be_and_writes_nothing(melt_shop: MeltShop) -> None:
    before = melt_shop.all_counts()
    dry = melt_shop.import_wide(wide_row("41887"), wide_row(sample="T2"), more=["--dry-run"])
    assert dry.status == 3
    file = only(dry)
    assert (file["batch"], file["state"]) == (None, "dry-run")
    assert file["rows"]["bench"] == 1
    (bench,) = file["bench"]
    assert bench["bench_no"] is None
    assert melt_shop.all_counts() == before
    real = melt_shop.import_wide(wide_row("41887"), wide_row(sample="T2"))
    assert real.status == dry.status
    assert only(real)["rows"] == file["rows"]


def test_a_dry_run_needs_no_name_and_a_real_import_does(melt_shop: MeltShop) -> None:
    path = melt_shop.write("lab.csv", f"{WIDE}\n{wide_row()}\n")
    assert melt_shop.run("import", path, "--profile", "lab-wide", "--dry-run").status == 0
    without = melt_shop.run("import", path, "--profile", "lab-wide")
    assert without.status == 2
    assert "--by" in without.err


def test_a_refused_file_leaves_no_row_in_any_table_and_no_entry(melt_shop: MeltShop) -> None:
    before = melt_shop.all_counts()
    ran = melt_shop.import_text("lab.csv", f"{WIDE},Unobtainium\n{wide_row()},1\n", "lab-wide")
    assert ran.status == 1
    assert ran.json["status"] == "refused"
    file = only(ran)
    assert (file["state"], file["batch"]) == ("refused", None)
    assert "Unobtainium" in str(file["message"])
    assert ran.json["findings"]
    assert melt_shop.all_counts() == before


def test_one_refused_among_several_ends_with_three_and_the_others_are_taken(melt_shop: MeltShop) -> None:
    good = melt_shop.write("good.csv", f"{WIDE}\n{wide_row()}\n")
    bad = melt_shop.write("bad.csv", "")
    ran = melt_shop.run("import", bad, good, "--profile", "lab-wide", "--by", BY, "--json")
    assert ran.status == 3
    assert [file["state"] for file in ran.data["files"]] == ["refused", "taken"]
    none = melt_shop.run("import", bad, bad, "--profile", "lab-wide", "--by", BY, "--json")
    assert none.status == 1


def test_a_missing_file_is_refused_in_a_plain_sentence(melt_shop: MeltShop) -> None:
    ran = melt_shop.run("import", melt_shop.folder / "nowhere.csv", "--profile", "lab-wide", "--by", BY)
    assert ran.status == 1
    assert "nowhere.csv" in ran.out + ran.err
    assert "Traceback" not in ran.err


def test_import_never_makes_a_database(melt_shop: MeltShop, tmp_path: object) -> None:
    path = melt_shop.write("lab.csv", f"{WIDE}\n{wide_row()}\n")
    nowhere = melt_shop.folder / "nowhere.db"
    ran = melt_shop._run("import", path, "--profile", "lab-wide", "--by", BY, "--db", nowhere)
    assert ran.status == 1
    assert "heattrace db init" in ran.err
    assert not nowhere.exists()


def test_an_unknown_profile_names_the_nearest(melt_shop: MeltShop) -> None:
    path = melt_shop.write("lab.csv", f"{WIDE}\n{wide_row()}\n")
    ran = melt_shop.run("import", path, "--profile", "lab-wyde", "--by", BY)
    assert ran.status == 1
    assert "lab-wide" in ran.err


def test_sql_in_a_number_is_text_and_no_such_heat(melt_shop: MeltShop) -> None:
    """Bad input 123: parameters only."""
    attack = "41878'; DROP TABLE heat;--"
    ran = melt_shop.import_wide(wide_row(f'"{attack}"'), wide_row(sample='"S"" OR 1=1"'))
    (bench,) = only(ran)["bench"]
    assert (bench["code"], bench["value"]) == ("REC01", attack)
    assert melt_shop.scalar("SELECT count(*) FROM heat") == 3
    assert melt_shop.scalar("SELECT written_id FROM sample") == 'S" OR 1=1'


def test_a_sample_number_of_another_heat_names_both_heats(melt_shop: MeltShop) -> None:
    """Bad input 73."""
    melt_shop.import_wide(wide_row("41878", "T9"))
    ran = melt_shop.import_wide(wide_row("41877", "T9"), name="later.csv")
    (bench,) = only(ran)["bench"]
    assert (bench["code"], bench["column"]) == ("REC04", "sample_id")
    assert "41877" in bench["message"]
    assert "41878" in bench["message"]


def test_a_sample_of_another_kind_a_moment_too_early_and_one_to_come_go_to_the_bench(melt_shop: MeltShop) -> None:
    """Bad inputs 77 and 78; the heat was tapped at 07:40."""
    melt_shop.import_wide(wide_row(sample="T1"))
    ran = melt_shop.import_wide(
        wide_row(sample="T1", kind="mould", analysed="10:00"),
        wide_row(sample="T2", taken="07:10"),
        wide_row(sample="T3", taken="09:30", analysed="09:20"),
        wide_row(sample="T4", day="2090-04-12"),
        wide_row(sample="F1", kind="furnace", taken="07:10"),
        name="later.csv",
    )
    codes = [bench["code"] for bench in only(ran)["bench"]]
    assert codes == ["REC05", "REC07", "ROW28", "ROW29"]
    assert only(ran)["rows"]["taken"] == 1


def test_a_heat_number_of_another_year_goes_to_the_bench(melt_shop: MeltShop) -> None:
    """Bad input 71: 41878 of the record was tapped in April 2024."""
    ran = melt_shop.import_wide(wide_row(day="2025-04-12"))
    (bench,) = only(ran)["bench"]
    assert bench["code"] == "REC02"
    assert "2024/41878" in bench["next"]
    product = melt_shop.import_wide(wide_row(sample="P1", kind="check", day="2025-04-12"), name="check.csv")
    assert only(product)["rows"]["taken"] == 1


def test_a_number_that_two_heats_bear_goes_to_the_bench_and_is_attached_by_series(melt_shop: MeltShop) -> None:
    more = "heat_no,grade,series,tapped_at\n41878,EN 10083-2:2006 C45E,F2,2024-04-12T07:55:00+02:00\n"
    assert only(melt_shop.import_text("heats2.csv", more, "heats"))["rows"]["taken"] == 1
    ran = melt_shop.import_wide(wide_row())
    (bench,) = only(ran)["bench"]
    assert bench["code"] == "REC03"
    assert "F2/41878" in bench["next"]
    unsaid = melt_shop.run("bench", "attach", "B-1", "--heat", "41878", "--reason", "WRONG-HEAT", "--by", BY)
    assert unsaid.status == 1
    said = melt_shop.run("bench", "attach", "B-1", "--heat", "F2/41878", "--reason", "WRONG-HEAT", "--by", BY)
    assert said.status == 0
    series = melt_shop.scalar("SELECT h.series FROM sample s JOIN heat h ON h.heat_id = s.heat_id")
    assert series == "F2"


def test_the_ledger_holds_a_digest_of_the_rows_that_an_altered_value_no_longer_gives(melt_shop: MeltShop) -> None:
    melt_shop.import_wide(wide_row(), wide_row(sample="T2"))
    payload = json.loads(str(melt_shop.scalar("SELECT payload FROM ledger ORDER BY entry_no DESC LIMIT 1")))
    content = payload["content"]
    with open_reader(melt_shop.db) as reader:
        assert verify_chain(reader).broken_at is None
        assert content_digest(reader, content["keys"]) == content["sha256"]
    with sqlite3.connect(melt_shop.db) as forger:
        forger.execute("DROP TRIGGER guard_result_update")
        forger.execute("UPDATE result SET value_ppb = value_ppb - 10000 WHERE analysis_id = 1 AND element_id = 1")
    with open_reader(melt_shop.db) as reader:
        assert content_digest(reader, content["keys"]) != content["sha256"]


def test_a_profile_with_decimal_commas_ppm_burns_means_and_controls(melt_shop: MeltShop) -> None:
    melt_shop.add_profile()
    text = (
        "Charge;Probe;Art;Zeile;Zeit;C;Mn;N;Al;Bemerkung\n"
        ";RM-7;KP;MW;12.04.2024 05:02;0,205;1,120;58;0,0310;\n"
        "41878;41878-TV1;TV;1;12.04.2024 09:22;0,180;1,43;57;0,0300;\n"
        "41878;41878-TV1;TV;2;12.04.2024 09:23;0,184;1,45;59;<0,0310;\n"
        "41878;41878-TV1;TV;MW;12.04.2024 09:23;0,182;1,440;58;n.d.;good\n"
        "41878;41878-TV1;TV;SD;12.04.2024 09:23;0,003;0,01;1;0;\n"
    )
    ran = melt_shop.import_text("export.csv", text, "spark-east")
    assert ran.status == 0, ran.out
    assert only(ran)["rows"] == {"read": 4, "taken": 4, "same": 0, "contested": 0, "bench": 0, "refused": 0}
    assert any("Europe/Vienna" in note for note in only(ran)["notes"])
    (analysis,) = sample_of(melt_shop, "41878-TV1")["analyses"]
    reported = {r["element"]: r["reported"] for r in analysis["results"]}
    assert reported == {"C": "0.182", "Mn": "1.440", "Al": None, "N": "0.0058"}
    burns = melt_shop.rows("SELECT written, packed FROM burn ORDER BY burn_no")
    assert burns == [
        ("1", b'{"Al":"0.0300","C":"0.180","Mn":"1.43","N":"0.0057"}'),
        ("2", b'{"Al":"<0.0310","C":"0.184","Mn":"1.45","N":"0.0059"}'),
    ]
    assert melt_shop.rows("SELECT kind, heat_id FROM sample WHERE sample_id = 'RM-7'") == [("control", None)]
    unit = "SELECT f.unit FROM result r JOIN result_form f ON f.form_id = r.form_id WHERE r.element_id = 12"
    assert {row[0] for row in melt_shop.rows(unit)} == {"ppm"}


def test_burns_without_a_mean_leave_the_analysis_received_and_a_mean_of_that_time_completes_it(
    melt_shop: MeltShop,
) -> None:
    melt_shop.add_profile()
    header = "Charge;Probe;Art;Zeile;Zeit;C;Mn;N;Al;Bemerkung\n"
    burns = "41878;V1;TV;1;12.04.2024 09:22;0,180;1,43;57;0,03;\n41878;V1;TV;2;12.04.2024 09:23;0,184;1,45;59;0,03;\n"
    ran = melt_shop.import_text("burns.csv", header + burns, "spark-east")
    assert [f["code"] for f in ran.json["findings"]] == ["REC33"]
    assert melt_shop.rows("SELECT state FROM analysis") == [("received",)]
    mean = "41878;V1;TV;MW;12.04.2024 09:22;0,182;1,44;58;0,03;\n"
    melt_shop.import_text("mean.csv", header + mean, "spark-east")
    assert melt_shop.rows("SELECT state FROM analysis WHERE ended_no IS NULL") == [("valid",)]
    assert melt_shop.scalar("SELECT count(*) FROM burn WHERE analysis_id = 2") == 2


def test_an_amendment_links_to_the_analysis_it_replaces(melt_shop: MeltShop) -> None:
    head = WIDE + ",report_no,supersedes"
    melt_shop.import_text("a.csv", f"{head}\n{wide_row()},G-413,\n", "lab-wide")
    amended = f"{head}\n{wide_row(analysed='15:00', n='0.0126')},G-461,G-413\n"
    assert melt_shop.import_text("b.csv", amended, "lab-wide").status == 0
    assert melt_shop.rows("SELECT supersedes_id FROM analysis ORDER BY analysis_id") == [(None,), (1,)]
    states = [a["state"] for a in sample_of(melt_shop, "41878-T1")["analyses"]]
    assert states == ["superseded", "valid"]
    unclear = f"{head}\n{wide_row(analysed='16:00')},G-470,G-999\n"
    (bench,) = only(melt_shop.import_text("c.csv", unclear, "lab-wide"))["bench"]
    assert (bench["code"], bench["column"]) == ("REC14", "supersedes")


def test_a_moved_decimal_point_is_taken_and_doubtful(melt_shop: MeltShop) -> None:
    """Bad input 55: 1.82 for C 0.182 where the planned grade prints at most 0.20 to 0.23."""
    ran = melt_shop.import_wide(wide_row(c="1.82"))
    assert only(ran)["rows"]["taken"] == 1
    (finding,) = [f for f in ran.json["findings"] if f["code"] == "REC37"]
    assert "0.182" in finding["next"]
    assert melt_shop.rows("SELECT state FROM analysis") == [("doubtful",)]


def test_a_person_reads_a_slip_with_the_next_step(melt_shop: MeltShop) -> None:
    path = melt_shop.write("lab.csv", f"{WIDE}\n{wide_row('41887')}\n{wide_row(sample='T2')}\n")
    ran = melt_shop.run("import", path, "--profile", "lab-wide", "--by", BY)
    assert ran.status == 3
    assert ran.out.splitlines()[0] == "I-3  lab.csv"
    assert "rows    2 read, 1 taken, 1 on the bench" in ran.out
    assert "heattrace bench attach B-1 --heat 41878 --reason WRONG-HEAT" in ran.out
    assert "heattrace batch undo I-3" in ran.err
    assert "\x1b" not in ran.out


def test_orders_restated_are_same_and_a_changed_one_in_use_waits(melt_shop: MeltShop) -> None:
    assert only(melt_shop.import_text("again.csv", ORDERS + "\n", "orders"))["rows"]["same"] == 1
    changed = ORDERS.replace(",28,", ",32,")
    (bench,) = only(melt_shop.import_text("changed.csv", changed, "orders"))["bench"]
    assert bench["code"] == "REC20"
    free = ORDERS.replace("4711,1", "4712,1")
    melt_shop.import_text("free.csv", free, "orders")
    restated = melt_shop.import_text("free2.csv", free.replace(",28,", ",32,"), "orders")
    assert only(restated)["rows"]["taken"] == 1
    assert [f["code"] for f in restated.json["findings"]] == ["REC30"]
    thick = "SELECT thickness_mm FROM order_line WHERE order_no = '4712' AND ended_no IS NULL"
    assert melt_shop.rows(thick) == [("32",)]


def test_a_result_after_a_decision_is_taken_and_names_what_stands_on_its_heat(melt_shop: MeltShop) -> None:
    heat = int(str(melt_shop.scalar("SELECT heat_id FROM heat WHERE heat_no = '41878'")))
    melt_shop.import_wide(wide_row())
    with begin_work(melt_shop.db, by=BY, action="test", subject="41878") as work:
        make_decision(work, kind="release", requirement="4711/1", heat_id=heat)
        work.commit()
    late = melt_shop.import_wide(wide_row(), wide_row(sample="T2"), name="later.csv")
    assert late.status == 3
    (finding,) = late.json["findings"]
    assert (finding["code"], finding["subject"]) == ("REC35", "heat 41878")
    assert "1 decisions on it" in finding["seen"]
    assert melt_shop.scalar("SELECT count(*) FROM decision") == 1
    again = melt_shop.import_wide(wide_row(sample="T2"), name="last.csv")
    assert (again.status, again.json["findings"]) == (0, [])


def test_the_rows_of_a_refused_file_are_counted_as_refused(melt_shop: MeltShop) -> None:
    text = f"Export of week 15\n{WIDE},Unobtainium\n{wide_row()},1\n{wide_row()},1\n\n"
    ran = melt_shop.import_text("lab.csv", text, "lab-wide")
    assert only(ran)["rows"] == {"read": 2, "taken": 0, "same": 0, "contested": 0, "bench": 0, "refused": 2}
    empty = melt_shop.import_text("empty.csv", "", "lab-wide")
    assert only(empty)["rows"]["refused"] == 0


def test_the_rows_that_hang_on_others_are_those_of_the_tables() -> None:
    assert {name: (lender.to, lender.key) for name, lender in lender_of().items()} == dict(HANGING)
