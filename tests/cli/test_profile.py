"""Profiles of a works: drafted, tested, added by edition, shown."""

from __future__ import annotations

import tomllib

from tests.melt_shop import BY, SPARK_EAST, MeltShop

EXPORT = "Charge;Probe;Art;Zeile;Zeit;C;Mn;N;Al;Bemerkung\n41878;T1;TV;MW;12.04.2024 09:23;0,182;1,44;58;0,031;\n"


def test_the_list_holds_the_shipped_profiles_and_the_works_own(melt_shop: MeltShop) -> None:
    melt_shop.add_profile()
    listed = melt_shop.run("profile", "list", "--json").data["profiles"]
    by_name = {p["name"]: p for p in listed}
    assert {"lab-wide", "lab-long", "cast-book", "grade-book", "dispatch", "spark-east"} <= set(by_name)
    assert (by_name["spark-east"]["edition"], by_name["lab-wide"]["edition"]) == (1, 0)
    assert "spark-east" in melt_shop.run("profile", "list").out


def test_the_shipped_profiles_are_listed_without_a_database(melt_shop: MeltShop) -> None:
    ran = melt_shop._run("profile", "list", "--json", "--db", melt_shop.folder / "nowhere.db")
    assert ran.status == 0
    assert len(ran.data["profiles"]) == 18


def test_a_profile_gets_editions_and_an_import_keeps_the_one_it_was_read_with(melt_shop: MeltShop) -> None:
    melt_shop.add_profile()
    again = melt_shop.run("profile", "add", melt_shop.folder / "own.toml", "--by", BY, "--json")
    assert (again.status, again.data["added"]) == (0, False)
    assert melt_shop.import_text("a.csv", EXPORT, "spark-east").status == 0
    melt_shop.add_profile(SPARK_EAST.replace('instrument = "S2"', 'instrument = "S3"'))
    assert melt_shop.run("profile", "show", "spark-east", "--json").data["profile"]["edition"] == 2
    assert melt_shop.rows("SELECT profile_edition FROM batch WHERE profile = 'spark-east'") == [(1,)]
    same = melt_shop.import_text("a.csv", EXPORT, "spark-east")
    assert same.data["files"][0]["state"] == "same"
    assert "edition 1 of the profile, now 2 is in force" in same.data["files"][0]["message"]


def test_a_bench_row_is_read_with_the_edition_of_its_import(melt_shop: MeltShop) -> None:
    melt_shop.add_profile()
    melt_shop.import_text("a.csv", EXPORT.replace("0,182", "0,18 2"), "spark-east")
    melt_shop.add_profile(SPARK_EAST.replace('decimal = ","', 'decimal = "."'))
    fixed = melt_shop.run("bench", "fix", "B-1", "--set", "C=0.182", "--reason", "TYPING", "--by", BY)
    assert fixed.status == 0, fixed.err
    assert melt_shop.rows("SELECT value_ppb FROM result WHERE element_id = 1") == [(1_820_000,)]


def test_a_shipped_name_and_a_faulty_profile_are_refused_with_each_line(melt_shop: MeltShop) -> None:
    taken = melt_shop.run("profile", "add", melt_shop.write("p.toml", SPARK_EAST.replace("spark-east", "lab-wide")),
                          "--by", BY)  # fmt: skip
    assert taken.status == 1
    assert "another name" in taken.err
    faulty = SPARK_EAST.replace('"Charge" = "heat_no"', '"Charge" = "charge"').replace('unit = "ppm"', 'unit = "ppx"')
    refused = melt_shop.run("profile", "add", melt_shop.write("p.toml", faulty), "--by", BY, "--json")
    assert refused.status == 1
    assert len(refused.json["findings"]) == 2
    assert all("line" in f["subject"] for f in refused.json["findings"])


def test_a_profile_is_tested_on_a_file_and_nothing_is_written(melt_shop: MeltShop) -> None:
    profile = melt_shop.write("p.toml", SPARK_EAST)
    good, bad = melt_shop.write("good.csv", EXPORT), melt_shop.write("bad.csv", EXPORT.replace("0,182", "0,18 2"))
    before = melt_shop.all_counts()
    ran = melt_shop._run("profile", "test", profile, good, "--json")
    assert ran.status == 0, ran.err
    assert (ran.data["files"][0]["read"], ran.data["files"][0]["bench"]) == (1, [])
    assert melt_shop._run("profile", "test", profile, bad).status == 3
    assert melt_shop._run("profile", "test", melt_shop.folder / "nowhere.toml").status == 1
    assert melt_shop.all_counts() == before


def test_a_draft_names_every_column_and_reads_as_toml(melt_shop: MeltShop) -> None:
    path = melt_shop.write("export.csv", EXPORT)
    ran = melt_shop._run("profile", "draft", path)
    assert ran.status == 0
    assert tomllib.loads(ran.out)["file"]["delimiter"] == ";"
    assert all(f'"{column}"' in ran.out for column in EXPORT.splitlines()[0].split(";"))
    assert ran.out.count("?") > 5
