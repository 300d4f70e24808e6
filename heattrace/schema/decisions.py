"""Holds, decisions, retests, concessions: what was decided about steel, and on what."""

from __future__ import annotations

from heattrace.schema.columns import (
    Row,
    check,
    ended,
    entered,
    index,
    instant,
    key,
    number,
    one_of,
    table,
    text,
    whole,
)


class Hold(Row, table=True):
    """Steel that may not move on until named evidence clears it."""

    __tablename__ = "hold"
    __table_args__ = table("holds", index("hold_reason", "reason"))
    hold_id: int | None = key("H- number")
    reason: str = number("reason code")
    note: str = text("the same in words")
    lift_on: str = text("evidence that would lift it, separated by ;")
    owner: str | None = text("who pursues it", null=True)
    due_at: int | None = instant("due", null=True)
    requirement: str | None = number("requirement it bars; empty bars all uses", null=True)
    caused_by: str | None = text("fact that caused a proposed hold", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class HoldScope(Row, table=True):
    """What a hold lies on: a heat, a part, or metres of a strand run."""

    __tablename__ = "hold_scope"
    __table_args__ = table(
        "what holds lie on",
        check(
            "one_subject",
            "(heat_id IS NOT NULL AND part_id IS NULL AND sequence_id IS NULL) OR "
            "(heat_id IS NULL AND part_id IS NOT NULL AND sequence_id IS NULL) OR "
            "(heat_id IS NULL AND part_id IS NULL AND sequence_id IS NOT NULL)",
        ),
        index("hold_scope_hold", "hold_id"),
        index("hold_scope_heat", "heat_id", where="heat_id IS NOT NULL"),
        index("hold_scope_part", "part_id", where="part_id IS NOT NULL"),
        index("hold_scope_strand", "sequence_id", "strand_no", "run_no", where="sequence_id IS NOT NULL"),
    )
    hold_scope_id: int | None = key()
    hold_id: int = whole("hold", to="hold.hold_id")
    heat_id: int | None = whole("heat", null=True, to="heat.heat_id")
    part_id: int | None = whole("part", null=True, to="part.part_id")
    sequence_id: int | None = whole("sequence of an interval", null=True, to="sequence.sequence_id")
    strand_no: int | None = whole("strand of an interval", null=True)
    run_no: int | None = whole("run of an interval", null=True)
    from_um: int | None = whole("interval from, strand or part coordinate [um]", null=True)
    to_um: int | None = whole("interval to [um]", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class HoldEvent(Row, table=True):
    """A change of a hold's state."""

    __tablename__ = "hold_event"
    __table_args__ = table(
        "states of holds",
        one_of("state", "proposed", "placed", "under-check", "lifted", "turned-down"),
        index("hold_event_hold", "hold_id"),
    )
    hold_event_id: int | None = key()
    hold_id: int = whole("hold", to="hold.hold_id")
    state: str = number("state from then on")
    evidence: str | None = text("records it was lifted on, canonical JSON", null=True)
    note: str | None = text("note", null=True)
    at: int = instant("when")
    by: str = text("who, as stated")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Decision(Row, table=True):
    """What a person recorded about one subject for one requirement."""

    __tablename__ = "decision"
    __table_args__ = table(
        "decisions",
        one_of(
            "kind", "release", "regrade", "downgrade", "concession", "rework", "scrap", "reject", "withdraw", "number"
        ),
        check("one_subject", "(heat_id IS NULL) <> (part_id IS NULL)"),
        index("decision_heat", "heat_id", where="heat_id IS NOT NULL"),
        index("decision_part", "part_id", where="part_id IS NOT NULL"),
        index("decision_requirement", "requirement"),
    )
    decision_id: int | None = key("D- number")
    kind: str = number("kind of decision")
    qualifier: str = number("as-ordered, regraded, downgraded, under-concession, emergency; else empty")
    heat_id: int | None = whole("heat", null=True, to="heat.heat_id")
    part_id: int | None = whole("part", null=True, to="part.part_id")
    requirement: str = number("requirement it was made for")
    edition_id: int | None = whole("grade edition judged against", null=True, to="edition.edition_id")
    order_line_id: int | None = whole("order line judged for", null=True, to="order_line.order_line_id")
    verdict: str = number("what the rules computed: meets, fails or undecided")
    cast_analysis_id: int | None = whole("frozen cast analysis", null=True, to="cast_analysis.cast_analysis_id")
    rule_set_id: int | None = whole("rule set", null=True, to="rule_set.rule_set_id")
    reason: str | None = number("reason code", null=True)
    note: str | None = text("in words", null=True)
    snapshot: str = text("facts it stands on, canonical JSON")
    snapshot_digest: str = text("SHA-256 of the snapshot")
    by: str = text("who decided, as stated")
    at: int = instant("when")
    signature_id: int | None = whole("signature; empty is unsigned", null=True, to="signature.signature_id")
    countersign_by: int | None = instant("second signature due", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class DecisionFinding(Row, table=True):
    """A finding the decision was taken with."""

    __tablename__ = "decision_finding"
    __table_args__ = table("findings stored with decisions", index("decision_finding_decision", "decision_id"))
    decision_finding_id: int | None = key()
    decision_id: int = whole("decision", to="decision.decision_id")
    code: str = number("finding code")
    subject: str = text("what it is about")
    seen: str = text("what was seen")
    wanted: str = text("what was wanted")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Retest(Row, table=True):
    """One numbered round of retesting."""

    __tablename__ = "retest"
    __table_args__ = table("retest rounds", index("retest_hold", "hold_id"))
    retest_id: int | None = key()
    hold_id: int = whole("hold it may lift", to="hold.hold_id")
    round_no: int = whole("round, from 1")
    ordered: str = text("what was ordered, canonical JSON")
    result: str | None = text("what came back, canonical JSON", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Concession(Row, table=True):
    """A customer's written leave to use steel that departs from the order."""

    __tablename__ = "concession"
    __table_args__ = table(
        "concessions", one_of("state", "asked", "granted", "refused"), index("concession_ref", "reference")
    )
    concession_id: int | None = key("K- number")
    customer_id: int = whole("customer", to="customer.customer_id")
    order_line_id: int | None = whole("order line", null=True, to="order_line.order_line_id")
    reference: str = text("customer's written reference")
    state: str = number("asked, granted or refused")
    quantity_g: int | None = whole("mass allowed [g]", null=True)
    pieces: int | None = whole("pieces allowed", null=True)
    last_day: str | None = number("last day", null=True)
    note: str = text("what departs")
    entry_no: int = entered()
    ended_no: int | None = ended()


class ConcessionUse(Row, table=True):
    """Quantity of a concession used by a part."""

    __tablename__ = "concession_use"
    __table_args__ = table(
        "uses of concessions",
        index("concession_use_concession", "concession_id"),
        index("concession_use_part", "part_id"),
    )
    concession_use_id: int | None = key()
    concession_id: int = whole("concession", to="concession.concession_id")
    part_id: int = whole("part", to="part.part_id")
    mass_g: int = whole("mass [g]")
    decision_id: int = whole("decision", to="decision.decision_id")
    entry_no: int = entered()
    ended_no: int | None = ended()
