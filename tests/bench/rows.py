"""What a benchmark row is, and how two commands are timed in turn so that a drifting machine cancels out."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class BenchRow:
    """One measured row: the ratio (or number), its goal, and whether less is better."""

    what: str
    measured: float
    goal: float
    unit: str
    detail: str = ""
    more_is_better: bool = False

    @property
    def met(self) -> bool:
        """Whether the goal was reached in this run."""
        return self.measured >= self.goal if self.more_is_better else self.measured <= self.goal

    def line(self) -> str:
        """The row as printed."""
        sign = ">=" if self.more_is_better else "<="
        word = "met" if self.met else "MISSED"
        return f"{self.what:<58} {self.measured:>10.2f} {sign} {self.goal:<8g} {self.unit:<22} {word:<7} {self.detail}"


def environment() -> dict[str, str]:
    """The environment of timed processes: an installed program has its compiled files, so they may be written."""
    return {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}


def process_seconds(command: Sequence[str]) -> float:
    """Wall time of one whole process; its output is thrown away.

    Raises
    ------
    RuntimeError
        It ended with a status a command never gives.
    """
    begun = time.perf_counter()
    ran = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False, env=environment())
    elapsed = time.perf_counter() - begun
    if ran.returncode not in (0, 3):
        raise RuntimeError(f"{' '.join(command)} ended with {ran.returncode}: {ran.stderr.decode()[-400:]}")
    return elapsed


def paired_ratio(
    one: Callable[[], float], other: Callable[[], float], runs: int, warm_up: int = 2
) -> tuple[float, float, float]:
    """Median of the ratios one/other over pairs run in turn, and both medians [s]."""
    for _ in range(warm_up):
        one(), other()
    pairs = [(one(), other()) for _ in range(runs)]
    return (
        statistics.median(a / b for a, b in pairs),
        statistics.median(a for a, _ in pairs),
        statistics.median(b for _, b in pairs),
    )


def process_row(
    what: str, command: Sequence[str], yardstick: Sequence[str], goal: float, unit: str, runs: int
) -> BenchRow:
    """A row that compares two whole processes."""
    ratio, ours, theirs = paired_ratio(lambda: process_seconds(command), lambda: process_seconds(yardstick), runs)
    return BenchRow(what, ratio, goal, unit, f"{ours * 1e3:.0f} ms against {theirs * 1e3:.0f} ms")


PASS = (sys.executable, "-c", "pass")
