"""The cast as recorded: books, sequences, tundishes, pours, strand runs, cuts, events."""

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


class Sequence(Row, table=True):
    """Heats cast through one caster without restarting all strands."""

    __tablename__ = "sequence"
    __table_args__ = table("casting sequences", live_unique("sequence_no", "sequence_no"))
    sequence_id: int | None = key()
    sequence_no: str = number("number as the plant writes it")
    caster: str = number("caster")
    entry_no: int = entered()
    ended_no: int | None = ended()


class CastRecord(Row, table=True):
    """One edition of the cast book of one sequence."""

    __tablename__ = "cast_record"
    __table_args__ = table("editions of cast books", index("cast_record_sequence", "sequence_id"))
    cast_record_id: int | None = key()
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    edition: int = whole("edition of this sequence's book, from 1")
    clock: str | None = number("whose clock its times are", null=True)
    recorded_until: int | None = instant("stated end of the record", null=True)
    last_at: int = instant("latest time in any sheet")
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    entry_no: int = entered()
    ended_no: int | None = ended()


class CastSheet(Row, table=True):
    """One sheet of one edition; a later edition's sheet of the same name supersedes it."""

    __tablename__ = "cast_sheet"
    __table_args__ = table("sheets of cast books", live_unique("cast_sheet_name", "sequence_id", "sheet"))
    cast_sheet_id: int | None = key()
    cast_record_id: int = whole("edition of the book", to="cast_record.cast_record_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    sheet: str = number("sheet name")
    entry_no: int = entered()
    ended_no: int | None = ended()


class TundishUse(Row, table=True):
    """One tundish in one sequence."""

    __tablename__ = "tundish_use"
    __table_args__ = table("tundishes of a sequence", live_unique("tundish_use_label", "sequence_id", "tundish"))
    tundish_use_id: int | None = key()
    cast_sheet_id: int = whole("sheet", to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    tundish: str = number("label, unique in the sequence")
    tundish_no: str | None = number("number painted on it", null=True)
    mass_at_start_g: int = whole("liquid steel at the start [g]")
    mass_at_start_text: str | None = text("as written [t]", null=True)
    heat_at_start_id: int | None = whole("heat in it at the start", null=True, to="heat.heat_id")
    working_mass_g: int | None = whole("working mass [g]", null=True)
    working_mass_text: str | None = text("as written [t]", null=True)
    stagnant_mass_g: int | None = whole("mass that does not mix [g]", null=True)
    stagnant_mass_text: str | None = text("as written [t]", null=True)
    row_no: int = whole("row in its sheet")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Pour(Row, table=True):
    """One ladle open over one tundish."""

    __tablename__ = "pour"
    __table_args__ = table(
        "ladles open over tundishes", index("pour_sequence", "sequence_id"), index("pour_heat", "heat_id")
    )
    pour_id: int | None = key()
    cast_sheet_id: int = whole("sheet", to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    heat_id: int = whole("heat", to="heat.heat_id")
    tundish: str = number("tundish label")
    opened_at: int = instant("opened")
    opened_offset: int | None = offset()
    closed_at: int | None = instant("closed", null=True)
    closed_offset: int | None = offset()
    poured_mass_g: int | None = whole("poured mass [g]", null=True)
    poured_mass_text: str | None = text("as written [t]", null=True)
    row_no: int = whole("row in its sheet")
    entry_no: int = entered()
    ended_no: int | None = ended()


class TundishMass(Row, table=True):
    """One reading of the liquid steel in a tundish."""

    __tablename__ = "tundish_mass"
    __table_args__ = table("readings of tundish mass", index("tundish_mass_sequence", "sequence_id"))
    tundish_mass_id: int | None = key()
    cast_sheet_id: int = whole("sheet", to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    tundish: str = number("tundish label")
    read_at: int = instant("when read")
    mass_g: int = whole("liquid steel, tare taken off [g]")
    mass_text: str | None = text("as written [t]", null=True)
    row_no: int = whole("row in its sheet")
    entry_no: int = entered()
    ended_no: int | None = ended()


class StrandRun(Row, table=True):
    """One strand from dummy bar to tail."""

    __tablename__ = "strand_run"
    __table_args__ = table(
        "strand runs",
        one_of("form", "bloom", "billet", "slab", "round", "profile"),
        live_unique("strand_run_no", "sequence_id", "strand_no", "run_no"),
    )
    strand_run_id: int | None = key()
    cast_sheet_id: int = whole("sheet", to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int = whole("strand")
    run_no: int = whole("run: a new dummy bar is a new run")
    form: str = number("cast shape")
    thickness_mm: str = text("cold thickness [mm]")
    width_mm: str = text("cold width [mm]")
    area_mm2: str | None = text("cold area of a profile [mm2]", null=True)
    machine_length_um: int = whole("meniscus to torch home along the centre line [um]")
    machine_length_text: str | None = text("as written [m]", null=True)
    started_at: int = instant("strand starts to move")
    started_offset: int | None = offset()
    stopped_at: int | None = instant("strand stopped moving for good", null=True)
    kerf_mm: str | None = text("kerf [mm]", null=True)
    cut_temperature_c: str | None = text("temperature at the cut [degree C]", null=True)
    mould_no: str | None = number("mould", null=True)
    lubricant: str | None = number("lubricant", null=True)
    lubricant_lot: str | None = number("its lot", null=True)
    plug_mass_g: int | None = whole("steel between mixed tank and nozzle [g]", null=True)
    plug_mass_text: str | None = text("as written [t]", null=True)
    stroke_mm: str | None = text("oscillation stroke, peak to peak [mm]", null=True)
    oscillation_per_min: str | None = text("oscillation frequency [1/min]", null=True)
    row_no: int = whole("row in its sheet")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Section(Row, table=True):
    """A change of section while casting."""

    __tablename__ = "section"
    __table_args__ = table("changes of section while casting", index("section_sequence", "sequence_id"))
    section_id: int | None = key()
    cast_sheet_id: int = whole("sheet", to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int = whole("strand")
    run_no: int = whole("run")
    from_um: int = whole("strand coordinate from which it holds [um]")
    from_text: str | None = text("as written [m]", null=True)
    thickness_mm: str = text("cold thickness [mm]")
    width_mm: str = text("cold width [mm]")
    row_no: int = whole("row in its sheet")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Feed(Row, table=True):
    """Which tundish feeds a strand run, from / to."""

    __tablename__ = "feed"
    __table_args__ = table("which tundish feeds which strand", index("feed_sequence", "sequence_id"))
    feed_id: int | None = key()
    cast_sheet_id: int = whole("sheet", to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int = whole("strand")
    run_no: int = whole("run")
    tundish: str = number("tundish label")
    from_at: int = instant("from")
    from_offset: int | None = offset()
    to_at: int | None = instant("to", null=True)
    to_offset: int | None = offset()
    row_no: int = whole("row in its sheet")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Speed(Row, table=True):
    """Casting speed from a moment on; entry numbers are those of its sheet."""

    __tablename__ = "speed"
    __table_args__ = table("casting speeds; entry numbers are the sheet's", rowid=False)
    cast_sheet_id: int = key("sheet", to="cast_sheet.cast_sheet_id")
    strand_no: int = key("strand")
    run_no: int = key("run")
    from_at: int = key("holds from [ms UTC]")
    speed_um_min: int | None = whole("casting speed [um/min]; empty is unknown", null=True)
    speed_text: str | None = text("as written [m/min]", null=True)
    row_no: int = whole("row in its sheet")


class Counter(Row, table=True):
    """One reading of a strand's length counter."""

    __tablename__ = "counter"
    __table_args__ = table("readings of strand length counters", index("counter_sequence", "sequence_id"))
    counter_id: int | None = key()
    cast_sheet_id: int = whole("sheet", to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int = whole("strand")
    run_no: int = whole("run")
    read_at: int = instant("when read")
    counter_um: int = whole("counter [um]")
    counter_text: str | None = text("as written [m]", null=True)
    row_no: int = whole("row in its sheet")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Oscillation(Row, table=True):
    """Mould oscillation from a moment on."""

    __tablename__ = "oscillation"
    __table_args__ = table("mould oscillation", index("oscillation_sequence", "sequence_id"))
    oscillation_id: int | None = key()
    cast_sheet_id: int | None = whole("sheet", null=True, to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int = whole("strand")
    from_at: int = instant("holds from")
    from_offset: int | None = offset()
    stroke_mm: str = text("stroke, peak to peak [mm]")
    per_min: str = text("frequency [1/min]")
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Cut(Row, table=True):
    """One torch cut; it closes the part cast before it."""

    __tablename__ = "cut"
    __table_args__ = table(
        "torch cuts",
        one_of("kind", "piece", "head-crop", "tail-crop", "sample", "scrap"),
        live_unique("cut_no", "sequence_id", "strand_no", "run_no", "cut_no"),
    )
    cut_id: int | None = key()
    cast_sheet_id: int = whole("sheet", to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int = whole("strand")
    run_no: int = whole("run")
    cut_no: int = whole("number of the cut in its run")
    kind: str = number("what the part is")
    piece_no: str | None = number("number of the piece", null=True)
    clamped_at: int | None = instant("torch clamps", null=True)
    clamped_offset: int | None = offset()
    clamp_distance_um: int | None = whole("meniscus to the torch when it clamps [um]", null=True)
    clamp_distance_text: str | None = text("as written [m]", null=True)
    measured_length_um: int | None = whole("measured hot length [um]", null=True)
    measured_length_text: str | None = text("as written [m]", null=True)
    mass_g: int | None = whole("weighed mass [g]", null=True)
    mass_text: str | None = text("as written [kg]", null=True)
    foreign_mass_g: int | None = whole("metal of no heat in it [g]", null=True)
    foreign_mass_text: str | None = text("as written [kg]", null=True)
    order_line_id: int | None = whole("order line", null=True, to="order_line.order_line_id")
    faulty: int = flag("set aside on the bench: the parts on both sides are undetermined")
    row_no: int = whole("row in its sheet")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Event(Row, table=True):
    """Something that happened, in time or in metres."""

    __tablename__ = "event"
    __table_args__ = table("events of casting", index("event_sequence", "sequence_id"))
    event_id: int | None = key("E- number")
    cast_sheet_id: int | None = whole("sheet", null=True, to="cast_sheet.cast_sheet_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int | None = whole("strand; empty is all", null=True)
    run_no: int | None = whole("run; empty is all", null=True)
    tundish: str | None = number("tundish label", null=True)
    heat_id: int | None = whole("heat", null=True, to="heat.heat_id")
    kind: str = number("kind of event")
    from_at: int | None = instant("from", null=True)
    from_offset: int | None = offset()
    to_at: int | None = instant("to; empty with a from is open: to the strand's end", null=True)
    to_offset: int | None = offset()
    from_um: int | None = whole("from, strand coordinate [um]", null=True)
    from_text: str | None = text("as written [m]", null=True)
    to_um: int | None = whole("to, strand coordinate [um]", null=True)
    to_text: str | None = text("as written [m]", null=True)
    amount: str | None = text("how much", null=True)
    unit: str | None = number("unit of the amount", null=True)
    device_distance_m: str | None = text("meniscus to the device [m]", null=True)
    note: str | None = text("note", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class EventReach(Row, table=True):
    """The metres of a strand run an event marks (derived at tracing)."""

    __tablename__ = "event_reach"
    __table_args__ = table(
        "metres marked by events (derived)",
        index("event_reach_event", "event_id"),
        index("event_reach_strand", "sequence_id", "strand_no", "run_no"),
    )
    event_reach_id: int | None = key()
    event_id: int = whole("event", to="event.event_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int = whole("strand")
    run_no: int = whole("run")
    from_um: int = whole("from, strand coordinate [um]")
    to_um: int = whole("to, strand coordinate [um]")
    open_end: int = flag("the event has no end: shown to the strand's end")
    entry_no: int = entered()
    ended_no: int | None = ended()
