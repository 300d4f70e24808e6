"""A workbook's zip archive, opened with limits before anything is unpacked, and what its parts say about the sheets."""

from __future__ import annotations

import re
import zipfile
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

from heattrace.errors import FileRefused
from heattrace.intake.reading.faults import Place, refuse

MOST_ENTRIES = 5_000
MOST_UNPACKED = 400 << 20
MOST_RATIO = 200
RATIO_COUNTS_FROM = 8 << 20
PROLOG = 4096

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_STRICT = "{http://purl.oclc.org/ooxml/spreadsheetml/main}"
_FIRST_ELEMENT = re.compile(rb"<[A-Za-z_]")
_DAMAGED = (
    zlib.error,
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    OSError,
    EOFError,
    ValueError,
    NotImplementedError,
    RuntimeError,
)


@dataclass(slots=True)
class SheetPart:
    """One sheet of a workbook: its name, its part in the archive, whether it is hidden."""

    name: str
    part: str
    hidden: bool


@dataclass(slots=True)
class Archive:
    """An opened workbook: its sheets in order, the places its number formats show, and what was left alone.

    `formats` has one entry per cell format: mandatory decimal places, `"percent"`, or None.
    """

    path: Path
    place: Place
    sheets: list[SheetPart] = field(default_factory=list)
    formats: list[int | str | None] = field(default_factory=list)
    left_alone: list[str] = field(default_factory=list)

    def part(self, name: str) -> bytes:
        """The unpacked bytes of one part.

        Raises
        ------
        FileRefused
            It is missing or damaged.
        """
        try:
            with zipfile.ZipFile(self.path) as bundle:
                return _read(bundle, name, self.place)
        except _DAMAGED as fault:
            raise damaged(self.place, fault) from None


def open_archive(path: Path, place: Place) -> Archive:
    """Open a workbook's archive.

    Raises
    ------
    FileRefused
        Damaged, no workbook, under a password, beyond the limits, or with XML entities declared.
    """
    archive = Archive(path, place)
    try:
        with zipfile.ZipFile(path) as bundle:
            _check_limits(bundle, place)
            names = [info.filename for info in bundle.infolist()]
            if "xl/workbook.xml" not in names:
                step = "Save it as an xlsx workbook, or as CSV."
                raise refuse(place, "FILE03", "a zip archive without a workbook inside", "an xlsx workbook", step)
            for name in names:
                if name.lower().endswith((".xml", ".rels", ".vml")):
                    _check_entities(bundle, name, place)
            archive.sheets = _sheets(bundle, place)
            if "xl/styles.xml" in names:
                archive.formats = _formats(_read(bundle, "xl/styles.xml", place), place)
            archive.left_alone = _left_alone(names)
    except _DAMAGED as fault:
        raise damaged(place, fault) from None
    return archive


def damaged(place: Place, fault: Exception) -> FileRefused:
    """The refusal of a workbook that cannot be unpacked."""
    seen = f"a damaged workbook ({str(fault) or type(fault).__name__})"
    return refuse(place, "FILE04", seen, "a whole workbook", "Export or copy it again.")


def _check_limits(bundle: zipfile.ZipFile, place: Place) -> None:
    entries = bundle.infolist()
    if len(entries) > MOST_ENTRIES:
        raise refuse(
            place, "FILE05", f"{len(entries)} parts", f"at most {MOST_ENTRIES} parts", "Save the one sheet, or CSV."
        )
    if any(entry.flag_bits & 1 for entry in entries):
        raise refuse(place, "FILE04", "parts under a password", "a workbook without a password", "Save it without one.")
    total = sum(entry.file_size for entry in entries)
    if total > MOST_UNPACKED:
        wanted = f"at most {MOST_UNPACKED >> 20} MiB unpacked"
        raise refuse(place, "FILE05", f"{total >> 20} MiB unpacked", wanted, "Export fewer rows to a file, or CSV.")
    for entry in entries:
        if entry.file_size > RATIO_COUNTS_FROM and entry.file_size > MOST_RATIO * max(entry.compress_size, 1):
            seen = f"{entry.filename} packed more than {MOST_RATIO} to 1"
            raise refuse(
                place, "FILE05", seen, f"parts packed at most {MOST_RATIO} to 1", "Do not open it; ask its sender."
            )


def _read(bundle: zipfile.ZipFile, name: str, place: Place) -> bytes:
    """Unpack one part, never more than it declares (the archive checks its sum)."""
    try:
        with bundle.open(name) as stream:
            return stream.read(bundle.getinfo(name).file_size + 1)  # read() without a size would unpack all first
    except KeyError:
        raise refuse(place, "FILE04", f"no part {name}", "a whole workbook", "Export or copy it again.") from None


def _check_entities(bundle: zipfile.ZipFile, name: str, place: Place) -> None:
    """Refuse a part with a document type; that can only stand before the first element."""
    with bundle.open(name) as stream:
        data = stream.read(PROLOG)
        if not _FIRST_ELEMENT.search(_plain(data)):
            data += stream.read(bundle.getinfo(name).file_size)
    plain = _plain(data)
    first = _FIRST_ELEMENT.search(plain)
    prolog = plain[: first.start()] if first else plain
    if b"<!DOCTYPE" in prolog or b"<!ENTITY" in prolog:
        seen = f"a document type with entities in {name}"
        raise refuse(place, "FILE24", seen, "plain XML", "Do not open it; ask its sender for a plain export.")


def _plain(data: bytes) -> bytes:
    """XML text in one byte a sign, whatever its encoding."""
    return data.replace(b"\x00", b"") if b"\x00" in data[:8] else data


def _tree(data: bytes, name: str, place: Place) -> ElementTree.Element:
    try:
        return ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError) as fault:
        raise refuse(
            place, "FILE04", f"{name} is damaged ({fault})", "a whole workbook", "Export or copy it again."
        ) from None


def _sheets(bundle: zipfile.ZipFile, place: Place) -> list[SheetPart]:
    relations = _tree(_read(bundle, "xl/_rels/workbook.xml.rels", place), "its list of parts", place)
    parts = {r.get("Id", ""): r.get("Target", "") for r in relations}
    found = []
    for element in _tree(_read(bundle, "xl/workbook.xml", place), "its list of sheets", place).iter():
        if element.tag in (f"{_MAIN}sheet", f"{_STRICT}sheet"):
            key = next((value for name, value in element.items() if name.endswith("}id")), "")
            target = parts.get(key, "")
            part = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            found.append(SheetPart(element.get("name", ""), part, element.get("state", "visible") != "visible"))
    return found


_BUILT_IN: dict[int, int | str] = {1: 0, 2: 2, 3: 0, 4: 2, 9: "percent", 10: "percent", 37: 0, 38: 0, 39: 2, 40: 2}


def _formats(data: bytes, place: Place) -> list[int | str | None]:
    tree = _tree(data, "its list of formats", place)
    codes: dict[int, str] = {}
    found: list[int | str | None] = []
    for element in tree.iter():
        tag = element.tag.rpartition("}")[2]
        if tag == "numFmt":
            codes[_number(element.get("numFmtId"))] = element.get("formatCode", "")
        elif tag == "cellXfs":
            for entry in element:
                number = _number(entry.get("numFmtId"))
                found.append(places_shown(codes[number]) if number in codes else _BUILT_IN.get(number))
    return found


def _number(text: str | None) -> int:
    return int(text) if text and text.isdigit() else 0


def places_shown(code: str) -> int | str | None:
    """Decimal places a number format always shows, `"percent"`, or None where it fixes none (or is a date).

    >>> places_shown("0.000"), places_shown("0.0##"), places_shown("0.00%"), places_shown("yyyy-mm-dd")
    (3, 1, 'percent', None)
    """
    bare = re.sub(r'"[^"]*"|\\.|_.|\*.|\[[^\]]*\]', "", code.split(";")[0])
    if "%" in bare:
        return "percent"
    if re.search(r"[ymdhsE@/]", bare, re.IGNORECASE) or not re.search(r"[0#?]", bare):
        return None
    whole, _, part = bare.partition(".")
    mandatory = re.match(r"0*", part)
    return len(mandatory[0]) if mandatory and "0" in whole + part else None


def _left_alone(names: list[str]) -> list[str]:
    found = []
    if any(name.endswith("vbaProject.bin") for name in names):
        found.append("macros")
    if any(name.startswith("xl/externalLinks/") for name in names):
        found.append("links to other workbooks")
    if any(name.startswith(("xl/embeddings/", "xl/activeX/")) for name in names):
        found.append("embedded objects")
    if any(name.startswith(("xl/media/", "xl/drawings/")) for name in names):
        found.append("pictures and drawings")
    return found
