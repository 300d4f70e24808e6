"""`heat list` and `heat show`."""

from __future__ import annotations

from heattrace.schema.heats import HeatState
from heattrace.store.work import begin_work
from tests.cli.record import make_works
from tests.conftest import Run
from tests.make import make_heat


def test_list_gives_the_promised_keys(store: str, run: Run) -> None:
    works = make_works(store)
    with begin_work(store, by="T. Test", action="test", subject="more") as work:
        bare = make_heat(work, "41880", grade_text="S999")
        work.add(HeatState(heat_id=bare, state="complete", note="all in"))
        work.commit()
    ran = run("heat", "list", "--db", works.db, "--json")
    assert ran.status == 0
    shown = [tuple(heat[name] for name in ("heat_no", "grade", "quality", "record")) for heat in ran.data["heats"]]
    assert shown == [
        ("41878", "EN 10025-2:2004 S355J2", "held", "open"),
        ("41879", "EN 10025-2:2004 S355J2", "undecided", "open"),
        ("41880", "S999", "undecided", "complete"),
    ]
    assert [q["requirement"] for q in ran.data["heats"][0]["qualities"]] == ["4711/1", "4711/2"]


def test_list_can_be_narrowed(store: str, run: Run) -> None:
    works = make_works(store)
    held = run("heat", "list", "--quality", "held", "--db", works.db, "--json").data["heats"]
    newest = run("heat", "list", "--newest", "1", "--db", works.db, "--json").data["heats"]
    assert [heat["heat_no"] for heat in held] == ["41878"]
    assert [heat["heat_no"] for heat in newest] == ["41879"]
    assert len(run("heat", "list", "--newest", "5", "--db", works.db, "--json").data["heats"]) == 2
    assert run("heat", "list", "--quality", "good", "--db", works.db).status == 2


def test_list_of_many_heats_goes_through_all_lots(store: str, run: Run) -> None:
    with begin_work(store, by="T. Test", action="test", subject="many") as work:
        for number in range(450):
            make_heat(work, f"{50000 + number}")
        work.commit()
    heats = run("heat", "list", "--db", store, "--json").data["heats"]
    assert [heat["heat_no"] for heat in heats] == [f"{50000 + n}" for n in range(450)]


def test_list_of_an_empty_record_says_so(store: str, run: Run) -> None:
    ran = run("heat", "list", "--db", store)
    assert (ran.status, ran.out) == (0, "no heats\n")


def test_show_gives_the_whole_record(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("heat", "show", "41878", "--db", works.db, "--json")
    assert ran.status == 0
    data = ran.data
    heat = data["heat"]
    assert (heat["heat_no"], heat["grade"], heat["quality"], heat["record"]) == (
        "41878", "EN 10025-2:2004 S355J2", "held", "open",
    )  # fmt: skip
    assert (heat["ladle_no"], heat["tapped_mass_t"], heat["evidence"]) == ("7", "110", ["fine-grain"])
    assert heat["pours"][0]["tundish"] == "A"
    assert data["additions"] == [{"material": "FeMn", "mass_kg": "120.50", "added_at": "2026-03-02T06:30:00+00:00"}]
    assert [t["place"] for t in data["temperatures"]] == ["ladle-lift", "tundish"]
    assert [entry["temperature_c"] for entry in data["superheat"]] == ["1548.5"]
    assert [a["analysis_no"] for s in data["samples"] for a in s["analyses"] if a["is_cast"]] == ["A-1"]
    assert {value["element"]: value["reported"] for value in data["cast_analysis"]["values"]}["V"] == "<0.002"
    assert [f"{line['order_no']}/{line['line']}" for line in data["order_lines"]] == ["4711/1", "4711/2"]
    assert [hold["hold_no"] for hold in data["holds"]] == ["H-1"]
    assert data["decisions"] == []
    assert data["pieces"]["count"] == 3


def test_show_on_screen_names_what_json_holds(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("heat", "show", "heat:2026/41878", "--db", works.db)
    assert ran.status == 0
    for words in (
        "heat 41878 (series 2026): HELD, record open", "110 t", "ladle    7", "evidence fine-grain", "120.50",
        "cast analysis by tundish-steady, as the ladder chooses now, not frozen yet", "<0.002", "contested", "1548.5",
        "superheat by liquidus-handbook-1990-carbon", "4711/2", "CHEM-HIGH",
    ):  # fmt: skip
        assert words in ran.out, words


def test_show_of_a_misread_number_lists_the_nearest_and_picks_none(store: str, run: Run) -> None:
    works = make_works(store)
    ran = run("heat", "show", "4l878", "--db", works.db, "--json")
    assert (ran.status, ran.data["code"]) == (1, "NOT-FOUND")
    assert ran.json["findings"][0]["subject"] == "heat:2026/41878"


def test_show_of_a_piece_number_is_refused(store: str, run: Run) -> None:
    works = make_works(store)
    assert run("heat", "show", "S300-1-07", "--db", works.db).status == 1
