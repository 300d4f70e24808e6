"""Estimated composition along a part."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.estimate import composition_along, estimate
from heattrace.strand.record import Pour
from tests.strand.make_cast import cuts_at_places, make_cast, make_run

OLD, NEW = (Decimal("0.02"),) * 2, (Decimal("1.12"),) * 2


def test_mix_is_linear_in_the_shares():
    # by hand: 0.83 x 0.02 + 0.17 x 1.12 = 0.207, above a limit of 0.15 that its mean may well keep
    low, high = estimate({"A": 0.83, "B": 0.17}, {"A": OLD, "B": NEW})
    assert float(low) == float(high) == pytest.approx(0.207, abs=1e-12)


def test_heats_of_one_content_give_that_content_exactly():
    shares = {"A": 0.1, "B": 0.2, "C": 0.7000000000000001}
    assert estimate(shares, dict.fromkeys(shares, (Decimal("0.18"),) * 2)) == (Fraction(9, 50), Fraction(9, 50))


def test_less_than_carries_zero_to_its_value():
    low, high = estimate({"A": 0.5, "B": 0.5}, {"A": (Decimal(0), Decimal("0.002")), "B": (Decimal("0.004"),) * 2})
    assert (low, high) == (Fraction(1, 500), Fraction(3, 1000))


def test_greater_than_leaves_the_high_side_unknown():
    low, high = estimate({"A": 0.5, "B": 0.5}, {"A": (Decimal("0.1"), None), "B": (Decimal("0.3"),) * 2})
    assert (low, high) == (Fraction(1, 5), None)


def test_heat_without_the_element_leaves_the_mix_unknown_unless_it_is_below_the_floor():
    assert estimate({"A": 0.9, "B": 0.1}, {"A": OLD}) == (None, None)
    low, _ = estimate({"A": 0.99995, "B": 0.00005}, {"A": OLD})
    assert low == Fraction(1, 50)


def test_nothing_known_is_unknown():
    assert estimate({"A": 1.0}, {}) == (None, None)


def test_composition_is_given_at_head_mean_and_tail():
    run = make_run(cuts=cuts_at_places(15.0, 30.0))
    part = trace_cast(make_cast([run], pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 20.0)))).parts[1]
    found = composition_along(part, {"Cr": {"H1": OLD, "H2": NEW}})["Cr"]
    for end in ("head", "mean", "tail"):
        share = getattr(part.share_of("H2"), end)
        assert float(found[end][0]) == pytest.approx(0.02 + share * 1.10, abs=1e-12)
