"""Pieces that the tests of intake share: a header, rows, and writing them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

WIDE = "heat_no,sample_id,sample_kind,analysed_at,method,instrument,C,Si,Mn,P,S,N"
LONG = "heat_no,sample_id,sample_kind,analysed_at,method,instrument,element,value,unit"
AT = "2026-04-03T10:15:00+02:00"


def wide_row(heat: str = "41878", sample: str = "41878-1", c: str = "0.182", at: str = AT, n: str = "0.0058") -> str:
    return f"{heat},{sample},tundish-steady,{at},spark-emission,S2,{c},0.251,1.440,0.0121,0.0081,{n}"


def long_row(
    element: str, value: str, unit: str = "%", heat: str = "41878", sample: str = "41878-1", at: str = AT
) -> str:
    return f"{heat},{sample},tundish-steady,{at},spark-emission,S2,{element},{value},{unit}"


def write(path: Path, lines: Sequence[str]) -> Path:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def write_book(path: Path, sheets: dict[str, Sequence[Sequence[Any]]]) -> Path:
    """A workbook of sheets, each a list of rows of cell values."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    book.save(path)
    return path


# One strand, one heat, two pieces: what a cast book needs and no more.
CAST = {
    "heats": ["heat_no,grade", "H1,WORKS 1:2020 G1"],
    "sequences": ["sequence_no,caster", "Q1,west"],
    "tundishes": ["sequence_no,tundish,mass_at_start_t", "Q1,A,0"],
    "pours": ["sequence_no,heat_no,tundish,opened_at", f"Q1,H1,A,{AT}"],
    "strands": [
        "sequence_no,strand_no,run_no,form,thickness_mm,width_mm,machine_length_m,started_at",
        f"Q1,1,1,bloom,220,300,28.2,{AT}",
    ],
    "feeds": ["sequence_no,strand_no,run_no,tundish,from_at,to_at", f"Q1,1,1,A,{AT},2026-04-03T11:15:00+02:00"],
    "speeds": ["sequence_no,strand_no,run_no,from_at,speed_m_min", f"Q1,1,1,{AT},0.71"],
    "cuts": [
        "sequence_no,strand_no,run_no,cut_no,kind,piece_no,clamped_at",
        "Q1,1,1,1,piece,P1,2026-04-03T11:00:00+02:00",
        "Q1,1,1,2,piece,P2,2026-04-03T11:08:00+02:00",
    ],
}


def write_cast(folder: Path, **changed: list[str]) -> Path:
    folder.mkdir()
    for name, lines in {**CAST, **changed}.items():
        write(folder / f"{name}.csv", lines)
    return folder
