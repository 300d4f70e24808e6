"""The invented works: machines, heats, customers and the plan of its three casts. Practice data, no real plant.

Speeds, masses and times are of a plausible size (common practice); nothing here is a measurement of anything.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from math import pi
from types import MappingProxyType

WORKS = "Quillmere Steelworks"
ZONE = "Europe/Andorra"
OFFSET = timezone(timedelta(hours=1))
SERIES = "2025"
SEED = 1187

S355J0 = "EN 10025-2:2004 S355J0"
C45E = "EN 10083-2:2006 C45E"
CRMO = "EN 10083-3:2006 42CrMo4"
P355GH = "EN 10028-2:2003 P355GH"

# Aim of the melt shop by grade, mass %, in the order of a sheet.
AIMS: MappingProxyType[str, MappingProxyType[str, float]] = MappingProxyType(
    {
        S355J0: MappingProxyType({
            "C": 0.162, "Si": 0.24, "Mn": 1.38, "P": 0.013, "S": 0.009, "Cr": 0.06, "Mo": 0.011, "Ni": 0.06,
            "Al": 0.028, "Cu": 0.14, "N": 0.0078, "Nb": 0.0006, "V": 0.004, "Ti": 0.003, "Sn": 0.009, "B": 0.00012,
            "Ca": 0.0014, "O": 0.0019,
        }),
        C45E: MappingProxyType({
            "C": 0.462, "Si": 0.25, "Mn": 0.66, "P": 0.012, "S": 0.018, "Cr": 0.14, "Mo": 0.015, "Ni": 0.07,
            "Al": 0.024, "Cu": 0.16, "N": 0.0082, "Nb": 0.0005, "V": 0.004, "Ti": 0.002, "Sn": 0.010, "B": 0.00010,
            "Ca": 0.0009, "O": 0.0016,
        }),
        CRMO: MappingProxyType({
            "C": 0.415, "Si": 0.26, "Mn": 0.76, "P": 0.011, "S": 0.016, "Cr": 1.06, "Mo": 0.205, "Ni": 0.10,
            "Al": 0.023, "Cu": 0.17, "N": 0.0086, "Nb": 0.0006, "V": 0.005, "Ti": 0.002, "Sn": 0.010, "B": 0.00011,
            "Ca": 0.0008, "O": 0.0015,
        }),
        P355GH: MappingProxyType({
            "C": 0.158, "Si": 0.32, "Mn": 1.34, "P": 0.011, "S": 0.005, "Cr": 0.05, "Mo": 0.010, "Ni": 0.05,
            "Al": 0.034, "Cu": 0.11, "N": 0.0088, "Nb": 0.0007, "V": 0.003, "Ti": 0.003, "Sn": 0.007, "B": 0.00009,
            "Ca": 0.0017, "O": 0.0013,
        }),
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Customer:
    """A customer: name and town, both invented."""

    name: str
    town: str


HARROWICK = Customer("Harrowick Bar Mill", "Harrowick")
SENNETBY = Customer("Sennetby Forge", "Sennetby")
OLLERFIELD = Customer("Ollerfield Plate", "Ollerfield")
CUSTOMERS = (HARROWICK, SENNETBY, OLLERFIELD)


@dataclass(frozen=True, slots=True)
class OrderLine:
    """A line of an order; `thickness_mm` is the thickness of the ordered product, never of the cast section."""

    order_no: str
    line: str
    ordered_at: str
    customer: Customer
    grade: str
    form: str
    section: str
    thickness_mm: str
    length_m: str
    mass_t: str
    options: str = ""


ORDER_LINES = (
    OrderLine("HAR-2207", "1", "2025-02-10T09:20:00+01:00", HARROWICK, S355J0, "bar", "160 x 160", "28", "11.0", "520"),
    OrderLine("HAR-2207", "2", "2025-02-10T09:20:00+01:00", HARROWICK, S355J0, "bar", "160 x 160", "45", "11.0", "140",
              "silicon-control"),
    OrderLine("SEN-0931", "1", "2025-02-17T14:05:00+01:00", SENNETBY, C45E, "bar", "220 x 300", "95", "4.6", "320"),
    OrderLine("SEN-0931", "2", "2025-02-17T14:05:00+01:00", SENNETBY, CRMO, "bar", "220 x 300", "95", "4.6", "210"),
    OrderLine("OLL-1180", "1", "2025-02-20T11:40:00+01:00", OLLERFIELD, P355GH, "plate", "200 x 900", "25", "4.8",
              "310"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class HeatPlan:
    """One heat: what was planned and what the story does to it. `shift` is added to the aim, mass %."""

    heat_no: str
    grade: str
    order_no: str
    line: str
    ladle_no: str
    tapped_t: float
    shift: MappingProxyType[str, float] = field(default_factory=lambda: MappingProxyType({}))


def _heat(heat_no: str, grade: str, order: str, ladle: str, tapped_t: float, **shift: float) -> HeatPlan:
    order_no, line = order.split("/")
    return HeatPlan(heat_no, grade, order_no, line, ladle, tapped_t, MappingProxyType(shift))


HEATS = (
    _heat("25R041", S355J0, "HAR-2207/1", "4", 110.6),
    _heat("25R042", S355J0, "HAR-2207/1", "7", 109.4),
    _heat("25R043", S355J0, "HAR-2207/1", "2", 110.9, Mn=0.31, Si=0.06),  # the alloy weigher was emptied twice
    _heat("25R044", S355J0, "HAR-2207/1", "4", 110.1),
    _heat("25R045", S355J0, "HAR-2207/1", "7", 109.8, C=0.019),
    _heat("25R046", S355J0, "HAR-2207/2", "2", 110.4),
    _heat("25R047", C45E, "SEN-0931/1", "5", 110.2),
    _heat("25R048", C45E, "SEN-0931/1", "4", 111.0),
    _heat("25R049", C45E, "SEN-0931/1", "7", 109.9),
    _heat("25R050", CRMO, "SEN-0931/2", "2", 110.5),
    _heat("25R051", CRMO, "SEN-0931/2", "5", 110.0),
    _heat("25R052", P355GH, "OLL-1180/1", "3", 110.7),
    _heat("25R053", P355GH, "OLL-1180/1", "4", 110.3),
    _heat("25R054", P355GH, "OLL-1180/1", "7", 109.7),
)


@dataclass(frozen=True, slots=True)
class Machine:
    """A casting machine: radius to the fixed side of the strand, straight run from tangent point to torch."""

    name: str
    radius_m: float
    straight_run_m: float

    def length_m(self, thickness_mm: int) -> float:
        """Meniscus to torch home along the centre line of a strand of that thickness, m, to the centimetre."""
        return round((self.radius_m - thickness_mm / 2000) * pi / 2 + self.straight_run_m, 2)


WEST = Machine("west", 12.0, 9.5)
NORTH = Machine("north", 10.5, 14.0)


@dataclass(frozen=True, slots=True)
class SectionPlan:
    """A cast section and how it is cast and cut."""

    form: str
    thickness_mm: int
    width_mm: int
    speed_m_min: float
    piece_m: float
    head_crop_m: float
    kerf_mm: int
    cut_temperature_c: int
    foreign_kg: int
    lubricant: str
    stroke_mm: str
    per_min: str


BILLET = SectionPlan("billet", 160, 160, 2.20, 11.0, 0.60, 8, 900, 9, "rape oil", "8.0", "165")
BLOOM = SectionPlan("bloom", 220, 300, 0.95, 4.6, 0.80, 10, 900, 24, "casting powder", "6.0", "95")
SLAB = SectionPlan("slab", 200, 900, 1.10, 4.8, 0.50, 12, 880, 40, "casting powder", "6.0", "110")


@dataclass(frozen=True, slots=True)
class StrandPlan:
    """One strand: `steps` are (minute, speed factor), `stops` (from minute, to minute), minutes from the first ladle.

    `lost_min` is when its nozzle froze; `gap_min` is an interval whose speed the log has lost (a step in its middle
    leaves the metres cast those of the mean of both sides); `special` are cuts that are no ordinary piece: cut_no,
    kind, length m; `late_clamp` cuts (cut_no, metres beyond torch home).
    """

    strand_no: int
    steps: tuple[tuple[float, float], ...] = ()
    stops: tuple[tuple[float, float], ...] = ()
    lost_min: float | None = None
    gap_min: tuple[float, float] | None = None
    special: tuple[tuple[int, str, float], ...] = ()
    late_clamp: tuple[tuple[int, float], ...] = ()
    length_off_m: float = 0.0


@dataclass(frozen=True, slots=True)
class EventPlan:
    """An event of the log at minutes from the first ladle, on a strand (0: none) or a tundish."""

    kind: str
    strand_no: int
    from_min: float
    to_min: float
    amount: str = ""
    unit: str = ""
    device_distance_m: str = ""
    note: str = ""
    apart: bool = False


@dataclass(frozen=True, slots=True)
class SequencePlan:
    """One cast. `exchange_before` is the heat poured into a second tundish; `low_before` the mass, t, to which the
    tundish falls before that heat is opened; `gap_s` the seconds between two ladles."""

    sequence_no: str
    machine: Machine
    section: SectionPlan
    first_open: datetime
    heats: tuple[HeatPlan, ...]
    strands: tuple[StrandPlan, ...]
    tundish_numbers: tuple[str, ...]
    working_t: float
    start_t: float
    events: tuple[EventPlan, ...] = ()
    exchange_before: str = ""
    low_before: MappingProxyType[str, float] = field(default_factory=lambda: MappingProxyType({}))
    gap_s: tuple[int, ...] = (130, 165, 120, 150, 140)
    read_every_s: int = 240
    weigh_every: int = 6
    counters: bool = False
    as_workbook: bool = False
    temperatures_apart: bool = False

    def machine_length_m(self, strand: StrandPlan) -> float:
        """Meniscus to torch home of one strand, m."""
        return round(self.machine.length_m(self.section.thickness_mm) + strand.length_off_m, 2)

    def at(self, second: int) -> datetime:
        """The works' time of a second of this cast."""
        return self.first_open + timedelta(seconds=second)


def _at(day: int, hour: int, minute: int) -> datetime:
    return datetime(2025, 3, day, hour - 1, minute, tzinfo=UTC).astimezone(OFFSET)


SEQUENCES = (
    SequencePlan(
        "L118", WEST, BILLET, _at(11, 5, 42), HEATS[0:6],
        (
            StrandPlan(1, steps=((70, 1.03), (152, 0.97), (205, 1.0))),
            StrandPlan(2, steps=((44, 0.97), (120, 1.02)), special=((21, "scrap", 1.2),)),
            StrandPlan(3, steps=((88, 1.02), (240, 0.96)), length_off_m=-0.02),
            StrandPlan(4, steps=((150, 0.98),), stops=((80, 84.5),), length_off_m=0.03),
            StrandPlan(5, steps=((60, 0.98), (133, 1.01)), gap_min=(220, 225)),
        ),
        ("14", "9"), 16.0, 7.0,
        (
            EventPlan("tundish-start", 0, 0, 6, note="tundish 14"),
            EventPlan("strand-stop", 4, 80, 84.5, note="stopper closed, nozzle lanced, same strand restarted"),
            EventPlan("tundish-exchange", 0, -1, -1, note="tundish 9 in place of 14"),
            EventPlan("shroud-off", 0, 71, 74, note="ladle shroud broken, changed while pouring", apart=True),
        ),
        exchange_before="25R044", read_every_s=300, weigh_every=8, counters=True, temperatures_apart=True,
    ),
    SequencePlan(
        "L119", WEST, BLOOM, _at(11, 14, 6), HEATS[6:11],
        (
            StrandPlan(1, steps=((62, 1.03),), special=((20, "sample", 0.30),)),
            StrandPlan(2, steps=((36, 0.97), (110, 1.0)), late_clamp=((12, 0.60),)),
            StrandPlan(3, steps=((95, 0.97), (104, 1.0)), length_off_m=-0.02),
            StrandPlan(4, steps=((150, 1.02),), gap_min=(148.5, 151.5), length_off_m=0.03),
            StrandPlan(5, steps=((55, 0.98), (140, 1.01))),
        ),
        ("11",), 16.0, 8.0,
        (
            EventPlan("tundish-start", 0, 0, 7, note="tundish 11"),
            EventPlan("level-swing", 3, 68, 69.5, amount="22", unit="mm", note="level swung, stopper hunting"),
            EventPlan("spray-fault", 5, 102, 106, device_distance_m="6.5", note="zone 3 low on water"),
        ),
        low_before=MappingProxyType({"25R050": 8.5}), weigh_every=4,
    ),
    SequencePlan(
        "N052", NORTH, SLAB, _at(12, 8, 30), HEATS[11:14],
        (
            StrandPlan(1, steps=((30, 1.02), (60, 1.12))),
            StrandPlan(2, steps=((30, 1.02), (54, 0.85)), lost_min=58),
        ),
        ("21",), 18.0, 9.0,
        (
            EventPlan("tundish-start", 0, 0, 6, note="tundish 21"),
            EventPlan("nozzle-clog", 2, 53, 58, note="stopper opening wider and wider; nozzle froze, strand lost"),
            EventPlan("lubricant-fault", 1, 24, 25.5, note="powder bare at one corner"),
        ),
        weigh_every=1, as_workbook=True,
    ),
)  # fmt: skip
