"""Certificates, complaints, notices, trace drills."""

from __future__ import annotations

from heattrace.schema.columns import (
    Row,
    ended,
    entered,
    index,
    instant,
    key,
    live_unique,
    number,
    octets,
    one_of,
    table,
    text,
    whole,
)


class Certificate(Row, table=True):
    """An inspection document, its bytes frozen at issue."""

    __tablename__ = "certificate"
    __table_args__ = table(
        "inspection documents",
        one_of("type", "2.1", "2.2", "3.1", "3.2"),
        live_unique("certificate_no", "certificate_no", "revision"),
    )
    certificate_id: int | None = key()
    certificate_no: str = number("number")
    revision: int = whole("revision, from 0")
    type: str = number("document type")
    order_line_id: int = whole("order line", to="order_line.order_line_id")
    body: bytes = octets("document as issued")
    body_sha256: str = text("its digest")
    replaces_id: int | None = whole("revision it replaces", null=True, to="certificate.certificate_id")
    entry_no: int = entered()
    ended_no: int | None = ended()


class CertificateState(Row, table=True):
    """A certificate drafted, signed, issued, superseded, cancelled."""

    __tablename__ = "certificate_state"
    __table_args__ = table(
        "states of certificates",
        one_of("state", "draft", "signed", "issued", "superseded", "cancelled"),
        index("certificate_state_certificate", "certificate_id"),
    )
    certificate_state_id: int | None = key()
    certificate_id: int = whole("certificate", to="certificate.certificate_id")
    state: str = number("state from then on")
    signature_id: int | None = whole("signature", null=True, to="signature.signature_id")
    note: str | None = text("note", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class CertificateClaim(Row, table=True):
    """One fact a certificate claims of one part."""

    __tablename__ = "certificate_claim"
    __table_args__ = table(
        "claims of certificates",
        index("certificate_claim_certificate", "certificate_id"),
        index("certificate_claim_part", "part_id"),
    )
    certificate_claim_id: int | None = key()
    certificate_id: int = whole("certificate", to="certificate.certificate_id")
    part_id: int = whole("part", to="part.part_id")
    mass_g: int = whole("mass claimed [g]")
    claim: str = text("what is claimed, canonical JSON")
    entry_no: int = entered()
    ended_no: int | None = ended()


class CertificateHolder(Row, table=True):
    """Who was given a certificate."""

    __tablename__ = "certificate_holder"
    __table_args__ = table("holders of certificates", index("certificate_holder_certificate", "certificate_id"))
    certificate_holder_id: int | None = key()
    certificate_id: int = whole("certificate", to="certificate.certificate_id")
    customer_id: int = whole("customer", to="customer.customer_id")
    at: int = instant("when")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Complaint(Row, table=True):
    """A customer's complaint."""

    __tablename__ = "complaint"
    __table_args__ = table("complaints", index("complaint_customer", "customer_id"))
    complaint_id: int | None = key("Q- number")
    customer_id: int = whole("customer", to="customer.customer_id")
    reference: str = text("customer's reference")
    number_as_read: str = text("number as read on the steel, label or photograph")
    defect: str = text("defect in the customer's words")
    claimed_mass_g: int | None = whole("claimed mass [g]", null=True)
    received_at: int = instant("received")
    entry_no: int = entered()
    ended_no: int | None = ended()


class ComplaintPiece(Row, table=True):
    """A part a complaint was found to be about."""

    __tablename__ = "complaint_piece"
    __table_args__ = table(
        "parts of complaints",
        index("complaint_piece_complaint", "complaint_id"),
        index("complaint_piece_part", "part_id"),
    )
    complaint_piece_id: int | None = key()
    complaint_id: int = whole("complaint", to="complaint.complaint_id")
    part_id: int = whole("part", to="part.part_id")
    how: str = text("how it was identified")
    entry_no: int = entered()
    ended_no: int | None = ended()


class ComplaintEvent(Row, table=True):
    """A step of a complaint."""

    __tablename__ = "complaint_event"
    __table_args__ = table(
        "steps of complaints",
        one_of("state", "received", "identified", "contained", "under-study", "answered", "closed", "reopened"),
        index("complaint_event_complaint", "complaint_id"),
    )
    complaint_event_id: int | None = key()
    complaint_id: int = whole("complaint", to="complaint.complaint_id")
    state: str = number("state from then on")
    note: str = text("what was found or done")
    cause: str | None = number("cause code", null=True)
    action: str | None = text("corrective action", null=True)
    effective_on: str | None = number("date its effect is checked", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Notice(Row, table=True):
    """A text sent to one customer about that customer's pieces only."""

    __tablename__ = "notice"
    __table_args__ = table("notices to customers", index("notice_complaint", "complaint_id"))
    notice_id: int | None = key()
    complaint_id: int | None = whole("complaint", null=True, to="complaint.complaint_id")
    customer_id: int = whole("customer", to="customer.customer_id")
    body: str = text("text as sent")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Drill(Row, table=True):
    """A timed trace test."""

    __tablename__ = "drill"
    __table_args__ = table("timed trace tests", index("drill_part", "part_id"))
    drill_id: int | None = key()
    part_id: int = whole("part drawn", to="part.part_id")
    elapsed_ms: int = whole("time both ways [ms]")
    outcome: str = text("what was found, canonical JSON")
    entry_no: int = entered()
    ended_no: int | None = ended()
