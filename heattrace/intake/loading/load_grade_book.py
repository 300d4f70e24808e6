"""Grade books into the record: limits as printed, by revision of each grade edition, and permitted deviations.

One bad row refuses the whole book. A grade edition whose limits are entered anew gets the next revision; the older one
is ended and stays readable by whatever cites it. Grades the book does not name are left alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.grade_book import shipped_rows
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.faults import Place, refusal
from heattrace.intake.reading.records import FileContent, texts
from heattrace.judging.grades import grades_from_rows
from heattrace.judging.limits import Grade, GradeKey
from heattrace.metallurgy.elements import ALIASES, ELEMENT_NUMBER
from heattrace.store.reader import Row
from heattrace.store.work import Work

Cells = Mapping[str, str]
Numbered = tuple[int, Cells]

_LIMIT_COLUMNS: Mapping[str, str] = {
    "basis": "basis", "size_band_mm": "size_band_mm", "quantity": "quantity", "min_text": "min", "aim_text": "aim",
    "max_text": "max", "unit": "unit", "rounding": "rounding", "round_to": "round_to", "condition": "when",
    "valid_from": "valid_from", "valid_until": "valid_until", "source": "source", "status": "status", "notes": "notes",
}  # fmt: skip
_NEVER_EMPTY = frozenset(("basis", "size_band_mm", "quantity", "unit", "rounding", "source", "status"))
_DEVIATION = (
    "applies_to", "element", "limit_from", "limit_to", "area_band_mm2", "size_band_mm", "under", "over", "kind",
    "source", "status",
)  # fmt: skip

_GRADE = "SELECT g.grade_id, g.family FROM grade g WHERE {live:g} AND g.standard = :standard AND g.name = :name"
_EDITION = """
SELECT e.edition_id, e.revision, e.extends, g.family FROM edition e JOIN grade g ON g.grade_id = e.grade_id
WHERE {live:e} AND e.requirement = :text
"""
_REVISION = "SELECT coalesce(max(revision), 0) FROM edition WHERE requirement = :text"
_LIMITS = "SELECT * FROM grade_limit l WHERE {live:l} AND l.edition_id = :key ORDER BY l.grade_limit_id"
_DEVIATIONS = "SELECT * FROM permitted_deviation d WHERE {live:d} AND d.applies_to = :applies_to"


def load_grade_book(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the limits and deviations of a grade book.

    Raises
    ------
    FileRefused
        With a finding for every bad row; nothing of the book may be used then.
    """
    rows = [(row.row, texts(row)) for row in content.rows("limits")]
    place = Place(batch.file, "limits" if len(content.sheets) > 1 else "")
    bench = [Finding(f.code, f"row {f.row}, column {f.column}", f.value, f.message, f.next) for f in content.bench]
    counts = write_limits(work, rows, batch.batch_id, place=place, faults=bench)
    if "limits" in content.sheets:
        counts.same += content.sheets["limits"].repeated
        counts.findings = content.sheets["limits"].findings + counts.findings
        counts.notes += _aliases_said(rows)
    if "deviations" in content.sheets:
        sheet = content.sheets["deviations"]
        counts.add(_write_deviations(work, [(row.row, texts(row)) for row in sheet.rows], batch))
        counts.same += sheet.repeated
        counts.findings += sheet.findings
    return counts


def load_shipped_grade_book(work: Work) -> LoadCounts:
    """Write the grade book that comes with the tool; `taken` counts its limits."""
    return write_limits(work, list(shipped_rows()), None, place=Place("the shipped grade book"))


def write_limits(
    work: Work, rows: Sequence[Numbered], batch_id: int | None, *, place: Place, faults: Iterable[Finding] = ()
) -> LoadCounts:
    """Write rows of limits (number in the file, cells by column).

    Raises
    ------
    FileRefused
        A row cannot be read, names an unknown quantity, or extends a grade neither the book nor the record has.
    """
    inherited = list(_rows_extended(work, rows))
    grades, more = grades_from_rows([*rows, *inherited])
    bad = [*faults, *more]
    if bad:
        raise refusal([Finding(f.code, f"{place.at()}, {f.subject}", f.seen, f.wanted, _next(f)) for f in bad])
    counts = LoadCounts()
    by_key: dict[GradeKey, list[Numbered]] = {}
    for number, cells in rows:
        key = GradeKey(*(cells.get(name, "").strip() for name in ("standard", "edition", "grade")))
        by_key.setdefault(key, []).append((number, cells))
    for grade in grades:
        if grade.key in by_key:
            _write_grade(work, grade, by_key[grade.key], batch_id, counts)
    return counts


def _next(finding: Finding) -> str:
    return finding.next or "Mend the row and take the book in again"


def _rows_extended(work: Work, rows: Sequence[Numbered]) -> Iterator[Numbered]:
    """Rows of grades of the record that grades of the book extend, so that inheriting can be checked."""
    named = {_key_text(cells) for _, cells in rows}
    asked = [cells.get("extends", "").strip() for _, cells in rows]
    seen = set(named)
    while asked:
        text = asked.pop()
        if not text or text in seen:
            continue
        seen.add(text)
        edition = work.reader.one(_EDITION, text=text)
        if edition is None:
            continue
        key = work.reader.one(
            "SELECT g.standard, e.edition, g.name FROM edition e JOIN grade g ON g.grade_id = e.grade_id "
            "WHERE e.edition_id = :key",
            key=edition["edition_id"],
        )
        assert key is not None
        about = {"standard": key["standard"], "edition": key["edition"], "grade": key["name"],
                 "extends": edition["extends"] or "", "family": edition["family"] or ""}  # fmt: skip
        for limit in work.reader.all(_LIMITS, key=edition["edition_id"]):
            cells = {theirs: limit[ours] or "" for ours, theirs in _LIMIT_COLUMNS.items()}
            yield limit["row_no"], cells | about | {"report": "yes" if limit["report"] else "no"}
        asked.append(edition["extends"] or "")


def _key_text(cells: Cells) -> str:
    return GradeKey(*(cells.get(name, "").strip() for name in ("standard", "edition", "grade"))).text


def _write_grade(work: Work, grade: Grade, rows: Sequence[Numbered], batch_id: int | None, counts: LoadCounts) -> None:
    from heattrace.schema.grades import Edition

    stored = [_stored(cells) for _, cells in rows]
    before = work.reader.one(_EDITION, text=grade.key.text)
    grade_id = _grade_id(work, grade)
    revision = int(work.reader.scalar(_REVISION, text=grade.key.text)) + 1
    if before is not None:
        limits = work.reader.all(_LIMITS, key=before["edition_id"])
        known = [{name: limit[name] for name in stored[0]} for limit in limits]
        same_family = (before["family"] or "") == grade.family or not grade.family
        if known == stored and (before["extends"] or "") == grade.extends and same_family:
            counts.same += len(rows)
            return
        counts.findings.append(_restated(grade, known, stored, revision))
        work.end("edition", "edition_id", [before["edition_id"]])
        work.end("grade_limit", "grade_limit_id", [limit["grade_limit_id"] for limit in limits])
    edition_id = work.add(
        Edition(
            grade_id=grade_id, edition=grade.key.edition, revision=revision, requirement=grade.key.text,
            extends=grade.extends or None, batch_id=batch_id,
        )
    )  # fmt: skip
    columns = ("edition_id", "row_no", "entry_no", *stored[0])
    work.bulk_insert(
        "grade_limit",
        columns,
        [(edition_id, number, work.entry_no, *cells.values()) for (number, _), cells in zip(rows, stored, strict=True)],
    )
    counts.taken += len(rows)


def _restated(grade: Grade, known: Sequence[Any], stored: Sequence[Any], revision: int) -> Finding:
    gone = sum(1 for row in known if row not in stored)
    new = sum(1 for row in stored if row not in known)
    return Finding(
        "REC30", grade.key.text, f"{new} rows new or changed, {gone} gone", f"revision {revision - 1} as recorded",
        f"Revision {revision} holds from now on; what was decided before cites the older one",
    )  # fmt: skip


def _grade_id(work: Work, grade: Grade) -> int:
    """Key of the named steel; a family said for the first time, or anew, makes it a new row."""
    from heattrace.schema.grades import Grade as GradeRow

    key = grade.key
    known = work.reader.one(_GRADE, standard=key.standard, name=key.grade)
    if known is not None and (not grade.family or known["family"] == grade.family):
        return int(known["grade_id"])
    if known is not None:
        work.end("grade", "grade_id", [known["grade_id"]])
    return work.add(GradeRow(standard=key.standard, name=key.grade, family=grade.family or None))


def _stored(cells: Cells) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for ours, theirs in _LIMIT_COLUMNS.items():
        text = (cells.get(theirs) or "").strip()
        values[ours] = text if text or ours in _NEVER_EMPTY else None
    return values | {"report": int((cells.get("report") or "").strip() == "yes")}


def _aliases_said(rows: Sequence[Numbered]) -> list[str]:
    """Which other names of quantities the book uses, for the slip."""
    from heattrace.metallurgy.quantity import parse_quantity

    found: dict[str, str] = {}
    for _, cells in rows:
        printed = (cells.get("quantity") or "").strip()
        name = parse_quantity(printed).name
        if name != printed:
            found.setdefault(printed, name)
    return [f"quantity {printed} read as {name}" for printed, name in sorted(found.items())]


def _write_deviations(work: Work, rows: Sequence[Numbered], batch: BatchInHand) -> LoadCounts:
    """Permitted deviations; those of the keys the sheet names take the place of what was known for these keys."""
    from heattrace.schema.grades import PermittedDeviation

    counts = LoadCounts()
    place = Place(batch.file, "deviations")
    by_key: dict[str, list[tuple[int, dict[str, Any]]]] = {}
    faults = []
    for number, cells in rows:
        element = ALIASES.get(cells["element"], cells["element"])
        if element not in ELEMENT_NUMBER:
            faults.append(Finding("LIMIT-QUANTITY", place.at(number, "element"), element, "an element", "Mend the row"))
            continue
        values: dict[str, Any] = {name: (cells.get(name) or "").strip() or None for name in _DEVIATION}
        one_side = int(cells.get("one_side") == "yes")
        values |= {"element": element, "source": cells.get("source", ""), "one_side": one_side}
        by_key.setdefault(cells["applies_to"], []).append((number, values))
    if faults:
        raise refusal(faults)
    for applies_to, stated in by_key.items():
        known: list[Row] = work.reader.all(_DEVIATIONS, applies_to=applies_to)
        said = [values for _, values in stated]
        if [{name: row[name] for name in said[0]} for row in known] == said:
            counts.same += len(stated)
            continue
        work.end("permitted_deviation", "permitted_deviation_id", [row["permitted_deviation_id"] for row in known])
        for _, values in stated:
            work.add(PermittedDeviation(batch_id=batch.batch_id, **values))
        counts.taken += len(stated)
    return counts
