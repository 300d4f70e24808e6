"""All tables of the database, gathered: importing this module declares every one of them."""

from __future__ import annotations

from sqlalchemy import MetaData

from heattrace.schema import analyses, casts, decisions, grades, heats, intake, ledger, paper, parts, people
from heattrace.schema.columns import Row

AREAS = (ledger, people, grades, heats, casts, parts, analyses, decisions, paper, intake)


def metadata() -> MetaData:
    """Metadata that holds every table."""
    return Row.metadata
