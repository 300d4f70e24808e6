"""Cut rows that cannot be right: out of order, overlapping, beyond the strand. They go to the bench, none is mended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heattrace.strand.cutting import cuts_by_number, place_of_cut, tail_row
from heattrace.strand.feeding import RunFeeding
from heattrace.strand.record import Cut, Run, StrandRules
from heattrace.strand.traced import FaultyCut

BEYOND_M = 1e-3
"""A cut this far past the strand's tail still counts as at the tail [m]."""


@dataclass(frozen=True, slots=True)
class _TimedCut:
    cut: Cut
    clamped: float
    place_m: float


def find_faulty_cuts(run: Run, feeding: RunFeeding, rules: StrandRules) -> tuple[FaultyCut, ...]:
    """Cut rows that cannot be right, for the bench, in order of cut_no; rows already set aside are not named again.

    Codes: `cut-doubled` (a number twice), `cut-without-time` (an empty clamp time elsewhere than at the strand's own
    tail), `cut-beyond-tail`, `cut-before-strand` (the strand had not reached the torch), `cut-out-of-order` (number and
    clamp time do not rise together), `cut-overlap` (two cuts closer than the kerf). Of rows that contradict each other
    the fewest are set aside, then those that agree less with the measured lengths, then the later; rows that could be
    the wrong ones just as well are its `suspects`.
    """
    tail = tail_row(run, feeding)
    faulty: list[FaultyCut] = []
    numbers: set[int] = set()
    for cut in sorted(run.cuts, key=lambda row: row.cut_no):
        place = place_of_cut(run, feeding, cut)
        if cut.cut_no in numbers:
            faulty.append(_fault(run, cut, "cut-doubled", "another row has the same cut number"))
        elif place is None:
            if cut is not tail and not cut.faulty:
                words = "no clamp time, and it is not the part closed by the strand's own tail"
                faulty.append(_fault(run, cut, "cut-without-time", words))
        elif not cut.faulty and place > feeding.s_end + BEYOND_M:
            words = f"lies at {place:.3f} m, beyond the strand's end at {feeding.s_end:.3f} m"
            faulty.append(_fault(run, cut, "cut-beyond-tail", words))
        elif not cut.faulty and place <= run.kerf_mm / 2000.0:
            words = f"lies at {place:.3f} m, before the strand's head had passed the torch"
            faulty.append(_fault(run, cut, "cut-before-strand", words))
        numbers.add(cut.cut_no)
    faulty += _contradictions(run, feeding, rules)
    faulty.sort(key=lambda fault: fault.cut_no)
    return tuple(faulty)


def _fault(run: Run, cut: Cut, code: str, words: str, suspects: tuple[int, ...] = ()) -> FaultyCut:
    return FaultyCut(run.strand_no, run.run_no, cut.cut_no, code, words, suspects)


def _timed_cuts(run: Run, feeding: RunFeeding) -> list[_TimedCut]:
    """Rows with a clamp time and a place on the strand, by number."""
    timed = []
    for cut in cuts_by_number(run.cuts):
        place = place_of_cut(run, feeding, cut)
        if place is not None and cut.clamped is not None and run.kerf_mm / 2000.0 < place <= feeding.s_end + BEYOND_M:
            timed.append(_TimedCut(cut, cut.clamped, place))
    return timed


def doubtful_cuts(run: Run, feeding: RunFeeding, rules: StrandRules) -> frozenset[int]:
    """Numbers of cuts that stand against another row with nothing to say which of the two is wrong."""
    timed = _timed_cuts(run, feeding)
    _, doubtful = _longest_chain(timed, run.kerf_mm / 1000.0, rules)
    return frozenset(timed[k].cut.cut_no for k in doubtful)


def _contradictions(run: Run, feeding: RunFeeding, rules: StrandRules) -> list[FaultyCut]:
    """Rows outside the longest chain in which number, clamp time and place rise together."""
    timed = [row for row in _timed_cuts(run, feeding) if not row.cut.faulty]
    kept, doubtful = _longest_chain(timed, run.kerf_mm / 1000.0, rules)
    found = []
    for k, row in enumerate(timed):
        if k in kept:
            continue
        others = tuple(timed[m].cut.cut_no for m in kept if m in doubtful) if k in doubtful else ()
        before, after = [m for m in kept if m < k][-1:], [m for m in kept if m > k][:1]
        if any(row.clamped <= timed[m].clamped for m in before) or any(row.clamped >= timed[m].clamped for m in after):
            words = "its clamp time does not rise with its number"
            found.append(_fault(run, row.cut, "cut-out-of-order", words, others))
        else:
            words = f"lies at {row.place_m:.3f} m, closer than the kerf to a neighbouring cut or past it"
            found.append(_fault(run, row.cut, "cut-overlap", words, others))
    return found


def _longest_chain(timed: Sequence[_TimedCut], kerf: float, rules: StrandRules) -> tuple[list[int], set[int]]:
    """Indices of the longest rising chain, ties settled by measured lengths and then by the earlier row, and of all
    rows that are in one of the equally good chains but not in every one."""

    def follows(later: _TimedCut, earlier: _TimedCut) -> bool:
        return later.clamped > earlier.clamped and later.place_m - earlier.place_m > kerf

    def agrees(later: _TimedCut, earlier: _TimedCut) -> int:
        measured = later.cut.measured_length_m
        if measured is None:
            return 0
        return int(abs(later.place_m - earlier.place_m - kerf - measured) * 1000.0 <= rules.residual_distrust_mm)

    n = len(timed)
    if all(follows(timed[i], timed[i - 1]) for i in range(1, n)):
        return list(range(n)), set()
    ahead: list[tuple[int, int]] = [(1, 0)] * n
    following = [n] * n
    for i in range(n - 1, -1, -1):
        for j in range(i + 1, n):
            if follows(timed[j], timed[i]):
                score = (ahead[j][0] + 1, ahead[j][1] + agrees(timed[j], timed[i]))
                if score > ahead[i]:
                    ahead[i], following[i] = score, j
    behind: list[tuple[int, int]] = [(0, 0)] * n
    for j in range(n):
        for i in range(j):
            if follows(timed[j], timed[i]):
                behind[j] = max(behind[j], (behind[i][0] + 1, behind[i][1] + agrees(timed[j], timed[i])))
    best = max(ahead)
    kept: list[int] = []
    i = ahead.index(best)
    while i < n:
        kept.append(i)
        i = following[i]
    on_best = [k for k in range(n) if (ahead[k][0] + behind[k][0], ahead[k][1] + behind[k][1]) == best]
    ranks = [behind[k][0] for k in on_best]
    return kept, {k for k, rank in zip(on_best, ranks, strict=True) if ranks.count(rank) > 1}
