"""The rule ladder that chooses which analysis speaks for a heat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, Context, Decimal
from types import MappingProxyType

from heattrace.findings import Finding
from heattrace.judging.cast_choice import AnalysisFacts, CastChoice, Pick, SampleFacts
from heattrace.metallurgy.amount import NOT_REPORTED, Amount
from heattrace.metallurgy.elements import REPORT_ORDER
from heattrace.values import dataclass, field

# `tundish-early` is no rung: it is taken while steel of the heat before is still in the tundish. `product` is none
# either: it serves only by a person's choice with a reason.
RUNGS: tuple[str, ...] = ("tundish-steady", "tundish-late", "mould", "ladle-final")
LADLE_RUNGS = frozenset({"ladle-final"})
GAS_ELEMENTS: tuple[str, ...] = ("N", "O", "H")

# Which method speaks first where two report an element (common practice: combustion for C and S, fusion for the gases,
# for spark emission has a quantitative range that ends above many nitrogen and low-carbon contents). A name also stands
# for its kinds: `combustion` covers `combustion-infrared`.
_WET = ("combustion", "fusion", "inert-gas-fusion", "hot-extraction", "spark-emission")
METHOD_PRECEDENCE: Mapping[str, tuple[str, ...]] = MappingProxyType(dict.fromkeys(("C", "S", "N", "O", "H"), _WET))

WHY_NOT: Mapping[str, str] = MappingProxyType(
    {
        "tundish-early": "is mixed with the steel of the heat before",
        "product": "serves only by a person's choice with a reason",
        "transition-product": "lies in a transition",
        "gas": "gives N, O and H only",
        "degasser": "was taken before the ladle left treatment",
        "check": "belongs to the customer's side",
        "referee": "serves only by agreement",
        "control": "is a reference material",
    }
)


@dataclass(frozen=True, slots=True)
class Ladder:
    """Rungs from first to last choice, and the order of methods by element; `edition` is that of the works value."""

    rungs: tuple[str, ...] = RUNGS
    method_precedence: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: METHOD_PRECEDENCE)
    edition: str = "1"
    # Difference of two methods on one sample that is still agreement, mass %; without one the reported digits decide.
    critical: Mapping[str, Decimal] = field(default_factory=lambda: MappingProxyType({}))

    def rank(self, element: str, method: str) -> int:
        """Place of a method in the order for an element; methods it does not name come last, alike."""
        order = self.method_precedence.get(element, ())
        for place, name in enumerate(order):
            if method == name or method.startswith(f"{name}-"):
                return place
        return len(order)


def choose_cast_analysis(
    samples: Sequence[SampleFacts], ladder: Ladder | None = None, *, heat_no: str = ""
) -> CastChoice:
    """Choose the cast analysis of one heat.

    The base is the valid analysis that reports most elements, the latest of equals, of the sample on the highest rung
    that has one: on a tundish or mould rung the sample taken first, on a ladle rung the one taken last, and only where
    nothing was added after it. Elements the base lacks come from another valid analysis of the same sample, then N, O
    and H from a gas sample. Where two valid analyses of the sample report an element, the method that stands first in
    the ladder speaks, of one method the latest run; where they differ, a finding says so. Contested, doubtful,
    set-aside, superseded and merely received analyses are never taken.
    """
    rules = ladder or Ladder()
    words: list[str] = []
    findings: list[Finding] = []
    base_sample = _climb(samples, rules, heat_no, words, findings)
    if base_sample is None:
        return CastChoice(heat_no, {}, "", tuple(words), tuple(findings))
    valid = _valid(base_sample)
    base = max(valid, key=lambda a: (len(_reported(a)), *_analysed(a)))
    rung = rules.rungs.index(base_sample.kind) + 1
    words.append(
        f"rung {rung} of ladder edition {rules.edition}: analysis {base.analysis_no} ({base.method}) "
        f"of sample {base_sample.sample_id} ({base_sample.kind})"
    )
    _warn_of_doubt(base_sample, heat_no, findings)
    picks = _picks_of_sample(base_sample, base, valid, rules, heat_no, words, findings)
    _add_gases(picks, samples, rules, words)
    ordered = {e: picks[e] for e in REPORT_ORDER if e in picks}
    return CastChoice(heat_no, ordered, base_sample.kind, tuple(words), tuple(findings))


def _climb(
    samples: Sequence[SampleFacts], rules: Ladder, heat_no: str, words: list[str], findings: list[Finding]
) -> SampleFacts | None:
    if not samples:
        words.append("no cast analysis: the heat has no sample")
        return None
    for kind in rules.rungs:
        rung = sorted((s for s in samples if s.kind == kind), key=_taken)
        if kind in LADLE_RUNGS:
            rung.reverse()
        usable = []
        for sample in rung:
            reason = _unusable(sample)
            if reason:
                words.append(f"sample {sample.sample_id} ({kind}) not taken: {reason}")
                _warn_of_doubt(sample, heat_no, findings)
            else:
                usable.append(sample)
            if kind in LADLE_RUNGS:
                break  # an earlier ladle sample never speaks for what the last one cannot
        if usable:
            others = [s.sample_id for s in usable[1:]]
            if others:
                words.append(f"also on that rung, not used: {', '.join(others)}")
            return usable[0]
    for sample in samples:
        if sample.kind not in rules.rungs:
            reason = WHY_NOT.get(sample.kind, "is no rung of the ladder")
            words.append(f"sample {sample.sample_id} not taken: a {sample.kind} sample {reason}")
    words.append("no cast analysis: no rung of the ladder has a sound sample with a valid analysis")
    return None


def _taken(sample: SampleFacts) -> tuple[str, str]:
    return (sample.taken_at or "", sample.sample_id)


def _analysed(analysis: AnalysisFacts) -> tuple[str, int]:
    return (analysis.analysed_at or "", analysis.analysis_id)


def _valid(sample: SampleFacts) -> list[AnalysisFacts]:
    """Valid analyses that report anything, earliest first."""
    return sorted((a for a in sample.analyses if a.state == "valid" and _reported(a)), key=_analysed)


def _reported(analysis: AnalysisFacts) -> list[str]:
    return [element for element, amount in analysis.results.items() if amount.qualifier != NOT_REPORTED]


def _unusable(sample: SampleFacts) -> str:
    if not sample.sound:
        return "it is condemned"
    if not _valid(sample):
        states = ", ".join(f"{a.analysis_no} is {a.state}" for a in sample.analyses if a.state != "valid")
        return f"no valid analysis ({states})" if states else "no valid analysis"
    if sample.kind in LADLE_RUNGS and sample.additions_after:
        return "something was added to the ladle after it"
    if sample.kind in LADLE_RUNGS and sample.additions_after is None:
        return "it is not known whether anything was added after it"
    return ""


def _warn_of_doubt(sample: SampleFacts, heat_no: str, findings: list[Finding]) -> None:
    findings.extend(
        Finding(
            "CHEM-DISAGREE",
            f"heat {heat_no}, analysis {analysis.analysis_no}",
            f"{analysis.state} on sample {sample.sample_id} ({sample.kind}), passed over",
            "a settled analysis on that rung",
            _say_which(heat_no),
        )
        for analysis in sample.analyses
        if analysis.state in ("contested", "doubtful")
    )


def _say_which(heat_no: str) -> str:
    return f'say why it may go: "heattrace release {heat_no} --despite CHEM-DISAGREE --note TEXT"'


def _picks_of_sample(
    sample: SampleFacts,
    base: AnalysisFacts,
    valid: Sequence[AnalysisFacts],
    rules: Ladder,
    heat_no: str,
    words: list[str],
    findings: list[Finding],
) -> dict[str, Pick]:
    picks: dict[str, Pick] = {}
    told: dict[str, list[str]] = {}
    for element in REPORT_ORDER:
        speakers = [a for a in valid if element in a.results and a.results[element].qualifier != NOT_REPORTED]
        if not speakers:
            continue
        # Latest first among equals.
        best = min(reversed(speakers), key=lambda a: rules.rank(element, a.method))
        amount = best.results[element]
        rule = "base" if best is base else "same-sample"
        others = [a for a in speakers if a is not best]
        critical = rules.critical.get(element)
        differing = [a for a in others if not agree(amount, a.results[element], critical)]
        if differing:
            seen = "; ".join(f"{a.method} {a.results[element].shown()} ({a.analysis_no})" for a in [best, *differing])
            words.append(f"{element} is doubtful: {seen}; {best.method} speaks by the order of methods")
            findings.append(
                Finding(
                    "CHEM-DISAGREE",
                    f"heat {heat_no}, sample {sample.sample_id}, {element}",
                    seen,
                    "analyses of one sample that agree",
                    f"{_say_which(heat_no)}, or set the works value critical-difference",
                )
            )
        elif best is not base:
            told.setdefault(_why_not_base(element, best, base, rules), []).append(element)
        picks[element] = _pick(sample, best, rule, amount)
    words += [f"{', '.join(elements)} from {why}" for why, elements in told.items()]
    return picks


def _why_not_base(element: str, best: AnalysisFacts, base: AnalysisFacts, rules: Ladder) -> str:
    source = f"{best.analysis_no} ({best.method})"
    if element not in _reported(base):
        return f"{source} of the same sample: the base has none"
    if rules.rank(element, best.method) < rules.rank(element, base.method):
        return f"{source}, which stands before {base.method}"
    return f"{source}, the later run"


def _pick(sample: SampleFacts, analysis: AnalysisFacts, rule: str, amount: Amount) -> Pick:
    return Pick(
        analysis.analysis_no, analysis.analysis_id, sample.sample_id, sample.kind, analysis.method, rule, amount
    )


def _add_gases(picks: dict[str, Pick], samples: Sequence[SampleFacts], rules: Ladder, words: list[str]) -> None:
    """N, O and H that the chosen sample does not report, from the gas sample taken last."""
    gas = sorted((s for s in samples if s.kind == "gas" and s.sound), key=_taken, reverse=True)
    for element in GAS_ELEMENTS:
        if element in picks:
            continue
        for sample in gas:
            speakers = [
                a for a in _valid(sample) if element in a.results and a.results[element].qualifier != NOT_REPORTED
            ]
            if speakers:
                best = min(reversed(speakers), key=lambda a: rules.rank(element, a.method))
                picks[element] = _pick(sample, best, "gas-sample", best.results[element])
                words.append(f"{element} from {best.analysis_no} ({best.method}) of gas sample {sample.sample_id}")
                break


def agree(first: Amount, second: Amount, critical: Decimal | None = None) -> bool:
    """Whether two reports of one content say the same: within a critical difference, else as far as their digits go.

    Without a critical difference two values agree where the finer, rounded half to even to the places of the coarser,
    equals it; with `<` or `>` they agree where one content can satisfy both.

    >>> from heattrace.metallurgy.amount import read_amount
    >>> agree(read_amount("0.18"), read_amount("0.182")), agree(read_amount("0.183"), read_amount("0.176"))
    (True, False)
    >>> agree(read_amount("<0.002"), read_amount("0.0015")), agree(read_amount("<0.002"), read_amount("0.003"))
    (True, False)
    >>> agree(read_amount("0.183"), read_amount("0.176"), Decimal("0.010"))
    True
    """
    if first.qualifier == "=" == second.qualifier:
        one, two = _value(first), _value(second)
        if critical is not None:
            return abs(one - two) <= critical
        places = max(_exponent(one), _exponent(two))
        step = Decimal(1).scaleb(places)
        return one.quantize(step, ROUND_HALF_EVEN, _EXACT) == two.quantize(step, ROUND_HALF_EVEN, _EXACT)
    return _below(first, second) and _below(second, first)


_EXACT = Context(prec=60)


def _value(amount: Amount) -> Decimal:
    return amount.value if amount.value is not None else Decimal(0)


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


def _below(first: Amount, second: Amount) -> bool:
    """Whether the least content of one report lies at or below the greatest of the other."""
    low, high = first.low(), second.high()
    return low is None or high is None or low <= high
