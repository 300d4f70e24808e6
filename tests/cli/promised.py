"""The JSON other programs are written against: each key by its promised name, type and words.

Null is allowed where the promise says so, and where the thing itself may be absent: a cut's time at the strand's own
tail, a weight nobody took, the heat of a transition nobody decided, a reading of a ladle that lies in no tundish.
"""

from __future__ import annotations

from tests.cli.contract import (
    ANY_TEXT,
    ANYTHING,
    DIGEST,
    DIGITS,
    FLAG,
    FREE_SHARE,
    MILLIONTHS,
    MOMENT,
    NUMBER,
    SHARE,
    TEXT,
    WHOLE,
    Each,
    Kind,
    Maybe,
    Named,
    like,
    words,
)

FINDING = {"code": TEXT, "subject": TEXT, "seen": ANY_TEXT, "wanted": ANY_TEXT, "next": ANY_TEXT}
ENVELOPE = {
    "heattrace": Kind("1", lambda value: value == 1),
    "command": TEXT,
    "status": words("done", "refused", "attention"),
    "data": ANYTHING,
    "findings": Each(FINDING),
    "messages": Each(TEXT),
}

# --- words of the trade ---------------------------------------------------------------------------------------------

QUALITY = words("undecided", "held", "released", "rejected")
CLASS = words("pure", "transition", "undetermined")
RULE = words("pure", "late", "decision", "decided")
KIND = words("piece", "head-crop", "tail-crop", "sample", "scrap")
FORM = words("bloom", "billet", "slab", "round", "profile")
WHEREABOUTS = words(
    "cut", "in-yard", "charged", "charged-hot", "rolled", "recut", "sampled", "dispatched", "returned", "missing",
    "scrapped", "written-off", "consumed",
)  # fmt: skip
PLACE = words("ladle-arrival", "ladle-rinse", "ladle-lift", "tundish")
SAMPLE_KIND = words(
    "furnace", "tap", "ladle-arrival", "ladle-treatment", "ladle-final", "degasser", "tundish-early", "tundish-steady",
    "tundish-late", "mould", "gas", "product", "transition-product", "check", "referee", "control",
)  # fmt: skip
ANALYSIS_STATE = words("received", "valid", "doubtful", "contested", "set-aside", "superseded")
EVENT_KIND = words(
    "cast-start", "cast-end", "strand-start", "strand-stop", "restart", "speed-change", "level-swing", "nozzle-clog",
    "nozzle-change", "stopper-hunt", "open-stream", "shroud-off", "argon-loss", "lubricant-change", "lubricant-fault",
    "mould-change", "oscillation-fault", "stirrer-fault", "spray-fault", "reduction-fault", "sticker-alarm", "bleed",
    "breakout", "cold-straightening", "torch-fault", "sample-cut", "tundish-start", "tundish-low", "tundish-exchange",
    "tundish-cover-change", "ladle-open", "ladle-close", "ladle-change", "ladle-slag-seen", "late-addition",
    "wire-fault",
)  # fmt: skip
HOLD_STATE = words("proposed", "placed", "under-check", "lifted", "turned-down")
DISPOSITION = words("release", "withdraw", "regrade", "downgrade", "rework", "scrap", "reject")
BENCH_STATE = words("waiting", "fixed", "attached", "void")
MEETS = words("meets", "fails", "undecided")
GRADE = like("STANDARD:EDITION GRADE", r"\S.*:\S+ \S.*")
UNIT = words("%", "ppm")


def numbered(letter: str) -> Kind:
    """One of our own numbers: a letter, a dash, a number."""
    return like(f"{letter}-NUMBER", rf"{letter}-[1-9]\d*")


# --- what several commands share ------------------------------------------------------------------------------------

SAMPLE = {
    "sample_id": TEXT, "kind": SAMPLE_KIND, "heat_no": Maybe(TEXT), "taken_at": Maybe(MOMENT),
    "analyses": Each({
        "analysis_no": numbered("A"), "method": TEXT, "state": ANALYSIS_STATE, "is_cast": FLAG,
        "results": Each({"element": TEXT, "reported": Maybe(DIGITS), "unit": UNIT}),
    }),
}  # fmt: skip
TEMPERATURE = {
    "heat_no": TEXT, "place": PLACE, "tundish": Maybe(TEXT), "read_at": MOMENT, "temperature_c": DIGITS,
}  # fmt: skip
EVENT = {
    "event_no": TEXT, "kind": EVENT_KIND, "from_m": MILLIONTHS, "to_m": MILLIONTHS, "from_at": Maybe(MOMENT),
    "to_at": Maybe(MOMENT),
}  # fmt: skip
HOLD = {
    "hold_no": numbered("H"), "reason": like("a reason code", r"[A-Z]+(-[A-Z]+)*"), "note": TEXT, "scope": TEXT,
    "lift_on": TEXT, "requirement": Maybe(TEXT), "state": HOLD_STATE,
}  # fmt: skip
DECISION = {
    "decision_no": numbered("D"), "kind": DISPOSITION, "requirement": TEXT, "by": TEXT, "at": MOMENT, "signed": FLAG,
}  # fmt: skip
FIT = {
    "requirement": TEXT, "role": words("planned", "ordered", "released"), "head": MEETS, "mean": MEETS, "tail": MEETS,
    "verdict": MEETS,
}  # fmt: skip
DISPATCH = {
    "delivery_note": TEXT, "customer": TEXT, "order_no": Maybe(TEXT), "line": Maybe(TEXT),
    "dispatched_at": Maybe(MOMENT),
}  # fmt: skip
CERTIFICATE = {"certificate_no": TEXT, "type": TEXT, "state": TEXT, "supported": Maybe(FLAG)}


def placed(length: Kind, share: Kind) -> dict[str, object]:
    """What `trace` gives as stored and `sequence show` unrounded."""
    return {
        "piece": {
            "piece_no": Maybe(TEXT), "kind": KIND, "form": FORM, "section": TEXT, "length_hot_m": length,
            "length_cold_m": length, "mass_kg": NUMBER, "mass_weighed_kg": Maybe(DIGITS), "quality": QUALITY,
            "qualities": Each({"requirement": Maybe(TEXT), "quality": QUALITY, "because": TEXT}),
            "whereabouts": WHEREABOUTS,
        },
        "cast_position": {
            "sequence_no": TEXT, "strand_no": WHOLE, "run_no": WHOLE, "cut_no": WHOLE, "tundish": TEXT,
            "tundishes": Each(TEXT), "from_m": length, "to_m": length, "meniscus_from": MOMENT, "meniscus_to": MOMENT,
            "clamped_at": Maybe(MOMENT), "transit_min": Maybe(NUMBER), "residual_mm": Maybe(NUMBER),
            "stop_marks_m": Each(length), "uncertainty_m": NUMBER,
        },
        "heats": Each({
            "heat_no": TEXT, "share_mean": share, "share_head": share, "share_tail": share, "share_min": share,
            "share_max": share, "uncertainty_head": share, "uncertainty_tail": share, "grade": Maybe(GRADE),
        }),
        "class": CLASS, "class_reasons": Each(ANYTHING), "majority_heat": TEXT, "late_heat": TEXT,
        "heat_no": Maybe(TEXT), "heat_no_rule": RULE,
    }  # fmt: skip


TRACE_PIECE = {
    **placed(MILLIONTHS, SHARE),
    "bounds": Maybe(Named(ANYTHING)),
    "composition": Named({"head": Maybe(NUMBER), "mean": Maybe(NUMBER), "tail": Maybe(NUMBER)}),
    "fits": Each(FIT), "samples": Each(SAMPLE), "temperatures": Each(TEMPERATURE), "events": Each(EVENT),
    "holds": Each(HOLD), "decisions": Each(DECISION), "family": {"parents": Each(ANYTHING), "children": Each(ANYTHING)},
    "dispatch": Maybe(DISPATCH), "certificates": Each(CERTIFICATE),
}  # fmt: skip

TRACE_HEAT = {
    "heat": Named(ANYTHING),
    "pieces": Each({
        "piece_no": TEXT, "share_mean": SHARE, "strand_no": WHOLE, "run_no": WHOLE, "cut_no": WHOLE,
        "from_m": MILLIONTHS, "to_m": MILLIONTHS, "class": CLASS, "heat_no": Maybe(TEXT), "quality": QUALITY,
        "whereabouts": WHEREABOUTS, "customer": Maybe(TEXT),
    }),
    "order_lines": Each({"order_no": TEXT, "line": TEXT}),
    "cast_analysis": Named(ANYTHING), "temperatures": Each(TEMPERATURE), "decisions": Each(DECISION),
}  # fmt: skip

SEQUENCE_SHOW = {"pieces": Each(placed(NUMBER, FREE_SHARE))}
SEQUENCE_BALANCE = {
    "heats": Each({
        **{f"{name}_t": NUMBER for name in (
            "initial", "poured", "strand", "tundish_left", "pieces", "crops", "kerf", "in_machine", "loss", "closure",
        )},
        "heat_no": TEXT, "tapped_t": Maybe(DIGITS), "weighed_pieces_t": Maybe(NUMBER), "band_t": Maybe(NUMBER),
        "cause": Maybe(TEXT),
    }),
    "runs": Each({
        "strand_no": WHOLE, "run_no": WHOLE, "foreign_t": NUMBER, "counter_m": NUMBER, "measured_m": Maybe(NUMBER),
        "scale": Maybe(NUMBER), "flag": words("ok", "look", "distrust", "not-measured"),
    }),
    "yield": {"strand": NUMBER, "prime": NUMBER},
    "reading_residual_t": Named(NUMBER),
}  # fmt: skip

# --- judging and formulas -------------------------------------------------------------------------------------------

JUDGED = {
    "subject": TEXT, "grade": GRADE, "edition": TEXT, "basis": words("cast", "product"), "size_mm": Maybe(DIGITS),
    "verdict": MEETS,
    "limits": Each({
        "quantity": TEXT, "sense": words("min", "max", "requires"), "limit": TEXT, "reported": Maybe(TEXT),
        "value": Maybe(NUMBER), "low": Maybe(NUMBER), "high": Maybe(NUMBER), "rounded": Maybe(DIGITS),
        "group": Maybe({"name": TEXT, "alternative": TEXT}), "method": TEXT, "margin": Maybe(NUMBER),
        "verdict": words("pass", "fail", "undecided", "not-reported", "waived"),
        "guarded": words("pass", "conditional-pass", "conditional-fail", "fail", "none"), "note": ANY_TEXT,
        "source": ANY_TEXT, "status": words("verified", "memory"),
    }),
    "guard_band": DIGITS, "missing": Each(TEXT), "both_ways": words("holds", "broken", "not-in-force"),
    "cev": Maybe({"formula": TEXT, "value": Maybe(NUMBER), "low": Maybe(NUMBER), "high": Maybe(NUMBER)}),
    "superheat": Each({
        "tundish": TEXT, "read_at": MOMENT, "temperature_c": DIGITS, "liquidus_formula": TEXT,
        "liquidus_c": Maybe(NUMBER), "superheat_c": Maybe(NUMBER),
    }),
}  # fmt: skip
# A piece without a requirement is judged for no grade.
JUDGED_PIECE = {**JUDGED, "grade": Maybe(GRADE), "edition": Maybe(TEXT)}
JUDGED_HEAT = {"heat_no": TEXT, "results": Each(JUDGED)}
JUDGED_FILE = {"results": Each({**JUDGED, "sample_id": TEXT, "heat_no": Maybe(TEXT)})}

CALCULATED = {
    "formula": TEXT, "title": TEXT, "value": Maybe(NUMBER), "low": Maybe(NUMBER), "high": Maybe(NUMBER), "unit": TEXT,
    "source": TEXT, "status": words("verified", "memory"), "used": Named(DIGITS), "absent": Each(TEXT),
    "outside_range": Each({"element": TEXT, "seen": TEXT, "range": TEXT}),
}  # fmt: skip
FORMULAS = {
    "formulas": Each({
        "formula": TEXT, "title": TEXT, "expression": TEXT, "unit": TEXT, "needs": Each(TEXT), "optional": Each(TEXT),
        "range": ANY_TEXT, "source": TEXT, "status": words("verified", "memory"),
    }),
}  # fmt: skip

# --- files in, lists, the database ----------------------------------------------------------------------------------

BENCH_ROW = {
    "bench_no": numbered("B"), "sheet": ANY_TEXT, "row": WHOLE, "column": Maybe(TEXT), "value": Maybe(ANY_TEXT),
    "code": TEXT, "message": TEXT, "next": TEXT,
}  # fmt: skip
ROWS = dict.fromkeys(("read", "taken", "same", "contested", "bench", "refused"), WHOLE)


def imported(state: str, batch: Kind | Maybe, bench_no: Kind | Maybe) -> dict[str, object]:
    """One file's answer in one state."""
    digest = Maybe(DIGEST) if state == "refused" else DIGEST
    file = {
        "batch": batch, "file": TEXT, "sha256": digest, "profile": TEXT, "state": words(state), "rows": ROWS,
        "bench": Each({**BENCH_ROW, "bench_no": bench_no}),
    }  # fmt: skip
    return {"files": Each(file)}


PIECE_LIST = {
    "pieces": Each({
        "piece_no": Maybe(TEXT), "kind": KIND, "sequence_no": TEXT, "strand_no": WHOLE, "run_no": WHOLE,
        "cut_no": WHOLE, "class": CLASS, "heat_no": Maybe(TEXT), "quality": QUALITY, "whereabouts": WHEREABOUTS,
    }),
}  # fmt: skip
HEAT_LIST = {
    "heats": Each({
        "heat_no": TEXT, "grade": Maybe(GRADE), "quality": QUALITY, "record": words("open", "complete", "archived"),
    }),
}  # fmt: skip
BENCH_LIST = {"bench": Each({**BENCH_ROW, "state": BENCH_STATE})}
BATCH_LIST = {
    "batches": Each({
        "batch": numbered("I"), "file": TEXT, "profile": TEXT, "state": words("taken", "taken-with-bench", "undone"),
        "rows": ROWS,
    }),
}  # fmt: skip
RELEASE = {
    "free": Each(TEXT), "held": Each({"piece_no": TEXT, "because": TEXT}), "transition": Each(TEXT),
    "other_orders": Each(ANYTHING),
}  # fmt: skip
DB_CHECK = {
    "integrity": TEXT, "foreign_keys": TEXT, "ledger": {"entries": WHOLE, "broken_at": Maybe(WHOLE)},
    "signatures": Named(ANYTHING), "derived": Named(ANYTHING), "ok": FLAG,
}  # fmt: skip
DB_INFO = {"schema": TEXT, "practice": FLAG, "tables": Named(WHOLE)}
