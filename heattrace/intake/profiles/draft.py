"""Draft a profile from a file: every column found, with what is open as questions. Nothing is imported or decided."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from heattrace.intake.profiles.kinds import ANALYSIS_COLUMNS, RESULT_COLUMNS
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.reading.archive import open_archive
from heattrace.intake.reading.books import sheet_rows
from heattrace.intake.reading.contents import element_of
from heattrace.intake.reading.csvrows import CsvRows, decodes
from heattrace.intake.reading.faults import Place, refuse, shown
from heattrace.intake.reading.header import DELIMITERS, clean
from heattrace.intake.reading.parsing import plain_number
from heattrace.intake.reading.sniffing import bom_of, check_sort, read_head, text_encoding

SEARCHED_ROWS = 40
SAMPLES = 3
_POINT, _COMMA = re.compile(r"[<>]?\s*\d+\.\d+"), re.compile(r"[<>]?\s*\d+,\d+")
_DATE = re.compile(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}.*")


@dataclass(frozen=True, slots=True)
class Look:
    """What a file looks like: its sort, how it is written, its sheet, the header row, header texts, some rows below."""

    file_type: str
    encoding: str
    delimiter: str
    sheet: str | None
    header_row: int
    header: tuple[str, ...]
    samples: list[list[str]]


def draft_profile(path: Path | str) -> str:
    """The text of a profile for a file of analyses, with open questions as comments; it reads as TOML as it stands.

    Raises
    ------
    FileRefused
        The file cannot be opened, or has no row that could be a header.
    """
    path = Path(path)
    look = _look(path, Place(path.name or str(path)))
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", path.stem).strip("-._") or "new-source"
    lines = [
        f"# Draft from {shown(path.name, 120)}. Lines with a question mark are open: answer each, take the # away.",
        "# What was read off the file may be wrong; nothing was imported.",
        f"name = {_quoted(name)}",
        'takes = "analyses"                  # ? or heats, temperatures, orders, cast-book ...',
        "",
        "[file]",
        f"type = {_quoted(look.file_type)}",
        *_file_lines(look),
        f"header_within = {max(10, look.header_row)}                 # the header stands in row {look.header_row}",
        "",
        "[time]",
        *_time_lines(look),
        "",
        "[columns]                           # theirs -> ours",
    ]
    elements: list[str] = []
    for at, text in enumerate(look.header):
        if not (column := clean(text)):
            lines.append(f"# column {at + 1} has no name")
            continue
        (elements if element_of(column) else lines).append(_column_line(column, _cells(look, at)))
    lines += [
        "# ? Columns of ours that a file of analyses needs: heat_no, sample_id, sample_kind, analysed_at, method",
        "",
    ]
    lines += ["[elements]", "# ? Is each unit right? % is mass %; ppm is mg/kg.", *elements, ""]
    lines += [
        "[constants]                         # for what the file does not say",
        '# method = "spark-emission"         # ?',
        '# instrument = "..."                # ?',
        "",
        "[tokens]",
        'not_reported = ["", "-", "n.d."]    # ? what else means not determined',
        "over_range = []                     # ? what means over the range",
        "",
        "[ignore]",
        "columns = []                        # ? columns to leave out, by their header",
        "",
    ]
    return "\n".join(lines)


def _look(path: Path, place: Place) -> Look:
    head = read_head(path, place)
    if check_sort(path, head, None, place) == "xlsx":
        archive = open_archive(path, place)
        for part in archive.sheets:
            rows = list(sheet_rows(archive, part, place, [], _reading("xlsx", "utf-8", ",")).records())
            if any(cells for _, cells in rows):
                return _with_header("xlsx", "utf-8", ",", part.name, rows, place)
        raise refuse(place, "FILE02", "no sheet with rows", "rows", "Export it again.")
    encoding = "utf-8" if bom_of(head) or decodes(head[:-4] or head, "utf-8") else "cp1252"
    encoding = text_encoding(head, encoding, place)[0]
    delimiter = _delimiter(head.decode(encoding, "replace"))
    rows = []
    for row, cells in CsvRows(path, place, head, encoding, delimiter).records():
        rows.append((row, cells))
        if row >= SEARCHED_ROWS:
            break
    return _with_header("csv", encoding, delimiter, None, rows, place)


def _reading(file_type: str, encoding: str, delimiter: str) -> Profile:
    return Profile("draft", "analyses", "", file_type=file_type, encoding=encoding, delimiter=delimiter)


def _delimiter(text: str) -> str:
    """The sign that parts the most rows into the same number of cells, more than one."""
    lines = [line for line in text.splitlines()[:SEARCHED_ROWS] if line.strip()]

    def score(sign: str) -> tuple[int, int]:
        widths = [len(cells) for cells in csv.reader(lines, delimiter=sign)]
        usual = max(set(widths), key=lambda width: (width > 1, widths.count(width)), default=1)
        return (widths.count(usual), usual) if usual > 1 else (0, 0)

    return max(DELIMITERS, key=score)


def _with_header(
    file_type: str,
    encoding: str,
    delimiter: str,
    sheet: str | None,
    rows: Sequence[tuple[int, list[str]]],
    place: Place,
) -> Look:
    """The header is taken to be the first row with the most cells that are names."""
    best = max(rows, key=lambda r: (sum(1 for c in r[1] if c.strip() and not _numeric(c)), -r[0]), default=None)
    if best is None or not any(cell.strip() for cell in best[1]):
        raise refuse(place, "FILE09", "no row with names", "a header", "Export it with a header.")
    row, header = best
    below = [cells for at, cells in rows if at > row and any(cells)][:SAMPLES]
    return Look(file_type, encoding, delimiter, sheet, row, tuple(header), below)


def _numeric(text: str) -> bool:
    return plain_number(text, ".") is not None or plain_number(text, ",") is not None


def _cells(look: Look, column: int) -> list[str]:
    return [cells[column].strip() for cells in look.samples if column < len(cells) and cells[column].strip()]


def _file_lines(look: Look) -> list[str]:
    if look.file_type == "xlsx":
        lines = [f"sheet = {_quoted(look.sheet or '')}                # ? is this the sheet that counts"]
    else:
        lines = [
            f"encoding = {_quoted(look.encoding)}                 # ? if letters such as ü look wrong, another",
            f"delimiter = {_quoted(look.delimiter)}",
        ]
    values = [cell for cells in look.samples for cell in cells]
    comma, point = (next((v for v in values if p.fullmatch(v)), None) for p in (_COMMA, _POINT))
    seen = " and ".join(f'"{v}"' for v in (comma, point) if v) or "no number with a decimal sign"
    both = ", both signs: ask the laboratory" if comma and point else ""
    sign = "," if comma and not point else "."
    return [*lines, f"decimal = {_quoted(sign)}                       # ? the file has {seen}{both}"]


def _time_lines(look: Look) -> list[str]:
    dates = [c for cells in look.samples for c in cells if _DATE.fullmatch(c.strip()) and not c.strip()[:4].isdigit()]
    lines = [f"# ? The file has {_quoted(shown(dates[0]))}: which part is the day?"] if dates else []
    return [
        *lines,
        '# zone = "Europe/Vienna"            # ? whose local time is it; leave out where times carry an offset',
        '# format = "%d.%m.%Y %H:%M"         # ? leave out for times such as 2026-04-03T10:15:00+02:00',
        '# clock = "..."                     # ? whose clock this is',
    ]


def _column_line(name: str, cells: list[str]) -> str:
    values = f"such as {', '.join(_bare(c) for c in cells)}" if cells else "empty in the first rows"
    symbol = element_of(name)
    if symbol == "Al" and name == "Al":
        return f'# {_quoted(name)} = {{ element = "Al", form = "...", unit = "%" }}   # ? total or soluble; {values}'
    if symbol is not None:
        return f'# {_quoted(name)} = {{ element = "{symbol}", unit = "%" }}   # ? % or ppm; {values}'
    ours = next((c.name for c in (*ANALYSIS_COLUMNS, *RESULT_COLUMNS) if c.name == name), "...")
    return f'# {_quoted(name)} = "{ours}"   # ? {values}'


def _bare(text: str) -> str:
    return shown(text, 24).replace("\n", " ")


def _quoted(text: str) -> str:
    """Text as a TOML basic string."""
    out = "".join(_escaped(sign) for sign in text)
    return f'"{out}"'


def _escaped(sign: str) -> str:
    if sign in '"\\':
        return "\\" + sign
    if sign == "\t":
        return "\\t"
    return sign if sign.isprintable() else f"\\u{ord(sign):04X}" if ord(sign) < 0x10000 else f"\\U{ord(sign):08X}"
