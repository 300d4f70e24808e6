"""Measure every row of the speed goals, each interleaved with its yardstick, and print the table.

    python -m tests.bench.run [--quick] [--only start-up|import]

Only ratios within one run carry over to another machine.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from tests.bench.importing import database_row, file_rows, workbook_row
from tests.bench.start_up import start_up_rows


def main() -> int:
    """Run the rows asked for; status 1 where a goal is missed."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--quick", action="store_true", help="a tenth of the size, fewer runs")
    words.add_argument("--only", choices=["start-up", "import"])
    asked = words.parse_args()
    many, few = (7, 1) if asked.quick else (15, 3)
    size = 100_000 if asked.quick else 1_000_000
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if asked.only in (None, "start-up"):
            rows += start_up_rows(folder, many)
        if asked.only in (None, "import"):
            rows.append(database_row(folder, size, few))
            rows += file_rows(folder, size, few)
            rows.append(workbook_row(folder, size // 10, few))
    for row in rows:
        print(row.line())
    return 0 if all(row.met for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
