"""The mass balance of a sequence, heat by heat, computed from the recorded inputs in doubles."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from heattrace.findings import Finding
from heattrace.store.reader import Reader
from heattrace.store.recorded import TONNES, written
from heattrace.store.works import works_value, works_zone
from heattrace.strand.traced import HeatBalance, TracedPart
from heattrace.tracing import cast_questions as cq
from heattrace.tracing.cast_trace import TracedRecord, part_key, trace_record
from heattrace.tracing.qualities import qualities_of_parts
from heattrace.tracing.quality import RELEASED
from heattrace.tracing.sequences import kept_parts, sequence_key, weighed_masses
from heattrace.values import dataclass


@dataclass(frozen=True, slots=True)
class SequenceBalance:
    """`data` is the promised object."""

    data: dict[str, Any]
    findings: tuple[Finding, ...]


def balance_sequence(reader: Reader, number: str) -> SequenceBalance:
    """Where every heat of a sequence went [t], the runs' counters against measured lengths, and the yields.

    Raises
    ------
    NotFound
        There is no such sequence, or no cast book of it.
    CastUnreadable
        The record contradicts itself so far that nothing can be computed.
    """
    record = trace_record(reader, sequence_key(reader, number))
    balance = record.traced.balance
    heats = _Heats(reader, record)
    rows = [heats.row(each) for each in balance.heats]
    data = {
        "sequence_no": record.recorded.sequence_no,
        "heats": rows,
        "runs": [
            {
                "strand_no": run.strand_no,
                "run_no": run.run_no,
                "foreign_t": run.foreign_t,
                "counter_m": run.counter_m,
                "measured_m": run.measured_m,
                "scale": run.scale,
                "flag": run.flag,
            }
            for run in balance.runs
        ],
        "yield": {"strand": balance.strand_yield, "prime": balance.prime_yield(heats.released_t())},
        "reading_residual_t": dict(balance.reading_residual_t),
        "nominal_level": list(record.traced.nominal_tundishes),
    }
    zone = works_zone(reader)
    found = [*record.findings(zone), *record.rules.findings(record.recorded.sequence_no)]
    found += [
        Finding("balance-band", f"heat {row['heat_no']}", row["cause"], heats.wanted(row), "Look at it")
        for row in rows
        if row["cause"]
    ]
    return SequenceBalance(data, tuple(found))


class _Heats:
    """What was recorded of the masses of heats and parts, beside the balance of the model."""

    def __init__(self, reader: Reader, record: TracedRecord) -> None:
        self.record, self.reader = record, reader
        kept = kept_parts(reader, record)
        self.parts: dict[int, TracedPart] = {
            kept[key]: part for part in record.traced.parts if (key := part_key(part)) in kept
        }
        masses = weighed_masses(reader, (i for i, part in self.parts.items() if part.kind == "piece"))
        # Parts that share an interval have no mass of their own to compare with.
        self.weighed = {i: float(text) / 1000 for i, text in masses.items() if not self.parts[i].joined_cut_nos}
        self.share = float(works_value(reader, "balance-band"))
        keys = sorted(int(heat.heat_id) for heat in record.traced.heats)
        self.tapped = {
            row["heat_id"]: written(row["tapped_mass_g"], row["tapped_mass_text"], TONNES)
            for row in reader.by_keys(cq.TAPPED, keys)
        }

    def row(self, heat: HeatBalance) -> dict[str, Any]:
        """The promised object of one heat."""
        weighed, computed = self._weighed(heat)
        recorded, poured = self._recorded_pours(heat)
        band = None if weighed is None else self.share * computed
        return {
            "heat_no": self.record.traced.heat_no(heat.heat_id),
            "initial_t": heat.initial_t,
            "poured_t": heat.poured_t,
            "strand_t": heat.strand_t,
            "tundish_left_t": heat.tundish_left_t,
            "pieces_t": heat.pieces_t,
            "crops_t": heat.crops_t,
            "kerf_t": heat.kerf_t,
            "in_machine_t": heat.in_machine_t,
            "loss_t": heat.loss_t,
            "closure_t": heat.closure_t,
            "tapped_t": self.tapped.get(int(heat.heat_id)),
            "weighed_pieces_t": weighed,
            "band_t": band,
            "cause": self._cause(heat, weighed, computed, recorded, poured),
            "computed_of_weighed_t": computed if weighed is not None else None,
            "recorded_pours_t": recorded,
        }

    def wanted(self, row: Mapping[str, Any]) -> str:
        """The band in words: in tonnes where pieces were weighed, else as the share it is."""
        return f"within {self.share:.1%}" if row["band_t"] is None else f"within {row['band_t']:.3f} t"

    def _weighed(self, heat: HeatBalance) -> tuple[float | None, float]:
        """Tonnes of the heat in the weighed pieces, by scale (None: none was weighed) and by the model."""
        scale, model = [], []
        for part_id, mass in self.weighed.items():
            part = self.parts[part_id]
            share = part.share_of(heat.heat_id).mean
            scale.append(mass * share)
            model.append(part.mass_t * share)
        computed = math.fsum(model)
        return (math.fsum(scale) if computed > 0.0 else None), computed

    def _recorded_pours(self, heat: HeatBalance) -> tuple[float | None, float]:
        """Tonnes poured by the ladle's scale (None where any of its pours has none), and by the model."""
        pours = [pour for pour in self.record.traced.pours if pour.heat_id == heat.heat_id]
        scale = [pour.recorded_t for pour in pours if pour.recorded_t is not None]
        if not pours or len(scale) < len(pours):
            return None, heat.poured_t
        return math.fsum(scale), math.fsum(pour.computed_t for pour in pours)

    def _cause(
        self, heat: HeatBalance, weighed: float | None, computed: float, recorded: float | None, poured: float
    ) -> str | None:
        """In words what lies outside the band, with where to look; None where nothing does."""
        causes = []
        if weighed is not None and abs(weighed - computed) > self.share * computed:
            off = (weighed - computed) / computed
            causes.append(f"weighed pieces {off:+.1%} of computed: section, density, or the piece scale")
        if recorded is not None and recorded > 0.0 and abs(poured - recorded) > self.share * recorded:
            off = (poured - recorded) / recorded
            causes.append(f"computed pour {off:+.1%} of the ladle's scale: exchange time, tundish mass, or speeds")
        tapped = self.tapped.get(int(heat.heat_id))
        if tapped is not None and heat.initial_t + heat.poured_t > float(tapped) * (1.0 + self.share):
            causes.append(f"more poured than the {tapped} t tapped: tundish mass, speeds, or the tapped mass")
        return "; ".join(causes) or None

    def released_t(self) -> float:
        """Tonnes of pieces released for their requirement."""
        pieces = [i for i, part in self.parts.items() if part.kind == "piece" and not part.joined_cut_nos]
        found = qualities_of_parts(self.reader, pieces)
        return math.fsum(self.parts[i].mass_t for i in pieces if found[i].value == RELEASED)
