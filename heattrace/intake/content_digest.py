"""The digest of what one import wrote, taken over the rows themselves, so that an altered row can be named later.

Canonical content, form 1: for every table in the order of its name, its name and a line end; then each row written, in
the order of its key, as canonical JSON of its columns without entry numbers (bytes as hexadecimal), and a line end. The
rows of a results table are gathered by analysis as `element:value:form`, parted by blanks.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any

from heattrace.store.citations import columns_of, fact_tables, key_of, lender_of
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


def first_keys(work: Work) -> dict[str, int]:
    """The first free key of every table of facts, before an import writes anything."""
    return {table: work.next_key(table, key_of()[table]) for table in fact_tables() if table not in _COUNTED_LATER}


def written_since(work: Work, first: Mapping[str, int]) -> dict[str, list[int]]:
    """First and last key of every table to which rows were added."""
    spans = {table: [key, work.next_key(table, key_of()[table]) - 1] for table, key in first.items()}
    return {table: span for table, span in sorted(spans.items()) if span[1] >= span[0]}


def content_digest(reader: Reader, spans: Mapping[str, list[int]]) -> str:
    """SHA-256 over the canonical content of the rows in some spans of keys, and of the rows that hang on them."""
    total = hashlib.sha256()
    names = set(spans) | {child for child, lender in lender_of().items() if lender.to in spans}
    for table in sorted(names):
        lender = lender_of().get(table)
        first, last = spans[lender.to if lender is not None else table]
        total.update(f"{table}\n".encode())
        for text in _results(reader, first, last) if table == "result" else _rows(reader, table, first, last):
            total.update(text.encode("utf-8", "surrogatepass"))
    return total.hexdigest()


def _results(reader: Reader, first: int, last: int) -> Iterator[str]:
    for row in reader.cursor(_RESULTS, {"first": first, "last": last}):
        yield f"{row[0]} {row[1]}\n"


def _rows(reader: Reader, table: str, first: int, last: int) -> Iterator[str]:
    columns = [name for name in columns_of()[table] if name not in _NOT_CONTENT]
    lender = lender_of().get(table)
    key = lender.column if lender is not None else key_of()[table]
    order = key if lender is None else ", ".join(columns)
    sql = f"SELECT {', '.join(columns)} FROM {table} WHERE {key} BETWEEN ? AND ? ORDER BY {order}"
    cursor = reader.connection.cursor()
    cursor.row_factory = None
    cursor.execute(sql, (first, last))
    while lot := cursor.fetchmany(_LOT):
        yield "".join(f"{json.dumps(row, ensure_ascii=False, separators=(',', ':'), default=_hex)}\n" for row in lot)


def _hex(value: Any) -> str:
    return bytes(value).hex()
