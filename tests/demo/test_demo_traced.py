"""The strand model on the practice records against the march that made them: two reckonings with no code in common."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from practice_files import rows, sheet

from heattrace.demo.casting import Cast, cast
from heattrace.demo.order_of_import import DISPATCHES, STORY
from heattrace.demo.plant import SEQUENCES, SequencePlan
from heattrace.strand import record
from heattrace.strand.cast import trace_cast
from heattrace.strand.traced import TracedCast, TracedPart


def number(text: str) -> float | None:
    return float(text) if text else None


def recorded(plan: SequencePlan) -> record.Cast:
    """A cast book in the strand model's terms, minutes from its first ladle."""
    book = plan.sequence_no
    origin = datetime.fromisoformat(sheet(book, "pours")[0]["opened_at"])

    def at(text: str) -> float:
        return (datetime.fromisoformat(text) - origin).total_seconds() / 60

    def maybe(text: str) -> float | None:
        return at(text) if text else None

    def of(name: str, strand: str) -> list[dict[str, str]]:
        return [r for r in sheet(book, name) if r["strand_no"] == strand]

    counters = {s.strand_no: of("counters", str(s.strand_no)) for s in plan.strands} if plan.counters else {}
    end = at(sheet(book, "sequences")[0]["recorded_until"])
    return record.Cast(
        book,
        tuple(record.HeatInfo(r["heat_no"], r["heat_no"], r["grade"]) for r in sheet(book, "heats")),
        tuple(tundish(r, sheet(book, "tundish_masses"), at) for r in sheet(book, "tundishes")),
        tuple(
            record.Pour(r["heat_no"], r["tundish"], at(r["opened_at"]), at(r["closed_at"]), number(r["poured_mass_t"]))
            for r in sheet(book, "pours")
        ),
        tuple(
            record.Run(
                int(r["strand_no"]), int(r["run_no"]), r["form"], float(r["thickness_mm"]), float(r["width_mm"]),
                float(r["machine_length_m"]), at(r["started_at"]), stopped=at(r["stopped_at"]),
                kerf_mm=float(r["kerf_mm"]), cut_temperature_c=float(r["cut_temperature_c"]),
                feeds=tuple(
                    record.Feed(f["tundish"], at(f["from_at"]), at(f["to_at"])) for f in of("feeds", r["strand_no"])
                ),
                speeds=tuple((at(s["from_at"]), number(s["speed_m_min"])) for s in of("speeds", r["strand_no"])),
                counters=tuple(
                    (at(c["read_at"]), float(c["counter_m"])) for c in counters.get(int(r["strand_no"]), [])
                ),
                cuts=tuple(
                    record.Cut(
                        int(c["cut_no"]), c["kind"], c["piece_no"] or None, maybe(c["clamped_at"]),
                        number(c["clamp_distance_m"]), number(c["measured_length_m"]), number(c["mass_kg"]),
                        number(c["foreign_mass_kg"]),
                    )
                    for c in of("cuts", r["strand_no"])
                ),
            )
            for r in sheet(book, "strands")
        ),
        end,
        end,
    )  # fmt: skip


def tundish(row: dict[str, str], readings: list[dict[str, str]], at: Callable[[str], float]) -> record.Tundish:
    own = tuple((at(r["read_at"]), float(r["mass_t"])) for r in readings if r["tundish"] == row["tundish"])
    start, working = float(row["mass_at_start_t"]), float(row["working_mass_t"])
    return record.Tundish(row["tundish"], start, working_mass_t=working, readings=own)


@pytest.fixture(scope="module", params=SEQUENCES, ids=lambda plan: plan.sequence_no)
def both(request: pytest.FixtureRequest) -> tuple[TracedCast, Cast]:
    return trace_cast(recorded(request.param)), cast(request.param)


def test_traced_parts_lie_where_they_were_cast(both: tuple[TracedCast, Cast]) -> None:
    traced, marched = both
    made = {(p.strand_no, p.cut.cut_no): p for p in marched.parts}
    assert {(p.strand_no, p.cut_no) for p in traced.parts} == set(made)
    for part in traced.parts:
        cut = made[part.strand_no, part.cut_no].cut
        if part.bounds is None:
            assert (part.from_m, part.to_m) == pytest.approx((cut.head_m, cut.tail_m), abs=1e-6)
        for true_m, (low_m, high_m) in zip((cut.head_m, cut.tail_m), bounds_m(part), strict=True):
            assert low_m - 1e-6 <= true_m <= high_m + 1e-6


def bounds_m(part: TracedPart) -> tuple[tuple[float, float], tuple[float, float]]:
    """Between where and where a part's head and its tail may lie, m."""
    if part.bounds is None:
        return (part.from_m, part.from_m), (part.to_m, part.to_m)
    return part.bounds.from_m, part.bounds.to_m


def test_a_speed_lost_without_a_counter_bounds_the_parts_of_its_strand_and_no_other(
    both: tuple[TracedCast, Cast],
) -> None:
    traced, _ = both
    bounded = [p for p in traced.parts if p.bounds is not None]
    sequence, strand = STORY.bounded_speed_strand
    assert {p.strand_no for p in bounded} == ({strand} if traced.sequence_no == sequence else set())
    for part in bounded:
        (low_m, high_m), (_, tail_m) = bounds_m(part)
        # The speed was 0.95 or 0.97 m/min for three minutes: at most 6 cm apart.
        assert high_m - low_m <= 0.06 + 1e-6 and tail_m > high_m


def test_traced_shares_are_those_cast_within_what_the_readings_can_tell(both: tuple[TracedCast, Cast]) -> None:
    """Scale readings to 0.1 t every few minutes: shares to 0.02."""
    traced, marched = both
    made = {(p.strand_no, p.cut.cut_no): p for p in marched.parts}
    for part in traced.parts:
        shares = {s.heat_id: s for s in part.shares}
        truth = made[part.strand_no, part.cut_no]
        for heat, head, mean, tail in zip(marched.plan.heats, truth.head, truth.mean, truth.tail, strict=True):
            found = shares[heat.heat_no]
            assert (found.head, found.mean, found.tail) == pytest.approx((head, mean, tail), abs=0.02)


def test_traced_balance_closes_on_the_practice_records(both: tuple[TracedCast, Cast]) -> None:
    traced, marched = both
    assert len(traced.balance.heats) == len(marched.plan.heats)
    for heat, pour in zip(traced.balance.heats, marched.pours, strict=True):
        assert abs(heat.closure_t) < 1e-9
        assert heat.poured_t == pytest.approx(pour.poured_t, abs=0.3)


def test_pieces_sent_are_pure_and_the_transition_piece_awaits_a_decision(both: tuple[TracedCast, Cast]) -> None:
    traced, _ = both
    parts: dict[str, TracedPart] = {p.piece_no: p for p in traced.parts if p.piece_no}
    sent = [r["piece_no"] for step in DISPATCHES for r in rows(step.path) if r["piece_no"] in parts]
    assert sent
    for piece in sent:
        assert parts[piece].class_ == "pure"
        assert parts[piece].heat in STORY.dispatched_heats
    if traced.sequence_no == STORY.grade_change_sequence:
        piece = parts[STORY.transition_piece]
        assert (piece.class_, piece.heat, piece.heat_no_rule) == ("transition", None, "decision")
        assert {reason.code for reason in piece.class_reasons} >= {"mixed", "grade-change"}
