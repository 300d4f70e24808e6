"""The reading questions of grades, requirements and chemistry as plain SQL, written for both databases, never rebuilt.

`{live:x}` stands for "row x stands" (now, or as of an entry), `{keys}` for a list of row keys.
"""

from __future__ import annotations

# --- grades and order lines -------------------------------------------------------------------------------------------

_LIMIT_CELLS = (
    "basis, size_band_mm, quantity, min_text, aim_text, max_text, unit, rounding, round_to, condition, report"
)
EDITIONS = """
SELECT e.edition_id, e.edition, e.revision, e.requirement, e.extends, g.standard, g.name, g.family
FROM edition e JOIN grade g ON g.grade_id = e.grade_id WHERE {live:e} ORDER BY e.edition_id
"""
LIMITS = f"""
SELECT edition_id, row_no, {_LIMIT_CELLS}, valid_from, valid_until, source, status, notes
FROM grade_limit l WHERE {{live:l}} AND l.edition_id IN ({{keys}}) ORDER BY l.edition_id, l.grade_limit_id
"""
ORDER_LINES = """
SELECT o.order_line_id, o.order_no, o.line, o.form, o.thickness_mm, o.flange_mm, o.area_mm2, o.guard_band,
o.options, o.evidence, e.requirement FROM order_line o JOIN edition e ON e.edition_id = o.edition_id
WHERE {live:o} AND o.order_line_id IN ({keys})
"""
ORDER_LINE_NUMBERED = """
SELECT o.order_line_id FROM order_line o WHERE {live:o} AND o.order_no = :order_no AND o.line = :line
"""
LINES_OF_ORDER = """
SELECT o.line FROM order_line o WHERE {live:o} AND o.order_no = :order_no ORDER BY o.order_line_id
"""
ORDER_LIMITS = f"""
SELECT order_line_id, {_LIMIT_CELLS} FROM order_limit l
WHERE {{live:l}} AND l.order_line_id IN ({{keys}}) ORDER BY l.order_limit_id
"""
ORDERS_NAMED = """
SELECT o.order_line_id, o.order_no, o.line, e.requirement FROM order_line o
JOIN edition e ON e.edition_id = o.edition_id WHERE o.order_line_id IN ({keys})
"""

# --- what a heat or part is ordered for -------------------------------------------------------------------------------

PLANNED = """
SELECT r.heat_id, r.order_line_id, r.grade_text, r.evidence, e.requirement FROM heat_record r
LEFT JOIN edition e ON e.edition_id = r.edition_id WHERE {live:r} AND r.heat_id IN ({keys})
"""
HEATS_PUT_TO_ORDERS = """
SELECT a.heat_id AS subject, a.order_line_id FROM assignment a WHERE {live:a} AND a.heat_id IN ({keys})
ORDER BY a.assignment_id
"""
PARTS_PUT_TO_ORDERS = """
SELECT a.part_id AS subject, a.order_line_id FROM assignment a WHERE {live:a} AND a.part_id IN ({keys})
ORDER BY a.assignment_id
"""
ORDERS_OF_CUTS = """
SELECT p.part_id AS subject, c.order_line_id FROM part p JOIN cut c ON c.sequence_id = p.sequence_id
AND c.strand_no = p.strand_no AND c.run_no = p.run_no AND c.cut_no = p.cut_no
WHERE p.part_id IN ({keys}) AND {live:c} AND c.order_line_id IS NOT NULL
"""
HEATS_IN_PARTS = """
SELECT pl.part_id, pl.heat_id AS bears, sh.heat_id, sh.mean, sh.head, sh.tail, sh.least,
sh.greatest FROM placement pl
JOIN share sh ON sh.placement_id = pl.placement_id WHERE {live:pl} AND pl.part_id IN ({keys})
"""
HEATS_OF_EARLIER_PARTS = """
SELECT x.part_id, x.heat_id FROM earlier_heat x WHERE {live:x} AND x.part_id IN ({keys}) ORDER BY x.earlier_heat_id
"""
PIECES_OF_HEATS = """
SELECT sh.heat_id, pl.part_id, pl.heat_id AS bears FROM share sh
JOIN placement pl ON pl.placement_id = sh.placement_id JOIN part p ON p.part_id = pl.part_id
WHERE sh.heat_id IN ({keys}) AND sh.greatest >= :floor AND {live:pl} AND {live:p} AND p.kind = 'piece'
ORDER BY pl.part_id
"""
PART_NUMBER = "SELECT p.piece_no FROM part p WHERE p.part_id = :part"

# --- samples, analyses, results ---------------------------------------------------------------------------------------

_SAMPLE = """
SELECT s.sample_key, s.written_id, s.heat_id, h.heat_no, s.kind, s.taken_at, s.tundish, s.strand_no,
s.position_text, s.ladle_mass_left_text, s.part_id, p.piece_no, s.piece_end, s.laboratory, s.report_no
FROM sample s LEFT JOIN heat h ON h.heat_id = s.heat_id LEFT JOIN part p ON p.part_id = s.part_id WHERE {live:s}
"""
_BY_TIME = "ORDER BY coalesce(s.taken_at, 0), s.sample_key"
SAMPLES_OF_HEATS = f"{_SAMPLE} AND s.heat_id IN ({{keys}}) {_BY_TIME}"
SAMPLES_OF_PARTS = f"{_SAMPLE} AND s.part_id IN ({{keys}}) {_BY_TIME}"
SAMPLES_BY_KEY = f"{_SAMPLE} AND s.sample_key IN ({{keys}}) {_BY_TIME}"
NEWEST_SAMPLES = "SELECT s.sample_key FROM sample s WHERE {live:s} ORDER BY s.sample_key DESC LIMIT :most"
SAMPLES_NUMBERED = "SELECT s.sample_key FROM sample s WHERE {live:s} AND s.sample_id = :number ORDER BY s.sample_key"
SAMPLES_BETWEEN = """
SELECT s.sample_id, min(s.written_id) AS written_id FROM sample s
WHERE s.sample_id >= :first AND s.sample_id < :beyond AND {live:s} GROUP BY s.sample_id ORDER BY s.sample_id LIMIT :most
"""
SAMPLE_STATES = """
SELECT t.sample_key, t.state, t.note FROM sample_state t WHERE {live:t} AND t.sample_key IN ({keys})
ORDER BY t.sample_state_id
"""
ANALYSES = """
SELECT a.analysis_id, a.sample_key, a.profile, a.method, a.instrument, a.analysed_at, a.state, a.state_reason,
a.supersedes_id, a.laboratory, a.report_no FROM analysis a WHERE {live:a} AND a.sample_key IN ({keys})
ORDER BY a.analysed_at, a.analysis_id
"""
SAMPLE_OF_ANALYSIS = "SELECT a.sample_key FROM analysis a WHERE {live:a} AND a.analysis_id = :analysis"
ANALYSIS_STATES = """
SELECT t.analysis_id, t.state, t.reason, t.note FROM analysis_state t
WHERE {live:t} AND t.analysis_id IN ({keys}) ORDER BY t.analysis_state_id
"""
AMENDMENTS = """
SELECT a.supersedes_id, a.analysis_id, a.state, (SELECT t.state FROM analysis_state t WHERE {live:t}
AND t.analysis_id = a.analysis_id ORDER BY t.analysis_state_id DESC LIMIT 1) AS later
FROM analysis a WHERE {live:a} AND a.supersedes_id IN ({keys})
"""
RESULTS = """
SELECT r.analysis_id, r.element_id, r.value_ppb, f.qualifier, f.unit, f.places, f.method, f.places_lost,
t.reported FROM result r JOIN result_form f ON f.form_id = r.form_id
LEFT JOIN result_text t ON t.analysis_id = r.analysis_id AND t.element_id = r.element_id
WHERE r.analysis_id IN ({keys})
"""
BURNS = """
SELECT b.analysis_id, b.burn_no, b.written, b.packed FROM burn b WHERE b.analysis_id IN ({keys})
ORDER BY b.analysis_id, b.burn_no
"""

# --- the cast analysis and what is measured beside it -----------------------------------------------------------------

HEAT_NUMBERS = "SELECT h.heat_id, h.heat_no FROM heat h WHERE h.heat_id IN ({keys})"
LAST_ADDITIONS = """
SELECT a.heat_id, max(a.added_at) AS added_at FROM addition a WHERE {live:a} AND a.heat_id IN ({keys})
GROUP BY a.heat_id
"""
CAST_ANALYSES = """
SELECT c.cast_analysis_id, c.heat_id, c.rule, c.ladder_edition, c.words, c.entry_no FROM cast_analysis c
WHERE {live:c} AND c.heat_id IN ({keys}) ORDER BY c.cast_analysis_id
"""
CAST_VALUES = """
SELECT v.cast_analysis_id, v.element_id, v.analysis_id, v.rule, a.method, s.written_id, s.kind
FROM cast_analysis_value v JOIN analysis a ON a.analysis_id = v.analysis_id
JOIN sample s ON s.sample_key = a.sample_key WHERE v.cast_analysis_id IN ({keys})
"""
READINGS = """
SELECT t.heat_id, h.heat_no, t.place, t.tundish, t.read_at, t.temperature_dc, t.temperature_text
FROM temperature t JOIN heat h ON h.heat_id = t.heat_id WHERE {live:t} AND t.heat_id IN ({keys})
ORDER BY t.read_at, t.temperature_id
"""

# --- the heat record --------------------------------------------------------------------------------------------------

ADDITIONS_OF_HEAT = """
SELECT a.material, a.mass_g, a.mass_text, a.added_at FROM addition a WHERE {live:a} AND a.heat_id = :heat
ORDER BY a.added_at, a.addition_id
"""
HEATS_AFTER = """
SELECT h.heat_id, h.heat_no, h.series, r.grade_text, e.requirement, r.tapped_at,
coalesce((SELECT t.state FROM heat_state t WHERE t.heat_id = h.heat_id AND {live:t}
 ORDER BY t.heat_state_id DESC LIMIT 1), 'open') AS record
FROM heat h
LEFT JOIN heat_record r ON r.heat_id = h.heat_id AND {live:r}
LEFT JOIN edition e ON e.edition_id = r.edition_id
WHERE {live:h} AND h.heat_id > :after ORDER BY h.heat_id LIMIT :most
"""
KEY_BEFORE_LAST_HEATS = """
SELECT h.heat_id FROM heat h WHERE {live:h} ORDER BY h.heat_id DESC LIMIT 1 OFFSET :skipped
"""
