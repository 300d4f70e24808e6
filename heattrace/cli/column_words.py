"""The columns of a kind of file in words: what a person has to write, where no profile maps other names."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from heattrace.cli.output import table
from heattrace.intake.profiles.kinds import Column, Kind

_CELLS = {
    "ident": "number of the plant",
    "whole": "whole number",
    "decimal": "number",
    "instant": "moment with offset, as 2025-03-11T07:28:00+01:00",
    "day": "day or moment",
    "flag": "yes or no",
    "element": "element symbol",
    "content": "content",
}


def columns_json(kind: Kind) -> list[dict[str, Any]]:
    """Every sheet of a kind with its columns."""
    return [
        {
            "sheet": sheet.name,
            "required": sheet.required,
            "columns": [
                {
                    "name": column.name,
                    "required": column.required,
                    "type": column.type,
                    "unit": column.unit or None,
                    "low": column.low,
                    "high": column.high,
                    "choices": list(column.choices),
                    "default": column.default or column.default_from,
                }
                for column in sheet.columns
            ],
        }
        for sheet in kind.sheets.values()
    ]


def column_lines(kind: Kind) -> Iterator[str]:
    """A table per sheet: our column names, whether they must be there, what their cells are."""
    several = len(kind.sheets) > 1
    for sheet in kind.sheets.values():
        yield ""
        if several:
            yield f"sheet {sheet.name}" + ("" if sheet.required else " (may be missing)")
        rows = [(column.name, _must(column), _cells(column), _empty(column)) for column in sheet.columns]
        yield from table(["column", "must be there", "its cells", "an empty one means"], rows)


def _must(column: Column) -> str:
    if not column.required:
        return f"with {column.together}" if column.together else ""
    return "yes" if column.filled else "yes, cells may be empty"


def _cells(column: Column) -> str:
    if column.type == "choice":
        shown = ", ".join(column.choices)
        return shown if len(shown) <= 90 else f"{', '.join(column.choices[:5])} ... ({len(column.choices)} words)"
    words = _CELLS.get(column.type, "text")
    unit = f" [{column.unit}]" if column.unit else ""
    band = f", {column.low} to {column.high}" if column.low is not None and column.high is not None else ""
    return f"{words}{unit}{band}"


def _empty(column: Column) -> str:
    if column.default is not None:
        return column.default
    return f"as {column.default_from}" if column.default_from else ""
