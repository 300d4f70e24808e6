"""`sample list`, `sample show` and `analysis show`."""

from __future__ import annotations

from heattrace.schema.analyses import Burn, Result, SampleState
from heattrace.store.ledger import canonical
from heattrace.store.work import begin_work
from tests.cli.record import make_works
from tests.conftest import Run
from tests.make import make_analysis, make_cast_analysis, make_form, make_heat, make_sample


def test_list_of_a_heat_gives_the_promised_samples(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("sample", "list", "--heat", "41878", "--db", works.db, "--json")
    assert ran.status == 0
    (sample,) = ran.data["samples"]
    assert sample.keys() == {"sample_id", "kind", "heat_no", "taken_at", "analyses"}
    assert (sample["sample_id"], sample["kind"], sample["heat_no"]) == ("41878-T1", "tundish-steady", "41878")
    assert [(a["analysis_no"], a["state"], a["is_cast"]) for a in sample["analyses"]] == [
        ("A-1", "valid", True),
        ("A-2", "contested", False),
    ]
    assert sample["analyses"][0].keys() == {"analysis_no", "method", "state", "is_cast", "results"}
    assert sample["analyses"][0]["results"][0] == {"element": "C", "reported": "0.19", "unit": "%"}


def test_list_without_a_heat_gives_the_newest_and_says_there_are_more(store: str, run: Run) -> None:
    works = make_works(store)
    every = run("sample", "list", "--db", works.db, "--json")
    assert [s["sample_id"] for s in every.data["samples"]] == ["41878-T1", "41879-T1"]
    assert every.data["more"] is False
    one = run("sample", "list", "--limit", "1", "--db", works.db, "--json")
    assert ([s["sample_id"] for s in one.data["samples"]], one.data["more"]) == (["41879-T1"], True)
    assert one.json["messages"]
    assert run("sample", "list", "--limit", "0", "--db", works.db).status == 2


def test_list_names_a_reference_material_and_a_sample_without_analysis(store: str, run: Run) -> None:
    with begin_work(store, by="T. Test", action="test", subject="controls") as work:
        make_analysis(work, make_sample(work, None, "RM-5", kind="control"), "C=0.182")
        make_sample(work, make_heat(work), "41878-T9")
        work.commit()
    ran = run("sample", "list", "--db", store)
    assert ran.status == 0
    assert "RM-5" in ran.out and "control" in ran.out
    assert "no analysis" in ran.out
    data = run("sample", "list", "--db", store, "--json").data
    assert [(s["sample_id"], s["heat_no"], len(s["analyses"])) for s in data["samples"]] == [
        ("RM-5", None, 1),
        ("41878-T9", "41878", 0),
    ]


def test_show_prints_digits_as_reported_and_what_a_sample_is_worth(store: str, run: Run) -> None:
    works = make_works(store)
    with begin_work(store, by="T. Test", action="test", subject="condemned") as work:
        work.add(SampleState(sample_key=1, state="condemned", note="porous"))
        work.commit()
    ran = run("sample", "show", "41878-t1", "--db", works.db)
    assert ran.status == 0
    for words in ("condemned (porous)", "0.0080", "<0.002", "contested", "tundish A"):
        assert words in ran.out, words
    data = run("sample", "show", "41878-T1", "--db", works.db, "--json").data
    assert (data["samples"][0]["sound"], data["samples"][0]["tundish"]) == (False, "A")


def test_sample_number_used_for_two_heats_shows_both(store: str, run: Run) -> None:
    with begin_work(store, by="T. Test", action="test", subject="twice") as work:
        for heat_no in ("41878", "41879"):
            make_analysis(work, make_sample(work, make_heat(work, heat_no), "T1"), "C=0.18")
        work.commit()
    found = run("sample", "show", "T1", "--db", store, "--json").data["samples"]
    assert [sample["heat_no"] for sample in found] == ["41878", "41879"]


def test_unknown_sample_lists_those_that_begin_so(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("sample", "show", "41878", "--db", works.db, "--json")
    assert ran.status == 1
    assert [f["subject"] for f in ran.json["findings"]] == ["41878-T1"]


def test_analysis_of_a_heat_gives_source_rule_and_why(store: str, run: Run) -> None:
    works = make_works(store)
    data = run("analysis", "show", "41878", "--db", works.db, "--json").data
    cast = data["cast_analysis"]
    assert (data["heat_no"], cast["frozen"], cast["rule"]) == ("41878", False, "tundish-steady")
    nitrogen = next(value for value in cast["values"] if value["element"] == "N")
    assert nitrogen == {
        "element": "N", "reported": "0.0080", "unit": "%", "analysis_no": "A-1", "sample_id": "41878-T1",
        "kind": "tundish-steady", "method": "spark-emission", "rule": "base",
    }  # fmt: skip
    assert "rung 1 of ladder edition 0 (as shipped)" in " ".join(cast["words"])
    screen = run("analysis", "show", "41878", "--db", works.db)
    assert "0.0080" in screen.out and "rung 1" in screen.out
    assert "CHEM-DISAGREE" in screen.err


def test_frozen_cast_analysis_is_called_so(store: str, run: Run) -> None:
    works = make_works(store)
    with begin_work(store, by="T. Test", action="test", subject="freeze") as work:
        make_cast_analysis(work, works.first, {"C": 1, "Mn": 1})
        work.commit()
    data = run("analysis", "show", "41878", "--db", works.db, "--json").data
    assert data["cast_analysis"]["frozen"] is True
    assert data["cast_analysis"]["words"] == ["first rung"]
    assert "frozen" in run("analysis", "show", "41878", "--db", works.db).out


def test_analysis_shows_burns_units_and_lost_places(store: str, run: Run) -> None:
    with begin_work(store, by="T. Test", action="test", subject="burns") as work:
        analysis = make_analysis(work, make_sample(work, make_heat(work), "T1"), "C=0.182")
        form = make_form(work, "=", 4, "ppm")
        work.add(Result(analysis_id=analysis, element_id=12, value_ppb=58_000, form_id=form))
        for number, carbon in ((1, "0.181"), (2, "0.183")):
            packed = canonical({"C": carbon, "Mn": None}).encode()
            work.add(Burn(analysis_id=analysis, burn_no=number, written=str(number), packed=packed))
        work.commit()
    data = run("analysis", "show", "a-1", "--db", store, "--json").data["analysis"]
    assert [b["results"]["C"] for b in data["burns"]] == ["0.181", "0.183"]
    nitrogen = next(r for r in data["results"] if r["element"] == "N")
    assert (nitrogen["reported"], nitrogen["unit"], nitrogen["written_unit"]) == ("0.0058", "%", "ppm")
    assert (data["sample_id"], data["heat_no"], data["is_cast"]) == ("T1", "41878", True)
    screen = run("analysis", "show", "A-1", "--db", store)
    assert "0.181" in screen.out and "burn 2" in screen.out


def test_unknown_analysis_is_refused(store: str, run: Run) -> None:
    for number in ("A-99", "A-" + "9" * 30, "41878"):
        assert run("analysis", "show", number, "--db", store).status == 1
