"""A counted run of its own: kill -9 at random moments of a 200,000-row import; afterwards the record is whole.

    python -m tests.faults.kill_import [--kills 20] [--seed 7] [--rows 200000]

After each kill the file is opened as any reader would, checked (integrity, references, ledger, no row of the killed
import in any table), and the same file is imported again, which has to start afresh and succeed. Ends with 1 where
anything did not hold. `log bytes` shows how much of the import was on the disk when it was killed.
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from heattrace.intake.first_entry import make_database
from heattrace.store.citations import columns_of
from heattrace.store.engine import open_reader
from heattrace.store.ledger import verify_chain

ELEMENTS = (
    "C", "Si", "Mn", "P", "S", "Cr", "Mo", "Ni", "Al", "Cu", "Nb", "V", "Ti", "Sn", "As", "Sb", "Co", "W", "Zr", "Pb",
)  # fmt: skip
HEATS = 200
BY = "K. Run"


@dataclass(frozen=True)
class Outcome:
    """One kill and what was found afterwards."""

    at_s: float
    log_bytes: int
    finished: bool
    integrity: str
    chain_whole: bool
    partial_rows: int
    again: str

    @property
    def held(self) -> bool:
        """Whether everything is as it has to be."""
        whole = self.integrity == "ok" and self.chain_whole and self.partial_rows == 0
        return whole and self.again == ("same" if self.finished else "taken")


def write_files(folder: Path, rows: int) -> tuple[Path, Path]:
    """A file of heats, and one of results with so many rows."""
    heats, results = folder / "heats.csv", folder / "results.csv"
    lines = [f"K{10000 + n},EN 10083-2:2006 C45E,2024-04-12T06:{n % 60:02d}:00+02:00" for n in range(HEATS)]
    heats.write_text("\n".join(["heat_no,grade,tapped_at", *lines]) + "\n")
    with results.open("w", encoding="ascii") as out:
        out.write("heat_no,sample_id,sample_kind,taken_at,analysed_at,method,instrument,element,value,unit\n")
        for number in range(rows // len(ELEMENTS)):
            heat, at = f"K{10000 + number % HEATS}", f"2024-04-{13 + number % 9}T09:{number % 60:02d}"
            about = f"{heat},{heat}-S{number},mould,{at}:00+02:00,{at}:30+02:00,spark-emission,S1"
            for place, element in enumerate(ELEMENTS):
                out.write(f"{about},{element},0.0{(number * 13 + place) % 90 + 10},%\n")
    return heats, results


def start(db: Path, file: Path, profile: str) -> subprocess.Popen[bytes]:
    """An import as a process of its own."""
    words = [sys.executable, "-m", "heattrace", "import", str(file), "--profile", profile, "--by", BY, "--db", str(db)]
    return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def counts(db: Path) -> dict[str, int]:
    """Rows of every table."""
    with open_reader(str(db)) as reader:
        return {table: int(reader.scalar(f"SELECT count(*) FROM {table}")) for table in columns_of()}


def kill_once(pristine: Path, file: Path, after_s: float, folder: Path) -> Outcome:
    """Start the import on a copy, kill it, look at the file, import again."""
    db = folder / "works.db"
    for left in (db, Path(f"{db}-wal"), Path(f"{db}-shm")):
        left.unlink(missing_ok=True)
    shutil.copy(pristine, db)
    before = counts(db)
    begun = time.perf_counter()
    program = start(db, file, "lab-long")
    time.sleep(max(after_s - (time.perf_counter() - begun), 0))
    finished = program.poll() is not None
    program.kill()  # SIGKILL; nothing where it has just ended
    program.wait()
    at_s = time.perf_counter() - begun
    log = Path(f"{db}-wal")
    log_bytes = log.stat().st_size if log.exists() else 0
    with open_reader(str(db)) as reader:
        integrity = str(reader.scalar("PRAGMA integrity_check"))
        chain_whole = verify_chain(reader).broken_at is None
        broken = len(reader.all("PRAGMA foreign_key_check"))
    after = counts(db)
    # It may have been killed between the commit and its end: then all of it is there.
    finished = finished or after["batch"] > before["batch"]
    partial = 0 if finished else sum(after[table] - before[table] for table in after)
    from heattrace.intake.batches.import_file import import_file

    again = import_file(str(db), file, "lab-long", by=BY).state
    return Outcome(
        at_s, log_bytes, finished, integrity if not broken else f"{broken} broken", chain_whole, partial, again
    )


def main() -> int:
    """Run the kills and print the table."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--kills", type=int, default=20)
    options.add_argument("--seed", type=int, default=7)
    options.add_argument("--rows", type=int, default=200_000)
    asked = options.parse_args()
    rng = random.Random(asked.seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pristine = folder / "pristine.db"
        make_database(str(pristine), by=BY, practice=True)
        heats, results = write_files(folder, asked.rows)
        assert start(pristine, heats, "heats").wait() == 0
        whole = folder / "whole.db"
        shutil.copy(pristine, whole)
        begun = time.perf_counter()
        assert start(whole, results, "lab-long").wait() == 0
        span = time.perf_counter() - begun
        print(f"{asked.rows} rows, {span:.2f} s for the whole import as a process; seed {asked.seed}")
        print(" kill   at s   log bytes  committed  integrity  ledger  partial rows  again")
        held = []
        for number in range(1, asked.kills + 1):
            # Pages go to the disk at the commit, the last twentieth of the run: every second kill falls near it. The
            # first tenth of a second is Python starting.
            moment = rng.uniform(0.1, span) if number % 2 else rng.uniform(0.75 * span, 0.98 * span)
            found = kill_once(pristine, results, moment, folder)
            held.append(found)
            print(
                f"{number:5d}  {found.at_s:5.2f}  {found.log_bytes:10d}  {'yes' if found.finished else 'no':9s}  "
                f"{found.integrity:9s}  {'whole' if found.chain_whole else 'BROKEN':6s}  {found.partial_rows:12d}  "
                f"{found.again}"
            )
        good = sum(outcome.held for outcome in held)
        killed = sum(not outcome.finished for outcome in held)
        print(f"{good} of {len(held)} held; {killed} were killed before their commit")
        return 0 if good == len(held) else 1


if __name__ == "__main__":
    sys.exit(main())
