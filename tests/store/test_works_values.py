"""What `works set` takes and what it refuses, with the words that say what was expected."""

from __future__ import annotations

import pytest

from heattrace.errors import WrongUsage
from heattrace.store.works import WORKS_VALUES, read_value

SHARES = (
    "old-max", "step-min", "hold-reach", "hold-reach-chemistry", "scale-warn", "scale-distrust", "counter-error",
    "balance-band",
)  # fmt: skip

REFUSED = [
    *((name, text, "from 0 to 1") for name in SHARES for text in ("-0.1", "1.01", "5", "nan", "inf")),
    ("pure-min", "0.5", "above 0.5"),
    ("pure-min", "0.2", "from 0.5 to 1"),
    ("pure-min", "95", "from 0.5 to 1"),
    ("density", "7850", "from 5 to 10"),
    ("density", "0", "from 5 to 10"),
    ("liquidus-formula", "my-own", "liquidus-handbook-1990-carbon"),
    ("ladder", "tundish-steady, check", "ladle-final"),
    ("ladder", "control", "tundish-steady"),
    ("ladder", "product", "mould"),
    ("ladder", "tundish-early", "tundish-late"),
    ("ladder", "mould, mould", "each word once"),
    ("event-wants-check", "level-swing, levelswing", "level-swing"),
    ("event-reach", "levelswing=1,2", "level-swing"),
    ("critical-difference", "Xx=0.01", "Mn"),
    ("critical-difference", "c=0.01", "Mn"),
    ("method-precedence", "Carbon=combustion", "Mn"),
]


@pytest.mark.parametrize(("name", "text", "expected"), REFUSED)
def test_a_value_that_cannot_be_meant_is_refused_with_what_was_expected(name: str, text: str, expected: str) -> None:
    with pytest.raises(WrongUsage) as refused:
        read_value(name, text)
    assert str(refused.value).startswith(f"{name}: ")
    assert expected in str(refused.value)


TAKEN = [
    ("pure-min", "0.97", 0.97), ("pure-min", "1", 1.0), ("old-max", "0", 0.0), ("density", "7.8", 7.8),
    ("ladder", "ladle-final, mould", ["ladle-final", "mould"]),
    ("event-reach", "level-swing=2,4", {"level-swing": ["2", "4"]}),
    ("critical-difference", "C=0.012; S=0.0020", {"C": "0.012", "S": "0.0020"}),
    ("method-precedence", "C=our-own-method", {"C": ["our-own-method"]}),
    ("liquidus-formula", "liquidus-principles-1994", "liquidus-principles-1994"), ("guard-ahead", "12", 12.0),
]  # fmt: skip


@pytest.mark.parametrize(("name", "text", "value"), TAKEN)
def test_a_value_that_can_be_meant_is_taken(name: str, text: str, value: object) -> None:
    assert read_value(name, text) == value


def test_every_shipped_value_would_be_taken() -> None:
    for name, known in WORKS_VALUES.items():
        if known.kind == "list":
            assert read_value(name, ", ".join(known.shipped)) == known.shipped
        elif known.kind in ("number", "text"):
            assert read_value(name, str(known.shipped)) == known.shipped
