"""Write the practice works' source files: comma files byte for byte the same each time, the workbook cell for cell."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path

from heattrace.demo.cast_book import (
    EVENT_COLUMNS,
    HEAT_COLUMNS,
    TEMPERATURE_COLUMNS,
    cast_book,
    event_rows,
    heat_rows,
    temperature_rows,
)
from heattrace.demo.casting import Cast, cast
from heattrace.demo.laboratory import MAIN, Laboratory
from heattrace.demo.order_of_import import STORY
from heattrace.demo.paperwork import about, complaint, loads, orders
from heattrace.demo.plant import SEED, SEQUENCES, ZONE
from heattrace.demo.table import Table, table

# Samples cut from pieces: the transition piece at both ends, and one plain bloom of the heat that is released.
_DRILLINGS = (
    (STORY.transition_piece, "head", "transition-product"),
    (STORY.transition_piece, "tail", "transition-product"),
    ("L119D018", "tail", "product"),
)

_SPARK_PROFILE = f"""name = "spark-south"
takes = "analyses"

[file]
type = "csv"
encoding = "utf-8"
delimiter = ";"
decimal = ","
header_within = 10

[time]
zone = "{ZONE}"
format = "%d.%m.%Y %H:%M"
clock = "lab-south"

[columns]
"Heat" = "heat_no"
"Probe" = "sample_id"
"Kind" = "sample_kind"
"Taken" = "taken_at"
"Read" = "analysed_at"
"Ladle_t" = "ladle_mass_left_t"

[values.sample_kind]
"TS" = "tundish-steady"
"TL" = "tundish-late"
"KP" = "control"

[rows]
column = "Line"
burn = ["1", "2", "3", "4"]
mean = ["Mean"]
skip = ["Dev"]

[elements]
{{elements}}

[constants]
method = "spark-emission"
instrument = "SP-2"
laboratory = "{MAIN}"

[tokens]
not_reported = ["", "-", "n.d."]
over_range = ["OVER"]

[ignore]
columns = ["Operator"]
"""

_GAS_PROFILE = f"""name = "gas-ppm"
takes = "analyses"

[file]
type = "csv"
encoding = "utf-8"
delimiter = ","
decimal = "."
header_within = 10

[time]
zone = "{ZONE}"
format = "%Y-%m-%d %H:%M"
clock = "lab-gas"

[columns]
"Heat" = "heat_no"
"Sample" = "sample_id"
"Kind" = "sample_kind"
"Run" = "analysed_at"
"Report" = "report_no"
"Replaces" = "supersedes"

[values.sample_kind]
"TS" = "tundish-steady"

[elements]
"N_ppm" = {{ element = "N", unit = "ppm" }}
"O_ppm" = {{ element = "O", unit = "ppm" }}

[constants]
method = "inert-gas-fusion"
instrument = "GF-1"
laboratory = "{MAIN}"

[tokens]
not_reported = ["", "-", "n.d."]
over_range = ["OVER"]
"""


def write_demo_files(folder: Path, seed: int = SEED) -> list[Path]:
    """Write every practice file below `folder`, made if need be, and give their paths in order of their names.

    The story's pieces and heats are the same for every seed; scatter of instruments and scales is not.
    """
    casts = tuple(cast(plan) for plan in SEQUENCES)
    written: list[Path] = []
    for name, content in _texts(casts, seed):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode("utf-8"))
        written.append(path)
    for done in casts:
        if done.plan.as_workbook:
            path = folder / f"casts/{done.plan.sequence_no}.xlsx"
            _write_workbook(path, cast_book(done, seed))
            written.append(path)
    return sorted(written)


def _texts(casts: tuple[Cast, ...], seed: int) -> Iterator[tuple[str, str]]:
    laboratory = Laboratory(casts, seed)
    spark = laboratory.spark_file()
    yield "about.txt", about()
    yield "complaint.txt", complaint()
    elements = (name for name in spark.header if len(name) <= 2)
    yield "profiles/spark-south.toml", _SPARK_PROFILE.replace("{elements}", "\n".join(_element_lines(elements)))
    yield "profiles/gas-ppm.toml", _GAS_PROFILE
    yield "orders.csv", _csv(orders())
    yield "heats.csv", _csv(table("heats", HEAT_COLUMNS, (row for c in casts for row in heat_rows(c))))
    title = f"{MAIN}; south bench SP-2; week 11\n"
    yield "lab/spark-south.csv", title + _csv(spark, ";")
    yield "lab/ladle-station.csv", _csv(laboratory.ladle_file())
    yield "lab/combustion.csv", _csv(laboratory.combustion_file())
    yield "lab/gas.csv", _csv(laboratory.gas_file())
    yield "lab/gas-amended.csv", _csv(laboratory.amended_file())
    yield "lab/pieces.csv", _csv(laboratory.piece_file(_DRILLINGS))
    apart = [c for c in casts if c.plan.temperatures_apart]
    temperatures = (row for c in apart for row in temperature_rows(c, seed))
    yield "temperatures.csv", _csv(table("temperatures", TEMPERATURE_COLUMNS, temperatures))
    events = (row for c in casts for row in event_rows(c, apart=True))
    yield "events.csv", _csv(table("events", EVENT_COLUMNS, events))
    for path, load in loads(casts):
        yield path, _csv(load)
    for done in casts:
        if not done.plan.as_workbook:
            for sheet in cast_book(done, seed).values():
                yield f"casts/{done.plan.sequence_no}/{sheet.name}.csv", _csv(sheet)


def _element_lines(names: Iterator[str]) -> Iterator[str]:
    for name in names:
        form = ', form = "total"' if name == "Al" else ""
        yield f'"{name}" = {{ element = "{name}"{form}, unit = "%" }}'


def _csv(sheet: Table, delimiter: str = ",") -> str:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerow(sheet.header)
    writer.writerows(sheet.rows)
    return out.getvalue()


def _write_workbook(path: Path, sheets: Mapping[str, Table]) -> None:
    """One sheet a table. Numbers stand as numbers with as many decimals shown as were recorded; all else is text."""
    from openpyxl import Workbook

    path.parent.mkdir(parents=True, exist_ok=True)
    book = Workbook()
    for name in book.sheetnames:
        del book[name]
    for sheet in sheets.values():
        page = book.create_sheet(sheet.name)
        page.append(list(sheet.header))
        for at, row in enumerate(sheet.rows, start=2):
            for column, (name, text) in enumerate(zip(sheet.header, row, strict=True), start=1):
                if not text:
                    continue
                cell = page.cell(at, column)
                if name in sheet.numbers:
                    places = len(text.partition(".")[2])
                    cell.value = float(text) if places else int(text)
                    cell.number_format = "0." + "0" * places if places else "0"
                else:
                    cell.value = text
                    cell.number_format = "@"
    book.save(path)
