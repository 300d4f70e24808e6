"""Checks across the rows of one file: shifted columns, swapped elements, lost zeros, doubles, samples of two heats."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from statistics import median
from typing import Any

from heattrace.errors import FileRefused
from heattrace.findings import Finding
from heattrace.intake.loading.analysis_pack import PLACES
from heattrace.intake.profiles.kinds import Sheet
from heattrace.intake.reading.cells import CellReader
from heattrace.intake.reading.faults import CellFault, Place, refuse
from heattrace.intake.reading.header import Layout, Resolved
from heattrace.intake.reading.plain_contents import PlainContents
from heattrace.intake.reading.records import AnalysisBatch, AnalysisRecord, RowRecord, SheetContent
from heattrace.intake.reading.setting_aside import RowFault, bench_row

# Where the contents of engineering steels mostly lie, mass % (common practice). Only to tell columns apart.
USUAL_PCT: Mapping[str, float] = {
    "C": 0.2, "Si": 0.25, "Mn": 1.0, "P": 0.012, "S": 0.008, "Cr": 0.15, "Mo": 0.03, "Ni": 0.08, "Cu": 0.1,
    "Al": 0.03, "Als": 0.03, "N": 0.006, "Nb": 0.005, "V": 0.005, "Ti": 0.004, "B": 0.0005, "Ca": 0.0015, "Sn": 0.008,
    "As": 0.006, "Sb": 0.002, "Co": 0.01, "W": 0.01, "Pb": 0.001, "Zr": 0.002, "O": 0.002, "H": 0.0002,
}  # fmt: skip
# In powers of ten, tried on certified engineering steels: farther than FAR from the usual content is outside; the
# shifted reading has to be CLOSE on the mean, and much BETTER than the reading as it stands.
FAR = 0.6
CLOSE = 0.5
BETTER = 0.65
LEAST_COLUMNS = 4
SWAPS = (("Mn", "Si"), ("P", "S"), ("Cr", "Ni"))
MOST_SUM = 100


def check_shift(reader: CellReader, layout: Layout, place: Place) -> None:
    """Refuse a file in which the contents fit their neighbours' names better than their own.

    Raises
    ------
    FileRefused
        Several elements lie far from their usual contents, while one step to the side they lie close.
    """
    columns = [c for c in layout.elements if c.element in USUAL_PCT]
    middles = {c.index: median(found) for c in columns if (found := [v for v in reader.seen_numbers[c.index] if v > 0])}
    own = _distances(columns, middles, 0)
    if len(own) < LEAST_COLUMNS:
        return
    outside = [c for c in columns if c.index in middles and _distance(c, middles[c.index]) > FAR]
    for step in (-1, 1):
        moved = _distances(columns, middles, step)
        if len(moved) < LEAST_COLUMNS - 1 or len(outside) < 2:
            continue
        if _mean(moved) < BETTER * _mean(own) and _mean(moved) < CLOSE:
            raise _shifted(outside, middles, place, layout)


def _distances(columns: Sequence[Resolved], middles: Mapping[int, float], step: int) -> list[float]:
    """Distance of each column's middle value from the usual content of the column `step` to the side."""
    out = []
    for at, column in enumerate(columns):
        if column.index in middles and 0 <= at + step < len(columns):
            out.append(_distance(columns[at + step], middles[column.index]))
    return out


def _distance(column: Resolved, value: float) -> float:
    return abs(math.log10(value / USUAL_PCT[column.element or "C"]))


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def _shifted(outside: Sequence[Resolved], middles: Mapping[int, float], place: Place, layout: Layout) -> FileRefused:
    seen = "columns look shifted by one: " + ", ".join(
        f"{c.header.strip()} about {middles[c.index]:.3g} %" for c in outside[:4]
    )
    step = "Compare a row with the instrument's print; then export anew with the header over its data."
    return refuse(place, "FILE18", seen, "contents near what these elements usually have", step, layout.row)


def check_swaps(analyses: Iterable[AnalysisRecord], place: Place, headers: Mapping[str, str]) -> list[Finding]:
    """Analyses in which two elements look swapped, compared with the other samples of their heat in the file."""
    by_heat: dict[str, list[AnalysisRecord]] = defaultdict(list)
    for analysis in analyses:
        if analysis.heat_no is not None and analysis.results:
            by_heat[analysis.heat_no.normal].append(analysis)
    found = []
    for members in by_heat.values():
        for one, two in SWAPS:
            pairs = [(a, x, y) for a in members if (x := _plain(a, one)) and (y := _plain(a, two))]
            if len(pairs) < 3 or len({x > y for _, x, y in pairs}) == 1:
                continue
            for analysis, x, y in pairs:
                rest_x = median(v for a, v, _ in pairs if a is not analysis)
                rest_y = median(v for a, _, v in pairs if a is not analysis)
                if (
                    (x > y) != (rest_x > rest_y)
                    and max(rest_x / rest_y, rest_y / rest_x) > 2
                    and _near(x, rest_y)
                    and _near(y, rest_x)
                ):
                    seen = f"{one} {analysis.results[one].shown()}, {two} {analysis.results[two].shown()}"
                    wanted = f"{one} and {two} near those of the other samples of this heat"
                    subject = place.at(analysis.rows[0], headers.get(one, one))
                    step = "Look at the instrument's print; the analysis is doubtful."
                    found.append(Finding("ROW67", subject, seen, wanted, step))
    return found


def _plain(analysis: AnalysisRecord, element: str) -> float | None:
    amount = analysis.results.get(element)
    return float(amount.value) if amount and amount.qualifier == "=" and amount.value and amount.value > 0 else None


def _near(value: float, other: float) -> bool:
    return max(value / other, other / value) < 1.3


def check_sums(analyses: Iterable[AnalysisRecord], place: Place) -> list[Finding]:
    """Analyses whose contents add up to more than 100 %."""
    out = []
    for analysis in analyses:
        if isinstance(analysis.results, PlainContents) and analysis.results.total_ppb() <= MOST_SUM * 10**PLACES:
            continue
        total = sum(a.value for e, a in analysis.results.items() if a.qualifier == "=" and a.value and e != "Als")
        if total > MOST_SUM:
            step = "Look at the instrument's print."
            out.append(Finding("ROW19", place.at(analysis.rows[0]), f"{total} % in all", "at most 100 %", step))
    return out


def bench_samples_of_two_heats(content: AnalysisBatch, place: Place, raw: Callable[[int], bytes]) -> None:
    """Set aside the analyses of a sample number that stands for more than one heat in the file."""
    heats: dict[str, dict[str, int]] = defaultdict(dict)
    for analysis in content.analyses:
        if analysis.heat_no is not None:
            heats[analysis.sample_id.normal].setdefault(analysis.heat_no.normal, analysis.rows[0])
    twice = {sample for sample, of in heats.items() if len(of) > 1}
    if not twice:
        return
    for analysis in content.analyses:
        if analysis.sample_id.normal in twice:
            named = " and ".join(sorted(heats[analysis.sample_id.normal]))
            fault = CellFault("ROW61", f"one heat for this sample, not {named},", "Say which heat it was taken from.")
            for row in analysis.rows:
                where = RowFault(None, "heat_no", analysis.sample_id.original, fault)
                content.bench.append(bench_row(place, row, [where], raw(row)))
    content.analyses = [a for a in content.analyses if a.sample_id.normal not in twice]


def settle_doubles(content: SheetContent, sheet: Sheet, place: Place) -> None:
    """Rows of one identity in a file: the same again is counted and left out; all that contradict go to the bench."""
    by_identity: dict[tuple[Any, ...], list[RowRecord]] = defaultdict(list)
    names = sheet.identity or tuple(c.name for c in sheet.columns)
    for row in content.rows:
        by_identity[tuple(_key(row.values.get(name)) for name in names)].append(row)
    if len(by_identity) == len(content.rows):
        return
    kept: list[RowRecord] = []
    for rows in by_identity.values():
        said = {tuple(_key(row.values.get(c.name)) for c in sheet.columns) for row in rows}
        if len(said) == 1:
            kept.append(rows[0])
            content.repeated += len(rows) - 1
            for row in rows[1:]:
                seen = f"the same as row {rows[0].row}"
                content.findings.append(Finding("ROW62", place.at(row.row), seen, "each row once", "It is left out."))
            continue
        others = ", ".join(str(row.row) for row in rows)
        fault = CellFault(
            "ROW61", f"one row for the same {' + '.join(names)} (rows {others} differ)", "Say which is right."
        )
        content.bench.extend(
            bench_row(place, r.row, [RowFault(None, None, f"row {r.row}", fault)], r.raw) for r in rows
        )
    content.rows = sorted(kept, key=lambda row: row.row)


def _key(value: Any) -> Any:
    """A value for comparing: numbers and moments by what they are, not by how they are written."""
    if isinstance(value, tuple):
        return value[0]
    return value
