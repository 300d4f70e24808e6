"""The sheets of a cast book, and the table of all kinds of file."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from heattrace.intake.profiles.kinds import (
    ANALYSIS_COLUMNS,
    CAST_FORMS,
    CUT_KINDS,
    DEVIATIONS,
    EVENT_KINDS,
    FITTING_KINDS,
    LIMIT_COLUMNS,
    LIMITS,
    ORDER,
    PRODUCT_FORMS,
    RUN,
    STRAND,
    TEMPERATURE_PLACES,
    Kind,
    Sheet,
    choice,
    mass,
    metres,
    millimetres,
    needed,
    of_sheets,
    one_sheet,
    optional,
)

SEQUENCE = needed("sequence_no", "ident")
HEAT = needed("heat_no", "ident")
TUNDISH = needed("tundish")

HEATS = Sheet(
    "heats",
    (
        HEAT,
        needed("grade"),
        optional("series"),
        optional("ladle_no", "ident"),
        optional("tapped_at", "instant"),
        mass("tapped_mass_t", "t", "0.1", "500"),
        *ORDER,
        optional("evidence"),
    ),
    identity=("heat_no", "series"),
)
TEMPERATURES = Sheet(
    "temperatures",
    (
        HEAT,
        choice("place", TEMPERATURE_PLACES),
        optional("tundish"),
        needed("read_at", "instant"),
        needed("temperature_c", "decimal", unit="degree C", low="1300", high="1800"),
    ),
    required=False,
    identity=("heat_no", "place", "read_at"),
)
EVENTS = Sheet(
    "events",
    (
        SEQUENCE,
        optional("strand_no", "whole", low="1", high="12"),
        optional("run_no", "whole", low="1", high="99"),
        optional("tundish"),
        optional("heat_no", "ident"),
        choice("kind", EVENT_KINDS),
        optional("from_at", "instant"),
        optional("to_at", "instant"),
        metres("from_m", "0", "100000"),
        metres("to_m", "0", "100000"),
        optional("amount", "decimal"),
        optional("unit"),
        metres("device_distance_m", "-5", "80"),
        optional("note"),
    ),
    required=False,
)
ADDITIONS = Sheet(
    "additions",
    (HEAT, needed("material"), mass("mass_kg", "kg", "0", "50000", True), needed("added_at", "instant")),
    required=False,
    identity=("heat_no", "material", "added_at"),
)
FITTINGS = Sheet(
    "fittings",
    (
        SEQUENCE,
        optional("strand_no", "whole", low="1", high="12"),
        optional("tundish"),
        choice("kind", FITTING_KINDS),
        needed("number_or_lot", "ident"),
        needed("from_at", "instant"),
        optional("to_at", "instant"),
    ),
    required=False,
)
OSCILLATION = Sheet(
    "oscillation",
    (
        SEQUENCE,
        STRAND,
        needed("from_at", "instant"),
        millimetres("stroke_mm", "0", "50", True),
        needed("per_min", "decimal", low="0", high="1000"),
    ),
    required=False,
    identity=("sequence_no", "strand_no", "from_at"),
)

CAST_BOOK = of_sheets(
    "cast-book",
    HEATS,
    Sheet(
        "sequences",
        (SEQUENCE, needed("caster"), optional("recorded_until", "instant")),
        identity=("sequence_no",),
    ),
    Sheet(
        "tundishes",
        (
            SEQUENCE,
            TUNDISH,
            optional("tundish_no", "ident"),
            mass("mass_at_start_t", "t", "0", "200", True),
            optional("heat_at_start", "ident"),
            mass("working_mass_t", "t", "0", "200", default_from="mass_at_start_t"),
            mass("stagnant_mass_t", "t", "0", "200", default="0"),
        ),
        bad_row="refuse",
        identity=("sequence_no", "tundish"),
    ),
    Sheet(
        "pours",
        (
            SEQUENCE,
            HEAT,
            TUNDISH,
            needed("opened_at", "instant"),
            optional("closed_at", "instant"),
            mass("poured_mass_t", "t", "0", "500"),
        ),
        bad_row="refuse",
        identity=("sequence_no", "heat_no", "tundish", "opened_at"),
    ),
    Sheet(
        "tundish_masses",
        (SEQUENCE, TUNDISH, needed("read_at", "instant"), mass("mass_t", "t", "0", "200", True)),
        required=False,
        bad_row="refuse",
        identity=("sequence_no", "tundish", "read_at"),
    ),
    Sheet(
        "strands",
        (
            SEQUENCE,
            STRAND,
            RUN,
            choice("form", CAST_FORMS),
            millimetres("thickness_mm", "20", "1500", True),
            millimetres("width_mm", "20", "5000", True),
            optional("area_mm2", "decimal", unit="mm2", low="400", high="2000000"),
            metres("machine_length_m", "1", "80", True),
            needed("started_at", "instant"),
            optional("stopped_at", "instant"),
            millimetres("kerf_mm", "0", "100", default="10"),
            optional("cut_temperature_c", "decimal", unit="degree C", low="300", high="1400", default="900"),
            optional("mould_no", "ident"),
            optional("lubricant"),
            optional("lubricant_lot", "ident"),
            mass("plug_mass_t", "t", "0", "50", default="0"),
            millimetres("stroke_mm", "0", "50"),
            optional("oscillation_per_min", "decimal", low="0", high="1000"),
        ),
        bad_row="refuse",
        identity=("sequence_no", "strand_no", "run_no"),
    ),
    Sheet(
        "sections",
        (
            SEQUENCE,
            STRAND,
            RUN,
            metres("from_m", "0", "100000", True),
            millimetres("thickness_mm", "20", "1500", True),
            millimetres("width_mm", "20", "5000", True),
        ),
        required=False,
        identity=("sequence_no", "strand_no", "run_no", "from_m"),
    ),
    Sheet(
        "feeds",
        (SEQUENCE, STRAND, RUN, TUNDISH, needed("from_at", "instant"), optional("to_at", "instant")),
        bad_row="refuse",
        identity=("sequence_no", "strand_no", "run_no", "from_at"),
    ),
    Sheet(
        "speeds",
        (
            SEQUENCE,
            STRAND,
            RUN,
            needed("from_at", "instant"),
            needed("speed_m_min", "decimal", unit="m/min", low="0", high="15", filled=False),
        ),
        required=False,
        bad_row="refuse",
        identity=("sequence_no", "strand_no", "run_no", "from_at"),
    ),
    Sheet(
        "counters",
        (SEQUENCE, STRAND, RUN, needed("read_at", "instant"), metres("counter_m", "0", "1000000", True)),
        required=False,
        identity=("sequence_no", "strand_no", "run_no", "read_at"),
    ),
    Sheet(
        "cuts",
        (
            SEQUENCE,
            STRAND,
            RUN,
            needed("cut_no", "whole", low="1", high="100000"),
            choice("kind", CUT_KINDS),
            optional("piece_no", "ident"),
            needed("clamped_at", "instant", filled=False),
            metres("clamp_distance_m", "1", "100", default_from="strands.machine_length_m"),
            metres("measured_length_m", "0.05", "60"),
            mass("mass_kg", "kg", "1", "200000"),
            mass("foreign_mass_kg", "kg", "0", "50000"),
            *ORDER,
        ),
        identity=("sequence_no", "strand_no", "run_no", "cut_no"),
    ),
    TEMPERATURES,
    EVENTS,
    ADDITIONS,
    FITTINGS,
    OSCILLATION,
)

_ORDERED = (needed("order_no", "ident"), needed("line", "ident"))
_PIECE = needed("piece_no", "ident")

KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            one_sheet("analyses", *ANALYSIS_COLUMNS),
            CAST_BOOK,
            of_sheets("grade-book", LIMITS, DEVIATIONS),
            one_sheet("heats", *HEATS.columns, identity=HEATS.identity),
            one_sheet("temperatures", *TEMPERATURES.columns, identity=TEMPERATURES.identity),
            one_sheet("events", *EVENTS.columns),
            one_sheet("additions", *ADDITIONS.columns, identity=ADDITIONS.identity),
            one_sheet("fittings", *FITTINGS.columns),
            one_sheet("oscillation", *OSCILLATION.columns, identity=OSCILLATION.identity),
            one_sheet(
                "orders",
                *_ORDERED,
                needed("ordered_at", "day"),
                needed("customer"),
                needed("grade"),
                choice("form", PRODUCT_FORMS),
                needed("section"),
                millimetres("thickness_mm", "0.1", "2000", True),
                millimetres("flange_mm", "0.1", "500"),
                optional("area_mm2", "decimal", unit="mm2", low="1", high="4000000"),
                metres("length_m", "0.05", "200", True),
                mass("mass_t", "t", "0.001", "100000", True),
                needed("document"),
                optional("guard_band", "decimal", low="0", high="10", default="0"),
                optional("options"),
                optional("evidence"),
                identity=("order_no", "line"),
            ),
            one_sheet("order-limits", *_ORDERED, *LIMIT_COLUMNS),
            one_sheet(
                "weights",
                _PIECE,
                mass("mass_kg", "kg", "1", "200000", True),
                needed("weighed_at", "instant"),
                identity=("piece_no", "weighed_at"),
            ),
            one_sheet(
                "dispatch",
                needed("delivery_note", "ident"),
                needed("customer"),
                *_ORDERED,
                _PIECE,
                needed("dispatched_at", "instant"),
                identity=("piece_no",),
            ),
            one_sheet(
                "rolling",
                needed("parent_no", "ident"),
                needed("child_no", "ident"),
                mass("mass_kg", "kg", "0.1", "200000", True),
                needed("rolled_at", "instant"),
                optional("position"),
                identity=("parent_no", "child_no"),
            ),
            one_sheet(
                "aliases",
                _PIECE,
                needed("alias", "ident"),
                needed("owner"),
                needed("from", "day"),
                optional("to", "day"),
                identity=("alias", "owner", "from"),
            ),
            one_sheet(
                "inspections",
                _PIECE,
                needed("scheme"),
                needed("edition"),
                needed("item"),
                needed("rating"),
                needed("read_by"),
                optional("second_reader"),
                optional("image_sha256"),
                identity=("piece_no", "scheme", "edition", "item", "read_by"),
            ),
            one_sheet(
                "earlier-pieces",
                _PIECE,
                HEAT,
                optional("customer"),
                optional("delivery_note", "ident"),
                optional("dispatched_at", "day"),
                identity=("piece_no",),
            ),
        )
    }
)
