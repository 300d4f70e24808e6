"""A cast as traced: what the model computed from the record. Values only; nothing here computes but sums and look-ups.

Minutes, hot strand metres, tonnes and shares (0 to 1), all unrounded doubles.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from heattrace.findings import Finding
from heattrace.strand.record import HeatInfo, HeatKey, StrandRules

if TYPE_CHECKING:
    from heattrace.strand.course import StrandCourse
    from heattrace.strand.timeline import Timeline

Bounds = tuple[float, float]
"""(low, high)"""


@dataclass(frozen=True, slots=True)
class PartShare:
    """Share of one heat in one part: mean by mass, head and tail as limits from inside, extremes anywhere in the part.

    `uncertainty_head` and `uncertainty_tail` come from the uncertainty of the place of the two ends alone.
    """

    heat_id: HeatKey
    mean: float
    head: float
    tail: float
    least: float
    greatest: float
    uncertainty_head: float
    uncertainty_tail: float


@dataclass(frozen=True, slots=True)
class ShareBounds:
    """(low, high) of one heat's share in one part where a speed is unknown."""

    heat_id: HeatKey
    mean: Bounds
    head: Bounds
    tail: Bounds
    anywhere: Bounds


@dataclass(frozen=True, slots=True)
class PartBounds:
    """(low, high) of place, time and shares of a part where a speed is unknown, over both ends of the bracket."""

    from_m: Bounds
    to_m: Bounds
    meniscus_from: Bounds
    meniscus_to: Bounds
    mass_t: Bounds
    shares: tuple[ShareBounds, ...]


@dataclass(frozen=True, slots=True)
class ClassReason:
    """Why a part is not plainly pure, or is flagged: a fixed code, the place on the strand, and words.

    Codes: `mixed`, `tundish-joint`, `step`, `grade-change` (make a transition); `cut-on-bench`, `cut-doubtful`,
    `unknown-speed` (make it undetermined where the class hangs on them); `speed-by-counter`, `implied-tail-crop`
    (flags only).
    """

    code: str
    words: str
    from_m: float | None = None
    to_m: float | None = None


@dataclass(frozen=True, slots=True)
class TracedPart:
    """One part between two cuts: piece, crop, sample or scrap.

    `shares` holds every heat of the sequence in heat order and sums to 1; `listed` leaves out what is below the floor.
    `clamped` and `transit_min` are None for a part closed by the strand's own tail. `joined_cut_nos` is not empty where
    a cut between parts is not believed: those parts then share one interval, each of them is somewhere in it, and
    `length_hot_m` and the like are of the whole interval.
    """

    strand_no: int
    run_no: int
    cut_no: int
    kind: str
    piece_no: str | None
    form: str
    section: str
    from_m: float
    to_m: float
    length_hot_m: float
    length_cold_m: float
    mass_t: float
    tundish: str
    tundishes: tuple[str, ...]
    meniscus_from: float
    meniscus_to: float
    clamped: float | None
    transit_min: float | None
    residual_mm: float | None
    stop_marks_m: tuple[float, ...]
    uncertainty_m: float
    shares: tuple[PartShare, ...]
    bounds: PartBounds | None
    class_: str
    class_reasons: tuple[ClassReason, ...]
    majority_heat: HeatKey
    late_heat: HeatKey
    heat: HeatKey | None
    heat_no_rule: str
    implied: bool = False
    joined_cut_nos: tuple[int, ...] = ()

    @property
    def key(self) -> tuple[int, int, int]:
        """(strand_no, run_no, cut_no)."""
        return (self.strand_no, self.run_no, self.cut_no)

    def listed(self, floor: float = 1e-4) -> tuple[PartShare, ...]:
        """The heats that reach `floor` somewhere in the part, in heat order."""
        return tuple(share for share in self.shares if share.greatest >= floor)

    def share_of(self, heat: HeatKey) -> PartShare:
        """The share of one heat. Raises KeyError for a heat that is not of the sequence."""
        for share in self.shares:
            if share.heat_id == heat:
                return share
        raise KeyError(heat)


@dataclass(frozen=True, slots=True)
class FaultyCut:
    """A cut row that cannot be right, for the bench; `suspects` are other cuts that could be the wrong one instead."""

    strand_no: int
    run_no: int
    cut_no: int
    code: str
    words: str
    suspects: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class TracedRun:
    """One strand run: its length, where the steel still in the machine begins, its stops, and what it drew.

    `s_end` is the strand's own tail, or where it stands at the meniscus at the book's last time while it is still fed
    (`ended` False). `in_machine_from_m` is None when nothing is left in the machine. `timeline` and `course` answer
    for any minute and any metre.
    """

    strand_no: int
    run_no: int
    form: str
    s_end: float
    ended: bool
    in_machine_from_m: float | None
    stop_marks_m: tuple[float, ...]
    joints_m: tuple[float, ...]
    strand_t: float
    timeline: Timeline
    course: StrandCourse
    faulty_cuts: tuple[FaultyCut, ...] = ()

    @property
    def key(self) -> tuple[int, int]:
        """(strand_no, run_no)."""
        return (self.strand_no, self.run_no)


@dataclass(frozen=True, slots=True)
class TracedPour:
    """What one ladle gave to one tundish by the model, beside what was recorded for comparison [t]."""

    heat_id: HeatKey
    tundish: str
    opened: float
    closed: float
    computed_t: float
    recorded_t: float | None


@dataclass(frozen=True, slots=True)
class HeatBalance:
    """Where one heat went [t]: initial + poured = left + pieces + crops + kerf + in machine + loss + closure."""

    heat_id: HeatKey
    initial_t: float
    poured_t: float
    strand_t: float
    tundish_left_t: float
    pieces_t: float
    crops_t: float
    kerf_t: float
    in_machine_t: float
    loss_t: float
    closure_t: float


@dataclass(frozen=True, slots=True)
class RunCheck:
    """Counter against measured lengths of one run.

    `counter_m` and `measured_m` are both from first to last cut with the kerfs in, over the parts that were measured;
    `scale` is counter over measured, None where nothing was. `flag` is ok, look, distrust or not-measured.
    """

    strand_no: int
    run_no: int
    foreign_t: float
    counter_m: float
    measured_m: float | None
    scale: float | None
    flag: str


@dataclass(frozen=True, slots=True)
class CastBalance:
    """The balance of a cast. `reading_residual_t` is by tundish label; it enters neither shares nor closure."""

    heats: tuple[HeatBalance, ...]
    runs: tuple[RunCheck, ...]
    strand_t: float
    liquid_t: float
    reading_residual_t: dict[str, float]

    @property
    def strand_yield(self) -> float | None:
        """Strands over initial plus poured; None where there was no liquid."""
        return self.strand_t / self.liquid_t if self.liquid_t > 0 else None

    def prime_yield(self, released_t: float) -> float | None:
        """Released pieces [t] over initial plus poured."""
        return released_t / self.liquid_t if self.liquid_t > 0 else None


@dataclass(frozen=True, slots=True)
class TracedCast:
    """A whole cast as traced. `heats` stand in heat order: first opening, a heat present only at the start first."""

    sequence_no: str
    heats: tuple[HeatInfo, ...]
    rules: StrandRules
    parts: tuple[TracedPart, ...]
    runs: tuple[TracedRun, ...]
    pours: tuple[TracedPour, ...]
    balance: CastBalance
    nominal_tundishes: tuple[str, ...]
    findings: tuple[Finding, ...]

    def run(self, strand_no: int, run_no: int) -> TracedRun:
        """One run. Raises KeyError where there is none."""
        for run in self.runs:
            if run.key == (strand_no, run_no):
                return run
        raise KeyError((strand_no, run_no))

    def heat_no(self, heat: HeatKey) -> str:
        """The number of a heat. Raises KeyError for one that is not of the sequence."""
        for info in self.heats:
            if info.heat_id == heat:
                return info.heat_no
        raise KeyError(heat)
