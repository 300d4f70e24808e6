"""What one import did: counts of rows, rows set aside, findings; and the slip a person reads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.faults import Place, sentence, shown
from heattrace.intake.reading.records import BenchFault, RowRecord

# Kinds of several tables: only their rows are told with the name of a sheet.
SHEETED = frozenset(("cast-book", "grade-book"))


@dataclass(slots=True)
class LoadCounts:
    """What became of the rows of a file or sheet, and what is to be said about them."""

    taken: int = 0
    same: int = 0
    contested: int = 0
    bench: list[BenchFault] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def add(self, other: LoadCounts) -> LoadCounts:
        """Take the counts of another sheet in."""
        self.taken += other.taken
        self.same += other.same
        self.contested += other.contested
        self.bench += other.bench
        self.findings += other.findings
        self.notes += other.notes
        return self

    @property
    def read(self) -> int:
        """Rows read: the sum of what became of them."""
        return self.taken + self.same + self.contested + len(self.bench)


@dataclass(frozen=True, slots=True)
class BatchInHand:
    """The import being written: its number, its file and the profile it is read with.

    `batch_id` is None where rows are written without a file (the shipped grade book).
    """

    batch_id: int | None
    file: str
    profile: Profile

    def header_of(self, sheet: str, column: str) -> str:
        """The file's own header text of one of our columns."""
        for theirs, ours in self.profile.for_sheet(sheet).columns.items():
            if ours.column == column:
                return theirs
        return column

    def subject(self, row: RowRecord, column: str | None = None) -> str:
        """`FILE, row N, column C` for a finding."""
        theirs = None if column is None else self.header_of(row.sheet, column)
        return self._place(row.sheet).at(row.row, theirs)

    def element_subject(self, row: RowRecord, element: str) -> str:
        """The same for the content of an element; a row-a-result file has no column of its own for it."""
        if self.profile.layout == "long":
            return self.subject(row)
        mapped = self.profile.elements.items()
        theirs = next((header for header, ours in mapped if ours.element == element), element)
        return self._place(row.sheet).at(row.row, theirs)

    def fault(
        self, row: RowRecord, column: str | None, code: str, wanted: str, step: str, *, found: str | None = None
    ) -> BenchFault:
        """A row that reads well but does not fit the record; `column` is ours."""
        theirs = None if column is None else self.header_of(row.sheet, column)
        seen = written(row, column) if found is None else found
        message = sentence(self._place(row.sheet).quoted(row.row, theirs), seen, wanted)
        return BenchFault(self._place(row.sheet).sheet, row.row, theirs, shown(seen), code, message, step, row.raw)

    def finding(self, row: RowRecord, column: str | None, code: str, seen: str, wanted: str, step: str = "") -> Finding:
        """Something to be said of a row that is taken."""
        return Finding(code, self.subject(row, column), seen, wanted, step)

    def _place(self, sheet: str) -> Place:
        return Place(self.file, sheet if self.profile.takes in SHEETED else "")


def written(row: RowRecord, column: str | None) -> str:
    """What stands in a cell, as the file has it."""
    if column is None:
        return "this row"
    value = row.values.get(column)
    return "" if value is None else str(getattr(value, "original", getattr(value, "text", value)))


@dataclass(frozen=True, slots=True)
class BenchLine:
    """A row set aside, as every answer shows it; `bench_no` is empty in a dry run."""

    bench_no: str | None
    sheet: str
    row: int
    column: str | None
    value: str
    code: str
    message: str
    next: str

    def as_json(self) -> dict[str, Any]:
        """The promised object."""
        return {
            "bench_no": self.bench_no, "sheet": self.sheet, "row": self.row, "column": self.column,
            "value": self.value, "code": self.code, "message": self.message, "next": self.next,
        }  # fmt: skip


@dataclass(slots=True)
class FileAnswer:
    """What became of one file. `state` is dry-run, taken, taken-with-bench, same or refused."""

    batch: str | None
    file: str
    sha256: str | None
    profile: str
    state: str
    rows: dict[str, int]
    bench: list[BenchLine] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    message: str = ""

    @property
    def attention(self) -> bool:
        """Whether a person has to look at it."""
        return bool(self.bench) or bool(self.rows["contested"]) or any(f.code in NEEDS_A_PERSON for f in self.findings)

    def as_json(self) -> dict[str, Any]:
        """The promised object, with the file's notes and message beside."""
        return {
            "batch": self.batch, "file": self.file, "sha256": self.sha256, "profile": self.profile, "state": self.state,
            "rows": self.rows, "bench": [line.as_json() for line in self.bench], "notes": self.notes,
            "message": self.message,
        }  # fmt: skip


# Findings that end an import with status 3: contested analyses, steel that left without release, decisions touched,
# holds proposed.
NEEDS_A_PERSON = frozenset(("REC32", "REC34", "REC35", "REC40"))

COUNTED = ("read", "taken", "same", "contested", "bench", "refused")


def counted(**rows: int) -> dict[str, int]:
    """The promised `rows`: what is not named is 0, `read` is the sum."""
    full = {name: rows.get(name, 0) for name in COUNTED}
    full["read"] = sum(full[name] for name in COUNTED[1:])
    return full


def lines_of_slip(answer: FileAnswer) -> Iterable[str]:
    """The import slip of one file for a person."""
    head = answer.batch or {"dry-run": "dry run", "refused": "refused"}.get(answer.state, answer.state)
    yield f"{head}  {shown(answer.file, 100)}"
    if answer.sha256:
        yield f"  profile {answer.profile}, digest {answer.sha256[:16]}"
    if not answer.message:
        yield f"  {_state_words(answer)}"
    else:
        yield f"  {shown(answer.message, 2000)}"
    rows = answer.rows
    parts = [f"{rows[name]} {word}" for name, word in _COUNT_WORDS if rows[name] or name in ("read", "taken")]
    yield f"  rows    {', '.join(parts)}"
    for note in answer.notes:
        yield f"  note    {shown(note, 400)}"
    for line in answer.bench:
        yield f"  {line.bench_no or 'bench'}  {line.code}  {shown(line.message, 600)}"
        if line.next:
            yield f"        {shown(line.next, 600)}"


_COUNT_WORDS = (
    ("read", "read"), ("taken", "taken"), ("same", "known already"), ("contested", "contested"),
    ("bench", "on the bench"), ("refused", "refused"),
)  # fmt: skip


def _state_words(answer: FileAnswer) -> str:
    return {
        "dry-run": "dry run: nothing was written",
        "taken": "taken",
        "taken-with-bench": "taken; rows on the bench wait for you",
        "same": "taken before; nothing was changed",
        "refused": "refused; nothing was written",
    }[answer.state]
