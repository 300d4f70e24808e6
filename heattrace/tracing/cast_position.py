"""Where a part lay in the cast, as an answer shows a stored placement."""

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
