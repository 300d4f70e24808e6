"""Reason codes: short words of the trade, grouped; a free-text line always stands beside the code."""

from __future__ import annotations

from difflib import get_close_matches

from heattrace.errors import WrongUsage

REASONS: dict[str, tuple[str, ...]] = {
    "chemistry": (
        "CHEM-HIGH", "CHEM-LOW", "CHEM-RATIO", "CHEM-EDGE", "CHEM-MISSING", "CHEM-LATE", "CHEM-DISAGREE",
        "CHEM-AMENDED",
    ),
    "sample": (
        "SAMPLE-POROUS", "SAMPLE-SLAG", "SAMPLE-SHORT", "SAMPLE-LOST", "SAMPLE-SWAP", "SAMPLE-EARLY", "BURN-SCATTER",
    ),
    "temperature": ("SUPERHEAT-HIGH", "SUPERHEAT-LOW", "TEMP-MISSING", "LADLE-WAIT"),
    "casting": (
        "START-PIECE", "END-PIECE", "TRANSITION", "LADLE-JOINT", "LEVEL", "NOZZLE", "SPEED", "STOP-MARK", "LUBRICANT",
        "REOXIDATION", "TUNDISH-LOW", "TUNDISH-JOINT", "BREAKOUT", "SPRAY", "STIRRER", "REDUCTION", "COLD-STRAIGHT",
    ),
    "surface and shape": (
        "CRACK-LONG", "CRACK-TRANS", "CRACK-CORNER", "CRACK-STAR", "PINHOLE", "SLAG-SPOT", "LAP", "BLEED-MARK",
        "RHOMBIC", "BULGE", "BENT", "SECTION", "LENGTH", "CUT-FACE",
    ),
    "inside": (
        "CENTRE-SEG", "CENTRE-POROSITY", "HALFWAY-CRACK", "INCLUSION", "ETCH-RATING", "PRINT-RATING", "UT-FIND",
    ),
    "identity": ("ID-LOST", "ID-DOUBT", "MIX-UP", "DOUBLE-NUMBER", "WEIGHT-ODD", "CUT-NOT-BOOKED"),
    "paper": ("DOC-MISSING", "DOC-WRONG", "ORDER-CHANGE", "LIMIT-CHANGE", "CONCESSION-WAIT"),
    "customer": ("COMPLAINT", "SISTER", "CUSTOMER-STOP", "RETURNED"),
}  # fmt: skip

ALL_REASONS = frozenset(code for codes in REASONS.values() for code in codes)


def check_reason(code: str) -> str:
    """The reason code as kept.

    Raises
    ------
    WrongUsage
        No such code; the nearest are listed.
    """
    word = code.strip().upper()
    if word not in ALL_REASONS:
        near = get_close_matches(word, sorted(ALL_REASONS), n=4, cutoff=0.4)
        listed = ", ".join(near) if near else "; ".join(f"{g}: {', '.join(c)}" for g, c in REASONS.items())
        raise WrongUsage(f'no reason code "{code}"; nearest: {listed}')
    return word
