"""A recorded cast traced: from the rows that stand to places, shares, classes and the balance, nothing stored."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import tzinfo

from heattrace.findings import Finding
from heattrace.store.number_form import searched
from heattrace.store.reader import Reader
from heattrace.store.recorded import shown_at
from heattrace.strand.cast import trace_cast
from heattrace.strand.traced import TracedCast, TracedPart
from heattrace.tracing.cast_record import RecordedCast, read_cast
from heattrace.tracing.cast_rules import CastRules, strand_rules
from heattrace.values import dataclass, replace

PartKey = tuple[int, int, int | None, str, str | None]
"""(strand_no, run_no, cut_no, kind, piece_no)"""

_MINUTE = re.compile(r"\bminute (-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)((?: to )(-?\d+(?:\.\d+)?(?:e[+-]?\d+)?))?")


@dataclass(frozen=True, slots=True)
class TracedRecord:
    """A cast as recorded, the rule values it was traced with, and the outcome."""

    recorded: RecordedCast
    rules: CastRules
    traced: TracedCast

    def findings(self, zone: tzinfo) -> list[Finding]:
        """What the trace found, its minutes as moments of the works."""
        return [in_clock(self.recorded, finding, zone) for finding in self.traced.findings]


def trace_record(reader: Reader, sequence_id: int) -> TracedRecord:
    """Trace the cast of a sequence from its record.

    Raises
    ------
    NotFound
        There is no such sequence, or no cast book of it.
    CastUnreadable
        Its record contradicts itself so far that nothing can be computed.
    """
    recorded = read_cast(reader, sequence_id)
    rules = strand_rules(reader, recorded.families)
    return TracedRecord(recorded, rules, trace_cast(recorded.cast, rules.rules))


def in_clock(recorded: RecordedCast, finding: Finding, zone: tzinfo) -> Finding:
    """A finding of the strand model with its minutes of the cast written as moments."""
    words = (_moments(text, recorded, zone) for text in (finding.seen, finding.wanted, finding.next))
    seen, wanted, step = words
    return replace(finding, seen=seen, wanted=wanted, next=step)


def clock_words(recorded: RecordedCast, text: str, zone: tzinfo) -> str:
    """A message of the strand model with its minutes of the cast written as moments."""
    return _moments(text, recorded, zone)


def _moments(text: str, recorded: RecordedCast, zone: tzinfo) -> str:
    def shown(minute: str) -> str:
        whole_second = round(recorded.ms(float(minute)) / 1000) * 1000
        return str(shown_at(whole_second, zone))

    def moment(match: re.Match[str]) -> str:
        until = f" to {shown(match[3])}" if match[3] else ""
        return shown(match[1]) + until

    return _MINUTE.sub(moment, text)


def piece_words(parts: Iterable[str], most: int = 8) -> str:
    """Names of parts in one line; beyond `most` they are counted."""
    named = list(parts)
    rest = f" and {len(named) - most} more" if len(named) > most else ""
    return ", ".join(named[:most]) + rest


def part_key(part: TracedPart) -> PartKey:
    """What tells a part of a sequence from another; an implied part has no cut of its own."""
    number = None if part.piece_no is None else searched(part.piece_no)
    return (part.strand_no, part.run_no, None if part.implied else part.cut_no, part.kind, number)
