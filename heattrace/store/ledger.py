"""The ledger: canonical text, digest chain, verification."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from heattrace.config import DIGEST_NONE
from heattrace.findings import Finding
from heattrace.store.reader import Reader
from heattrace.values import dataclass

# Version of the canonical payload text, independent of any column.
FORM = 1

_COLUMNS = "entry_no, at, by, action, subject, form, payload, clock_back, previous, digest"
LAST = "SELECT entry_no, at, digest FROM ledger ORDER BY entry_no DESC LIMIT 1"
CHAIN = f"SELECT {_COLUMNS} FROM ledger ORDER BY entry_no"


def canonical(value: Any) -> str:
    """Canonical JSON: sorted keys, no blanks, UTF-8 signs as they are."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def digest_of(text: str) -> str:
    """SHA-256 of a text, hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def entry_digest(
    *, form: int, entry_no: int, at: int, by: str, action: str, subject: str, payload: str, previous: str
) -> str:
    """Digest of one entry over its fields and the digest before it."""
    return digest_of(canonical([form, entry_no, at, by, action, subject, payload, previous]))


@dataclass(frozen=True, slots=True)
class Entry:
    """One ledger entry ready to be stored."""

    entry_no: int
    at: int
    by: str
    action: str
    subject: str
    form: int
    payload: str
    clock_back: int
    previous: str
    digest: str

    def row(self) -> tuple[Any, ...]:
        """Values in the order of the table's columns."""
        return (
            self.entry_no, self.at, self.by, self.action, self.subject, self.form, self.payload, self.clock_back,
            self.previous, self.digest,
        )  # fmt: skip


def next_entry(reader: Reader, *, at: int, by: str, action: str, subject: str, payload: Mapping[str, Any]) -> Entry:
    """The entry that follows the tip of the chain."""
    tip = reader.one(LAST)
    number, before, previous = (tip["entry_no"], tip["at"], tip["digest"]) if tip else (0, 0, DIGEST_NONE)
    text = canonical(payload)
    digest = entry_digest(
        form=FORM, entry_no=number + 1, at=at, by=by, action=action, subject=subject, payload=text, previous=previous
    )
    return Entry(number + 1, at, by, action, subject, FORM, text, int(at < before), previous, digest)


INSERT = f"INSERT INTO ledger ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"


@dataclass(frozen=True, slots=True)
class ChainCheck:
    """Outcome of walking the chain."""

    entries: int
    broken_at: int | None
    tip: str
    findings: tuple[Finding, ...]


def verify_chain(reader: Reader) -> ChainCheck:
    """Walk every entry from the first and name the first that does not hold.

    A chain computed anew by whoever holds the file, or a removed tail, looks whole: only a digest printed on paper or
    a signature can show it.
    """
    previous, expected = DIGEST_NONE, 1
    for row in reader.cursor(CHAIN, {}):
        number = row["entry_no"]
        fault = ""
        if number != expected:
            fault = f"entry {expected} is missing"
        elif row["previous"] != previous:
            fault = "it does not follow from the entry before"
        elif (
            entry_digest(
                form=row["form"], entry_no=number, at=row["at"], by=row["by"], action=row["action"],
                subject=row["subject"], payload=row["payload"], previous=previous,
            )
            != row["digest"]
        ):  # fmt: skip
            fault = "its fields do not give its digest"
        if fault:
            finding = Finding(
                "LEDGER-BROKEN",
                f"ledger entry {number}",
                fault,
                "an unbroken chain",
                "Keep the file as it is, take a copy, and compare with the last backup that verifies",
            )
            return ChainCheck(number, min(number, expected), previous, (finding,))
        previous, expected = row["digest"], number + 1
    return ChainCheck(expected - 1, None, previous, ())
