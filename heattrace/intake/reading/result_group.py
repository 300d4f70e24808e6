"""Results of one analysis gathered from rows, and the analysis made of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.reading.faults import CellFault, Place
from heattrace.intake.reading.plain_contents import PlainContents
from heattrace.intake.reading.records import AnalysisRecord, BenchFault, Burn
from heattrace.intake.reading.setting_aside import RowFault, bench_row
from heattrace.metallurgy.amount import NOT_REPORTED, Amount

# What is said of a sample and its analysis besides who it is; rows of one analysis have to agree in them.
ABOUT = (
    "sample_kind", "taken_at", "tundish", "strand_no", "position_m", "ladle_mass_left_t", "piece_no", "piece_end",
    "laboratory", "report_no", "supersedes",
)  # fmt: skip


@dataclass(slots=True)
class Gathered:
    """Analyses of a file, rows set aside, findings, and how many rows only repeat others."""

    analyses: list[AnalysisRecord] = field(default_factory=list)
    bench: list[BenchFault] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    repeated: int = 0


def says_nothing(results: Collection[Amount]) -> bool:
    """Whether no element is reported at all (a word for over the range does report something)."""
    for amount in results:
        if amount.qualifier != NOT_REPORTED:
            return False
        break
    return all(a.qualifier == NOT_REPORTED and not a.text for a in results)


def about(values: dict[str, Any]) -> tuple[Any, ...]:
    """What is said of the sample, for comparing rows; texts of moments and numbers do not count, their values do."""
    heat = values.get("heat_no")
    return (heat and heat.normal, *(_bare(values.get(name)) for name in ABOUT))


def _bare(value: Any) -> Any:
    return value[0] if isinstance(value, tuple) else value


def make_analysis(
    values: Mapping[str, Any],
    results: Mapping[str, Amount],
    burns: list[Burn],
    sheet: str,
    rows: list[int],
    units: dict[str, str] | None = None,
) -> AnalysisRecord:
    """One analysis from the values of a row and what was gathered for it."""
    get = values.get
    return AnalysisRecord(
        heat_no=get("heat_no"), sample_id=values["sample_id"], sample_kind=values["sample_kind"],
        taken_at=get("taken_at"), analysed_at=values["analysed_at"], method=values["method"],
        instrument=get("instrument"), tundish=get("tundish"), strand_no=get("strand_no"), position_m=get("position_m"),
        ladle_mass_left_t=get("ladle_mass_left_t"), piece_no=get("piece_no"), piece_end=get("piece_end"),
        laboratory=get("laboratory"), report_no=get("report_no"), supersedes=get("supersedes"),
        results=results, burns=burns, sheet=sheet, rows=rows, units=units or {},
    )  # fmt: skip


class ResultGroup:
    """Results of one analysis gathered row by row from a row-a-result file."""

    __slots__ = ("clashes", "plain", "results", "rows", "sheet", "units", "values")

    def __init__(self, values: dict[str, Any], sheet: str) -> None:
        self.values, self.sheet = values, sheet
        # Contents stay as they were read at once, until one comes that has to be kept by itself.
        self.plain: PlainContents | None = None
        self.results: dict[str, Amount] = {}
        self.units: dict[str, str] = {}
        self.rows: list[int] = []
        self.clashes: list[tuple[int, str, dict[str, Any], Amount]] | None = None

    def add(self, values: dict[str, Any], element: str, amount: Amount, row: int) -> None:
        """Take one result in; what does not agree with the rows before is remembered for `finish`."""
        if self.plain is not None:
            self.results, self.plain = dict(self.plain), None
        agrees = values is self.values or about(values) == about(self.values)
        if element in self.results or not agrees or self.clashes is not None:
            if self.clashes is None:
                firsts = zip(self.rows, self.results.items(), strict=True)
                self.clashes = [(at, e, self.values, a) for at, (e, a) in firsts]
            self.clashes.append((row, element, values, amount))
        self.results.setdefault(element, amount)
        self.rows.append(row)

    def take_plain(self, contents: PlainContents, first: int) -> bool:
        """Take results of successive rows at once; False, and nothing is taken, where an element comes twice."""
        if self.plain is None and not self.rows:
            self.plain = contents
        elif self.clashes is not None or not set(self.plain or self.results).isdisjoint(contents):
            return False
        elif self.plain is not None:
            self.plain = self.plain.then(contents)
        else:
            self.results.update(contents)
        if contents.shape.units:
            self.units.update(contents.shape.units)
        self.rows.extend(range(first, first + len(contents)))
        return True

    def finish(self, place: Place, raw: Any, out: Gathered) -> AnalysisRecord | None:
        """The analysis; rows that contradict each other go to the bench, all of them; None where nothing is left."""
        if self.clashes is not None:
            self._settle_clashes(place, raw, out)
        if not self.rows:
            return None
        if self.plain is None and says_nothing(self.results.values()):
            fault = CellFault("ROW60", "a content of any element in this analysis")
            for row in self.rows:
                where = RowFault(None, None, self.values["sample_id"].original, fault)
                out.bench.append(bench_row(place, row, [where], raw(row)))
            return None
        return make_analysis(self.values, self.plain or self.results, [], self.sheet, sorted(self.rows), self.units)

    def _settle_clashes(self, place: Place, raw: Any, out: Gathered) -> None:
        assert self.clashes is not None
        clashes = self.clashes
        self.results, self.rows = {}, []
        if len({about(said) for _, _, said, _ in clashes}) > 1:
            wanted = "the same heat, kind and place of the sample in all rows of one analysis"
            fault = CellFault("ROW61", wanted, "Say which rows are right.")
            sample = self.values["sample_id"].original
            for row in sorted({at for at, _, _, _ in clashes}):
                out.bench.append(bench_row(place, row, [RowFault(None, "sample_id", sample, fault)], raw(row)))
            return
        by_element: dict[str, list[tuple[int, Amount]]] = defaultdict(list)
        for row, element, _, amount in clashes:
            by_element[element].append((row, amount))
        for element, said_of in by_element.items():
            if all(amount == said_of[0][1] for _, amount in said_of):
                self.results[element] = said_of[0][1]
                self.rows.append(said_of[0][0])
                out.repeated += len(said_of) - 1
                continue
            both = " and ".join(f"{amount.shown()} (row {at})" for at, amount in said_of[:3])
            fault = CellFault("ROW63", f"one {element} in this analysis, not {both},", "Say which value is right.")
            for row, amount in said_of:
                where = RowFault(None, "value", amount.shown(), fault)
                out.bench.append(bench_row(place, row, [where], raw(row)))
