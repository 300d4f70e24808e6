"""Contents as whole parts per billion give back the digits they came with."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from heattrace.intake.loading.analysis_pack import PLACES, rebuilt, whole_ppb
from heattrace.tracing.analyses import amount_of

DIGITS = st.from_regex(r"\A-?(?:0|[1-9][0-9]{0,2})(?:\.[0-9]{1,12})?\Z")


@settings(max_examples=300, derandomize=True, deadline=None)
@given(DIGITS)
def test_any_digits_come_back_exactly(text: str) -> None:
    value, places, odd = whole_ppb(text)
    assert amount_of(value, "=", places, odd).text == text
    assert abs(Decimal(value).scaleb(-PLACES) - Decimal(text)) <= Decimal("5e-8")
    if len(text.partition(".")[2]) <= PLACES and text not in ("-0",) and not text.startswith("-0"):
        assert odd is None
        assert rebuilt(value, places) == text


def test_a_part_per_billion_is_the_seventh_place_of_mass_percent() -> None:
    # 1 ppb = 1e-9 by mass = 1e-7 mass %; 0.182 % = 1 820 000 ppb; 58 ppm = 0.0058 % = 58 000 ppb.
    assert whole_ppb("0.182")[0] == 1_820_000
    assert whole_ppb("0.0058")[0] == 58_000
    assert whole_ppb("0.0000001")[0] == 1
