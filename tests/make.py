"""Records for tests, without the importer: keyword defaults, so that a test names only what it is about.

Each function writes through the unit of work it is given and returns the new key. Times are `moment("08:30")` of one
invented day; lengths are metres, masses tonnes or kilograms as named, shares 0 to 1.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from heattrace.metallurgy.amount import Amount, read_chem
from heattrace.metallurgy.elements import ELEMENT_NUMBER
from heattrace.schema import analyses, casts, grades, parts
from heattrace.schema.analyses import Analysis, AnalysisState, CastAnalysis, Result, ResultForm, ResultText, Sample
from heattrace.schema.decisions import Decision, Hold, HoldEvent, HoldScope
from heattrace.schema.grades import Assignment, Edition, Grade, GradeLimit, OrderLine
from heattrace.schema.heats import Addition, Heat, HeatRecord, Temperature
from heattrace.schema.parts import Alias, EarlierHeat, Movement, Parentage, Part, Placement, Share, Weight
from heattrace.store.recorded import DEGREES, KILOGRAMS, METRES, TONNES, to_whole
from heattrace.store.work import Work

DAY = 1_772_409_600_000  # 2026-03-02T00:00:00Z
PLAIN_LIMITS = (("C", "", "0.20"), ("Mn", "", "1.60"), ("S", "", "0.030"))


def moment(clock: str, day: int = 0) -> int:
    """Milliseconds UTC of a clock time `HH:MM` or `HH:MM:SS` on the tests' day, plus whole days."""
    hours, minutes, seconds = ([int(n) for n in clock.split(":")] + [0])[:3]
    return DAY + ((day * 24 + hours) * 3600 + minutes * 60 + seconds) * 1000


def micro(value: float | None) -> int | None:
    """Metres as micrometres, shares as millionths."""
    return None if value is None else round(value * 1e6)


def make_grade(
    work: Work, name: str = "S355J2", *, standard: str = "EN 10025-2", edition: str = "2004", family: str = "carbon",
    limits: Iterable[tuple[str, str, str]] = PLAIN_LIMITS, basis: str = "cast", status: str = "works",
    size_band_mm: str = "all", condition: str | None = None, report: int = 0,
) -> int:  # fmt: skip
    """A grade edition with (quantity, min, max) limits; gives edition_id. Its text is `STANDARD:EDITION NAME`."""
    known = work.reader.scalar("SELECT grade_id FROM grade WHERE standard = :s AND name = :n", s=standard, n=name)
    grade_id = known or work.add(Grade(standard=standard, name=name, family=family))
    requirement = f"{standard}:{edition} {name}"
    edition_id = work.add(Edition(grade_id=grade_id, edition=edition, revision=1, requirement=requirement))
    for row_no, (quantity, low, high) in enumerate(limits, start=2):
        work.add(
            GradeLimit(
                edition_id=edition_id, row_no=row_no, basis=basis, size_band_mm=size_band_mm, quantity=quantity,
                min_text=low or None, max_text=high or None, unit="mass %", rounding="rounding", condition=condition,
                report=report, source="made for a test", status=status,
            )
        )  # fmt: skip
    return edition_id


def make_customer(work: Work, name: str = "Harrow Forge") -> int:
    """A customer, made once; gives customer_id."""
    known = work.reader.scalar("SELECT customer_id FROM customer WHERE name = :n AND ended_no IS NULL", n=name)
    return int(known or work.add(grades.Customer(name=name)))


def make_order_line(
    work: Work, edition_id: int, *, order_no: str = "4711", line: str = "1", customer: str = "Harrow Forge",
    form: str = "bar", thickness_mm: str | None = "60", options: str = "", evidence: str = "", **more: Any,
) -> int:  # fmt: skip
    """An order line; gives order_line_id. Its requirement text is `ORDER/LINE`."""
    return work.add(
        OrderLine(
            order_no=order_no, line=line, customer_id=make_customer(work, customer), edition_id=edition_id, form=form,
            thickness_mm=thickness_mm, guard_band="0", options=options, evidence=evidence, **more,
        )
    )  # fmt: skip


def make_heat(
    work: Work, heat_no: str = "41878", *, series: str = "2026", edition_id: int | None = None,
    order_line_id: int | None = None, grade_text: str | None = None, tapped_at: int | None = None,
    tapped_mass_t: str | None = "110", evidence: str = "", ladle_no: str | None = "7",
) -> int:  # fmt: skip
    """A heat and its particulars; gives heat_id."""
    heat_id = work.add(Heat(heat_no=heat_no, series=series, written_no=heat_no))
    mass_g, mass_text = to_whole(tapped_mass_t, TONNES) if tapped_mass_t else (None, None)
    work.add(
        HeatRecord(
            heat_id=heat_id, edition_id=edition_id, grade_text=grade_text, ladle_no=ladle_no,
            tapped_at=moment("06:00") if tapped_at is None else tapped_at, tapped_offset=0, tapped_mass_g=mass_g,
            tapped_mass_text=mass_text, order_line_id=order_line_id, evidence=evidence,
        )
    )  # fmt: skip
    return heat_id


def make_sequence(
    work: Work, sequence_no: str = "S-300", *, caster: str = "CC2", strands: Sequence[int] = (1,),
    heat_ids: Sequence[int] = (), tundish: str = "A", machine_length_m: str = "28",
) -> int:  # fmt: skip
    """A sequence with its book, one run per strand, one tundish and one pour per heat; gives sequence_id."""
    sequence_id = work.add(casts.Sequence(sequence_no=sequence_no, caster=caster))
    record_id = work.add(casts.CastRecord(sequence_id=sequence_id, edition=1, last_at=moment("12:00")))
    sheets = {
        name: work.add(casts.CastSheet(cast_record_id=record_id, sequence_id=sequence_id, sheet=name))
        for name in ("tundishes", "pours", "strands", "cuts", "events")
    }
    work.add(
        casts.TundishUse(
            cast_sheet_id=sheets["tundishes"], sequence_id=sequence_id, tundish=tundish, mass_at_start_g=20_000_000,
            row_no=2,
        )
    )  # fmt: skip
    for n, heat_id in enumerate(heat_ids):
        opened = moment("07:00") + n * 3_000_000
        work.add(
            casts.Pour(
                cast_sheet_id=sheets["pours"], sequence_id=sequence_id, heat_id=heat_id, tundish=tundish,
                opened_at=opened, opened_offset=0, closed_at=opened + 2_900_000, row_no=n + 2,
            )
        )  # fmt: skip
    for n, strand_no in enumerate(strands):
        length, text = to_whole(machine_length_m, METRES)
        work.add(
            casts.StrandRun(
                cast_sheet_id=sheets["strands"], sequence_id=sequence_id, strand_no=strand_no, run_no=1, form="bloom",
                thickness_mm="220", width_mm="300", machine_length_um=length, machine_length_text=text,
                started_at=moment("07:00"), started_offset=0, row_no=n + 2,
            )
        )  # fmt: skip
    return sequence_id


def make_piece(
    work: Work, piece_no: str | None = "S300-1-07", *, sequence_id: int | None = None, strand_no: int = 1,
    run_no: int = 1, cut_no: int = 7, kind: str = "piece", from_m: float = 30.0, to_m: float = 36.0,
    shares: Mapping[int, Any] | None = None, cast_class: str = "pure", reasons: Sequence[Any] = (),
    heat_no_rule: str | None = None, heat_id: int | None = None, majority: int | None = None, late: int | None = None,
    order_line_id: int | None = None, measured_length_m: str | None = None, mass_kg: str | None = None,
    tundish: str = "A", origin: str = "cast", stop_marks_m: Sequence[float] = (), bounds: Any = None,
) -> int:  # fmt: skip
    """A part; gives part_id. With a sequence also its cut, its place and its shares.

    `shares` is {heat_id: mean} or {heat_id: (head, mean, tail)} or {heat_id: {"mean", "head", "tail", "least",
    "greatest"}}. A pure part bears its greatest heat's number by the rule `pure`, any other none (`decision`) unless
    `heat_id` and `heat_no_rule` say so.
    """
    placed = sequence_id is not None
    part_id = work.add(
        Part(
            kind=kind, origin=origin, piece_no=piece_no, written_no=piece_no, form="bloom", sequence_id=sequence_id,
            strand_no=strand_no if placed else None, run_no=run_no if placed else None,
            cut_no=cut_no if placed else None,
        )
    )  # fmt: skip
    if sequence_id is None:
        if order_line_id is not None:
            work.add(Assignment(part_id=part_id, order_line_id=order_line_id))
        return part_id
    sheet_id = work.reader.scalar(
        "SELECT cast_sheet_id FROM cast_sheet WHERE sequence_id = :s AND sheet = 'cuts'", s=sequence_id
    )
    length, length_text = to_whole(measured_length_m, METRES) if measured_length_m else (None, None)
    mass, mass_text = to_whole(mass_kg, KILOGRAMS) if mass_kg else (None, None)
    clamped_at = moment("08:00") + cut_no * 420_000
    work.add(
        casts.Cut(
            cast_sheet_id=sheet_id, sequence_id=sequence_id, strand_no=strand_no, run_no=run_no, cut_no=cut_no,
            kind=kind, piece_no=piece_no, clamped_at=clamped_at, clamped_offset=0, measured_length_um=length,
            measured_length_text=length_text, mass_g=mass, mass_text=mass_text, order_line_id=order_line_id, row_no=2,
        )
    )  # fmt: skip
    given = {h: _share(s) for h, s in (shares or {}).items()}
    greatest = max(given, key=lambda h: given[h]["mean"], default=None)
    rule = heat_no_rule or ("pure" if cast_class == "pure" else "decision")
    bearer = heat_id if heat_id is not None else greatest if rule == "pure" else None
    placement_id = work.add(
        Placement(
            part_id=part_id, sequence_id=sequence_id, strand_no=strand_no, run_no=run_no, section="220 x 300 mm",
            tundish=tundish, tundishes=json.dumps([tundish]), from_um=micro(from_m), to_um=micro(to_m),
            meniscus_from=clamped_at - 2_000_000, meniscus_to=clamped_at - 1_600_000, clamped_at=clamped_at,
            clock_offset=0, transit_ms=1_600_000, length_hot_um=micro(to_m - from_m),
            length_cold_um=micro((to_m - from_m) / 1.0119), mass_g=round((to_m - from_m) * 507_000),
            stop_marks=json.dumps([micro(m) for m in stop_marks_m]), uncertainty_um=170_000, cast_class=cast_class,
            speed_bounds=None if bounds is None else json.dumps(bounds), class_reasons=json.dumps(list(reasons)),
            majority_heat_id=greatest if majority is None else majority,
            late_heat_id=(list(given)[-1] if given else None) if late is None else late, heat_id=bearer,
            heat_no_rule=rule, rules_edition="{}",
        )
    )  # fmt: skip
    for share_heat, values in sorted(given.items()):
        millionths = {name: micro(value) for name, value in values.items()}
        work.add(Share(placement_id=placement_id, heat_id=share_heat, **millionths))
    return part_id


def _share(given: Any) -> dict[str, float]:
    if isinstance(given, Mapping):
        return dict(given)
    head, mean, tail = given if isinstance(given, tuple) else (given, given, given)
    return {"mean": mean, "head": head, "tail": tail, "least": min(head, tail), "greatest": max(head, tail)}


def make_sample(
    work: Work, heat_id: int | None, sample_id: str | None = None, *, kind: str = "tundish-steady",
    taken_at: int | None = None, tundish: str | None = "A", part_id: int | None = None, **more: Any,
) -> int:  # fmt: skip
    """A sample; gives sample_key."""
    number = sample_id or f"{heat_id}-T1"
    return work.add(
        Sample(
            sample_id=number, written_id=number, heat_id=heat_id, kind=kind, tundish=tundish, part_id=part_id,
            taken_at=moment("07:40") if taken_at is None else taken_at, taken_offset=0, **more,
        )
    )  # fmt: skip


def make_analysis(
    work: Work, sample_key: int, chem: str | Mapping[str, Amount] = "C=0.18 Mn=1.44 S=0.008 N=<0.0020", *,
    method: str = "spark-emission", instrument: str = "S2", analysed_at: int | None = None, state: str = "valid",
    profile: str = "lab-wide", later_state: str | None = None, **more: Any,
) -> int:  # fmt: skip
    """An analysis and its results; gives analysis_id. `later_state` adds a row to its later states."""
    analysis_id = work.add(
        Analysis(
            sample_key=sample_key, profile=profile, method=method, instrument=instrument, state=state,
            analysed_at=moment("07:55") if analysed_at is None else analysed_at, analysed_offset=0, **more,
        )
    )  # fmt: skip
    amounts = read_chem(chem) if isinstance(chem, str) else chem
    for element, amount in sorted(amounts.items(), key=lambda pair: ELEMENT_NUMBER[pair[0]]):
        number = ELEMENT_NUMBER[element]
        places = len(amount.text.partition(".")[2])
        exact = None if amount.value is None else Decimal(amount.text).scaleb(7)
        work.add(
            Result(
                analysis_id=analysis_id, element_id=number, form_id=make_form(work, amount.qualifier, places),
                value_ppb=None if exact is None else int(exact.to_integral_value()),
            )
        )  # fmt: skip
        if exact is not None and (exact != exact.to_integral_value() or places > 7):
            work.add(ResultText(analysis_id=analysis_id, element_id=number, reported=amount.text))
    if later_state:
        work.add(AnalysisState(analysis_id=analysis_id, state=later_state, reason="TYPING", note="made for a test"))
    return analysis_id


def make_form(work: Work, qualifier: str = "=", places: int = 2, unit: str = "%") -> int:
    """A form of reported values, made once; gives form_id."""
    known = work.reader.scalar(
        "SELECT form_id FROM result_form WHERE qualifier = :q AND unit = :u AND places = :p", q=qualifier, u=unit,
        p=places,
    )  # fmt: skip
    return int(known or work.add(ResultForm(qualifier=qualifier, unit=unit, places=places, method="")))


def make_cast_analysis(work: Work, heat_id: int, picks: Mapping[str, int], *, rule: str = "tundish-steady") -> int:
    """A frozen cast analysis, element by element from analyses; gives cast_analysis_id."""
    key = work.add(CastAnalysis(heat_id=heat_id, rule=rule, ladder_edition=0, words=json.dumps(["first rung"])))
    for element in sorted(picks, key=ELEMENT_NUMBER.__getitem__):
        value = {"element_id": ELEMENT_NUMBER[element], "analysis_id": picks[element], "rule": "base"}
        work.add(analyses.CastAnalysisValue(cast_analysis_id=key, **value))
    return key


def make_hold(
    work: Work, *, heat_id: int | None = None, part_ids: Sequence[int] = (), interval: Sequence[Any] | None = None,
    reason: str = "LEVEL", note: str = "made for a test", lift_on: str = "inspection:etch",
    requirement: str | None = None, states: Sequence[str] = ("placed",), owner: str | None = None,
    due_at: int | None = None, caused_by: str | None = None, by: str = "T. Test",
) -> int:  # fmt: skip
    """A hold on a heat, parts, or an interval (sequence_id, strand_no, run_no, from_m, to_m); gives hold_id."""
    hold_id = work.add(
        Hold(
            reason=reason, note=note, lift_on=lift_on, owner=owner, due_at=due_at, requirement=requirement,
            caused_by=caused_by,
        )
    )  # fmt: skip
    if heat_id is not None:
        work.add(HoldScope(hold_id=hold_id, heat_id=heat_id))
    for part_id in part_ids:
        work.add(HoldScope(hold_id=hold_id, part_id=part_id))
    if interval:
        sequence_id, strand_no, run_no, from_m, to_m = interval
        work.add(
            HoldScope(
                hold_id=hold_id, sequence_id=sequence_id, strand_no=strand_no, run_no=run_no, from_um=micro(from_m),
                to_um=micro(to_m),
            )
        )  # fmt: skip
    for state in states:
        work.add(HoldEvent(hold_id=hold_id, state=state, at=moment("09:00"), by=by))
    return hold_id


def make_decision(
    work: Work, kind: str = "release", *, requirement: str, heat_id: int | None = None, part_id: int | None = None,
    qualifier: str = "as-ordered", verdict: str = "meets", by: str = "A. Weber", at: int | None = None, **more: Any,
) -> int:  # fmt: skip
    """A decision; gives decision_id."""
    return work.add(
        Decision(
            kind=kind, qualifier=qualifier if kind == "release" else "", heat_id=heat_id, part_id=part_id,
            requirement=requirement, verdict=verdict, snapshot="{}", snapshot_digest="0" * 64, by=by,
            at=moment("10:00") if at is None else at, **more,
        )
    )  # fmt: skip


def make_event(
    work: Work, sequence_id: int, kind: str = "level-swing", *, strand_no: int | None = 1, run_no: int | None = 1,
    from_m: float = 31.0, to_m: float = 33.0, from_at: int | None = None, to_at: int | None = None,
    reaches: Sequence[tuple[int, int, float, float]] | None = None, open_end: int = 0,
) -> int:  # fmt: skip
    """An event and the metres it marks, (strand_no, run_no, from_m, to_m) each; gives event_id."""
    event_id = work.add(
        casts.Event(
            sequence_id=sequence_id, strand_no=strand_no, run_no=run_no, kind=kind, from_at=from_at, to_at=to_at,
            from_um=micro(from_m), to_um=micro(to_m),
        )
    )  # fmt: skip
    for strand, run, begin, end in reaches if reaches is not None else ((strand_no or 1, run_no or 1, from_m, to_m),):
        reach = {"strand_no": strand, "run_no": run, "from_um": micro(begin), "to_um": micro(end)}
        work.add(casts.EventReach(event_id=event_id, sequence_id=sequence_id, open_end=open_end, **reach))
    return event_id


def make_temperature(
    work: Work, heat_id: int, temperature_c: str = "1538", *, place: str = "tundish", tundish: str | None = "A",
    read_at: int | None = None,
) -> int:  # fmt: skip
    """A temperature reading; gives temperature_id."""
    tenths, text = to_whole(temperature_c, DEGREES)
    when = moment("07:30") if read_at is None else read_at
    return work.add(
        Temperature(
            heat_id=heat_id, place=place, tundish=tundish, read_at=when, read_offset=0, temperature_dc=tenths,
            temperature_text=text,
        )
    )  # fmt: skip


def make_movement(work: Work, part_id: int, whereabouts: str = "in-yard", *, at: int | None = None, **more: Any) -> int:
    """A change of whereabouts; gives movement_id."""
    when = moment("11:00") if at is None else at
    return work.add(Movement(part_id=part_id, whereabouts=whereabouts, at=when, at_offset=0, **more))


def make_dispatch(
    work: Work, part_ids: Sequence[int], *, delivery_note: str = "DN-900", customer: str = "Harrow Forge",
    order_line_id: int | None = None, dispatched_at: int | None = None,
) -> int:  # fmt: skip
    """A load that took parts away; gives delivery_note_id."""
    when = moment("15:00") if dispatched_at is None else dispatched_at
    note_id = work.add(
        parts.DeliveryNote(
            delivery_note=delivery_note, customer_id=make_customer(work, customer), dispatched_at=when,
            dispatched_offset=0,
        )
    )  # fmt: skip
    for part_id in part_ids:
        make_movement(work, part_id, "dispatched", at=when, delivery_note_id=note_id, order_line_id=order_line_id)
    return note_id


def make_alias(
    work: Work, part_id: int, alias: str = "HF-2217", *, owner: str = "Harrow Forge", from_at: int | None = None,
    to_at: int | None = None,
) -> int:  # fmt: skip
    """Another number of a part; gives alias_id."""
    begin = moment("15:00") if from_at is None else from_at
    return work.add(Alias(part_id=part_id, alias=alias, written=alias, owner=owner, from_at=begin, to_at=to_at))


def make_parentage(work: Work, parent_id: int, child_id: int, *, manner: str = "recut", **more: Any) -> int:
    """Child made from parent; gives parentage_id."""
    return work.add(Parentage(parent_id=parent_id, child_id=child_id, manner=manner, at=moment("13:00"), **more))


def make_earlier_piece(work: Work, piece_no: str, heat_ids: Sequence[int]) -> int:
    """A piece from before the record began; gives part_id."""
    part_id = make_piece(work, piece_no, origin="earlier")
    for heat_id in heat_ids:
        work.add(EarlierHeat(part_id=part_id, heat_id=heat_id))
    return part_id


def make_weight(work: Work, part_id: int, mass_kg: str = "3050") -> int:
    """A weighing; gives weight_id."""
    mass, text = to_whole(mass_kg, KILOGRAMS)
    return work.add(Weight(part_id=part_id, mass_g=mass, mass_text=text, weighed_at=moment("12:00"), weighed_offset=0))


def make_shipped_grade(work: Work, text: str) -> int:
    """A grade of the shipped book, row by row as printed; gives edition_id."""
    from heattrace.intake.grade_book import shipped_grade

    grade = shipped_grade(text)
    standard, edition, name = grade.key.standard, grade.key.edition, grade.key.grade
    grade_id = work.add(Grade(standard=standard, name=name, family=grade.family or None))
    edition_id = work.add(Edition(grade_id=grade_id, edition=edition, revision=1, requirement=grade.key.text))
    for limit in grade.limits:
        work.add(
            GradeLimit(
                edition_id=edition_id, row_no=limit.row, basis=limit.basis, size_band_mm=limit.band.text,
                quantity=limit.printed, min_text=limit.min_text or None, aim_text=limit.aim_text or None,
                max_text=limit.max_text or None, unit=limit.unit, rounding=limit.rounding,
                round_to=limit.round_to or None, condition=limit.when or None, report=int(limit.report),
                source=limit.source, status=limit.status, notes=limit.notes or None,
            )
        )  # fmt: skip
    return edition_id


def make_addition(work: Work, heat_id: int, material: str = "FeMn", *, mass_kg: str = "120", added_at: int) -> int:
    """A ladle addition; gives addition_id."""
    mass, text = to_whole(mass_kg, KILOGRAMS)
    return work.add(
        Addition(heat_id=heat_id, material=material, mass_g=mass, mass_text=text, added_at=added_at, added_offset=0)
    )
