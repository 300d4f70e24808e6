"""Which earlier analysis a row amends, by what it writes under `supersedes`."""

from __future__ import annotations

from typing import Any

from heattrace.intake.reading.parsing import searched
from heattrace.intake.reading.records import AnalysisRecord
from heattrace.store.work import Work

_BY_KEY = """
SELECT a.analysis_id FROM analysis a JOIN sample s ON s.sample_key = a.sample_key
WHERE {live:a} AND a.analysis_id = :key AND (s.sample_key = :sample OR s.heat_id = :heat)
"""
_BY_REPORT = """
SELECT a.analysis_id FROM analysis a JOIN sample s ON s.sample_key = a.sample_key
WHERE {live:a} AND a.report_no = :text AND (s.sample_key = :sample OR s.heat_id = :heat) ORDER BY a.analysis_id
"""
_BY_SAMPLE = """
SELECT a.analysis_id FROM analysis a JOIN sample s ON s.sample_key = a.sample_key
WHERE {live:a} AND a.state <> 'contested' AND a.method = :method AND s.sample_id = :text
AND (s.sample_key = :sample OR s.heat_id = :heat) ORDER BY a.analysis_id
"""


def amended_analysis(work: Work, record: AnalysisRecord, sample_key: int, heat_id: int | None) -> list[int]:
    """Analyses that `supersedes` may mean, on the same sample or heat: our number `A-12`, else a report number, else a
    sample number with the same method."""
    text = (record.supersedes or "").strip()
    subject: dict[str, Any] = {"sample": sample_key, "heat": heat_id}
    if text[:2].upper() == "A-" and text[2:].isdigit():
        return [row[0] for row in work.reader.all(_BY_KEY, key=int(text[2:]), **subject)]
    found = [row[0] for row in work.reader.all(_BY_REPORT, text=text, **subject)]
    if found:
        return found
    rows = work.reader.all(_BY_SAMPLE, text=searched(text), method=record.method, **subject)
    return [row[0] for row in rows]
