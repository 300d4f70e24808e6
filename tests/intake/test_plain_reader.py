"""Contents read many at once say the same as contents read cell by cell, or are left to be read so."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.cells import unit_of
from heattrace.intake.reading.contents import ContentReader, band_ppb
from heattrace.intake.reading.faults import CellFault
from heattrace.intake.reading.plain_contents import PlainContents
from heattrace.intake.reading.plain_reader import PlainReader
from heattrace.metallurgy.amount import UNREPORTED, Amount

POINT = Profile("point", "analyses", "")
COMMA = replace(POINT, decimal=",")
# Words of a source that are numbers to everybody else.
NUMBERED = replace(POINT, not_reported=frozenset(("", "-", "0", "99.99")), over_range=frozenset(("OVER", "9.99")))

UNITS = ("%", "%", "%", "mass %", "ppm", "mg/kg", "ppb")
CELLS = st.one_of(
    st.from_regex(r"\A ?[<>]? ?[0-9]{1,3}[.,][0-9]{1,8} ?\Z"),
    st.from_regex(r"\A0[.,]0[0-9]{1,3}\Z"),
    st.from_regex(r"\A[0-9]{1,7}\Z"),
    st.sampled_from(["", "-", "n.d.", "0", "0.0", "9.99", "99.99", "OVER", "012", "1.", ".5", "1e-3", "-0.0005",
                     "≤0.02", "0.1\n0.2", "٠.1", "<", "0,1.2", "41878", "+0.2", "\t", "0.02 %"]),
)  # fmt: skip
ROWS = st.lists(
    st.tuples(st.sampled_from(["C", "Si", "Mn", "P", "N", "Als", "B", "O"]), CELLS, st.sampled_from(UNITS)),
    min_size=1, max_size=6,
)  # fmt: skip


def settled(element: str, unit: str | None) -> tuple[str, str]:
    return element, unit_of(unit or "")


def read(rows: list[tuple[str, str, str]], profile: Profile = POINT) -> PlainContents | None:
    found = PlainReader(profile, settled).read(list(zip(*rows, strict=True)))
    return None if found is None else found[0]


@settings(max_examples=600, derandomize=True, deadline=None)
@given(ROWS, st.sampled_from([POINT, COMMA, NUMBERED]))
def test_what_is_read_at_once_is_what_each_cell_says(rows: list[tuple[str, str, str]], profile: Profile) -> None:
    contents = read(rows, profile)
    if contents is None:
        return
    by_cell = ContentReader(profile)
    for element, text, unit in rows:
        amount, flags = by_cell.read(text, element, unit_of(unit))
        assert contents[element] == amount
        assert flags == ()
    assert list(contents) == [element for element, _, _ in rows]
    numbers = [contents[e].value for e in contents]
    assert Decimal(contents.total_ppb()).scaleb(-7) == sum(n for n in numbers if n is not None)


def test_an_ordinary_analysis_is_read_at_once() -> None:
    # 1 ppm = 0.0001 %, 1 ppb = 0.0000001 %; in whole parts per billion 0.18 % is 1 800 000 and 58 ppm is 58 000.
    rows = [("C", "0.18", "%"), ("Mn", "12.50", "%"), ("Nb", "<0.002", "%"), ("N", "58", "ppm"), ("O", "12.5", "ppm"),
            ("B", "-", "%"), ("Als", " 0.031", "mass %"), ("V", "0.000", "%"), ("H", "1500", "ppb")]  # fmt: skip
    contents = read(rows)
    assert contents is not None
    assert contents.ppb == [1_800_000, 125_000_000, 20_000, 58_000, 12_500, None, 310_000, 0, 1_500]
    assert dict(contents) == {
        "C": Amount("=", Decimal("0.18"), "0.18"), "Mn": Amount("=", Decimal("12.50"), "12.50"),
        "Nb": Amount("<", Decimal("0.002"), "0.002"), "N": Amount("=", Decimal("0.0058"), "0.0058"),
        "O": Amount("=", Decimal("0.00125"), "0.00125"), "B": UNREPORTED,
        "Als": Amount("=", Decimal("0.031"), "0.031"), "V": Amount("=", Decimal("0.000"), "0.000"),
        "H": Amount("=", Decimal("0.0001500"), "0.0001500"),
    }  # fmt: skip
    assert contents.shape.units == {"N": "ppm", "O": "ppm", "H": "ppb"}
    assert "Ti" not in contents
    with pytest.raises(KeyError):
        contents["Ti"]


@pytest.mark.parametrize(
    "row",
    [("C", "0.0", "%"), ("C", "2.6", "%"), ("C", "0,18", "%"), ("C", "00.18", "%"), ("N", "0.0058", "ppm"),
     ("P", "0.0001", "%"), ("Cr", "0.12345678", "%"), ("S", "-0.001", "%"), ("Si", "0.2*", "%"), ("Cu", "7", "kg")],
)  # fmt: skip
def test_one_cell_that_asks_for_a_closer_look_leaves_all_to_be_read_by_themselves(row: tuple[str, str, str]) -> None:
    assert read([("Mn", "1.44", "%"), row]) is None
    assert read([("Mn", "1.44", "%")]) is not None


def test_an_element_said_twice_and_an_analysis_that_says_nothing_are_left() -> None:
    assert read([("C", "0.18", "%"), ("C", "0.18", "%")]) is None
    assert read([("C", "-", "%"), ("Mn", "", "%")]) is None


def test_a_form_met_before_is_read_by_its_own_digits() -> None:
    reader = PlainReader(POINT, settled)
    columns = [("C", "Mn"), ("0.18", "1.44"), ("%", "%")]
    one = reader.read(columns)
    other = reader.read([columns[0], ("0.25", "0.97"), columns[2]])
    outside = reader.read([columns[0], ("9.25", "0.97"), columns[2]])
    assert one is not None and other is not None
    assert one[0].shape is other[0].shape
    assert (one[0].ppb, other[0].ppb) == ([1_800_000, 14_400_000], [2_500_000, 9_700_000])
    assert outside is None


@pytest.mark.parametrize(
    ("symbol", "unit", "qualifier", "band"),
    # The bands of elements.py by hand: C 0.0003 to 2.5 %; N 0.00005 to 0.6 %; B 0 to 0.05 %; least in ppm 0.05.
    [("C", "%", "=", (3_000, 25_000_000)), ("C", "%", "<", (0, 25_000_000)), ("N", "ppm", "=", (500, 6_000_000)),
     ("B", "ppm", "<", (50, 500_000)), ("B", "%", "=", (0, 500_000)), ("Mn", "%", "=", (1, 300_000_000))],
)  # fmt: skip
def test_bands_in_parts_per_billion(symbol: str, unit: str, qualifier: str, band: tuple[int, int]) -> None:
    assert band_ppb(symbol, unit, qualifier) == band


@settings(max_examples=300, derandomize=True, deadline=None)
@given(
    st.sampled_from(["C", "Mn", "N", "B", "H"]), st.sampled_from(["%", "ppm", "ppb"]), st.sampled_from(["", "<"]),
    st.decimals(min_value=0, max_value=40, places=4),
)  # fmt: skip
def test_no_word_is_said_inside_the_band_in_parts_per_billion(
    symbol: str, unit: str, qualifier: str, number: Decimal
) -> None:
    first, last = band_ppb(symbol, unit, qualifier or "=")
    try:
        amount, flags = ContentReader(POINT).read(f"{qualifier}{number}", symbol, unit)
    except CellFault:
        amount, flags = None, ()
    moved = number.scaleb({"%": 7, "ppm": 3, "ppb": 0}[unit])
    if first <= moved <= last:
        assert amount is not None and not flags
