"""Profiles: what a source's files look like, said once in TOML, so that nothing is guessed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class MappedColumn:
    """Where a column of theirs goes: our name, and their unit where it is not ours."""

    column: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class MappedElement:
    """Which element a column of theirs holds (`Al` total, `Als` acid-soluble); unit None: a unit column says it."""

    element: str
    unit: str | None


@dataclass(frozen=True, slots=True)
class RowWords:
    """Which values of one column of theirs mark a burn, a mean row, or a row to pass over."""

    column: str
    burn: frozenset[str]
    mean: frozenset[str]
    skip: frozenset[str]


@dataclass(frozen=True, slots=True)
class SheetMap:
    """One sheet of a foreign book: its file in the folder or sheet in the workbook, its columns and its clock."""

    name: str
    file: str | None = None
    sheet: str | None = None
    columns: Mapping[str, MappedColumn] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    constants: Mapping[str, str] = field(default_factory=dict)
    ignore: frozenset[str] = frozenset()
    clock: str | None = None
    format: str | None = None
    zone: str | None = None


@dataclass(frozen=True, slots=True)
class Profile:
    """One source's way of writing. `ours` is true where the profile maps nothing: the columns have our own names.

    `layout` is `wide` (a row a sample, a column an element) or `long` (a row a result) for analyses. `format` None is
    RFC 3339 with an offset. `file_type` None takes CSV text as well as a workbook. `text` is the TOML it was read from.
    """

    name: str
    takes: str
    text: str
    layout: str = "wide"
    file_type: str | None = None
    encoding: str = "utf-8"
    delimiter: str = ","
    decimal: str = "."
    sheet: str | None = None
    header_within: int = 10
    zone: str | None = None
    format: str | None = None
    clock: str | None = None
    columns: Mapping[str, MappedColumn] = field(default_factory=dict)
    values: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    elements: Mapping[str, MappedElement] = field(default_factory=dict)
    constants: Mapping[str, str] = field(default_factory=dict)
    not_reported: frozenset[str] = frozenset(("", "-", "n.d."))
    over_range: frozenset[str] = frozenset()
    ignore: frozenset[str] = frozenset()
    rows: RowWords | None = None
    split: Mapping[str, str] = field(default_factory=dict)
    sheets: Mapping[str, SheetMap] = field(default_factory=dict)
    ours: bool = True

    def for_sheet(self, name: str) -> SheetMap:
        """The map of one sheet; where the profile says nothing about it, its own columns, values and constants."""
        own = self.sheets.get(name)
        if own is None:
            return SheetMap(name, None, None, self.columns, self.values, self.constants, self.ignore)
        values = dict(self.values) | {key: {**self.values.get(key, {}), **words} for key, words in own.values.items()}
        return SheetMap(
            name, own.file, own.sheet, own.columns or self.columns, values, dict(self.constants) | dict(own.constants),
            self.ignore | own.ignore, own.clock, own.format, own.zone,
        )  # fmt: skip


_SPLIT_FIELD = re.compile(r"\{(\w+)\}")


def split_pattern(pattern: str, kinds: Mapping[str, str]) -> re.Pattern[str]:
    """Turn `{heat_no}-{kind}{n}` into a pattern with those group names; `kinds` are the words `{kind}` may be."""
    out, at = "", 0
    for part in _SPLIT_FIELD.finditer(pattern):
        out += re.escape(pattern[at : part.start()])
        match part[1]:
            case "n":
                out += r"(?P<n>[0-9]+)"
            case "kind" if kinds:
                out += "(?P<kind>" + "|".join(re.escape(k) for k in sorted(kinds, key=lambda k: (-len(k), k))) + ")"
            case "kind":
                out += r"(?P<kind>[^\W\d_]+(?:-[^\W\d_]+)*)"
            case name:
                out += f"(?P<{name}>.+)"
        at = part.end()
    return re.compile(out + re.escape(pattern[at:]))
