"""Do decisions, holds and works values still say what the ledger says was written?

The chain guards the ledger; these rows lie outside it and could be altered by whoever holds the file.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from heattrace.findings import Finding
from heattrace.store.ledger import canonical, digest_of
from heattrace.store.reader import Reader, Row

# At most so many findings of one code: one altered file need not fill a screen.
_MOST = 20

ENTRIES = """
SELECT l.entry_no, l.by, l.action, l.payload FROM ledger l
WHERE l.action IN ('release', 'hold', 'lift', 'works set') ORDER BY l.entry_no
"""
DECISIONS = "SELECT decision_id, requirement, snapshot, snapshot_digest, by, entry_no FROM decision"
HOLDS = "SELECT hold_id, entry_no FROM hold"
HOLD_EVENTS = "SELECT hold_id, state, by, entry_no FROM hold_event"
WORKS = "SELECT name, scope, edition, value, entry_no FROM works_value"


def check_decisions(reader: Reader) -> list[Finding]:
    """Name each decision (DB-DECISION), hold (DB-HOLD) and works value (DB-WORKS) that is not as its entry says."""
    found: dict[str, list[Finding]] = {"DB-DECISION": [], "DB-HOLD": [], "DB-WORKS": []}
    decisions = {row["decision_id"]: row for row in reader.all(DECISIONS)}
    holds = {row["hold_id"] for row in reader.all(HOLDS)}
    states = {(row["hold_id"], row["entry_no"]): row for row in reader.all(HOLD_EVENTS)}
    values = {(row["name"], row["scope"], row["edition"]): row for row in reader.all(WORKS)}
    for row in decisions.values():
        if digest_of(row["snapshot"]) != row["snapshot_digest"]:
            found["DB-DECISION"].append(
                _finding("DB-DECISION", f"D-{row['decision_id']}", "its facts do not give its digest", "as decided")
            )
    for entry in reader.cursor(ENTRIES, {}):
        try:
            payload = json.loads(entry["payload"])
        except ValueError:
            continue  # the chain's own check names that entry
        if entry["action"] == "release":
            found["DB-DECISION"] += _of_release(entry, payload, decisions)
        elif entry["action"] == "works set":
            found["DB-WORKS"] += _of_works(entry, payload, values)
        else:
            found["DB-HOLD"] += _of_hold(entry, payload, holds, states)
    return [finding for each in found.values() for finding in each[:_MOST]]


def _finding(code: str, subject: str, seen: str, wanted: str) -> Finding:
    return Finding(code, subject, seen, wanted, "Compare with the last backup that checks whole, and decide anew")


def _of_release(entry: Row, payload: dict[str, Any], decisions: dict[int, Row]) -> Iterator[Finding]:
    for said in payload.get("decisions", ()):
        number = str(said.get("decision_no", ""))
        row = decisions.get(int(number[2:])) if number[2:].isdigit() else None
        wanted = f"as ledger entry {entry['entry_no']} says"
        if row is None:
            yield _finding("DB-DECISION", number, "no such row", wanted)
            continue
        stored = {
            "requirement": row["requirement"], "snapshot_digest": row["snapshot_digest"], "by": row["by"],
            "entry_no": row["entry_no"],
        }  # fmt: skip
        for name, value in ({**said, "by": entry["by"], "entry_no": entry["entry_no"]}).items():
            if name in stored and stored[name] != value:
                yield _finding("DB-DECISION", number, f"{name} {stored[name]}", f"{value}, {wanted}")


def _of_hold(
    entry: Row, payload: dict[str, Any], holds: set[int], states: dict[tuple[int, int], Row]
) -> Iterator[Finding]:
    number = str(payload.get("hold", ""))
    if not number[2:].isdigit():
        return
    wanted = f"as ledger entry {entry['entry_no']} says"
    state = payload.get("state", "lifted" if entry["action"] == "lift" else None)
    row = states.get((int(number[2:]), entry["entry_no"]))
    if int(number[2:]) not in holds:
        yield _finding("DB-HOLD", number, "no such row", wanted)
    elif row is None:
        yield _finding("DB-HOLD", number, f"no state of entry {entry['entry_no']}", f"{state}, {wanted}")
    else:
        if state is not None and row["state"] != state:
            yield _finding("DB-HOLD", number, f"state {row['state']}", f"{state}, {wanted}")
        if row["by"] != entry["by"]:
            yield _finding("DB-HOLD", number, f"by {row['by']}", f"{entry['by']}, {wanted}")


def _of_works(entry: Row, payload: dict[str, Any], values: dict[tuple[str, str, int], Row]) -> Iterator[Finding]:
    if not {"name", "scope", "edition", "value"} <= payload.keys():
        return
    row = values.get((payload["name"], payload["scope"], payload["edition"]))
    subject = f"works value {payload['name']} edition {payload['edition']}"
    wanted = f"{canonical(payload['value'])}, as ledger entry {entry['entry_no']} says"
    if row is None or row["entry_no"] != entry["entry_no"]:
        yield _finding("DB-WORKS", subject, "no such row of that entry", wanted)
    elif row["value"] != canonical(payload["value"]):
        yield _finding("DB-WORKS", subject, row["value"], wanted)
