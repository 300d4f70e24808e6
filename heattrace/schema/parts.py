"""Parts (pieces, crops, samples, scrap), where they lie on their strand, what they are made of, where they went."""

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


class Part(Row, table=True):
    """A length of steel that exists by itself."""

    __tablename__ = "part"
    __table_args__ = table(
        "pieces, crops, samples, scrap",
        one_of("kind", "piece", "head-crop", "tail-crop", "sample", "scrap"),
        one_of("origin", "cast", "recut", "rolled", "earlier"),
        live_unique("part_piece_no", "piece_no"),
        index("part_cut", "sequence_id", "strand_no", "run_no", "cut_no"),
    )
    part_id: int | None = key()
    kind: str = number("piece, head-crop, tail-crop, sample or scrap")
    origin: str = number("how it came to be")
    piece_no: str | None = number("number as the plant writes it, normalised for search", null=True)
    written_no: str | None = number("number as first written", null=True)
    form: str | None = number("cast shape", null=True)
    sequence_id: int | None = whole("sequence", null=True, to="sequence.sequence_id")
    strand_no: int | None = whole("strand", null=True)
    run_no: int | None = whole("run", null=True)
    cut_no: int | None = whole("cut that closed it; empty for an implied tail", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Placement(Row, table=True):
    """Where a part lies on its strand and how it is classed (derived at tracing)."""

    __tablename__ = "placement"
    __table_args__ = table(
        "place of a part on its strand (derived)",
        one_of("cast_class", "pure", "transition", "undetermined"),
        live_unique("placement_part", "part_id"),
        index("placement_strand", "sequence_id", "strand_no", "run_no", "from_um"),
    )
    placement_id: int | None = key()
    part_id: int = whole("part", to="part.part_id")
    sequence_id: int = whole("sequence", to="sequence.sequence_id")
    strand_no: int = whole("strand")
    run_no: int = whole("run")
    section: str = text("cold section, thickness x width [mm]")
    tundish: str | None = number("tundish at the head", null=True)
    tundishes: str = text("tundishes along it, canonical JSON")
    from_um: int = whole("head, strand coordinate [um]")
    to_um: int = whole("tail, strand coordinate [um]")
    meniscus_from: int = instant("head stood at the meniscus")
    meniscus_to: int = instant("tail stood at the meniscus")
    clamped_at: int | None = instant("torch clamped", null=True)
    clock_offset: int | None = offset("offset for showing these times [min]")
    transit_ms: int | None = whole("meniscus to cut [ms]", null=True)
    length_hot_um: int = whole("hot length [um]")
    length_cold_um: int = whole("cold length [um]")
    mass_g: int = whole("computed mass [g]")
    residual_um: int | None = whole("measured less counter length, hot [um]", null=True)
    stop_marks: str = text("strand coordinates of stop marks inside, canonical JSON [um]")
    uncertainty_um: int | None = whole("uncertainty of the ends [um]", null=True)
    speed_bounds: str | None = text("bounds where a speed or clock is unknown, canonical JSON", null=True)
    cast_class: str = number("pure, transition or undetermined")
    class_reasons: str = text("why, canonical JSON")
    majority_heat_id: int | None = whole("heat with the largest mean share", null=True, to="heat.heat_id")
    late_heat_id: int | None = whole(
        "newest heat with older shares at most the threshold", null=True, to="heat.heat_id"
    )
    heat_id: int | None = whole("heat whose number it bears", null=True, to="heat.heat_id")
    heat_no_rule: str = number("pure, late, decision or decided")
    rules_edition: str = text("editions of the works values used, canonical JSON")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Share(Row, table=True):
    """Share of one heat in a placed part, whole millionths; entry numbers are those of its placement."""

    __tablename__ = "share"
    __table_args__ = table("shares of heats in parts (derived)", index("share_heat", "heat_id"), rowid=False)
    placement_id: int = key("placement", to="placement.placement_id")
    heat_id: int = key("heat", to="heat.heat_id")
    mean: int = whole("mean by mass [1e-6]")
    head: int = whole("at the head, from inside [1e-6]")
    tail: int = whole("at the tail, from inside [1e-6]")
    least: int = whole("smallest anywhere [1e-6]")
    greatest: int = whole("largest anywhere [1e-6]")
    uncertainty_head: int | None = whole("uncertainty at the head [1e-6]", null=True)
    uncertainty_tail: int | None = whole("uncertainty at the tail [1e-6]", null=True)


class EarlierHeat(Row, table=True):
    """Heat of a piece from before the record began."""

    __tablename__ = "earlier_heat"
    __table_args__ = table(
        "heats of pieces from before the record",
        index("earlier_heat_part", "part_id"),
        index("earlier_heat_heat", "heat_id"),
    )
    earlier_heat_id: int | None = key()
    part_id: int = whole("part", to="part.part_id")
    heat_id: int = whole("heat", to="heat.heat_id")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Parentage(Row, table=True):
    """Child made from parent."""

    __tablename__ = "parentage"
    __table_args__ = table(
        "family of parts",
        index("parentage_parent", "parent_id"),
        index("parentage_child", "child_id"),
    )
    parentage_id: int | None = key()
    parent_id: int = whole("parent", to="part.part_id")
    child_id: int = whole("child", to="part.part_id")
    manner: str = number("recut or rolled")
    position: str | None = number("head, middle or tail of the parent", null=True)
    mass_g: int | None = whole("mass [g]", null=True)
    at: int | None = instant("when", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Alias(Row, table=True):
    """Another number of a part, with validity."""

    __tablename__ = "alias"
    __table_args__ = table("other numbers of parts", index("alias_number", "alias"), index("alias_part", "part_id"))
    alias_id: int | None = key()
    part_id: int = whole("part", to="part.part_id")
    alias: str = number("other number, normalised for search")
    written: str = number("other number as written")
    owner: str = number("whose number it is")
    from_at: int = instant("valid from")
    to_at: int | None = instant("valid to", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class DeliveryNote(Row, table=True):
    """One load to one customer."""

    __tablename__ = "delivery_note"
    __table_args__ = table("loads dispatched", live_unique("delivery_note_no", "delivery_note"))
    delivery_note_id: int | None = key()
    delivery_note: str = number("number of the delivery note")
    customer_id: int = whole("customer", to="customer.customer_id")
    dispatched_at: int | None = instant("dispatched", null=True)
    dispatched_offset: int | None = offset()
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    entry_no: int = entered()
    ended_no: int | None = ended()


class Movement(Row, table=True):
    """A change of whereabouts, append-only."""

    __tablename__ = "movement"
    __table_args__ = table(
        "whereabouts of parts",
        index("movement_part", "part_id"),
        index("movement_note", "delivery_note_id", where="delivery_note_id IS NOT NULL"),
    )
    movement_id: int | None = key()
    part_id: int = whole("part", to="part.part_id")
    whereabouts: str = number("where it is from then on")
    at: int | None = instant("when", null=True)
    at_offset: int | None = offset()
    delivery_note_id: int | None = whole("load", null=True, to="delivery_note.delivery_note_id")
    order_line_id: int | None = whole("order line it went for", null=True, to="order_line.order_line_id")
    note: str | None = text("note", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Weight(Row, table=True):
    """A weighing of a part."""

    __tablename__ = "weight"
    __table_args__ = table("weighings", index("weight_part", "part_id"))
    weight_id: int | None = key()
    part_id: int = whole("part", to="part.part_id")
    mass_g: int = whole("mass [g]")
    mass_text: str | None = text("as written [kg]", null=True)
    weighed_at: int = instant("when")
    weighed_offset: int | None = offset()
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Mark(Row, table=True):
    """What is painted or stamped on a part."""

    __tablename__ = "mark"
    __table_args__ = table("marks on parts", index("mark_part", "part_id"))
    mark_id: int | None = key()
    part_id: int = whole("part", to="part.part_id")
    mark: str = text("mark as read")
    manner: str | None = number("paint, stamp, tag", null=True)
    at: int | None = instant("when", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class Inspection(Row, table=True):
    """A rating under a named scheme and edition, never a bare number."""

    __tablename__ = "inspection"
    __table_args__ = table("inspections of parts", index("inspection_part", "part_id"))
    inspection_id: int | None = key()
    part_id: int = whole("part", to="part.part_id")
    scheme: str = number("rating scheme")
    edition: str = number("its edition")
    item: str = number("what was rated")
    rating: str = text("rating")
    read_by: str = text("reader")
    second_reader: str | None = text("second reader", null=True)
    image_sha256: str | None = text("digest of the image", null=True)
    batch_id: int | None = whole("import that brought it", null=True, to="batch.batch_id")
    row_no: int | None = whole("row in its file", null=True)
    entry_no: int = entered()
    ended_no: int | None = ended()


class MixGroup(Row, table=True):
    """Parts suspected of being swapped among each other."""

    __tablename__ = "mix_group"
    __table_args__ = table("suspected swaps")
    mix_group_id: int | None = key()
    note: str = text("what was seen")
    settled: int = flag("sorted out")
    entry_no: int = entered()
    ended_no: int | None = ended()


class MixMember(Row, table=True):
    """One part of a suspected swap."""

    __tablename__ = "mix_member"
    __table_args__ = table(
        "parts of suspected swaps", index("mix_member_group", "mix_group_id"), index("mix_member_part", "part_id")
    )
    mix_member_id: int | None = key()
    mix_group_id: int = whole("group", to="mix_group.mix_group_id")
    part_id: int = whole("part", to="part.part_id")
    true_part_id: int | None = whole("which part it proved to be", null=True, to="part.part_id")
    entry_no: int = entered()
    ended_no: int | None = ended()
