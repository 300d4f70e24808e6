"""Values out of TOML text, each fault with its line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from heattrace.findings import Finding


@dataclass(slots=True)
class TomlReader:
    """Takes values out of TOML text and notes every fault with the line where its key stands."""

    text: str
    data: Mapping[str, Any]
    faults: list[Finding] = field(default_factory=list)

    def fault(self, path: tuple[str, ...], seen: str, wanted: str, step: str = "") -> None:
        """Note one fault under the line where its key stands."""
        line = line_of(self.text, path)
        where = f"profile, line {line}" if line else "profile"
        self.faults.append(Finding("PROF01", f"{where}, {'.'.join(path)}", seen, wanted, step))

    def table(self, *path: str) -> dict[str, Any]:
        """The table at `path`, empty where it is missing or is no table."""
        at: Any = self.data
        for key in path:
            at = at.get(key, {}) if isinstance(at, dict) else {}
        if not isinstance(at, dict):
            self.fault(path, repr(at), "a table")
            return {}
        return at

    def known(self, path: tuple[str, ...], keys: frozenset[str]) -> None:
        """Fault every key of a table that is not one of `keys`."""
        for key in self.table(*path):
            if key not in keys:
                self.fault((*path, key), key, "one of " + ", ".join(sorted(keys)))

    def string(self, *path: str, default: str | None = None, among: tuple[str, ...] = ()) -> str | None:
        """The text at `path`; `default` where it is missing or faulty."""
        table = self.table(*path[:-1])
        if path[-1] not in table:
            return default
        value = table[path[-1]]
        if not isinstance(value, str) or (among and value not in among):
            self.fault(path, repr(value), "one of " + ", ".join(among) if among else "a text")
            return default
        return value

    def words(self, *path: str, default: tuple[str, ...] = ()) -> frozenset[str]:
        """The list of texts at `path`."""
        table = self.table(*path[:-1])
        if path[-1] not in table:
            return frozenset(default)
        value = table[path[-1]]
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.fault(path, repr(value), "a list of texts")
            return frozenset(default)
        return frozenset(value)


def line_of(text: str, path: tuple[str, ...]) -> int | None:
    """Line of a key in TOML text, from 1; the line of its table where the key itself cannot be found."""
    table: tuple[str, ...] = ()
    nearest = None
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.strip()
        if bare.startswith("["):
            table = tuple(part.strip().strip('"') for part in bare[1:].split("]")[0].split("."))
            if table == path:
                return number
            if table == path[: len(table)]:
                nearest = number
            continue
        key: str = bare.split("=")[0].strip().strip('"')
        if "=" in bare and (*table, key) == path:
            return number
        if "=" in bare and table == path[:-2] and (key,) == path[-2:-1]:
            nearest = number
    return nearest
