"""Where the cuts lie on a strand, and the parts between the cuts.

A cut lies at S(clamped) - clamp distance, the kerf centred on it; every cut is anchored by its own clamp time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from heattrace.strand.feeding import RunFeeding
from heattrace.strand.record import Cut, Run
from heattrace.strand.traced import FaultyCut

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PlacedCut:
    """A cut row with its place [m]; `place_m` None is not known, `believed` False is set aside."""

    cut: Cut
    place_m: float | None
    believed: bool


@dataclass(frozen=True, slots=True)
class CutPart:
    """A part between two places of the strand [m].

    `head_cut` and `tail_cut` are the cuts at its ends, None at the dummy bar, at the strand's own tail and where no
    later cut is known. `joined` names the cuts of all parts that share the interval because a cut between them is not
    believed. `doubts` are (code, cut_no) of cuts at its ends.
    """

    cut: Cut
    from_m: float
    to_m: float
    head_cut: PlacedCut | None
    tail_cut: PlacedCut | None
    joined: tuple[int, ...] = ()
    doubts: tuple[tuple[str, int], ...] = ()
    implied: bool = False


@dataclass(frozen=True, slots=True)
class CutStrand:
    """A run cut up: its parts, where the steel still in the machine begins (None: nothing), and for the balance the
    intervals between believed places: pieces, crops (everything that is not surely a piece) and kerfs [m]."""

    parts: tuple[CutPart, ...]
    in_machine_from_m: float | None
    pieces_m: tuple[Interval, ...]
    crops_m: tuple[Interval, ...]
    kerfs_m: tuple[Interval, ...]


def place_of_cut(run: Run, feeding: RunFeeding, cut: Cut) -> float | None:
    """S(clamped) - clamp distance [m]; None without a clamp time."""
    if cut.clamped is None:
        return None
    distance = run.machine_length_m if cut.clamp_distance_m is None else cut.clamp_distance_m
    return feeding.timeline.s_at(cut.clamped) - distance


def tail_row(run: Run, feeding: RunFeeding) -> Cut | None:
    """The row of the part closed by the strand's own tail: the highest number, no clamp time, the strand ended."""
    if not run.cuts or not feeding.ended:
        return None
    last = max(run.cuts, key=lambda cut: cut.cut_no)
    return last if last.clamped is None and not last.faulty else None


def cut_strand(
    run: Run, feeding: RunFeeding, last_time: float, faulty: Sequence[FaultyCut], suspects: frozenset[int]
) -> CutStrand:
    """Cut a run into its parts.

    The first part begins at 0 (dummy-bar end). A tail row is closed by the strand's own tail at `s_end`; without one
    the rest is still in the machine, unless the tail is past the torch at the book's last time: then a tail-crop is
    implied. A row that is set aside, by its own mark or in `faulty`, makes the parts on both sides doubtful; where its
    place does not fit between its neighbours they share one interval.
    """
    kerf, s_end = run.kerf_mm / 1000.0, feeding.s_end
    codes = {fault.cut_no: fault.code for fault in faulty}
    tail = tail_row(run, feeding)
    rows = [
        PlacedCut(cut, place_of_cut(run, feeding, cut), not cut.faulty and cut.cut_no not in codes)
        for cut in cuts_by_number(run.cuts)
        if cut is not tail
    ]
    rows = _believable_places(rows, codes, kerf, s_end)
    parts: list[CutPart] = []
    kerfs: list[Interval] = []
    used: dict[bool, list[Interval]] = {True: [], False: []}
    group: list[Cut] = []
    head, head_cut = 0.0, None
    for row in rows:
        group.append(row.cut)
        if row.place_m is None:
            continue
        place = min(row.place_m, s_end)
        tail_m = max(head, place - kerf / 2.0)
        parts += _parts(group, head, tail_m, head_cut, row, codes, suspects)
        used[all(cut.kind == "piece" for cut in group)].append((head, tail_m))
        kerfs.append((tail_m, max(tail_m, min(s_end, place + kerf / 2.0))))
        head, head_cut, group = kerfs[-1][1], row, []
    passed = feeding.timeline.s_at(last_time) - s_end >= run.machine_length_m
    implied = tail is None and feeding.ended and passed and s_end > head
    if tail is not None:
        group.append(tail)
    elif implied:
        number = max((cut.cut_no for cut in run.cuts), default=0) + 1
        group.append(Cut(number, "tail-crop"))
    closing = _parts(group, head, s_end, head_cut, None, codes, suspects) if group else []
    if implied:
        closing[-1] = replace(closing[-1], implied=True)
    closed = tail is not None or implied
    in_machine = None if closed or s_end <= head else head
    if closed:
        used[all(cut.kind == "piece" for cut in group)].append((head, s_end))
    else:
        closing = [replace(part, joined=tuple(cut.cut_no for cut in group)) for part in closing]
    return CutStrand(tuple(parts + closing), in_machine, tuple(used[True]), tuple(used[False]), tuple(kerfs))


def cuts_by_number(cuts: Sequence[Cut]) -> list[Cut]:
    """Cut rows by number; of rows with one number the first as recorded."""
    seen: dict[int, Cut] = {}
    for cut in cuts:
        seen.setdefault(cut.cut_no, cut)
    return [seen[number] for number in sorted(seen)]


def _believable_places(rows: Sequence[PlacedCut], codes: dict[int, str], kerf: float, s_end: float) -> list[PlacedCut]:
    """Rows set aside keep their place only where it fits between the believed cuts on both sides of them."""
    kept: list[PlacedCut] = []
    last = -kerf / 2.0
    for index, row in enumerate(rows):
        place = row.place_m
        if not row.believed and place is not None:
            nexts = [later.place_m for later in rows[index + 1 :] if later.believed and later.place_m is not None]
            above = nexts[0] if nexts else s_end + kerf
            if row.cut.cut_no in codes or not last + kerf < place < above - kerf:
                place = None
        kept.append(PlacedCut(row.cut, place, row.believed))
        last = last if place is None else place
    return kept


def _parts(
    group: Sequence[Cut],
    head: float,
    tail_m: float,
    head_cut: PlacedCut | None,
    tail_cut: PlacedCut | None,
    codes: dict[int, str],
    suspects: frozenset[int],
) -> list[CutPart]:
    """The parts of one interval: one, or several that share it."""
    joined = tuple(cut.cut_no for cut in group) if len(group) > 1 else ()
    parts = []
    for index, cut in enumerate(group):
        ends = [head_cut.cut.cut_no] if head_cut is not None and not head_cut.believed else []
        doubts = [("cut-on-bench", number) for number in ends]
        doubts += [("cut-on-bench", number) for number in joined if number in codes or _set_aside(group, number)]
        if not joined and (cut.faulty or cut.cut_no in codes):
            doubts.append(("cut-on-bench", cut.cut_no))
        near = {cut.cut_no} | ({head_cut.cut.cut_no} if head_cut is not None else set())
        doubts += [("cut-doubtful", number) for number in sorted(near & suspects)]
        parts.append(
            CutPart(
                cut,
                head,
                tail_m,
                head_cut,
                tail_cut if index + 1 == len(group) else None,
                joined,
                tuple(dict.fromkeys(doubts)),
            )
        )
    return parts


def _set_aside(group: Sequence[Cut], number: int) -> bool:
    return any(cut.cut_no == number and cut.faulty for cut in group)
