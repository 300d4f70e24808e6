"""Grade books: all of one or nothing, revisions of editions, inheritance, deviations."""

from __future__ import annotations

from importlib import resources

import pytest

from heattrace.intake.grade_book import shipped_grades
from heattrace.tracing.grades import GradeShelf, grade_named
from tests.conftest import Ran
from tests.melt_shop import BY, MeltShop

HEAD = "standard,edition,grade,basis,size_band_mm,quantity,min,max,unit,rounding,source,status,extends,family\n"
OURS = "W 7,2024,Q460,cast,all,C,,0.20,mass %,rounding,made for a test,memory,,carbon\n"


def rows_of(ran: Ran) -> dict[str, int]:
    (file,) = ran.data["files"]
    return {name: count for name, count in file["rows"].items() if count and name != "read"}


def reader_of(melt_shop: MeltShop) -> object:
    from heattrace.store.engine import open_reader

    return open_reader(melt_shop.db)


def test_the_shipped_book_in_the_database_is_the_shipped_book(melt_shop: MeltShop) -> None:
    assert (
        melt_shop.scalar("SELECT count(*) FROM grade_limit")
        == sum(
            1
            for _ in (resources.files("heattrace.intake") / "shipped" / "grade_book.csv")
            .read_text("utf-8")
            .splitlines()
        )
        - 1
    )
    with reader_of(melt_shop) as reader:  # type: ignore[attr-defined]
        shelf = GradeShelf(reader)
        for shipped in shipped_grades():
            held = shelf.grade(shipped.key.text)
            assert (held.family, held.extends) == (shipped.family, shipped.extends)
            assert [(x.printed, x.min_text, x.max_text, x.when, x.report, x.status) for x in held.limits] == [
                (x.printed, x.min_text, x.max_text, x.when, x.report, x.status) for x in shipped.limits
            ]


def test_the_shipped_book_as_a_file_changes_nothing(melt_shop: MeltShop) -> None:
    text = (resources.files("heattrace.intake") / "shipped" / "grade_book.csv").read_bytes()
    ran = melt_shop.import_text("book.csv", text, "grade-book")
    assert rows_of(ran) == {"same": melt_shop.scalar("SELECT count(*) FROM grade_limit")}
    assert melt_shop.scalar("SELECT max(revision) FROM edition") == 1


def test_one_bad_row_refuses_the_whole_book(melt_shop: MeltShop) -> None:
    """Bad input 85: min over max, unknown element, no unit."""
    before = melt_shop.all_counts()
    crossed = OURS.replace(",C,,0.20,", ",Mn,1.60,1.20,")
    unknown = OURS.replace(",C,,0.20,", ",Unobtainium,,0.20,")
    for bad in (crossed, unknown, OURS.replace("mass %", "")):
        refused = melt_shop.import_text("book.csv", HEAD + OURS + bad, "grade-book")
        assert refused.status == 1
        assert "row 3" in refused.data["files"][0]["message"]
    assert melt_shop.all_counts() == before


def test_limits_entered_anew_are_the_next_revision_and_the_older_stays_readable(melt_shop: MeltShop) -> None:
    melt_shop.import_text("book.csv", HEAD + OURS, "grade-book")
    ran = melt_shop.import_text("book2.csv", HEAD + OURS.replace("0.20", "0.19"), "grade-book")
    assert [f["code"] for f in ran.json["findings"]] == ["REC30"]
    editions = melt_shop.rows(
        "SELECT revision, ended_no IS NULL FROM edition WHERE requirement = 'W 7:2024 Q460' ORDER BY revision"
    )
    assert editions == [(1, 0), (2, 1)]
    with reader_of(melt_shop) as reader:  # type: ignore[attr-defined]
        (limit,) = grade_named(reader, "Q460").limits
    assert limit.max_text == "0.19"
    assert rows_of(melt_shop.import_text("book3.csv", HEAD + OURS.replace("0.20", "0.19") + "\n", "grade-book")) == {
        "same": 1
    }
    undone = melt_shop.run("batch", "undo", "I-4", "--by", BY)
    assert undone.status == 0, undone.err
    with reader_of(melt_shop) as reader:  # type: ignore[attr-defined]
        (limit,) = grade_named(reader, "Q460").limits
    assert limit.max_text == "0.20"


def test_a_book_may_extend_a_grade_that_only_the_record_has(melt_shop: MeltShop) -> None:
    own = "W 7,2024,S355J2-Q,cast,all,Cu,,0.20,mass %,rounding,made for a test,memory,EN 10025-2:2004 S355J2,\n"
    assert melt_shop.import_text("book.csv", HEAD + own, "grade-book").status == 0
    with reader_of(melt_shop) as reader:  # type: ignore[attr-defined]
        parent = grade_named(reader, "EN 10025-2:2004 S355J2")
        child = grade_named(reader, "S355J2-Q")
    assert len(child.limits) == len(parent.limits) + 1
    lost = own.replace("EN 10025-2:2004 S355J2", "EN 10025-2:2004 S999")
    assert melt_shop.import_text("book2.csv", HEAD + lost, "grade-book").status == 1


def test_names_of_quantities_are_told_on_the_slip(melt_shop: MeltShop) -> None:
    row = OURS.replace(",C,,0.20,", ",CEV,,0.45,") + OURS.replace(",C,,0.20,", ",Al_total,0.020,,")
    ran = melt_shop.import_text("book.csv", HEAD + row, "grade-book")
    notes = ran.data["files"][0]["notes"]
    assert "quantity CEV read as cev" in notes
    assert "quantity Al_total read as Al" in notes


def test_a_folder_of_limits_and_deviations_counts_as_the_workbook(melt_shop: MeltShop) -> None:
    melt_shop.write("book/limits.csv", HEAD + OURS)
    head = "applies_to,element,limit_from,limit_to,area_band_mm2,size_band_mm,under,over,kind,one_side,source,status\n"
    row = "W 7,C,,0.30,,,0.02,0.02,absolute,yes,made for a test,memory\n"
    folder = melt_shop.write("book/deviations.csv", head + row).parent
    ran = melt_shop.run("import", folder, "--profile", "grade-book", "--by", BY, "--json")
    assert ran.status == 0, ran.out
    assert rows_of(ran) == {"taken": 2}
    held = melt_shop.rows("SELECT applies_to, element, limit_to, over, one_side FROM permitted_deviation")
    assert held == [("W 7", "C", "0.30", "0.02", 1)]
    melt_shop.write("book/deviations.csv", head + row.replace("0.02,0.02", "0.02,0.03"))
    ran = melt_shop.run("import", folder, "--profile", "grade-book", "--by", BY, "--json")
    assert rows_of(ran) == {"taken": 1, "same": 1}
    live = melt_shop.rows("SELECT over FROM permitted_deviation WHERE ended_no IS NULL")
    assert live == [("0.03",)]


@pytest.mark.parametrize("element", ["Xx", "fe"])
def test_a_deviation_of_no_element_refuses_the_book(melt_shop: MeltShop, element: str) -> None:
    melt_shop.write("book/limits.csv", HEAD + OURS)
    head = "applies_to,element,limit_from,limit_to,under,over,kind,one_side,source,status\n"
    path = melt_shop.write("book/deviations.csv", f"{head}W 7,{element},,0.30,0.02,0.02,absolute,no,test,memory\n")
    assert melt_shop.run("import", path.parent, "--profile", "grade-book", "--by", BY).status == 1
