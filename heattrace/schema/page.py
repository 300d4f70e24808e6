"""The schema in words, made from the comments of tables and columns.

    python -m heattrace.schema.page DEVELOPERS.md

renews the part between the two marks of that file.
"""

from __future__ import annotations

import sys
from pathlib import Path

from heattrace.schema.tables import AREAS, metadata

BEGIN, END = "<!-- schema: begin -->", "<!-- schema: end -->"
# The two numbers every fact row carries are explained once, above the tables.
_EVERYWHERE = ("entry_no", "ended_no")


def schema_page() -> str:
    """Markdown: every table by area, every column with its comment."""
    lines: list[str] = []
    tables = metadata().tables
    for area in AREAS:
        lines += [f"### {area.__name__.rsplit('.', 1)[1]}: {(area.__doc__ or '').strip().splitlines()[0]}", ""]
        for name, table in tables.items():
            if _module_of(name) != area.__name__:
                continue
            lines.append(f"**{name}**: {table.comment}")
            lines += [
                f"- `{column.name}` {column.comment}" for column in table.columns if column.name not in _EVERYWHERE
            ]
            lines.append("")
    return "\n".join(lines)


def _module_of(table_name: str) -> str:
    from heattrace.schema.columns import Row

    for model in Row.__subclasses__():
        if getattr(model, "__tablename__", "") == table_name:
            return model.__module__
    raise LookupError(table_name)


def renewed(text: str) -> str:
    """A document with the part between its marks made anew."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{schema_page()}{END}{after}"


if __name__ == "__main__":
    path = Path(sys.argv[1])
    path.write_text(renewed(path.read_text(encoding="utf-8")), encoding="utf-8")
