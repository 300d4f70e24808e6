"""Rows of one table known by a few of their columns: new, the same again, or stated anew."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import RowRecord
from heattrace.store.work import Work

Key = tuple[Any, ...]
Shown = Callable[[str, Any], str]


class KnownRows:
    """Gathers rows of a table for one import.

    A row whose key columns are known and whose other columns say the same is `same`. One that says otherwise takes the
    known row's place, which stays in the record as ended; a finding names both. `only_new` leaves the known row alone
    where the new one is empty.
    """

    def __init__(
        self, work: Work, batch: BatchInHand, table: str, key_column: str, by: Sequence[str], known: Iterable[Any]
    ) -> None:
        self.work, self.batch, self.table, self.key_column, self.by = work, batch, table, key_column, tuple(by)
        self.counts = LoadCounts()
        self._known: dict[Key, dict[str, Any]] = {tuple(row[c] for c in self.by): dict(row) for row in known}
        self._new: dict[Key, dict[str, Any]] = {}
        self._ended: list[int] = []

    def put(self, row: RowRecord, values: Mapping[str, Any], told: Mapping[str, str]) -> None:
        """Take one row. `told` maps a column of the table to our column of the file, for findings on what changed."""
        key = tuple(values[c] for c in self.by)
        before = self._new.get(key) or self._known.get(key)
        if before is None:
            self.counts.taken += 1
            self._new[key] = self._full(row, values)
            return
        changed = [c for c in values if c not in self.by and _plain(values[c]) != _plain(before.get(c))]
        if not changed:
            self.counts.same += 1
            return
        self.counts.taken += 1
        for column in changed:
            if column in told and before.get(column) is not None:
                self.counts.findings.append(
                    self.batch.finding(
                        row, told[column], "REC30", _shown(values[column]), f"{_shown(before[column])}, as recorded",
                        "The new value stands; the earlier one stays in the history",
                    )
                )  # fmt: skip
        if key not in self._new:
            self._ended.append(int(before[self.key_column]))
        self._new[key] = self._full(row, values)

    def _full(self, row: RowRecord, values: Mapping[str, Any]) -> dict[str, Any]:
        own = {"batch_id": self.batch.batch_id, "row_no": row.row, "entry_no": self.work.entry_no}
        return dict(values) | own

    def write(self) -> LoadCounts:
        """Write what was gathered and give the counts."""
        self.work.end(self.table, self.key_column, self._ended)
        rows = list(self._new.values())
        if rows:
            columns = list(rows[0])
            self.work.bulk_insert(self.table, columns, [tuple(row[c] for c in columns) for row in rows])
        return self.counts


def _plain(value: Any) -> Any:
    return None if value == "" else value


def _shown(value: Any) -> str:
    return "nothing" if value is None else str(value)
