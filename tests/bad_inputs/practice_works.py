"""A practice works of our own invention, built by the program's own commands, and imports into a copy of it.

One caster of one strand, 160 mm square, 28 m from meniscus to torch, always at 2 m/min; ladles of 20 t. Cast K7 pours
heat 41877, then 41878 of the same grade. The strand draws from 07:32, so the clamp at 07:32 + n min cuts at 2n - 28 m.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.conftest import Ran, Run
from tests.melt_shop import MeltShop

CLERK, METALLURGIST = "L. Clerk", "M. Furnace"
GRADE = "EN 10025-2:2004 S355J2"
DAY = "2024-04-12"

ORDERS = f"""order_no,line,ordered_at,customer,grade,form,section,thickness_mm,length_m,mass_t,document
4711,1,2024-02-10,Harrow Forge,{GRADE},bar,160 x 160,28,11.0,520,3.1
"""
HEATS = f"""heat_no,grade,ladle_no,tapped_at,tapped_mass_t,order_no,line
41877,{GRADE},3,{DAY}T06:50:00+02:00,20.2,4711,1
41878,{GRADE},7,{DAY}T07:40:00+02:00,19.6,4711,1
41950,EN 10083-2:2006 C45E,2,{DAY}T08:20:00+02:00,20.0,,
004187,{GRADE},5,{DAY}T05:40:00+02:00,20.1,,
"""


def at(clock: str, day: str = DAY) -> str:
    """A moment of the works' day, `08:10` or `08:10:30`, with its offset."""
    return f"{day}T{clock if clock.count(':') == 2 else f'{clock}:00'}+02:00"


def clamp(n: int) -> str:
    """When the torch clamps for the n-th 12 m piece of K7: its end lies at 1 + 12 n metres."""
    seconds = (32 * 60) + round((29 + 12 * n) / 2 * 60)
    return at(f"{7 + seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}")


CAST: Mapping[str, Sequence[str]] = {
    "heats": [
        "heat_no,grade,tapped_at,tapped_mass_t,order_no,line",
        f"41877,{GRADE},{at('06:50')},20.2,4711,1",
        f"41878,{GRADE},{at('07:40')},19.6,4711,1",
    ],
    "sequences": ["sequence_no,caster,recorded_until", f"K7,north,{at('09:10')}"],
    "tundishes": ["sequence_no,tundish,mass_at_start_t,working_mass_t", "K7,T1,0,4.0"],
    "pours": [
        "sequence_no,heat_no,tundish,opened_at,closed_at",
        f"K7,41877,T1,{at('07:30')},{at('08:10')}",
        f"K7,41878,T1,{at('08:11')},{at('08:50')}",
    ],
    "strands": [
        "sequence_no,strand_no,run_no,form,thickness_mm,width_mm,machine_length_m,started_at,stopped_at,kerf_mm",
        f"K7,1,1,billet,160,160,28,{at('07:32')},{at('09:08')},10",
    ],
    "feeds": ["sequence_no,strand_no,run_no,tundish,from_at,to_at", f"K7,1,1,T1,{at('07:32')},{at('08:52')}"],
    "speeds": [
        "sequence_no,strand_no,run_no,from_at,speed_m_min",
        f"K7,1,1,{at('07:32')},2.00",
        f"K7,1,1,{at('09:08')},0",
    ],
    "cuts": [
        "sequence_no,strand_no,run_no,cut_no,kind,piece_no,clamped_at",
        f"K7,1,1,1,head-crop,,{clamp(0)}",
        *(f"K7,1,1,{n + 1},piece,K7-{n:02d},{clamp(n)}" for n in range(1, 14)),
        "K7,1,1,15,tail-crop,,",
    ],
}


def wide_row(
    heat: str = "41878", sample: str = "41878-T1", *, kind: str = "tundish-steady", taken: str = "09:10",
    analysed: str = "09:22", day: str = DAY, c: str = "0.182", si: str = "0.24", mn: str = "1.44", p: str = "0.012",
    s: str = "0.008", n: str = "0.0058", al: str = "0.031",
) -> str:  # fmt: skip
    """One row of a `lab-wide` file that says all its grade asks for."""
    moments = f"{at(taken, day) if taken else ''},{at(analysed, day)}"
    contents = f"{c},{si},{mn},{p},{s},0.05,0.01,0.04,0.09,0.002,{al},{n}"
    return f"{heat},{sample},{kind},{moments},spark-emission,S1,{contents}"


WIDE = "heat_no,sample_id,sample_kind,taken_at,analysed_at,method,instrument,C,Si,Mn,P,S,Cr,Mo,Ni,Cu,V,Al,N"

# A source that writes semicolons, decimal commas, nitrogen in ppm and local times without an offset.
SPARK_NORTH = """
name = "spark-north"
takes = "analyses"
[file]
type = "csv"
encoding = "utf-8"
delimiter = ";"
decimal = ","
[time]
zone = "Europe/Vienna"
format = "%d.%m.%Y %H:%M"
clock = "lab-north"
[columns]
"Charge" = "heat_no"
"Probe" = "sample_id"
"Art" = "sample_kind"
"Zeit" = "analysed_at"
[values.sample_kind]
"TV" = "tundish-steady"
"PR" = "check"
[elements]
"C" = { element = "C", unit = "%" }
"Mn" = { element = "Mn", unit = "%" }
"N" = { element = "N", unit = "ppm" }
[constants]
method = "spark-emission"
instrument = "S2"
[tokens]
not_reported = ["", "-", "n.d."]
over_range = ["OVER"]
[ignore]
columns = ["Bemerkung"]
"""
SPARK = "Charge;Probe;Art;Zeit;C;Mn;N;Bemerkung"


def spark_row(
    heat: str = "41878", sample: str = "N1", time: str = "12.04.2024 09:22", c: str = "0,182", n: str = "58",
    kind: str = "TV",
) -> str:  # fmt: skip
    """One row of a `spark-north` file."""
    return f"{heat};{sample};{kind};{time};{c};1,44;{n};"


@dataclass(frozen=True)
class State:
    """What the record holds: rows of every table, and where its chain of entries ends."""

    tables: dict[str, int]
    entries: int
    tip: str


class PracticeWorks(MeltShop):
    """A copy of the practice works for one story; imports are the clerk's."""

    def state(self) -> State:
        """Rows of every table and the tip of the ledger, as the program itself tells them."""
        chain = self.run("ledger", "verify", "--json").data
        return State(self.run("db", "info", "--json").data["tables"], chain["entries"], chain["tip"])

    def bring(self, name: str, text: str | bytes, profile: str, *more: str) -> Ran:
        """Write a file and import it as the clerk, with `--json`."""
        return self.run("import", self.write(name, text), "--profile", profile, "--by", CLERK, "--json", *more)

    def bring_wide(self, *rows: str, name: str = "lab.csv") -> Ran:
        """Import rows of a `lab-wide` file."""
        return self.bring(name, lines(WIDE, *rows), "lab-wide")

    def bring_spark(self, *rows: str, name: str = "spark.csv") -> Ran:
        """Import rows of a `spark-north` file; the profile is added first."""
        if not any(p["name"] == "spark-north" for p in self.run("profile", "list", "--json").data["profiles"]):
            self.add_profile(SPARK_NORTH)
        return self.bring(name, lines(SPARK, *rows), "spark-north")

    def bring_cast(self, name: str = "K7", **changed: Sequence[str]) -> Ran:
        """Import the cast book of K7, some of its sheets changed."""
        folder = self.write_cast(name, **changed)
        return self.run("import", folder, "--profile", "cast-book", "--by", CLERK, "--json")

    def write_cast(self, name: str = "K7", **changed: Sequence[str]) -> Path:
        """Write the cast book of K7 as a folder, some of its sheets changed."""
        for sheet, rows in {**CAST, **changed}.items():
            self.write(f"{name}/{sheet}.csv", lines(*rows))
        return self.folder / name

    def reported(self, sample: str) -> dict[str, str | None]:
        """What the newest analysis of a sample reports."""
        (found,) = self.run("sample", "show", sample, "--json").data["samples"]
        return {r["element"]: r["reported"] for r in found["analyses"][-1]["results"]}

    def bench_bytes(self, number: str) -> bytes:
        """The original bytes of a row on the bench, as the program shows them."""
        return bytes.fromhex(self.run("bench", "show", number, "--json").data["bench"]["raw_hex"])


def lines(*rows: str) -> str:
    """Rows as the text of a file."""
    return "\n".join(rows) + "\n"


def build(folder: Path, run: Run) -> Path:
    """Make the practice works by the commands a person would type; gives the database."""
    works = PracticeWorks(str(folder / "works.db"), folder / "files", run)
    made = works.run("db", "init", "--practice", "--by", "Q. Manager")
    assert made.status == 0, made.err
    for name, text in (("orders", ORDERS), ("heats", HEATS)):
        taken = works.bring(f"{name}.csv", text, name)
        assert taken.status == 0, taken.out
    cast = works.bring_cast()
    assert cast.status == 0, cast.out
    return folder / "works.db"
