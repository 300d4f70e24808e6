"""Small casts with keyword defaults; a test states only what it is about.

A billet 200 mm square cut at 900 degree C: 7.85 x 0.04 / 1.0118 t/m, 10 m machine, 10 mm kerf.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from heattrace.strand.record import Cast, Cut, Feed, HeatInfo, Pour, Run, Tundish

MU = 7.85 * 0.04 / 1.0118


def make_run(strand_no: int = 1, **changes: Any) -> Run:
    """A run at 1 m/min from minute 0, fed by T1 and still fed, without cuts."""
    run = Run(
        strand_no=strand_no,
        run_no=1,
        form="billet",
        thickness_mm=200.0,
        width_mm=200.0,
        machine_length_m=10.0,
        started=0.0,
        feeds=(Feed("T1", 0.0),),
        speeds=((0.0, 1.0),),
    )
    return replace(run, **changes)


def make_cast(
    runs: Sequence[Run] = (),
    *,
    pours: Iterable[Pour] = (Pour("H1", "T1", 0.0),),
    tundishes: Iterable[Tundish] = (Tundish("T1", 10.0),),
    grades: dict[str, str] | None = None,
    last_time: float = 60.0,
) -> Cast:
    """A cast of heats H1, H2, H3 of one grade over tundish T1 (10 t, nominal) to minute 60."""
    named = grades or {"H1": "one grade", "H2": "one grade", "H3": "one grade"}
    return Cast(
        sequence_no="Q1",
        heats=tuple(HeatInfo(heat, heat, grade) for heat, grade in named.items()),
        tundishes=tuple(tundishes),
        pours=tuple(pours),
        runs=tuple(runs) or (make_run(),),
        last_time=last_time,
    )


def cuts_at(*clamped: float, kind: str = "piece", **changes: Any) -> tuple[Cut, ...]:
    """Cuts numbered from 1 at the given clamp minutes."""
    return tuple(
        replace(Cut(number, kind, f"P{number}", minute), **changes) for number, minute in enumerate(clamped, start=1)
    )


def cuts_at_places(*places_m: float, **changes: Any) -> tuple[Cut, ...]:
    """Cuts at places of a strand that runs at 1 m/min from minute 0: clamped 10 m later."""
    return cuts_at(*(place + 10.0 for place in places_m), **changes)
