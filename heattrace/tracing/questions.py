"""The reading questions of tracing as plain SQL, written for both databases and never rebuilt.

`{live:x}` stands for "row x stands" (now, or as of an entry), `{keys}` for a list of row keys. Prefixes are asked as
ranges: `LIKE 'x%'` reads a whole index.
"""

from __future__ import annotations

# How many numbers one statement looks up at once; the statement is then always the same text.
LOT = 100
_NUMBERS = ", ".join(f":n{i}" for i in range(LOT))

# --- a number ---------------------------------------------------------------------------------------------------------

HEATS_NUMBERED = f"""
SELECT h.heat_id, h.heat_no, h.series FROM heat h WHERE h.heat_no IN ({_NUMBERS}) AND {{live:h}}
ORDER BY h.heat_no, h.series
"""
PARTS_NUMBERED = f"""
SELECT p.part_id, p.piece_no FROM part p WHERE p.piece_no IN ({_NUMBERS}) AND {{live:p}} ORDER BY p.piece_no
"""
ALIASES_NUMBERED = f"""
SELECT a.part_id, a.alias, a.written, a.owner, a.from_at, a.to_at, p.piece_no
FROM alias a JOIN part p ON p.part_id = a.part_id
WHERE a.alias IN ({_NUMBERS}) AND {{live:a}} ORDER BY a.alias, a.from_at
"""
HEAT_NUMBERED = """
SELECT h.heat_id, h.heat_no, h.series FROM heat h WHERE h.heat_no = :number AND {live:h} ORDER BY h.series
"""
PART_NUMBERED = "SELECT p.part_id, p.piece_no FROM part p WHERE p.piece_no = :number AND {live:p}"
ALIAS_NUMBERED = """
SELECT a.part_id, a.alias, a.written, a.owner, a.from_at, a.to_at, p.piece_no
FROM alias a JOIN part p ON p.part_id = a.part_id
WHERE a.alias = :number AND {live:a} ORDER BY a.from_at
"""
HEATS_BETWEEN = """
SELECT h.heat_id, h.heat_no, h.series FROM heat h
WHERE h.heat_no >= :first AND h.heat_no < :beyond AND {live:h} ORDER BY h.heat_no LIMIT :most
"""
PARTS_BETWEEN = """
SELECT p.part_id, p.piece_no FROM part p
WHERE p.piece_no >= :first AND p.piece_no < :beyond AND {live:p} ORDER BY p.piece_no LIMIT :most
"""
ALIASES_BETWEEN = """
SELECT a.part_id, a.alias, a.written, a.owner, a.from_at, a.to_at, p.piece_no
FROM alias a JOIN part p ON p.part_id = a.part_id
WHERE a.alias >= :first AND a.alias < :beyond AND {live:a} ORDER BY a.alias LIMIT :most
"""
# Looking inside all numbers of heats and sequences is bounded (a works casts some ten thousand heats a year); inside
# the numbers of pieces it is not, so that only those of some sequences are looked into.
HEATS_HOLDING = r"""
SELECT h.heat_id, h.heat_no, h.series FROM heat h WHERE h.heat_no LIKE :pattern ESCAPE '\' AND {live:h}
ORDER BY h.heat_no DESC LIMIT :most
"""
# The newest pieces only, so that its time has a bound on a record of millions.
NEWEST_PARTS_HOLDING = r"""
SELECT p.part_id, p.piece_no FROM part p
WHERE p.part_id > (SELECT max(part_id) FROM part) - 300000 AND p.piece_no LIKE :pattern ESCAPE '\' AND {live:p}
ORDER BY p.part_id DESC LIMIT :most
"""
SEQUENCES_HOLDING = r"""
SELECT s.sequence_id, s.sequence_no FROM sequence s WHERE s.sequence_no LIKE :pattern ESCAPE '\' AND {live:s}
ORDER BY s.sequence_no DESC LIMIT :most
"""
# Wildcards, where asked for: the signs before the first of them are a range of the index.
HEATS_LIKE = r"""
SELECT h.heat_id, h.heat_no, h.series FROM heat h
WHERE h.heat_no >= :first AND h.heat_no < :beyond AND h.heat_no LIKE :pattern ESCAPE '\' AND {live:h}
ORDER BY h.heat_no LIMIT :most
"""
PARTS_LIKE = r"""
SELECT p.part_id, p.piece_no FROM part p
WHERE p.piece_no >= :first AND p.piece_no < :beyond AND p.piece_no LIKE :pattern ESCAPE '\' AND {live:p}
ORDER BY p.piece_no LIMIT :most
"""
ALIASES_LIKE = r"""
SELECT a.part_id, a.alias, a.written, a.owner, a.from_at, a.to_at, p.piece_no
FROM alias a JOIN part p ON p.part_id = a.part_id
WHERE a.alias >= :first AND a.alias < :beyond AND a.alias LIKE :pattern ESCAPE '\' AND {live:a}
ORDER BY a.alias LIMIT :most
"""
PARTS_OF_SEQUENCE = """
SELECT p.part_id, p.piece_no FROM part p
WHERE p.sequence_id = :sequence AND p.piece_no IS NOT NULL AND {live:p} ORDER BY p.piece_no
"""
HEATS_DESCRIBED = """
SELECT h.heat_id, h.heat_no, h.series, r.grade_text, e.requirement, r.tapped_at,
(SELECT min(s.sequence_no) FROM pour o JOIN sequence s ON s.sequence_id = o.sequence_id
 WHERE o.heat_id = h.heat_id AND {live:o}) AS sequence_no
FROM heat h
LEFT JOIN heat_record r ON r.heat_id = h.heat_id AND {live:r}
LEFT JOIN edition e ON e.edition_id = r.edition_id
WHERE h.heat_id IN ({keys})
"""
PARTS_DESCRIBED = """
SELECT p.part_id, p.piece_no, p.kind, p.origin, p.strand_no, p.run_no, p.cut_no, s.sequence_no, pl.section,
h.heat_no, m.whereabouts, d.delivery_note, c.name AS customer, d.dispatched_at
FROM part p
LEFT JOIN sequence s ON s.sequence_id = p.sequence_id
LEFT JOIN placement pl ON pl.part_id = p.part_id AND {live:pl}
LEFT JOIN heat h ON h.heat_id = pl.heat_id
LEFT JOIN movement m ON m.movement_id =
  (SELECT max(x.movement_id) FROM movement x WHERE x.part_id = p.part_id AND {live:x})
LEFT JOIN movement l ON l.movement_id =
  (SELECT max(y.movement_id) FROM movement y
   WHERE y.part_id = p.part_id AND y.delivery_note_id IS NOT NULL AND {live:y})
LEFT JOIN delivery_note d ON d.delivery_note_id = l.delivery_note_id
LEFT JOIN customer c ON c.customer_id = d.customer_id
WHERE p.part_id IN ({keys})
"""

# --- a piece back -----------------------------------------------------------------------------------------------------

PART = """
SELECT p.part_id, p.kind, p.origin, p.piece_no, p.written_no, p.form, p.sequence_id, p.strand_no, p.run_no, p.cut_no,
s.sequence_no, s.caster
FROM part p LEFT JOIN sequence s ON s.sequence_id = p.sequence_id WHERE p.part_id = :part
"""
PLACEMENT = """
SELECT pl.placement_id, pl.part_id, p.piece_no, pl.sequence_id, s.sequence_no, s.caster, pl.strand_no, pl.run_no,
p.cut_no, pl.section, pl.tundish, pl.tundishes, pl.from_um, pl.to_um, pl.meniscus_from, pl.meniscus_to, pl.clamped_at,
pl.transit_ms, pl.length_hot_um, pl.length_cold_um, pl.mass_g, pl.residual_um, pl.stop_marks, pl.uncertainty_um,
pl.speed_bounds, pl.cast_class, pl.class_reasons, pl.heat_no_rule, pl.heat_id,
ma.heat_no AS majority_heat, la.heat_no AS late_heat, he.heat_no
FROM placement pl
JOIN part p ON p.part_id = pl.part_id
JOIN sequence s ON s.sequence_id = pl.sequence_id
LEFT JOIN heat ma ON ma.heat_id = pl.majority_heat_id
LEFT JOIN heat la ON la.heat_id = pl.late_heat_id
LEFT JOIN heat he ON he.heat_id = pl.heat_id
WHERE pl.part_id = :part AND {live:pl}
"""
RUN_END = """
SELECT max(pl.to_um) AS to_um FROM placement pl
WHERE pl.sequence_id = :sequence AND pl.strand_no = :strand AND pl.run_no = :run AND {live:pl}
"""
SHARES = """
SELECT sh.heat_id, h.heat_no, sh.mean, sh.head, sh.tail, sh.least, sh.greatest, sh.uncertainty_head,
sh.uncertainty_tail, r.grade_text, e.requirement,
coalesce((SELECT min(o.opened_at) FROM pour o WHERE o.heat_id = sh.heat_id AND {live:o}), 0) AS opened_at
FROM share sh
JOIN heat h ON h.heat_id = sh.heat_id
LEFT JOIN heat_record r ON r.heat_id = sh.heat_id AND {live:r}
LEFT JOIN edition e ON e.edition_id = r.edition_id
WHERE sh.placement_id = :placement ORDER BY opened_at, sh.heat_id
"""
EARLIER_HEATS = """
SELECT x.heat_id, h.heat_no, r.grade_text, e.requirement
FROM earlier_heat x
JOIN heat h ON h.heat_id = x.heat_id
LEFT JOIN heat_record r ON r.heat_id = x.heat_id AND {live:r}
LEFT JOIN edition e ON e.edition_id = r.edition_id
WHERE x.part_id = :part AND {live:x} ORDER BY x.earlier_heat_id
"""
CUT_OF_PART = """
SELECT c.measured_length_um, c.measured_length_text, c.mass_g, c.mass_text FROM cut c
WHERE c.sequence_id = :sequence AND c.strand_no = :strand AND c.run_no = :run AND c.cut_no = :cut AND {live:c}
"""
WEIGHTS = """
SELECT w.mass_g, w.mass_text, w.weighed_at FROM weight w WHERE w.part_id = :part AND {live:w}
ORDER BY w.weighed_at DESC, w.weight_id DESC
"""
MARKS = "SELECT m.mark, m.manner, m.at FROM mark m WHERE m.part_id = :part AND {live:m} ORDER BY m.mark_id"
INSPECTIONS = """
SELECT i.inspection_id, i.scheme, i.edition, i.item, i.rating, i.read_by, i.second_reader FROM inspection i
WHERE i.part_id = :part AND {live:i} ORDER BY i.inspection_id
"""
MOVEMENTS = """
SELECT m.movement_id, m.whereabouts, m.at, m.note, d.delivery_note, d.dispatched_at, c.name AS customer, o.order_no,
o.line
FROM movement m
LEFT JOIN delivery_note d ON d.delivery_note_id = m.delivery_note_id
LEFT JOIN customer c ON c.customer_id = d.customer_id
LEFT JOIN order_line o ON o.order_line_id = m.order_line_id
WHERE m.part_id = :part AND {live:m} ORDER BY m.movement_id
"""
EVENTS_ON_RUN = """
SELECT e.event_id, e.kind, e.from_at, e.to_at, e.amount, e.unit, e.note, r.from_um, r.to_um, r.open_end
FROM event_reach r JOIN event e ON e.event_id = r.event_id
WHERE r.sequence_id = :sequence AND r.strand_no = :strand AND r.run_no = :run AND {live:r}
ORDER BY r.from_um, e.event_id
"""
PARENTS = """
SELECT g.parent_id AS part_id, p.piece_no, g.manner, g.position, g.mass_g, g.at
FROM parentage g JOIN part p ON p.part_id = g.parent_id WHERE g.child_id = :part AND {live:g} ORDER BY g.parentage_id
"""
CHILDREN = """
SELECT g.child_id AS part_id, p.piece_no, g.manner, g.position, g.mass_g, g.at
FROM parentage g JOIN part p ON p.part_id = g.child_id WHERE g.parent_id = :part AND {live:g} ORDER BY g.parentage_id
"""
ALIASES_OF_PART = """
SELECT a.alias, a.written, a.owner, a.from_at, a.to_at FROM alias a
WHERE a.part_id = :part AND {live:a} ORDER BY a.from_at, a.alias_id
"""
CERTIFICATES_OF_PART = """
SELECT c.certificate_id, c.certificate_no, c.revision, c.type,
(SELECT t.state FROM certificate_state t WHERE t.certificate_id = c.certificate_id AND {live:t}
 ORDER BY t.certificate_state_id DESC LIMIT 1) AS state
FROM certificate_claim m JOIN certificate c ON c.certificate_id = m.certificate_id
WHERE m.part_id = :part AND {live:m} AND {live:c} ORDER BY c.certificate_id
"""

# --- a heat forward ---------------------------------------------------------------------------------------------------

HEAT = """
SELECT h.heat_id, h.heat_no, h.series, r.grade_text, e.requirement, r.ladle_no, r.tapped_at, r.tapped_mass_g,
r.tapped_mass_text, r.evidence, o.order_no, o.line,
coalesce((SELECT t.state FROM heat_state t WHERE t.heat_id = h.heat_id AND {live:t}
 ORDER BY t.heat_state_id DESC LIMIT 1), 'open') AS record
FROM heat h
LEFT JOIN heat_record r ON r.heat_id = h.heat_id AND {live:r}
LEFT JOIN edition e ON e.edition_id = r.edition_id
LEFT JOIN order_line o ON o.order_line_id = r.order_line_id
WHERE h.heat_id = :heat
"""
POURS_OF_HEAT = """
SELECT s.sequence_no, o.tundish, o.opened_at, o.closed_at FROM pour o JOIN sequence s ON s.sequence_id = o.sequence_id
WHERE o.heat_id = :heat AND {live:o} ORDER BY o.opened_at
"""
PARTS_WITH_PRODUCT_SAMPLES = """
SELECT DISTINCT s.part_id FROM sample s WHERE {live:s} AND s.kind = 'product' AND s.part_id IN ({keys})
"""
PIECES_OF_HEAT = """
SELECT pl.part_id, p.piece_no, p.kind, s.sequence_no, pl.strand_no, pl.run_no, p.cut_no, pl.from_um, pl.to_um,
pl.cast_class, pl.mass_g, he.heat_no, sh.mean, sh.greatest
FROM share sh
JOIN placement pl ON pl.placement_id = sh.placement_id
JOIN part p ON p.part_id = pl.part_id
JOIN sequence s ON s.sequence_id = pl.sequence_id
LEFT JOIN heat he ON he.heat_id = pl.heat_id
WHERE sh.heat_id = :heat AND {live:pl} AND {live:p}
ORDER BY s.sequence_no, pl.strand_no, pl.run_no, pl.from_um
"""
EARLIER_PIECES_OF_HEAT = """
SELECT p.part_id, p.piece_no, p.kind FROM earlier_heat x JOIN part p ON p.part_id = x.part_id
WHERE x.heat_id = :heat AND {live:x} AND {live:p} ORDER BY p.piece_no
"""
CHILDREN_OF = """
SELECT g.parent_id, g.child_id, p.piece_no, p.kind FROM parentage g JOIN part p ON p.part_id = g.child_id
WHERE g.parent_id IN ({keys}) AND {live:g} AND {live:p} ORDER BY g.parentage_id
"""
PARENTS_OF = """
SELECT g.parent_id, g.child_id FROM parentage g WHERE g.child_id IN ({keys}) AND {live:g} ORDER BY g.parentage_id
"""
WHEREABOUTS_OF = """
SELECT m.part_id, m.whereabouts FROM movement m WHERE m.part_id IN ({keys}) AND {live:m} ORDER BY m.movement_id
"""
ORIGINS_OF = "SELECT p.part_id, p.origin FROM part p WHERE p.part_id IN ({keys})"
LOADS_OF = """
SELECT m.part_id, d.delivery_note, c.name AS customer FROM movement m
JOIN delivery_note d ON d.delivery_note_id = m.delivery_note_id
JOIN customer c ON c.customer_id = d.customer_id
WHERE m.part_id IN ({keys}) AND {live:m} ORDER BY m.movement_id
"""
ORDER_LINES_OF = """
SELECT o.order_line_id, o.order_no, o.line, o.form, o.thickness_mm, o.document, c.name AS customer, e.requirement
FROM order_line o JOIN customer c ON c.customer_id = o.customer_id JOIN edition e ON e.edition_id = o.edition_id
WHERE o.order_line_id IN ({keys}) ORDER BY o.order_no, o.line
"""

# --- quality: decisions and holds of many subjects --------------------------------------------------------------------

PLACES_OF = """
SELECT pl.part_id, pl.placement_id, pl.sequence_id, pl.strand_no, pl.run_no, pl.from_um, pl.to_um, pl.cast_class,
pl.class_reasons
FROM placement pl WHERE pl.part_id IN ({keys}) AND {live:pl}
"""
SHARES_OF = """
SELECT pl.part_id, sh.heat_id, sh.mean, sh.head, sh.tail, sh.greatest FROM placement pl
JOIN share sh ON sh.placement_id = pl.placement_id WHERE pl.part_id IN ({keys}) AND {live:pl}
"""
EARLIER_HEATS_OF = "SELECT x.part_id, x.heat_id FROM earlier_heat x WHERE x.part_id IN ({keys}) AND {live:x}"
HEAT_NUMBERS_OF = "SELECT h.heat_id, h.heat_no FROM heat h WHERE h.heat_id IN ({keys})"
EVENTS_OF_SEQUENCES = """
SELECT r.sequence_id, r.strand_no, r.run_no, r.from_um, r.to_um, r.open_end, e.event_id, e.kind
FROM event_reach r JOIN event e ON e.event_id = r.event_id
WHERE r.sequence_id IN ({keys}) AND {live:r} ORDER BY e.event_id, r.from_um
"""
_DECISION = """
d.decision_id, d.kind, d.qualifier, d.requirement, d.verdict, d.reason, d.note, d.by, d.at, d.signature_id,
d.countersign_by, d.order_line_id, d.cast_analysis_id, d.snapshot_digest, d.entry_no
"""
DECISIONS_ON_PARTS = f"""
SELECT d.part_id AS subject, 1 AS on_part, {_DECISION} FROM decision d
WHERE d.part_id IN ({{keys}}) AND {{live:d}} ORDER BY d.decision_id
"""
DECISIONS_ON_HEATS = f"""
SELECT d.heat_id AS subject, 0 AS on_part, {_DECISION} FROM decision d
WHERE d.heat_id IN ({{keys}}) AND {{live:d}} ORDER BY d.decision_id
"""
_HOLD = "h.hold_id, h.reason, h.note, h.lift_on, h.requirement, h.owner, h.due_at, h.caused_by, h.entry_no"
HOLDS_ON_PARTS = f"""
SELECT x.part_id AS subject, x.from_um, x.to_um, {_HOLD} FROM hold_scope x JOIN hold h ON h.hold_id = x.hold_id
WHERE x.part_id IN ({{keys}}) AND {{live:x}} AND {{live:h}} ORDER BY h.hold_id
"""
HOLDS_ON_HEATS = f"""
SELECT x.heat_id AS subject, {_HOLD} FROM hold_scope x JOIN hold h ON h.hold_id = x.hold_id
WHERE x.heat_id IN ({{keys}}) AND {{live:x}} AND {{live:h}} ORDER BY h.hold_id
"""
HOLDS_ON_SEQUENCES = f"""
SELECT x.sequence_id AS subject, x.strand_no, x.run_no, x.from_um, x.to_um, {_HOLD}
FROM hold_scope x JOIN hold h ON h.hold_id = x.hold_id
WHERE x.sequence_id IN ({{keys}}) AND {{live:x}} AND {{live:h}} ORDER BY h.hold_id
"""
HOLD_STATES = """
SELECT e.hold_id, e.state, e.entry_no FROM hold_event e
WHERE e.hold_id IN ({keys}) AND {live:e} ORDER BY e.hold_event_id
"""
HOLD_STEPS = """
SELECT e.hold_id, e.state, e.evidence, e.note, e.at, e.by FROM hold_event e
WHERE e.hold_id IN ({keys}) AND {live:e} ORDER BY e.hold_event_id
"""

# --- lists ------------------------------------------------------------------------------------------------------------

HOLDS = f"""
SELECT {_HOLD}, l.by, l.at FROM hold h JOIN ledger l ON l.entry_no = h.entry_no WHERE {{live:h}} ORDER BY h.hold_id
"""
HOLDS_BY_KEY = f"""
SELECT {_HOLD}, l.by, l.at FROM hold h JOIN ledger l ON l.entry_no = h.entry_no
WHERE h.hold_id IN ({{keys}}) AND {{live:h}} ORDER BY h.hold_id
"""
HOLD_SCOPES = """
SELECT x.hold_id, x.heat_id, x.part_id, x.strand_no, x.run_no, x.from_um, x.to_um, h.heat_no, p.piece_no, p.kind,
s.sequence_no, p.sequence_id, p.strand_no AS part_strand, p.run_no AS part_run, p.cut_no
FROM hold_scope x
LEFT JOIN heat h ON h.heat_id = x.heat_id
LEFT JOIN part p ON p.part_id = x.part_id
LEFT JOIN sequence s ON s.sequence_id = x.sequence_id
WHERE x.hold_id IN ({keys}) AND {live:x} ORDER BY x.hold_scope_id
"""
_PIECE = """
SELECT p.part_id, p.piece_no, p.kind, p.origin, s.sequence_no, p.strand_no, p.run_no, p.cut_no, pl.cast_class,
he.heat_no, pl.from_um, pl.to_um
FROM part p
LEFT JOIN sequence s ON s.sequence_id = p.sequence_id
LEFT JOIN placement pl ON pl.part_id = p.part_id AND {live:pl}
LEFT JOIN heat he ON he.heat_id = pl.heat_id
"""
PIECES = f"""
{_PIECE} WHERE {{live:p}} AND p.part_id > :after ORDER BY p.part_id LIMIT :most
"""
PIECES_OF_SEQUENCE = f"""
{_PIECE} WHERE p.sequence_id = :sequence AND {{live:p}} ORDER BY p.strand_no, p.run_no, p.cut_no, p.part_id LIMIT :most
"""
PIECES_BY_KEY = f"""
{_PIECE} WHERE p.part_id IN ({{keys}}) AND {{live:p}}
"""
PARTS_WITH_HEAT = """
SELECT pl.part_id FROM share sh JOIN placement pl ON pl.placement_id = sh.placement_id
WHERE sh.heat_id = :heat AND {live:pl} ORDER BY pl.sequence_id, pl.strand_no, pl.run_no, pl.from_um
"""
SEQUENCES = "SELECT s.sequence_id, s.sequence_no FROM sequence s WHERE {live:s} ORDER BY s.sequence_no"
SEQUENCE_NUMBERED = "SELECT s.sequence_id, s.sequence_no FROM sequence s WHERE s.sequence_no = :number AND {live:s}"
