"""Moments as files write them: RFC 3339 with an offset, or a profile's own format in its zone. Nothing is guessed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

from heattrace.intake.reading.faults import CellFault
from heattrace.intake.reading.records import Day, Instant

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
FIRST_YEAR, LAST_YEAR = 1950, 2099
DAYS_NOUGHT = ((1899, 12, 30), (1899, 12, 31), (1900, 1, 0), (1900, 1, 1), (1900, 2, 29), (1904, 1, 1))
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_PARTS = {
    "d": r"(?P<d>\d{1,2})", "m": r"(?P<m>\d{1,2})", "Y": r"(?P<Y>\d{4})", "H": r"(?P<H>\d{1,2})", "M": r"(?P<M>\d{2})",
    "S": r"(?P<S>\d{2})", "f": r"(?P<f>\d{1,9})", "z": r"(?P<z>Z|[+-]\d{2}:?\d{2})", "I": r"(?P<I>\d{1,2})",
    "p": r"(?P<p>[AaPp][Mm])", "b": r"(?P<b>[A-Za-z]{3})",
}  # fmt: skip
_RFC = re.compile(
    r"(?P<Y>\d{4})-(?P<m>\d{2})-(?P<d>\d{2})[Tt ](?P<H>\d{2}):(?P<M>\d{2})(?::(?P<S>\d{2})(?:\.(?P<f>\d{1,9}))?)?"
    r"(?P<z>[Zz]|[+-]\d{2}:\d{2})?",
    re.ASCII,
)
_PLAIN_RFC = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}:\d{2}(?:\.\d{1,6})?(?:Z|[+-]\d{2}:\d{2})", re.ASCII)
WIDEST_OFFSET, MINUTE = timedelta(hours=16), timedelta(minutes=1)
_DAY = re.compile(r"(?P<Y>\d{4})-(?P<m>\d{2})-(?P<d>\d{2})", re.ASCII)
_OTHER_DATE = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})(?:[ T,]+.*)?", re.ASCII)
_SERIAL = re.compile(r"\d{5}(?:[.,]\d+)?", re.ASCII)


class FormatFault(ValueError):
    """A profile's time format cannot be used; the text says what was expected."""


@dataclass(frozen=True, slots=True)
class TimeFormat:
    """A compiled format: its pattern, and whether it carries an offset."""

    text: str
    pattern: re.Pattern[str]
    has_offset: bool


def compile_format(form: str) -> TimeFormat:
    """Compile a format of %d %m %b %Y %H %I %p %M %S %f %z and plain characters; an offset may follow one without %z.

    Raises
    ------
    FormatFault
        A part is unknown or twice, day, month, year, hour or minute are missing, or the year has two digits.
    """
    out, at, seen = "", 0, set()
    while at < len(form):
        if form[at] != "%":
            out += re.escape(form[at])
            at += 1
            continue
        part = form[at + 1 : at + 2]
        at += 2
        if part == "y":
            raise FormatFault("a year of four digits, %Y; two digits do not say which century")
        if part == "%":
            out += "%"
            continue
        if part not in _PARTS or part in seen:
            raise FormatFault("each of %d %m %b %Y %H %I %p %M %S %f %z at most once")
        seen.add(part)
        out += _PARTS[part]
    if not {"d", "Y", "M"} <= seen or not seen & {"m", "b"} or not ("H" in seen or {"I", "p"} <= seen):
        raise FormatFault("day, month, year, hour and minute, as in %d.%m.%Y %H:%M")
    if "z" not in seen:
        out += rf"(?:\s?{_PARTS['z']})?"  # an hour that comes twice can be told only with its offset
    return TimeFormat(form, re.compile(out, re.ASCII), "z" in seen)


class InstantReader:
    """Reads the moments of one source. `next_days` counts the cells that said 24:00 and were read as the next day."""

    def __init__(self, zone: str | None = None, form: str | None = None) -> None:
        self.zone = ZoneInfo(zone) if zone else None
        self.form = compile_format(form) if form else None
        self.next_days = 0
        self._cache: dict[str, Instant] = {}

    @property
    def example(self) -> str:
        """How a moment has to look, for messages."""
        if self.form is None:
            return "a moment such as 2026-04-03T10:15:00+02:00"
        sample = datetime(2026, 4, 23, 10, 15, tzinfo=timezone(timedelta(hours=2)))
        return f"a moment such as {sample.strftime(self.form.text)}"

    def read(self, text: str) -> Instant:
        """Read one moment.

        Raises
        ------
        CellFault
            Not in the source's form, not on the calendar, or its offset is unknown (hour that comes twice or never).
        """
        known = self._cache.get(text)
        if known is None:
            before = self.next_days
            known = (self._read_plain(text) if self.form is None else None) or self._read(text)
            if len(self._cache) > 4096:
                self._cache.clear()
            if self.next_days == before:
                self._cache[text] = known
        return known

    @staticmethod
    def _read_plain(text: str) -> Instant | None:
        """The common case, a sound RFC 3339 moment, by the quick way; None for all else."""
        if not _PLAIN_RFC.fullmatch(text):
            return None
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            return None
        since, away = moment - EPOCH, moment.utcoffset()
        if away is None or not FIRST_YEAR <= moment.year <= LAST_YEAR or abs(away) > WIDEST_OFFSET:
            return None
        millis = (since.days * 86400 + since.seconds) * 1000 + since.microseconds // 1000
        return Instant(millis, away // MINUTE, text)

    def read_day(self, text: str) -> Day | Instant:
        """Read a day (`2026-04-03`), or a moment."""
        found = _DAY.fullmatch(text.strip())
        if found is None:
            return self.read(text)
        self._calendar(found.groupdict(), text)
        return Day(text.strip(), text)

    def _read(self, text: str) -> Instant:
        raw = text.strip()
        pattern = self.form.pattern if self.form else _RFC
        found = pattern.fullmatch(raw) or (_RFC.fullmatch(raw) if "\x00" not in raw and self.form is None else None)
        if found is None:
            raise self._why_not(raw)
        parts = found.groupdict()
        moment = self._calendar(parts, text)
        offset = parts.get("z")
        if offset is None:
            moment = self._placed(moment, raw)
        elif offset in ("Z", "z"):
            moment = moment.replace(tzinfo=UTC)
        else:
            hours, minutes = int(offset[1:3]), int(offset[-2:])
            if hours > 16 or minutes > 59:
                raise CellFault("ROW21", "an offset such as +02:00")
            sign = -1 if offset[0] == "-" else 1
            moment = moment.replace(tzinfo=timezone(sign * timedelta(hours=hours, minutes=minutes)))
        since = moment - EPOCH
        millis = (since.days * 86400 + since.seconds) * 1000 + int((parts.get("f") or "0").ljust(9, "0")[:3])
        away = moment.utcoffset() or timedelta(0)
        return Instant(millis, int(away.total_seconds()) // 60, text)

    def _calendar(self, parts: dict[str, str | None], text: str) -> datetime:
        """The date and time as written, without zone; 24:00 becomes 00:00 of the next day."""
        year, day = int(parts["Y"] or 0), int(parts["d"] or 0)
        month = self._month(parts)
        hour, minute, second = self._hour(parts), int(parts.get("M") or 0), int(parts.get("S") or 0)
        if (year, month, day) in DAYS_NOUGHT:
            wanted = "a date of the source; this is what a spreadsheet makes of an empty or zero cell"
            raise CellFault("ROW23", wanted, "Take the date from the source.")
        if not FIRST_YEAR <= year <= LAST_YEAR:
            raise CellFault("ROW20", f"a year from {FIRST_YEAR} to {LAST_YEAR}")
        over = hour == 24 and minute == 0 and second == 0 and not int(parts.get("f") or 0)
        try:
            moment = datetime(year, month, day, 0 if over else hour, minute, second)
        except ValueError:
            raise CellFault("ROW20", f"a date and time of the calendar; {self.example}") from None
        if over:
            self.next_days += 1
            moment += timedelta(days=1)
        return moment

    @staticmethod
    def _month(parts: dict[str, str | None]) -> int:
        name = parts.get("b")
        if name is None:
            return int(parts["m"] or 0)
        return MONTHS.index(name.lower()) + 1 if name.lower() in MONTHS else 0

    @staticmethod
    def _hour(parts: dict[str, str | None]) -> int:
        if (twelve := parts.get("I")) is None:
            return int(parts.get("H") or 0)
        hour = int(twelve)
        if not 1 <= hour <= 12:
            return 99
        return hour % 12 + (12 if (parts["p"] or "").lower() == "pm" else 0)

    def _placed(self, moment: datetime, raw: str) -> datetime:
        """Give a local moment the zone's offset; the hour that comes twice and the one that never comes are refused."""
        if self.zone is None:
            step = "Write the offset, or say [time] zone in a profile of this source."
            raise CellFault("ROW22", f"an offset from UTC at the end; {self.example}", step)
        first, second = moment.replace(tzinfo=self.zone, fold=0), moment.replace(tzinfo=self.zone, fold=1)
        one, two = first.utcoffset() or timedelta(0), second.utcoffset() or timedelta(0)
        if one == two:
            return first
        both = f"{raw} is {_shown(one)} or {_shown(two)} in {self.zone.key}"
        if one > two:
            wanted = f"an offset: this hour came twice that night; {both}"
            raise CellFault("ROW24", wanted, "Write the moment with its offset.")
        wanted = f"a moment that exists: clocks in {self.zone.key} went forward over it"
        raise CellFault("ROW25", wanted, "Ask the source what was meant.")

    def _why_not(self, raw: str) -> CellFault:
        if _SERIAL.fullmatch(raw):
            wanted = f"{self.example}; this is a spreadsheet's day count"
            return CellFault("ROW23", wanted, "Export the column as text.")
        other = _OTHER_DATE.fullmatch(raw)
        if other is not None:
            first, last = other[1], other[4]
            if len(first) <= 2 and len(last) <= 2:
                return CellFault("ROW26", f"{self.example}, with a year of four digits")
            if len(first) == 4 and len(last) <= 2 and self.form is None and other[2] == "-":
                return CellFault("ROW20", self.example)
        return CellFault("ROW20", self.example)


def day_month_doubt(text: str) -> bool:
    """Whether a text is a date whose day and month could change places (both at most 12 and different)."""
    other = _OTHER_DATE.fullmatch(text.strip())
    if other is None or len(other[1]) == 4:
        return False
    day, month = int(other[1]), int(other[3])
    return 1 <= day <= 12 and 1 <= month <= 12 and day != month


def swapped_day_month(text: str) -> bool:
    """Whether a numeric date is on the calendar only with day and month swapped against day-first or month-first."""
    other = _OTHER_DATE.fullmatch(text.strip())
    if other is None or len(other[1]) == 4:
        return False
    day, month = int(other[1]), int(other[3])
    return (day > 12) != (month > 12) and max(day, month) <= 31


def _shown(offset: timedelta) -> str:
    minutes = int(offset.total_seconds()) // 60
    sign = "-" if minutes < 0 else "+"
    return f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
