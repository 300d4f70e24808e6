"""Finding samples and analyses by their numbers, and listing them."""

from __future__ import annotations

from heattrace.errors import NotFound
from heattrace.findings import Finding
from heattrace.store.number_form import searched
from heattrace.store.reader import Reader
from heattrace.tracing.analyses import RecordedAnalysis, RecordedSample, samples_by_key
from heattrace.tracing.chemistry_questions import (
    NEWEST_SAMPLES,
    SAMPLE_OF_ANALYSIS,
    SAMPLES_BETWEEN,
    SAMPLES_NUMBERED,
)

LISTED = 12


def newest_samples(reader: Reader, most: int) -> tuple[list[RecordedSample], bool]:
    """The samples entered last, in the order they came, and whether there are more."""
    rows = reader.all(NEWEST_SAMPLES, most=most + 1)
    keys = [row["sample_key"] for row in rows[:most]]
    found = {sample.sample_key: sample for sample in samples_by_key(reader, keys)}
    return [found[key] for key in reversed(keys)], len(rows) > most


def samples_numbered(reader: Reader, number: str) -> list[RecordedSample]:
    """All samples of a number; a number may have come back with another heat.

    Raises
    ------
    NotFound
        None bears it; the findings list those that begin so.
    """
    asked = searched(number)
    keys = [row["sample_key"] for row in reader.all(SAMPLES_NUMBERED, number=asked)]
    if keys:
        return samples_by_key(reader, keys)
    near: list[Finding] = []
    if asked:
        beyond = asked[:-1] + chr(ord(asked[-1]) + 1)
        near = [
            Finding("NUMBER-NEAR", row["written_id"], f'"{number}"', "a sample whose number begins so")
            for row in reader.all(SAMPLES_BETWEEN, first=asked, beyond=beyond, most=LISTED)
        ]
    raise NotFound(f'no sample "{number}"; "heattrace sample list --heat HEAT" lists those of a heat', findings=near)


def analysis_key(text: str) -> int | None:
    """Key of an analysis from our number `A-12`; None where the text is no such number.

    >>> analysis_key("A-12"), analysis_key("a-12"), analysis_key("41878"), analysis_key("A-x")
    (12, 12, None, None)
    """
    head, _, rest = text.strip().partition("-")
    return int(rest) if head.upper() == "A" and rest.isascii() and rest.isdigit() and len(rest) < 18 else None


def analysis_numbered(reader: Reader, key: int) -> tuple[RecordedSample, RecordedAnalysis]:
    """An analysis by its key, with its sample.

    Raises
    ------
    NotFound
        There is none, or it was undone.
    """
    sample_key = reader.scalar(SAMPLE_OF_ANALYSIS, analysis=key)
    if sample_key is not None:
        for sample in samples_by_key(reader, [sample_key]):
            for analysis in sample.analyses:
                if analysis.analysis_id == key:
                    return sample, analysis
    raise NotFound(f'no analysis A-{key}; "heattrace sample list --heat HEAT" lists those of a heat')
