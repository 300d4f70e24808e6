"""Samples and analyses the record holds already, looked up for some analyses of a file at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from heattrace.intake.loading.analysis_pack import Packed, Reported, ResultPacker
from heattrace.metallurgy.elements import ELEMENTS
from heattrace.store.reader import Reader, Row

_SAMPLES = """
SELECT s.sample_key, s.sample_id, s.heat_id, s.kind, s.taken_at, s.tundish, s.strand_no, s.position_text,
  s.ladle_mass_left_text, s.part_id, s.piece_end, h.heat_no
FROM sample s LEFT JOIN heat h ON h.heat_id = s.heat_id WHERE {live:s} AND s.sample_id IN (%s) ORDER BY s.sample_key
"""
_ANALYSES = """
SELECT a.analysis_id, a.sample_key, a.method, a.instrument, a.analysed_at, a.state FROM analysis a
WHERE {live:a} AND a.profile = :profile AND a.sample_key IN ({keys}) ORDER BY a.analysis_id
"""
_RESULTS = """
SELECT r.analysis_id, r.element_id, r.value_ppb, r.form_id, t.reported FROM result r
LEFT JOIN result_text t ON t.analysis_id = r.analysis_id AND t.element_id = r.element_id
WHERE r.analysis_id IN ({keys})
"""
_BURNS = "SELECT analysis_id, burn_no, written, packed FROM burn WHERE analysis_id IN ({keys}) ORDER BY burn_no"

Identity = tuple[int, str, str, int]


@dataclass(slots=True)
class KnownSample:
    """A sample of the record, or one about to be written; heat None is a reference material or unknown."""

    sample_key: int
    heat_id: int | None
    kind: str
    heat_no: str | None
    particulars: dict[str, Any]


@dataclass(slots=True)
class KnownAnalysis:
    """An analysis of the record, or one about to be written, with its results as they are stored.

    `pack` makes them where they were not given; it is asked when they are.
    """

    analysis_id: int
    state: str
    given: dict[int, Packed] = field(default_factory=dict)
    burns: list[tuple[str, bytes]] = field(default_factory=list)
    pack: Callable[[], dict[int, Packed]] | None = None

    @property
    def stored(self) -> dict[int, Packed]:
        """The results by number of the element."""
        if self.pack is not None:
            self.given, self.pack = self.pack(), None
        return self.given

    def results(self, packer: ResultPacker) -> dict[str, Reported]:
        """What it reports, by element."""
        return {ELEMENTS[element - 1]: packer.reported(*packed) for element, packed in self.stored.items()}


def in_lots(values: Iterable[str], size: int = 400) -> Iterator[tuple[str, dict[str, str]]]:
    """Texts as the inside of an SQL list and its parameters, some hundred at a time."""
    wanted = sorted(set(values))
    for start in range(0, len(wanted), size):
        lot = wanted[start : start + size]
        yield ",".join(f":n{i}" for i in range(len(lot))), {f"n{i}": value for i, value in enumerate(lot)}


PARTICULARS = (
    "taken_at", "tundish", "strand_no", "position_text", "ladle_mass_left_text", "part_id", "piece_end",
)  # fmt: skip


def samples_by_number(reader: Reader, numbers: Iterable[str]) -> dict[str, list[KnownSample]]:
    """Samples of the record by their number as searched."""
    found: dict[str, list[KnownSample]] = {}
    for marks, values in in_lots(numbers):
        for row in reader.all(_SAMPLES.replace("%s", marks), **values):
            sample = KnownSample(
                row["sample_key"], row["heat_id"], row["kind"], row["heat_no"], {n: row[n] for n in PARTICULARS}
            )
            found.setdefault(row["sample_id"], []).append(sample)
    return found


def analyses_by_identity(reader: Reader, profile: str, wanted: set[Identity]) -> dict[Identity, list[KnownAnalysis]]:
    """Live analyses of those identities (sample, method, instrument, moment), the undisputed one first."""
    found: dict[Identity, list[KnownAnalysis]] = {}
    by_key: dict[int, KnownAnalysis] = {}
    for row in reader.by_keys(_ANALYSES, sorted({identity[0] for identity in wanted}), profile=profile):
        identity = (row["sample_key"], row["method"], row["instrument"], row["analysed_at"])
        if identity in wanted:
            known = KnownAnalysis(row["analysis_id"], row["state"])
            by_key[known.analysis_id] = known
            found.setdefault(identity, []).append(known)
    _fill(reader, by_key)
    for same in found.values():
        same.sort(key=lambda known: known.state == "contested")
    return found


def _fill(reader: Reader, by_key: dict[int, KnownAnalysis]) -> None:
    keys = sorted(by_key)
    for row in reader.by_keys(_RESULTS, keys):
        packed = Packed(row["value_ppb"], row["form_id"], row["reported"])
        by_key[row["analysis_id"]].stored[row["element_id"]] = packed
    for row in reader.by_keys(_BURNS, keys):
        by_key[row["analysis_id"]].burns.append((row["written"], row["packed"]))


def later_states(reader: Reader, analysis_id: int) -> list[Row]:
    """States an analysis was given after it came in."""
    return reader.all(
        "SELECT t.state, t.reason, t.note FROM analysis_state t WHERE {live:t} AND t.analysis_id = :key "
        "ORDER BY t.analysis_state_id",
        key=analysis_id,
    )
