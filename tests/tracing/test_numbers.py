"""From a number as somebody read it to the record that bears it, or to the nearest ones, never picked."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heattrace.errors import Ambiguous, NotFound, WrongUsage
from heattrace.findings import Finding
from heattrace.intake.reading import parsing
from heattrace.intake.reading.faults import CellFault
from heattrace.store.engine import open_reader
from heattrace.store.number_form import searched
from heattrace.store.reader import Reader
from heattrace.store.work import begin_work
from heattrace.tracing.numbers import find
from heattrace.tracing.slips import KINDS, beyond, like_pattern, slips
from tests.make import (
    make_alias,
    make_dispatch,
    make_earlier_piece,
    make_grade,
    make_heat,
    make_piece,
    make_sequence,
    moment,
)


@pytest.fixture
def reader(store: str) -> Iterator[Reader]:
    """Heats 41878 (two series), 41879, 52001; pieces of two sequences, one dispatched, some with other numbers."""
    with begin_work(store, by="T. Test", action="import", subject="numbers") as work:
        edition = make_grade(work)
        heat = make_heat(work, "41878", edition_id=edition)
        make_heat(work, "41878", series="2025")
        make_heat(work, "41879", edition_id=edition)
        make_heat(work, "52001")
        sequence = make_sequence(work, "300", heat_ids=(heat,))
        other = make_sequence(work, "301")
        piece = make_piece(work, "S300-1-07", sequence_id=sequence, cut_no=7, shares={heat: 1.0})
        sent = make_piece(work, "S300-1-08", sequence_id=sequence, cut_no=8, from_m=36.01, to_m=42, shares={heat: 1.0})
        make_piece(work, "S301-2-11", sequence_id=other, strand_no=2, cut_no=11, shares={heat: 1.0})
        make_piece(work, "52001", sequence_id=other, strand_no=2, cut_no=12, from_m=36.01, to_m=42, shares={heat: 1.0})
        make_piece(work, "A%_7", sequence_id=other, strand_no=2, cut_no=13, from_m=42.01, to_m=48, shares={heat: 1.0})
        make_dispatch(work, [sent])
        make_alias(work, piece, "HF-2217")
        make_alias(work, sent, "HF-9", from_at=moment("15:00"), to_at=moment("16:00"))
        make_alias(work, piece, "HF-9", from_at=moment("16:00", day=30))
        make_alias(work, sent, "S301-2-11")
        make_earlier_piece(work, "OLD-1", [heat])
        work.commit()
    with open_reader(store) as found:
        yield found


def nearest(reader: Reader, text: str, **more: bool) -> list[Finding]:
    with pytest.raises((NotFound, Ambiguous)) as refused:
        find(reader, text, **more)
    return list(refused.value.findings)


@pytest.mark.parametrize(
    ("text", "typed"),
    [
        ("S300-1-07", "piece:S300-1-07"),
        ("  s300-1-07 ", "piece:S300-1-07"),
        ("s300–1—07", "piece:S300-1-07"),
        ("S300\u200b-1-\u00ad07", "piece:S300-1-07"),
        ("piece: s300-1-07", "piece:S300-1-07"),
        ("PIECE:S300-1-07", "piece:S300-1-07"),
        ("41879", "heat:2026/41879"),
        ("heat:41879", "heat:2026/41879"),
        ("heat:2025/41878", "heat:2025/41878"),
        ("heat: 2026 / 41878", "heat:2026/41878"),
        ("heat:52001", "heat:2026/52001"),
        ("piece:52001", "piece:52001"),
        ("OLD-1", "piece:OLD-1"),
        ("A%_7", "piece:A%_7"),
    ],
)
def test_number_in_any_writing_names_its_record(reader: Reader, text: str, typed: str) -> None:
    """Bad inputs 70 and 124: dashes, blanks, hidden signs are evened out; % and _ are signs like any other."""
    assert find(reader, text).typed == typed


def test_another_number_of_a_piece_is_exact_and_says_whose_it_is(reader: Reader) -> None:
    found = find(reader, "hf-2217")
    assert found.typed == "piece:S300-1-07"
    assert found.how == "HF-2217 is a number of Harrow Forge for piece S300-1-07, valid from 2026-03-02"


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("41878", {"heat:2025/41878", "heat:2026/41878"}),
        ("heat:41878", {"heat:2025/41878", "heat:2026/41878"}),
        ("52001", {"piece:52001", "heat:2026/52001"}),
        ("HF-9", {"piece:S300-1-07", "piece:S300-1-08"}),
        ("S301-2-11", {"piece:S301-2-11", "piece:S300-1-08"}),
    ],
)
def test_number_of_several_records_is_refused_with_all_of_them(reader: Reader, text: str, named: set[str]) -> None:
    """Bad input 105: a customer's own number re-used, or equal to one of ours."""
    with pytest.raises(Ambiguous) as refused:
        find(reader, text)
    assert {f.subject for f in refused.value.findings} == named
    assert all(name in str(refused.value) for name in named)
    for name in named:
        assert find(reader, name).typed == name
    if "piece:S301-2-11" in named:
        with pytest.raises(Ambiguous):
            find(reader, text, kind="piece")


@pytest.mark.parametrize(
    ("text", "subject", "words"),
    [
        ("S300-1-O7", "piece:S300-1-07", "0 read as O at place 8"),
        ("S300-I-07", "piece:S300-1-07", "1 read as I"),
        ("S300-L-07", "piece:S300-1-07", "1 read as L"),
        ("5300-1-07", "piece:S300-1-07", "S read as 5"),
        ("4187B", "heat:2026/41878", "8 read as B"),
        ("heat:S2001", "heat:2026/52001", "5 read as S"),
        ("S300-1-70", "piece:S300-1-07", "swapped"),
        ("S300-1-97", "piece:S300-1-07", "0, not 9"),
        ("S300-1-7", "piece:S300-1-07", "0 missing"),
        ("S300-1-007", "piece:S300-1-07", "0 too many"),
        ("S300 1 07", "piece:S300-1-07", "otherwise parted"),
        ("S300107", "piece:S300-1-07", "otherwise parted"),
        ("07-1-S300", "piece:S300-1-07", "other order"),
        ("70-1-003S", "piece:S300-1-07", "other end"),
        ("300-1-07", "piece:S300-1-07", "S lost at the beginning"),
        ("S301-2", "piece:S301-2-11", "its beginning"),
        ("S3O1-2", "piece:S301-2-11", "its beginning, 0 read as O"),
        ("00-1-07", "piece:S300-1-07", "inside it"),
        ("2026/41879", "heat:2026/41879", "series and number"),
        ("1879", "heat:2026/41879", "4 missing"),
        ("HF-2271", "piece:S300-1-07", "swapped"),
        ("HF2217", "piece:S300-1-07", "otherwise parted"),
    ],
)
def test_misread_number_lists_the_right_one_with_the_slip(reader: Reader, text: str, subject: str, words: str) -> None:
    findings = nearest(reader, text)
    (match,) = [f for f in findings if f.subject == subject]
    assert words in match.seen
    assert match.code == "NUMBER-NEAR"
    assert subject in match.next


def test_candidates_stand_likeliest_slip_first_and_dispatched_before_others(reader: Reader) -> None:
    """8 misread as B is likelier than 7; of two numbers that lack one sign the dispatched one comes first."""
    for text in ("S300-1-0B", "S300-1-0"):
        subjects = [f.subject for f in nearest(reader, text)]
        assert subjects[:2] == ["piece:S300-1-08", "piece:S300-1-07"]
    assert [f.subject for f in nearest(reader, "S300-1-0I")][:1] == ["piece:S300-1-08"]


def test_candidate_says_what_it_is_and_where_it_went(reader: Reader) -> None:
    first = nearest(reader, "S300-1-0B")[0]
    assert first.wanted == (
        "piece S300-1-08, heat 41878, sequence 300 strand 1 run 1 cut 8, 220 x 300 mm, "
        "to Harrow Forge on DN-900 2026-03-02"
    )
    heat = nearest(reader, "heat:41889")
    assert [f.wanted for f in heat if f.subject == "heat:2026/41879"] == [
        "heat 41879 of series 2026, EN 10025-2:2004 S355J2"
    ]


def test_asked_kind_bounds_what_is_found_and_listed(reader: Reader) -> None:
    assert find(reader, "52001", kind="heat").typed == "heat:2026/52001"
    with pytest.raises(WrongUsage):
        find(reader, "piece:52001", kind="heat")
    assert all(f.subject.startswith("heat:") for f in nearest(reader, "heat:5200"))
    assert all(f.subject.startswith("piece:") for f in nearest(reader, "piece:5200"))


@pytest.mark.parametrize(
    "text",
    ["41878'; DROP TABLE heat;--", '" OR 1=1', "41878%", "S300-1-0_", "%", "_____", "\x1b[31mred", "x" * 5000, "''"],
)
def test_text_that_is_no_number_is_only_text(reader: Reader, text: str) -> None:
    """Bad inputs 123 and 124."""
    with pytest.raises(NotFound) as refused:
        find(reader, text)
    assert str(refused.value).isprintable()
    assert len(str(refused.value)) < 400
    assert reader.scalar("SELECT count(*) FROM heat") == 4


@pytest.mark.parametrize("text", ["", "   ", "heat:", "piece: ", "\u200b"])
def test_nothing_typed_is_wrong_usage(reader: Reader, text: str) -> None:
    with pytest.raises(WrongUsage):
        find(reader, text)


@pytest.mark.parametrize(
    ("pattern", "subjects"),
    [
        ("S300-*", {"piece:S300-1-07", "piece:S300-1-08"}),
        ("*-07", {"piece:S300-1-07"}),
        ("S30?-?-?1", {"piece:S301-2-11", "piece:S300-1-08"}),
        ("418?9", {"heat:2026/41879"}),
        ("A%*", {"piece:A%_7"}),
        ("A?_7", {"piece:A%_7"}),
    ],
)
def test_wildcards_list_what_matches_and_pick_nothing(reader: Reader, pattern: str, subjects: set[str]) -> None:
    assert {f.subject for f in nearest(reader, pattern, wildcard=True)} == subjects
    without = nearest(reader, pattern)
    assert all("matches" not in f.seen for f in without)


def test_wildcard_that_matches_nothing_says_so(reader: Reader) -> None:
    with pytest.raises(NotFound, match="matches"):
        find(reader, "ZZ*", wildcard=True)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.text(alphabet="0123456789ABSOILZG-/. ", min_size=1, max_size=24))
def test_variants_are_bounded_differ_from_the_text_and_stand_by_kind(text: str) -> None:
    found = slips(text)
    assert len(found) < 2500
    numbers = [slip.number for slip in found]
    assert len(set(numbers)) == len(numbers)
    assert text not in numbers
    assert all(slip.kind in KINDS for slip in found)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.text(alphabet="0123456789ABS-", min_size=2, max_size=14), st.data())
def test_one_slip_of_a_true_number_finds_it_again(number: str, data: st.DataObject) -> None:
    """Whatever single slip made the text, the number it was made from is among the variants."""
    at = data.draw(st.integers(0, len(number) - 2))
    slip = data.draw(st.sampled_from(("swap", "drop", "digit", "like")))
    if slip == "swap":
        text = f"{number[:at]}{number[at + 1]}{number[at]}{number[at + 2 :]}"
    elif slip == "drop":
        if not number[at].isdigit():
            return
        text = number[:at] + number[at + 1 :]
    elif slip == "digit":
        if not number[at].isdigit():
            return
        text = f"{number[:at]}{(int(number[at]) + 3) % 10}{number[at + 1 :]}"
    else:
        alike = {"0": "O", "1": "I", "5": "S", "8": "B", "S": "5", "B": "8"}
        text = f"{number[:at]}{alike.get(number[at], number[at])}{number[at + 1 :]}"
    if text != number:
        assert number in {slip.number for slip in slips(text)}


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.text(max_size=30))
def test_search_form_is_that_of_intake_and_stable(text: str) -> None:
    form = searched(text)
    with suppress(CellFault):
        assert parsing.read_ident(text).normal == form
    assert searched(form) == form or not form.isascii()


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.text(alphabet="0123456789ABC-~\u00e9", min_size=1, max_size=6), st.text(max_size=4))
def test_range_of_a_prefix_holds_everything_that_begins_with_it(prefix: str, rest: str) -> None:
    assert prefix.encode() <= (prefix + rest).encode("utf-8", "surrogatepass") < beyond(prefix).encode()


def test_like_pattern_takes_every_other_sign_literally() -> None:
    assert like_pattern("50%_\\x*?") == "50\\%\\_\\\\x%_"


def test_a_number_of_which_only_the_end_is_legible_finds_the_pieces_that_hold_it(store: str) -> None:
    with begin_work(store, by="T. Test", action="import", subject="x") as work:
        for number in ("K9-1-0417", "K9-2-0418", "L1-1-0500"):
            make_piece(work, number)
        work.commit()
    with open_reader(store) as reader, pytest.raises(NotFound) as refused:
        find(reader, "0417")
    assert [f.subject for f in refused.value.findings] == ["piece:K9-1-0417"]
    with open_reader(store) as reader, pytest.raises(NotFound) as refused:
        find(reader, "%41")
    assert not refused.value.findings
