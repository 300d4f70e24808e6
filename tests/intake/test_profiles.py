"""Profiles: those shipped, the words of one's own, and every fault named with its line."""

from __future__ import annotations

import pytest

from heattrace.errors import FileRefused, NotFound
from heattrace.intake.profiles.cast_book_sheets import KINDS
from heattrace.intake.profiles.profile import MappedColumn, MappedElement, split_pattern
from heattrace.intake.profiles.profile_text import read_profile
from heattrace.intake.profiles.shipped import shipped, shipped_names

SHIPPED = (
    "lab-wide", "lab-long", "cast-book", "grade-book", "heats", "orders", "order-limits", "temperatures",
    "events", "additions", "fittings", "oscillation", "weights", "dispatch", "rolling", "aliases",
    "inspections", "earlier-pieces",
)  # fmt: skip

OWN = """
name = "spark-east"
takes = "analyses"                 # one of the kinds
[file]
type = "csv"
encoding = "utf-8"
delimiter = ";"
decimal = ","
header_within = 10
[time]
zone = "Europe/Vienna"
format = "%d.%m.%Y %H:%M"
clock = "lab-east"
[columns]                          # theirs -> ours
"Charge" = "heat_no"
"Probe" = "sample_id"
"Art" = "sample_kind"
"Zeit" = "analysed_at"
"Rest" = { column = "ladle_mass_left_t", unit = "kg" }
[values.sample_kind]
"TV" = "tundish-steady"
[elements]
"C" = { element = "C", unit = "%" }
"N" = { element = "N", unit = "ppm" }
"Al" = { element = "Al", form = "soluble", unit = "%" }
[constants]
method = "spark-emission"
instrument = "S2"
[tokens]
not_reported = ["", "-", "n.d."]
over_range = ["OVER"]
[ignore]
columns = ["Bemerkung"]
[rows]
column = "Line"
burn = ["1", "2"]
mean = ["Mean"]
skip = ["SD"]
"""


def test_all_promised_profiles_are_shipped_and_use_our_names() -> None:
    assert set(shipped_names()) == set(SHIPPED)
    for name in SHIPPED:
        profile = shipped(name)
        assert (profile.name, profile.ours, profile.delimiter, profile.decimal) == (name, True, ",", ".")
        assert profile.takes == ("analyses" if name.startswith("lab-") else name)
        assert profile.not_reported == {"", "-", "n.d."} and profile.header_within == 10
    assert (shipped("lab-wide").layout, shipped("lab-long").layout) == ("wide", "long")


def test_unknown_profile_names_those_there_are() -> None:
    with pytest.raises(NotFound, match="lab-wide"):
        shipped("lab-tall")


def test_own_profile_is_read_in_full() -> None:
    profile = read_profile(OWN)
    assert (profile.delimiter, profile.decimal, profile.zone, profile.clock) == (";", ",", "Europe/Vienna", "lab-east")
    assert profile.columns["Rest"] == MappedColumn("ladle_mass_left_t", "kg")
    assert profile.elements["N"] == MappedElement("N", "ppm")
    assert profile.elements["Al"] == MappedElement("Als", "%")
    assert profile.values["sample_kind"] == {"TV": "tundish-steady"}
    assert profile.rows is not None and profile.rows.mean == {"Mean"}
    assert not profile.ours and profile.text == OWN


FAULTS = [
    ('"Charge" = "heat_no"', '"Charge" = "heatno"', "line 15", "heatno"),
    ('"Charge" = "heat_no"', '"Charge" = "sample_id"', "line 16", "a second time"),
    ('unit = "kg"', 'unit = "lb"', "line 19", "lb"),
    ('element = "N", unit = "ppm"', 'element = "n", unit = "ppm"', "line 24", "letter case counts"),
    ('element = "N", unit = "ppm"', 'element = "N", unit = "pct"', "line 24", "pct"),
    ('form = "soluble", ', "", "line 25", 'form = "total" or form = "soluble"'),
    ('"tundish-steady"', '"tundish"', "line 21", "tundish"),
    ("Europe/Vienna", "Europe/Wien", "line 11", "Europe/Wien"),
    ("%d.%m.%Y", "%d.%m.%y", "line 12", "four digits"),
    ("%d.%m.%Y %H:%M", "%d.%m.%Y", "line 12", "hour and minute"),
    ('zone = "Europe/Vienna"\n', "", "line 11", "without zone"),
    ('encoding = "utf-8"', 'encoding = "utf-9"', "line 6", "utf-9"),
    ('delimiter = ";"', 'delimiter = ";;"', "line 7", ";;"),
    ('decimal = ","', 'decimal = ";"', "line 8", "one of ., ,"),
    ("header_within = 10", "header_within = 0", "line 9", "1 to 100"),
    ("header_within = 10", "heading = 10", "line 9", "heading"),
    ('takes = "analyses"', 'takes = "analysis"', "line 3", "analysis"),
    ('method = "spark', 'methods = "spark', "line 27", "methods"),
    ('skip = ["SD"]', 'skip = ["Mean"]', "line 34", "each value in one list only"),
    ('burn = ["1", "2"]', "burn = 1", "line 36", "a list of texts"),
]


@pytest.mark.parametrize(("old", "new", "line", "says"), FAULTS, ids=[f[3] for f in FAULTS])
def test_fault_of_a_profile_is_named_with_its_line(old: str, new: str, line: str, says: str) -> None:
    assert OWN.count(old) == 1
    with pytest.raises(FileRefused) as refused:
        read_profile(OWN.replace(old, new))
    assert any(line in f.subject and says in f.sentence() for f in refused.value.findings), str(refused.value)


def test_all_faults_of_a_profile_are_told_at_once() -> None:
    broken = OWN
    for old, new, _, _ in (FAULTS[0], FAULTS[3], FAULTS[6], FAULTS[7]):
        broken = broken.replace(old, new)
    with pytest.raises(FileRefused) as refused:
        read_profile(broken)
    assert len(refused.value.findings) == 4


def test_text_that_is_not_toml_is_refused_with_the_place() -> None:
    with pytest.raises(FileRefused, match="line 2"):
        read_profile('name = "x"\ntakes = \n')


def test_sample_number_is_taken_apart_at_the_longest_kind() -> None:
    pattern = split_pattern("{heat_no}-{kind}{n}", {"T": "tap", "TV": "tundish-steady"})
    found = pattern.fullmatch("26-R-07-TV12")
    assert found is not None and found.groupdict() == {"heat_no": "26-R-07", "kind": "TV", "n": "12"}
    assert pattern.fullmatch("26-R-07-XX1") is None


# Columns as the page that fixes the formats lists them; brackets mark what may be left out.
PROMISED = {
    "cast-book/heats": "heat_no grade [series] [ladle_no] [tapped_at] [tapped_mass_t] [order_no] [line] [evidence]",
    "cast-book/sequences": "sequence_no caster [recorded_until]",
    "cast-book/tundishes": "sequence_no tundish [tundish_no] mass_at_start_t [heat_at_start] "
    "[working_mass_t] [stagnant_mass_t]",
    "cast-book/pours": "sequence_no heat_no tundish opened_at [closed_at] [poured_mass_t]",
    "cast-book/tundish_masses": "sequence_no tundish read_at mass_t",
    "cast-book/strands": "sequence_no strand_no run_no form thickness_mm width_mm [area_mm2] machine_length_m "
    "started_at [stopped_at] [kerf_mm] [cut_temperature_c] [mould_no] [lubricant] [lubricant_lot] [plug_mass_t] "
    "[stroke_mm] [oscillation_per_min]",
    "cast-book/sections": "sequence_no strand_no run_no from_m thickness_mm width_mm",
    "cast-book/feeds": "sequence_no strand_no run_no tundish from_at [to_at]",
    "cast-book/speeds": "sequence_no strand_no run_no from_at speed_m_min",
    "cast-book/counters": "sequence_no strand_no run_no read_at counter_m",
    "cast-book/cuts": "sequence_no strand_no run_no cut_no kind [piece_no] clamped_at [clamp_distance_m] "
    "[measured_length_m] [mass_kg] [foreign_mass_kg] [order_no] [line]",
    "cast-book/temperatures": "heat_no place [tundish] read_at temperature_c",
    "cast-book/events": "sequence_no [strand_no] [run_no] [tundish] [heat_no] kind [from_at] [to_at] [from_m] [to_m] "
    "[amount] [unit] [device_distance_m] [note]",
    "additions/additions": "heat_no material mass_kg added_at",
    "fittings/fittings": "sequence_no [strand_no] [tundish] kind number_or_lot from_at [to_at]",
    "oscillation/oscillation": "sequence_no strand_no from_at stroke_mm per_min",
    "orders/orders": "order_no line ordered_at customer grade form section thickness_mm [flange_mm] [area_mm2] "
    "length_m mass_t document [guard_band] [options] [evidence]",
    "order-limits/order-limits": "order_no line basis size_band_mm quantity [min] [aim] [max] unit rounding "
    "[round_to] [when] [report]",
    "weights/weights": "piece_no mass_kg weighed_at",
    "dispatch/dispatch": "delivery_note customer order_no line piece_no dispatched_at",
    "rolling/rolling": "parent_no child_no mass_kg rolled_at [position]",
    "aliases/aliases": "piece_no alias owner from [to]",
    "inspections/inspections": "piece_no scheme edition item rating read_by [second_reader] [image_sha256]",
    "earlier-pieces/earlier-pieces": "piece_no heat_no [customer] [delivery_note] [dispatched_at]",
    "grade-book/limits": "standard edition grade basis size_band_mm quantity [min] [aim] [max] unit rounding "
    "[round_to] [when] [report] [valid_from] [valid_until] [extends] [family] source status [notes]",
}


@pytest.mark.parametrize("sheet", PROMISED)
def test_columns_are_those_promised(sheet: str) -> None:
    kind, _, name = sheet.partition("/")
    columns = [c.name if c.required else f"[{c.name}]" for c in KINDS[kind].sheets[name].columns]
    assert columns == PROMISED[sheet].split()


def test_sheets_that_may_be_left_out_are_those_promised() -> None:
    starred = {name for name, sheet in KINDS["cast-book"].sheets.items() if not sheet.required}
    assert starred == {
        "tundish_masses", "sections", "speeds", "counters", "temperatures", "events", "additions", "fittings",
        "oscillation",
    }  # fmt: skip
