"""Recorded numbers: a whole number for searching and sorting, and the text beside it where its digits differ."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, tzinfo
from decimal import ROUND_HALF_EVEN, Decimal

# Powers of ten from the recorded unit to the stored whole number.
METRES = 6  # m -> um
TONNES = 6  # t -> g
KILOGRAMS = 3  # kg -> g
DEGREES = 1  # degree C -> 0.1 degree C
PER_MINUTE = 6  # m/min -> um/min


def to_whole(text: str, places: int) -> tuple[int, str | None]:
    """Whole number of `text` times 10**places, and the text itself unless it can be rebuilt from the number.

    >>> to_whole("0.7", 6), to_whole("0.70", 6), to_whole("12", 6), to_whole("0.12345678", 6)
    ((700000, None), (700000, '0.70'), (12000000, None), (123457, '0.12345678'))
    """
    scaled = Decimal(text).scaleb(places)
    number = int(scaled.to_integral_value(ROUND_HALF_EVEN))
    return number, (None if rebuild(number, places) == text else text)


def rebuild(number: int, places: int) -> str:
    """Shortest digits of a stored whole number in its recorded unit.

    >>> rebuild(700000, 6), rebuild(12000000, 6), rebuild(-1500, 3), rebuild(0, 6)
    ('0.7', '12', '-1.5', '0')
    """
    sign, digits = ("-", str(-number)) if number < 0 else ("", str(number))
    digits = digits.rjust(places + 1, "0")
    whole, part = digits[:-places] if places else digits, digits[-places:].rstrip("0") if places else ""
    return f"{sign}{whole}.{part}" if part else f"{sign}{whole}"


def written(number: int | None, text: str | None, places: int) -> str | None:
    """The digits as recorded: the stored text, else the number's shortest digits."""
    if number is None:
        return None
    return text if text is not None else rebuild(number, places)


def shown_at(at: int | None, zone: tzinfo | None = None) -> str | None:
    """A moment as RFC 3339 with offset; milliseconds only where there are any.

    >>> from datetime import timezone
    >>> shown_at(1767225600000), shown_at(1767225600500, timezone(timedelta(hours=1)))
    ('2026-01-01T00:00:00+00:00', '2026-01-01T01:00:00.500+01:00')
    """
    if at is None:
        return None
    moment = datetime.fromtimestamp(at // 1000, UTC) + timedelta(milliseconds=at % 1000)
    moment = moment.astimezone(zone or UTC)
    return moment.isoformat(timespec="milliseconds" if at % 1000 else "seconds")
