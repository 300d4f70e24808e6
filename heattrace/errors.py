"""The one error tree. Each class has a fixed code and the exit status a command ends with."""

from __future__ import annotations

from collections.abc import Sequence

from heattrace.findings import Finding


class HeattraceError(Exception):
    """Something was refused or failed and nothing was changed.

    The message says what, what was seen, what was wanted, and the next step. `practice` is set where the refusal left
    a database that is marked so: its screen says it, too.
    """

    code = "FAILED"
    exit_status = 1

    def __init__(self, message: str, *, findings: Sequence[Finding] = ()) -> None:
        super().__init__(message)
        self.findings = tuple(findings)
        self.practice = False


class WrongUsage(HeattraceError):
    """The words or options of a command are off."""

    code = "USAGE"
    exit_status = 2


class NotFound(HeattraceError):
    """No record bears that number; `findings` list the nearest ones, none is picked."""

    code = "NOT-FOUND"


class Ambiguous(HeattraceError):
    """A number or short name fits several records; all are listed."""

    code = "AMBIGUOUS"


class Refused(HeattraceError):
    """A guard of the record stands against it."""

    code = "REFUSED"


class FileRefused(HeattraceError):
    """A fault that makes other cells of a file uncertain; nothing of the file was taken."""

    code = "FILE-REFUSED"


class DatabaseRefused(HeattraceError):
    """The database file is missing, foreign, newer, older, busy, or on a network share."""

    code = "DATABASE"


class LedgerBroken(HeattraceError):
    """The chain of ledger entries does not hold."""

    code = "LEDGER-BROKEN"


class FormulaError(HeattraceError):
    """A formula cannot be computed: unknown, outside its validity, or elements are absent."""

    code = "FORMULA"
