"""Every reading question is prepared on an empty database, names only what the schema has, and reads by index."""

from __future__ import annotations

import importlib
import pkgutil
import re
import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

import heattrace.tracing
from heattrace.schema.tables import metadata
from heattrace.store.engine import open_reader
from heattrace.store.reader import Reader, expand
from heattrace.tracing import history, questions

# Tables that grow with every cast: a question that scans one of them costs more every year.
GROWING = {
    "heat", "heat_record", "part", "placement", "share", "cut", "movement", "sample", "analysis", "result", "event",
    "event_reach", "decision", "hold_scope", "hold_event", "temperature", "alias", "parentage", "weight", "pour",
    "speed", "addition", "analysis_state", "cast_analysis", "cast_analysis_value", "earlier_heat", "assignment",
}  # fmt: skip

# Lists of a whole table in the order of its key, and searches inside numbers, asked for in so many words.
WHOLE = {
    "PIECES", "HEATS_HOLDING", "SEQUENCES_HOLDING", "HEATS_LIKE", "PARTS_LIKE", "ALIASES_LIKE", "NEWEST_SAMPLES",
    "KEY_BEFORE_LAST_HEATS", "NEWEST_PARTS_HOLDING",
}  # fmt: skip
# Rows that were superseded or undone are in no index of their own; only `history` looks for them.
ENDED = {"history.heat, particulars", "history.heat, addition", "history.heat, temperature"}


def _constants() -> Iterator[tuple[str, str]]:
    for found in pkgutil.iter_modules(heattrace.tracing.__path__):
        module = importlib.import_module(f"heattrace.tracing.{found.name}")
        for name, value in vars(module).items():
            public = name.isupper() and not name.startswith("_")
            if public and isinstance(value, str) and re.match(r"\s*(SELECT|WITH)\b", value):
                yield f"{found.name}.{name}", value
    for kind, rows in history.TOUCHES.items():
        for what, statement in rows:
            yield f"history.{kind}, {what}", statement
    for letter, statement in history.EXISTS.items():
        yield f"history.{letter}-", statement


QUESTIONS = dict(_constants())


@pytest.fixture(scope="module")
def reader(empty_file: Any) -> Iterator[Reader]:
    with open_reader(str(empty_file)) as found:
        yield found


def plan(reader: Reader, statement: str) -> list[str]:
    sql = expand(statement.replace("{keys}", "1, 2, 3"), None)
    given: Mapping[str, Any] = dict.fromkeys(re.findall(r":(\w+)", sql), "1")
    return [row[3] for row in reader.connection.execute(f"EXPLAIN QUERY PLAN {sql}", given)]


def test_questions_are_found() -> None:
    assert len(QUESTIONS) > 60


@pytest.mark.parametrize("name", QUESTIONS)
def test_question_is_prepared_by_the_database(reader: Reader, name: str) -> None:
    assert plan(reader, QUESTIONS[name])


@pytest.mark.parametrize("name", QUESTIONS)
def test_question_names_only_columns_the_schema_has(name: str) -> None:
    statement = QUESTIONS[name]
    tables = metadata().tables
    aliases = dict(re.findall(r"(?:FROM|JOIN)\s+(\w+)\s+(\w+)\b", statement))
    named = {alias: table for table, alias in aliases.items()}
    assert set(aliases) <= set(tables), f"{set(aliases) - set(tables)} is no table"
    found = re.findall(r"\b(\w+)\.(\w+)\b", re.sub(r"\{live:(\w+)\}", r"\1.ended_no", statement))
    assert found or not named
    for table, alias in re.findall(r"(?:FROM|JOIN)\s+(\w+)\s+(\w+)\b", statement):
        columns = {c.name for c in tables[table].columns}
        for of, column in found:
            if of == alias:
                assert column in columns, f"{table} has no {column}"


@pytest.mark.parametrize("name", QUESTIONS)
def test_question_is_written_for_both_databases(name: str) -> None:
    """No function or notation of one database; a prefix is a range, LIKE only with its escape sign."""
    statement = QUESTIONS[name]
    foreign = r"\b(GLOB|IFNULL|ROWID|PRAGMA)\b|\binstr\(|json_|\|\||\?|\bIS NOT DISTINCT\b"
    assert not re.search(foreign, statement, re.IGNORECASE)
    if "LIKE" in statement:
        assert statement.count("LIKE") == statement.count("ESCAPE '\\'")
        assert name.split(".")[1] in WHOLE


@pytest.mark.parametrize("name", [n for n in QUESTIONS if n.split(".")[1] not in WHOLE and n not in ENDED])
def test_question_scans_no_table_that_grows(reader: Reader, name: str) -> None:
    statement = QUESTIONS[name]
    alias = {a: t for t, a in re.findall(r"(?:FROM|JOIN)\s+(\w+)\s+(\w+)\b", statement)}
    scanned = [step for step in plan(reader, statement) if step.startswith("SCAN")]
    grown = [step for step in scanned if alias.get(step.split()[1], step.split()[1]) in GROWING]
    assert not grown, grown


@pytest.mark.parametrize(
    ("name", "index"),
    [
        ("PART_NUMBERED", "uq_part_piece_no"),
        ("PARTS_NUMBERED", "uq_part_piece_no"),
        ("PARTS_BETWEEN", "uq_part_piece_no"),
        ("HEAT_NUMBERED", "uq_heat_series"),
        ("HEATS_BETWEEN", "uq_heat_series"),
        ("ALIAS_NUMBERED", "ix_alias_number"),
        ("PLACEMENT", "uq_placement_part"),
        ("CUT_OF_PART", "uq_cut_no"),
        ("RUN_END", "ix_placement_strand"),
    ],
)
def test_number_place_and_cut_are_looked_up_by_index(reader: Reader, name: str, index: str) -> None:
    assert index in " ".join(plan(reader, getattr(questions, name)))


def test_shares_and_results_are_read_by_their_keys(reader: Reader) -> None:
    from heattrace.tracing import chemistry_questions

    assert any("PRIMARY KEY (placement_id=?)" in s for s in plan(reader, questions.SHARES))
    assert any("ix_share_heat" in s for s in plan(reader, questions.PIECES_OF_HEAT))
    assert any("PRIMARY KEY (analysis_id=?)" in s for s in plan(reader, chemistry_questions.RESULTS))


def test_wildcard_with_a_beginning_reads_a_range_of_the_index(reader: Reader) -> None:
    assert any("uq_part_piece_no (piece_no>? AND piece_no<?)" in s for s in plan(reader, questions.PARTS_LIKE))


def test_reader_that_scans_would_be_seen(reader: Reader) -> None:
    """The guard above sees a scan: a LIKE without a range reads the whole index."""
    steps = plan(reader, "SELECT p.part_id FROM part p WHERE p.piece_no LIKE :x AND {live:p}")
    assert any(step.startswith("SCAN") for step in steps)
    with pytest.raises(sqlite3.OperationalError):
        plan(reader, "SELECT p.colour FROM part p")
