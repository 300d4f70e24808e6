"""Mending rows set aside: read again with changed cells through the same reading and loading, or attached, or voided.

The original bytes stay where they are; what was changed, why and by whom stands beside them.
"""

from __future__ import annotations

import csv
import io
import json
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from difflib import get_close_matches
from pathlib import Path

from heattrace.errors import FileRefused, Refused, WrongUsage
from heattrace.intake.bench.reloading import load_again
from heattrace.intake.bench.rows import bench_row, with_number
from heattrace.intake.loading.numbers import Numbers
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.profiles.cast_book_sheets import KINDS
from heattrace.intake.profiles.kinds import ANALYSIS_COLUMNS, RESULT_COLUMNS, Column
from heattrace.intake.profiles.profile import Profile
from heattrace.intake.profiles.profile_shelf import profile_of_edition
from heattrace.intake.reading.contents import element_of
from heattrace.intake.reading.instants import EPOCH, InstantReader
from heattrace.intake.reading.parsing import searched
from heattrace.store.ledger import canonical
from heattrace.store.reader import Reader, Row
from heattrace.store.work import Work

# Why a row is changed, put elsewhere or left out.
BENCH_REASONS = (
    "TYPING", "WRONG-HEAT", "DOUBLE-ROW", "PREP-WRONG", "METHOD-RANGE", "CONTROL-OUT", "SAMPLE-SWAP", "SAMPLE-LOST",
    "ID-LOST", "ID-DOUBT", "MIX-UP", "DOUBLE-NUMBER", "WEIGHT-ODD", "CUT-NOT-BOOKED", "DOC-MISSING", "DOC-WRONG",
    "ORDER-CHANGE",
)  # fmt: skip


def check_bench_reason(code: str) -> str:
    """The reason code as kept.

    Raises
    ------
    WrongUsage
        No such code; all are listed, the nearest first.
    """
    word = code.strip().upper()
    if word not in BENCH_REASONS:
        near = get_close_matches(word, BENCH_REASONS, n=2, cutoff=0.5)
        others = [reason for reason in BENCH_REASONS if reason not in near]
        raise WrongUsage(f'no reason code "{code}"; one of {", ".join([*near, *others])} was expected')
    return word


def fix(work: Work, bench_ids: Sequence[int], settings: Sequence[str], reason: str, note: str | None) -> LoadCounts:
    """Read rows again with `COLUMN=VALUE` set, and take them in.

    Rows of one analysis go together: what is set is set in each of them. Without settings they are only tried again,
    for something that was missing may have come.

    Raises
    ------
    Refused
        A row was settled before, or still cannot be taken; the record is as it was.
    WrongUsage
        A setting names no column of the file.
    """
    return _settle(work, bench_ids, "fixed", settings, reason, note, None)


def attach(work: Work, bench_ids: Sequence[int], heat: str, reason: str, note: str | None) -> LoadCounts:
    """Take rows in for a heat that a person names: `41878`, or `2026/41878` with its series.

    Raises
    ------
    Refused
        There is no such heat, or several, or the rows speak of no heat, or still cannot be taken.
    """
    numbers = Numbers(work.reader)
    word = searched(heat.strip()).removeprefix("HEAT:")
    series, _, number = word.rpartition("/")
    found = [h for h in numbers.heats(number) if not series or h.series.upper() == series] or numbers.heats(word)
    if len(found) != 1:
        listed = "; ".join(h.words(numbers.zone) for h in found)
        several = f"fits {listed}; write SERIES/HEAT" if found else "is not in the record; heattrace heat list"
        raise Refused(f'heat "{heat}" {several}')
    settings = [f"heat_no={found[0].heat_no}"]
    return _settle(work, bench_ids, "attached", settings, reason, note, found[0].heat_id)


def void(work: Work, bench_ids: Sequence[int], reason: str, note: str) -> None:
    """Leave rows out for good; their bytes stay.

    Raises
    ------
    Refused
        A row was settled before.
    """
    rows = _waiting(work.reader, bench_ids)
    for row in rows:
        _event(work, row, "void", {}, reason, note)
    work.payload = _payload(rows, "void", {}, reason, note)


def _settle(
    work: Work, bench_ids: Sequence[int], state: str, settings: Sequence[str], reason: str, note: str | None,
    heat_id: int | None,
) -> LoadCounts:  # fmt: skip
    rows = _waiting(work.reader, bench_ids)
    first = rows[0]
    if any((r["batch_id"], r["sheet"]) != (first["batch_id"], first["sheet"]) for r in rows):
        raise Refused("these rows are not of one table of one import; settle them one import at a time")
    profile = profile_of_edition(work.reader, first["profile"], first["profile_edition"])
    header: list[str] = json.loads(first["header"])
    changes = dict(_change(profile, first["kind"], first["sheet"], header, text) for text in settings)
    texts = {row["bench_id"]: _cells(row, header, changes) for row in rows}
    batch = BatchInHand(int(first["batch_id"]), first["file"], profile)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / _safe_name(first["file"])
        path.write_bytes(_as_file(header, [(r["row_no"], texts[r["bench_id"]]) for r in rows]))
        try:
            # What is written there is plain CSV in UTF-8, whatever the file was.
            plain = replace(profile, file_type="csv", encoding="utf-8", delimiter=",", header_within=1)
            counts = load_again(work, path, plain, first["kind"], first["sheet"], batch, heat_id)
        except FileRefused as why:
            raise Refused(f"{_named(rows)} cannot be read so: {why}", findings=why.findings) from None
    if counts.bench:
        fault = counts.bench[0]
        step = with_number(fault.next, f"B-{first['bench_id']}")
        raise Refused(f"{_named(rows)} still cannot be taken: {fault.message} {step}. Nothing was changed")
    for row in rows:
        _event(work, row, state, changes, reason, note)
    counted = {"taken": counts.taken, "same": counts.same, "contested": counts.contested}
    work.payload = _payload(rows, state, changes, reason, note) | {"rows": counted}
    return counts


def _waiting(reader: Reader, bench_ids: Sequence[int]) -> list[Row]:
    rows = [bench_row(reader, bench_id) for bench_id in dict.fromkeys(bench_ids)]
    for row in rows:
        if row["state"] != "waiting":
            raise Refused(
                f"B-{row['bench_id']} is {row['state']} already; its story: heattrace bench show B-{row['bench_id']}"
            )
    return sorted(rows, key=lambda row: int(row["row_no"]))


def _event(work: Work, row: Row, state: str, changes: Mapping[str, str], reason: str, note: str | None) -> None:
    from heattrace.schema.intake import BenchEvent

    work.add(
        BenchEvent(
            bench_id=row["bench_id"], state=state, changes=canonical(changes), reason=reason, note=note, by=work.by,
            at=work.now,
        )
    )  # fmt: skip


def _payload(
    rows: Sequence[Row], state: str, changes: Mapping[str, str], reason: str, note: str | None
) -> dict[str, object]:
    return {
        "bench": [f"B-{row['bench_id']}" for row in rows], "batch": rows[0]["batch_id"], "state": state,
        "changes": dict(changes), "reason": reason, "note": note,
    }  # fmt: skip


def _named(rows: Sequence[Row]) -> str:
    return ", ".join(f"B-{row['bench_id']}" for row in rows)


def _safe_name(name: str) -> str:
    """The file's name for messages, fit for any file system."""
    plain = "".join("_" if sign in '/\\:*?"<>|' or not sign.isprintable() else sign for sign in name)[:100]
    return plain if plain.lower().endswith(".csv") else f"{plain}.csv"


def _as_file(header: Sequence[str], rows: Sequence[tuple[int, Sequence[str]]]) -> bytes:
    """A CSV file with each row where it stood, blank lines between, so that messages name the row as it was."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    line = 2
    for row_no, cells in rows:
        out.write("\n" * max(row_no - line, 0))
        line = max(row_no, line)
        writer.writerow(cells)
        line += 1 + sum(cell.count("\n") for cell in cells)
    return out.getvalue().encode("utf-8", "surrogatepass")


def _cells(row: Row, header: Sequence[str], changes: Mapping[str, str]) -> list[str]:
    cells: list[str] = json.loads(row["cells"])
    if len(cells) < len(header) and row["code"] != "ROW50":
        cells += [""] * (len(header) - len(cells))
    if len(cells) != len(header):
        raise Refused(
            f"B-{row['bench_id']} has {len(cells)} cells where the header has {len(header)}, so no cell can be named. "
            f"Put the row right in a file of its own and import that, then: heattrace bench void B-{row['bench_id']} "
            "--reason DOUBLE-ROW --note TEXT"
        )
    for at, name in enumerate(header):
        if name in changes:
            cells[at] = changes[name]
    return cells


def _change(profile: Profile, kind: str, sheet: str, header: Sequence[str], setting: str) -> tuple[str, str]:
    """The header text and the new cell of `COLUMN=VALUE`, the value in the file's own notation."""
    name, parted, value = setting.partition("=")
    name, value = name.strip(), value.strip()
    if not parted or not name:
        raise WrongUsage(f'--set "{setting}": COLUMN=VALUE was expected')
    theirs = _header_text(profile, sheet, header, name)
    column = _column(profile, kind, sheet, theirs)
    if column is None or column.type in ("decimal", "content"):
        if profile.decimal == "," and "," not in value:
            value = value.replace(".", ",")
    elif column.type in ("instant", "day"):
        value = _moment(profile, sheet, value)
    return theirs, value


def _header_text(profile: Profile, sheet: str, header: Sequence[str], name: str) -> str:
    exact = [theirs for theirs in header if theirs.strip() == name]
    if len(exact) == 1:
        return exact[0]
    mapped = profile.for_sheet(sheet).columns
    ours = [t for t in header if (m := mapped.get(t) or mapped.get(t.strip())) is not None and m.column == name]
    ours += [t for t in header if (e := profile.elements.get(t.strip())) is not None and e.element == name]
    if len(ours) == 1:
        return ours[0]
    known = [theirs.strip() for theirs in header]
    near = get_close_matches(name, known, n=3, cutoff=0.5)
    raise WrongUsage(f'--set: no column "{name}" in that file; {", ".join(near or known)}')


def _column(profile: Profile, kind: str, sheet: str, theirs: str) -> Column | None:
    """Our column behind a header text; None for an element's."""
    mapped = profile.for_sheet(sheet).columns.get(theirs.strip())
    name = mapped.column if mapped is not None else theirs.strip()
    if kind == "analyses":
        known = {c.name: c for c in (*ANALYSIS_COLUMNS, *RESULT_COLUMNS)}
        return known.get(name) if element_of(theirs.strip()) is None or name in known else None
    return KINDS[kind].sheets[sheet or kind].by_name.get(name, Column(name))


def _moment(profile: Profile, sheet: str, value: str) -> str:
    """A moment typed with its offset, written as the file writes it; anything else is left to the reading."""
    own = profile.for_sheet(sheet)
    form, zone = own.format or profile.format, own.zone or profile.zone
    if form is None:
        return value
    try:
        InstantReader(zone, form).read(value)
    except ValueError:
        try:
            moment = datetime.fromisoformat(value)
        except ValueError:
            return value
        if moment.tzinfo is None:
            return value
        return _in_format(moment, InstantReader(zone, form), form)
    return value


def _in_format(moment: datetime, reader: InstantReader, form: str) -> str:
    """A moment in the file's format, with its offset where the local time alone does not name it."""
    local = moment.astimezone(reader.zone) if reader.zone else moment
    for text in (local.strftime(form), f"{local.strftime(form)} {local:%z}"):
        try:
            found = reader.read(text)
        except ValueError:
            continue
        if found.utc_ms != int((moment - EPOCH) / timedelta(milliseconds=1)):
            raise WrongUsage(f"--set: {moment.isoformat()} is finer than the file's {form}; type the moment as exact")
        return text
    return moment.isoformat()
