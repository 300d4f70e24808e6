"""Which requirements a heat or a part is judged and decided for.

Order of a part: its own (put to an order line, else the line its cut names); else that of the heat whose number it
bears; where it bears none, none: then its requirement is the planned grade, or nothing where its heats' grades differ.

A heat answers for the requirements of its pieces: of those that bear its number, and of those that hold a share of it
without bearing its number, where they are ordered in the same grade edition. A piece across a grade change is decided
by itself. A heat without pieces answers for its own order line, else for its planned grade.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from heattrace.errors import NotFound
from heattrace.judging.requirement import Requirement, requirement_of
from heattrace.store.reader import Reader
from heattrace.store.works import works_value
from heattrace.tracing.chemistry_questions import (
    HEATS_IN_PARTS,
    HEATS_OF_EARLIER_PARTS,
    HEATS_PUT_TO_ORDERS,
    ORDERS_NAMED,
    ORDERS_OF_CUTS,
    PARTS_PUT_TO_ORDERS,
    PIECES_OF_HEATS,
    PLANNED,
)
from heattrace.tracing.grades import order_requirements, shelf_of, words_of
from heattrace.tracing.lineage import sources_of
from heattrace.values import dataclass, replace


@dataclass(frozen=True, slots=True)
class Wanted:
    """A requirement by name: `text` is `ORDER/LINE` or `STANDARD:EDITION GRADE`, `grade` its grade edition as text.

    `known` is False where the record holds no such grade edition, so that nothing can be judged against it.
    """

    text: str
    grade: str
    order_line_id: int | None = None
    known: bool = True


@dataclass(frozen=True, slots=True)
class HeatPlan:
    """What was planned for a heat: its own order line, its grade, the evidence named for it."""

    order: Wanted | None
    grade: Wanted | None
    evidence: frozenset[str]


def heat_plans(reader: Reader, heat_ids: Iterable[int]) -> dict[int, HeatPlan]:
    """What was planned for each heat, from its particulars and the order lines it was put to."""
    keys = sorted(set(heat_ids))
    rows = {row["heat_id"]: row for row in reader.by_keys(PLANNED, keys)}
    put = {row["subject"]: row["order_line_id"] for row in reader.by_keys(HEATS_PUT_TO_ORDERS, keys)}
    lines = {h: put.get(h) or (rows[h]["order_line_id"] if h in rows else None) for h in keys}
    orders = wanted_lines(reader, [line for line in lines.values() if line is not None])
    plans = {}
    for heat_id in keys:
        row = rows.get(heat_id)
        written = None if row is None else row["requirement"] or row["grade_text"]
        line = lines[heat_id]
        plans[heat_id] = HeatPlan(
            orders[line] if line is not None else None,
            wanted_grade(reader, written) if written else None,
            words_of(None if row is None else row["evidence"]),
        )
    return plans


def wanted_grade(reader: Reader, text: str) -> Wanted:
    """A grade edition by name; `known` says whether the record holds it, by its whole text or a name it alone has."""
    named = shelf_of(reader).named(text)
    return Wanted(named or text, named or text, None, named is not None)


def wanted_lines(reader: Reader, order_line_ids: Iterable[int]) -> dict[int, Wanted]:
    """Order lines by name."""
    return {
        row["order_line_id"]: Wanted(f"{row['order_no']}/{row['line']}", row["requirement"], row["order_line_id"])
        for row in reader.by_keys(ORDERS_NAMED, sorted(set(order_line_ids)))
    }


def own_orders(reader: Reader, part_ids: Iterable[int]) -> dict[int, Wanted]:
    """The order lines parts have of their own; a part without one is absent."""
    keys = sorted(set(part_ids))
    lines = {row["subject"]: row["order_line_id"] for row in reader.by_keys(ORDERS_OF_CUTS, keys)}
    lines.update({row["subject"]: row["order_line_id"] for row in reader.by_keys(PARTS_PUT_TO_ORDERS, keys)})
    orders = wanted_lines(reader, lines.values())
    return {part_id: orders[line] for part_id, line in lines.items()}


def parts_wanted(reader: Reader, part_ids: Iterable[int]) -> dict[int, Wanted | None]:
    """The requirement of each part; None where it has none.

    A part made from others, with no order and no place of its own, has the one requirement those have.
    """
    keys = sorted(set(part_ids))
    found = _wanted(reader, keys)
    made = sources_of(reader, [key for key in keys if found[key] is None])
    theirs = _wanted(reader, sorted({source for sources in made.values() for source in sources}))
    for key, sources in made.items():
        several = {theirs[source] for source in sources} - {None}
        if len(several) == 1:
            found[key] = several.pop()
    return found


def _wanted(reader: Reader, keys: Sequence[int]) -> dict[int, Wanted | None]:
    floor = share_floor(reader)
    own = own_orders(reader, keys)
    bears: dict[int, int | None] = {}
    heats: dict[int, list[int]] = {}
    for row in reader.by_keys(HEATS_IN_PARTS, keys):
        bears[row["part_id"]] = row["bears"]
        if row["greatest"] >= floor or row["heat_id"] == row["bears"]:
            heats.setdefault(row["part_id"], []).append(row["heat_id"])
    for row in reader.by_keys(HEATS_OF_EARLIER_PARTS, keys):
        heats.setdefault(row["part_id"], []).append(row["heat_id"])
        # A piece from before the record began has no place; of one heat alone it bears that heat's number.
        alone = len(heats[row["part_id"]]) == 1
        bears[row["part_id"]] = row["heat_id"] if alone else None
    plans = heat_plans(reader, [h for listed in heats.values() for h in listed])
    return {
        part_id: own.get(part_id) or _from_heats(bears.get(part_id), heats.get(part_id, ()), plans) for part_id in keys
    }


def _from_heats(bears: int | None, heat_ids: Sequence[int], plans: Mapping[int, HeatPlan]) -> Wanted | None:
    if bears is not None and bears in plans:
        return plans[bears].order or plans[bears].grade
    grades = {plans[h].grade for h in heat_ids}
    return grades.pop() if len(grades) == 1 else None


def heats_wanted(reader: Reader, heat_ids: Iterable[int]) -> dict[int, tuple[Wanted, ...]]:
    """The requirements each heat answers for, those of the pieces that bear its number first."""
    keys = sorted(set(heat_ids))
    plans = heat_plans(reader, keys)
    bearing: dict[int, list[int]] = {h: [] for h in keys}
    holding: dict[int, list[int]] = {h: [] for h in keys}
    for row in reader.by_keys(PIECES_OF_HEATS, keys, floor=share_floor(reader)):
        (bearing if row["bears"] == row["heat_id"] else holding)[row["heat_id"]].append(row["part_id"])
    parts = parts_wanted(reader, [p for listed in (*bearing.values(), *holding.values()) for p in listed])
    answers = {}
    for heat_id in keys:
        first = dict.fromkeys(w for p in bearing[heat_id] if (w := parts[p]) is not None)
        planned = plans[heat_id].order or plans[heat_id].grade
        if not first and planned is not None:
            first = {planned: None}
        grades = {wanted.grade for wanted in first}
        also = dict.fromkeys(w for p in holding[heat_id] if (w := parts[p]) is not None and w.grade in grades)
        answers[heat_id] = tuple(first | also)
    return answers


def share_floor(reader: Reader) -> int:
    """The largest share, in millionths, from which a heat is one of a part's heats."""
    return round(float(works_value(reader, "hold-reach")) * 1e6)


def requirements_of(reader: Reader, wanted: Iterable[Wanted]) -> dict[Wanted, Requirement]:
    """What each of them asks, ready for judging; one whose grade the record does not hold is absent."""
    asked = [w for w in dict.fromkeys(wanted) if w.known]
    orders = order_requirements(reader, [w.order_line_id for w in asked if w.order_line_id is not None])
    shelf = shelf_of(reader)
    shelf.load(w.grade for w in asked)
    found: dict[Wanted, Requirement] = {}
    for one in asked:
        if one.order_line_id is not None:
            if one.order_line_id in orders:
                found[one] = orders[one.order_line_id]
        elif shelf.holds(one.grade):
            found[one] = requirement_of(shelf.grade(one.grade))
    return found


def heat_requirements(reader: Reader, heat_id: int) -> tuple[Requirement, ...]:
    """What one heat is judged against, with the evidence named for the heat beside that of the order.

    Raises
    ------
    NotFound
        It has neither an order line nor a planned grade, or its grade is not in the record.
    """
    wanted = heats_wanted(reader, [heat_id])[heat_id]
    return with_evidence(reader, heat_id, wanted)


def with_evidence(reader: Reader, heat_id: int, wanted: Sequence[Wanted]) -> tuple[Requirement, ...]:
    """Requirements for one heat, the evidence named for the heat counted beside that of the order."""
    found = requirements_of(reader, wanted)
    named = heat_plans(reader, [heat_id])[heat_id].evidence
    return tuple(replace(found[w], evidence=found[w].evidence | named) for w in wanted if w in found)


def part_requirement(reader: Reader, part_id: int) -> Requirement | None:
    """What one part is judged against; None where it has no requirement.

    Raises
    ------
    NotFound
        Its grade is not in the record.
    """
    wanted = parts_wanted(reader, [part_id])[part_id]
    if wanted is None:
        return None
    found = requirements_of(reader, [wanted])
    if wanted not in found:
        raise NotFound(f'the grade "{wanted.grade}" is not in the record; take in a grade book that has it')
    return found[wanted]
