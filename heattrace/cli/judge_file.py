"""`judge --file`: every analysis of a file against one grade; nothing is written and no record is needed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NoReturn

from heattrace.cli.grade_source import named_grade, reader_of
from heattrace.cli.output import Answer, give, table
from heattrace.cli.typed_product import Product, typed_requirement
from heattrace.errors import WrongUsage
from heattrace.findings import Finding
from heattrace.intake.profiles.profile_shelf import find_profile
from heattrace.intake.reading.opening import open_file
from heattrace.intake.reading.records import AnalysisRecord, FileContent
from heattrace.judging.judge import judge
from heattrace.judging.judgement import MEETS, Judgement

Judged = tuple[AnalysisRecord, Judgement]


def judge_file(
    path: Path, profile: str, grade: str, *, basis: str, product: Product, db: str, as_json: bool
) -> NoReturn:
    """Judge every analysis of a file and end the command."""
    reader = reader_of(db)
    try:
        found = named_grade(grade, reader, db)
        layout = find_profile(reader, profile).profile
    finally:
        if reader is not None:
            reader.close()
    if layout.takes != "analyses":
        raise WrongUsage(f"--profile: {layout.name} takes {layout.takes}; a profile of analyses was expected")
    requirement = typed_requirement(found.grade, product)
    content = open_file(path, layout)
    judged = [
        (analysis, judge(analysis.results, requirement, basis=basis, subject=_subject(analysis)))
        for analysis in content.analyses
        if analysis.sample_kind != "control"
    ]
    findings = [finding for _, judgement in judged for finding in judgement.findings]
    whole = bool(judged) and not content.bench and all(judgement.verdict == MEETS for _, judgement in judged)
    give(
        Answer(
            "judge",
            {"results": [_result_json(analysis, judgement) for analysis, judgement in judged]},
            lines=lambda: _lines(content, requirement.text, judged),
            findings=[*findings, *content.findings, *set_aside(content)],
            messages=[*_counts(content, len(judged)), *found.messages()],
            status="done" if whole else "attention",
            practice=found.practice,
        ),
        as_json=as_json,
    )


def _subject(analysis: AnalysisRecord) -> str:
    return analysis.sample_id.original


def _result_json(analysis: AnalysisRecord, judgement: Judgement) -> dict[str, Any]:
    """The promised object of one analysis of a file."""
    return {
        **judgement.as_json(),
        "sample_id": analysis.sample_id.original,
        "heat_no": None if analysis.heat_no is None else analysis.heat_no.normal,
        "method": analysis.method,
        "analysed_at": None if analysis.analysed_at is None else analysis.analysed_at.text,
    }


def set_aside(content: FileContent) -> list[Finding]:
    """Rows of the file that cannot be judged, as findings."""
    step = "mend the file; taken in by import, such a row waits on the bench"
    findings = []
    for fault in content.bench:
        where = f", column {fault.column}" if fault.column else ""
        said = fault.message.partition(": found ")[2] or fault.message
        findings.append(Finding(fault.code, f"{content.name}, row {fault.row}{where}", said.rstrip("."), "", step))
    return findings


def _counts(content: FileContent, judged: int) -> list[str]:
    unread = f"{len(content.bench)} rows could not be read"
    words = [f"{content.name}: {judged} analyses judged, {unread}; nothing was taken in"]
    controls = sum(analysis.sample_kind == "control" for analysis in content.analyses)
    return [*words, f"{controls} analyses of reference materials passed over"] if controls else words


def _lines(content: FileContent, requirement: str, judged: Sequence[Judged]) -> Iterator[str]:
    yield f"{content.name} for {requirement}"
    rows = []
    for analysis, judgement in judged:
        decisive = [f"{line.quantity} {line.verdict}" for line in (*judgement.failed(), *judgement.open())]
        heat = "" if analysis.heat_no is None else analysis.heat_no.original
        at = "" if analysis.analysed_at is None else analysis.analysed_at.text
        rows.append((heat, analysis.sample_id.original, analysis.method, at, judgement.verdict.upper(), _few(decisive)))
    yield from table(["heat", "sample", "method", "analysed", "verdict", "because of"], rows)


def _few(words: Sequence[str]) -> str:
    distinct = list(dict.fromkeys(words))
    return ", ".join(distinct[:4]) + (f" and {len(distinct) - 4} more" if len(distinct) > 4 else "")
