"""Who touched a number, and the holds as they stand."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from heattrace.errors import Ambiguous, NotFound
from heattrace.schema.tables import metadata
from heattrace.store.engine import open_reader
from heattrace.store.reader import Reader
from heattrace.store.work import begin_work
from heattrace.tracing.history import OWN, TOUCHES, history_of, subject_of
from heattrace.tracing.holdings import holds_on_part, list_holds
from tests.make import make_hold, make_piece, moment
from tests.tracing.plant import Plant, make_plant


@pytest.fixture
def plant(store: str) -> Plant:
    return make_plant(store)


@pytest.fixture
def reader(plant: Plant) -> Iterator[Reader]:
    with open_reader(plant.db) as found:
        yield found


def touched(reader: Reader, text: str) -> list[tuple[str, set[str]]]:
    entries = history_of(reader, subject_of(reader, text))
    return [(e["by"], {t["what"] for t in e["touched"]}) for e in entries]


def test_piece_is_touched_by_everybody_who_wrote_of_it(reader: Reader) -> None:
    assert touched(reader, "S300-1-07") == [
        ("L. Clerk", {"part", "place and shares", "cut"}),
        ("D. Lang", {"movement", "other number", "weighing"}),
    ]


def test_heat_is_touched_by_import_release_and_not_by_the_hold_on_its_neighbour(reader: Reader) -> None:
    people = [by for by, _ in touched(reader, "41878")]
    assert people == ["L. Clerk", "A. Weber"]
    assert [by for by, _ in touched(reader, "41879")] == ["L. Clerk", "F. Berg"]
    counted = history_of(reader, subject_of(reader, "41878"))[0]["touched"]
    assert {t["what"]: t["rows"] for t in counted}["analysis"] == 2


@pytest.mark.parametrize(
    ("text", "kind", "by"),
    [("H-1", "hold", "F. Berg"), ("h-1", "hold", "F. Berg"), ("D-1", "decision", "A. Weber"),
     ("A-1", "analysis", "L. Clerk"), ("E-1", "event", "L. Clerk")],
)  # fmt: skip
def test_our_own_numbers_have_a_history(reader: Reader, text: str, kind: str, by: str) -> None:
    subject = subject_of(reader, text)
    assert subject.kind == kind
    assert history_of(reader, subject)[0]["by"] == by


def test_superseded_rows_are_told_as_ended(plant: Plant) -> None:
    with begin_work(plant.db, by="S. Kern", action="import", subject="correction") as work:
        work.end("placement", "part_id", [plant.parts["S300-1-07"]])
        work.commit()
    with open_reader(plant.db) as reader:
        last = history_of(reader, subject_of(reader, "piece:S300-1-07"))[-1]
    assert (last["by"], last["touched"]) == ("S. Kern", [{"what": "place and shares", "how": "ended", "rows": 1}])


def test_number_of_ours_that_is_also_a_piece_is_ambiguous(plant: Plant) -> None:
    with begin_work(plant.db, by="L. Clerk", action="import", subject="x") as work:
        make_piece(work, "H-1")
        work.commit()
    with open_reader(plant.db) as reader:
        with pytest.raises(Ambiguous, match="piece:H-1"):
            subject_of(reader, "H-1")
        assert subject_of(reader, "piece:H-1").kind == "piece"


@pytest.mark.parametrize("text", ["H-99", "Q-1", "K-1", "B-1", "nothing"])
def test_number_without_a_record_has_no_history(reader: Reader, text: str) -> None:
    with pytest.raises(NotFound):
        subject_of(reader, text)


def test_every_table_that_says_whose_row_it_is_is_looked_into() -> None:
    """A table with a heat or part key that history forgets would hide who touched the number."""
    text = {kind: " ".join(sql for _, sql in rows) for kind, rows in TOUCHES.items()}
    # Derived or found by way of another row; the heat of an event is one of the whole strand's particulars.
    derived = {"share", "tundish_use", "hold_scope", "parentage", "cut", "placement", "event", "earlier_heat"}
    for table in metadata().tables.values():
        columns = {c.name for c in table.columns}
        if "entry_no" in columns and table.name not in derived:
            for key, kind in (("heat_id", "heat"), ("part_id", "piece")):
                if key in columns:
                    assert f" {table.name} x" in text[kind], (table.name, kind)
    assert {what for what, _, _ in OWN.values()} <= set(text)


def test_holds_are_listed_by_state_and_day(plant: Plant) -> None:
    with begin_work(plant.db, by="M. Holt", action="hold", subject="x") as work:
        part = plant.parts["S300-1-07"]
        make_hold(work, part_ids=[part], states=("proposed",), caused_by="A-2 contradicts A-1")
        make_hold(work, part_ids=[part], states=("placed", "lifted"))
        make_hold(work, part_ids=[part], states=("proposed", "turned-down"))
        make_hold(work, part_ids=[part], states=("placed", "under-check"), due_at=moment("12:00"), owner="M. Holt")
        make_hold(work, interval=(plant.sequence, 1, 1, 35.5, 37.0))
        make_hold(work, part_ids=[*plant.parts.values(), part, part])
        work.commit()
    with open_reader(plant.db) as reader:
        assert [h.hold_no for h in list_holds(reader)] == ["H-1", "H-5", "H-6", "H-7"]
        assert [(h.hold_no, h.caused_by) for h in list_holds(reader, proposed=True)] == [("H-2", "A-2 contradicts A-1")]
        assert [h.hold_no for h in list_holds(reader, due=True, now=moment("12:00"))] == ["H-5"]
        assert list_holds(reader, due=True, now=moment("11:59")) == []
        found = {h.hold_no: h for h in holds_on_part(reader, part)}
        scopes = {h.hold_no: h.scope for h in list_holds(reader)}
    assert set(found) == {"H-2", "H-3", "H-4", "H-5", "H-6", "H-7"}
    assert (found["H-3"].state, found["H-4"].state, found["H-5"].bars) == ("lifted", "turned-down", True)
    assert scopes["H-6"] == "strand 300/1/1 from 35.500 to 37.000 m"
    assert scopes["H-7"].endswith("and 2 more")
    assert scopes["H-1"] == "heat 41879"
