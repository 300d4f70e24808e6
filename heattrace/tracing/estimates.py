"""Estimated composition along parts: shares of heats times their cast analyses, at the head, in the mean, at the tail.

Where the mixture turns inside a part of two heats, the turning points are further positions. An element that any of the
heats at a position does not report is not determined there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from heattrace.judging.estimate import POSITIONS, blend
from heattrace.metallurgy.amount import Amount, Composition
from heattrace.metallurgy.elements import REPORT_ORDER
from heattrace.store.reader import Reader
from heattrace.tracing.chemistry import HeatChemistry, chemistry_of_heats
from heattrace.tracing.chemistry_questions import HEATS_IN_PARTS, HEATS_OF_EARLIER_PARTS
from heattrace.values import dataclass

WHOLE = 1_000_000  # shares are whole millionths
Contents = Mapping[str, Mapping[str, Amount | None]]


@dataclass(frozen=True, slots=True)
class Estimate:
    """Contents by element and position, mass %, None where not determined.

    `positions` are head, mean, tail and the turning points between; `heat_ids` the heats in the part, greatest share
    first; `turns` is True where three or more heats turn inside, so that the positions may miss an extreme.
    """

    contents: Contents
    positions: tuple[str, ...]
    heat_ids: tuple[int, ...]
    turns: bool = False

    def as_json(self) -> dict[str, dict[str, Any]]:
        """The promised `composition`: numbers; null where not determined, and where a `<` leaves only an upper end.

        That end stands in `below`.
        """
        return {element: _places_json(places) for element, places in self.contents.items()}


def _places_json(places: Mapping[str, Amount | None]) -> dict[str, Any]:
    shown: dict[str, Any] = dict.fromkeys(POSITIONS)
    below: dict[str, Fraction] = {}
    for name in POSITIONS:
        amount = places.get(name)
        if amount is not None and amount.value is not None:
            (shown if amount.qualifier == "=" else below)[name] = Fraction(amount.value)
    return {**shown, "below": below} if below else shown


def estimates_of_parts(
    reader: Reader, part_ids: Iterable[int], chemistry: Mapping[int, HeatChemistry] | None = None
) -> dict[int, Estimate]:
    """Estimates of some parts; a part whose shares are not recorded is absent.

    Parameters
    ----------
    chemistry : mapping of heat_id to chemistry, optional
        What is known already of the heats in these parts; it must hold all of them.
    """
    keys = sorted(set(part_ids))
    shares: dict[int, dict[int, dict[str, int]]] = {}
    for row in reader.by_keys(HEATS_IN_PARTS, keys):
        shares.setdefault(row["part_id"], {})[row["heat_id"]] = {
            name: row[name] for name in (*POSITIONS, "least", "greatest")
        }
    earlier: dict[int, list[int]] = {}
    for row in reader.by_keys(HEATS_OF_EARLIER_PARTS, keys):
        earlier.setdefault(row["part_id"], []).append(row["heat_id"])
    for part_id, heats in earlier.items():
        if len(set(heats)) == 1:
            shares.setdefault(part_id, {heats[0]: dict.fromkeys((*POSITIONS, "least", "greatest"), WHOLE)})
    heat_ids = {heat_id for heats in shares.values() for heat_id in heats}
    known = chemistry_of_heats(reader, heat_ids) if chemistry is None else chemistry
    compositions = {str(h): known[h].composition() for h in heat_ids if known[h].choice.picks}
    return {part_id: estimate_of(heats, compositions) for part_id, heats in shares.items()}


def estimate_of(shares: Mapping[int, Mapping[str, int]], compositions: Mapping[str, Composition]) -> Estimate:
    """Estimate from the shares of one part, in millionths, and the contents of its heats."""
    mixtures = {name: _mixture({h: each[name] for h, each in shares.items()}) for name in POSITIONS}
    turning = [h for h, each in shares.items() if _turns(each)]
    if len(shares) == 2:
        for heat_id in turning:
            (other,) = (h for h in shares if h != heat_id)
            each = shares[heat_id]
            for word in ("least", "greatest"):
                if not min(each["head"], each["tail"]) <= each[word] <= max(each["head"], each["tail"]):
                    mixtures[f"inside, {word} share"] = _mixture({heat_id: each[word], other: WHOLE - each[word]})
            break  # the other heat's turning points are the same places
    blends = {name: _tidied(blend(mixture, compositions), mixture, compositions) for name, mixture in mixtures.items()}
    elements = {element for heat_id in shares for element in compositions.get(str(heat_id), ())}
    contents = {
        element: {name: found.get(element) for name, found in blends.items()}
        for element in REPORT_ORDER
        if element in elements
    }
    order = sorted(shares, key=lambda h: (-shares[h]["mean"], h))
    return Estimate(contents, tuple(mixtures), tuple(order), bool(turning) and len(shares) > 2)


def _tidied(
    blended: Mapping[str, Amount], mixture: Mapping[str, Decimal], compositions: Mapping[str, Composition]
) -> dict[str, Amount]:
    """Computed digits without the zeros the shares brought, but never fewer places than a report behind them has."""
    tidied = {}
    for element, amount in blended.items():
        places = max(len(compositions[h][element].text.partition(".")[2]) for h, part in mixture.items() if part > 0)
        whole, _, part = amount.text.partition(".")
        digits = part.rstrip("0").ljust(places, "0")
        text = f"{whole}.{digits}" if digits else whole
        tidied[element] = Amount(amount.qualifier, Decimal(text), text)
    return tidied


def _turns(each: Mapping[str, int]) -> bool:
    """Whether a heat's share has its least or greatest inside the part; one millionth is rounding."""
    low, high = min(each["head"], each["tail"]), max(each["head"], each["tail"])
    return each["least"] < low - 1 or each["greatest"] > high + 1


def _mixture(parts: Mapping[int, int]) -> dict[str, Decimal]:
    """Shares that sum to one: what rounding and unlisted traces left out goes to the greatest."""
    rest = WHOLE - sum(parts.values())
    most = max(parts, key=lambda h: (parts[h], -h))
    whole = {h: part + (rest if h == most else 0) for h, part in parts.items()}
    return {str(h): Decimal(part).scaleb(-6) for h, part in whole.items()}
