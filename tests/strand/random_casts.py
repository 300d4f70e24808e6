"""Random casts for the property tests: stops, lost and late strands, new runs, exchanges, overlaps, plugs, readings."""

from __future__ import annotations

import random
from dataclasses import replace

from heattrace.strand.record import Cast, Cut, Feed, HeatInfo, Pour, Run, Tundish

MACHINE_M = 15.0


def metres(speeds: tuple[tuple[float, float | None], ...], started: float, t: float) -> float:
    """S(t) by adding up speed x time, written apart from the code under test."""
    total = 0.0
    for index, (begin, speed) in enumerate(speeds):
        end = speeds[index + 1][0] if index + 1 < len(speeds) else t
        low, high = max(begin, started), min(end, t)
        if high > low:
            total += (speed or 0.0) * (high - low)
    return total


def _minute(speeds: tuple[tuple[float, float | None], ...], started: float, place: float, until: float) -> float | None:
    """Minute at which S reaches a place, by halving; None where it does not before `until`."""
    if metres(speeds, started, until) < place:
        return None
    low, high = started, until
    for _ in range(60):
        middle = (low + high) / 2.0
        if metres(speeds, started, middle) < place:
            low = middle
        else:
            high = middle
    return high


def _speeds(rng: random.Random, started: float, end: float) -> tuple[tuple[float, float | None], ...]:
    rows: list[tuple[float, float | None]] = [(started, rng.choice((0.0, 0.3, 0.7)))]
    t = started
    while (t := t + rng.uniform(2.0, 40.0)) < end:
        rows.append((t, rng.choice((0.0, 0.4, 0.7, 0.7, 0.9, 1.3))))
    return tuple(rows)


def _cuts(rng: random.Random, run: Run, end: float | None, last_time: float) -> tuple[Cut, ...]:
    s_end = metres(run.speeds, run.started, last_time if end is None else end)
    last_time = last_time if run.stopped is None else run.stopped
    cuts: list[Cut] = []
    place = 0.0
    while True:
        place += rng.uniform(0.4, 9.0)
        clamped = _minute(run.speeds, run.started, place + MACHINE_M, last_time)
        if clamped is None or place >= s_end:
            break
        number = len(cuts) + 1
        kind = "head-crop" if number == 1 else rng.choice(("piece", "piece", "piece", "sample", "scrap"))
        cuts.append(Cut(number, kind, f"{run.strand_no}-{run.run_no}-{number}", clamped, foreign_mass_kg=3.0))
    if end is not None and rng.random() < 0.6:
        cuts.append(Cut(len(cuts) + 1, rng.choice(("tail-crop", "piece")), f"{run.strand_no}-{run.run_no}-tail"))
    return tuple(cuts)


def random_cast(seed: int) -> Cast:
    """One cast: up to 4 strands, 1 or 2 tundishes, 2 to 4 heats."""
    rng = random.Random(seed)
    last_time = rng.uniform(120.0, 320.0)
    cast_end = last_time - rng.uniform(0.0, 60.0)
    heats = [f"H{number}" for number in range(1, rng.randint(2, 4) + 1)]
    exchange = rng.uniform(0.3, 0.7) * cast_end if rng.random() < 0.5 else None
    labels = ["T1"] if exchange is None else ["T1", "T2"]
    pours, t = [], 0.0
    for number, heat in enumerate(heats):
        length = cast_end / len(heats) * rng.uniform(0.7, 1.1)
        label = labels[-1] if exchange is not None and t >= exchange else "T1"
        closed = None if number + 1 == len(heats) and rng.random() < 0.3 else min(t + length, cast_end)
        known = rng.random() < 0.5
        pours.append(Pour(heat, label, t, closed, rng.uniform(40.0, 120.0) if known else None))
        t = min(t + length + rng.uniform(-6.0, 6.0), cast_end - 1.0)
    if exchange is not None and all(pour.tundish == "T1" for pour in pours):
        pours.append(Pour(heats[-1], "T2", exchange, cast_end))
    tundishes = []
    for label in labels:
        begin = 0.0 if label == "T1" else (exchange or 0.0)
        readings: tuple[tuple[float, float], ...] = ()
        if rng.random() < 0.5:
            step = rng.uniform(5.0, 30.0)
            times = [begin + step * number for number in range(int((last_time - begin) / step))]
            spread = rng.choice((0.5, 10.0))
            readings = tuple((t, 15.0 + rng.uniform(-spread, spread)) for t in times)
        tundishes.append(
            Tundish(
                label,
                rng.uniform(10.0, 25.0),
                working_mass_t=rng.choice((None, rng.uniform(8.0, 25.0))),
                stagnant_mass_t=rng.choice((0.0, 0.0, rng.uniform(0.5, 4.0))),
                readings=readings,
            )
        )
    runs: list[Run] = []
    for strand in range(1, rng.randint(1, 4) + 1):
        started = rng.choice((0.0, 0.0, rng.uniform(1.0, 20.0)))
        plug = rng.choice((0.0, 0.0, rng.uniform(0.1, 2.0)))
        lost = rng.uniform(0.4, 0.9) * cast_end if rng.random() < 0.3 else None
        end = lost if lost is not None else (cast_end if cast_end < last_time - 5.0 else None)
        runs.append(_run(rng, strand, 1, started, end, exchange, plug, last_time))
        if lost is not None and lost + 20.0 < cast_end and rng.random() < 0.5:
            runs.append(_run(rng, strand, 2, lost + 10.0, None, exchange, plug, last_time))
    return Cast(
        sequence_no=f"random {seed}",
        heats=tuple(HeatInfo(heat, heat, rng.choice(("grade X", "grade Y"))) for heat in heats),
        tundishes=tuple(tundishes),
        pours=tuple(pours),
        runs=tuple(runs),
        last_time=last_time,
    )


def _run(
    rng: random.Random,
    strand: int,
    number: int,
    started: float,
    end: float | None,
    exchange: float | None,
    plug: float,
    last_time: float,
) -> Run:
    until = last_time if end is None else end
    if exchange is None or exchange >= until:
        feeds: tuple[Feed, ...] = (Feed("T1", started, end),)
    elif exchange <= started:
        feeds = (Feed("T2", started, end),)
    else:
        dwell = rng.choice((0.0, rng.uniform(0.5, 3.0)))
        feeds = (Feed("T1", started, exchange), Feed("T2", min(exchange + dwell, until), end))
    run = Run(
        strand_no=strand,
        run_no=number,
        form=rng.choice(("bloom", "round")),
        thickness_mm=200.0,
        width_mm=rng.choice((200.0, 250.0)),
        machine_length_m=MACHINE_M,
        started=started,
        stopped=None if end is None or rng.random() < 0.5 else min(last_time, end + 15.0),
        plug_mass_t=plug,
        feeds=feeds,
        speeds=_speeds(rng, started, last_time),
    )
    return replace(run, cuts=_cuts(rng, run, end, last_time))
