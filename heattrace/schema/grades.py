"""Grades, their editions and limits, customers and order lines."""

from __future__ import annotations

from heattrace.schema.columns import (
    Row,
    ended,
    entered,
    flag,
    index,
    instant,
    key,
    live_unique,
    number,
    offset,
    one_of,
    table,
    text,
    whole,
)


class Grade(Row, table=True):
    """A named steel of a standard."""

    __tablename__ = "grade"
    __table_args__ = table("named steels", live_unique("grade_name", "standard", "name"))
    grade_id: int | None = key()
    standard: str = number("standard")
    name: str = number("short name")
    family: str | None = number("grade family by which works values are looked up", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Edition(Row, table=True):
    """The limits of a grade in one edition of its standard."""

    __tablename__ = "edition"
    __table_args__ = table(
        "editions of grades",
        live_unique("edition_grade", "grade_id", "edition", "revision"),
        index("edition_requirement", "requirement"),
    )
    edition_id: int | None = key()
    grade_id: int = whole("grade", to="grade.grade_id")
    edition: str = number("edition of the standard")
    revision: int = whole("how often the stored limits of this edition were entered anew, from 1")
    requirement: str = number("STANDARD:EDITION GRADE")
    extends: str | None = number("grade whose rows it inherits", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    entry_no: int = entered()
    ended_no: int | None = ended()


class GradeLimit(Row, table=True):
    """One printed row of limits, all cells as text."""

    __tablename__ = "grade_limit"
    __table_args__ = table(
        "limits as printed", one_of("basis", "cast", "product", "both"), index("grade_limit_edition", "edition_id")
    )
    grade_limit_id: int | None = key()
    edition_id: int = whole("edition", to="edition.edition_id")
    row_no: int = whole("row in the grade book")
    basis: str = number("cast, product or both")
    size_band_mm: str = number("band of the ordered thickness as printed")
    quantity: str = number("element, formula, sum or ratio")
    min_text: str | None = text("minimum as printed", null=True)
    aim_text: str | None = text("aim, never judged", null=True)
    max_text: str | None = text("maximum as printed", null=True)
    unit: str = number("unit")
    rounding: str = number("rounding or absolute")
    round_to: str | None = text("place to round to where it is not the limit's last", null=True)
    condition: str | None = text("when-cell as written", null=True)
    report: int = flag("must be reported")
    valid_from: str | None = number("date", null=True)
    valid_until: str | None = number("date", null=True)
    source: str = text("where the limit was read")
    status: str = number("verified, memory or works")
    notes: str | None = text("notes", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class PermittedDeviation(Row, table=True):
    """Room a product analysis has beyond a cast limit."""

    __tablename__ = "permitted_deviation"
    __table_args__ = table("permitted deviations of product analysis", one_of("kind", "absolute", "percent"))
    permitted_deviation_id: int | None = key()
    applies_to: str = number("standard or grade keys")
    element: str = number("element")
    limit_from: str | None = text("limits above this", null=True)
    limit_to: str | None = text("limits up to this", null=True)
    area_band_mm2: str | None = number("band of area", null=True)
    size_band_mm: str | None = number("band of thickness", null=True)
    under: str | None = text("room below a minimum", null=True)
    over: str | None = text("room above a maximum", null=True)
    kind: str = number("absolute or percent")
    one_side: int = flag("several determinations of a heat may not lie on both sides")
    source: str = text("where it was read")
    status: str = number("verified or memory")
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Customer(Row, table=True):
    """Who orders."""

    __tablename__ = "customer"
    __table_args__ = table("customers", live_unique("customer_name", "name"))
    customer_id: int | None = key()
    name: str = number("name")
    entry_no: int = entered()
    ended_no: int | None = ended()


class OrderLine(Row, table=True):
    """One line of a customer's order: the requirement of its pieces."""

    __tablename__ = "order_line"
    __table_args__ = table(
        "order lines", live_unique("order_line_no", "order_no", "line"), index("order_line_customer", "customer_id")
    )
    order_line_id: int | None = key()
    order_no: str = number("order number")
    line: str = number("line of the order")
    ordered_at: int | None = instant("when ordered", null=True)
    ordered_offset: int | None = offset()
    customer_id: int = whole("customer", to="customer.customer_id")
    edition_id: int = whole("ordered grade edition", to="edition.edition_id")
    form: str = number("form of the ordered product")
    section: str | None = text("section as written", null=True)
    thickness_mm: str | None = text("thickness of the ORDERED product [mm]", null=True)
    flange_mm: str | None = text("flange thickness [mm]", null=True)
    area_mm2: str | None = text("cross-section [mm2]", null=True)
    length_m: str | None = text("length [m]", null=True)
    mass_t: str | None = text("mass [t]", null=True)
    document: str | None = number("document type", null=True)
    guard_band: str = text("r: the guard band is r x U; 0 for none")
    options: str = text("ordered options, separated by ;")
    evidence: str = text("named evidence, separated by ;")
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class OrderLimit(Row, table=True):
    """An extra limit of one order line."""

    __tablename__ = "order_limit"
    __table_args__ = table("limits of an order on top of its grade", index("order_limit_line", "order_line_id"))
    order_limit_id: int | None = key()
    order_line_id: int = whole("order line", to="order_line.order_line_id")
    basis: str = number("cast, product or both")
    size_band_mm: str = number("band of the ordered thickness")
    quantity: str = number("element, formula, sum or ratio")
    min_text: str | None = text("minimum", null=True)
    aim_text: str | None = text("aim", null=True)
    max_text: str | None = text("maximum", null=True)
    unit: str = number("unit")
    rounding: str = number("rounding or absolute")
    round_to: str | None = text("place to round to", null=True)
    condition: str | None = text("when-cell as written", null=True)
    report: int = flag("must be reported")
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Assignment(Row, table=True):
    """A heat or part put to an order line."""

    __tablename__ = "assignment"
    __table_args__ = table(
        "heats and parts put to order lines",
        index("assignment_heat", "heat_id", where="heat_id IS NOT NULL"),
        index("assignment_part", "part_id", where="part_id IS NOT NULL"),
        index("assignment_line", "order_line_id"),
    )
    assignment_id: int | None = key()
    heat_id: int | None = whole("heat", null=True, to="heat.heat_id")
    part_id: int | None = whole("part", null=True, to="part.part_id")
    order_line_id: int = whole("order line", to="order_line.order_line_id")
    entry_no: int = entered()
    ended_no: int | None = ended()
