"""Find the header of a table and say which of our columns each of theirs is. Names are compared, never guessed."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from heattrace.errors import FileRefused
from heattrace.findings import Finding
from heattrace.intake.profiles.kinds import Column
from heattrace.intake.profiles.profile import MappedColumn, Profile, SheetMap
from heattrace.intake.reading.contents import ELEMENT_WORDS, UNIT_WORDS, element_of
from heattrace.intake.reading.faults import Place, refusal, refuse, shown

DELIMITERS = (",", ";", "\t", "|")
_LOOK_ALIKE = str.maketrans(
    "АВСЕНІЈКМОРЅТХУавсеіјкорѕхуԁһпмԝΑΒΕΖΗΙΚΜΝΟΡΤΥΧονριαε", "ABCEHIJKMOPSTXYaBceijkopsxydhnmwABEZHIKMNOPTYXovpiae"
)
_HIDDEN = str.maketrans(dict.fromkeys("\u00ad\u200b\u200c\u200d\u2060\ufeff"))


@dataclass(frozen=True, slots=True)
class Resolved:
    """One column of the file: where it stands, its header as written, and what it is for us.

    Exactly one of `column` and `element` is set for a column that is read; both are None for one left out, and for the
    one that tells burns from means (`is_line`). `unit` is the file's where the profile or the element says it.
    """

    index: int
    header: str
    column: Column | None = None
    element: str | None = None
    unit: str | None = None
    is_line: bool = False


@dataclass(slots=True)
class Layout:
    """A header understood: its row, its texts, its columns, and sentences for the slip."""

    row: int
    header: tuple[str, ...]
    columns: list[Resolved]
    notes: list[str] = field(default_factory=list)
    unnamed: list[int] = field(default_factory=list)

    @property
    def width(self) -> int:
        """Number of cells a row has to have."""
        return len(self.header)

    def of(self, name: str) -> Resolved | None:
        """The file's column for one of our names."""
        return next((r for r in self.columns if r.column is not None and r.column.name == name), None)

    @property
    def line(self) -> int | None:
        """Where the column stands that tells burns from means."""
        return next((r.index for r in self.columns if r.is_line), None)

    @property
    def elements(self) -> list[Resolved]:
        """The element columns of a row-a-sample file."""
        return [r for r in self.columns if r.element is not None]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a table must and may have: our columns, those without which it is refused, whether elements are columns."""

    columns: Mapping[str, Column]
    must: tuple[str, ...]
    elements: bool = False


def clean(name: str) -> str:
    """A header's text for comparing: breaks, odd blanks and signs that do not show evened out."""
    return " ".join(unicodedata.normalize("NFC", name.translate(_HIDDEN)).split())


class HeaderReader:
    """Reads headers for one profile and table."""

    def __init__(self, profile: Profile, sheet: SheetMap, wanted: Wanted, place: Place) -> None:
        self.profile, self.sheet, self.wanted, self.place = profile, sheet, wanted, place
        self.mapped: Mapping[str, MappedColumn] = {clean(k): v for k, v in sheet.columns.items()}
        self.elements = {clean(k): v for k, v in profile.elements.items()} if wanted.elements else {}
        self.ignored = {clean(k) for k in sheet.ignore}
        self.line = clean(profile.rows.column) if profile.rows else None
        self.faults: list[Finding] = []

    def find(self, first: Sequence[tuple[int, list[str]]]) -> Layout:
        """Choose the header among the first rows and read it.

        Raises
        ------
        FileRefused
            None is one; or with all faults of the one chosen: unknown, double, missing, look-alike columns.
        """
        scored = [(self._known(cells), -at, row, cells) for at, (row, cells) in enumerate(first)]
        if not scored:
            raise refuse(self.place, "FILE09", "no rows", "a header", "Export it again.")
        known, _, row, cells = max(scored, key=lambda s: (s[0], s[1]))
        self._check_delimiter(first, known)
        if known == 0 or (known < 2 and len(self.wanted.must) > 2):
            raise self._none_found(first)
        layout = self._read(row, cells)
        if self.faults:
            raise refusal(self.faults)
        above = sum(1 for at, texts in first if at < row and any(texts))
        if row > 1:
            layout.notes.insert(
                0, f"header taken from row {row}" + (f"; {above} rows above it left out" if above else "")
            )
        return layout

    def _known(self, cells: Iterable[str]) -> int:
        return sum(1 for cell in cells if self._is_known(clean(cell)))

    def _is_known(self, name: str) -> bool:
        if name in self.mapped or name in self.elements or name in self.wanted.columns or name == self.line:
            return True
        return self.wanted.elements and element_of(name) is not None

    def _check_delimiter(self, first: Sequence[tuple[int, list[str]]], known: int) -> None:
        """Refuse a file whose rows fall apart only at another delimiter."""
        own = self.profile.delimiter
        for row, cells in first:
            line = own.join(cells)
            for other in DELIMITERS:
                parts = line.split(other)
                if other != own and len(parts) > 2 and self._known(p.strip('" ') for p in parts) > max(known, 1):
                    seen = f"cells parted by {_sign(other)}"
                    said = "\\t" if other == "\t" else other
                    step = f'Say [file] delimiter = "{said}" in a profile of this source.'
                    raise refuse(self.place, "FILE07", seen, f"cells parted by {_sign(own)}", step, row)

    def _none_found(self, first: Sequence[tuple[int, list[str]]]) -> FileRefused:
        row, cells = next(((row, cells) for row, cells in first if any(cells)), first[0])
        names = ", ".join(self._their_names()[:8])
        within = self.profile.header_within
        if any(shape := self._look_alike(clean(c), row, at) for at, c in enumerate(cells)) and shape:
            return refusal([shape])
        is_there = shown(" | ".join(cells), 80)
        seen = f'no header of profile {self.profile.name} within {within} rows; row {row} is "{is_there}"'
        step = "Is it another source's file? Name its profile, or make one with: heattrace profile draft FILE"
        return refuse(self.place, "FILE09", seen, f"a row with {names}", step)

    def _their_names(self) -> list[str]:
        theirs = {m.column: name for name, m in self.mapped.items()}
        return [theirs.get(name, name) for name in self.wanted.must if name not in self.sheet.constants]

    def _read(self, row: int, cells: list[str]) -> Layout:
        layout = Layout(row, tuple(cells), [])
        seen: dict[str, int] = {}
        for index, text in enumerate(cells):
            name = clean(text)
            if not name:
                layout.unnamed.append(index)
                layout.columns.append(Resolved(index, text))
                continue
            if name != text.strip():
                layout.notes.append(f'header "{shown(text)}" read as "{name}"')
            if name in seen and name not in self.ignored:
                self._fault(
                    "FILE10",
                    row,
                    name,
                    f"it in columns {seen[name] + 1} and {index + 1}",
                    "each column once",
                    "Which of the two counts? Export it again with each name once.",
                )
                continue
            seen[name] = index
            found = self._resolve(index, text, name, row, layout)
            if found is not None:
                layout.columns.append(found)
        if layout.unnamed:
            layout.notes.append("columns without a name left out: " + ", ".join(str(i + 1) for i in layout.unnamed))
        self._check_doubles(layout)
        self._check_missing(layout)
        return layout

    def _resolve(self, index: int, text: str, name: str, row: int, layout: Layout) -> Resolved | None:
        is_line = name == self.line
        if (target := self.mapped.get(name)) is not None and target.column in self.wanted.columns:
            return Resolved(index, text, self.wanted.columns[target.column], unit=target.unit, is_line=is_line)
        if (element := self.elements.get(name)) is not None:
            return Resolved(index, text, element=element.element, unit=element.unit or self._unit_of_all())
        if is_line:
            return Resolved(index, text, is_line=True)
        if name in self.ignored or (name.startswith("Unnamed") and name.removeprefix("Unnamed").strip(": ").isdigit()):
            layout.notes.append(f'column "{shown(text)}" left out')
            return Resolved(index, text)
        if name in self.wanted.columns:
            return Resolved(index, text, self.wanted.columns[name])
        if self.wanted.elements and (symbol := element_of(name)) is not None:
            return self._own_element(index, text, name, symbol, row, layout)
        self._unknown(name, row, index)
        return None

    def _unit_of_all(self) -> str:
        return self.sheet.constants.get("unit", "%")

    def _own_element(self, index: int, text: str, name: str, symbol: str, row: int, layout: Layout) -> Resolved | None:
        """An element column that the profile does not map: our own name, in mass %; bare Al only in our own files."""
        if name == "Al" and not self.profile.ours:
            step = (
                '[elements] "Al" = { element = "Al", form = "total", unit = "%" } or form = "soluble" in the profile.'
            )
            self._fault("FILE14", row, text, "aluminium, total or soluble not said", "to know which", step)
            return None
        unit = self._unit_of_all()
        if name != symbol:
            layout.notes.append(f'column "{shown(text)}" read as {symbol}')
        elif not self.profile.ours:
            layout.notes.append(f'column "{shown(text)}" read as {symbol} in {unit}: the profile does not map it')
        return Resolved(index, text, element=symbol, unit=unit)

    def _unknown(self, name: str, row: int, index: int) -> None:
        if (alike := self._look_alike(name, row, index)) is not None:
            self.faults.append(alike)
            return
        known = [*self.mapped, *self.elements, *self.wanted.columns]
        known += [*ELEMENT_WORDS] if self.wanted.elements else []
        near = [k for k in known if k.lower() == name.lower()] or difflib.get_close_matches(name, known, 1, 0.75)
        if self.wanted.elements and not near and len(name) <= 2 and element_of(name.capitalize()):
            near = [name.capitalize()]
        meant = f"Did you mean {near[0]}? Letter case counts. " if near else ""
        step = f"{meant}Map it in the profile, or list it under [ignore] columns."
        self._fault("FILE11", row, name, f"an unknown column, number {index + 1}", "the profile's columns only", step)

    def _look_alike(self, name: str, row: int, index: int) -> Finding | None:
        if name.isascii():
            return None
        plain = clean(unicodedata.normalize("NFKC", name).translate(_LOOK_ALIKE))
        if plain == name or not self._is_known(plain):
            return None
        signs = [s for s in name if not s.isascii()]
        named = ", ".join(f"U+{ord(s):04X} {unicodedata.name(s, 'without a name')}" for s in dict.fromkeys(signs))
        seen = f'"{shown(name)}" (column {index + 1}) with {named}'
        step = "Have the header typed anew in the source; it only looks right."
        return Finding("FILE13", self.place.at(row, name), seen, f'"{plain}" in plain letters', step)

    def _check_doubles(self, layout: Layout) -> None:
        """Two of theirs for one of ours, or a column beside a constant."""
        taken: dict[str, Resolved] = {}
        for found in layout.columns:
            ours = found.element or (found.column.name if found.column else None)
            if ours is None:
                continue
            if ours in taken:
                seen = f"{ours} in two columns, {taken[ours].index + 1} and {found.index + 1}"
                step = "Say in the profile which one counts, and list the other under [ignore] columns."
                self._fault("FILE10", layout.row, found.header, seen, "one column for it", step)
            elif ours in self.sheet.constants:
                seen = f'{ours} in the file and as a constant "{self.sheet.constants[ours]}" in the profile'
                self._fault("FILE10", layout.row, found.header, seen, "one of the two", "Take the constant out.")
            taken[ours] = found

    def _check_missing(self, layout: Layout) -> None:
        theirs = {m.column: name for name, m in self.mapped.items()}
        for name in self.wanted.must:
            if layout.of(name) is None and name not in self.sheet.constants:
                call = theirs.get(name, name)
                seen = f"no column {call}" + ("" if call == name else f" ({name})")
                step = "Export it with this column, or map the right one in the profile."
                self.faults.append(Finding("FILE12", self.place.at(layout.row), seen, f"a column {call}", step))
        if self.wanted.elements and not layout.elements and not self.faults:
            self.faults.append(
                Finding(
                    "FILE12",
                    self.place.at(layout.row),
                    "no element column",
                    "columns such as C, Mn, P",
                    "Name the element columns under [elements] of a profile of this source.",
                )
            )
        if self.line is not None and not any(r.is_line for r in layout.columns):
            seen = f"no column {self.line} ([rows] column of the profile)"
            step = "Export it with this column, or take [rows] out of the profile."
            self.faults.append(Finding("FILE12", self.place.at(layout.row), seen, f"a column {self.line}", step))

    def _fault(self, code: str, row: int, column: str, seen: str, wanted: str, step: str) -> None:
        self.faults.append(Finding(code, self.place.at(row, column), seen, wanted, step))

    def unit_row(self, layout: Layout, row: int, cells: list[str]) -> bool:
        """Whether a row holds units only; refused where it contradicts the profile.

        Raises
        ------
        FileRefused
            A unit there is not the one the profile says.
        """
        words = [(index, cell.strip().strip("[]()").strip()) for index, cell in enumerate(cells) if cell.strip()]
        by_index = {r.index: r for r in layout.columns}
        if not words or not any(by_index[i].element for i, _ in words if i in by_index):
            return False
        if not all(word in UNIT_WORDS for _, word in words):
            return False
        for index, word in words:
            found = by_index.get(index)
            if found is not None and found.element and _unit(UNIT_WORDS[word]) != _unit(found.unit or "%"):
                step = "Say the right unit in the profile, [elements]."
                raise refuse(
                    self.place, "FILE19", f"unit {word}", f"{found.unit}, as the profile says", step, row, found.header
                )
        layout.notes.append(f"row {row} holds units; they agree with the profile")
        return True


def _unit(unit: str) -> str:
    return {"mass %": "%", "mg/kg": "ppm"}.get(unit, unit)


def _sign(delimiter: str) -> str:
    return "a tab" if delimiter == "\t" else f'"{delimiter}"'
