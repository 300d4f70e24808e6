"""Which rows of a grade stand for one basis and one size, side by side as they will be judged."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from heattrace.judging.conditions.clauses import Alternative, Change, Requires
from heattrace.judging.conditions.parser import parse_when
from heattrace.judging.limits import BOTH, CAST, MAX, MIN, PRODUCT, REQUIRES, Band, Limit
from heattrace.judging.requirement import Requirement
from heattrace.metallurgy.quantity import LIMIT_FORMULAS
from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class Side:
    """One sense of one or more rows that are judged together.

    `limits` holds one row, or all rows of a banded quantity while the size is not stated. `beyond` says in words that a
    stated size lies outside the printed bands. `fallback` marks a cast limit taken for a product analysis, where a
    failure decides nothing; `other_basis` a formula that its standard judges on the cast analysis alone.
    """

    quantity: str
    sense: str
    limits: tuple[Limit, ...]
    beyond: str = ""
    fallback: bool = False
    other_basis: bool = False


def sides_of(requirement: Requirement, basis: str) -> tuple[list[Side], list[str]]:
    """What is to be judged, in the order of the rows, and remarks on rows that print no limit for this case.

    Parameters
    ----------
    basis : str
        `cast` or `product`. For a product analysis a printed product limit counts, else the cast limit; formulas are
        judged on the basis their standard names.
    """
    limits = requirement.limits()
    remarks: list[str] = []
    sides: list[Side] = []
    done: set[tuple[str, str, str, Alternative | None, bool]] = set()
    for limit in limits:
        for sense in senses_of(limit):
            chosen = _chosen(limit, sense, basis, limits)
            if chosen is None:
                continue
            fallback, other_basis = chosen
            family = (limit.quantity, sense, limit.band.dimension, alternative_of(limit), limit.basis == CAST)
            if limit.band.dimension == "all":
                sides.append(Side(limit.quantity, sense, (limit,), "", fallback, other_basis))
            elif family not in done:
                done.add(family)
                rows = [x for x in limits if _family(x, sense) == family]
                side = _banded(requirement, rows, sense, remarks)
                sides.extend(Side(limit.quantity, sense, r, b, fallback, other_basis) for r, b in side)
    remarks += _without_limit(requirement, basis)
    return sides, list(dict.fromkeys(remarks))


def senses_of(limit: Limit) -> tuple[str, ...]:
    """The senses a row speaks in; `requires` where it must be reported or its condition requires something.

    A condition may bring in a side of which the row prints nothing: `min = 0.25 if ordered copper`.
    """
    clauses = parse_when(limit.when)
    brought = {clause.side for clause in clauses if isinstance(clause, Change) and clause.sign == "="}
    senses = [sense for sense in (MIN, MAX) if limit.text(sense) or sense in brought]
    if limit.report or any(isinstance(clause, Requires) for clause in clauses):
        senses.append(REQUIRES)
    return tuple(senses)


def alternative_of(limit: Limit) -> Alternative | None:
    """The alternative a row belongs to, if any."""
    return next((clause for clause in parse_when(limit.when) if isinstance(clause, Alternative)), None)


def _family(limit: Limit, sense: str) -> tuple[str, str, str, Alternative | None, bool]:
    return (limit.quantity, sense, limit.band.dimension, alternative_of(limit), limit.basis == CAST)


def _chosen(limit: Limit, sense: str, basis: str, limits: Sequence[Limit]) -> tuple[bool, bool] | None:
    """(fallback, other basis) where the row counts for this basis, else None."""
    if limit.basis in (basis, BOTH):
        return False, False
    if basis == CAST:
        return None
    if limit.quantity in LIMIT_FORMULAS:
        printed = any(x.quantity == limit.quantity and x.basis in (PRODUCT, BOTH) for x in limits)
        return None if printed else (False, True)
    replaced = any(x.quantity == limit.quantity and x.basis == PRODUCT and sense in senses_of(x) for x in limits)
    # The members of an alternative stay together: a product row for one of them says nothing of the others.
    return None if replaced and not alternative_of(limit) else (True, False)


def _banded(
    requirement: Requirement, rows: Sequence[Limit], sense: str, remarks: list[str]
) -> Iterable[tuple[tuple[Limit, ...], str]]:
    """The rows of one banded quantity that hold for the stated size; all of them where none is stated."""
    dimension, quantity = rows[0].band.dimension, rows[0].quantity
    size = requirement.size(dimension)
    if size is None:
        return [(tuple(rows), "")]
    speaking = [row for row in rows if row.band.holds(size)]
    if speaking:
        said = [row for row in speaking if sense in senses_of(row)]
        if not said and sense != REQUIRES:
            remarks.append(f"{quantity}: no {sense} is printed for {speaking[0].band.text}")
        return [((row,), "") for row in said]
    word = "flange thickness" if dimension == "flange" else "thickness"
    if all(row.band.up_to is None for row in rows):
        remarks.append(f"{quantity}: no {sense} is printed at {size} mm {word}, only for {_listed(rows)}")
        return []
    return [(tuple(rows), f"no limit is printed for {size} mm {word}; the book has {_listed(rows)}")]


def _listed(rows: Sequence[Limit]) -> str:
    return ", ".join(band.text for band in bands_of(rows))


def bands_of(rows: Sequence[Limit]) -> list[Band]:
    """The bands of some rows, each once."""
    return list(dict.fromkeys(row.band for row in rows))


def _without_limit(requirement: Requirement, basis: str) -> list[str]:
    remarks = []
    limits = requirement.limits()
    for limit in limits:
        size = requirement.size(limit.band.dimension)
        if size is not None and not limit.band.holds(size):
            continue
        if limit.basis in (basis, BOTH) and not senses_of(limit):
            band = "" if limit.band.dimension == "all" else f" for {limit.band.text}"
            remarks.append(f"{limit.quantity}: no limit is printed{band}")
        elif (
            basis == CAST
            and limit.basis == PRODUCT
            and not any(x.quantity == limit.quantity and x.basis in (CAST, BOTH) for x in limits)
        ):
            remarks.append(f"{limit.quantity}: limited in the product analysis only")
    return remarks
