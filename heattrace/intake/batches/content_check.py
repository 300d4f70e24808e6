"""Whether the rows that imports wrote still give the digests that the ledger has of them."""

from __future__ import annotations

import json
from typing import Any

from heattrace.findings import Finding
from heattrace.intake.batches.content_digest import FORM, content_digest
from heattrace.store.reader import Reader
from heattrace.values import dataclass, field

IMPORTS = "SELECT entry_no, payload FROM ledger WHERE action = 'import' ORDER BY entry_no"


@dataclass(slots=True)
class ImportCheck:
    """How many imports were compared with their digest, the numbers of those that differ, and a finding for each."""

    checked: int = 0
    altered: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """The object `db check` shows."""
        return {"checked": self.checked, "altered": self.altered}


def check_imports(reader: Reader) -> ImportCheck:
    """Compute the digest of every import anew and name those whose rows no longer give it."""
    done = ImportCheck()
    for entry_no, payload in [(row["entry_no"], row["payload"]) for row in reader.all(IMPORTS)]:
        try:
            said = json.loads(payload)
            content, number = said["content"], f"I-{said['batch']}"
            if content["form"] != FORM:
                continue
            now = content_digest(reader, content["keys"])
        except (ValueError, KeyError, TypeError):
            continue  # the entry itself was altered: the chain names it
        done.checked += 1
        if now != content["sha256"]:
            done.altered.append(number)
            done.findings.append(
                Finding(
                    "DB-CONTENT", f"{number} (ledger entry {entry_no})", "its rows do not give the digest of the entry",
                    "the rows as they were written",
                    "Keep the file as it is, take a copy, and compare these rows with the last backup that holds",
                )
            )  # fmt: skip
    return done
