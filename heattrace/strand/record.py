"""A cast as recorded: what the cast book says, in the units of the strand model.

Times are minutes from any origin of the caller's choice (one origin per cast), lengths are hot strand metres, masses
are tonnes, speeds m/min. Sections are cold and in mm. Nothing here is computed or mended; `None` is an empty cell.
"""

from __future__ import annotations

from dataclasses import dataclass

from heattrace.errors import Refused

HeatKey = int | str
"""What the caller knows a heat by: its number or a surrogate id. The model only compares keys."""


class CastUnreadable(Refused):
    """The record of a cast contradicts itself so far that no position or mix can be computed."""

    code = "CAST-RECORD"


@dataclass(frozen=True, slots=True)
class HeatInfo:
    """A heat of the sequence; `grade_text` is standard, edition and grade as one text, compared as it stands."""

    heat_id: HeatKey
    heat_no: str
    grade_text: str = ""


@dataclass(frozen=True, slots=True)
class Tundish:
    """One use of a tundish; its label is unique in the sequence, an exchange brings a second label.

    `mass_at_start_t` holds at the earliest of its first pour, first feed and first reading. `heat_at_start` None is the
    first heat poured into it, `working_mass_t` None the mass at start. `readings` are (minute, tonnes of liquid steel).
    """

    label: str
    mass_at_start_t: float
    heat_at_start: HeatKey | None = None
    working_mass_t: float | None = None
    stagnant_mass_t: float = 0.0
    readings: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Pour:
    """A ladle open over a tundish; `closed` None is still open at the book's last time; `poured_t` is only compared."""

    heat: HeatKey
    tundish: str
    opened: float
    closed: float | None = None
    poured_t: float | None = None


@dataclass(frozen=True, slots=True)
class Feed:
    """A strand run fed by a tundish; `to` None is still fed at the book's last time."""

    tundish: str
    start: float
    to: float | None = None


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut row; it closes the part cast before it.

    `clamped` is the minute the torch clamps, None only for the part closed by the strand's own tail; `clamp_distance_m`
    None is the machine length. `measured_length_m` is hot. `foreign_mass_kg` is metal of no heat. `faulty` says the row
    is set aside: its place is not believed and the parts on both sides are undetermined.
    """

    cut_no: int
    kind: str
    piece_no: str | None = None
    clamped: float | None = None
    clamp_distance_m: float | None = None
    measured_length_m: float | None = None
    mass_kg: float | None = None
    foreign_mass_kg: float | None = None
    faulty: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A change of section while casting: from `from_m` of the strand on, cold thickness and width [mm]."""

    from_m: float
    thickness_mm: float
    width_mm: float


@dataclass(frozen=True, slots=True)
class Run:
    """One run of one strand: from a dummy bar to its own tail.

    `speeds` are (minute, m/min or None for unknown), each holding until the next; `counters` are (minute, metres).
    At least one of the two is needed. `form` is bloom, billet, slab, round or profile.
    """

    strand_no: int
    run_no: int
    form: str
    thickness_mm: float
    width_mm: float
    machine_length_m: float
    started: float
    area_mm2: float | None = None
    stopped: float | None = None
    kerf_mm: float = 10.0
    cut_temperature_c: float = 900.0
    plug_mass_t: float = 0.0
    feeds: tuple[Feed, ...] = ()
    speeds: tuple[tuple[float, float | None], ...] = ()
    counters: tuple[tuple[float, float], ...] = ()
    sections: tuple[Section, ...] = ()
    cuts: tuple[Cut, ...] = ()

    @property
    def key(self) -> tuple[int, int]:
        """(strand_no, run_no), never the strand alone."""
        return (self.strand_no, self.run_no)


@dataclass(frozen=True, slots=True)
class Cast:
    """One sequence as recorded. `last_time` is the latest time in any sheet of the book [min]."""

    sequence_no: str
    heats: tuple[HeatInfo, ...]
    tundishes: tuple[Tundish, ...]
    pours: tuple[Pour, ...]
    runs: tuple[Run, ...]
    last_time: float
    recorded_until: float | None = None


CARBON_STEEL_EXPANSION = "EN 1993-1-2 carbon steel"


@dataclass(frozen=True, slots=True)
class StrandRules:
    """Works-editable rule values of the strand model. The defaults are for carbon steel.

    Engineering defaults (chosen for this program, to be replaced by the shop's own, no published number):
    `pure_min`, `old_max` [share], `step_min` [share], `guard_ahead_m`, `guard_behind_m` [m], `list_floor` [share],
    `scale_look`, `scale_distrust` [-], `residual_look_mm`, `residual_distrust_mm` [mm], `reading_residual_look_t` [t],
    `counter_error` [-], `clamp_time_error_min` [min], `clamp_place_error_m` [m].
    The guard ahead is scaled to the depth below which the flow in a slab strand is nearly one-dimensional, about 3 m
    (Huang and Thomas, Metall. Trans. B 24B (1993) 379-393, abstract). `old_max` stands for "until the product is wholly
    the following heat" (ASTM A6/A6M 5.3.1), since a washout never reaches zero.
    `density_t_m3` is the conventional cold density of structural steel (EN 1991-1-1 table A.4 range 77.0-78.5 kN/m3).
    `expansion` names the formula set of expansion.py.
    """

    pure_min: float = 0.95
    old_max: float = 0.05
    step_min: float = 0.01
    guard_ahead_m: float = 3.0
    guard_behind_m: float = 1.0
    list_floor: float = 1e-4
    density_t_m3: float = 7.85
    expansion: str = CARBON_STEEL_EXPANSION
    scale_look: float = 0.005
    scale_distrust: float = 0.01
    residual_look_mm: float = 50.0
    residual_distrust_mm: float = 150.0
    reading_residual_look_t: float = 0.5
    counter_error: float = 0.005
    clamp_time_error_min: float = 0.2
    clamp_place_error_m: float = 0.1
