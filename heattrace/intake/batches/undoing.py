"""What undoing an import ends, what it puts back, and what stands in its way; found through the tables' references.

An import's rows are those its ledger entry wrote, those that entries mending its bench rows wrote, and those that carry
its number. What is derived from them, and what is a mere part of them, goes with them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from heattrace.findings import Finding
from heattrace.store.citations import citing, columns_of, fact_tables, key_of, lender_of
from heattrace.store.work import Work

Keys = dict[str, set[int]]

# Derived at tracing: made anew whenever needed, never a reason to keep what they are derived from.
DERIVED = frozenset(("placement", "event_reach"))
# A row of the first stands or falls with the row of the second that it refers to.
PART_OF = frozenset(
    (
        ("batch_count", "batch"), ("bench_row", "batch"), ("bench_event", "bench_row"), ("grade_limit", "edition"),
        ("order_limit", "order_line"), ("cast_sheet", "cast_record"), ("earlier_heat", "part"),
        ("placement", "part"), ("event_reach", "event"), ("section", "cast_sheet"), ("feed", "cast_sheet"),
        ("counter", "cast_sheet"), ("cut", "cast_sheet"), ("pour", "cast_sheet"), ("tundish_use", "cast_sheet"),
        ("tundish_mass", "cast_sheet"), ("strand_run", "cast_sheet"),
    )
)  # fmt: skip

LIFTED = """
SELECT e.hold_id, e.evidence FROM hold_event e
WHERE e.state = 'lifted' AND e.evidence IS NOT NULL AND {live:e} ORDER BY e.hold_event_id
"""

_WORDS = {
    "analysis": "analyses", "sample": "samples", "cast_analysis": "frozen cast analyses",
    "cast_analysis_value": "frozen cast analyses", "decision": "decisions", "hold_scope": "holds",
    "heat_record": "particulars of heats", "temperature": "temperatures", "addition": "additions", "pour": "pours",
    "cut": "cuts", "event": "events", "movement": "movements", "delivery_note": "delivery notes",
    "weight": "weighings", "inspection": "inspections", "alias": "other numbers of pieces",
    "parentage": "rolled or re-cut pieces", "order_line": "order lines", "assignment": "assignments to orders",
    "cast_record": "cast books", "fitting": "fittings", "oscillation": "oscillation", "share": "shares in parts",
    "heat": "heats", "part": "pieces", "sequence": "sequences", "customer": "customers", "edition": "grade editions",
    "analysis_state": "settled analyses", "heat_state": "closed heat records", "placement": "traced parts",
}  # fmt: skip


class Undoing:
    """The undoing of one import within a unit of work."""

    def __init__(self, work: Work, batch_id: int, entries: set[int]) -> None:
        self.work, self.reader, self.batch_id, self.entries = work, work.reader, batch_id, entries
        self.doomed: Keys = {}
        self.citing: list[tuple[str, str, int, int]] = []
        self.born_with: Keys = {}
        self._gather()

    def _gather(self) -> None:
        for table in fact_tables():
            self._doom(table, self._own_rows(table))
        # Ends of references are followed until nothing new falls.
        fresh: Keys = {table: set(keys) for table, keys in self.doomed.items()}
        while fresh:
            following: Keys = {}
            for table, keys in fresh.items():
                for reference, key, cited in citing(self.reader, table, keys):
                    name = reference.table
                    goes_with = (name, table) in PART_OF or name in DERIVED
                    if goes_with and name in fact_tables() and key not in self.doomed.get(name, ()):
                        following.setdefault(name, set()).add(key)
                    elif not goes_with:
                        self.citing.append((name, table, key, cited))
            for table, keys in following.items():
                self._doom(table, keys)
            fresh = following

    def _own_rows(self, table: str) -> set[int]:
        key, columns = key_of()[table], columns_of()[table]
        listed = ",".join(map(str, sorted(self.entries)))
        where = f"x.entry_no IN ({listed})"
        if "batch_id" in columns:
            where = f"({where} OR x.batch_id = {self.batch_id})"
        return {int(row[0]) for row in self.reader.all(f"SELECT x.{key} FROM {table} x WHERE {where} AND {{live:x}}")}

    def _doom(self, table: str, keys: Iterable[int]) -> None:
        found = set(keys)
        if found:
            self.doomed.setdefault(table, set()).update(found)

    def in_the_way(self) -> list[Finding]:
        """A finding for every sort of fact that rests on the import."""
        counts: dict[tuple[str, str], set[int]] = {}
        for name, table, key, _ in self.citing:
            lender = lender_of().get(name)
            stands = key not in self.doomed.get(name if lender is None else lender.to, ())
            if stands:
                counts.setdefault((name, table), set()).add(key)
        found = [self._finding(name, table, keys) for (name, table), keys in sorted(counts.items())]
        found += self._lifted_on()
        found += self._restated()
        return found + self._put_back_parts()

    def _lifted_on(self) -> list[Finding]:
        """Holds that were lifted on an analysis or inspection of the import; the evidence names them by number."""
        numbers = {f"A-{key}" for key in self.doomed.get("analysis", ())}
        numbers |= {f"inspection:{key}" for key in self.doomed.get("inspection", ())}
        if not numbers:
            return []
        found = []
        for row in self.reader.all(LIFTED):
            cited = {ref.strip() for shown in json.loads(row["evidence"]).values() for ref in shown.split(",")}
            rests_on = sorted(cited & numbers)
            if rests_on:
                seen = f"lifted on {', '.join(rests_on)}"
                step = "The import stays; take in the corrected analyses as a new import"
                found.append(Finding("UNDO-CITED", f"H-{row['hold_id']}", seen, "no hold lifted on it", step))
        return found

    def _finding(self, name: str, table: str, keys: set[int]) -> Finding:
        lender = lender_of().get(name)
        source = name if lender is None else lender.to
        numbers = self._sources(source, keys)
        return Finding(
            "UNDO-CITED",
            numbers or _WORDS.get(name, name),
            f"{len(keys)} {_WORDS.get(name, name)} on its {_WORDS.get(table, table)}",
            "nothing that rests on it",
            f"Undo first: heattrace batch undo {numbers.split(',')[0]}" if numbers else "Settle these first",
        )

    def _sources(self, table: str, keys: set[int]) -> str:
        """Numbers of the imports that brought some rows."""
        if "batch_id" in columns_of()[table]:
            sql = f"SELECT DISTINCT x.batch_id FROM {table} x WHERE x.{key_of()[table]} IN ({{keys}})"
        else:
            sql = (
                f"SELECT DISTINCT b.batch_id FROM {table} x JOIN batch b ON b.entry_no = x.entry_no "
                f"WHERE x.{key_of()[table]} IN ({{keys}})"
            )
        batches = {row[0] for row in self.reader.by_keys(sql, sorted(keys)) if row[0] is not None}
        return ", ".join(f"I-{batch}" for batch in sorted(batches))

    def _restated(self) -> list[Finding]:
        """Imports in force, or acts of persons, that took the place of rows of this one."""
        listed = ",".join(map(str, sorted(self.entries)))
        found = []
        for table in fact_tables():
            if table in DERIVED or table in ("batch", "profile"):
                continue
            sql = (
                f"SELECT x.ended_no, count(*) AS n FROM {table} x WHERE x.entry_no IN ({listed}) AND x.ended_no IS NOT "
                f"NULL AND x.ended_no NOT IN ({listed}) GROUP BY x.ended_no"
            )
            for row in self.reader.all(sql):
                by = self._who_ended(row["ended_no"])
                if by is not None:
                    seen = f"{row['n']} {_WORDS.get(table, table)} of it stated anew"
                    found.append(Finding("UNDO-RESTATED", by, seen, "rows as this import left them", "Undo that first"))
        return found

    def _who_ended(self, entry_no: int) -> str | None:
        """The import in force that an entry is, or the entry itself; None for an undone import or an undoing."""
        row = self.reader.one("SELECT batch_id, ended_no FROM batch WHERE entry_no = :entry", entry=entry_no)
        if row is not None:
            return None if row["ended_no"] is not None else f"I-{row['batch_id']}"
        action = self.reader.scalar("SELECT action FROM ledger WHERE entry_no = :entry", entry=entry_no)
        return None if action == "batch undo" else f"ledger entry {entry_no} ({action})"

    def _put_back_parts(self) -> list[Finding]:
        """Parts that would come back under another key while something stands on the old one.

        What was written with a part (that it was cut) comes back with it.
        """
        born = {int(row["part_id"]): int(row["entry_no"]) for row in self._superseded("part")}
        counts: dict[str, set[int]] = {}
        for reference, key, part_id in citing(self.reader, "part", sorted(born)):
            name = reference.table
            if name in DERIVED or key in self.doomed.get(name, ()):
                continue
            if self._entry_of(name, key) == born[part_id]:
                self.born_with.setdefault(name, set()).add(key)
            else:
                counts.setdefault(name, set()).add(key)
        return [self._finding(name, "part", found) for name, found in sorted(counts.items())]

    def _entry_of(self, table: str, key: int) -> int | None:
        if "entry_no" not in columns_of()[table]:
            return None
        sql = f"SELECT entry_no FROM {table} WHERE {key_of()[table]} = :key"
        return int(self.reader.scalar(sql, key=key))

    def _superseded(self, table: str) -> list[Any]:
        """Rows of other entries that this import's entries ended."""
        listed = ",".join(map(str, sorted(self.entries)))
        sql = f"SELECT x.* FROM {table} x WHERE x.ended_no IN ({listed}) AND x.entry_no NOT IN ({listed})"
        return self.reader.all(f"{sql} ORDER BY x.{key_of()[table]}")

    def _following(self, table: str) -> list[Any]:
        """Rows that come back with the part they were written with; they are ended where they stand."""
        keys = sorted(self.born_with.get(table, ()))
        sql = f"SELECT x.* FROM {table} x WHERE x.{key_of()[table]} IN ({{keys}}) ORDER BY x.{key_of()[table]}"
        rows = list(self.reader.by_keys(sql, keys))
        self.work.end(table, key_of()[table], keys)
        return rows

    def carry_out(self) -> tuple[dict[str, int], dict[str, int]]:
        """End the import's rows and put back what they took the place of; give both counts by table."""
        ended = {}
        for table in reversed(fact_tables()):
            if table in self.doomed:
                ended[table] = self.work.end(table, key_of()[table], sorted(self.doomed[table]))
        back: dict[str, int] = {}
        keys: dict[str, dict[int, int]] = {}
        for table in fact_tables():
            rows = [*self._superseded(table), *self._following(table)]
            if rows and table not in ("batch", "profile"):
                back[table] = len(rows)
                keys[table] = self._put_back(table, rows, keys)
        for child, lender in lender_of().items():
            if lender.to in keys:
                self._put_back_children(child, lender.column, keys[lender.to])
        return ended, back

    def _put_back(self, table: str, rows: list[Any], keys: dict[str, dict[int, int]]) -> dict[int, int]:
        """Write superseded rows again under new keys; references among the rows put back follow."""
        from heattrace.store.citations import references

        key, first = key_of()[table], self.work.next_key(table, key_of()[table])
        moved = {int(row[key]): first + n for n, row in enumerate(rows)}
        links = {r.column: (moved if r.to == table else keys.get(r.to, {})) for r in references() if r.table == table}
        columns = [name for name in columns_of()[table] if name != "ended_no"]
        values = []
        for row in rows:
            own: dict[str, Any] = {key: moved[int(row[key])], "entry_no": self.work.entry_no}
            for column, map_of in links.items():
                if column != key and row[column] in map_of:
                    own[column] = map_of[row[column]]
            values.append(tuple(own.get(name, row[name]) for name in columns))
        self.work.bulk_insert(table, columns, values)
        return moved

    def _put_back_children(self, table: str, column: str, moved: dict[int, int]) -> None:
        columns = columns_of()[table]
        sql = f"SELECT x.* FROM {table} x WHERE x.{column} IN ({{keys}})"
        rows = [
            tuple(moved[row[column]] if name == column else row[name] for name in columns)
            for row in self.reader.by_keys(sql, sorted(moved))
        ]
        self.work.bulk_insert(table, columns, rows)
