"""What a file is before it is read: there, readable, not empty, of the sort its name says, and its digest."""

from __future__ import annotations

import codecs
import hashlib
from pathlib import Path

from heattrace.errors import FileRefused
from heattrace.intake.reading.faults import Place, refuse

HEAD = 65536
# A CSV file that has to be held whole may have at most this many bytes; row-a-result files are streamed.
MOST_HELD = 256 << 20
WORKBOOK_NAMES = frozenset((".xlsx", ".xlsm", ".xls", ".xlsb", ".ods"))
_OLE = bytes.fromhex("d0cf11e0a1b11ae1")
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def file_digest(path: Path) -> str:
    """SHA-256 of a file, hex. Of a folder: that of its CSV files' names and digests, a line each, sorted by name."""
    if path.is_dir():
        total = hashlib.sha256()
        for entry in folder_files(path):
            total.update(f"{entry.name}\t{file_digest(entry)}\n".encode("utf-8", "surrogateescape"))
        return total.hexdigest()
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def stamp(path: Path) -> list[tuple[str, int, int]]:
    """Name, size and time of last change of a file, or of each file of a folder."""
    try:
        found = [path, *folder_files(path)] if path.is_dir() else [path]
        return [(entry.name, (about := entry.stat()).st_size, about.st_mtime_ns) for entry in found]
    except (OSError, ValueError):
        return []


def check_unchanged(path: Path, before: list[tuple[str, int, int]], place: Place) -> None:
    """Refuse a file that changed while it was read.

    Raises
    ------
    FileRefused
        Its stamp is another than `before`.
    """
    if stamp(path) != before:
        step = "It may still be being written; try again in a moment."
        raise refuse(place, "FILE25", "another size or time than at the start", "a file at rest", step)


def folder_files(path: Path) -> list[Path]:
    """The CSV files of a folder, sorted by name; hidden files and other sorts are left out."""
    found = (entry for entry in path.iterdir() if entry.is_file() and not entry.name.startswith("."))
    return sorted((entry for entry in found if entry.suffix.lower() == ".csv"), key=lambda entry: entry.name)


def check_size(path: Path, place: Place) -> None:
    """Refuse a file too large to be held whole.

    Raises
    ------
    FileRefused
        It has more than `MOST_HELD` bytes.
    """
    size = path.stat().st_size
    if size > MOST_HELD:
        step = "Export fewer rows to a file; analyses whose rows stand together may be of any length."
        raise refuse(place, "FILE05", f"{size >> 20} MiB", f"at most {MOST_HELD >> 20} MiB", step)


def cannot_open(place: Place, fault: OSError | ValueError) -> FileRefused:
    """The refusal of a file that the system does not give out."""
    reason = getattr(fault, "strerror", None) or str(fault) or type(fault).__name__
    return refuse(
        place, "FILE01", reason, "a file that can be read", "Look at its name, its folder and its read right."
    )


def read_head(path: Path, place: Place) -> bytes:
    """The first bytes of a file.

    Raises
    ------
    FileRefused
        It is not there, is a folder, cannot be read, or is empty.
    """
    try:
        if path.is_dir():
            raise refuse(
                place, "FILE01", "a folder", "a file", "Give the file inside it, or name a profile that takes books."
            )
        with path.open("rb") as stream:
            head = stream.read(HEAD)
    except (OSError, ValueError) as fault:
        raise cannot_open(place, fault) from None
    if not head:
        raise refuse(
            place, "FILE02", "0 bytes, the file is empty", "rows", "Export it again; it may still be being written."
        )
    return head


def sort_of(head: bytes) -> str:
    """What the first bytes say: `zip`, `old-workbook`, `html`, `xml`, `pdf`, `gzip`, `sqlite`, or `text`."""
    if head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return "zip"
    if head.startswith(_OLE):
        return "protected-workbook" if "EncryptedPackage".encode("utf-16-le") in head else "old-workbook"
    for start, sort in (
        (b"%PDF", "pdf"),
        (b"\x1f\x8b", "gzip"),
        (b"SQLite format 3\0", "sqlite"),
        (b"\x89PNG", "picture"),
    ):
        if head.startswith(start):
            return sort
    text = head.lstrip(b"\xef\xbb\xbf \t\r\n")[:512].lower()
    if text.startswith((b"<!doctype html", b"<html", b"<table", b"<head", b"<meta")):
        return "html"
    return "xml" if text.startswith(b"<?xml") else "text"


REALLY = {
    "zip": "a zip archive", "old-workbook": "an old binary workbook (xls)", "html": "a page of HTML", "xml": "XML",
    "protected-workbook": "a workbook under a password", "pdf": "a PDF", "gzip": "a gzip archive",
    "sqlite": "a database", "picture": "a picture", "text": "text",
}  # fmt: skip


def check_sort(path: Path, head: bytes, file_type: str | None, place: Place) -> str:
    """Whether the content is what name and profile say; gives `csv` or `xlsx`.

    Raises
    ------
    FileRefused
        It is really something else.
    """
    sort = sort_of(head)
    if sort in ("old-workbook", "protected-workbook"):
        step = "Open it in a spreadsheet and save it anew as xlsx without a password, or as CSV."
        raise refuse(place, "FILE04", f"this is really {REALLY[sort]}", "CSV text or an xlsx workbook", step)
    named = "xlsx" if path.suffix.lower() in WORKBOOK_NAMES else "csv"
    really = {"zip": "xlsx", "text": "csv"}.get(sort)
    wanted = {"csv": "CSV text", "xlsx": "an xlsx workbook"}[file_type or named]
    if really is None or really != (file_type or named) or really != named:
        is_named = "xlsx workbook" if sort == "zip" and _looks_xlsx(head) else REALLY[sort]
        seen = f"this is really {'an ' if is_named.startswith('xlsx') else ''}{is_named}"
        wanted = wanted if really is None or really != (file_type or named) else f"a name ending in .{really}"
        step = "Rename it to what it is, or save it anew; then name a profile that takes it."
        raise refuse(place, "FILE03", seen, wanted, step)
    return really


def _looks_xlsx(head: bytes) -> bool:
    return b"[Content_Types].xml" in head or b"xl/" in head


def bom_of(head: bytes) -> tuple[str, int] | None:
    """Encoding and length of a byte order mark; None where there is none."""
    for mark, encoding in _BOMS:
        if head.startswith(mark):
            return encoding, len(mark)
    return None


def text_encoding(head: bytes, said: str, place: Place) -> tuple[str, int]:
    """The encoding a text file is read in, and how many bytes of byte order mark to leave out.

    Raises
    ------
    FileRefused
        NUL bytes throughout: UTF-16 that the profile does not say.
    """
    mark = bom_of(head)
    if mark is not None:
        return mark
    encoding = codecs.lookup(said).name
    if encoding in ("utf-16", "utf-32"):
        encoding += "-le"
    if encoding == "utf-8-sig":
        encoding = "utf-8"
    if not encoding.startswith(("utf-16", "utf-32")) and head.count(0) * 10 > 3 * len(head):
        little = head[1::2].count(0) >= head[0::2].count(0)
        suspect = "utf-16-le" if little else "utf-16-be"
        step = f'If it is, say [file] encoding = "{suspect}" in the profile, or export it as utf-8.'
        raise refuse(place, "FILE06", f"NUL bytes throughout, as {suspect} has them", f"text in {said}", step)
    return encoding, 0
