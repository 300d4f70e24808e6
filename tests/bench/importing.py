"""Import rows: results into the database against a raw executemany, and a validated file against a bare csv.reader."""

from __future__ import annotations

import csv
import json
import random
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from heattrace.intake.first_entry import make_database
from heattrace.metallurgy.elements import ELEMENTS, PLAUSIBLE_PCT
from heattrace.store.work import begin_work
from tests.bench.rows import BenchRow, environment, paired_ratio

ELEMENTS_PER_ANALYSIS = 20
RESULT_COLUMNS = ("analysis_id", "element_id", "value_ppb", "form_id")


def make_heats(db: str, count: int) -> None:
    """Heats for the analyses to belong to."""
    with begin_work(db, by="bench", action="heats", subject="bench") as work:
        first = work.next_key("heat", "heat_id")
        work.bulk_insert(
            "heat",
            ("heat_id", "heat_no", "series", "written_no", "entry_no"),
            [(first + n, f"7{n:05d}", "2026", f"7{n:05d}", work.entry_no) for n in range(count)],
        )
        work.commit()


def write_long_file(path: Path, rows: int, heats: int, seed: int = 7) -> None:
    """A `lab-long` file: one row a result, as a laboratory would export it."""
    chance = random.Random(seed)
    # Inside the plausible band of each element and of a steel, so that no row is set aside.
    tops = {e: min(float(PLAUSIBLE_PCT[e][1]), 1.0) for e in ELEMENTS[:ELEMENTS_PER_ANALYSIS]}
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file)
        out.writerow(
            ["heat_no", "sample_id", "sample_kind", "analysed_at", "method", "instrument", "element", "value", "unit"]
        )
        for n in range(rows // ELEMENTS_PER_ANALYSIS):
            heat = f"7{n % heats:05d}"
            hour, minute = divmod(n % 1440, 60)
            moment = f"2025-{1 + n // 1440 % 12:02d}-{1 + n // 17280 % 28:02d}T{hour:02d}:{minute:02d}:00+00:00"
            for element in ELEMENTS[:ELEMENTS_PER_ANALYSIS]:
                out.writerow(
                    [heat, f"{heat}-{n}", "tundish-steady", moment, "spark-emission", "S2", element,
                     f"{chance.uniform(0.2, 0.8) * tops[element]:.5f}", "%"]
                )  # fmt: skip


def database_row(folder: Path, results: int, runs: int) -> BenchRow:
    """Results with keys, checks, guards and one ledger entry, against the same tuples by executemany alone."""
    analyses = results // ELEMENTS_PER_ANALYSIS
    tuples = [
        (a, e, 1_820_000 + 37 * e + a % 1000, 1)
        for a in range(1, analyses + 1)
        for e in range(1, ELEMENTS_PER_ANALYSIS + 1)
    ]
    numbers: Iterator[int] = iter(range(1, 10_000))

    def raw() -> float:
        connection = sqlite3.connect(folder / f"raw-{next(numbers)}.db", isolation_level=None)
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute(
            "CREATE TABLE result (analysis_id INTEGER, element_id INTEGER, value_ppb INTEGER, form_id INTEGER, "
            "PRIMARY KEY (analysis_id, element_id)) WITHOUT ROWID, STRICT"
        )
        begun = time.perf_counter()
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany("INSERT INTO result VALUES (?, ?, ?, ?)", tuples)
        connection.execute("COMMIT")
        elapsed = time.perf_counter() - begun
        connection.close()
        return elapsed

    def ours() -> float:
        db = str(folder / f"ours-{next(numbers)}.db")
        make_database(db, by="bench", practice=True)
        make_heats(db, 1)
        begun = time.perf_counter()
        with begin_work(db, by="bench", action="import", subject="bench") as work:
            entry, heat = work.entry_no, work.reader.scalar("SELECT max(heat_id) FROM heat")
            work.bulk_insert(
                "result_form",
                ("form_id", "qualifier", "unit", "places", "method", "places_lost"),
                [(1, "=", "%", 4, "", 0)],
            )
            work.bulk_insert(
                "sample",
                ("sample_key", "sample_id", "written_id", "heat_id", "kind", "entry_no"),
                ((a, f"S{a}", f"S{a}", heat, "tundish-steady", entry) for a in range(1, analyses + 1)),
            )
            work.bulk_insert(
                "analysis",
                ("analysis_id", "sample_key", "profile", "method", "instrument", "analysed_at", "state", "entry_no"),
                ((a, a, "lab-long", "spark-emission", "S2", a, "valid", entry) for a in range(1, analyses + 1)),
            )
            work.bulk_insert("result", RESULT_COLUMNS, tuples)
            work.commit()
        return time.perf_counter() - begun

    ratio, mine, theirs = paired_ratio(ours, raw, runs, warm_up=1)
    detail = f"{results / mine / 1e3:.0f} k results/s against {results / theirs / 1e3:.0f} k"
    return BenchRow("results into the database, one ledger entry", ratio, 2.5, "x raw executemany", detail)


_CHILD = """
import json, sys, time
from heattrace.cli.app import main
import heattrace.intake.batches.import_file
def peak_kib():
    return next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("VmHWM"))
start = peak_kib()
begun = time.perf_counter()
status = main(["import", sys.argv[1], "--profile", "lab-long", "--by", "bench", "--db", sys.argv[2], "--json"])
elapsed = time.perf_counter() - begun
peak = peak_kib()
sys.stderr.write(json.dumps({"status": status, "s": elapsed, "mib": (peak - start) / 1024}))
"""


def file_rows(folder: Path, rows: int, runs: int) -> list[BenchRow]:
    """A validated `lab-long` file into the database, against one bare csv.reader pass over it; and peak memory."""
    heats = 2000
    path = folder / "long.csv"
    write_long_file(path, rows, heats)
    numbers = iter(range(1, 10_000))
    memory: list[float] = []

    def ours() -> float:
        db = str(folder / f"file-{next(numbers)}.db")
        make_database(db, by="bench", practice=True)
        make_heats(db, heats)
        ran = subprocess.run(
            [sys.executable, "-c", _CHILD, str(path), db],
            capture_output=True,
            text=True,
            check=False,
            env=environment(),
        )
        told = json.loads(ran.stderr.strip().splitlines()[-1])
        if told["status"] != 0:
            raise RuntimeError(ran.stdout[-500:] + ran.stderr[-500:])
        memory.append(told["mib"])
        return float(told["s"])

    def bare() -> float:
        begun = time.perf_counter()
        with path.open(newline="", encoding="utf-8") as file:
            for _ in csv.reader(file):
                pass
        return time.perf_counter() - begun

    ratio, mine, theirs = paired_ratio(ours, bare, runs, warm_up=0)
    detail = f"{rows / mine / 1e3:.0f} k rows/s against {rows / theirs / 1e3:.0f} k"
    return [
        BenchRow(f"{rows:,}-row CSV, validated, into the database", ratio, 7, "x bare csv.reader", detail),
        BenchRow("  its peak memory above start", max(memory), 64, "MiB"),
    ]


def workbook_row(folder: Path, rows: int, runs: int) -> BenchRow:
    """Values of a workbook read as intake reads them, against openpyxl's read-only mode."""
    from openpyxl import Workbook, load_workbook
    from python_calamine import CalamineWorkbook

    path = folder / "book.xlsx"
    book = Workbook(write_only=True)
    sheet = book.create_sheet("results")
    for n in range(rows):
        sheet.append([f"7{n:05d}", *(f"0.{n % 997:03d}" for _ in range(9))])
    book.save(path)

    def ours() -> float:
        begun = time.perf_counter()
        CalamineWorkbook.from_path(str(path)).get_sheet_by_index(0).to_python()
        return time.perf_counter() - begun

    def theirs() -> float:
        begun = time.perf_counter()
        for _ in load_workbook(path, read_only=True).active.iter_rows(values_only=True):
            pass
        return time.perf_counter() - begun

    ratio, mine, other = paired_ratio(ours, theirs, runs, warm_up=0)
    detail = f"{mine:.2f} s against {other:.2f} s"
    return BenchRow(f"{rows:,}-row workbook, values", ratio, 0.25, "x openpyxl read-only", detail)
