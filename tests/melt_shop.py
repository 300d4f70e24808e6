"""A small works to import into: the shipped grade book, one order, three heats, and files written by a few words.

Times are of April 2024, so that no computer's clock stands before them.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from heattrace.intake.loading.load_grade_book import load_shipped_grade_book
from heattrace.store.citations import columns_of, fact_tables, lender_of
from heattrace.store.engine import open_reader
from heattrace.store.migrate import create
from heattrace.store.work import begin_work
from tests.conftest import Ran, Run

BY = "T. Test"

ORDERS = """order_no,line,ordered_at,customer,grade,form,section,thickness_mm,length_m,mass_t,document
4711,1,2024-02-10,Harrow Forge,EN 10025-2:2004 S355J2,bar,160 x 160,28,11.0,520,3.1
"""
HEATS = """heat_no,grade,ladle_no,tapped_at,tapped_mass_t,order_no,line
41877,EN 10025-2:2004 S355J2,3,2024-04-12T06:50:00+02:00,110.2,4711,1
41878,EN 10025-2:2004 S355J2,7,2024-04-12T07:40:00+02:00,109.6,4711,1
41950,EN 10083-2:2006 C45E,2,2024-04-20T07:40:00+02:00,110.0,,
"""
WIDE = "heat_no,sample_id,sample_kind,taken_at,analysed_at,method,instrument,C,Si,Mn,P,S,N"
# The profile of the example of a laboratory with a decimal comma, with its burns and means.
SPARK_EAST = """
name = "spark-east"
takes = "analyses"
[file]
type = "csv"
encoding = "utf-8"
delimiter = ";"
decimal = ","
[time]
zone = "Europe/Vienna"
format = "%d.%m.%Y %H:%M"
clock = "lab-east"
[columns]
"Charge" = "heat_no"
"Probe" = "sample_id"
"Art" = "sample_kind"
"Zeit" = "analysed_at"
[values.sample_kind]
"TV" = "tundish-steady"
"KP" = "control"
[rows]
column = "Zeile"
burn = ["1", "2"]
mean = ["MW"]
skip = ["SD"]
[elements]
"C" = { element = "C", unit = "%" }
"Mn" = { element = "Mn", unit = "%" }
"N" = { element = "N", unit = "ppm" }
"Al" = { element = "Al", form = "total", unit = "%" }
[constants]
method = "spark-emission"
instrument = "S2"
[tokens]
not_reported = ["", "-", "n.d."]
over_range = ["OVER"]
[ignore]
columns = ["Bemerkung"]
"""


def wide_row(
    heat: str = "41878", sample: str = "41878-T1", *, kind: str = "tundish-steady", taken: str = "09:10",
    analysed: str = "09:22", day: str = "2024-04-12", c: str = "0.182", n: str = "0.0058", mn: str = "1.44",
) -> str:  # fmt: skip
    """One row of a `lab-wide` file."""
    return (
        f"{heat},{sample},{kind},{day}T{taken}:00+02:00,{day}T{analysed}:00+02:00,spark-emission,S1,{c},0.24,{mn},"
        f"0.012,0.008,{n}"
    )


class MeltShop:
    """A database of this test's own, and a way to import texts into it."""

    def __init__(self, db: str, folder: Path, run: Run) -> None:
        self.db, self.folder, self._run = db, folder, run

    def run(self, *words: str | Path) -> Ran:
        """Run one command line against the database."""
        return self._run(*words, "--db", self.db)

    def write(self, name: str, text: str | bytes) -> Path:
        """Write a file beside the database."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
        return path

    def import_text(self, name: str, text: str | bytes, profile: str, *more: str) -> Ran:
        """Write a file and import it with `--json`."""
        path = self.write(name, text)
        return self.run("import", path, "--profile", profile, "--by", BY, "--json", *more)

    def import_wide(self, *rows: str, name: str = "lab.csv", more: Sequence[str] = ()) -> Ran:
        """Import rows of a `lab-wide` file."""
        return self.import_text(name, "\n".join([WIDE, *rows]) + "\n", "lab-wide", *more)

    def add_profile(self, text: str = SPARK_EAST) -> None:
        """Add a profile of the works."""
        done = self.run("profile", "add", self.write("own.toml", text), "--by", BY)
        assert done.status == 0, done.err

    def scalar(self, sql: str, **values: object) -> object:
        """One value from the database."""
        with open_reader(self.db) as reader:
            return reader.scalar(sql, **values)

    def rows(self, sql: str, **values: object) -> list[tuple[object, ...]]:
        """Rows from the database."""
        with open_reader(self.db) as reader:
            return [tuple(row) for row in reader.all(sql, **values)]

    def live_counts(self) -> dict[str, int]:
        """Rows that stand, of every table; of results, burns, shares and the like by the row they hang on."""
        with open_reader(self.db) as reader:
            counts = {
                table: int(reader.scalar(f"SELECT count(*) FROM {table} x WHERE {{live:x}}")) for table in fact_tables()
            }
            for table, lender in lender_of().items():
                sql = (
                    f"SELECT count(*) FROM {table} x JOIN {lender.to} y ON y.{lender.key} = x.{lender.column} "
                    "WHERE {live:y}"
                )
                counts[table] = int(reader.scalar(sql))
            return counts

    def all_counts(self) -> dict[str, int]:
        """All rows of every table, ended ones too."""
        with open_reader(self.db) as reader:
            return {table: int(reader.scalar(f"SELECT count(*) FROM {table}")) for table in columns_of()}


@pytest.fixture(scope="session")
def melt_shop_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A practice database with the shipped grade book, an order and three heats, made once."""
    from heattrace.intake.batches.import_file import import_file

    folder = tmp_path_factory.mktemp("melt-shop")
    path = folder / "works.db"
    create(str(path), practice=True)
    with begin_work(str(path), by=BY, action="db init", subject="works.db") as work:
        load_shipped_grade_book(work)
        work.commit()
    for name, text in (("orders", ORDERS), ("heats", HEATS)):
        file = folder / f"{name}.csv"
        file.write_text(text)
        assert import_file(str(path), file, name, by=BY).state == "taken"
    return path


@pytest.fixture
def melt_shop(melt_shop_file: Path, tmp_path: Path, run: Run) -> Iterator[MeltShop]:
    """A melt shop of this test's own."""
    path = tmp_path / "works.db"
    shutil.copy(melt_shop_file, path)
    yield MeltShop(str(path), tmp_path / "files", run)


Import = Callable[..., Ran]
