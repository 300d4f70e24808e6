"""Analyses that come in after somebody decided on their heat, or after its pieces have left."""

from __future__ import annotations

from collections.abc import Iterable

from heattrace.findings import Finding
from heattrace.store.reader import Reader

_DECIDED = """
SELECT h.heat_no, count(*) AS n FROM decision d JOIN heat h ON h.heat_id = d.heat_id
WHERE {live:d} AND d.heat_id IN ({keys}) GROUP BY h.heat_no ORDER BY h.heat_no
"""
_DECIDED_PARTS = """
SELECT h.heat_no, count(DISTINCT d.decision_id) AS n FROM share s
JOIN placement p ON p.placement_id = s.placement_id AND {live:p}
JOIN decision d ON d.part_id = p.part_id AND {live:d} JOIN heat h ON h.heat_id = s.heat_id
WHERE s.heat_id IN ({keys}) GROUP BY h.heat_no ORDER BY h.heat_no
"""
_GONE = """
SELECT h.heat_no, count(DISTINCT m.part_id) AS n FROM share s
JOIN placement p ON p.placement_id = s.placement_id AND {live:p}
JOIN movement m ON m.part_id = p.part_id AND m.whereabouts = 'dispatched' AND {live:m}
JOIN heat h ON h.heat_id = s.heat_id WHERE s.heat_id IN ({keys}) GROUP BY h.heat_no ORDER BY h.heat_no
"""


def late_findings(reader: Reader, heat_ids: Iterable[int]) -> list[Finding]:
    """A finding for every heat with new results on which decisions stand or of which pieces have left."""
    keys = sorted(set(heat_ids))
    told: dict[str, list[str]] = {}
    for question, words in (
        (_DECIDED, "decisions on it"),
        (_DECIDED_PARTS, "decisions on its pieces"),
        (_GONE, "of its pieces dispatched"),
    ):
        for row in reader.by_keys(question, keys):
            told.setdefault(row["heat_no"], []).append(f"{row['n']} {words}")
    return [
        Finding(
            "REC35", f"heat {number}", f"a late result; {', '.join(said)}", "results before decisions",
            f"No decision was changed. Look at it: heattrace judge heat:{number}, heattrace why heat:{number}",
        )
        for number, said in sorted(told.items())
    ]  # fmt: skip
