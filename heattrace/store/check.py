"""Is the database whole? Integrity, references, guards, the ledger's chain, and what was derived."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from heattrace.findings import Finding
from heattrace.store.check_decisions import check_decisions
from heattrace.store.citations import columns_of, lender_of
from heattrace.store.guards import missing_guards
from heattrace.store.ledger import verify_chain
from heattrace.store.migrate import expected_guards
from heattrace.store.reader import Reader
from heattrace.values import dataclass, field

# Guards named one by one; the rest are counted.
FEW = 5

# A part's listed shares add up to one but for rounding and the heats below 1e-4 that are not listed [1e-6].
_SHARE_SLACK = 1_000

BAD_SHARES = """
SELECT p.placement_id, count(*) AS heats, sum(s.mean) AS total FROM placement p
JOIN share s ON s.placement_id = p.placement_id WHERE {live:p} GROUP BY p.placement_id
HAVING abs(sum(s.mean) - 1000000) > :slack OR min(s.least) < 0 OR max(s.greatest) > 1000000 LIMIT 20
"""
# Parts whose cut between them is not believed share one interval, undetermined.
OVERLAPPING = """
SELECT a.part_id AS part_a, b.part_id AS part_b, a.strand_no, a.run_no FROM placement a
JOIN placement b ON b.sequence_id = a.sequence_id AND b.strand_no = a.strand_no AND b.run_no = a.run_no
AND b.from_um >= a.from_um AND b.from_um < a.to_um AND b.placement_id <> a.placement_id
AND NOT (a.cast_class = 'undetermined' AND b.cast_class = 'undetermined'
AND a.from_um = b.from_um AND a.to_um = b.to_um)
JOIN part pa ON pa.part_id = a.part_id JOIN part pb ON pb.part_id = b.part_id
WHERE {live:a} AND {live:b} AND {live:pa} AND {live:pb} AND pa.origin = 'cast' AND pb.origin = 'cast' LIMIT 20
"""
PLACELESS = """
SELECT p.part_id, p.piece_no FROM part p WHERE {live:p} AND p.origin = 'cast'
AND NOT EXISTS (SELECT 1 FROM placement q WHERE q.part_id = p.part_id AND {live:q}) LIMIT 20
"""
BACKWARD_CLOCK = "SELECT entry_no FROM ledger WHERE clock_back = 1 ORDER BY entry_no LIMIT 20"
LOST_BATCHES = """
SELECT b.batch_id FROM batch b WHERE NOT EXISTS (SELECT 1 FROM ledger l WHERE l.entry_no = b.entry_no) LIMIT 20
"""


@dataclass(slots=True)
class DatabaseCheck:
    """Outcome of a check; `data` is the promised object."""

    data: dict[str, Any]
    findings: list[Finding] = field(default_factory=list)

    @property
    def ok(self) -> bool:
        """Whether everything held."""
        return bool(self.data["ok"])


def check_database(reader: Reader) -> DatabaseCheck:
    """Run every check and name what does not hold; nothing is changed."""
    findings: list[Finding] = []
    integrity = str(reader.scalar("PRAGMA integrity_check"))
    if integrity != "ok":
        findings.append(
            Finding("DB-DAMAGED", reader.name, integrity, "a whole file", "Restore the last backup to a new file")
        )
    broken = reader.all("PRAGMA foreign_key_check")
    findings += [
        Finding("DB-REFERENCE", f"{r[0]} row {r[1]}", f"refers to a missing {r[2]}", "an existing row") for r in broken
    ]
    wrong = missing_guards(reader, expected_guards())
    findings += _guard_findings(wrong)
    chain = verify_chain(reader)
    findings += chain.findings
    findings += _check_entries(reader, chain.entries)
    findings += check_decisions(reader)
    derived, more = _check_derived(reader)
    findings += more
    data = {
        "integrity": integrity,
        "foreign_keys": "ok" if not broken else f"{len(broken)} broken",
        "guards": wrong or "ok",
        "ledger": {"entries": chain.entries, "broken_at": chain.broken_at, "tip": chain.tip},
        "signatures": {
            "signed": int(reader.scalar("SELECT count(*) FROM signature")),
            "unsigned_decisions": _unsigned(reader),
        },
        "derived": derived,
        "ok": not [f for f in findings if f.code != "CLOCK-BACK"],
    }
    return DatabaseCheck(data, findings)


def _guard_findings(wrong: Sequence[str]) -> list[Finding]:
    """The first few guards that do not hold, and how many more: somebody may have dropped them all."""
    named = [f"trigger {name}" for name in wrong[:FEW]]
    if len(wrong) > FEW:
        named.append(f"and {len(wrong) - FEW} more triggers")
    return [
        Finding(
            "DB-GUARD", name, "missing or changed", "the trigger as made",
            'Somebody worked on the file with another program; see "heattrace ledger verify"',
        )
        for name in named
    ]  # fmt: skip


def _check_entries(reader: Reader, tip: int) -> list[Finding]:
    """Rows that name an entry the ledger does not have: it runs from 1 to its tip without gaps."""
    found = []
    for name, columns in columns_of().items():
        if "entry_no" not in columns or name == "ledger":
            continue
        ended = " OR ended_no > :tip OR ended_no <= entry_no" if "ended_no" in columns else ""
        wrong = reader.scalar(f"SELECT count(*) FROM {name} WHERE entry_no NOT BETWEEN 1 AND :tip{ended}", tip=tip)
        if wrong:
            found.append(Finding("DB-ENTRY", name, f"{wrong} rows name no ledger entry", f"entries 1 to {tip}"))
    return found


def _unsigned(reader: Reader) -> int:
    return int(reader.scalar("SELECT count(*) FROM decision d WHERE d.signature_id IS NULL AND {live:d}"))


def _check_derived(reader: Reader) -> tuple[dict[str, Any], list[Finding]]:
    findings = [
        Finding(
            "DB-SHARES", f"placement {r['placement_id']}", f"{r['total']} millionths over {r['heats']} heats", "1000000"
        )
        for r in reader.all(BAD_SHARES, slack=_SHARE_SLACK)
    ]
    findings += [
        Finding(
            "DB-OVERLAP", f"parts {r['part_a']} and {r['part_b']}", f"overlap on strand {r['strand_no']}/{r['run_no']}",
            "parts one after the other",
        )
        for r in reader.all(OVERLAPPING)
    ]  # fmt: skip
    findings += [
        Finding("DB-PLACE", f"part {r['piece_no'] or r['part_id']}", "no place on a strand", "a place")
        for r in reader.all(PLACELESS)
    ]
    findings += [
        Finding("DB-BATCH", f"I-{r['batch_id']}", "no ledger entry", "one entry per import")
        for r in reader.all(LOST_BATCHES)
    ]
    faults = len(findings)
    findings += [
        Finding("CLOCK-BACK", f"ledger entry {r['entry_no']}", "the clock went back before it", "a clock that runs on")
        for r in reader.all(BACKWARD_CLOCK)
    ]
    counted = {
        "parts": int(reader.scalar("SELECT count(*) FROM part p WHERE {live:p}")),
        "placements": int(reader.scalar("SELECT count(*) FROM placement p WHERE {live:p}")),
        "faults": faults,
    }
    return counted, findings


# A form of reporting is looked up by all; it stands where a result that stands has it.
STANDING_FORMS = """
SELECT count(DISTINCT r.form_id) FROM result r JOIN analysis a ON a.analysis_id = r.analysis_id WHERE {live:a}
"""


def standing_counts(reader: Reader) -> dict[str, int]:
    """Rows of every table that stand: neither superseded nor undone, by their own numbers or by their parent's."""
    counts = {}
    for name, columns in columns_of().items():
        lender = lender_of().get(name)
        if name == "result_form":
            sql = STANDING_FORMS
        elif "ended_no" in columns:
            sql = f"SELECT count(*) FROM {name} x WHERE {{live:x}}"
        elif lender is not None:
            to = f"{lender.to} y ON y.{lender.key} = x.{lender.column}"
            sql = f"SELECT count(*) FROM {name} x JOIN {to} WHERE {{live:y}}"
        else:
            sql = f"SELECT count(*) FROM {name}"
        counts[name] = int(reader.scalar(sql))
    return dict(sorted(counts.items()))


def table_counts(reader: Reader) -> dict[str, int]:
    """Rows of every table, ended ones included."""
    names = reader.all(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%' AND name <> 'alembic_version' "
        "ORDER BY name"
    )
    return {r["name"]: int(reader.scalar(f'SELECT count(*) FROM "{r["name"]}"')) for r in names}
