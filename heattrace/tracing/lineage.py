"""Which parts a part was made from, and which were made from it, over all generations."""

from __future__ import annotations

from collections.abc import Iterable

from heattrace.store.reader import Reader
from heattrace.tracing import questions as q

# More generations than a plant has: a loop in the record must not hang a reader.
_DEEPEST = 30


def sources_of(reader: Reader, part_ids: Iterable[int]) -> dict[int, tuple[int, ...]]:
    """Parts each part was made from, nearest generation first; empty for what was cast."""
    return _walk(reader, part_ids, q.PARENTS_OF, "child_id", "parent_id")


def products_of(reader: Reader, part_ids: Iterable[int]) -> dict[int, tuple[int, ...]]:
    """Parts made from each part, nearest generation first."""
    return _walk(reader, part_ids, q.CHILDREN_OF, "parent_id", "child_id")


def _walk(reader: Reader, part_ids: Iterable[int], question: str, near: str, far: str) -> dict[int, tuple[int, ...]]:
    keys = sorted(set(part_ids))
    steps: dict[int, list[int]] = {}
    asked: set[int] = set()
    front = set(keys)
    for _ in range(_DEEPEST):
        asked |= front
        fresh: set[int] = set()
        for row in reader.by_keys(question, sorted(front)):
            steps.setdefault(row[near], []).append(row[far])
            fresh.add(row[far])
        front = fresh - asked
        if not front:
            break
    return {key: _reached(key, steps) for key in keys}


def _reached(key: int, steps: dict[int, list[int]]) -> tuple[int, ...]:
    found: dict[int, None] = {}
    front = [key]
    while front:
        front = [far for near in front for far in steps.get(near, ()) if far not in found and far != key]
        found.update(dict.fromkeys(front))
    return tuple(found)
