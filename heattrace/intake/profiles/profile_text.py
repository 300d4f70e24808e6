"""Read a profile's TOML: all faults gathered, each with its line."""

from __future__ import annotations

import codecs
import re
import tomllib
from collections.abc import Mapping
from types import MappingProxyType
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from heattrace.errors import FileRefused
from heattrace.findings import Finding
from heattrace.intake.profiles.cast_book_sheets import KINDS
from heattrace.intake.profiles.kinds import ANALYSIS_COLUMNS, RESULT_COLUMNS, Column
from heattrace.intake.profiles.profile import MappedColumn, MappedElement, Profile, RowWords, SheetMap, split_pattern
from heattrace.intake.profiles.toml_text import TomlReader
from heattrace.metallurgy.amount import UNIT_SHIFT
from heattrace.metallurgy.elements import ALIASES, ELEMENT_NUMBER

TABLES = frozenset(
    "name takes file time columns values elements constants tokens ignore rows split sheets".split()  # noqa: SIM905
)
FILE_KEYS = frozenset(("type", "encoding", "delimiter", "decimal", "sheet", "header_within"))
TIME_KEYS = frozenset(("zone", "format", "clock"))
SHEET_KEYS = frozenset(("file", "sheet", "columns", "values", "constants", "ignore", "clock", "format", "zone"))
NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
# What a mapped unit may be, by our unit; the point is moved, no digit changes.
UNITS_FOR: Mapping[str, frozenset[str]] = MappingProxyType(
    {
        "m": frozenset(("m", "mm", "cm", "km")),
        "mm": frozenset(("mm", "cm", "m")),
        "t": frozenset(("t", "kg")),
        "kg": frozenset(("kg", "t", "g")),
        "mm2": frozenset(("mm2", "cm2", "m2")),
        "m/min": frozenset(("m/min", "mm/min", "cm/min")),
        "degree C": frozenset(("degree C", "°C", "C")),
    }
)


def read_profile(text: str) -> Profile:
    """Read a profile.

    Raises
    ------
    FileRefused
        With a finding for every fault: unknown keys and columns, units, encodings, zones, elements.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as broken:
        raise FileRefused(
            f"profile: not readable as TOML: {broken}. Compare with: heattrace profile show lab-wide",
            findings=[Finding("PROF01", "profile", str(broken), "TOML text")],
        ) from None
    reader = TomlReader(text, data)
    profile = _profile(reader)
    if reader.faults:
        raise FileRefused(
            "profile: "
            + "; ".join(f"{f.subject}: found {f.seen}, expected {f.wanted}" for f in reader.faults)
            + ". Mend these lines, then try it with: heattrace profile test FILE",
            findings=reader.faults,
        )
    return profile


def _profile(r: TomlReader) -> Profile:
    for key in r.data:
        if key not in TABLES:
            r.fault((key,), key, "one of " + ", ".join(sorted(TABLES)))
    for path, keys in (
        (("file",), FILE_KEYS), (("time",), TIME_KEYS), (("tokens",), frozenset(("not_reported", "over_range"))),
        (("ignore",), frozenset(("columns",))), (("rows",), frozenset(("column", "burn", "mean", "skip"))),
        (("split",), frozenset(("sample_id",))),
    ):  # fmt: skip
        r.known(path, keys)
    name = r.string("name", default="") or ""
    if not NAME.fullmatch(name):
        r.fault(("name",), repr(name), "a name of letters, digits, dots and dashes")
    takes = r.string("takes", default="") or ""
    if takes not in KINDS:
        r.fault(("takes",), repr(takes), "one of " + ", ".join(KINDS))
    ours = _our_columns(takes)
    columns = _columns(r, ("columns",), ours)
    elements = _elements(r)
    values = _values(r, ("values",), {c.name: c for c in ours.values()})
    decimal = r.string("file", "decimal", default=".", among=(".", ",")) or "."
    delimiter = r.string("file", "delimiter", default=",") or ","
    if (
        len(delimiter) != 1
        or delimiter in '"\r\n'
        or (delimiter == decimal and not r.faults and "delimiter" in r.table("file"))
    ):
        r.fault(
            ("file", "delimiter"),
            repr(delimiter),
            "one character that is not the decimal sign, such as ; or , or a tab",
        )
    long = any(c.column == "element" for c in columns.values())
    return Profile(
        name=name,
        takes=takes,
        text=r.text,
        layout="long" if long else "wide",
        file_type=r.string("file", "type", among=("csv", "xlsx")),
        encoding=_encoding(r),
        delimiter=delimiter,
        decimal=decimal,
        sheet=r.string("file", "sheet"),
        header_within=_header_within(r),
        zone=_zone(r, "time", "zone"),
        format=_format(r, "time", "format"),
        clock=r.string("time", "clock"),
        columns=columns,
        values=values,
        elements=elements,
        constants=_constants(r, ("constants",), ours),
        not_reported=r.words("tokens", "not_reported", default=("", "-", "n.d.")),
        over_range=r.words("tokens", "over_range"),
        ignore=r.words("ignore", "columns"),
        rows=_rows(r),
        split=_split(r, values),
        sheets=_sheets(r, takes),
        ours=not elements and all(theirs == ours.column for theirs, ours in columns.items()),
    )


def _our_columns(takes: str) -> dict[str, Column]:
    if takes == "analyses":
        return {c.name: c for c in (*ANALYSIS_COLUMNS, *RESULT_COLUMNS)}
    kind = KINDS.get(takes)
    return {c.name: c for sheet in (kind.sheets.values() if kind else ()) for c in sheet.columns}


def _columns(r: TomlReader, path: tuple[str, ...], ours: Mapping[str, Column]) -> dict[str, MappedColumn]:
    found: dict[str, MappedColumn] = {}
    for theirs, target in r.table(*path).items():
        where = (*path, theirs)
        unit = None
        if isinstance(target, dict):
            unit, column = target.get("unit"), str(target.get("column"))
            if set(target) - {"column", "unit"} or not isinstance(unit, str | None):
                r.fault(where, repr(target), '{ column = "...", unit = "..." }')
                continue
        else:
            column = str(target)
        if column not in ours:
            near = [name for name in ours if str(column).lower() == name.lower()]
            r.fault(where, repr(column), "one of " + ", ".join(near or ours))
            continue
        if unit is not None and unit not in UNITS_FOR.get(ours[column].unit, ()):
            r.fault(
                where, repr(unit), "one of " + (", ".join(sorted(UNITS_FOR.get(ours[column].unit, ()))) or "no unit")
            )
            continue
        twin = next((t for t, m in found.items() if m.column == column), None)
        if twin is not None:
            r.fault(where, f'{column} a second time, after "{twin}"', "each of our columns once")
            continue
        found[theirs] = MappedColumn(column, unit)
    return found


def _elements(r: TomlReader) -> dict[str, MappedElement]:
    found: dict[str, MappedElement] = {}
    for theirs, target in r.table("elements").items():
        where = ("elements", theirs)
        if not isinstance(target, dict) or set(target) - {"element", "unit", "form"}:
            r.fault(where, repr(target), '{ element = "...", unit = "..." }')
            continue
        symbol = ALIASES.get(str(target.get("element")), target.get("element"))
        unit, form = target.get("unit"), target.get("form")
        if symbol not in ELEMENT_NUMBER:
            r.fault(where, repr(target.get("element")), "an element symbol such as C or Mn (letter case counts)")
        elif unit is not None and unit not in UNIT_SHIFT:
            r.fault(where, repr(unit), "one of " + ", ".join(UNIT_SHIFT))
        elif symbol == "Al" and target["element"] == "Al" and form not in ("total", "soluble"):
            r.fault(
                where, "Al without its form", 'form = "total" or form = "soluble"', "Ask the laboratory which it is."
            )
        elif form not in (None, "total", "soluble") or (form and symbol not in ("Al", "Als")):
            r.fault(where, repr(form), 'form = "total" or "soluble", for Al only')
        else:
            found[theirs] = MappedElement("Als" if form == "soluble" else str(symbol), unit)
    return found


def _values(r: TomlReader, path: tuple[str, ...], ours: Mapping[str, Column]) -> dict[str, Mapping[str, str]]:
    found: dict[str, Mapping[str, str]] = {}
    for column in r.table(*path):
        if column not in ours:
            r.fault((*path, column), column, "one of our columns: " + ", ".join(ours))
            continue
        allowed = ours[column].choices
        table = r.table(*path, column)
        for theirs, word in table.items():
            if not isinstance(word, str) or (allowed and word not in allowed):
                r.fault((*path, column, theirs), repr(word), "one of " + (", ".join(allowed) or "texts"))
        found[column] = {theirs: word for theirs, word in table.items() if isinstance(word, str)}
    return found


def _constants(r: TomlReader, path: tuple[str, ...], ours: Mapping[str, Column]) -> dict[str, str]:
    found: dict[str, str] = {}
    for column, value in r.table(*path).items():
        if column not in ours:
            r.fault((*path, column), column, "one of our columns: " + ", ".join(ours))
        elif not isinstance(value, str | int) or isinstance(value, bool):
            r.fault((*path, column), repr(value), "a text")
        elif ours[column].choices and value not in ours[column].choices:
            r.fault((*path, column), repr(value), "one of " + ", ".join(ours[column].choices))
        else:
            found[column] = str(value)
    return found


def _encoding(r: TomlReader) -> str:
    name = r.string("file", "encoding", default="utf-8") or "utf-8"
    try:
        "a\n".encode(name)
        return codecs.lookup(name).name
    except (LookupError, UnicodeError):
        r.fault(("file", "encoding"), repr(name), "an encoding such as utf-8, cp1252, utf-16")
        return "utf-8"


def _header_within(r: TomlReader) -> int:
    value = r.table("file").get("header_within", 10)
    if isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 100:
        return value
    r.fault(("file", "header_within"), repr(value), "a number of rows from 1 to 100")
    return 10


def _zone(r: TomlReader, *path: str) -> str | None:
    name = r.string(*path)
    if name is not None:
        try:
            ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            r.fault(path, repr(name), 'a time zone such as "Europe/Vienna" or "UTC"')
            return None
    return name


def _format(r: TomlReader, *path: str) -> str | None:
    from heattrace.intake.reading.instants import FormatFault, compile_format

    form = r.string(*path)
    if form is None:
        return None
    try:
        compiled = compile_format(form)
    except FormatFault as fault:
        r.fault(path, repr(form), str(fault))
        return None
    if not compiled.has_offset and r.string(*path[:-1], "zone") is None and r.string("time", "zone") is None:
        r.fault(path, f"{form!r} without zone", 'zone = "..." beside it, or %z in the format')
    return form


def _rows(r: TomlReader) -> RowWords | None:
    if "rows" not in r.data:
        return None
    column = r.string("rows", "column")
    if not column:
        r.fault(("rows",), "no column", 'column = "..." (the header of the column that tells the rows apart)')
        return None
    burn, mean, skip = (r.words("rows", key) for key in ("burn", "mean", "skip"))
    for word in (burn & mean) | (burn & skip) | (mean & skip):
        r.fault(("rows",), repr(word), "each value in one list only")
    return RowWords(column, burn, mean, skip)


def _split(r: TomlReader, values: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    pattern = r.string("split", "sample_id")
    if pattern is None:
        return {}
    fields = re.findall(r"\{(\w*)\}", pattern)
    allowed = ("heat_no", "kind", "n", "tundish", "strand_no")
    if not fields or len(set(fields)) != len(fields) or any(f not in allowed for f in fields):
        r.fault(
            ("split", "sample_id"),
            repr(pattern),
            "a pattern of " + ", ".join("{" + f + "}" for f in allowed) + ", each once",
        )
        return {}
    split_pattern(pattern, values.get("sample_kind", {}))
    return {"sample_id": pattern}


def _sheets(r: TomlReader, takes: str) -> dict[str, SheetMap]:
    kind = KINDS.get(takes)
    found: dict[str, SheetMap] = {}
    for name in r.table("sheets"):
        path = ("sheets", name)
        if kind is None or name not in kind.sheets or len(kind.sheets) == 1:
            r.fault(
                path, name, "one of " + ", ".join(kind.sheets if kind and len(kind.sheets) > 1 else ("(no sheets)",))
            )
            continue
        r.known(path, SHEET_KEYS)
        ours = dict(kind.sheets[name].by_name)
        found[name] = SheetMap(
            name,
            r.string(*path, "file"),
            r.string(*path, "sheet"),
            _columns(r, (*path, "columns"), ours),
            _values(r, (*path, "values"), ours),
            _constants(r, (*path, "constants"), ours),
            r.words(*path, "ignore"),
            r.string(*path, "clock"),
            _format(r, *path, "format"),
            _zone(r, *path, "zone"),
        )
    return found
