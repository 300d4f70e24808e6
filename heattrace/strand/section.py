"""The section of a strand along its length: cold areas, tonnes per hot metre, and how a section is written."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass

from heattrace.strand.expansion import expansion
from heattrace.strand.record import CastUnreadable, Run, StrandRules

RECTANGULAR_FORMS = ("bloom", "billet", "slab")


def cold_area_mm2(form: str, thickness_mm: float, width_mm: float, area_mm2: float | None = None) -> float:
    """Cold area of a section [mm2].

    Rectangular forms thickness x width; `round` pi/4 x thickness x width; `profile` its stated area. A stated area
    of any other form is not used.

    Raises
    ------
    CastUnreadable
        Unknown form, profile without an area, or a dimension that is not above zero.

    Examples
    --------
    >>> cold_area_mm2("bloom", 280, 380)
    106400
    """
    if form == "profile":
        if area_mm2 is None or not area_mm2 > 0:
            raise CastUnreadable("a strand of form profile needs area_mm2; add it to the strands sheet")
        return area_mm2
    if not (thickness_mm > 0 and width_mm > 0):
        raise CastUnreadable(f"section {thickness_mm:g} x {width_mm:g} mm: thickness and width must be above zero")
    if form in RECTANGULAR_FORMS:
        return thickness_mm * width_mm
    if form == "round":
        return math.pi / 4.0 * thickness_mm * width_mm
    raise CastUnreadable(f"form {form!r} is not known; one of bloom, billet, slab, round, profile")


def tonnes_per_hot_metre(area_mm2: float, strain: float, density_t_m3: float = 7.85) -> float:
    """Tonnes of steel in one hot metre of strand.

    mu = density x cold area / (1 + expansion at the cut temperature)

    Examples
    --------
    280 x 380 mm cut at 900 degree C, by hand: 7.85 x 0.1064 / 1.0118 = 0.825499

    >>> round(tonnes_per_hot_metre(280 * 380, 0.0118), 6)
    0.825499
    """
    return density_t_m3 * area_mm2 * 1e-6 / (1.0 + strain)


def section_words(form: str, thickness_mm: float, width_mm: float) -> str:
    """A section as it is written on a sheet.

    >>> section_words("bloom", 220.0, 300.0), section_words("round", 200.0, 200.0)
    ('220 x 300 mm', '200 mm round')
    """
    if form == "round" and thickness_mm == width_mm:
        return f"{thickness_mm:g} mm round"
    size = f"{thickness_mm:g} x {width_mm:g} mm"
    return f"{size} {form}" if form in ("round", "profile") else size


@dataclass(frozen=True, slots=True)
class SectionCourse:
    """Sections of one run along the strand: `starts_m[i]` is where section i begins, the first at 0."""

    starts_m: tuple[float, ...]
    tonnes_per_m: tuple[float, ...]
    words: tuple[str, ...]
    strain: float

    def mu_at(self, s: float) -> float:
        """Tonnes per hot metre just after `s` [t/m]."""
        return self.tonnes_per_m[max(0, bisect_right(self.starts_m, s) - 1)]

    def tonnes(self, from_m: float, to_m: float) -> float:
        """Steel between two places [t], integrated over the sections."""
        if len(self.starts_m) == 1:
            return self.tonnes_per_m[0] * (to_m - from_m)
        total = 0.0
        ends = (*self.starts_m[1:], math.inf)
        for start, end, mu in zip(self.starts_m, ends, self.tonnes_per_m, strict=True):
            low, high = max(start, from_m), min(end, to_m)
            if high > low:
                total += mu * (high - low)
        return total

    def changes(self) -> tuple[float, ...]:
        """Places where the section changes [m]."""
        return self.starts_m[1:]

    def words_between(self, from_m: float, to_m: float) -> str:
        """The section of a part; a part across a change names all it has, head first."""
        ends = (*self.starts_m[1:], math.inf)
        seen: list[str] = []
        for start, end, words in zip(self.starts_m, ends, self.words, strict=True):
            if start < max(to_m, from_m + 1e-9) and end > from_m and (not seen or seen[-1] != words):
                seen.append(words)
        return " to ".join(seen)


def sections_of(run: Run, rules: StrandRules) -> SectionCourse:
    """Section of a run along its length, from its strand row and its changes while casting."""
    strain = expansion(rules.expansion, run.cut_temperature_c)
    steps = {0.0: (run.thickness_mm, run.width_mm)}
    for change in sorted(run.sections, key=lambda row: row.from_m):
        if run.form == "profile":
            raise CastUnreadable(
                f"strand {run.strand_no} run {run.run_no}: a profile has an area and no section change; "
                "begin a new run in the strands sheet"
            )
        steps[max(0.0, change.from_m)] = (change.thickness_mm, change.width_mm)
    starts = tuple(sorted(steps))
    areas = (cold_area_mm2(run.form, *steps[start], run.area_mm2) for start in starts)
    return SectionCourse(
        starts_m=starts,
        tonnes_per_m=tuple(tonnes_per_hot_metre(area, strain, rules.density_t_m3) for area in areas),
        words=tuple(section_words(run.form, *steps[start]) for start in starts),
        strain=strain,
    )
