"""A stored placement as an answer shows it: metres, shares and times as stored, digits of a person as written."""

from __future__ import annotations

import json
from datetime import tzinfo
from typing import Any

from heattrace.store.reader import Row
from heattrace.store.recorded import shown_at
from heattrace.tracing.steel import UNPLACED

_MILLION = 1e6
NO_PLACE: dict[str, Any] = {"code": "not-placed", "words": UNPLACED, "from_m": None, "to_m": None}


def position_json(place: Row, zone: tzinfo) -> dict[str, Any]:
    """The promised `cast_position` of a placement row."""
    transit, residual, uncertain = place["transit_ms"], place["residual_um"], place["uncertainty_um"]
    return {
        "sequence_no": place["sequence_no"],
        "strand_no": place["strand_no"],
        "run_no": place["run_no"],
        "cut_no": place["cut_no"],
        "tundish": place["tundish"],
        "tundishes": json.loads(place["tundishes"]),
        "from_m": place["from_um"] / _MILLION,
        "to_m": place["to_um"] / _MILLION,
        "meniscus_from": shown_at(place["meniscus_from"], zone),
        "meniscus_to": shown_at(place["meniscus_to"], zone),
        "clamped_at": shown_at(place["clamped_at"], zone),
        "transit_min": None if transit is None else transit / 60_000,
        "residual_mm": None if residual is None else residual / 1000,
        "stop_marks_m": [mark / _MILLION for mark in json.loads(place["stop_marks"])],
        "uncertainty_m": None if uncertain is None else uncertain / _MILLION,
    }


def reasons_json(stored: str) -> list[dict[str, Any]]:
    """Why a part has its class: a code, words, and the metres of the strand it is about."""
    return [
        {"code": reason["code"], "words": reason["words"], "from_m": _metres(reason), "to_m": _metres(reason, "to_um")}
        if isinstance(reason, dict)
        else {"code": "", "words": str(reason), "from_m": None, "to_m": None}
        for reason in json.loads(stored)
    ]


def _metres(reason: dict[str, Any], name: str = "from_um") -> float | None:
    value = reason.get(name)
    return None if value is None else value / _MILLION


def bounds_json(stored: str | None, zone: tzinfo) -> dict[str, Any] | None:
    """Low and high of place, times, mass and shares where a speed or clock is unknown; None where all is known."""
    if not stored:
        return None
    found = json.loads(stored)
    answer: dict[str, Any] = {
        name.replace("_um", "_m"): [value / _MILLION for value in found[name]]
        for name in ("from_um", "to_um")
        if name in found
    }
    for name in ("meniscus_from", "meniscus_to"):
        answer[name] = [shown_at(at, zone) for at in found[name]]
    answer["mass_kg"] = [mass / 1000 for mass in found["mass_g"]]
    answer["shares"] = [
        {
            "heat_no": share["heat_no"],
            **{name: [v / _MILLION for v in share[name]] for name in ("mean", "head", "tail", "anywhere")},
        }
        for share in found["shares"]
    ]
    return answer
