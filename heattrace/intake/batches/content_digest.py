"""The digest of what one import wrote, taken over the rows themselves, so that an altered row can be named later.

Canonical content, form 1: for every table in the order of its name, its name and a line end; then each row written, in
the order of its key, as canonical JSON of its columns in the order of their names, without entry numbers (bytes as
hexadecimal), and a line end. Rows of results are gathered by analysis as `element:value:form`, parted by blanks.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any

from heattrace.store.reader import Reader
from heattrace.store.work import Work

FORM = 1
_LOT = 5000
_NOT_CONTENT = frozenset(("entry_no", "ended_no"))
# Known only once the content is complete.
_COUNTED_LATER = frozenset(("batch_count",))

_RESULTS = """
SELECT analysis_id, group_concat(element_id || ':' || coalesce(value_ppb, '') || ':' || form_id, ' ') FROM result
WHERE analysis_id BETWEEN :first AND :last GROUP BY analysis_id ORDER BY analysis_id
"""


# Tables whose rows take their entry numbers from the row they hang on, and that row's table and key.
HANGING: Mapping[str, tuple[str, str]] = {
    "burn": ("analysis", "analysis_id"), "result": ("analysis", "analysis_id"),
    "result_text": ("analysis", "analysis_id"), "share": ("placement", "placement_id"),
    "speed": ("cast_sheet", "cast_sheet_id"), "cast_analysis_value": ("cast_analysis", "cast_analysis_id"),
}  # fmt: skip


_TABLES = """
SELECT m.name AS name, c.name AS column_name FROM sqlite_master m JOIN pragma_table_info(m.name) c
WHERE m.type = 'table' ORDER BY m.name, c.pk = 0, c.cid
"""

Columns = Mapping[str, tuple[str, ...]]


def _columns(reader: Reader) -> Columns:
    """Columns of every table as the file has them, its key first; no table classes are needed for that."""
    found: dict[str, list[str]] = {}
    for row in reader.all(_TABLES):
        found.setdefault(row["name"], []).append(row["column_name"])
    return {table: tuple(columns) for table, columns in found.items()}


def first_keys(work: Work) -> dict[str, int]:
    """The first free key of every table of facts, before an import writes anything."""
    return {
        table: work.next_key(table, columns[0])
        for table, columns in _columns(work.reader).items()
        if "ended_no" in columns and table not in _COUNTED_LATER
    }


def written_since(work: Work, first: Mapping[str, int]) -> dict[str, list[int]]:
    """First and last key of every table to which rows were added."""
    columns = _columns(work.reader)
    spans = {table: [key, work.next_key(table, columns[table][0]) - 1] for table, key in first.items()}
    return {table: span for table, span in sorted(spans.items()) if span[1] >= span[0]}


def content_digest(reader: Reader, spans: Mapping[str, list[int]]) -> str:
    """SHA-256 over the canonical content of the rows in some spans of keys, and of the rows that hang on them."""
    columns, total = _columns(reader), hashlib.sha256()
    names = set(spans) | {child for child, (owner, _) in HANGING.items() if owner in spans}
    for table in sorted(names):
        first, last = spans[HANGING[table][0] if table in HANGING else table]
        total.update(f"{table}\n".encode())
        results = table == "result"
        rows = _results(reader, first, last) if results else _rows(reader, table, columns[table], first, last)
        for text in rows:
            total.update(text.encode("utf-8", "surrogatepass"))
    return total.hexdigest()


def _results(reader: Reader, first: int, last: int) -> Iterator[str]:
    for row in reader.cursor(_RESULTS, {"first": first, "last": last}):
        yield f"{row[0]} {row[1]}\n"


def _rows(reader: Reader, table: str, stored: tuple[str, ...], first: int, last: int) -> Iterator[str]:
    columns = sorted(name for name in stored if name not in _NOT_CONTENT)
    key = HANGING[table][1] if table in HANGING else stored[0]
    order = ", ".join([key, *(name for name in columns if name != key)]) if table in HANGING else key
    sql = f"SELECT {', '.join(columns)} FROM {table} WHERE {key} BETWEEN ? AND ? ORDER BY {order}"
    cursor = reader.connection.cursor()
    cursor.row_factory = None
    cursor.execute(sql, (first, last))
    encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), default=_hex).encode
    while lot := cursor.fetchmany(_LOT):
        yield "\n".join(map(encode, lot)) + "\n"


def _hex(value: Any) -> str:
    return bytes(value).hex()
