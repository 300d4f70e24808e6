"""Try a file with a profile: what an import would read, said in full, with nothing written."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from heattrace.errors import FileRefused
from heattrace.findings import Finding
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.opening import file_name, open_file
from heattrace.intake.reading.records import BenchFault


@dataclass(frozen=True, slots=True)
class SheetTrial:
    """One table: its header row, data rows read, taken, repeated and set aside."""

    sheet: str
    header_row: int
    header: tuple[str, ...]
    read: int
    taken: int
    repeated: int
    bench: int


@dataclass(frozen=True, slots=True)
class Trial:
    """What a profile makes of a file. `refused` has the reason where the file would be refused as a whole."""

    file: str
    profile: str
    refused: str | None
    sheets: list[SheetTrial] = field(default_factory=list)
    bench: list[BenchFault] = field(default_factory=list)
    findings: tuple[Finding, ...] = ()
    notes: list[str] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """One object for another program."""
        return {
            "file": self.file,
            "profile": self.profile,
            "refused": self.refused,
            "sheets": [
                {"sheet": s.sheet, "header_row": s.header_row, "columns": list(s.header), "read": s.read,
                 "taken": s.taken, "same": s.repeated, "bench": s.bench}
                for s in self.sheets
            ],
            "bench": [
                {"sheet": b.sheet, "row": b.row, "column": b.column, "value": b.value, "code": b.code,
                 "message": b.message, "next": b.next}
                for b in self.bench
            ],
            "notes": self.notes,
        }  # fmt: skip


def try_file(path: Path | str, profile: Profile) -> Trial:
    """Read a file with a profile; a refusal is part of the answer."""
    try:
        content = open_file(path, profile)
    except FileRefused as refused:
        return Trial(file_name(Path(path)), profile.name, str(refused), findings=refused.findings)
    sheets = [
        SheetTrial(
            s.sheet, s.header_row, s.header, s.read, s.read - len(s.bench) - s.repeated, s.repeated, len(s.bench)
        )
        for s in content.sheets.values()
    ]
    return Trial(content.name, profile.name, None, sheets, content.bench, tuple(content.findings), content.notes)
