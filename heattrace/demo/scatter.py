"""Seeded scatter, made of whole numbers only, so that every machine and Python release gives the same files."""

from __future__ import annotations

from random import Random

_DRAWS = 6
_TOP = 1000
# Standard deviation of the sum of six whole numbers drawn evenly from 0..1000: sqrt(6 * (1001**2 - 1) / 12).
_SPREAD = 707.8


def stream(seed: int, *names: str) -> Random:
    """A random stream of its own for each purpose, so that adding one purpose does not move the others."""
    return Random(":".join((str(seed), *names)))


def scatter(rng: Random, deviation: float) -> float:
    """A nearly normal draw about zero, within 4.3 deviations."""
    drawn = sum(rng.randrange(_TOP + 1) for _ in range(_DRAWS))
    return deviation * (drawn - _DRAWS * _TOP // 2) / _SPREAD
