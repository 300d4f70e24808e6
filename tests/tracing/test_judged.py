"""Judging heats and pieces from the record."""

from __future__ import annotations

from contextlib import AbstractContextManager
from fractions import Fraction
from typing import Any

import pytest

from heattrace.judging.judgement import Judgement
from heattrace.schema.grades import GradeLimit
from heattrace.schema.people import WorksValue
from heattrace.store.engine import open_reader
from heattrace.store.ledger import canonical
from heattrace.store.work import Work, begin_work
from heattrace.tracing.judged import JudgedHeat, judge_heat
from heattrace.tracing.judged_piece import JudgedPiece, judge_piece
from tests.judging.books import cases
from tests.judging.test_worked_checks import line_of
from tests.make import (
    make_analysis,
    make_cast_analysis,
    make_earlier_piece,
    make_grade,
    make_heat,
    make_order_line,
    make_piece,
    make_sample,
    make_sequence,
    make_shipped_grade,
    make_temperature,
    moment,
)


def written(store: str) -> AbstractContextManager[Work]:
    return begin_work(store, by="T. Test", action="test", subject="judged")


def judged(store: str, heat_id: int, basis: str = "cast") -> JudgedHeat:
    with open_reader(store) as reader:
        return judge_heat(reader, heat_id, basis=basis)


def judged_piece(store: str, part_id: int, basis: str | None = None) -> JudgedPiece:
    with open_reader(store) as reader:
        return judge_piece(reader, part_id, basis=basis)


def verdicts(judgement: Judgement) -> dict[str, str]:
    return {f"{line.quantity} {line.sense}": line.verdict for line in judgement.limits}


def heat_of(work: Work, chem: str, grade: int, heat_no: str = "41878", **order: str) -> int:
    """A heat with one valid tundish analysis, ordered as told, or planned for the bare grade."""
    line = make_order_line(work, grade, order_no=heat_no, **order) if order else None
    heat = make_heat(work, heat_no, edition_id=grade, order_line_id=line)
    make_analysis(work, make_sample(work, heat, f"{heat_no}-T1"), chem)
    return heat


def test_content_below_the_limit_of_quantification_decides_where_it_can(store: str) -> None:
    """`<x` passes a maximum at or above x, cannot decide one below x, and fails a minimum above x."""
    with written(store) as work:
        limits = (("N", "", "0.012"), ("B", "", "0.0003"), ("Nb", "0.005", ""))
        heat = heat_of(work, "N=<0.0120 B=<0.0005 Nb=<0.002", make_grade(work, limits=limits))
        work.commit()
    (result,) = judged(store, heat).judgements
    assert verdicts(result) == {"N max": "pass", "B max": "undecided", "Nb min": "fail"}
    assert result.verdict == "fails"
    line = next(line for line in result.limits if line.quantity == "B")
    assert line.reported == "<0.0005"


def test_formula_with_a_bounded_member_is_undecided_between_its_ends(store: str) -> None:
    """By hand: C + Mn/6 + (Cr+Mo+V)/5 + (Ni+Cu)/15 = 0.18 + 1.50/6 + 0 = 0.43, and with V at 0.10 it is 0.45."""
    with written(store) as work:
        grade = make_grade(work, limits=(("CEV", "", "0.44"),))
        heat = heat_of(work, "C=0.18 Mn=1.50 Cr=0 Mo=0 V=<0.10 Ni=0 Cu=0", grade)
        work.commit()
    (result,) = judged(store, heat).judgements
    (line,) = result.limits
    assert (line.verdict, line.value, float(line.low or 0), float(line.high or 0)) == ("undecided", None, 0.43, 0.45)
    assert result.cev is not None and result.cev["value"] is None


def test_thickness_of_the_order_picks_the_band(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work, limits=(("C", "", "0.20"),), size_band_mm="t<=30")
        work.add(
            GradeLimit(
                edition_id=grade, row_no=3, basis="cast", size_band_mm="t>30", quantity="C", max_text="0.22",
                unit="mass %", rounding="rounding", source="made for a test", status="works",
            )
        )  # fmt: skip
        thin = heat_of(work, "C=0.21", grade, "41878", thickness_mm="30")
        thick = heat_of(work, "C=0.21", grade, "41879", thickness_mm="30.1")
        unsaid = heat_of(work, "C=0.21", grade, "41880")
        work.commit()
    found = {heat: judged(store, heat).judgements[0] for heat in (thin, thick, unsaid)}
    assert {h: j.verdict for h, j in found.items()} == {thin: "fails", thick: "meets", unsaid: "undecided"}
    assert (found[thin].size_mm, found[unsaid].size_mm) == ("30", None)


def test_heat_with_two_order_lines_gives_two_results(store: str) -> None:
    with written(store) as work:
        grade = make_shipped_grade(work, "EN 10025-2:2004 S355J2")
        sizes = {"1": "20", "2": "50"}
        lines = [make_order_line(work, grade, line=n, form="plate", thickness_mm=t) for n, t in sizes.items()]
        heat = make_heat(work, edition_id=grade, order_line_id=lines[0])
        chem = "C=0.19 Mn=1.45 Si=0.25 P=0.015 S=0.008 Cu=0.15 Ni=0.08 Cr=0.06 Mo=0.01 V=0.00 Al=0.030 N=0.008"
        make_analysis(work, make_sample(work, heat), chem)
        sequence = make_sequence(work, heat_ids=(heat,))
        make_piece(work, "P1", sequence_id=sequence, cut_no=1, shares={heat: 1.0})
        make_piece(work, "P2", sequence_id=sequence, cut_no=2, shares={heat: 1.0}, order_line_id=lines[1])
        work.commit()
    found = judged(store, heat)
    assert [(j.requirement, j.size_mm, j.verdict) for j in found.judgements] == [
        ("4711/1", "20", "fails"),
        ("4711/2", "50", "meets"),
    ]
    assert found.verdict == "fails"
    assert [result["requirement"] for result in found.as_json()["results"]] == ["4711/1", "4711/2"]
    assert [f.subject for f in found.findings] == ["41878 for 4711/1, cev"]


def through_the_record(store: str, case: dict[str, Any]) -> Judgement:
    """A worked case of judging entered as an order line, a heat and its analyses, and judged from there."""
    chem = case["chem"] if isinstance(case["chem"], list) else [case["chem"]]
    basis = case.get("basis", "cast")
    with written(store) as work:
        grade = make_shipped_grade(work, case["grade"])
        line = make_order_line(
            work, grade, form=case.get("form", ""), thickness_mm=case.get("size"),
            options="; ".join(case.get("options", ())), evidence="; ".join(case.get("evidence", ())),
        )  # fmt: skip
        heat = make_heat(work, edition_id=grade, order_line_id=line)
        for number, text in enumerate(chem):
            kind = "product" if basis == "product" else "tundish-steady"
            make_analysis(work, make_sample(work, heat, f"X{number}", kind=kind), text)
        work.commit()
    (judgement,) = judged(store, heat, basis).judgements
    return judgement


# Rounding by the absolute method is asked for on the command line; an order line cannot name it.
WORKED = [case for case in cases("worked") if "rounding" not in case]


@pytest.mark.parametrize("case", WORKED, ids=lambda case: case["name"])
def test_worked_check_holds_through_the_record(store: str, case: dict[str, Any]) -> None:
    result = through_the_record(store, case)
    for wanted in case.get("expect", []):
        line = line_of(result, wanted)
        assert line.verdict == wanted["verdict"]
        assert line.limit == wanted.get("limit", line.limit)
        if "margin" in wanted:
            assert line.margin == Fraction(wanted["margin"])
    assert result.verdict == case.get("verdict", result.verdict)
    assert result.size_mm == case.get("size")


def test_element_that_must_be_reported_blocks_meets(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work, limits=(("Si", "", ""),), report=1)
        heat = heat_of(work, "C=0.18", grade)
        work.commit()
    (result,) = judged(store, heat).judgements
    assert (result.verdict, result.missing) == ("undecided", ("Si",))


def test_heat_without_a_cast_analysis_is_undecided_and_says_why(store: str) -> None:
    with written(store) as work:
        heat = make_heat(work, edition_id=make_grade(work))
        make_analysis(work, make_sample(work, heat, "T1"), "C=0.18", state="contested")
        work.commit()
    found = judged(store, heat)
    assert found.verdict == "undecided"
    assert [j.verdict for j in found.judgements] == ["undecided"]
    missing = next(f for f in found.findings if f.code == "CHEM-MISSING" and f.wanted == "a cast analysis")
    assert "A-1 is contested" in missing.seen


def test_heat_without_grade_or_order_says_so(store: str) -> None:
    with written(store) as work:
        heat, odd = make_heat(work), make_heat(work, "41879", grade_text="NOPE")
        work.commit()
    assert (judged(store, heat).judgements, judged(store, heat).verdict) == ((), "undecided")
    assert "ORDER-MISSING" in [f.code for f in judged(store, heat).findings]
    assert "GRADE-UNKNOWN" in [f.code for f in judged(store, odd).findings]


def test_frozen_cast_analysis_is_what_is_judged(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work, limits=(("C", "", "0.20"),))
        heat = make_heat(work, edition_id=grade)
        sample = make_sample(work, heat)
        first = make_analysis(work, sample, "C=0.19")
        make_cast_analysis(work, heat, {"C": first})
        make_analysis(work, sample, "C=0.22", analysed_at=moment("09:00"), supersedes_id=first)
        work.commit()
    found = judged(store, heat)
    assert found.verdict == "meets"
    assert [f.code for f in found.findings] == ["CHEM-AMENDED", "CHEM-LATE"]


STEEL = "C=0.10 Si=0.20 Mn=0.50 P=0.010 S=0.005 Cu=0 Ni=0.10 Cr=0.30 Al=0"


def test_superheat_is_the_tundish_reading_over_the_liquidus(store: str) -> None:
    """Liquidus by hand: 1539 - (9 + 1.24 + 0.85 + 0.28 + 0.2 + 0.29 + 0.54) = 1526.6; 1550.5 - 1526.6 = 23.9."""
    with written(store) as work:
        heat = heat_of(work, STEEL, make_grade(work))
        make_temperature(work, heat, "1550.5", tundish="A", read_at=moment("07:30"))
        make_temperature(work, heat, "1601", place="ladle-lift", tundish=None, read_at=moment("06:50"))
        work.commit()
    (result,) = judged(store, heat).judgements
    (entry,) = result.superheat
    assert (entry.tundish, entry.read_at, entry.temperature_c) == ("A", "2026-03-02T07:30:00+00:00", "1550.5")
    assert entry.liquidus_formula == "liquidus-handbook-1990-carbon"
    assert (float(entry.liquidus_c or 0), float(entry.superheat_c or 0)) == (1526.6, 23.9)


def test_superheat_has_bounds_where_a_content_has(store: str) -> None:
    """S below 0.005 moves the liquidus by at most 40 x 0.005 = 0.2 degree C."""
    with written(store) as work:
        heat = heat_of(work, STEEL.replace("S=0.005", "S=<0.005"), make_grade(work))
        make_temperature(work, heat, "1550")
        work.commit()
    (entry,) = judged(store, heat).judgements[0].superheat
    assert (entry.superheat_c, entry.liquidus_c) == (None, None)
    assert (float(entry.superheat_low_c or 0), float(entry.superheat_high_c or 0)) == (23.2, 23.4)


def test_works_value_of_the_family_picks_the_liquidus_formula(store: str) -> None:
    """By hand, the 88 C set: 1537 - (8.8 + 1.6 + 2.5 + 0.3 + 0.125 + 0 + 0.4 + 0.45) = 1522.825."""
    with written(store) as work:
        steel = f"{STEEL} Mo=0 V=0"
        plain, spring = make_grade(work), make_grade(work, "54SiCr6", standard="EN 10089", family="spring")
        heats = [heat_of(work, steel, plain, "41878"), heat_of(work, steel, spring, "41879")]
        for heat in heats:
            make_temperature(work, heat, "1550")
        value = canonical("liquidus-principles-1994")
        work.add(WorksValue(name="liquidus-formula", scope="spring", edition=1, value=value, reason="tried"))
        work.commit()
    found = [judged(store, heat).judgements[0].superheat[0] for heat in heats]
    assert [entry.liquidus_formula for entry in found] == ["liquidus-handbook-1990-carbon", "liquidus-principles-1994"]
    assert [float(entry.liquidus_c or 0) for entry in found] == [1526.6, 1522.825]


@pytest.mark.parametrize(
    ("chem", "code"),
    [(STEEL.replace("C=0.10", "C=1.30"), "SUPERHEAT-RANGE"), ("C=0.10 Si=0.20", "SUPERHEAT-OPEN")],
    ids=["outside the range", "elements not reported"],
)
def test_there_is_no_superheat_without_a_sound_liquidus(store: str, chem: str, code: str) -> None:
    """A liquidus that reads low would hide a freezing nozzle."""
    with written(store) as work:
        heat = heat_of(work, chem, make_grade(work))
        make_temperature(work, heat, "1550")
        work.commit()
    found = judged(store, heat)
    (entry,) = found.judgements[0].superheat
    assert (entry.superheat_c, entry.liquidus_c, entry.superheat_low_c) == (None, None, None)
    assert code in [f.code for f in found.findings]


def test_product_analyses_of_a_heat_are_determinations_and_the_worst_counts(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work, limits=(("C", "", "0.20"),), basis="product")
        heat = make_heat(work, edition_id=grade)
        for number, chem in (("P1", "C=0.19"), ("P2", "C=0.23")):
            make_analysis(work, make_sample(work, heat, number, kind="product"), chem)
        make_analysis(work, make_sample(work, heat, "P3", kind="product"), "C=0.30", state="doubtful")
        make_analysis(work, make_sample(work, heat, "C1", kind="check"), "C=0.31")
        work.commit()
    found = judged(store, heat, "product")
    assert [(j.basis, j.verdict) for j in found.judgements] == [("product", "fails")]
    assert found.judgements[0].limits[0].reported == "0.23"
    assert len(found.messages) == 2


def test_product_basis_without_a_product_analysis_is_undecided(store: str) -> None:
    with written(store) as work:
        heat = heat_of(work, "C=0.18", make_grade(work))
        work.commit()
    found = judged(store, heat, "product")
    assert (found.judgements, found.verdict) == ((), "undecided")
    assert [f.code for f in found.findings] == ["CHEM-MISSING"]


def changing_piece(work: Work, head: float, tail: float, limit: str = "0.20") -> int:
    """A piece between a heat of 0.18 C and one of 0.22 C, ordered; `head` and `tail` are the shares of the second."""
    grade = make_grade(work, limits=(("C", "", limit),))
    first, second = heat_of(work, "C=0.18 Mn=1.40", grade, "41878"), heat_of(work, "C=0.22 S=0.010", grade, "41879")
    sequence = make_sequence(work, heat_ids=(first, second))
    mean = (head + tail) / 2
    return make_piece(
        work, "P1", sequence_id=sequence, cast_class="transition", order_line_id=make_order_line(work, grade),
        shares={first: (1 - head, 1 - mean, 1 - tail), second: (head, mean, tail)},
    )  # fmt: skip


def test_piece_whose_mean_is_inside_and_whose_tail_is_not_fails(store: str) -> None:
    """By hand: head 0.18, mean 0.18 + 0.40 x 0.04 = 0.196, tail 0.18 + 0.80 x 0.04 = 0.212."""
    with written(store) as work:
        piece = changing_piece(work, 0.0, 0.8)
        work.commit()
    found = judged_piece(store, piece)
    assert found.fit is not None and found.estimate is not None
    assert (found.fit.head, found.fit.mean, found.fit.tail, found.verdict) == ("meets", "meets", "fails", "fails")
    carbon = found.as_json()["composition"]["C"]
    assert {name: float(value) for name, value in carbon.items()} == {"head": 0.18, "mean": 0.196, "tail": 0.212}


def test_element_that_one_heat_does_not_report_is_not_determined_in_the_mixture(store: str) -> None:
    with written(store) as work:
        piece = changing_piece(work, 0.0, 0.8, limit="0.25")
        work.commit()
    composition = judged_piece(store, piece).as_json()["composition"]
    assert composition["S"] == {"head": None, "mean": None, "tail": None}
    assert [composition["Mn"][name] is None for name in ("head", "mean", "tail")] == [False, True, True]


def test_mixture_that_turns_inside_a_piece_is_judged_there_too(store: str) -> None:
    """Around a joint: both ends hold mostly the first heat, the middle the second; 0.18 + 0.9 x 0.04 = 0.216."""
    with written(store) as work:
        grade = make_grade(work, limits=(("C", "", "0.20"),))
        first, second = heat_of(work, "C=0.18", grade, "41878"), heat_of(work, "C=0.22", grade, "41879")
        sequence = make_sequence(work, heat_ids=(first, second))
        one = {"head": 1.0, "mean": 0.7, "tail": 0.8, "least": 0.1, "greatest": 1.0}
        other = {"head": 0.0, "mean": 0.3, "tail": 0.2, "least": 0.0, "greatest": 0.9}
        piece = make_piece(
            work, sequence_id=sequence, cast_class="transition", shares={first: one, second: other},
            order_line_id=make_order_line(work, grade),
        )  # fmt: skip
        work.commit()
    found = judged_piece(store, piece)
    assert found.estimate is not None and found.fit is not None
    assert found.estimate.positions == ("head", "mean", "tail", "inside, least share")
    assert (found.fit.head, found.fit.mean, found.fit.tail, found.verdict) == ("meets", "meets", "meets", "fails")


def test_bounded_content_in_a_mixture_stays_a_bound(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work, limits=(("N", "", "0.0100"),))
        first, second = heat_of(work, "N=0.0060", grade, "41878"), heat_of(work, "N=<0.0020", grade, "41879")
        sequence = make_sequence(work, heat_ids=(first, second))
        piece = make_piece(
            work, sequence_id=sequence, cast_class="transition", shares={first: 0.5, second: 0.5},
        )  # fmt: skip
        work.commit()
    found = judged_piece(store, piece)
    assert found.verdict == "meets"
    nitrogen = found.as_json()["composition"]["N"]
    assert nitrogen["mean"] is None and float(nitrogen["below"]["mean"]) == 0.0040


def test_failed_product_analysis_of_a_piece_outweighs_its_estimate(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work, limits=(("C", "", "0.20"),), basis="both")
        heat = heat_of(work, "C=0.19", grade)
        sequence = make_sequence(work, heat_ids=(heat,))
        piece = make_piece(work, sequence_id=sequence, shares={heat: 1.0})
        make_analysis(work, make_sample(work, heat, "P1", kind="product", part_id=piece), "C=0.23")
        work.commit()
    found = judged_piece(store, piece)
    assert found.fit is not None and found.fit.verdict == "meets"
    assert [p.verdict for p in found.products] == ["fails"]
    assert found.verdict == "fails"
    assert judged_piece(store, piece, "cast").verdict == "meets"
    assert judged_piece(store, piece, "product").fit is None


def test_piece_without_place_or_with_a_heat_not_analysed_has_no_verdict_but_undecided(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work)
        heats = [make_heat(work, no, edition_id=grade) for no in ("300", "301")]
        old = make_earlier_piece(work, "OLD-1", heats)
        sequence = make_sequence(work, heat_ids=heats)
        bare = make_piece(work, sequence_id=sequence, shares={heats[0]: 1.0})
        work.commit()
    for part in (old, bare):
        found = judged_piece(store, part)
        assert found.verdict == "undecided"
        assert "ESTIMATE-MISSING" in [f.code for f in found.findings]


def test_piece_of_three_heats_that_turn_inside_says_what_was_not_judged(store: str) -> None:
    with written(store) as work:
        grade = make_grade(work, limits=(("C", "", "0.20"),))
        heats = [heat_of(work, "C=0.18", grade, f"4187{n}") for n in range(3)]
        sequence = make_sequence(work, heat_ids=heats)
        shares = {
            heats[0]: {"head": 1.0, "mean": 0.4, "tail": 0.0, "least": 0.0, "greatest": 1.0},
            heats[1]: {"head": 0.0, "mean": 0.3, "tail": 0.1, "least": 0.0, "greatest": 0.6},
            heats[2]: {"head": 0.0, "mean": 0.3, "tail": 0.9, "least": 0.0, "greatest": 0.9},
        }
        piece = make_piece(work, sequence_id=sequence, cast_class="transition", shares=shares)
        work.commit()
    found = judged_piece(store, piece)
    assert found.fit is not None and found.fit.verdict == "meets"
    assert "ESTIMATE-INSIDE" in [f.code for f in found.findings]
