"""The invented laboratory: the true composition of each heat, and what each instrument makes of it.

Places, lower limits and scatter of the instruments are of a plausible size (common practice), not any instrument's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from heattrace.demo.cast_book import tapped_at
from heattrace.demo.casting import Cast, Shares
from heattrace.demo.plant import AIMS, HeatPlan
from heattrace.demo.scatter import scatter, stream
from heattrace.demo.table import Table, instant, table

Steel = Mapping[str, float]

LADLE_BENCH = "Quillmere ladle bench"
MAIN = "Quillmere steel laboratory"

SPARK_ELEMENTS = ("C", "Si", "Mn", "P", "S", "Cr", "Mo", "Ni", "Al", "Cu", "Nb", "V", "Ti", "Sn", "B", "Ca")
LADLE_ELEMENTS = ("C", "Si", "Mn", "P", "S", "Cr", "Mo", "Ni", "Al", "Cu", "Nb", "V", "Ti", "Sn")

# How far the melt shop misses its aim, mass %.
_HEAT_SCATTER: Mapping[str, float] = {
    "C": 0.0025, "Si": 0.009, "Mn": 0.013, "P": 0.0009, "S": 0.0008, "Cr": 0.008, "Mo": 0.002, "Ni": 0.007,
    "Al": 0.0014, "Cu": 0.014, "N": 0.0004, "O": 0.0002, "Nb": 0.0001, "V": 0.0004, "Ti": 0.0003, "Sn": 0.0009,
    "B": 0.00002, "Ca": 0.0002,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Scale:
    """Decimals in mass %, lower limit of what is reported as a number (0: none), and scatter of one run, mass %."""

    decimals: int
    least: float
    deviation: float


_SPARK: Mapping[str, Scale] = {
    "C": Scale(3, 0, 0.0014), "Si": Scale(3, 0, 0.0015), "Mn": Scale(3, 0, 0.003), "P": Scale(4, 0, 0.0002),
    "S": Scale(4, 0, 0.0002), "Cr": Scale(3, 0, 0.0016), "Mo": Scale(3, 0.002, 0.0006), "Ni": Scale(3, 0, 0.001),
    "Al": Scale(4, 0, 0.0004), "Cu": Scale(3, 0, 0.001), "Nb": Scale(4, 0.001, 0.0001), "V": Scale(4, 0.001, 0.0001),
    "Ti": Scale(4, 0.001, 0.0001), "Sn": Scale(4, 0.002, 0.0002), "B": Scale(4, 0.0003, 0.00002),
    "Ca": Scale(4, 0.0003, 0.0001),
}  # fmt: skip

# Two instruments speak for carbon; on this heat the combustion line read high, mass %.
CARBON_IN_DISPUTE = ("25R045", 0.027)
# Nitrogen of this heat was reported again, weeks later, from a second run: first and amended, mg/kg.
AMENDED_NITROGEN = ("25R053", 94, 126)
# Heat number as typed by the sampler, and the heat meant: one in the ladle file, one in the gas file.
MISTYPED_LADLE = ("25R024", "25R042")
MISTYPED_GAS = ("25RO50", "25R050")
# This late disc was burned twice and nobody pressed the key for the mean.
WITHOUT_MEAN = "25R046"
_CONTROL: Steel = {
    "C": 0.205, "Si": 0.262, "Mn": 1.120, "P": 0.0152, "S": 0.0201, "Cr": 0.251, "Mo": 0.052, "Ni": 0.103, "Al": 0.031,
    "Cu": 0.122, "Nb": 0.021, "V": 0.0312, "Ti": 0.0105, "Sn": 0.0121, "B": 0.0011, "Ca": 0.0009,
}  # fmt: skip


def true_steel(heat: HeatPlan, seed: int) -> dict[str, float]:
    """What a heat is really made of, mass %."""
    rng = stream(seed, heat.heat_no, "melt")
    return {
        element: max(aim + heat.shift.get(element, 0.0) + scatter(rng, _HEAT_SCATTER[element]), aim / 2)
        for element, aim in AIMS[heat.grade].items()
    }


def blend(shares: Shares, steels: Iterable[Steel]) -> dict[str, float]:
    """Steel mixed of several heats by mass."""
    mixed: dict[str, float] = {}
    for share, steel in zip(shares, steels, strict=True):
        for element, content in steel.items():
            mixed[element] = mixed.get(element, 0.0) + share * content
    return mixed


def reported(content: float, scale: Scale) -> str:
    """A content as the instrument prints it: `<` and its lower limit below that."""
    if content < scale.least:
        return f"<{scale.least:.{scale.decimals}f}"
    return f"{max(content, 0.0):.{scale.decimals}f}"


def _spark(steel: Steel, elements: Iterable[str], rng: Random, sharpness: float = 1.0) -> dict[str, float]:
    return {e: steel[e] + scatter(rng, _SPARK[e].deviation * sharpness) for e in elements}


@dataclass(frozen=True, slots=True)
class Disc:
    """A tundish sample: number, kind, when it was taken, what it is made of and what the ladle still held, t."""

    heat: HeatPlan
    sample_id: str
    kind: str
    taken_at: datetime
    steel: Steel
    ladle_left_t: float


@dataclass(frozen=True, slots=True)
class Laboratory:
    """The laboratory over the casts of the week."""

    casts: tuple[Cast, ...]
    seed: int

    def discs(self) -> Iterator[Disc]:
        """Tundish samples: a steady one of each heat, a late one of the last heat of each cast."""
        for cast in self.casts:
            steels = [true_steel(h, self.seed) for h in cast.plan.heats]
            for k, heat in enumerate(cast.plan.heats):
                wanted = [("TS1", "TS", 0.65)] + ([("TL1", "TL", 0.93)] if k == len(steels) - 1 else [])
                pour = cast.pours[k]
                tundish = next(t for t in cast.tundishes if t.label == pour.tundish)
                for tag, kind, share in wanted:
                    second = cast.poured(k, share) // 60 * 60
                    taken = cast.plan.at(second)
                    left = heat.tapped_t * (1 - (second - pour.opened_s) / (pour.closed_s - pour.opened_s))
                    mixed = blend(tundish.at(second)[1], steels)
                    yield Disc(heat, f"{heat.heat_no}-{tag}", kind, taken, mixed, left)

    def ladle_file(self) -> Table:
        """Spark bench at the ladle station, a row a sample, mass %; one heat number is mistyped."""
        rng = stream(self.seed, "ladle bench")
        rows: list[dict[str, str]] = []
        for cast in self.casts:
            for k, heat in enumerate(cast.plan.heats):
                steel, tapped = true_steel(heat, self.seed), tapped_at(cast, k)
                final = cast.plan.at(cast.pours[k].opened_s).replace(second=0) - timedelta(minutes=22)
                early = dict(steel) | {
                    "C": steel["C"] * 0.9, "Si": steel["Si"] * 0.7, "Mn": steel["Mn"] * 0.78, "S": steel["S"] + 0.006,
                    "Al": steel["Al"] * 1.15, "Cr": steel["Cr"] * 0.97,
                }  # fmt: skip
                for tag, kind, moment, made_of in (
                    ("LA1", "ladle-arrival", tapped + timedelta(minutes=12), early),
                    ("LF1", "ladle-final", final, steel),
                ):
                    typed = MISTYPED_LADLE[0] if (heat.heat_no, tag) == (MISTYPED_LADLE[1], "LF1") else heat.heat_no
                    values = _spark(made_of, LADLE_ELEMENTS, rng)
                    rows.append(
                        {
                            "heat_no": typed, "sample_id": f"{heat.heat_no}-{tag}", "sample_kind": kind,
                            "taken_at": instant(moment), "analysed_at": instant(moment + timedelta(minutes=5)),
                            "method": "spark-emission", "instrument": "SP-1", "laboratory": LADLE_BENCH,
                        }
                        | {e: reported(v, _SPARK[e]) for e, v in values.items()}
                    )  # fmt: skip
        rows.sort(key=lambda row: row["analysed_at"])
        header = "heat_no sample_id sample_kind taken_at analysed_at method instrument laboratory"
        return table("ladle", f"{header} {' '.join(LADLE_ELEMENTS)}", rows)

    def spark_file(self) -> Table:
        """Main spark bench: burns, mean and deviation of each disc, controls between; decimal commas."""
        rng = stream(self.seed, "main bench")
        header = "Heat Probe Kind Line Taken Read Ladle_t " + " ".join(SPARK_ELEMENTS) + " Operator"
        rows: list[dict[str, str]] = []
        discs = sorted(self.discs(), key=lambda d: d.taken_at)
        for day in sorted({d.taken_at.date() for d in discs}):
            first = next(d.taken_at for d in discs if d.taken_at.date() == day).replace(minute=2)
            rows += self._run(rng, "", f"RM-17-{day:%m%d}", "KP", None, first - timedelta(hours=1), _CONTROL, "")
            for disc in (d for d in discs if d.taken_at.date() == day):
                read = disc.taken_at + timedelta(minutes=9 + rng.randrange(4))
                rows += self._run(
                    rng, disc.heat.heat_no, disc.sample_id, disc.kind, disc.taken_at, read, disc.steel,
                    f"{disc.ladle_left_t:.0f}", mean=not (disc.heat.heat_no == WITHOUT_MEAN and disc.kind == "TL"),
                )  # fmt: skip
        return table("spark", header, rows)

    def _run(
        self, rng: Random, heat: str, probe: str, kind: str, taken: datetime | None, read: datetime, steel: Steel,
        left: str, mean: bool = True,
    ) -> list[dict[str, str]]:  # fmt: skip
        own = {
            "Heat": heat, "Probe": probe, "Kind": kind, "Ladle_t": left,
            "Operator": ("mk", "ro", "js")[rng.randrange(3)],
            "Taken": taken.strftime("%d.%m.%Y %H:%M") if taken else "",
        }  # fmt: skip
        level = _spark(steel, SPARK_ELEMENTS, rng, 0.6)
        burns = [_spark(level, SPARK_ELEMENTS, rng, 0.6) for _ in range(2)]
        lines = [("1", read, burns[0]), ("2", read + timedelta(minutes=1), burns[1])]
        if mean:
            middle = {e: (burns[0][e] + burns[1][e]) / 2 for e in SPARK_ELEMENTS}
            lines.append(("Mean", read + timedelta(minutes=1), middle))
        rows = [
            own
            | {"Line": line, "Read": at.strftime("%d.%m.%Y %H:%M")}
            | {e: reported(v, _SPARK[e]).replace(".", ",") for e, v in values.items()}
            for line, at, values in lines
        ]
        if mean:
            apart = {e: abs(burns[0][e] - burns[1][e]) / 2**0.5 for e in SPARK_ELEMENTS}
            rows.append(
                own
                | {"Line": "Dev", "Read": rows[-1]["Read"]}
                | {e: f"{v:.{_SPARK[e].decimals}f}".replace(".", ",") for e, v in apart.items()}
            )
        return rows

    def combustion_file(self) -> Table:
        """Carbon and sulphur by combustion on the steady discs, a row a result."""
        rng = stream(self.seed, "combustion")
        rows: list[dict[str, str]] = []
        for disc in self.discs():
            if disc.kind != "TS":
                continue
            bias = CARBON_IN_DISPUTE[1] if disc.heat.heat_no == CARBON_IN_DISPUTE[0] else 0.0
            for element, content, decimals, deviation in (
                ("C", disc.steel["C"] + bias, 3, 0.0012),
                ("S", disc.steel["S"], 4, 0.0001),
            ):
                rows.append(
                    {
                        "heat_no": disc.heat.heat_no, "sample_id": disc.sample_id, "sample_kind": "tundish-steady",
                        "taken_at": instant(disc.taken_at),
                        "analysed_at": instant(disc.taken_at + timedelta(minutes=34)), "method": "combustion-infrared",
                        "instrument": "CS-1", "laboratory": MAIN, "element": element,
                        "value": f"{content + scatter(rng, deviation):.{decimals}f}", "unit": "%",
                    }
                )  # fmt: skip
        header = "heat_no sample_id sample_kind taken_at analysed_at method instrument laboratory element value unit"
        return table("combustion", header, rows)

    def gas_file(self) -> Table:
        """Nitrogen and oxygen by fusion, mg/kg, which the bench calls ppm; one heat number is mistyped."""
        rng = stream(self.seed, "gas")
        rows: list[dict[str, str]] = []
        for disc in self.discs():
            if disc.kind != "TS":
                continue
            heat = MISTYPED_GAS[0] if disc.heat.heat_no == MISTYPED_GAS[1] else disc.heat.heat_no
            nitrogen = disc.steel["N"] * 1e4 + scatter(rng, 1.0)
            if heat == AMENDED_NITROGEN[0]:
                nitrogen = AMENDED_NITROGEN[1]
            rows.append(_gas_row(disc, heat, len(rows) + 1, disc.taken_at + timedelta(minutes=51), nitrogen, rng))
        return table("gas", _GAS_HEADER, rows)

    def amended_file(self) -> Table:
        """The second nitrogen run of one heat, which takes the place of the first."""
        rng = stream(self.seed, "gas again")
        rows = self.gas_file().by_name()
        first = next(row for row in rows if row["Heat"] == AMENDED_NITROGEN[0])
        disc = next(d for d in self.discs() if d.heat.heat_no == AMENDED_NITROGEN[0] and d.kind == "TS")
        again = (disc.taken_at + timedelta(days=15)).replace(hour=10, minute=17)
        row = _gas_row(disc, first["Heat"], 61, again, AMENDED_NITROGEN[2], rng)
        return table("gas", _GAS_HEADER, [row | {"Replaces": first["Report"]}])

    def piece_file(self, drillings: Iterable[tuple[str, str, str]]) -> Table:
        """Samples cut from pieces, a row a sample, mass %; `drillings` are piece, end and sample kind.

        Each stands under the heat that has the greater share at that end.
        """
        rng = stream(self.seed, "pieces")
        rows: list[dict[str, str]] = []
        for number, (piece_no, end, kind) in enumerate(drillings):
            cast, part = next((c, p) for c in self.casts for p in c.parts if p.piece_no == piece_no)
            shares = part.head if end == "head" else part.tail
            heat = cast.plan.heats[max(range(len(shares)), key=lambda k: shares[k])]
            mixed = blend(shares, [true_steel(h, self.seed) for h in cast.plan.heats])
            taken = (cast.plan.first_open + timedelta(days=1)).replace(hour=9, minute=10 + 5 * number)
            values = _spark(mixed, LADLE_ELEMENTS, rng)
            rows.append(
                {
                    "heat_no": heat.heat_no, "sample_id": f"{piece_no}-{end[0].upper()}", "sample_kind": kind,
                    "taken_at": instant(taken), "analysed_at": instant(taken + timedelta(minutes=95)),
                    "method": "spark-emission", "instrument": "SP-2", "piece_no": piece_no, "piece_end": end,
                    "laboratory": MAIN,
                }
                | {e: reported(v, _SPARK[e]) for e, v in values.items()}
            )  # fmt: skip
        header = "heat_no sample_id sample_kind taken_at analysed_at method instrument piece_no piece_end laboratory"
        return table("pieces", f"{header} {' '.join(LADLE_ELEMENTS)}", rows)


_GAS_HEADER = "Heat Sample Kind Run Report Replaces N_ppm O_ppm"


def _gas_row(disc: Disc, heat: str, number: int, run: datetime, nitrogen: float, rng: Random) -> dict[str, str]:
    oxygen = max(disc.steel["O"] * 1e4 + scatter(rng, 1.5), 0.0)
    return {
        "Heat": heat, "Sample": disc.sample_id, "Kind": disc.kind, "Run": run.strftime("%Y-%m-%d %H:%M"),
        "Report": f"G25-{400 + number}", "N_ppm": f"{nitrogen:.0f}", "O_ppm": "<15" if oxygen < 15 else f"{oxygen:.0f}",
    }  # fmt: skip
