"""The kinds of file and their columns: our names, what a cell must be, what an empty one means.

Bands are what is believed of a value at all (common practice, wide on purpose); outside them a row is set aside.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from heattrace.strand.event_kinds import EVENT_KINDS as EVENT_KINDS

SAMPLE_KINDS = (
    "furnace", "tap", "ladle-arrival", "ladle-treatment", "ladle-final", "degasser", "tundish-early", "tundish-steady",
    "tundish-late", "mould", "gas", "product", "transition-product", "check", "referee", "control",
)  # fmt: skip

PRODUCT_FORMS = ("flat", "plate", "long", "bar", "section", "light-shape", "hollow")
CAST_FORMS = ("bloom", "billet", "slab", "round", "profile")
CUT_KINDS = ("piece", "head-crop", "tail-crop", "sample", "scrap")
TEMPERATURE_PLACES = ("ladle-arrival", "ladle-rinse", "ladle-lift", "tundish")
FITTING_KINDS = ("nozzle", "stopper", "mould", "lubricant")


@dataclass(frozen=True, slots=True)
class Column:
    """One column: our name, what its cells are, and what an empty cell means.

    `type` is one of `ident` (a number of the plant), `text`, `whole`, `decimal`, `instant`, `day` (or an instant),
    `choice`, `flag` (yes or no), `element`, `content` (value of a row-a-result file). `unit` is ours; `low` and `high`
    bound what is believed. `default` is taken for an empty cell; `default_from` names the column whose value is taken
    (`sheet.column` where another sheet has it: then the loader takes it). `together` names a column that must be filled
    when this one is; `filled` False lets the cells of a required column be empty.
    """

    name: str
    type: str = "text"
    required: bool = True
    unit: str = ""
    low: str | None = None
    high: str | None = None
    choices: tuple[str, ...] = ()
    default: str | None = None
    default_from: str | None = None
    together: str | None = None
    filled: bool = True


def needed(name: str, type: str = "text", **more: object) -> Column:
    """A column that must be there and filled."""
    return Column(name, type, **more)  # type: ignore[arg-type]


def optional(name: str, type: str = "text", **more: object) -> Column:
    """A column that may be missing or empty."""
    return Column(name, type, required=False, **more)  # type: ignore[arg-type]


def choice(name: str, choices: tuple[str, ...], required: bool = True, **more: object) -> Column:
    """A column whose cells are one of a few words."""
    return Column(name, "choice", required=required, choices=choices, **more)  # type: ignore[arg-type]


def metres(name: str, low: str, high: str, required: bool = False, **more: object) -> Column:
    """A length in metres."""
    return Column(name, "decimal", required, "m", low, high, **more)  # type: ignore[arg-type]


def millimetres(name: str, low: str, high: str, required: bool = False, **more: object) -> Column:
    """A length in millimetres."""
    return Column(name, "decimal", required, "mm", low, high, **more)  # type: ignore[arg-type]


def mass(name: str, unit: str, low: str, high: str, required: bool = False, **more: object) -> Column:
    """A mass in `t` or `kg`."""
    return Column(name, "decimal", required, unit, low, high, **more)  # type: ignore[arg-type]


ORDER = (optional("order_no", "ident", together="line"), optional("line", "ident", together="order_no"))
STRAND = needed("strand_no", "whole", low="1", high="12")
RUN = needed("run_no", "whole", low="1", high="99")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table of a kind. `bad_row` says what one bad row does: `bench` (only it is set aside) or `refuse` (the file).

    `identity` names the columns that tell two rows apart within one file.
    """

    name: str
    columns: tuple[Column, ...]
    required: bool = True
    bad_row: str = "bench"
    identity: tuple[str, ...] = ()
    by_name: Mapping[str, Column] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", MappingProxyType({c.name: c for c in self.columns}))


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file: its sheets by name. A kind of one sheet has the kind's own name for it."""

    name: str
    sheets: Mapping[str, Sheet]

    @property
    def only(self) -> Sheet:
        """The one sheet of a kind that has one."""
        (sheet,) = self.sheets.values()
        return sheet


def one_sheet(name: str, *columns: Column, bad_row: str = "bench", identity: tuple[str, ...] = ()) -> Kind:
    """A kind of one sheet that bears the kind's own name."""
    return Kind(name, MappingProxyType({name: Sheet(name, columns, True, bad_row, identity)}))


def of_sheets(name: str, *sheets: Sheet) -> Kind:
    """A kind of several sheets."""
    return Kind(name, MappingProxyType({s.name: s for s in sheets}))


ANALYSIS_COLUMNS = (
    optional("heat_no", "ident"),
    needed("sample_id", "ident"),
    choice("sample_kind", SAMPLE_KINDS),
    optional("taken_at", "instant"),
    needed("analysed_at", "instant"),
    needed("method"),
    optional("instrument"),
    optional("burn"),
    optional("tundish"),
    optional("strand_no", "whole", low="1", high="12"),
    metres("position_m", "0", "100000"),
    mass("ladle_mass_left_t", "t", "0", "500"),
    optional("piece_no", "ident"),
    choice("piece_end", ("head", "tail"), required=False),
    optional("laboratory"),
    optional("report_no"),
    optional("supersedes"),
)
# heat_no stands among the columns that must be in the file, but a control sample's cell may be empty.
ANALYSIS_MUST = ("heat_no", "sample_id", "sample_kind", "analysed_at", "method")
RESULT_COLUMNS = (needed("element", "element"), Column("value", "content", filled=False), needed("unit"))

LIMIT_COLUMNS = (
    choice("basis", ("cast", "product", "both")),
    needed("size_band_mm"),
    needed("quantity"),
    optional("min", "decimal"),
    optional("aim", "decimal"),
    optional("max", "decimal"),
    needed("unit"),
    choice("rounding", ("rounding", "absolute")),
    optional("round_to"),
    optional("when"),
    optional("report", "flag", default="no"),
)
LIMITS = Sheet(
    "limits",
    (
        needed("standard"),
        needed("edition"),
        needed("grade"),
        *LIMIT_COLUMNS,
        optional("valid_from", "day"),
        optional("valid_until", "day"),
        optional("extends"),
        optional("family"),
        Column("source", filled=False),
        choice("status", ("verified", "memory")),
        optional("notes"),
    ),
    bad_row="refuse",
)
DEVIATIONS = Sheet(
    "deviations",
    (
        needed("applies_to"),
        needed("element"),
        Column("limit_from", "decimal", filled=False),
        Column("limit_to", "decimal", filled=False),
        optional("area_band_mm2"),
        optional("size_band_mm"),
        Column("under", "decimal", filled=False),
        Column("over", "decimal", filled=False),
        choice("kind", ("absolute", "percent")),
        Column("one_side", "flag", filled=False),
        Column("source", filled=False),
        choice("status", ("verified", "memory")),
        optional("notes"),
    ),
    required=False,
    bad_row="refuse",
)
