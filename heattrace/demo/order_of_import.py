"""Which practice file is taken in when and with which profile, and the numbers the walk-through speaks of.

The numbers hold for the files as shipped; a test finds each of them in those files again.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

# The works' own profiles; the others are shipped with the tool.
OWN_PROFILES = ("profiles/spark-south.toml", "profiles/gas-ppm.toml")


@dataclass(frozen=True, slots=True)
class Step:
    """One import: a file or folder below the practice folder, its profile, and what it is for."""

    path: str
    profile: str
    says: str


# Orders before heats, since the heats name their order lines; pieces before what was cut from them.
STEPS: tuple[Step, ...] = (
    Step("orders.csv", "orders", "three customers, five order lines"),
    Step("heats.csv", "heats", "fourteen heats, as the melt shop announced them"),
    Step("lab/ladle-station.csv", "lab-wide", "ladle samples; one heat number mistyped"),
    Step("lab/spark-south.csv", "spark-south", "tundish samples: semicolons, decimal commas, burns, means, controls"),
    Step("lab/combustion.csv", "lab-long", "carbon and sulphur by combustion; one carbon disagrees with the spark"),
    Step("lab/gas.csv", "gas-ppm", "nitrogen and oxygen in ppm; one heat number mistyped"),
    Step("casts/L118", "cast-book", "billets, one grade, a tundish exchange, one strand stopped and restarted"),
    Step("casts/L119", "cast-book", "blooms, a change of grade, a level swing"),
    Step("casts/N052.xlsx", "cast-book", "slabs on the second machine, one of two strands lost"),
    Step("temperatures.csv", "temperatures", "temperatures of cast L118"),
    Step("events.csv", "events", "an event of cast L118 that was reported later"),
    Step("lab/pieces.csv", "lab-wide", "samples cut from pieces"),
)

# One file is one load. They come after the release of `STORY.dispatched_heats`.
DISPATCHES: tuple[Step, ...] = (
    Step("dispatch/LN-3041.csv", "dispatch", "billets to Harrowick"),
    Step("dispatch/LN-3044.csv", "dispatch", "blooms to Sennetby, the complaint's piece among them"),
    Step("dispatch/LN-3052.csv", "dispatch", "slabs to Ollerfield"),
)

# The nitrogen of a heat whose slabs have left, reported anew.
LATE: tuple[Step, ...] = (Step("lab/gas-amended.csv", "gas-ppm", "an amended nitrogen, weeks late"),)


@dataclass(frozen=True, slots=True)
class Story:
    """The numbers of the walk-through."""

    off_grade_heat: str = "25R043"
    off_grade_element: str = "Mn"
    good_heat: str = "25R048"
    disputed_carbon_heat: str = "25R045"
    disputed_carbon_sample: str = "25R045-TS1"
    amended_heat: str = "25R053"
    amended_sample: str = "25R053-TS1"
    amended_report: str = "G25-413"
    mistyped: tuple[tuple[str, str], ...] = (("25R024", "25R042"), ("25RO50", "25R050"))
    exchange_sequence: str = "L118"
    exchange_heat: str = "25R044"
    stopped_strand: tuple[str, int] = ("L118", 4)
    unknown_speed_strand: tuple[str, int] = ("L118", 5)
    bounded_speed_strand: tuple[str, int] = ("L119", 4)
    grade_change_sequence: str = "L119"
    grade_change_heats: tuple[str, str] = ("25R049", "25R050")
    transition_piece: str = "L119B028"
    transition_requirement: str = "EN 10083-2:2006 C45E"
    level_swing_strand: tuple[str, int] = ("L119", 3)
    level_swing_pieces: tuple[str, ...] = ("L119C015",)
    lost_strand: tuple[str, int] = ("N052", 2)
    lost_strand_heat: str = "25R053"
    burns_without_mean: str = "25R046-TL1"
    dispatched_heats: tuple[str, ...] = ("25R041", "25R048", "25R053")
    complaint_as_read: str = "L119CO17"
    complaint_piece: str = "L119C017"
    complaint_customer: str = "Sennetby Forge"


STORY = Story()


def source_folder() -> Path:
    """The folder of the practice files: inside the installed package, else `demo_db` of the checkout."""
    carried = Path(__file__).parent / "files"
    return carried if carried.is_dir() else Path(__file__).parents[2] / "demo_db"
