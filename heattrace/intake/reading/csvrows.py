"""Records of a CSV file, streamed, each with its physical row and its original bytes."""

from __future__ import annotations

import codecs
import csv
from bisect import bisect_right
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import BinaryIO

from heattrace.errors import FileRefused
from heattrace.intake.reading.faults import Place, refuse, shown
from heattrace.intake.reading.sniffing import cannot_open, text_encoding

# Small pieces keep the lists of cells that are alive at once few, which the collector of garbage honours.
CHUNK = 1 << 14
QUOTED_AT_ONCE = 150
# A cell longer than this, in signs, refuses the file (what the csv module stops at); a row of the trade has hundreds.
LONGEST_CELL = 131_072
LONGEST_LINE = 8 << 20
_CTRL_Z = b"\x1a"


class CsvRows:
    """One CSV file open for reading.

    `records()` gives each record once with the physical row it begins on, from 1; `raw(row)` gives the bytes of a
    record already read, without its line end; `forget(row)` lets the bytes before a row go.
    """

    def __init__(self, path: Path, place: Place, head: bytes, encoding: str, delimiter: str) -> None:
        self.path, self.place, self.delimiter = path, place, delimiter
        self.encoding, self._skip = text_encoding(head, encoding, place)
        self.had_bom = self._skip > 0
        self.ended_by_ctrl_z = False
        self._starts: list[int] = []
        self._pieces: list[bytes] = []
        self._spans: dict[int, int] = {}
        self._quoted = False
        self._source = self._parse()
        self._block: list[list[str]] = []
        self._first = self._next = 0
        self._split: tuple[int, list[bytes]] = (0, [])
        # In these the bytes of a line end are not one byte each: lines are cut in the text, and encoded back exactly.
        self._wide = self.encoding.startswith(("utf-16", "utf-32"))

    def records(self) -> Iterator[tuple[int, list[str]]]:
        """The records not read yet, one by one; blank lines are empty lists.

        Raises
        ------
        FileRefused
            Bytes that are no text in this encoding, a quote that is not closed, a cell beyond the limit.
        """
        while self._load():
            block, first = self._block, self._first
            while self._next < len(block):
                at = self._next
                self._next += 1
                yield first + at, block[at]

    def blocks(self) -> Iterator[tuple[int, list[list[str]]]]:
        """The records not read yet, in blocks of successive rows: the row of the first, and the records."""
        while self._load():
            first, block = self._first + self._next, self._block[self._next :]
            self._next = len(self._block)
            yield first, block

    def _load(self) -> bool:
        """Make sure that the present block has a record to give; False at the end of the file."""
        while self._next >= len(self._block):
            loaded = next(self._source, None)
            if loaded is None:
                return False
            self._first, self._block = loaded
            self._next = 0
        return True

    def _parse(self) -> Iterator[tuple[int, list[list[str]]]]:
        """Blocks of records: a line is a record until the file has a quote."""
        chunks = self._lines()
        row = 1
        for lines in chunks:
            if self._quoted:
                yield from self._parse_quoted(row, chain(lines, chain.from_iterable(chunks)))
                return
            reader = csv.reader(lines, delimiter=self.delimiter, strict=True)
            try:
                block = list(reader)
            except csv.Error as fault:
                raise self._broken(row + reader.line_num - 1, str(fault)) from None
            yield row, block
            row += len(lines)

    def _parse_quoted(self, first: int, lines: Iterator[str]) -> Iterator[tuple[int, list[list[str]]]]:
        """Records some at a time; one over several rows comes by itself. What stands before a fault is given first."""
        reader = csv.reader(lines, delimiter=self.delimiter, strict=True)
        block: list[list[str]] = []
        last = begin = 0
        broken: FileRefused | None = None
        try:
            for cells in reader:
                end = reader.line_num
                if end - last > 1:
                    if block:
                        yield first + begin, block
                    self._spans[first + last] = first + end - 1
                    yield first + last, [cells]
                    block, begin = [], end
                else:
                    block.append(cells)
                    if len(block) >= QUOTED_AT_ONCE:
                        yield first + begin, block
                        block, begin = [], end
                last = end
        except csv.Error as fault:
            broken = self._broken(first + last, str(fault))
        except FileRefused as fault:
            broken = fault
        if block:
            yield first + begin, block
        if broken is not None:
            raise broken

    def raw(self, row: int) -> bytes:
        """Bytes of the record that begins on a row, line ends inside it included, the one behind it not."""
        last = self._spans.get(row, row)
        lines = [self._line(number) for number in range(row, last + 1)]
        return b"".join(lines).rstrip(b"\r\n") if not self._wide else self._bare_wide(b"".join(lines))

    def span(self, row: int) -> int:
        """How many physical rows the record that begins on `row` takes."""
        return self._spans.get(row, row) - row + 1

    def forget(self, row: int) -> None:
        """Let the bytes of rows before this one go."""
        gone = bisect_right(self._starts, row) - 1
        if gone > 0:
            del self._starts[:gone]
            del self._pieces[:gone]

    def _line(self, row: int) -> bytes:
        first, lines = self._split
        if not first <= row < first + len(lines):
            at = max(bisect_right(self._starts, row) - 1, 0)
            first, lines = self._starts[at], self._cut(self._pieces[at])
            self._split = first, lines
        at = row - first
        return lines[at] if 0 <= at < len(lines) else b""

    def _cut(self, data: bytes) -> list[bytes]:
        """The lines of a chunk with their line ends."""
        if not self._wide:
            return data.splitlines(keepends=True)
        return [line.encode(self.encoding) for line in _text_lines(data.decode(self.encoding))]

    def _bare_wide(self, data: bytes) -> bytes:
        return data.decode(self.encoding).rstrip("\r\n").encode(self.encoding)

    def _lines(self) -> Iterator[list[str]]:
        """Lines of the file chunk by chunk, decoded strictly."""
        offset, row = self._skip, 1
        try:
            with self.path.open("rb") as stream:
                stream.seek(self._skip)
                for data in self._chunks(stream):
                    try:
                        text = data.decode(self.encoding)
                    except UnicodeDecodeError as fault:
                        raise self._not_text(data, fault, offset, row) from None
                    self._starts.append(row)
                    self._pieces.append(data)
                    self._quoted = self._quoted or '"' in text
                    if "\r" in text:
                        text = text.replace("\r\n", "\n").replace("\r", "\n")
                    lines = text.split("\n")
                    if not lines[-1]:
                        lines.pop()
                    offset += len(data)
                    row += len(lines)
                    # The reader needs line ends only to keep them inside quoted cells.
                    yield [line + "\n" for line in lines] if self._quoted else lines
        except OSError as fault:
            raise cannot_open(self.place, fault) from None

    def _chunks(self, stream: BinaryIO) -> Iterator[bytes]:
        """Pieces of whole lines; a Ctrl-Z that ends the file is left out."""
        rest = b""
        while True:
            block = stream.read(CHUNK)
            if not block:
                break
            rest += block
            cut = self._last_line_end(rest)
            if cut:
                yield rest[:cut]
                rest = rest[cut:]
            elif len(rest) > LONGEST_LINE:
                step = "Is it a text file with a row a line? Export it again."
                raise refuse(self.place, "FILE05", f"a line of more than {LONGEST_LINE} bytes", "shorter lines", step)
        if rest.rstrip(b"\r\n").endswith(_CTRL_Z):
            self.ended_by_ctrl_z = True
            rest = rest.rstrip(b"\r\n").rstrip(_CTRL_Z)
        if rest:
            yield rest

    def _last_line_end(self, data: bytes) -> int:
        """Where the last whole line ends; 0 where none does. A CR that ends the data may be half of a CR LF."""
        if self._wide:
            width = 4 if self.encoding.startswith("utf-32") else 2
            end = "\n".encode(self.encoding)
            at = data.rfind(end)
            while at >= 0 and at % width:
                at = data.rfind(end, 0, at + width - 1)
            return at + width if at >= 0 else 0
        cut = data.rfind(b"\n") + 1
        return cut or data.rfind(b"\r", 0, len(data) - 1) + 1

    def _not_text(self, data: bytes, fault: UnicodeDecodeError, offset: int, row: int) -> FileRefused:
        """The first byte that is no text in this encoding: offset in the file, row, column."""
        start = fault.start
        begin = max(data.rfind(b"\n", 0, start), data.rfind(b"\r", 0, start)) + 1
        row += len(data[:begin].splitlines()) if not self._wide else 0
        column = data[begin:start].count(self.delimiter.encode("ascii", "replace")) + 1
        seen = f"byte 0x{data[min(start, len(data) - 1)]:02X} at offset {offset + start} (row {row}, column {column})"
        step = "Say the file's encoding in the profile, [file] encoding, or export it anew in one encoding."
        cell = data.rfind(self.delimiter.encode("ascii", "replace"), begin, start) + 1
        near = data[max(cell, begin) : start + 12].decode("cp1252", "replace").split("\n")[0].strip()
        if not self._wide:
            step += f' Read as cp1252 it would be "{shown(near, 40)}".'
        return refuse(self.place, "FILE06", seen, f"text in {self.encoding} throughout", step)

    def _broken(self, row: int, reason: str) -> FileRefused:
        if "field limit" in reason:
            return refuse(self.place, "FILE05", f"a cell of more than {LONGEST_CELL} signs", "shorter cells",
                          "If a quote opened there is not closed, close it.", row)  # fmt: skip
        step = "Close the quote, or double it where it belongs to the text."
        return refuse(self.place, "FILE08", "a quote that opens here and is not closed before a delimiter",
                      "quotes in pairs", step, row)  # fmt: skip


def _text_lines(text: str) -> list[str]:
    """Lines of a text with their ends, cut at CR, LF and CR LF only."""
    out, at = [], 0
    while at < len(text):
        ends = [e for e in (text.find("\n", at), text.find("\r", at)) if e >= 0]
        end = min(ends) if ends else len(text) - 1
        if text[end : end + 2] == "\r\n":
            end += 1
        out.append(text[at : end + 1])
        at = end + 1
    return out


def decodes(data: bytes, encoding: str) -> bool:
    """Whether bytes are text in an encoding."""
    try:
        codecs.decode(data, encoding)
    except (UnicodeDecodeError, LookupError):
        return False
    return True
