"""The rule values the strand model works with: set by the works, by steel family where it has, else as shipped."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from heattrace.findings import Finding
from heattrace.store.reader import Reader
from heattrace.store.works import ALL_CURRENT, works_value
from heattrace.strand.record import StrandRules
from heattrace.values import dataclass, replace

# Works value -> field of StrandRules.
FIELDS = {
    "pure-min": "pure_min",
    "old-max": "old_max",
    "step-min": "step_min",
    "guard-ahead": "guard_ahead_m",
    "guard-behind": "guard_behind_m",
    "density": "density_t_m3",
    "scale-warn": "scale_look",
    "scale-distrust": "scale_distrust",
    "residual-warn": "residual_look_mm",
    "residual-error": "residual_distrust_mm",
    "counter-error": "counter_error",
    "clamp-time-error": "clamp_time_error_min",
    "clamp-place-error": "clamp_place_error_m",
}
# What differs from steel to steel; the others speak of the shop's instruments.
OF_THE_STEEL = ("density", "guard-ahead", "guard-behind")


@dataclass(frozen=True, slots=True)
class CastRules:
    """Rule values for one cast. `editions` names the editions set by the works; a value it leaves out is as shipped.

    `family` is the one steel family of the cast's heats, empty where there are several or none is known.
    """

    rules: StrandRules
    editions: dict[str, int]
    family: str
    own: bool

    def findings(self, sequence_no: str) -> list[Finding]:
        """Says so where the values for carbon steel were taken for want of the family's own."""
        if self.own:
            return []
        seen = f"steel family {self.family} without values of its own" if self.family else "no one steel family known"
        step = "density, expansion and guards are those for carbon steel; set others with works set NAME --scope FAMILY"
        return [Finding("carbon-steel-values", f"sequence {sequence_no}", seen, "values of the family", step)]


def strand_rules(reader: Reader, families: Iterable[str] = ()) -> CastRules:
    """The rule values that hold for a cast whose heats are of these steel families."""
    distinct = set(families)
    family = distinct.pop() if len(distinct) == 1 else ""
    held: dict[str, tuple[float, int, bool]] = {}
    for row in reader.all(ALL_CURRENT):
        scoped = row["scope"] != ""
        if row["name"] not in FIELDS or (scoped and row["scope"] != family):
            continue
        known = held.get(row["name"])
        # Editions come in rising order; a value of the family's own stands above one for all.
        if known is None or scoped or not known[2]:
            held[row["name"]] = (float(json.loads(row["value"])), int(row["edition"]), scoped)
    values: dict[str, Any] = {FIELDS[name]: value for name, (value, _, _) in held.items()}
    rules = replace(StrandRules(), **values)
    editions = {name: edition for name, (_, edition, _) in sorted(held.items())}
    own = any(name in held and held[name][2] for name in OF_THE_STEEL)
    return CastRules(rules, editions, family, own)


def event_reaches(reader: Reader) -> dict[str, tuple[float, float]]:
    """Metres added to an event by its kind: towards older and towards newer steel."""
    found = {}
    for kind, metres in works_value(reader, "event-reach").items():
        ahead, behind = ([float(m) for m in metres] * 2)[:2]
        found[str(kind)] = (ahead, behind)
    return found
