"""Order lines and their extra limits into the record; a customer named for the first time is made."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from heattrace.intake.loading.moments import day_of, moment
from heattrace.intake.loading.numbers import Numbers, Unknown
from heattrace.intake.loading.slip import BatchInHand, LoadCounts
from heattrace.intake.reading.records import BenchFault, FileContent, RowRecord, texts
from heattrace.store.citations import citing
from heattrace.store.work import Work

_LINE = "SELECT * FROM order_line o WHERE {live:o} AND o.order_no = :order_no AND o.line = :line"
_CUSTOMER = "SELECT c.customer_id FROM customer c WHERE {live:c} AND c.name = :name"
_LIMITS = "SELECT * FROM order_limit l WHERE {live:l} AND l.order_line_id = :key"
_SAME_REQUIREMENT = "SELECT count(DISTINCT requirement) FROM edition WHERE edition_id IN (:one, :other)"
_TEXTS = ("section", "thickness_mm", "flange_mm", "area_mm2", "length_m", "mass_t", "document")
_LIMIT_TEXTS = {
    "size_band_mm": "size_band_mm", "quantity": "quantity", "min_text": "min", "aim_text": "aim", "max_text": "max",
    "unit": "unit", "rounding": "rounding", "round_to": "round_to", "condition": "when", "basis": "basis",
}  # fmt: skip


def customer_named(work: Work, name: str) -> int:
    """Key of the customer of that name, made where there is none."""
    from heattrace.schema.grades import Customer

    key = work.reader.scalar(_CUSTOMER, name=name)
    return int(key) if key is not None else work.add(Customer(name=name))


def load_orders(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write the order lines of a file.

    A line stated anew with other particulars takes the known one's place only while nothing stands under it; then its
    extra limits go with it to the new row.
    """
    counts = LoadCounts(bench=content.bench, findings=content.findings)
    numbers = Numbers(work.reader)
    for row in content.rows("orders"):
        said = _said(work, numbers, row, batch)
        if isinstance(said, BenchFault):
            counts.bench.append(said)
            continue
        before = work.reader.one(_LINE, order_no=said["order_no"], line=said["line"])
        if before is None:
            _add(work, said, row, batch)
            counts.taken += 1
        elif not (changed := _changed(work, before, said)):
            counts.same += 1
        else:
            fault = _restate(work, before, said, changed, row, batch, counts)
            if fault is not None:
                counts.bench.append(fault)
    sheet = content.sheets["orders"]
    counts.same += sheet.repeated
    return counts


def _said(work: Work, numbers: Numbers, row: RowRecord, batch: BatchInHand) -> dict[str, Any] | BenchFault:
    values = row.values
    edition = numbers.grade(values["grade"])
    if isinstance(edition, Unknown):
        step = f"{edition.step} Mend it: bench fix NUMBER --set grade=GRADE --reason TYPING"
        return batch.fault(row, "grade", edition.code, edition.wanted, step)
    ordered = values["ordered_at"]
    day = day_of(ordered, numbers.zone)
    if not numbers.edition_holds(edition, day):
        return _out_of_date(work, numbers, row, batch, edition, day)
    ordered_at, offset = moment(ordered, numbers.zone)
    said: dict[str, Any] = {
        "order_no": values["order_no"].normal, "line": values["line"].normal, "ordered_at": ordered_at,
        "ordered_offset": offset, "customer": values["customer"], "edition_id": edition, "form": values["form"],
        "guard_band": texts(row)["guard_band"] or "0", "options": values.get("options") or "",
        "evidence": values.get("evidence") or "",
    }  # fmt: skip
    written = texts(row)
    return said | {name: written.get(name) or None for name in _TEXTS}


def _out_of_date(
    work: Work, numbers: Numbers, row: RowRecord, batch: BatchInHand, edition_id: int, day: str
) -> BenchFault:
    others = work.reader.all(
        "SELECT e.edition_id, e.requirement FROM edition e WHERE {live:e} AND e.grade_id IN "
        "(SELECT grade_id FROM edition WHERE edition_id = :key) ORDER BY e.edition",
        key=edition_id,
    )
    holding = [o["requirement"] for o in others if numbers.edition_holds(o["edition_id"], day)]
    offered = f"In force that day: {', '.join(holding)}. " if holding else "No edition of it was in force that day. "
    step = f"{offered}Mend it: bench fix NUMBER --set grade=GRADE --reason TYPING"
    return batch.fault(row, "grade", "REC21", f"an edition in force on {day}", step)


def _changed(work: Work, before: Any, said: Mapping[str, Any]) -> list[str]:
    customer = work.reader.scalar("SELECT name FROM customer WHERE customer_id = :key", key=before["customer_id"])
    known = {name: before[name] for name in said if name != "customer"} | {"customer": customer}
    changed = [name for name, value in said.items() if value != known[name]]
    if "edition_id" in changed:
        two = work.reader.scalar(_SAME_REQUIREMENT, one=before["edition_id"], other=said["edition_id"])
        if two == 1:
            changed.remove("edition_id")
    return changed


def _restate(
    work: Work, before: Any, said: Mapping[str, Any], changed: list[str], row: RowRecord, batch: BatchInHand,
    counts: LoadCounts,
) -> BenchFault | None:  # fmt: skip
    key = int(before["order_line_id"])
    cited = sorted({reference.table for reference, _, _ in citing(work.reader, "order_line", [key])} - {"order_limit"})
    number = f"{before['order_no']}/{before['line']}"
    if cited:
        wanted = f"the particulars of {number} as recorded ({', '.join(changed)} differ)"
        step = (
            f"Heats or pieces stand under this line ({', '.join(cited)}), so it is not restated here. Enter the change "
            "as a new line, or: bench void NUMBER --reason ORDER-CHANGE --note TEXT"
        )
        return batch.fault(row, None, "REC20", wanted, step)
    limits = work.reader.all(_LIMITS, key=key)
    work.end("order_line", "order_line_id", [key])
    work.end("order_limit", "order_limit_id", [limit["order_limit_id"] for limit in limits])
    new_key = _add(work, said, row, batch)
    for limit in limits:
        columns = [c for c in limit.keys() if c not in ("order_limit_id", "ended_no")]  # noqa: SIM118 - a database row
        own = {"order_line_id": new_key, "entry_no": work.entry_no}
        work.bulk_insert("order_limit", columns, [tuple(own.get(c, limit[c]) for c in columns)])
    counts.taken += 1
    for name in changed:
        if name != "edition_id" and name in before.keys() and before[name] not in (None, ""):  # noqa: SIM118
            counts.findings.append(
                batch.finding(row, None, "REC30", f"{number}: {name} {said[name]}", f"{before[name]}, as recorded")
            )
    return None


def _add(work: Work, said: Mapping[str, Any], row: RowRecord, batch: BatchInHand) -> int:
    from heattrace.schema.grades import OrderLine

    fields = {name: value for name, value in said.items() if name != "customer"}
    customer = customer_named(work, said["customer"])
    return work.add(OrderLine(customer_id=customer, batch_id=batch.batch_id, row_no=row.row, **fields))


def load_order_limits(work: Work, content: FileContent, batch: BatchInHand) -> LoadCounts:
    """Write limits of order lines on top of their grades."""
    from heattrace.judging.grades import grades_from_rows
    from heattrace.schema.grades import OrderLimit

    counts = LoadCounts(bench=content.bench, findings=content.findings)
    numbers = Numbers(work.reader)
    for row in content.rows("order-limits"):
        line = numbers.order_line(row.values["order_no"], row.values["line"])
        if isinstance(line, Unknown):
            counts.bench.append(batch.fault(row, "line", line.code, line.wanted, line.step))
            continue
        cells = texts(row)
        checked = cells | {"standard": "order", "edition": "-", "grade": "line", "source": "order", "status": "memory"}
        faults = grades_from_rows([(row.row, checked)])[1]
        if faults:
            column = faults[0].subject.rpartition("column ")[2]
            step = f"Mend it: bench fix NUMBER --set {column}=VALUE --reason TYPING"
            counts.bench.append(batch.fault(row, column, "REC22", faults[0].wanted, step, found=faults[0].seen))
            continue
        fields: dict[str, Any] = {ours: cells.get(theirs) or None for ours, theirs in _LIMIT_TEXTS.items()}
        fields |= {"report": int(bool(row.values.get("report"))), "order_line_id": line["order_line_id"]}
        known = work.reader.all(_LIMITS, key=line["order_line_id"])
        if any(all(k[name] == value for name, value in fields.items()) for k in known):
            counts.same += 1
            continue
        work.add(OrderLimit(batch_id=batch.batch_id, **fields))
        counts.taken += 1
    sheet = content.sheets["order-limits"]
    counts.same += sheet.repeated
    return counts
