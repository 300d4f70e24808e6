"""Cast books as folders of CSV files, for tests: a small one whose places are whole metres, and recorded casts."""

from __future__ import annotations

import copy
import csv
import shutil
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from heattrace.intake.loading.load_grade_book import load_shipped_grade_book
from heattrace.store.engine import open_reader
from heattrace.store.migrate import create
from heattrace.store.work import begin_work
from heattrace.strand.record import Cast
from tests.conftest import Ran

START = datetime(2025, 3, 11, 8, 0, tzinfo=UTC)
GRADE, OTHER_GRADE = "EN 10025-2:2004 S355J2", "EN 10083-2:2006 C45E"


def clock(minute: float) -> str:
    """The moment a minute of the cast is written as, to the millisecond."""
    ms = round(minute * 60_000)
    return (START + timedelta(milliseconds=ms)).isoformat(timespec="milliseconds" if ms % 1000 else "seconds")


class CastBook:
    """The sheets of a book: rows by sheet, each row a mapping of our column names to cell texts."""

    def __init__(self, sheets: dict[str, list[dict[str, str]]]) -> None:
        self.sheets = sheets

    def __getitem__(self, sheet: str) -> list[dict[str, str]]:
        return self.sheets[sheet]

    def copy(self) -> CastBook:
        """A book of its own with the same rows."""
        return CastBook(copy.deepcopy(self.sheets))

    def write(self, folder: Path) -> Path:
        """Write one CSV file a sheet; the columns are those any of its rows has."""
        folder.mkdir(parents=True)
        for sheet, rows in self.sheets.items():
            columns = list(dict.fromkeys(name for row in rows for name in row))
            with (folder / f"{sheet}.csv").open("w", encoding="utf-8", newline="") as stream:
                writer = csv.DictWriter(stream, columns, restval="", lineterminator="\n")
                writer.writeheader()
                writer.writerows(rows)
        return folder


@cache
def _graded() -> Path:
    """A database with the shipped grade book, made once."""
    path = Path(tempfile.mkdtemp(prefix="caster")) / "graded.db"
    create(str(path), practice=True)
    with begin_work(str(path), by="T. Test", action="db init", subject="graded.db") as work:
        load_shipped_grade_book(work)
        work.commit()
    return path


class Caster:
    """A works with a grade book and nothing else, into which cast books are taken by command line."""

    def __init__(self, folder: Path, run: Callable[..., Ran]) -> None:
        self.folder = folder
        self.db = str(folder / "works.db")
        shutil.copy(_graded(), self.db)
        self._run = run
        self._sent = 0

    def run(self, *words: str | Path) -> Ran:
        """One command line on this database."""
        return self._run(*words, "--db", self.db)

    def send(self, book: CastBook, name: str | None = None) -> Ran:
        """Take a book in; gives the answer as JSON."""
        self._sent += 1
        folder = book.write(self.folder / f"sent{self._sent}" / (name or "book"))
        return self.run("import", folder, "--profile", "cast-book", "--by", "T. Test", "--json")

    def send_file(self, profile: str, text: str) -> Ran:
        """Take one CSV file in."""
        self._sent += 1
        path = self.folder / f"sent{self._sent}.csv"
        path.write_text(text, encoding="utf-8")
        return self.run("import", path, "--profile", profile, "--by", "T. Test", "--json")

    def file(self, ran: Ran) -> dict[str, Any]:
        """The one file of an import's answer."""
        (answer,) = ran.data["files"]
        return dict(answer)

    def parts(self, sequence_no: str = "S7") -> dict[str, dict[str, Any]]:
        """Parts of `sequence show` by piece number, crops by their kind and cut number."""
        shown = self.run("sequence", "show", sequence_no, "--json")
        assert shown.status == 0, shown.err + shown.out
        return {
            p["piece"]["piece_no"] or f"{p['piece']['kind']} {p['cast_position']['cut_no']}": p
            for p in shown.data["pieces"]
        }

    def rows(self, sql: str, **parameters: Any) -> list[tuple[Any, ...]]:
        """Rows of a question on the database."""
        with open_reader(self.db) as reader:
            return [tuple(row) for row in reader.all(sql, **parameters)]

    def scalar(self, sql: str, **parameters: Any) -> Any:
        """The first value of a question on the database."""
        return self.rows(sql, **parameters)[0][0]


def findings_of(ran: Ran, code: str) -> list[dict[str, str]]:
    """Findings of one code in an answer."""
    return [f for f in ran.json["findings"] if f["code"] == code]


def small_book(cuts: int = 10, *, sequence_no: str = "S7", heats: tuple[str, str] = ("5001", "5002")) -> CastBook:
    """One strand of 220 x 300 mm at 1 m/min from minute 5, its torch 20 m below the mould, still casting.

    S is the minute less 5. Cut 1 lies at 1 m, each further cut 5 m on: cut k at 5k - 4 m, clamped in minute 21 + 5k.
    The tundish holds 20 t; the second ladle opens in minute 40, when S is 35 m.
    """
    run = {"sequence_no": sequence_no, "strand_no": "1", "run_no": "1"}
    first = {**run, "cut_no": "1", "kind": "head-crop", "piece_no": "", "clamped_at": clock(26)}
    pieces = [
        {
            **run, "cut_no": str(k), "kind": "piece", "piece_no": f"{sequence_no}-{k:02d}",
            "clamped_at": clock(21 + 5 * k),
        }
        for k in range(2, cuts + 1)
    ]  # fmt: skip
    size = {"form": "bloom", "thickness_mm": "220", "width_mm": "300", "machine_length_m": "20"}
    last = 21 + 5 * cuts
    return CastBook(
        {
            "heats": [{"heat_no": heat, "grade": GRADE, "series": "2025"} for heat in heats],
            "sequences": [{"sequence_no": sequence_no, "caster": "CC1", "recorded_until": clock(last + 1)}],
            "tundishes": [{"sequence_no": sequence_no, "tundish": "T1", "mass_at_start_t": "20"}],
            "pours": [
                {"sequence_no": sequence_no, "heat_no": heats[0], "tundish": "T1", "opened_at": clock(0),
                 "closed_at": clock(40)},
                {"sequence_no": sequence_no, "heat_no": heats[1], "tundish": "T1", "opened_at": clock(40),
                 "closed_at": ""},
            ],
            "strands": [{**run, **size, "started_at": clock(5), "stopped_at": ""}],
            "feeds": [{**run, "tundish": "T1", "from_at": clock(5), "to_at": ""}],
            "speeds": [{**run, "from_at": clock(5), "speed_m_min": "1.0"}],
            "cuts": [first, *pieces],
        }
    )  # fmt: skip


def _digits(value: float) -> str:
    return format(Decimal(repr(value)), "f")


def book_of(cast: Cast, grade: str = GRADE) -> CastBook:
    """A recorded cast of the strand model as a cast book; an open end is an empty cell."""

    def at(minute: float | None) -> str:
        return "" if minute is None else clock(minute)

    def maybe(value: float | None) -> str:
        return "" if value is None else _digits(value)

    sequence = {"sequence_no": cast.sequence_no}
    sheets: dict[str, list[dict[str, Any]]] = {
        "heats": [{"heat_no": heat.heat_no, "grade": grade, "series": "2025"} for heat in cast.heats],
        "sequences": [{**sequence, "caster": "CC1", "recorded_until": at(cast.last_time)}],
        "tundishes": [],
        "pours": [],
        "tundish_masses": [],
        "strands": [],
        "feeds": [],
        "speeds": [],
        "cuts": [],
    }
    for tundish in cast.tundishes:
        own = {**sequence, "tundish": tundish.label}
        start = tundish.heat_at_start
        sheets["tundishes"].append(
            {**own, "mass_at_start_t": _digits(tundish.mass_at_start_t), "heat_at_start": start or ""}
        )
        sheets["tundish_masses"] += [{**own, "read_at": at(t), "mass_t": _digits(m)} for t, m in tundish.readings]
    for pour in cast.pours:
        times = {"opened_at": at(pour.opened), "closed_at": at(pour.closed)}
        sheets["pours"].append({**sequence, "heat_no": pour.heat, "tundish": pour.tundish, **times})
    for run in cast.runs:
        key = {**sequence, "strand_no": run.strand_no, "run_no": run.run_no}
        sheets["strands"].append(
            {
                **key, "form": run.form, "thickness_mm": _digits(run.thickness_mm), "width_mm": _digits(run.width_mm),
                "machine_length_m": _digits(run.machine_length_m), "started_at": at(run.started),
                "stopped_at": at(run.stopped), "kerf_mm": _digits(run.kerf_mm),
                "cut_temperature_c": _digits(run.cut_temperature_c),
            }
        )  # fmt: skip
        sheets["feeds"] += [
            {**key, "tundish": feed.tundish, "from_at": at(feed.start), "to_at": at(feed.to)} for feed in run.feeds
        ]
        sheets["speeds"] += [{**key, "from_at": at(t), "speed_m_min": maybe(speed)} for t, speed in run.speeds]
        sheets["cuts"] += [
            {
                **key, "cut_no": cut.cut_no, "kind": cut.kind, "piece_no": cut.piece_no or "",
                "clamped_at": at(cut.clamped), "clamp_distance_m": maybe(cut.clamp_distance_m),
            }
            for cut in run.cuts
        ]  # fmt: skip
    return CastBook({name: rows for name, rows in sheets.items() if rows})
