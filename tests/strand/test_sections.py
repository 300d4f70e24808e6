"""How sections are read: cold, rectangular, round or of a stated area; changes while casting are integrated."""

from __future__ import annotations

import math

import pytest

from heattrace.strand.cast import trace_cast
from heattrace.strand.record import CastUnreadable, Section, StrandRules
from heattrace.strand.section import cold_area_mm2, section_words, sections_of
from tests.strand.make_cast import MU, cuts_at_places, make_cast, make_run


@pytest.mark.parametrize("form", ["bloom", "billet", "slab"])
def test_rectangular_forms_are_thickness_by_width(form):
    assert cold_area_mm2(form, 220.0, 300.0) == 66000.0


def test_stated_area_of_a_rectangular_form_is_not_used():
    assert cold_area_mm2("bloom", 220.0, 300.0, 65000.0) == 66000.0


def test_round_is_a_quarter_pi_of_thickness_by_width():
    assert cold_area_mm2("round", 200.0, 210.0) == pytest.approx(math.pi / 4.0 * 42000.0, abs=1e-9)


def test_profile_has_its_stated_area():
    assert cold_area_mm2("profile", 480.0, 420.0, 90000.0) == 90000.0


@pytest.mark.parametrize(
    ("form", "thickness", "area", "words"),
    [
        ("profile", 480.0, None, "area_mm2"),
        ("bloom", 0.0, None, "above zero"),
        ("beam blank", 480.0, 90000.0, "not known"),
    ],
)
def test_section_that_has_no_area_is_refused_with_what_is_missing(form, thickness, area, words):
    with pytest.raises(CastUnreadable, match=words):
        cold_area_mm2(form, thickness, 400.0, area)


def test_mass_of_a_part_is_integrated_over_a_change_of_width():
    # 200 x 200 up to 12 m, 200 x 250 from there: a part from 10.005 to 14.995 has 1.995 and 2.995 m of them
    run = make_run(cuts=cuts_at_places(10.0, 15.0), sections=(Section(12.0, 200.0, 250.0),))
    part = trace_cast(make_cast([run])).parts[1]
    assert part.mass_t == pytest.approx(MU * 1.995 + MU * 1.25 * 2.995, abs=1e-12)
    assert part.section == "200 x 200 mm to 200 x 250 mm"


def test_strand_draws_more_from_the_moment_its_section_grows():
    run = make_run(sections=(Section(12.0, 200.0, 250.0),))
    traced = trace_cast(make_cast([run]))
    assert traced.runs[0].strand_t == pytest.approx(MU * 12.0 + MU * 1.25 * 48.0, abs=1e-12)
    assert sum(row.strand_t for row in traced.balance.heats) == pytest.approx(traced.runs[0].strand_t, abs=1e-12)


def test_change_of_section_on_a_profile_is_refused():
    run = make_run(form="profile", area_mm2=50000.0, sections=(Section(12.0, 200.0, 250.0),))
    with pytest.raises(CastUnreadable, match="profile"):
        sections_of(run, StrandRules())


def test_expansion_set_that_is_not_known_is_refused():
    with pytest.raises(CastUnreadable, match="EN 1993-1-2"):
        sections_of(make_run(), StrandRules(expansion="house set"))


def test_sections_are_written_as_on_a_sheet():
    assert section_words("slab", 235.0, 1200.0) == "235 x 1200 mm"
    assert section_words("round", 200.0, 210.0) == "200 x 210 mm round"
    assert section_words("profile", 480.0, 420.0) == "480 x 420 mm profile"
