"""Rows of analyses into analyses: burns to their mean, sample numbers taken apart, doubles told from contradictions."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from heattrace.intake.profiles.profile import Profile, split_pattern
from heattrace.intake.reading.contents import plain_unit
from heattrace.intake.reading.faults import CellFault, Place
from heattrace.intake.reading.header import Layout
from heattrace.intake.reading.parsing import read_ident, searched
from heattrace.intake.reading.records import AnalysisRecord, Burn, RowRecord
from heattrace.intake.reading.result_group import Gathered, ResultGroup, about, make_analysis, says_nothing
from heattrace.intake.reading.setting_aside import RowFault, bench_row
from heattrace.metallurgy.amount import NOT_REPORTED


class Settler:
    """Brings what the profile says about samples into a row's values: a split sample number, the heat."""

    def __init__(self, profile: Profile, layout: Layout) -> None:
        words = profile.values.get("sample_kind", {})
        self.kinds = words
        self.pattern: re.Pattern[str] | None = None
        if pattern := profile.split.get("sample_id"):
            self.pattern = split_pattern(pattern, words)
            self.text = pattern
        self._headers = {r.column.name: r.header for r in layout.columns if r.column is not None}

    def settle(self, values: dict[str, Any]) -> RowFault | None:
        """Complete the values in place; gives the fault that sets the row aside, if any."""
        if self.pattern is not None and (fault := self._split(values)) is not None:
            return self._fault("sample_id", values["sample_id"].original, fault)
        if not values.get("sample_kind"):
            return self._fault("sample_kind", "", CellFault("ROW01", "sample_kind filled in"))
        if values.get("heat_no") is None and values["sample_kind"] != "control":
            wanted = "a heat number (only control samples have none)"
            return self._fault("heat_no", "", CellFault("ROW71", wanted))
        return None

    def _split(self, values: dict[str, Any]) -> CellFault | None:
        assert self.pattern is not None
        found = self.pattern.fullmatch(values["sample_id"].original.strip())
        if found is None:
            return CellFault("ROW66", f"a sample number such as {self.text}")
        parts = found.groupdict()
        if (heat := parts.get("heat_no")) is not None:
            if values.get("heat_no") is not None and values["heat_no"].normal != searched(heat):
                return CellFault("ROW66", f"a sample of heat {values['heat_no'].normal}, as its heat column says")
            try:
                values["heat_no"] = values.get("heat_no") or read_ident(heat)
            except CellFault as fault:
                return fault
        if (word := parts.get("kind")) is not None:
            kind = self.kinds.get(word, word)
            if values.get("sample_kind") not in (None, kind):
                return CellFault("ROW66", f"a sample of kind {values['sample_kind']}, as its kind column says")
            from heattrace.intake.profiles.kinds import SAMPLE_KINDS

            if kind not in SAMPLE_KINDS:
                return CellFault(
                    "ROW40", "a kind of sample", "Say in the profile, under [values.sample_kind], what it means."
                )
            values["sample_kind"] = kind
        return None

    def _fault(self, ours: str, text: str, fault: CellFault) -> RowFault:
        return RowFault(self._headers.get(ours), ours, text, fault)


def identity(values: Mapping[str, Any]) -> tuple[Any, ...]:
    """What an analysis is known by within one profile."""
    return (*sample_run(values), values["analysed_at"].utc_ms)


def known(analysis: AnalysisRecord) -> tuple[Any, ...]:
    """The identity of an analysis already made."""
    at = analysis.analysed_at
    return (analysis.sample_id.normal, analysis.method, analysis.instrument, at and at.utc_ms)


def sample_run(values: Mapping[str, Any]) -> tuple[Any, ...]:
    """Sample, method and instrument: what burns and their mean have in common."""
    return (values["sample_id"].normal, values["method"], values.get("instrument"))


def gather(rows: list[RowRecord], profile: Profile, layout: Layout, place: Place) -> Gathered:
    """Make analyses of the rows of a row-a-sample file, or of a row-a-result file with burns."""
    out = Gathered()
    settler = Settler(profile, layout)
    units = {c.element: u for c in layout.elements if c.element and (u := plain_unit(c.unit or "%")) != "%"}
    plain: list[RowRecord] = []
    groups: dict[tuple[Any, ...], list[tuple[str, RowRecord]]] = defaultdict(list)
    for row in rows:
        assert isinstance(row.values, dict)
        fault = settler.settle(row.values)
        role = ""
        if fault is None:
            role, fault = _role(row, profile, layout)
        if fault is None and says_nothing(row.values["results"].values()) and profile.layout == "wide":
            fault = RowFault(
                None, None, row.values["sample_id"].original, CellFault("ROW60", "a content of any element")
            )
        if fault is not None:
            out.bench.append(bench_row(place, row.row, [fault], row.raw))
        elif role:
            groups[sample_run(row.values)].append((role, row))
        else:
            plain.append(row)
    if not groups and profile.layout == "wide":
        plain = _alone(plain, units, out)
    for row in plain:
        key = sample_run(row.values)
        if key in groups:
            groups[key].append(("mean", row))
        else:
            groups[key, row.values["analysed_at"].utc_ms].append(("plain", row))
    for members in groups.values():
        _gather_group(members, profile, units, place, out)
    out.analyses.sort(key=lambda analysis: analysis.rows[0])
    out.bench.sort(key=lambda fault: fault.row)
    return out


def _alone(rows: list[RowRecord], units: dict[str, str], out: Gathered) -> list[RowRecord]:
    """Make analyses of rows whose identity no other row has; gives back the others."""
    by_identity: dict[tuple[Any, ...], list[RowRecord]] = defaultdict(list)
    for row in rows:
        by_identity[identity(row.values)].append(row)
    rest = []
    for same in by_identity.values():
        if len(same) > 1:
            rest.extend(same)
        else:
            row = same[0]
            out.analyses.append(make_analysis(row.values, row.values["results"], [], row.sheet, [row.row], units))
    return rest


def _role(row: RowRecord, profile: Profile, layout: Layout) -> tuple[str, RowFault | None]:
    """`burn`, `mean`, or nothing for a row that is a whole analysis."""
    words, word = profile.rows, row.values.get("line_word")
    if words is not None and word is not None:
        if word in words.burn:
            return "burn", None
        if word in words.mean:
            return "mean", None
        header = next((r.header for r in layout.columns if r.is_line), None)
        wanted = "one of " + ", ".join(sorted(words.burn | words.mean | words.skip))
        return "", RowFault(
            header, "burn", word, CellFault("ROW65", wanted, "List the word under [rows] of the profile.")
        )
    return ("burn" if row.values.get("burn") else ""), None


def _gather_group(
    members: list[tuple[str, RowRecord]], profile: Profile, units: dict[str, str], place: Place, out: Gathered
) -> None:
    """Rows of one sample by one method on one instrument (of one time, where there are no burns)."""
    burns = [row for role, row in members if role == "burn"]
    means = [row for role, row in members if role != "burn"]
    made = _long_means(means, place, out) if profile.layout == "long" else _wide_means(means, units, out)
    if not burns:
        out.analyses.extend(made)
        return
    if not made:
        first = min(burns, key=lambda row: (row.values["analysed_at"].utc_ms, row.row))
        made = [make_analysis(dict(first.values), {}, [], first.sheet, [], units)]
        owners = {id(row): made[0] for row in burns}
    else:
        owners = {id(row): owner for row in burns if (owner := _owner(row, made)) is not None}
    kept: dict[int, list[RowRecord]] = defaultdict(list)
    for row in burns:
        owner = owners.get(id(row))
        reason = _not_its_burn(row, owner)
        if owner is None or reason is not None:
            fault = CellFault(
                "ROW64", reason or "the time of one of this sample's means", "Say which analysis it belongs to."
            )
            out.bench.append(bench_row(place, row.row, [RowFault(None, None, _label(row), fault)], row.raw))
        else:
            kept[id(owner)].append(row)
    for analysis in made:
        _add_burns(analysis, kept[id(analysis)], place, out)
    out.analyses.extend(analysis for analysis in made if analysis.rows)


def _owner(row: RowRecord, made: list[AnalysisRecord]) -> AnalysisRecord | None:
    """The analysis a burn belongs to: the only one, else the one of the same time; None where that is not one."""
    if len(made) == 1:
        return made[0]
    at = row.values["analysed_at"].utc_ms
    same = [a for a in made if a.analysed_at is not None and a.analysed_at.utc_ms == at]
    return same[0] if len(same) == 1 else None


def _not_its_burn(row: RowRecord, owner: AnalysisRecord | None) -> str | None:
    if owner is None:
        return None
    heat = row.values.get("heat_no")
    if (heat and heat.normal) != (owner.heat_no and owner.heat_no.normal):
        return f"heat {owner.heat_no.normal if owner.heat_no else 'none'}, as the other rows of this sample say"
    if row.values["sample_kind"] != owner.sample_kind:
        return f"sample kind {owner.sample_kind}, as the other rows of this sample say"
    return None


def _label(row: RowRecord) -> str:
    return str(row.values.get("burn") or row.values.get("line_word") or "")


def _add_burns(analysis: AnalysisRecord, rows: list[RowRecord], place: Place, out: Gathered) -> None:
    """Hang burns on their analysis: rows of a label and time are one burn; equal labels at other times get a number."""
    burns: dict[tuple[str, int], Burn] = {}
    wide = len({(_label(r), r.values["analysed_at"].utc_ms) for r in rows}) == len(rows)
    count: dict[str, int] = defaultdict(int)
    for row in sorted(rows, key=lambda r: r.row):
        label, at = _label(row), row.values["analysed_at"].utc_ms
        burn = burns.get((label, at))
        results = row.values["results"]
        if burn is not None and not wide and not set(burn.results) & set(results):
            burn.results.update(results)
        elif burn is not None and all(burn.results.get(e) == a for e, a in results.items()):
            out.repeated += 1
            continue
        else:
            count[label] += 1
            name = label if count[label] == 1 else f"{label} ({count[label]})"
            burns[label, at] = burn = Burn(name, row.values["analysed_at"], dict(results), row.row)
            analysis.burns.append(burn)
        analysis.rows.append(row.row)
    analysis.rows.sort()


def _wide_means(rows: list[RowRecord], units: dict[str, str], out: Gathered) -> list[AnalysisRecord]:
    """A row is an analysis; a row that says it again is counted; other values under one identity stay beside it."""
    made: list[tuple[tuple[Any, ...], AnalysisRecord]] = []
    for row in rows:
        values = dict(row.values)
        results = {e: a for e, a in values["results"].items() if a.qualifier != NOT_REPORTED or a.text}
        known = (identity(values), about(values), results)
        if any(known == other for other, _ in made):
            out.repeated += 1
            continue
        # An element whose column is empty was not reported for this sample: kept as such.
        made.append((known, make_analysis(values, dict(values["results"]), [], row.sheet, [row.row], units)))
    return [analysis for _, analysis in made]


def _long_means(rows: list[RowRecord], place: Place, out: Gathered) -> list[AnalysisRecord]:
    """Rows of one identity are one analysis; an element said twice otherwise sets those rows aside."""
    made: dict[tuple[Any, ...], ResultGroup] = {}
    for row in rows:
        values = dict(row.values)
        group = made.setdefault(identity(values), ResultGroup(values, row.sheet))
        for element, amount in values["results"].items():
            group.add(values, element, amount, row.row)
            if (unit := plain_unit(values["result_unit"])) != "%":
                group.units[element] = unit
    raws = {row.row: row.raw for row in rows}
    finished = (group.finish(place, raws.__getitem__, out) for group in made.values())
    return [analysis for analysis in finished if analysis is not None]
