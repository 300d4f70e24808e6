"""Facts the cast-analysis ladder sees, and the choice it gives."""

from __future__ import annotations

from collections.abc import Mapping

from heattrace.findings import Finding
from heattrace.metallurgy.amount import Amount
from heattrace.values import dataclass, field


@dataclass(frozen=True, slots=True)
class AnalysisFacts:
    """One run on a sample. `state` is `received`, `valid`, `doubtful`, `contested`, `set-aside` or `superseded`;
    `analysed_at` is any text that sorts in time, or None; `results` are by element symbol, mass %."""

    analysis_no: str
    analysis_id: int
    method: str
    instrument: str | None
    state: str
    analysed_at: str | None
    results: Mapping[str, Amount] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SampleFacts:
    """One sample of a heat. `sound` is False for a condemned one; `additions_after` says whether anything was added to
    the heat after it was taken, None where that is not known."""

    sample_id: str
    kind: str
    taken_at: str | None
    sound: bool
    additions_after: bool | None
    analyses: tuple[AnalysisFacts, ...]


@dataclass(frozen=True, slots=True)
class Pick:
    """Which result speaks for one element of the heat, and by which rule."""

    analysis_no: str
    analysis_id: int
    sample_id: str
    kind: str
    method: str
    rule: str
    amount: Amount


@dataclass(frozen=True, slots=True)
class CastChoice:
    """The cast analysis of a heat: picks by element, the rung that gave its base, and the reasons in words.

    `picks` is empty where none can be chosen; `rule` is then empty too and `words` say why.
    """

    heat_no: str
    picks: Mapping[str, Pick]
    rule: str
    words: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()

    def composition(self) -> dict[str, Amount]:
        """The contents that speak for the heat, mass %."""
        return {element: pick.amount for element, pick in self.picks.items()}
