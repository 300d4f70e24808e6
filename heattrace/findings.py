"""A finding: what one rule or check says about one subject. Findings are values, never raised."""

from __future__ import annotations

from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """One statement of a check.

    `code` is fixed and never reused, `subject` is a number or `FILE, row N, column C`, `seen` and `wanted` are words or
    digits as they stand, `next` is the step to take.
    """

    code: str
    subject: str
    seen: str
    wanted: str
    next: str = ""

    def as_json(self) -> dict[str, str]:
        """The promised object `{"code", "subject", "seen", "wanted", "next"}`."""
        return {"code": self.code, "subject": self.subject, "seen": self.seen, "wanted": self.wanted, "next": self.next}

    def sentence(self) -> str:
        """One line for a person."""
        text = f"{self.code}  {self.subject}: found {self.seen}" if self.seen else f"{self.code}  {self.subject}"
        if self.wanted:
            text += f"; expected {self.wanted}"
        return f"{text}. {self.next}" if self.next else text
