"""Heats and what was done to them and measured on them."""

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
    offset,
    one_of,
    table,
    text,
    whole,
)


class Heat(Row, table=True):
    """One tapped, treated batch of steel; its number is unique within its series."""

    __tablename__ = "heat"
    __table_args__ = table("tapped batches of steel", live_unique("heat_series", "heat_no", "series"))
    heat_id: int | None = key()
    heat_no: str = number("number as the plant writes it, normalised for search")
    series: str = number("series in which the number is unique: works, year or furnace")
    written_no: str = number("number as first written")
    entry_no: int = entered()
    ended_no: int | None = ended()


class HeatRecord(Row, table=True):
    """What is known of a heat besides its number; a later, fuller statement supersedes the row."""

    __tablename__ = "heat_record"
    __table_args__ = table("particulars of a heat", live_unique("heat_record_heat", "heat_id"))
    heat_record_id: int | None = key()
    heat_id: int = whole("heat", to="heat.heat_id")
    edition_id: int | None = whole("planned grade edition", null=True, to="edition.edition_id")
    grade_text: str | None = text("planned grade as written", null=True)
    ladle_no: str | None = number("ladle", null=True)
    tapped_at: int | None = instant("tapped", null=True)
    tapped_offset: int | None = offset()
    tapped_mass_g: int | None = whole("tapped mass [g]", null=True)
    tapped_mass_text: str | None = text("tapped mass as written, where its digits differ [t]", null=True)
    order_line_id: int | None = whole("order line of its parts", null=True, to="order_line.order_line_id")
    evidence: str = text("named evidence, separated by ;")
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class HeatState(Row, table=True):
    """Record state of a heat: open, complete, archived."""

    __tablename__ = "heat_state"
    __table_args__ = table(
        "record state of heats", one_of("state", "open", "complete", "archived"), index("heat_state_heat", "heat_id")
    )
    heat_state_id: int | None = key()
    heat_id: int = whole("heat", to="heat.heat_id")
    state: str = number("open, complete or archived")
    note: str = text("why")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Treatment(Row, table=True):
    """A station the heat passed."""

    __tablename__ = "treatment"
    __table_args__ = table("stations a heat passed", index("treatment_heat", "heat_id"))
    treatment_id: int | None = key()
    heat_id: int = whole("heat", to="heat.heat_id")
    station: str = number("station")
    from_at: int = instant("from")
    to_at: int | None = instant("to", null=True)
    note: str | None = text("note", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Addition(Row, table=True):
    """Material added to the ladle."""

    __tablename__ = "addition"
    __table_args__ = table("ladle additions", live_unique("addition_known", "heat_id", "material", "added_at"))
    addition_id: int | None = key()
    heat_id: int = whole("heat", to="heat.heat_id")
    material: str = number("material")
    mass_g: int = whole("mass [g]")
    mass_text: str | None = text("mass as written, where its digits differ [kg]", null=True)
    added_at: int = instant("when added")
    added_offset: int | None = offset()
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Temperature(Row, table=True):
    """One pyrometer reading."""

    __tablename__ = "temperature"
    __table_args__ = table(
        "temperature readings",
        one_of("place", "ladle-arrival", "ladle-rinse", "ladle-lift", "tundish"),
        live_unique("temperature_known", "heat_id", "place", "read_at"),
    )
    temperature_id: int | None = key()
    heat_id: int = whole("heat", to="heat.heat_id")
    place: str = number("where it was read")
    tundish: str | None = number("tundish label", null=True)
    read_at: int = instant("when read")
    read_offset: int | None = offset()
    temperature_dc: int = whole("temperature [0.1 degree C]")
    temperature_text: str | None = text("as written, where its digits differ [degree C]", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Fitting(Row, table=True):
    """A nozzle, stopper, mould or lubricant lot in use from / to."""

    __tablename__ = "fitting"
    __table_args__ = table(
        "nozzles, stoppers, moulds, lubricant lots",
        one_of("kind", "nozzle", "stopper", "mould", "lubricant"),
        index("fitting_number", "kind", "number_or_lot"),
        index("fitting_sequence", "sequence_id"),
    )
    fitting_id: int | None = key()
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int | None = whole("strand", null=True)
    tundish: str | None = number("tundish label", null=True)
    kind: str = number("nozzle, stopper, mould or lubricant")
    number_or_lot: str = number("its number or lot")
    from_at: int = instant("in use from")
    from_offset: int | None = offset()
    to_at: int | None = instant("in use to", null=True)
    to_offset: int | None = offset()
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()
