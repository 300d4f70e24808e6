"""Constants of the program and the moment, read in one place."""

from __future__ import annotations

import time

# "htrc": marks a SQLite file as ours, so that a foreign file is refused before anything is read from it.
APPLICATION_ID = 0x68747263

# STRICT tables came with 3.37.0, released 2021-11-27 (SQLite release notes).
LEAST_SQLITE = (3, 37, 0)

# The migration this program expects a database to stand at.
SCHEMA = "0001"

DIGEST_NONE = "0" * 64


def now_ms() -> int:
    """The moment, milliseconds UTC."""
    return time.time_ns() // 1_000_000
