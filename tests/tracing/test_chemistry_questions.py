"""Every reading question of grades and chemistry: it prepares against the schema, and goes by index."""

from __future__ import annotations

import re

import pytest

from heattrace.store.engine import open_reader
from heattrace.store.reader import expand, listed
from heattrace.tracing import chemistry_questions

QUESTIONS = {
    name: text
    for name, text in vars(chemistry_questions).items()
    if name.isupper() and not name.startswith("_") and isinstance(text, str)
}
# Lists read a table in the order of its key; the grade editions are a few hundred rows.
WHOLE_TABLE = {"EDITIONS", "NEWEST_SAMPLES", "KEY_BEFORE_LAST_HEATS"}


@pytest.mark.parametrize("name", sorted(QUESTIONS))
@pytest.mark.parametrize("as_of", [None, 7], ids=["now", "as of an entry"])
def test_question_prepares_and_as_things_stand_goes_by_index(store: str, name: str, as_of: int | None) -> None:
    sql = expand(QUESTIONS[name].replace("{keys}", listed([1, 2, 3])), as_of)
    assert "{" not in sql
    given = dict.fromkeys(re.findall(r":([a-z_]+)", sql), 1)
    with open_reader(store) as reader:
        plan = [row["detail"] for row in reader.all(f"EXPLAIN QUERY PLAN {sql}", **given)]
    if as_of is None:
        scans = [step for step in plan if step.startswith("SCAN")]
        assert bool(scans) == (name in WHOLE_TABLE), plan


def test_no_question_pastes_a_value_into_its_text() -> None:
    """Values go in as parameters; only row keys, which are whole numbers, are written out."""
    assert len(QUESTIONS) > 20
    assert not [name for name, text in QUESTIONS.items() if "%s" in text or "?" in text]
    assert listed([1, 2]) == "1,2"
    with pytest.raises(ValueError, match="invalid literal"):
        listed(["1); DROP TABLE heat"])  # type: ignore[list-item]
