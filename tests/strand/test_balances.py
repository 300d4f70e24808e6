"""Heat by heat balance, yields, and counter against measured lengths."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.record import Cut, Feed, Pour
from tests.strand.make_cast import MU, cuts_at_places, make_cast, make_run


def checked(*lengths, **changes):
    """The run check of parts cut every 5 m (4.99 m between kerfs), measured as given."""
    cuts = cuts_at_places(*(5.0 * k for k in range(1, len(lengths) + 1)))
    rows = tuple(replace(cut, measured_length_m=value) for cut, value in zip(cuts, lengths, strict=True))
    traced = trace_cast(make_cast([make_run(cuts=rows, **changes)]))
    return traced.balance.runs[0], [finding.code for finding in traced.findings]


def test_strand_is_pieces_crops_kerf_and_what_is_in_the_machine():
    cuts = (Cut(1, "head-crop", None, 11.0), *(Cut(k, "piece", f"P{k}", 11.0 + 6.0 * (k - 1)) for k in range(2, 6)))
    row = trace_cast(make_cast([make_run(cuts=cuts)])).balance.heats[0]
    # crop to 1 m, four pieces of 5.99 m, five kerfs of 10 mm, then from 25.005 to 60 m in the machine
    assert row.crops_t == pytest.approx(MU * 0.995, abs=1e-12)
    assert row.pieces_t == pytest.approx(MU * 4 * 5.99, abs=1e-12)
    assert row.kerf_t == pytest.approx(MU * 0.05, abs=1e-12)
    assert row.in_machine_t == pytest.approx(MU * (60.0 - 25.005), abs=1e-12)
    assert row.strand_t == pytest.approx(MU * 60.0, abs=1e-12)


def test_everything_that_is_no_piece_counts_as_crop():
    kinds = ("head-crop", "sample", "scrap", "tail-crop", "piece")
    cuts = tuple(Cut(k, kind, None, 10.0 + 5.0 * k) for k, kind in enumerate(kinds, start=1))
    row = trace_cast(make_cast([make_run(cuts=cuts)])).balance.heats[0]
    assert row.pieces_t == pytest.approx(MU * 4.99, abs=1e-12)
    assert row.crops_t == pytest.approx(MU * (4.995 + 3 * 4.99), abs=1e-12)


def test_initial_and_poured_are_what_left_the_strands_and_what_is_left():
    cast = make_cast(pours=(Pour("H1", "T1", 0.0, 20.0), Pour("H2", "T1", 30.0)))
    for row in trace_cast(cast).balance.heats:
        assert row.initial_t + row.poured_t == pytest.approx(row.strand_t + row.tundish_left_t + row.loss_t, abs=1e-12)
        assert abs(row.closure_t) < 1e-9


def test_strand_yield_is_all_cast_and_prime_yield_is_released_over_all_liquid():
    balance = trace_cast(make_cast()).balance
    liquid = 10.0 + MU * 60.0
    assert balance.strand_yield == pytest.approx(MU * 60.0 / liquid, abs=1e-12)
    assert balance.prime_yield(12.5) == pytest.approx(12.5 / liquid, abs=1e-12)


def test_long_sequence_comes_nearer_to_full_yield_than_a_single_ladle():
    # common practice, also Encyclopaedia Britannica: about 93 % for single ladles, approaching 100 % in sequence
    def with_heats(count):
        pours = tuple(Pour(f"H{k}", "T1", 40.0 * k, 40.0 * (k + 1)) for k in range(count))
        grades = {f"H{k}": "one grade" for k in range(count)}
        run = make_run(feeds=(Feed("T1", 0.0, 40.0 * count),))
        cast = make_cast([run, *(replace(run, strand_no=k) for k in (2, 3, 4))], pours=pours, grades=grades)
        return trace_cast(replace(cast, last_time=40.0 * count)).balance.strand_yield

    assert with_heats(1) < with_heats(3) < with_heats(10) < 1.0


def test_counter_and_measured_lengths_run_from_first_to_last_cut_with_kerfs():
    check, codes = checked(None, 4.99, 4.99, 4.99)
    assert check.counter_m == pytest.approx(15.0, abs=1e-9)
    assert check.measured_m == pytest.approx(15.0, abs=1e-9)
    assert check.scale == pytest.approx(1.0, abs=1e-12)
    assert check.flag == "ok"
    assert "length-scale" not in codes


def test_scale_is_counter_over_measured():
    check, _ = checked(None, 5.02, 5.02, 5.02)
    assert check.scale == pytest.approx(15.0 / 15.09, abs=1e-12)


@pytest.mark.parametrize(
    ("measured", "flag"),
    [(4.97, "ok"), (4.96, "look"), (4.935, "distrust")],
    ids=["0.4 percent", "0.6 percent", "1.1 percent"],
)
def test_scale_beyond_half_a_percent_is_looked_at_and_beyond_one_distrusted(measured, flag):
    check, codes = checked(None, measured, measured, measured)
    assert check.flag == flag
    assert ("length-scale" in codes) == (flag != "ok")


@pytest.mark.parametrize(("off_mm", "flag"), [(45, "ok"), (55, "look"), (155, "distrust")])
def test_one_residual_beyond_fifty_millimetres_is_looked_at(off_mm, flag):
    # a pair +d, -d leaves the scale alone: one cut position wrong
    check, codes = checked(None, 4.99 + off_mm / 1000.0, 4.99 - off_mm / 1000.0, 4.99)
    assert check.scale == pytest.approx(1.0, abs=1e-9)
    assert check.flag == flag
    assert codes.count("length-residual") == (0 if flag == "ok" else 2)


def test_run_without_measured_lengths_says_so():
    check, _ = checked(None, None, None)
    assert (check.flag, check.measured_m, check.scale) == ("not-measured", None, None)
    assert check.counter_m == pytest.approx(10.0, abs=1e-9)


def test_measured_lengths_never_move_a_cut():
    check, _ = checked(None, 4.9, 4.9, 4.9)
    assert check.counter_m == pytest.approx(15.0, abs=1e-9)


def test_parts_that_were_not_measured_are_left_out_on_both_sides():
    check, _ = checked(None, 4.99, None, 4.99)
    assert check.counter_m == pytest.approx(10.0, abs=1e-9)
    assert check.measured_m == pytest.approx(10.0, abs=1e-9)
