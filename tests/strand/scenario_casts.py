"""The two worked casts as recorded casts, the way a cast book would hold them."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

from heattrace.strand.record import Cast, Cut, Feed, HeatInfo, Pour, Run, Tundish

KINDS = {"piece": "piece", "crop_head": "head-crop", "crop_tail": "tail-crop"}


@cache
def scenario(name: str) -> dict[str, Any]:
    """One worked cast of cases/worked_casts.json: its `input` and `expected`."""
    text = (Path(__file__).parent / "cases" / "worked_casts.json").read_text(encoding="utf-8")
    return next(row for row in json.loads(text)["scenarios"] if row["input"]["id"] == name)


def pours_of(inflow: list[dict[str, Any]], until: float) -> tuple[Pour, ...]:
    """One pour per heat from the stretches of its inflow; one that reaches the book's end has no closing time."""
    found: dict[str, list[float]] = {}
    for row in inflow:
        found.setdefault(row["heat"], []).extend((row["t0"], row["t1"]))
    return tuple(
        Pour(heat, "T1", min(times), None if max(times) >= until else max(times)) for heat, times in found.items()
    )


def cast_of(name: str) -> Cast:
    """The worked cast as recorded: bloom 280 x 380 mm cut at 900 degree C, tundish weighed at every knot."""
    data, expected = scenario(name)["input"], scenario(name)["expected"]
    runs = []
    for strand in data["strands"]:
        number = strand["strand"]
        cuts = [
            Cut(index, KINDS[row["kind"]], f"{number}-{index}", row["t_clamp"], row["z_clamp"])
            for index, row in enumerate((row for row in data["cuts"] if row["strand"] == number), start=1)
        ]
        feed = strand["feeds"][0]
        ended = feed["t1"] < data["t_obs"]
        if ended:
            cuts.append(Cut(len(cuts) + 1, "tail-crop"))
        runs.append(
            Run(
                strand_no=number,
                run_no=1,
                form="bloom",
                thickness_mm=280.0,
                width_mm=380.0,
                machine_length_m=strand["L"],
                started=0.0,
                kerf_mm=strand["kerf"] * 1000.0,
                cut_temperature_c=900.0,
                feeds=(Feed("T1", feed["t0"], feed["t1"] if ended else None),),
                speeds=tuple((row[0], row[2]) for row in strand["speed"]),
                cuts=tuple(cuts),
            )
        )
    return Cast(
        sequence_no=name,
        heats=tuple(HeatInfo(row["id"], row["id"], "one grade") for row in data["heats"]),
        tundishes=(Tundish("T1", 30.0, readings=tuple(map(tuple, expected["tundish_mass"]["T1"]))),),
        pours=pours_of(data["tundishes"]["T1"]["inflow"], data["t_obs"]),
        runs=tuple(runs),
        last_time=data["t_obs"],
    )
