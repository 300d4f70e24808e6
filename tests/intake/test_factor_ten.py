"""A decimal point moved is suspected at the same contents whether they are kept as amounts or as parts per billion."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest

from heattrace.intake.loading.factor_ten import GradeBands
from heattrace.intake.reading.plain_contents import PlainContents, Report, Shape
from heattrace.store.reader import Reader


class Limits(Reader):
    """A heat whose grade has 0.17 to 0.24 % C, at most 120 ppm N and at least 0.020 % Al."""

    def all(self, sql: str, /, **parameters: Any) -> list[Any]:
        return [
            {"quantity": "C", "min_text": "0.17", "max_text": "0.24", "unit": "%"},
            {"quantity": "N", "min_text": None, "max_text": "120", "unit": "ppm"},
            {"quantity": "Al", "min_text": "0.020", "max_text": None, "unit": "%"},
        ]


@pytest.mark.parametrize(
    ("element", "ppb", "doubtful"),
    # By hand, in parts per billion: C from 5 x 0.24 % = 12 000 000 to 10 x 2 x 0.24 % = 48 000 000, and from
    # 0.17 % / 2 / 10 = 85 000 to 0.17 % / 5 = 340 000; N from 5 x 0.0120 % = 600 000; Al 10 000 to 40 000.
    [("C", 12_000_000, True), ("C", 11_999_999, False), ("C", 48_000_000, True), ("C", 48_000_001, False),
     ("C", 85_000, True), ("C", 84_999, False), ("C", 340_000, True), ("C", 340_001, False), ("C", 2_000_000, False),
     ("N", 600_000, True), ("N", 599_999, False), ("N", 1, False),
     ("Al", 10_000, True), ("Al", 9_999, False), ("Al", 40_000, True), ("Al", 40_001, False), ("Al", 0, False)],
)  # fmt: skip
def test_where_a_moved_point_is_suspected(element: str, ppb: int, doubtful: bool) -> None:
    bands = GradeBands(Limits(sqlite3.connect(":memory:")))
    for qualifier in ("=", "<"):
        shape = Shape((element, "Mn"), (Report(qualifier, "%", 7), Report("=", "%", 2)))
        kept = PlainContents(shape, [ppb, 14_000_000])
        as_amounts = bands.doubts(1, "tundish-steady", dict(kept), str)
        assert bands.doubts(1, "tundish-steady", kept, str) == as_amounts
        assert len(as_amounts) == int(doubtful and qualifier == "=")
