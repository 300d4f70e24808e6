"""Start-up rows: whole processes against `python -c pass` and against importing sqlmodel."""

from __future__ import annotations

import sys
from pathlib import Path

from heattrace.cli.app import main
from heattrace.store.engine import open_reader
from tests.bench.rows import PASS, BenchRow, process_row

OURS = (sys.executable, "-m", "heattrace")


def demo_database(folder: Path) -> Path:
    """The demo works' database, built once for all rows."""
    path = folder / "works" / "heattrace.db"
    if not path.exists():
        main(["demo", str(folder / "works")])
    return path


def start_up_rows(folder: Path, runs: int) -> list[BenchRow]:
    """trace, help of every kind, and a command that writes."""
    db = demo_database(folder)
    with open_reader(str(db)) as reader:
        piece = reader.scalar(
            "SELECT p.piece_no FROM part p JOIN placement q ON q.part_id = p.part_id "
            "WHERE p.kind = 'piece' AND q.cast_class = 'transition' AND {live:p} AND {live:q} ORDER BY p.piece_no"
        )
    unit = "x python -c pass"
    zones = iter(range(1, 10_000))
    rows = [
        process_row("trace PIECE, whole process", [*OURS, "trace", piece, "--db", str(db)], PASS, 8, unit, runs),
        process_row("trace PIECE --json", [*OURS, "trace", piece, "--db", str(db), "--json"], PASS, 8, unit, runs),
        process_row("--help", [*OURS, "--help"], PASS, 13, unit, runs),
        process_row("import --help", [*OURS, "import", "--help"], PASS, 13, unit, runs),
        process_row("sequence balance --help", [*OURS, "sequence", "balance", "--help"], PASS, 13, unit, runs),
    ]
    from tests.bench.rows import paired_ratio, process_seconds

    def write() -> float:
        value = f"{1 - next(zones) / 100_000:.5f}"
        return process_seconds(
            [*OURS, "works", "set", "pure-min", value, "--reason", "bench", "--by", "bench", "--db", str(db)]
        )

    sqlmodel = (sys.executable, "-c", "import sqlmodel")
    ratio, ours, theirs = paired_ratio(write, lambda: process_seconds(sqlmodel), runs)
    detail = f"{ours * 1e3:.0f} ms against {theirs * 1e3:.0f} ms"
    rows.append(BenchRow("a command that writes (works set)", ratio, 1.8, "x import sqlmodel", detail))
    return rows
