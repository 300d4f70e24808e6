"""Triggers that stop accidents: nothing is deleted, nothing is changed but the end of a row, the chain links.

They do not stop whoever owns the file from dropping them; `db check` compares them with this list.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlalchemy import MetaData, Table

    from heattrace.store.reader import Reader

_NEXT = "(SELECT coalesce(max(entry_no), 0) + 1 FROM ledger)"

# Millions of rows whose parents are guarded: the look-up at each insert would cost more than it guards.
_NO_INSERT_GUARD = {"result", "result_text", "burn", "share", "speed", "cast_analysis_value"}


def triggers(metadata: MetaData) -> dict[str, str]:
    """Name and text of every trigger a SQLite database must have."""
    made = dict(pair for table in metadata.sorted_tables for pair in _of_table(table))
    made["guard_ledger_link"] = (
        "CREATE TRIGGER guard_ledger_link BEFORE INSERT ON ledger WHEN NEW.entry_no IS NOT "
        f"{_NEXT} OR NEW.previous IS NOT coalesce((SELECT digest FROM ledger ORDER BY entry_no DESC LIMIT 1), "
        "'0000000000000000000000000000000000000000000000000000000000000000') "
        "BEGIN SELECT RAISE(ABORT, 'ledger: an entry must follow the last one'); END"
    )
    return made


def _of_table(table: Table) -> list[tuple[str, str]]:
    name = table.name
    made = [
        (
            f"guard_{name}_delete",
            f"CREATE TRIGGER guard_{name}_delete BEFORE DELETE ON {name} "
            f"BEGIN SELECT RAISE(ABORT, '{name}: a record is never deleted'); END",
        )
    ]
    refuse = f"BEGIN SELECT RAISE(ABORT, '{name}: a record is never changed'); END"
    if "ended_no" in table.columns:
        same = " AND ".join(f"OLD.{c.name} IS NEW.{c.name}" for c in table.columns if c.name != "ended_no")
        when = f"WHEN NOT (OLD.ended_no IS NULL AND NEW.ended_no IS {_NEXT} AND {same}) "
    else:
        when = ""
    made.append((f"guard_{name}_update", f"CREATE TRIGGER guard_{name}_update BEFORE UPDATE ON {name} {when}{refuse}"))
    if name not in _NO_INSERT_GUARD and "entry_no" in table.columns and name != "ledger":
        key = next(iter(table.primary_key.columns)).name
        made.append(
            (
                f"guard_{name}_insert",
                f"CREATE TRIGGER guard_{name}_insert BEFORE INSERT ON {name} WHEN NEW.entry_no IS NOT {_NEXT} "
                f"OR EXISTS (SELECT 1 FROM {name} WHERE {key} = NEW.{key}) "
                f"BEGIN SELECT RAISE(ABORT, '{name}: a row belongs to the entry being written'); END",
            )
        )
    return made


def missing_guards(reader: Reader, expected: dict[str, str]) -> list[str]:
    """Names of triggers that are missing, changed, or not on the list."""
    found = {r["name"]: r["sql"] for r in reader.all("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")}
    return sorted(n for n in expected.keys() | found.keys() if expected.get(n) != found.get(n))
