"""The chemistry of heats: their samples, and the cast analysis that speaks for each, frozen or chosen now.

A frozen cast analysis speaks until a person freezes another, also where an analysis it rests on was amended since or
the ladder would choose differently now: a finding says so, and the contents stay those that were decided on.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import tzinfo
from decimal import Decimal
from typing import Any

from heattrace.findings import Finding
from heattrace.judging.cast_choice import CastChoice, Pick
from heattrace.judging.ladder import RUNGS, Ladder, choose_cast_analysis
from heattrace.metallurgy.amount import UNREPORTED, Amount
from heattrace.metallurgy.elements import ELEMENTS, REPORT_ORDER
from heattrace.store.reader import Reader, Row
from heattrace.store.works import works_edition, works_value
from heattrace.tracing.analyses import (
    UNIT,
    RecordedAnalysis,
    RecordedSample,
    Reported,
    digits,
    results_of,
    samples_of_heats,
)
from heattrace.tracing.chemistry_questions import (
    CAST_ANALYSES,
    CAST_VALUES,
    HEAT_NUMBERS,
    LAST_ADDITIONS,
)
from heattrace.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class HeatChemistry:
    """Samples of one heat and the choice that speaks for it; `frozen` is the key of the frozen choice, else None.

    `now` is what the ladder chooses at present, the same as `choice` where none is frozen.
    """

    heat_id: int
    heat_no: str
    samples: tuple[RecordedSample, ...]
    choice: CastChoice
    frozen: int | None = None
    now: CastChoice | None = None

    def anew(self) -> HeatChemistry:
        """The chemistry a new decision stands on: not a frozen choice that was amended or overtaken since.

        A choice that is no rung of the ladder was made by a person; it is left only where its analyses no longer stand.
        """
        if self.frozen is None or self.now is None:
            return self
        amended = any(finding.code == "CHEM-AMENDED" for finding in self.choice.findings)
        by_ladder = self.choice.rule in RUNGS
        overtaken = by_ladder and _sources(self.choice) != _sources(self.now)
        return replace(self, choice=self.now, frozen=None) if amended or overtaken else self

    def disagreements(self) -> tuple[Finding, ...]:
        """What is said now of analyses that contradict each other or are contested."""
        told = self.choice if self.now is None else self.now
        return tuple(finding for finding in told.findings if finding.code == "CHEM-DISAGREE")

    def composition(self) -> dict[str, Amount]:
        """The contents that speak for the heat, mass %; empty where no analysis does."""
        return self.choice.composition()

    def cast_ids(self) -> frozenset[int]:
        """Analyses that give the cast analysis a value."""
        return frozenset(pick.analysis_id for pick in self.choice.picks.values())

    def samples_json(self, zone: tzinfo) -> list[dict[str, Any]]:
        """The promised `samples`."""
        cast_ids = self.cast_ids()
        return [sample.as_json(zone, cast_ids) for sample in self.samples]

    def cast_json(self) -> dict[str, Any]:
        """The cast analysis: each element's digits and source, the rule, the reasons in words."""
        return {
            "heat_no": self.heat_no,
            "frozen": self.frozen is not None,
            "rule": self.choice.rule,
            "values": [_pick_json(element, pick) for element, pick in self.choice.picks.items()],
            "words": list(self.choice.words),
        }


def _sources(choice: CastChoice) -> dict[str, int]:
    return {element: pick.analysis_id for element, pick in choice.picks.items()}


def _pick_json(element: str, pick: Pick) -> dict[str, Any]:
    return {
        "element": element,
        "reported": digits(pick.amount),
        "unit": UNIT,
        "analysis_no": pick.analysis_no,
        "sample_id": pick.sample_id,
        "kind": pick.kind,
        "method": pick.method,
        "rule": pick.rule,
    }


def ladder_of(reader: Reader) -> Ladder:
    """The rule ladder and the order of methods the works has set."""
    rungs, edition = works_edition(reader, "ladder")
    methods = works_value(reader, "method-precedence")
    critical = works_value(reader, "critical-difference")
    return Ladder(
        tuple(rungs),
        {element: tuple(order) for element, order in methods.items()},
        str(edition or "0 (as shipped)"),
        {element: Decimal(text) for element, text in critical.items()},
    )


def chemistry_of_heat(reader: Reader, heat_id: int) -> HeatChemistry:
    """Samples and cast analysis of one heat."""
    return chemistry_of_heats(reader, [heat_id])[heat_id]


def chemistry_of_heats(reader: Reader, heat_ids: Iterable[int]) -> dict[int, HeatChemistry]:
    """Samples and cast analysis of each heat, in a fixed number of questions."""
    keys = sorted(set(heat_ids))
    numbers = {row["heat_id"]: row["heat_no"] for row in reader.by_keys(HEAT_NUMBERS, keys)}
    added = {row["heat_id"]: row["added_at"] for row in reader.by_keys(LAST_ADDITIONS, keys)}
    samples: dict[int, list[RecordedSample]] = {key: [] for key in keys}
    for sample in samples_of_heats(reader, keys):
        if sample.heat_id is not None:
            samples[sample.heat_id].append(sample)
    ladder = ladder_of(reader)
    frozen = _frozen(reader, keys)
    found = {}
    for key in keys:
        heat_no = numbers.get(key, "")
        facts = [sample.facts(_additions_after(sample, added.get(key))) for sample in samples[key]]
        now = choose_cast_analysis(facts, ladder, heat_no=heat_no)
        row = frozen.rows.get(key)
        choice = now if row is None else frozen.choice(row, heat_no, samples[key], now, ladder)
        found[key] = HeatChemistry(
            key, heat_no, tuple(samples[key]), choice, None if row is None else row["cast_analysis_id"], now
        )
    return found


def _additions_after(sample: RecordedSample, last_added: int | None) -> bool | None:
    """Whether the record has an addition after a sample; not known where the sample has no time."""
    if last_added is None:
        return False
    return None if sample.taken_at is None else last_added > sample.taken_at


@dataclass(frozen=True, slots=True)
class _Frozen:
    """Frozen choices of some heats, the newest of each, with their values and the results those cite."""

    rows: Mapping[int, Row]
    values: Mapping[int, Sequence[Row]]
    results: Mapping[int, Mapping[str, Reported]]

    def choice(
        self, row: Row, heat_no: str, samples: Sequence[RecordedSample], now: CastChoice, ladder: Ladder
    ) -> CastChoice:
        """A frozen choice as it was made, with findings about what changed since."""
        picks = {}
        values = self.values.get(row["cast_analysis_id"], ())
        for value in sorted(values, key=lambda v: REPORT_ORDER.index(ELEMENTS[v["element_id"] - 1])):
            element = ELEMENTS[value["element_id"] - 1]
            picks[element] = self._pick(value, element)
        known = {a.analysis_id: a for sample in samples for a in sample.analyses}
        findings = [*_amended(heat_no, picks, known)]
        if row["rule"] in ladder.rungs:
            findings += _late(heat_no, picks, now)
        return CastChoice(heat_no, picks, row["rule"], tuple(json.loads(row["words"])), tuple(findings))

    def _pick(self, value: Row, element: str) -> Pick:
        result = self.results.get(value["analysis_id"], {}).get(element)
        amount, own = (UNREPORTED, "") if result is None else (result.amount, result.method)
        key = value["analysis_id"]
        method = own or value["method"]
        return Pick(f"A-{key}", key, value["written_id"], value["kind"], method, value["rule"], amount)


def _frozen(reader: Reader, heat_ids: Sequence[int]) -> _Frozen:
    rows = {row["heat_id"]: row for row in reader.by_keys(CAST_ANALYSES, heat_ids)}
    values: dict[int, list[Row]] = {}
    for value in reader.by_keys(CAST_VALUES, sorted(row["cast_analysis_id"] for row in rows.values())):
        values.setdefault(value["cast_analysis_id"], []).append(value)
    cited = sorted({value["analysis_id"] for listed in values.values() for value in listed})
    return _Frozen(rows, values, results_of(reader, cited))


def _amended(heat_no: str, picks: Mapping[str, Pick], known: Mapping[int, RecordedAnalysis]) -> list[Finding]:
    """What is no longer valid of the analyses a frozen choice rests on."""
    findings = []
    for key in dict.fromkeys(pick.analysis_id for pick in picks.values()):
        analysis = known.get(key)
        if analysis is not None and analysis.state == "valid":
            continue
        gone = "no longer stands in the record for this heat"
        seen = gone if analysis is None else f"now {analysis.state} ({analysis.why})"
        elements = ", ".join(element for element, pick in picks.items() if pick.analysis_id == key)
        findings.append(
            Finding(
                "CHEM-AMENDED",
                f"heat {heat_no}, analysis A-{key}",
                f"{seen}; the frozen cast analysis has {elements} from it",
                "a cast analysis of valid analyses",
                "hold the heat, and decide it anew on the present analyses",
            )
        )
    return findings


def _late(heat_no: str, picks: Mapping[str, Pick], now: CastChoice) -> list[Finding]:
    """Where the ladder would choose differently now than when the choice was frozen."""
    differing = [
        f"{element} {pick.amount.shown()} of {pick.analysis_no}"
        for element, pick in now.picks.items()
        if element not in picks or picks[element].analysis_id != pick.analysis_id
    ]
    if not differing:
        return []
    return [
        Finding(
            "CHEM-LATE",
            f"heat {heat_no}",
            f"the ladder would now take {', '.join(differing)}",
            "the frozen cast analysis",
            "compare them; a decision stays as it was made until a person decides anew",
        )
    ]
