"""Analyses into the record: the heat a row names, the sample, the analysis by its identity, its results in bulk.

Identity of an analysis: profile, sample, method, instrument, moment; of a result: plus element. The same values again
are `same`; more elements of a known analysis make it fuller; other values make a new, contested analysis.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import NamedTuple

from heattrace.findings import Finding
from heattrace.intake.loading.amendments import amended_analysis
from heattrace.intake.loading.analysis_pack import ResultPacker, adding, differing, packed_burn, report_of
from heattrace.intake.loading.analysis_rows import AnalysisRows, Placed
from heattrace.intake.loading.factor_ten import GradeBands
from heattrace.intake.loading.late_results import late_findings
from heattrace.intake.loading.numbers import LATER_KINDS, KnownHeat, Numbers, Unknown
from heattrace.intake.loading.samples_known import (
    PARTICULARS,
    Identity,
    KnownAnalysis,
    KnownSample,
    analyses_by_identity,
    later_states,
    samples_by_number,
)
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import AnalysisBatch, AnalysisRecord, FileContent, RowRecord
from heattrace.store.recorded import shown_at
from heattrace.store.work import Work

# A moment may lie this far ahead of the computer's clock before it is not believed [ms] (engineering default).
AHEAD_MS = 15 * 60_000
# Taken before the ladle has its steel, so before the tapping moment too.
BEFORE_TAP = frozenset(("furnace", "tap", "control")) | LATER_KINDS

Raw = Callable[[int], bytes]


class Faulty(NamedTuple):
    """Why an analysis goes to the bench: our column, what stands there, code, expected, step."""

    column: str | None
    found: str
    code: str
    wanted: str
    step: str


def load_analyses(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the analyses of a file read as a whole."""
    loader = AnalysisLoader(work, batch, places_lost=content.places_lost)
    for sheet in content.sheets.values():
        loader.take(sheet.analyses, content.raw, sheet.findings)
        loader.counts.bench += sheet.bench
        loader.counts.findings += sheet.findings
        loader.counts.same += sheet.repeated
    return loader.done()


def load_analysis_batches(
    work: Work, batches: Iterable[AnalysisBatch], batch: BatchInHand, places_lost: dict[str, int] | None = None
) -> LoadCounts:
    """Write the analyses of a file as it is read, lot by lot."""
    loader = AnalysisLoader(work, batch, places_lost=places_lost)
    for lot in batches:
        loader.take(lot.analyses, lot.raw, lot.findings)
        loader.counts.bench += lot.bench
        loader.counts.findings += lot.findings
        loader.counts.same += lot.repeated
    return loader.done()


class AnalysisLoader:
    """Writes analyses for one import; `counts` says what became of their rows.

    `attached` is a heat a person has named for all of them.
    """

    def __init__(
        self, work: Work, batch: BatchInHand, *, places_lost: dict[str, int] | None = None, attached: int | None = None
    ) -> None:
        self.work, self.batch = work, batch
        self.counts = LoadCounts()
        self.numbers = Numbers(work.reader, attached=attached)
        self.packer = ResultPacker(work)
        self.rows = AnalysisRows(work, batch, self.packer, places_lost or {})
        self.bands = GradeBands(work.reader)
        self.heat_samples = self.early = 0
        self.touched: set[int] = set()

    def take(self, analyses: Sequence[AnalysisRecord], raw: Raw, findings: Sequence[Finding] = ()) -> None:
        """Write some analyses, or set their rows aside."""
        self.numbers.prepare_heats({a.heat_no.normal for a in analyses if a.heat_no is not None})
        samples = samples_by_number(self.work.reader, {a.sample_id.normal for a in analyses})
        self.rows.begin(findings)
        placed, first_made = [], self.rows.next_sample
        for record in analyses:
            found = self._place(record, samples)
            if isinstance(found, Faulty):
                self._set_aside(record, found, raw)
            else:
                placed.append(found)
        # A sample made just now has no analyses yet.
        wanted = {_identity(p) for p in placed if p.sample_key < first_made}
        known = analyses_by_identity(self.work.reader, self.batch.profile.name, wanted)
        for each in placed:
            self._settle(each, known)
        self.rows.flush()

    def done(self) -> LoadCounts:
        """The counts, with what only all rows together show."""
        if self.early >= 3 and self.early == self.heat_samples:
            self.counts.notes.append(
                f"all {self.early} samples lie before the tapping of their heats: is the clock of this source wrong? "
                "Compare it with the works' clock before mending rows one by one"
            )
        self.counts.findings += late_findings(self.work.reader, self.touched)
        return self.counts

    def _place(self, record: AnalysisRecord, samples: dict[str, list[KnownSample]]) -> Placed | Faulty:
        at = record.taken_at or record.analysed_at
        heat: KnownHeat | None = None
        part_id: int | None = None
        if (fault := self._moment_fault(record)) is not None:
            return fault
        if record.sample_kind != "control":
            found = self._heat_and_part(record, None if at is None else at.utc_ms)
            if isinstance(found, Faulty):
                return found
            heat, part_id = found
        if (fault := self._before_tap(record, heat)) is not None:
            return fault
        known = samples.setdefault(record.sample_id.normal, [])
        sample = self._sample(record, heat, part_id, known)
        if isinstance(sample, Faulty):
            return sample
        amends = self._amended(record, sample, heat)
        return amends if isinstance(amends, Faulty) else Placed(record, sample.sample_key, heat, amends)

    def _heat_and_part(self, record: AnalysisRecord, at: int | None) -> tuple[KnownHeat | None, int | None] | Faulty:
        part_id = None
        if record.piece_no is not None:
            part = self.numbers.part(record.piece_no)
            if isinstance(part, Unknown):
                return Faulty("piece_no", record.piece_no.original, part.code, part.wanted, part.step)
            part_id = int(part["part_id"])
        if record.heat_no is None and self.numbers.attached is None:
            if part_id is not None:
                return None, part_id
            return Faulty("heat_no", "", "ROW71", "a heat number, or kind control", "Mend it: bench fix NUMBER "
                          "--set heat_no=HEAT --reason TYPING")  # fmt: skip
        ident = record.heat_no or record.sample_id
        heat = self.numbers.heat(ident, at, later=record.sample_kind in LATER_KINDS)
        if isinstance(heat, Unknown):
            return Faulty("heat_no", ident.original, heat.code, heat.wanted, heat.step)
        return heat, part_id

    def _moment_fault(self, record: AnalysisRecord) -> Faulty | None:
        taken, analysed = record.taken_at, record.analysed_at
        mend = "Mend it: bench fix NUMBER --set {}=TIME --reason TYPING"
        for column, moment in (("taken_at", taken), ("analysed_at", analysed)):
            if moment is not None and moment.utc_ms > self.work.now + AHEAD_MS:
                return Faulty(column, moment.text, "ROW29", "a moment that has come", mend.format(column))
        if analysed is None:
            return Faulty("analysed_at", "", "ROW01", "analysed_at filled in", mend.format("analysed_at"))
        if taken is not None and analysed.utc_ms < taken.utc_ms:
            wanted = f"a moment not before it was taken ({taken.text})"
            return Faulty("analysed_at", analysed.text, "REC06", wanted, mend.format("analysed_at"))
        return None

    def _before_tap(self, record: AnalysisRecord, heat: KnownHeat | None) -> Faulty | None:
        taken = record.taken_at
        if heat is None or heat.tapped_at is None or taken is None or record.sample_kind in BEFORE_TAP:
            return None
        self.heat_samples += 1
        if taken.utc_ms < heat.tapped_at:
            self.early += 1
            wanted = f"a moment after heat {heat.heat_no} was tapped ({shown_at(heat.tapped_at, self.numbers.zone)})"
            step = "Mend it: bench fix NUMBER --set taken_at=TIME --reason TYPING"
            return Faulty("taken_at", taken.text, "REC07", wanted, step)
        return None

    def _sample(
        self, record: AnalysisRecord, heat: KnownHeat | None, part_id: int | None, known: list[KnownSample]
    ) -> KnownSample | Faulty:
        heat_id = None if heat is None else heat.heat_id
        own = next((s for s in known if s.heat_id == heat_id), None)
        if own is None and known and self.numbers.attached is None:
            other = known[0]
            is_for = f"heat {other.heat_no}" if other.heat_no else f"a {other.kind} sample"
            this = f"heat {heat.heat_no}" if heat else f"a {record.sample_kind} sample"
            return Faulty(
                "sample_id", record.sample_id.original, "REC04",
                f"a sample of {this}; the record has this number for {is_for}",
                f"If this row is {is_for} or the number was used twice, name the heat: "
                f"bench attach NUMBER --heat {other.heat_no or 'HEAT'} --reason WRONG-HEAT",
            )  # fmt: skip
        if own is None:
            sample = self.rows.new_sample(record, heat, part_id)
            known.append(sample)
            return sample
        if own.kind != record.sample_kind:
            wanted = f"{own.kind}, as this sample is known"
            step = "Mend it: bench fix NUMBER --set sample_kind=KIND --reason TYPING"
            return Faulty("sample_kind", record.sample_kind, "REC05", wanted, step)
        self._compare_particulars(record, own, part_id)
        return own

    def _compare_particulars(self, record: AnalysisRecord, sample: KnownSample, part_id: int | None) -> None:
        for name, value in zip(PARTICULARS, self.rows.particulars(record, part_id), strict=True):
            before = sample.particulars.get(name)
            if value is not None and before is not None and value != before:
                was = shown_at(before, self.numbers.zone) if name == "taken_at" else str(before)
                now = shown_at(value, self.numbers.zone) if name == "taken_at" else str(value)
                self.counts.findings.append(
                    Finding(
                        "REC30", self._subject(record), f"{name} {now}", f"{was}, as sample "
                        f"{record.sample_id.normal} is known", "The record keeps what it had; say so if it is wrong",
                    )
                )  # fmt: skip

    def _amended(self, record: AnalysisRecord, sample: KnownSample, heat: KnownHeat | None) -> int | Faulty | None:
        if not record.supersedes:
            return None
        found = amended_analysis(self.work, record, sample.sample_key, None if heat is None else heat.heat_id)
        if len(found) == 1:
            return found[0]
        listed = ", ".join(f"A-{key}" for key in found)
        wanted = "the number (A-...), the report or the sample of one earlier analysis of this heat"
        step = f"It fits {listed}. " if found else "None fits. "
        return Faulty(
            "supersedes", record.supersedes, "REC14", wanted,
            f"{step}Mend it: bench fix NUMBER --set supersedes=A-... --reason TYPING",
        )  # fmt: skip

    def _settle(self, placed: Placed, known: dict[Identity, list[KnownAnalysis]]) -> None:
        record, count = placed.record, len(placed.record.rows)
        others = known.setdefault(_identity(placed), [])
        if not others:
            self.counts.taken += count
            others.append(self._write(placed, "valid" if record.results else "received"))
            return
        new = {element: report_of(amount) for element, amount in record.results.items()}
        burns = [(burn.burn, packed_burn(burn.results)) for burn in record.burns]
        for other in others:
            before = other.results(self.packer)
            if not differing(before, new) and not adding(before, new) and _holds(other, burns):
                self.counts.same += count
                return
        first = others[0] if others[0].state != "contested" else None
        if first is None or placed.amends == first.analysis_id:
            self.counts.taken += count
            made = self._write(placed, "valid" if new else "received", end=first)
        elif not differing(before := first.results(self.packer), new) and not _clashing(first, burns):
            more = len(adding(before, new))
            added = count if count == 1 else min(count, max(more, count - len(new)))
            self.counts.taken += added
            self.counts.same += count - added
            others.remove(first)
            made = self.rows.fuller(placed, first, later_states(self.work.reader, first.analysis_id))
            self._touch(placed)
        else:
            self.counts.contested += count
            made = self._write(placed, "contested", against=first)
        others.append(made)

    def _write(
        self, placed: Placed, state: str, *, end: KnownAnalysis | None = None, against: KnownAnalysis | None = None
    ) -> KnownAnalysis:
        record = placed.record
        self._touch(placed)
        doubts = self.rows.doubts(record)
        if placed.heat is not None and state == "valid":
            subject = partial(self._element_subject, record)
            doubts += self.bands.doubts(placed.heat.heat_id, record.sample_kind, record.results, subject)
        if state == "received":
            self.counts.findings.append(
                Finding(
                    "REC33", self._subject(record), f"{len(record.burns)} burns, no mean", "a mean row",
                    "It has no results until a person says which burns count",
                )
            )  # fmt: skip
        if against is not None:
            clash = Finding("REC32", self._subject(record), self._clash(record, against),
                            f"the values of A-{against.analysis_id}, the same analysis as known before",
                            "Ask the laboratory whether it is a re-burn, an amendment or a mix-up")  # fmt: skip
            self.counts.findings.append(clash)
            doubts = [*doubts, clash]
        elif doubts:
            self.counts.findings += [f for f in doubts if f not in self.rows.findings]
            state = "doubtful"
        return self.rows.write(placed, state, doubts, end)

    def _touch(self, placed: Placed) -> None:
        if placed.heat is not None:
            self.touched.add(placed.heat.heat_id)

    def _clash(self, record: AnalysisRecord, against: KnownAnalysis) -> str:
        new = {element: report_of(amount) for element, amount in record.results.items()}
        before = against.results(self.packer)
        shown = [
            f"{e} {record.results[e].shown()} (known {before[e].qualifier.replace('=', '')}{before[e].digits})"
            for e in differing(before, new)
        ]
        return ", ".join(shown) or "other burns"

    def _set_aside(self, record: AnalysisRecord, why: Faulty, raw: Raw) -> None:
        for row in record.rows:
            stand_in = RowRecord(record.sheet, row, {}, raw(row))
            self.counts.bench.append(
                self.batch.fault(stand_in, why.column, why.code, why.wanted, why.step, found=why.found.strip())
            )

    def _element_subject(self, record: AnalysisRecord, element: str) -> str:
        return self.batch.element_subject(_first_row(record), element)

    def _subject(self, record: AnalysisRecord) -> str:
        return self.batch.subject(_first_row(record))


def _first_row(record: AnalysisRecord) -> RowRecord:
    return RowRecord(record.sheet, record.rows[0] if record.rows else 0, {}, b"")


def _identity(placed: Placed) -> Identity:
    analysed = placed.record.analysed_at
    assert analysed is not None
    return (placed.sample_key, placed.record.method, placed.record.instrument or "", analysed.utc_ms)


def _holds(known: KnownAnalysis, burns: Sequence[tuple[str, bytes]]) -> bool:
    return all(burn in known.burns for burn in burns)


def _clashing(known: KnownAnalysis, burns: Sequence[tuple[str, bytes]]) -> bool:
    before = dict(known.burns)
    return any(before.get(label, packed) != packed for label, packed in burns)
