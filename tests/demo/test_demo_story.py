"""The story's numbers, found again in the practice files by a small reckoning after the reading rules of a cast book.

It marches in half-second steps and shares no code with the generator or the strand model.
"""

from __future__ import annotations

import csv
from bisect import bisect_right
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

import pytest
from practice_files import GRADE_BOOK, SHIPPED, Row, rows

from heattrace.demo.casting import cast
from heattrace.demo.order_of_import import STORY
from heattrace.demo.plant import SEQUENCES


def minute(text: str) -> float:
    return datetime.fromisoformat(text).timestamp() / 60


class Book:
    """A cast book in a folder, with just enough reckoning to place a piece and to mix a tundish."""

    def __init__(self, sequence: str) -> None:
        def sheet(name: str) -> list[Row]:
            return rows(f"casts/{sequence}/{name}.csv")

        self.strands = {r["strand_no"]: r for r in sheet("strands")}
        self.speeds: dict[str, list[tuple[float, float]]] = {}
        for r in sheet("speeds"):
            before = self.speeds.setdefault(r["strand_no"], [])
            before.append((minute(r["from_at"]), float(r["speed_m_min"] or before[-1][1])))
        self.feeds: dict[str, list[tuple[float, float, str]]] = {}
        for r in sheet("feeds"):
            span = (minute(r["from_at"]), minute(r["to_at"]), r["tundish"])
            self.feeds.setdefault(r["strand_no"], []).append(span)
        self.pours = [
            (minute(r["opened_at"]), minute(r["closed_at"]), r["heat_no"], r["tundish"]) for r in sheet("pours")
        ]
        self.masses = [(minute(r["read_at"]), float(r["mass_t"]), r["tundish"]) for r in sheet("tundish_masses")]
        self.cuts: dict[str, list[Row]] = {}
        for r in sheet("cuts"):
            self.cuts.setdefault(r["strand_no"], []).append(r)
        self.events = sheet("events")

    def metres(self, strand: str, at: float) -> float:
        total = 0.0
        log = self.speeds[strand]
        for k, (since, speed) in enumerate(log):
            until = log[k + 1][0] if k + 1 < len(log) else at
            total += speed * max(0.0, min(at, until) - since)
        return total

    def meniscus(self, strand: str, metres: float) -> float:
        """Minute at which a point was at the meniscus, where the strand did not stand."""
        low, high = self.speeds[strand][0][0], self.speeds[strand][-1][0]
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if self.metres(strand, middle) < metres else (low, middle)
        return low

    def places(self, strand: str) -> list[tuple[Row, float, float]]:
        """Every part of a strand with its head and tail, m; the tail crop ends where the last feed did."""
        machine = float(self.strands[strand]["machine_length_m"])
        kerf = float(self.strands[strand]["kerf_mm"]) / 1000
        end = self.metres(strand, self.feeds[strand][-1][1])
        found, head = [], 0.0
        for cut in self.cuts[strand]:
            if not cut["clamped_at"]:
                found.append((cut, head, end))
                continue
            z = float(cut["clamp_distance_m"] or machine)
            here = self.metres(strand, minute(cut["clamped_at"])) - z
            found.append((cut, head, here - kerf / 2))
            head = here + kerf / 2
        return found

    def place(self, piece_no: str) -> tuple[str, float, float]:
        for strand in self.strands:
            for cut, head, tail in self.places(strand):
                if cut["piece_no"] == piece_no:
                    return strand, head, tail
        raise KeyError(piece_no)

    def tonnes_per_metre(self, strand: str) -> float:
        r = self.strands[strand]
        # EN 1993-1-2, carbon steel, 860 to 1200 degree C: 2e-5 T - 6.2e-3.
        swell = 2e-5 * float(r["cut_temperature_c"]) - 6.2e-3
        return 7.85 * float(r["thickness_mm"]) * float(r["width_mm"]) * 1e-6 / (1 + swell)


@dataclass
class Mix:
    """Share of each heat in a tundish, by half-second steps."""

    start: float
    step: float
    shares: list[dict[str, float]]

    def at(self, when: float) -> dict[str, float]:
        return self.shares[round((when - self.start) / self.step)]


def mix(book: Book, tundish: str) -> Mix:
    """Linear mass between readings; no inflow while no ladle is open; all of it a well-stirred tank."""
    readings = [(t, m) for t, m, label in book.masses if label == tundish]
    pours = [p for p in book.pours if p[3] == tundish]
    step = 1 / 120
    start, mass = pours[0][0], 0.0
    last = max(to for feeds in book.feeds.values() for _, to, label in feeds if label == tundish)
    spans = [(start, mass), *readings]

    def draw(a: float, b: float) -> float:
        total = 0.0
        for strand, feeds in book.feeds.items():
            for since, to, label in feeds:
                low, high = max(a, since), min(b, to)
                if label == tundish and high > low:
                    moved = book.metres(strand, high) - book.metres(strand, low)
                    total += moved * book.tonnes_per_metre(strand)
        return total

    rates: list[float] = []
    for k in range(len(spans) - 1):
        (a, before), (b, after) = spans[k], spans[k + 1]
        open_min = sum(max(0.0, min(b, p[1]) - max(a, p[0])) for p in pours)
        rates.append(max(after - before + draw(a, b), 0.0) / open_min if open_min else 0.0)
    begins = [s for s, _ in spans]
    share = {pours[0][2]: 1.0}
    kept = [dict(share)]
    for n in range(int((last - start) / step) + 2):
        t = start + n * step
        k = min(bisect_right(begins, t + 1e-9) - 1, len(rates) - 1)
        heat = next((p[2] for p in pours if p[0] <= t < p[1]), None)
        inflow = rates[k] * step if heat else 0.0
        if heat and inflow:
            fresh = inflow / (mass + inflow)
            share = {h: s * (1 - fresh) for h, s in share.items()}
            share[heat] = share.get(heat, 0.0) + fresh
        mass = max(mass + inflow - draw(t, t + step), 0.0)
        kept.append(dict(share))
    return Mix(start, step, kept)


def cast_analysis(heat: str) -> dict[str, float]:
    """Mean of the steady tundish disc, mass %; `<` taken at its figure, which is against us."""
    export = rows("lab/spark-south.csv", ";", 1)
    (row,) = [r for r in export if (r["Heat"], r["Kind"], r["Line"]) == (heat, "TS", "Mean")]
    names = ("C", "Si", "Mn", "P", "S", "Cr", "Mo", "Ni", "Al", "Cu", "Nb", "V", "Ti")
    return {e: float(row[e].replace(",", ".").lstrip("<")) for e in names}


def limits(requirement: str) -> list[tuple[tuple[str, ...], float | None, float | None]]:
    """Elements (summed), least and most with half a last place added, from the shipped grade book."""

    def eased(text: str, sign: int) -> float | None:
        if not text:
            return None
        half = Decimal(1).scaleb(int(Decimal(text).as_tuple().exponent)) / 2
        return float(Decimal(text) + sign * half)

    with GRADE_BOOK.open(encoding="utf-8", newline="") as book:
        return [
            (tuple(r["quantity"].split("+")), eased(r["min"], -1), eased(r["max"], 1))
            for r in csv.DictReader(book)
            if f"{r['standard']}:{r['edition']} {r['grade']}" == requirement and r["basis"] in ("cast", "both")
        ]


def outside(steel: dict[str, float], requirement: str) -> set[str]:
    wrong = set()
    for elements, least, most in limits(requirement):
        value = sum(steel[e] for e in elements)
        if (least is not None and value < least) or (most is not None and value > most):
            wrong.add("+".join(elements))
    return wrong


@pytest.fixture(scope="module")
def blooms() -> Book:
    return Book("L119")


@pytest.fixture(scope="module")
def bloom_mix(blooms: Book) -> Mix:
    return mix(blooms, "T1")


def test_mean_of_the_transition_piece_is_inside_the_grade_and_its_tail_is_not(blooms: Book, bloom_mix: Mix) -> None:
    old, new = (cast_analysis(h) for h in STORY.grade_change_heats)
    strand, head_m, tail_m = blooms.place(STORY.transition_piece)

    def steel(share_new: float) -> dict[str, float]:
        return {e: old[e] * (1 - share_new) + new[e] * share_new for e in old}

    points = [head_m + (tail_m - head_m) * k / 200 for k in range(201)]
    shares = [bloom_mix.at(blooms.meniscus(strand, p)).get(STORY.grade_change_heats[1], 0.0) for p in points]
    mean = (sum(shares) - (shares[0] + shares[-1]) / 2) / 200
    assert shares[0] < 0.01
    assert outside(steel(mean), STORY.transition_requirement) == set()
    assert {"Cr", "Cr+Mo+Ni"} <= outside(steel(shares[-1]), STORY.transition_requirement)
    # Not by a hair either: chromium limit 0.40 %.
    assert steel(mean)["Cr"] < 0.39
    assert steel(shares[-1])["Cr"] > 0.55


def test_old_and_new_heat_of_the_change_meet_their_own_grade() -> None:
    grades = {r["heat_no"]: r["grade"] for r in rows("heats.csv")}
    for heat in (*STORY.grade_change_heats, STORY.good_heat):
        assert outside(cast_analysis(heat), grades[heat]) == set()
    assert grades[STORY.good_heat] == STORY.transition_requirement
    assert STORY.good_heat not in {meant for _, meant in STORY.mistyped}


def test_the_off_grade_heat_is_off_grade_in_one_element_and_its_neighbours_are_not() -> None:
    (most,) = [m for e, _, m in limits("EN 10025-2:2004 S355J0") if e == (STORY.off_grade_element,)]
    assert most is not None
    assert cast_analysis(STORY.off_grade_heat)[STORY.off_grade_element] > most + 0.02
    for heat in ("25R041", "25R042", "25R044", "25R045", "25R046"):
        assert cast_analysis(heat)[STORY.off_grade_element] < most


def test_two_instruments_disagree_on_one_carbon_across_the_limit() -> None:
    burnt = {r["sample_id"]: float(r["value"]) for r in rows("lab/combustion.csv") if r["element"] == "C"}
    apart = {h["heat_no"]: burnt[f"{h['heat_no']}-TS1"] - cast_analysis(h["heat_no"])["C"] for h in rows("heats.csv")}
    odd = apart.pop(STORY.disputed_carbon_heat)
    assert odd > 0.018
    assert max(map(abs, apart.values())) < 0.008
    # S355J0 up to 30 mm: C at most 0.20, so 0.205 and more fail; this heat is ordered at 28 mm.
    assert cast_analysis(STORY.disputed_carbon_heat)["C"] < 0.20 < 0.205 < burnt[STORY.disputed_carbon_sample]


def test_the_level_swing_lies_on_its_piece_and_not_on_the_complaints(blooms: Book) -> None:
    (swing,) = [e for e in blooms.events if e["kind"] == "level-swing"]
    assert int(swing["strand_no"]) == STORY.level_swing_strand[1]
    low, high = (blooms.metres(swing["strand_no"], minute(swing[at])) for at in ("from_at", "to_at"))
    hit = {cut["piece_no"] for cut, head, tail in blooms.places(swing["strand_no"]) if head < high and tail > low}
    assert hit == set(STORY.level_swing_pieces)
    strand, head, _ = blooms.place(STORY.complaint_piece)
    assert strand == swing["strand_no"]
    assert 5 < head - high < 10


def test_the_complaint_is_a_dispatched_piece_misread_in_one_sign(blooms: Book, bloom_mix: Mix) -> None:
    assert STORY.complaint_as_read in (SHIPPED / "complaint.txt").read_text(encoding="utf-8")
    assert STORY.complaint_as_read.replace("O", "0") == STORY.complaint_piece
    sent = {r["piece_no"]: r["customer"] for r in rows("dispatch/LN-3044.csv")}
    assert sent[STORY.complaint_piece] == STORY.complaint_customer
    strand, head, tail = blooms.place(STORY.complaint_piece)
    for point in (head, tail):
        assert bloom_mix.at(blooms.meniscus(strand, point))[STORY.good_heat] > 0.95


def test_blooms_dispatched_are_of_one_heat_and_clear_of_events(blooms: Book, bloom_mix: Mix) -> None:
    for row in rows("dispatch/LN-3044.csv"):
        strand, head, tail = blooms.place(row["piece_no"])
        for point in (head, tail):
            assert bloom_mix.at(blooms.meniscus(strand, point))[STORY.good_heat] > 0.95
        assert row["piece_no"] not in STORY.level_swing_pieces


@pytest.mark.parametrize("sequence", ["L118", "L119"])
def test_measured_lengths_agree_with_the_metres_cast(sequence: str) -> None:
    book = Book(sequence)
    residuals = [
        float(cut["measured_length_m"]) - (tail - head)
        for strand in book.strands
        for cut, head, tail in book.places(strand)
        if cut["measured_length_m"]
    ]
    assert len(residuals) > 200
    assert max(map(abs, residuals)) < 0.035
    assert len({round(r, 3) for r in residuals}) > 10


@pytest.mark.parametrize("sequence", ["L118", "L119"])
def test_poured_masses_balance_the_strands_and_what_is_left(sequence: str) -> None:
    """Poured by the ladle scale = metres cast x tonnes a metre + last reading of each tundish, within 1 %."""
    book = Book(sequence)
    poured = sum(float(r["poured_mass_t"]) for r in rows(f"casts/{sequence}/pours.csv"))
    cast = sum(book.metres(s, book.feeds[s][-1][1]) * book.tonnes_per_metre(s) for s in book.strands)
    left = sum(next(m for _, m, lab in reversed(book.masses) if lab == label) for label in {m[2] for m in book.masses})
    assert poured == pytest.approx(cast + left, rel=0.01)


def test_one_strand_stood_and_went_on_and_every_strand_stood_for_the_exchange() -> None:
    book = Book(STORY.exchange_sequence)
    stood = {s: sum(1 for k, (_, v) in enumerate(log[:-1]) if v == 0) for s, log in book.speeds.items()}
    assert stood == {s: 1 + (int(s) == STORY.stopped_strand[1]) for s in book.strands}
    assert all([f[2] for f in feeds] == ["T1", "T2"] for feeds in book.feeds.values())
    assert next(p[2] for p in book.pours if p[3] == "T2") == STORY.exchange_heat
    log = [r for r in rows("casts/L118/speeds.csv") if int(r["strand_no"]) == STORY.unknown_speed_strand[1]]
    lost = [r for r in log if not r["speed_m_min"]]
    assert len(lost) == sum(not r["speed_m_min"] for r in rows("casts/L118/speeds.csv")) == 1
    read = {(r["strand_no"], r["read_at"]) for r in rows("casts/L118/counters.csv")}
    after = log[log.index(lost[0]) + 1]
    assert {("5", lost[0]["from_at"]), ("5", after["from_at"])} <= read


def test_another_strand_lost_its_speed_with_no_counter_to_tell_it() -> None:
    sequence, strand = STORY.bounded_speed_strand
    log = [r for r in rows(f"casts/{sequence}/speeds.csv") if r["strand_no"] == str(strand)]
    (lost,) = [k for k, r in enumerate(log) if not r["speed_m_min"]]
    assert log[lost - 1]["speed_m_min"] < log[lost + 1]["speed_m_min"]
    assert not (SHIPPED / "casts" / sequence / "counters.csv").exists()
    gone = minute(log[lost + 1]["from_at"]) - minute(log[lost]["from_at"])
    assert gone == 3


def test_the_records_give_back_the_shares_that_were_marched(blooms: Book, bloom_mix: Mix) -> None:
    """Two reckonings, one from the plan second by second, one from the scale readings: shares agree within 0.02."""
    marched = cast(next(p for p in SEQUENCES if p.sequence_no == STORY.grade_change_sequence))
    apart = []
    for part in marched.parts:
        if part.piece_no:
            strand, head, tail = blooms.place(part.piece_no)
            for metres, shares in ((head, part.head), (tail, part.tail)):
                found = bloom_mix.at(blooms.meniscus(strand, metres))
                apart += [abs(s - found.get(h.heat_no, 0.0)) for h, s in zip(marched.plan.heats, shares, strict=True)]
    assert len(apart) > 2000
    assert max(apart) < 0.02
