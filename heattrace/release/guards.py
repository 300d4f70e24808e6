"""What bars a release: the guards between undecided and released, each naming what is missing."""

from __future__ import annotations

from collections.abc import Iterable

from heattrace.errors import WrongUsage
from heattrace.findings import Finding
from heattrace.judging.judgement import MEETS
from heattrace.store.reader import Reader, listed
from heattrace.tracing.chemistry import HeatChemistry
from heattrace.tracing.quality import HELD, REJECTED, Quality
from heattrace.values import dataclass

# Findings that say why a verdict is not `meets`; those told beside a verdict bar nothing by themselves.
_BARRING = ("CHEM-", "ESTIMATE", "ORDER", "GRADE")
_TOLD = frozenset({"CHEM-DISAGREE", "CHEM-LATE", "CHEM-AMENDED"})

DISAGREE = "CHEM-DISAGREE"

ENTERED_BY = """
SELECT a.analysis_id, l.by FROM analysis a JOIN ledger l ON l.entry_no = a.entry_no
WHERE a.analysis_id IN ({keys})
"""
AUTHORITIES = "SELECT count(*) FROM authority a WHERE {live:a}"


@dataclass(frozen=True, slots=True)
class Despite:
    """A finding a person releases in spite of, and why in their words."""

    code: str
    note: str

    def as_json(self) -> dict[str, str]:
        """Code and words."""
        return {"code": self.code, "note": self.note}


def read_despite(code: str | None, note: str | None) -> Despite | None:
    """What a person said with `--despite` and `--note`.

    Raises
    ------
    WrongUsage
        Another code than CHEM-DISAGREE, no words beside it, or words without a code.
    """
    words = (note or "").strip()
    if code is None:
        if words:
            raise WrongUsage("--note goes with --despite CHEM-DISAGREE: say what is released in spite of")
        return None
    if code.strip().upper() != DISAGREE:
        raise WrongUsage(f'--despite: found "{code}"; only {DISAGREE} can be passed over by a person')
    if not words:
        raise WrongUsage("--note: say in words why the steel is released although analyses disagree")
    return Despite(DISAGREE, words)


def disagreement_bar(chemistry: Iterable[HeatChemistry], despite: Despite | None) -> list[Finding]:
    """Analyses that contradict each other, or a contested one passed over, wait for a person's word."""
    if despite is not None:
        return []
    return [finding for each in chemistry for finding in each.disagreements()]


def unsigned_bar(reader: Reader) -> list[Finding]:
    """From the first enrolled authority on a release has to be signed."""
    if not reader.scalar(AUTHORITIES):
        return []
    return [
        Finding(
            "NOT-SIGNED", "release", "no signature", "a signature: an authority is enrolled", "sign with --key FILE"
        )
    ]


def quality_bar(subject: str, quality: Quality) -> list[Finding]:
    """Held never goes straight to released, rejected never at all."""
    if quality.value == HELD:
        return [
            Finding(
                "HELD", subject, cause.words, "no hold on it", f'lift it on its evidence: "heattrace lift {cause.ref}"'
            )
            for cause in quality.deciding()
        ]
    if quality.value == REJECTED:
        return [Finding("REJECTED", subject, quality.because, "steel that was not rejected")]
    return []


def verdict_bar(subject: str, requirement: str, verdict: str, findings: Iterable[Finding]) -> list[Finding]:
    """Undecided never ships: only `meets` can be released."""
    if verdict == MEETS:
        return []
    named = [f for f in findings if f.code.startswith(_BARRING) and f.code not in _TOLD]
    return named or [
        Finding("NOT-MET", subject, f"verdict {verdict} for {requirement}", "meets", f'see "heattrace judge {subject}"')
    ]


def same_person_bar(reader: Reader, by: str, chemistry: Iterable[HeatChemistry]) -> list[Finding]:
    """Nobody releases on a result they entered."""
    picks = {p.analysis_id: (c.heat_no, p.analysis_no) for c in chemistry for p in c.choice.picks.values()}
    if not picks:
        return []
    rows = reader.all(ENTERED_BY.replace("{keys}", listed(picks)))
    return [
        Finding(
            "SAME-PERSON",
            f"{picks[r['analysis_id']][1]} of heat {picks[r['analysis_id']][0]}",
            f"entered by {r['by']}, who would release on it",
            "two people: who enters a deciding result and who releases on it",
            "let another authorised person release",
        )
        for r in rows
        if r["by"].strip().casefold() == by.strip().casefold()
    ]
