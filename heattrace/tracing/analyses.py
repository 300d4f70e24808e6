"""Samples and analyses as the record holds them: digits as reported, and the state each analysis is in now."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import tzinfo
from decimal import Decimal
from typing import Any

from heattrace.judging.cast_choice import AnalysisFacts, SampleFacts
from heattrace.metallurgy.amount import NOT_REPORTED, UNREPORTED, Amount
from heattrace.metallurgy.elements import ELEMENTS, REPORT_ORDER
from heattrace.store.reader import Reader, Row
from heattrace.store.recorded import shown_at
from heattrace.tracing.chemistry_questions import (
    AMENDMENTS,
    ANALYSES,
    ANALYSIS_STATES,
    BURNS,
    RESULTS,
    SAMPLE_STATES,
    SAMPLES_BY_KEY,
    SAMPLES_OF_HEATS,
    SAMPLES_OF_PARTS,
)
from heattrace.values import dataclass

PPB_PLACES = 7  # a part per billion is 1e-7 mass %
UNIT = "%"


_PLACE_IN_REPORT = {element: place for place, element in enumerate(REPORT_ORDER)}


@dataclass(frozen=True, slots=True)
class Reported:
    """One result. `unit` is the one the file wrote; the amount is in mass %, the point shifted, no digit added.

    `method` names the element's own method where it differs from the analysis's. `places_lost` says that a spreadsheet
    may have dropped trailing zeros.
    """

    amount: Amount
    unit: str
    method: str
    places_lost: bool


@dataclass(frozen=True, slots=True)
class RecordedAnalysis:
    """One analysis with its state now. `why` says in words how it came to that state, where anything is known."""

    analysis_id: int
    method: str
    instrument: str
    profile: str
    analysed_at: int
    state: str
    why: str
    laboratory: str | None
    report_no: str | None
    results: Mapping[str, Reported]

    @property
    def analysis_no(self) -> str:
        """Our number: `A-12`."""
        return f"A-{self.analysis_id}"

    def amounts(self) -> dict[str, Amount]:
        """What it reports, mass %, elements in report order."""
        return {element: result.amount for element, result in self.results.items()}

    def as_json(self, *, is_cast: bool) -> dict[str, Any]:
        """The promised object of one analysis in `samples`; a result nobody reported has null digits."""
        return {
            "analysis_no": self.analysis_no,
            "method": self.method,
            "state": self.state,
            "is_cast": is_cast,
            "results": [
                {"element": element, "reported": digits(result.amount), "unit": UNIT}
                for element, result in self.results.items()
            ],
        }


@dataclass(frozen=True, slots=True)
class RecordedSample:
    """One sample with its analyses, earliest first. `sound` is False for a condemned one, whose note is `why`."""

    sample_key: int
    sample_id: str
    heat_id: int | None
    heat_no: str | None
    kind: str
    taken_at: int | None
    state: str
    why: str
    particulars: Mapping[str, str]
    part_id: int | None
    piece_no: str | None
    analyses: tuple[RecordedAnalysis, ...]

    @property
    def sound(self) -> bool:
        """Whether its metal may be trusted."""
        return self.state != "condemned"

    def as_json(self, zone: tzinfo, cast_ids: frozenset[int]) -> dict[str, Any]:
        """The promised object of one sample."""
        return {
            "sample_id": self.sample_id,
            "kind": self.kind,
            "heat_no": self.heat_no,
            "taken_at": shown_at(self.taken_at, zone),
            "analyses": [a.as_json(is_cast=a.analysis_id in cast_ids) for a in self.analyses],
        }

    def facts(self, additions_after: bool | None) -> SampleFacts:
        """What the ladder sees of it."""
        analyses = tuple(facts for analysis in self.analyses for facts in _facts(analysis))
        taken = None if self.taken_at is None else _sortable(self.taken_at)
        return SampleFacts(self.sample_id, self.kind, taken, self.sound, additions_after, analyses)


def _facts(analysis: RecordedAnalysis) -> Iterator[AnalysisFacts]:
    """An analysis for the ladder; elements with a method of their own stand before it as runs of that method."""
    by_method: dict[str, dict[str, Amount]] = {}
    for element, result in analysis.results.items():
        by_method.setdefault(result.method, {})[element] = result.amount
    main = by_method.pop("", {})
    for method, results in (*by_method.items(), (analysis.method, main)):
        yield AnalysisFacts(
            analysis.analysis_no,
            analysis.analysis_id,
            method,
            analysis.instrument or None,
            analysis.state,
            _sortable(analysis.analysed_at),
            results,
        )


def _sortable(at: int) -> str:
    return f"{at:020d}"


def digits(amount: Amount) -> str | None:
    """Reported digits with their `<` or `>`, or the source's word for over the range; None where nothing was said."""
    return (amount.text or None) if amount.qualifier == NOT_REPORTED else amount.shown()


def amount_of(value_ppb: int | None, qualifier: str, places: int, text: str | None) -> Amount:
    """The reported content from its stored whole number and form, or from the stored text where there is one.

    >>> amount_of(1820000, "=", 3, None), amount_of(20000, "<", 4, None).shown(), amount_of(2000000, "=", 1, None).text
    (Amount(qualifier='=', value=Decimal('0.182'), text='0.182'), '<0.0020', '0.2')
    """
    if qualifier == NOT_REPORTED or (value_ppb is None and text is None):
        # A word for "over the range" stands in the text: the content is unknown, but somebody saw something.
        return Amount(NOT_REPORTED, None, text) if text else UNREPORTED
    shown = text if text is not None else _digits_of(value_ppb or 0, places)
    return Amount(qualifier, Decimal(shown), shown)


def _digits_of(value_ppb: int, places: int) -> str:
    sign, number = ("-", -value_ppb) if value_ppb < 0 else ("", value_ppb)
    plain = str(number).rjust(PPB_PLACES + 1, "0")
    whole, part = plain[:-PPB_PLACES], plain[-PPB_PLACES:][:places]
    return f"{sign}{whole}.{part}" if part else f"{sign}{whole}"


def samples_of_heats(reader: Reader, heat_ids: Iterable[int]) -> list[RecordedSample]:
    """Samples of some heats with all their analyses, in the order they were taken."""
    return _samples(reader, list(reader.by_keys(SAMPLES_OF_HEATS, sorted(set(heat_ids)))))


def samples_of_parts(reader: Reader, part_ids: Iterable[int]) -> list[RecordedSample]:
    """Samples cut from some parts with all their analyses."""
    return _samples(reader, list(reader.by_keys(SAMPLES_OF_PARTS, sorted(set(part_ids)))))


def samples_by_key(reader: Reader, sample_keys: Sequence[int]) -> list[RecordedSample]:
    """Samples by their keys with all their analyses."""
    return _samples(reader, list(reader.by_keys(SAMPLES_BY_KEY, sample_keys)))


def _samples(reader: Reader, rows: Sequence[Row]) -> list[RecordedSample]:
    keys = sorted(row["sample_key"] for row in rows)
    states = {row["sample_key"]: row for row in reader.by_keys(SAMPLE_STATES, keys)}
    analyses: dict[int, list[RecordedAnalysis]] = {}
    for sample_key, analysis in _analyses(reader, list(reader.by_keys(ANALYSES, keys))):
        analyses.setdefault(sample_key, []).append(analysis)
    return [_sample(row, states.get(row["sample_key"]), analyses.get(row["sample_key"], ())) for row in rows]


def _sample(row: Row, state: Row | None, analyses: Sequence[RecordedAnalysis]) -> RecordedSample:
    words = {
        "tundish": row["tundish"], "strand_no": row["strand_no"], "position_m": row["position_text"],
        "ladle_mass_left_t": row["ladle_mass_left_text"], "piece_end": row["piece_end"],
        "laboratory": row["laboratory"], "report_no": row["report_no"],
    }  # fmt: skip
    return RecordedSample(
        row["sample_key"],
        row["written_id"],
        row["heat_id"],
        row["heat_no"],
        row["kind"],
        row["taken_at"],
        "" if state is None else state["state"],
        "" if state is None else state["note"],
        {name: str(value) for name, value in words.items() if value is not None},
        row["part_id"],
        row["piece_no"],
        tuple(analyses),
    )


def _analyses(reader: Reader, rows: Sequence[Row]) -> Iterator[tuple[int, RecordedAnalysis]]:
    keys = sorted(row["analysis_id"] for row in rows)
    states = {row["analysis_id"]: row for row in reader.by_keys(ANALYSIS_STATES, keys)}
    amended = {row["supersedes_id"]: row for row in reader.by_keys(AMENDMENTS, keys) if _stands(row)}
    results = results_of(reader, keys)
    for row in rows:
        key = row["analysis_id"]
        state, why = _state_now(row, states.get(key), amended.get(key))
        yield (
            row["sample_key"],
            RecordedAnalysis(
                key, row["method"], row["instrument"], row["profile"], row["analysed_at"], state, why,
                row["laboratory"], row["report_no"], results.get(key, {}),
            ),
        )  # fmt: skip


def _stands(amendment: Row) -> bool:
    """An amendment that is itself contested or set aside takes nothing's place."""
    return (amendment["later"] or amendment["state"]) not in ("contested", "set-aside")


def _state_now(row: Row, later: Row | None, amendment: Row | None) -> tuple[str, str]:
    if amendment is not None:
        return "superseded", f"amended by A-{amendment['analysis_id']}"
    if later is not None:
        return later["state"], f"{later['reason']}: {later['note']}"
    return row["state"], _words_of_entry(row["state_reason"])


def _words_of_entry(state_reason: str | None) -> str:
    """The findings an analysis came in with, in words."""
    try:
        found = json.loads(state_reason) if state_reason else []
    except ValueError:
        return str(state_reason)
    said = [f"{f['code']}: {f['seen']}" if isinstance(f, dict) and "code" in f else str(f) for f in _listed(found)]
    return "; ".join(said)


def _listed(found: Any) -> list[Any]:
    return found if isinstance(found, list) else [found]


def results_of(reader: Reader, analysis_ids: Sequence[int]) -> dict[int, dict[str, Reported]]:
    """Results by analysis and element, elements in report order."""
    found: dict[int, dict[str, Reported]] = {}
    for row in reader.by_keys(RESULTS, analysis_ids):
        amount = amount_of(row["value_ppb"], row["qualifier"], row["places"], row["reported"])
        element = ELEMENTS[row["element_id"] - 1]
        result = Reported(amount, row["unit"], row["method"], bool(row["places_lost"]))
        found.setdefault(row["analysis_id"], {})[element] = result
    return {
        key: dict(sorted(results.items(), key=lambda pair: _PLACE_IN_REPORT[pair[0]])) for key, results in found.items()
    }


def burns_of(reader: Reader, analysis_ids: Sequence[int]) -> dict[int, list[tuple[str, dict[str, Any]]]]:
    """Burns by analysis: the burn as written, and its contents by element as they were packed."""
    found: dict[int, list[tuple[str, dict[str, Any]]]] = {}
    for row in reader.by_keys(BURNS, sorted(analysis_ids)):
        found.setdefault(row["analysis_id"], []).append((row["written"], json.loads(row["packed"])))
    return found
