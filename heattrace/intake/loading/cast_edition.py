"""One edition of a cast book on its way into the record: its sequence, and the rows of each of its sheets.

A sheet takes the place of the sheet that earlier editions brought. A row they have in common stays as it stands; only
what is new is written and only what is no longer stated is ended.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from heattrace.errors import FileRefused, Refused
from heattrace.intake.loading.moments import AHEAD_MS
from heattrace.intake.loading.numbers import KnownHeat, Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.faults import Place, refuse
from heattrace.intake.reading.records import FileContent, Ident, Instant, RowRecord
from heattrace.schema.casts import CastRecord, CastSheet
from heattrace.schema.casts import Sequence as SequenceRow
from heattrace.store.reader import Reader
from heattrace.store.recorded import shown_at
from heattrace.store.work import Work

# A book of one sequence number this long after the last one is of another cast (engineering default).
SAME_CAST_MS = 60 * 86_400_000

_SEQUENCE = "SELECT s.sequence_id, s.caster FROM sequence s WHERE s.sequence_no = :number AND {live:s}"
_RECORD = """
SELECT c.cast_record_id, c.edition, c.recorded_until, c.last_at, c.clock FROM cast_record c
WHERE c.sequence_id = :sequence AND {live:c} ORDER BY c.edition DESC LIMIT 1
"""
_LAST_EDITION = "SELECT max(c.edition) FROM cast_record c WHERE c.sequence_id = :sequence"
_BATCHES = "SELECT DISTINCT c.batch_id FROM cast_record c WHERE c.sequence_id = :sequence AND c.batch_id IS NOT NULL"
_SHEET = """
SELECT s.cast_sheet_id FROM cast_sheet s WHERE s.sequence_id = :sequence AND s.sheet = :sheet AND {live:s}
"""
# Latest moments of the sheets that a book leaves out, by sheet.
_LATEST = {
    "pours": "SELECT max(x.opened_at), max(x.closed_at) FROM pour x WHERE {own}",
    "tundish_masses": "SELECT max(x.read_at) FROM tundish_mass x WHERE {own}",
    "strands": "SELECT max(x.started_at), max(x.stopped_at) FROM strand_run x WHERE {own}",
    "feeds": "SELECT max(x.from_at), max(x.to_at) FROM feed x WHERE {own}",
    "counters": "SELECT max(x.read_at) FROM counter x WHERE {own}",
    "cuts": "SELECT max(x.clamped_at) FROM cut x WHERE {own}",
    "events": "SELECT max(x.from_at), max(x.to_at) FROM event x WHERE {own} AND x.cast_sheet_id IS NOT NULL",
    "speeds": (
        "SELECT max(v.from_at) FROM cast_sheet x JOIN speed v ON v.cast_sheet_id = x.cast_sheet_id "
        "WHERE {own} AND x.sheet = 'speeds'"
    ),
}
_OWN = "x.sequence_id = :sequence AND {live:x}"


@dataclass(slots=True)
class CastEdition:
    """One edition of the book of one sequence. `batches` are the imports of its earlier editions.

    `known` says that the sequence was in the record before. `heat_ids` gives the key of a heat of the book by its
    searched number. A new edition is written only when one of its rows differs from what stands.
    """

    work: Work
    content: FileContent
    batch: BatchInHand
    numbers: Numbers
    sequence_id: int
    sequence_no: str
    batches: frozenset[int]
    last_at: int
    recorded_until: int | None
    known: bool
    heat_ids: dict[str, int] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    _record_id: int | None = None

    @property
    def reader(self) -> Reader:
        """The record as it is being written."""
        return self.work.reader

    def refuse(
        self, sheet: str, code: str, seen: str, wanted: str, step: str, row: RowRecord | None = None,
        column: str | None = None,
    ) -> FileRefused:  # fmt: skip
        """The refusal of the whole book; `column` is ours."""
        place = Place(self.batch.file, sheet)
        theirs = None if column is None else self.batch.header_of(sheet, column)
        return refuse(place, code, seen, wanted, step, None if row is None else row.row, theirs)

    def check_sequence(self, row: RowRecord) -> bool:
        """Whether a row names the sequence of this book."""
        ident: Ident = row.values["sequence_no"]
        return ident.normal == self.sequence_no

    def heat(self, ident: Ident, at: int | None) -> int | Unknown:
        """Key of the heat a number of the book names."""
        if ident.normal in self.heat_ids:
            return self.heat_ids[ident.normal]
        found: KnownHeat | Unknown = self.numbers.heat(ident, at)
        return found if isinstance(found, Unknown) else found.heat_id

    @property
    def changed(self) -> bool:
        """Whether anything of this edition differs from what stood."""
        return self._record_id is not None

    def record_id(self) -> int:
        """Key of this edition, written at the first need; it ends the one before."""
        if self._record_id is None:
            edition = int(self.reader.scalar(_LAST_EDITION, sequence=self.sequence_id) or 0) + 1
            self._record_id = self._write_record(edition)
            self.notes.append(f"edition {edition} of the cast book of sequence {self.sequence_no}")
        return self._record_id

    def _write_record(self, edition: int) -> int:
        before = self.reader.one(_RECORD, sequence=self.sequence_id)
        if before is not None:
            self.work.end("cast_record", "cast_record_id", [before["cast_record_id"]])
        return self.work.add(
            CastRecord(
                sequence_id=self.sequence_id, edition=edition, clock=self.batch.profile.clock,
                recorded_until=self.recorded_until, last_at=self.last_at, batch_id=self.batch.batch_id,
            )
        )  # fmt: skip

    def new_sheet(self, sheet: str) -> int:
        """Key of a new sheet of this edition; it ends the one of the same name."""
        before = self.reader.scalar(_SHEET, sequence=self.sequence_id, sheet=sheet)
        if before is not None:
            self.work.end("cast_sheet", "cast_sheet_id", [int(before)])
        return self.work.add(CastSheet(cast_record_id=self.record_id(), sequence_id=self.sequence_id, sheet=sheet))

    def standing_sheet(self, sheet: str) -> int | None:
        """Key of the sheet of that name that stands; None where no edition brought one."""
        key = self.reader.scalar(_SHEET, sequence=self.sequence_id, sheet=sheet)
        return None if key is None else int(key)

    def settle(self, benched: Collection[tuple[str, int]]) -> bool:
        """Set the book's last moment without rows (sheet, row) that went to the bench; gives whether it moved."""
        self.last_at = self._latest(benched)
        before = self.reader.one(_RECORD, sequence=self.sequence_id)
        if before is not None and (before["last_at"], before["recorded_until"]) == (self.last_at, self.recorded_until):
            return False
        if self._record_id is None:
            self.record_id()
        elif before is not None:
            self._write_record(int(before["edition"]))
        return True

    def _latest(self, benched: Collection[tuple[str, int]]) -> int:
        moments = _moments(self.content, self.work.now, benched)
        if self.known:
            moments += _of_absent_sheets(self.reader, self.content, self.sequence_id)
        return max(moments, default=self.last_at)


def open_edition(work: Work, content: FileContent, batch: BatchInHand, numbers: Numbers) -> CastEdition:
    """Find or make the sequence of a book.

    Raises
    ------
    FileRefused
        The book is not of one sequence, or its number is that of another cast.
    """
    rows = content.rows("sequences")
    place = Place(batch.file, "sequences")
    bad = content.sheets["sequences"].bench if "sequences" in content.sheets else []
    if len(rows) != 1 or bad:
        seen = f"{len(rows)} sequences" + (f", {len(bad)} rows that cannot be read ({bad[0].message})" if bad else "")
        raise refuse(place, "REC50", seen, "one row: a book is one cast", "Send each cast as a book of its own.")
    row = rows[0]
    number, caster = row.values["sequence_no"].normal, row.values["caster"]
    until: Instant | None = row.values.get("recorded_until")
    moments = _moments(content, work.now)
    if not moments:
        raise refuse(place, "REC50", "no moment in the whole book", "the times of a cast", "Export it again.")
    last = max(moments)
    known = work.reader.one(_SEQUENCE, number=number)
    if known is None:
        sequence_id = work.add(SequenceRow(sequence_no=number, caster=caster))
    else:
        sequence_id = int(known["sequence_id"])
        record = work.reader.one(_RECORD, sequence=sequence_id)
        apart = 0 if record is None else max(min(moments) - record["last_at"], record["last_at"] - max(moments))
        if known["caster"] != caster or apart > SAME_CAST_MS:
            until_then = "" if record is None else f", cast until {shown_at(record['last_at'], numbers.zone)}"
            seen = f"sequence {number} of caster {caster}, from {shown_at(min(moments), numbers.zone)}"
            wanted = f"the cast recorded under that number (caster {known['caster']}{until_then}), or another number"
            step = "Give each cast its own number. A mistyped caster: undo the earlier import, then send both again."
            raise refuse(place, "REC51", seen, wanted, step, row.row)
        last = max(moments + (_of_absent_sheets(work.reader, content, sequence_id) if record is not None else []))
    batches = frozenset(int(r[0]) for r in work.reader.all(_BATCHES, sequence=sequence_id))
    ends = None if until is None else until.utc_ms
    return CastEdition(
        work, content, batch, numbers, sequence_id, number, batches, last, ends, known is not None
    )  # fmt: skip


def standing_edition(work: Work, content: FileContent, batch: BatchInHand, numbers: Numbers, key: int) -> CastEdition:
    """The edition of a sequence's book that stands, for rows of it that are mended one by one.

    Raises
    ------
    Refused
        The sequence has no cast book.
    """
    sequence = work.reader.one("SELECT s.sequence_no FROM sequence s WHERE s.sequence_id = :key", key=key)
    record = work.reader.one(_RECORD, sequence=key)
    if sequence is None or record is None:
        raise Refused("that sequence has no cast book in the record; take the book in again")
    batches = frozenset(int(r[0]) for r in work.reader.all(_BATCHES, sequence=key))
    return CastEdition(
        work, content, batch, numbers, key, sequence["sequence_no"], batches, record["last_at"],
        record["recorded_until"], True, _record_id=int(record["cast_record_id"]),
    )  # fmt: skip


def _moments(content: FileContent, now: int, benched: Collection[tuple[str, int]] = ()) -> list[int]:
    """All moments of the rows let in that have come, without rows (sheet, row) set aside since."""
    return [
        value.utc_ms
        for sheet in content.sheets.values()
        for row in sheet.rows
        if (row.sheet, row.row) not in benched
        for value in row.values.values()
        if isinstance(value, Instant) and value.utc_ms <= now + AHEAD_MS
    ]


def _of_absent_sheets(reader: Reader, content: FileContent, sequence_id: int) -> list[int]:
    asked = [sql for sheet, sql in _LATEST.items() if sheet not in content.sheets]
    rows = [row for sql in asked for row in reader.all(sql.replace("{own}", _OWN), sequence=sequence_id)]
    return [int(moment) for row in rows for moment in row if moment is not None]


class SheetRows:
    """The rows of one sheet against those that stand.

    Where a table also takes rows of other files (`shared`), rows that no edition of this book brought are never ended;
    a row equal to one of them is `same` and is not written again.
    """

    def __init__(self, edition: CastEdition, sheet: str, table: str, *, shared: bool = False) -> None:
        self.edition, self.sheet, self.table, self.shared = edition, sheet, table, shared
        self.counts = LoadCounts()
        self._said: list[tuple[int, dict[str, Any], bool]] = []

    def put(self, row_no: int, values: Mapping[str, Any], *, counted: bool = True) -> None:
        """Gather one row; `counted` False leaves it out of taken and same (its row is on the bench)."""
        self._said.append((row_no, dict(values), counted))

    def write(self) -> LoadCounts:
        """End what is no longer stated, write what is new, and give the counts."""
        edition, columns = self.edition, list(self._said[0][1]) if self._said else []
        own, foreign = self._standing()
        known = Counter(_shape(row, columns) for row in own) if columns else Counter[tuple[Any, ...]]()
        others = {_shape(row, columns) for row in foreign} if columns else set()
        new = []
        for row_no, values, counted in self._said:
            shape = tuple(values[name] for name in columns)
            if known[shape] > 0 or shape in others:
                known[shape] -= 1 if known[shape] > 0 else 0
                self.counts.same += counted
            else:
                new.append((row_no, values))
                self.counts.taken += counted
        gone = self._gone(own, known, columns)
        if new or gone:
            edition.work.end(self.table, f"{self.table}_id", gone)
            self._insert(new, columns)
            if own:
                words = f"{len(new)} rows new or stated anew, {len(gone)} of earlier editions no longer stated"
                self.edition.notes.append(f"{self.sheet}: {words}")
        return self.counts

    def _standing(self) -> tuple[list[Any], list[Any]]:
        sql = f"SELECT * FROM {self.table} x WHERE x.sequence_id = :sequence AND {{live:x}} ORDER BY x.{self.table}_id"
        rows = self.edition.reader.all(sql, sequence=self.edition.sequence_id)
        if not self.shared:
            return rows, []
        ours = [row for row in rows if self._brought(row)]
        return ours, [row for row in rows if not self._brought(row)]

    def _brought(self, row: Any) -> bool:
        """Whether an edition of this book brought a row of a shared table."""
        if self.table != "fitting" and row["cast_sheet_id"] is not None:
            return True
        return row["batch_id"] in self.edition.batches

    def _gone(self, own: Sequence[Any], unmatched: Counter[tuple[Any, ...]], columns: Sequence[str]) -> list[int]:
        key = f"{self.table}_id"
        if not columns:
            return [int(row[key]) for row in own]
        left, gone = Counter(unmatched), []
        for row in own:
            shape = _shape(row, columns)
            if left[shape] > 0:
                left[shape] -= 1
                gone.append(int(row[key]))
        return gone

    def _insert(self, new: Sequence[tuple[int, Mapping[str, Any]]], columns: Sequence[str]) -> None:
        edition = self.edition
        own: dict[str, Any] = {"sequence_id": edition.sequence_id, "entry_no": edition.work.entry_no}
        if self.table != "fitting":
            own["cast_sheet_id"] = edition.new_sheet(self.sheet)
        else:
            edition.record_id()
        if self.shared:
            own["batch_id"] = edition.batch.batch_id
        names = ["row_no", *columns, *own]
        rows = [(row_no, *(values[name] for name in columns), *own.values()) for row_no, values in new]
        edition.work.bulk_insert(self.table, names, rows)


def _shape(row: Any, columns: Iterable[str]) -> tuple[Any, ...]:
    return tuple(row[name] for name in columns)
