"""The reading questions of recorded casts and their parts as plain SQL, written for both databases."""

from __future__ import annotations

SEQUENCE = "SELECT s.sequence_id, s.sequence_no, s.caster FROM sequence s WHERE s.sequence_id = :sequence"
SEQUENCE_NUMBERED = "SELECT s.sequence_id FROM sequence s WHERE s.sequence_no = :number AND {live:s}"
BOOK = """
SELECT c.cast_record_id, c.edition, c.clock, c.recorded_until, c.last_at, c.batch_id FROM cast_record c
WHERE c.sequence_id = :sequence AND {live:c} ORDER BY c.edition DESC LIMIT 1
"""
TUNDISHES = """
SELECT t.tundish, t.tundish_no, t.mass_at_start_g, t.mass_at_start_text, t.heat_at_start_id, t.working_mass_g,
t.working_mass_text, t.stagnant_mass_g, t.stagnant_mass_text
FROM tundish_use t WHERE t.sequence_id = :sequence AND {live:t} ORDER BY t.tundish
"""
POURS = """
SELECT p.heat_id, p.tundish, p.opened_at, p.opened_offset, p.closed_at, p.poured_mass_g, p.poured_mass_text
FROM pour p WHERE p.sequence_id = :sequence AND {live:p} ORDER BY p.opened_at, p.pour_id
"""
READINGS = """
SELECT m.tundish, m.read_at, m.mass_g, m.mass_text FROM tundish_mass m
WHERE m.sequence_id = :sequence AND {live:m} ORDER BY m.tundish, m.read_at
"""
RUNS = """
SELECT r.strand_no, r.run_no, r.form, r.thickness_mm, r.width_mm, r.area_mm2, r.machine_length_um,
r.machine_length_text, r.started_at, r.started_offset, r.stopped_at, r.kerf_mm, r.cut_temperature_c, r.plug_mass_g,
r.plug_mass_text
FROM strand_run r WHERE r.sequence_id = :sequence AND {live:r} ORDER BY r.strand_no, r.run_no
"""
FEEDS = """
SELECT f.strand_no, f.run_no, f.tundish, f.from_at, f.to_at FROM feed f
WHERE f.sequence_id = :sequence AND {live:f} ORDER BY f.strand_no, f.run_no, f.from_at
"""
# A speed row stands as long as its sheet does.
SPEEDS = """
SELECT v.strand_no, v.run_no, v.from_at, v.speed_um_min, v.speed_text FROM cast_sheet s
JOIN speed v ON v.cast_sheet_id = s.cast_sheet_id
WHERE s.sequence_id = :sequence AND s.sheet = 'speeds' AND {live:s} ORDER BY v.strand_no, v.run_no, v.from_at
"""
COUNTERS = """
SELECT c.strand_no, c.run_no, c.read_at, c.counter_um, c.counter_text FROM counter c
WHERE c.sequence_id = :sequence AND {live:c} ORDER BY c.strand_no, c.run_no, c.read_at
"""
SECTIONS = """
SELECT x.strand_no, x.run_no, x.from_um, x.from_text, x.thickness_mm, x.width_mm FROM section x
WHERE x.sequence_id = :sequence AND {live:x} ORDER BY x.strand_no, x.run_no, x.from_um
"""
CUTS = """
SELECT c.strand_no, c.run_no, c.cut_no, c.kind, c.piece_no, c.clamped_at, c.clamp_distance_um, c.clamp_distance_text,
c.measured_length_um, c.measured_length_text, c.mass_g, c.mass_text, c.foreign_mass_g, c.foreign_mass_text, c.faulty
FROM cut c WHERE c.sequence_id = :sequence AND {live:c} ORDER BY c.strand_no, c.run_no, c.cut_no
"""
HEATS = """
SELECT h.heat_id, h.heat_no, r.grade_text, e.requirement, g.family FROM heat h
LEFT JOIN heat_record r ON r.heat_id = h.heat_id AND {live:r}
LEFT JOIN edition e ON e.edition_id = r.edition_id
LEFT JOIN grade g ON g.grade_id = e.grade_id
WHERE h.heat_id IN ({keys}) ORDER BY h.heat_id
"""
EVENTS = """
SELECT e.event_id, e.kind, e.strand_no, e.run_no, e.tundish, e.heat_id, e.from_at, e.to_at, e.from_um, e.from_text,
e.to_um, e.to_text, e.device_distance_m
FROM event e WHERE e.sequence_id = :sequence AND {live:e} ORDER BY e.event_id
"""
SEQUENCES = "SELECT s.sequence_id, s.sequence_no FROM sequence s WHERE {live:s} ORDER BY s.sequence_no"
SEQUENCE_LINES = """
SELECT s.sequence_no, s.caster, c.edition, c.last_at, c.recorded_until,
(SELECT min(o.opened_at) FROM pour o WHERE o.sequence_id = s.sequence_id AND {live:o}) AS opened_at,
(SELECT count(DISTINCT o.heat_id) FROM pour o WHERE o.sequence_id = s.sequence_id AND {live:o}) AS heats,
(SELECT min(r.started_at) FROM strand_run r WHERE r.sequence_id = s.sequence_id AND {live:r}) AS started_at,
(SELECT count(DISTINCT r.strand_no) FROM strand_run r WHERE r.sequence_id = s.sequence_id AND {live:r}) AS strands,
(SELECT count(*) FROM part p WHERE p.sequence_id = s.sequence_id AND p.origin = 'cast' AND p.kind = 'piece'
 AND {live:p}) AS pieces,
(SELECT count(*) FROM part p WHERE p.sequence_id = s.sequence_id AND p.origin = 'cast' AND p.kind <> 'piece'
 AND {live:p}) AS others,
(SELECT count(*) FROM placement pl WHERE pl.sequence_id = s.sequence_id AND pl.cast_class = 'transition'
 AND {live:pl}) AS transitions,
(SELECT count(*) FROM placement pl WHERE pl.sequence_id = s.sequence_id AND pl.cast_class = 'undetermined'
 AND {live:pl}) AS undetermined
FROM sequence s LEFT JOIN cast_record c ON c.sequence_id = s.sequence_id AND {live:c}
WHERE {live:s} ORDER BY opened_at, s.sequence_no
"""
PARTS = """
SELECT p.part_id, p.strand_no, p.run_no, p.cut_no, p.kind, p.piece_no FROM part p
WHERE p.sequence_id = :sequence AND p.origin = 'cast' AND {live:p}
"""
DECIDED_NUMBERS = """
SELECT pl.part_id, pl.heat_id, h.heat_no FROM placement pl JOIN heat h ON h.heat_id = pl.heat_id
WHERE pl.part_id IN ({keys}) AND pl.heat_no_rule = 'decided' AND {live:pl}
"""
CUT_MASSES_OF = """
SELECT p.part_id, c.mass_g, c.mass_text FROM part p JOIN cut c ON c.sequence_id = p.sequence_id
AND c.strand_no = p.strand_no AND c.run_no = p.run_no AND c.cut_no = p.cut_no
WHERE p.part_id IN ({keys}) AND {live:c} AND c.mass_g IS NOT NULL
"""
WEIGHTS_OF = """
SELECT w.part_id, w.mass_g, w.mass_text FROM weight w WHERE w.part_id IN ({keys}) AND {live:w}
ORDER BY w.weighed_at, w.weight_id
"""
TAPPED = """
SELECT r.heat_id, r.tapped_mass_g, r.tapped_mass_text FROM heat_record r WHERE r.heat_id IN ({keys}) AND {live:r}
"""
