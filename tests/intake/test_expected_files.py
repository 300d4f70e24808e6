"""Every example file against what was expected of it, written by hand from the catalogue of bad inputs."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from heattrace.errors import FileRefused
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.profiles.profile_text import read_profile
from heattrace.intake.profiles.shipped import shipped, shipped_names
from heattrace.intake.reading.opening import open_file
from heattrace.intake.reading.records import FileContent

FILES = Path(__file__).parent / "files"
CASES = sorted(FILES.rglob("*.expected.json"))


def profile_of(folder: Path) -> Profile:
    own = folder / "profile.toml"
    return read_profile(own.read_text("utf-8")) if own.exists() else shipped(folder.name)


def example_of(expected: Path) -> Path:
    stem = expected.name.removesuffix(".expected.json")
    found = [p for p in expected.parent.iterdir() if p.stem == stem and p != expected]
    assert len(found) == 1, f"{stem}: one example file beside its expectation"
    return found[0]


def case_id(expected: Path) -> str:
    return f"{expected.parent.name}/{expected.name.removesuffix('.expected.json')}"


@pytest.mark.parametrize("expected", CASES, ids=case_id)
def test_file_is_read_as_expected(expected: Path) -> None:
    wanted = json.loads(expected.read_text("utf-8"))
    example, profile = example_of(expected), profile_of(expected.parent)
    if "refused" in wanted:
        with pytest.raises(FileRefused) as refused:
            open_file(example, profile)
        said = str(refused.value) + " ".join(f.sentence() for f in refused.value.findings)
        assert [f.code for f in refused.value.findings] == wanted["refused"], said
        assert example.name in said
        assert [phrase for phrase in wanted["says"] if phrase not in said] == [], said
        return
    content = open_file(example, profile)
    check_rows(content, example, wanted)
    check_bench(content, example, wanted)
    check_findings(content, wanted)
    check_values(content, wanted)


def check_rows(content: FileContent, example: Path, wanted: dict[str, Any]) -> None:
    (sheet,) = content.sheets.values()
    assert sheet.read == wanted["read"]
    assert len(sheet.rows) == wanted["taken"], [b.message for b in sheet.bench]
    assert sheet.repeated == wanted["repeated"]
    assert sheet.read == len(sheet.rows) + len(sheet.bench) + sheet.repeated
    if content.kind == "analyses":
        assert sorted(r for a in sheet.analyses for r in a.rows) == [r.row for r in sheet.rows]
    if "analyses" in wanted:
        assert len(sheet.analyses) == wanted["analyses"]
    notes = " | ".join(content.notes)
    assert [note for note in wanted.get("notes", ()) if note not in notes] == [], notes


def check_bench(content: FileContent, example: Path, wanted: dict[str, Any]) -> None:
    found = [{"row": b.row, "column": b.column, "code": b.code} for b in content.bench]
    assert found == [{key: b[key] for key in ("row", "column", "code")} for b in wanted["bench"]], [
        b.message for b in content.bench
    ]
    data = example.read_bytes()
    for fault, expected in zip(content.bench, wanted["bench"], strict=True):
        said = f"{fault.message} {fault.next}"
        assert [phrase for phrase in expected["says"] if phrase not in said] == [], said
        assert fault.message.startswith(f"{example.name}, row {fault.row}")
        assert "found" in fault.message and "was expected." in fault.message and fault.next
        assert fault.raw and fault.raw in data, "the row's own bytes are kept"


def check_findings(content: FileContent, wanted: dict[str, Any]) -> None:
    found = {(f.code, f.subject) for f in content.findings}
    assert found == {(f["code"], f["subject"]) for f in wanted["flagged"]}, [f.sentence() for f in content.findings]
    for expected in wanted["flagged"]:
        said = " ".join(
            f.sentence() for f in content.findings if (f.code, f.subject) == (expected["code"], expected["subject"])
        )
        assert [phrase for phrase in expected["says"] if phrase not in said] == [], said
    if "places_lost" in wanted:
        assert content.places_lost == wanted["places_lost"]


def check_values(content: FileContent, wanted: dict[str, Any]) -> None:
    by_sample = {a.sample_id.normal: a for a in content.analyses}
    for sample, results in wanted.get("results", {}).items():
        shown = {e: a.shown() for e, a in by_sample[sample].results.items()}
        assert {e: shown.get(e) for e in results} == results
        if not results:
            assert shown == {}
    for sample, heat in wanted.get("heats", {}).items():
        assert by_sample[sample].heat_no is not None and by_sample[sample].heat_no.normal == heat
    for sample, original in wanted.get("originals", {}).items():
        assert by_sample[sample].heat_no.original == original
    for sample, kind in wanted.get("kinds", {}).items():
        assert by_sample[sample].sample_kind == kind
    for sample, burns in wanted.get("burns", {}).items():
        assert [b.burn for b in by_sample[sample].burns] == burns
    for sample, moment in wanted.get("times", {}).items():
        at = by_sample[sample].analysed_at
        assert datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at.utc_ms) == datetime.fromisoformat(moment)
    rows = {row.row: row.values for sheet in content.sheets.values() for row in sheet.rows}
    for number, values in wanted.get("numbers", {}).items():
        assert {name: rows[int(number)][name].text for name in values} == values


def test_every_example_has_an_expectation_and_a_profile() -> None:
    examples = [p for p in FILES.rglob("*") if p.is_file() and p.suffix != ".json" and p.name != "profile.toml"]
    assert {example_of(c) for c in CASES} == set(examples)
    for folder in (p for p in FILES.iterdir() if p.is_dir()):
        assert (folder / "profile.toml").exists() or folder.name in shipped_names()
