"""Example outputs in `reports/`, made from the demo works.

    python -m tests.example_reports

renews them; `tests/test_docs.py` compares them with what the program says now.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from tests.readme_blocks import answer, demo_works, shape

FOLDER = Path(__file__).resolve().parent.parent / "reports"

# File -> the command line whose answer it holds.
REPORTS = {
    "trace-piece.txt": "heattrace trace L119C017",
    "trace-piece.json": "heattrace trace L119C017 --json",
    "trace-transition.txt": "heattrace trace L119B028",
    "trace-heat.txt": "heattrace trace 25R048",
    "why-heat-amended.txt": "heattrace why 25R053",
    "judge-heat.txt": "heattrace judge 25R043",
    "sequence-show.txt": "heattrace sequence show N052",
    "sequence-balance.txt": "heattrace sequence balance L118",
    "heat-show.txt": "heattrace heat show 25R048",
    "holds.txt": "heattrace holds",
    "formulas.txt": "heattrace calc list",
}


def made() -> Iterator[tuple[str, str]]:
    """Each file's name and its text as the program says it now."""
    with demo_works():
        for name, line in REPORTS.items():
            yield name, f"$ {line}\n{answer(line)}\n" if name.endswith(".txt") else answer(line) + "\n"


def differing() -> list[str]:
    """Names of files that no longer hold what the program says."""
    return [
        name
        for name, text in made()
        if not (FOLDER / name).is_file() or shape((FOLDER / name).read_text(encoding="utf-8")) != shape(text)
    ]


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, text in made():
        (FOLDER / name).write_text(text, encoding="utf-8")
