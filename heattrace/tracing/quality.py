"""Quality: may a heat or a part be used, and for what. Computed on reading from decisions, holds and the cast.

Values from best to worst: released, undecided, held, rejected. The quality of a part for a requirement is the worst of
its own, of its heats (undecided or rejected), and of every hold that reaches it. Nothing here reads a database.

- A release stands only while no hold was placed after it: a lifted hold leaves `undecided`, never `released`.
- A part has its own `undecided` where it is a transition or undetermined, where an event that wants a check marks it,
  where its own product analysis fails, or where a hold on it was lifted; only a decision on that very part for that
  requirement ends it.
- Its heats are those whose largest share in it reaches a floor; a hold on a heat reaches it from the same floor, a
  hold with a chemistry reason from a floor of its own or where the estimated composition fails because of that heat.
  A hold that lies on a heat and does not reach a part leaves that part as if it were not there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Protocol

from heattrace.values import dataclass

RELEASED, UNDECIDED, HELD, REJECTED = "released", "undecided", "held", "rejected"
WORST: dict[str, int] = {RELEASED: 0, UNDECIDED: 1, HELD: 2, REJECTED: 3}

# States of a hold that bar; `proposed` and `turned-down` never did.
BARRING = ("placed", "under-check")
_REJECTING = ("reject", "scrap")

MILLION = 1_000_000


def is_chemistry(reason: str) -> bool:
    """Whether a reason code is one of chemistry, which reaches by share or by composition."""
    return reason.startswith(("CHEM-", "SAMPLE-")) or reason == "BURN-SCATTER"


class Uses(Protocol):
    """A requirement by name: its text, and the text of its grade edition, which a hold for the whole grade names."""

    @property
    def text(self) -> str:
        """`ORDER/LINE` or `STANDARD:EDITION GRADE`."""

    @property
    def grade(self) -> str:
        """`STANDARD:EDITION GRADE`."""


@dataclass(frozen=True, slots=True)
class LaidHold:
    """A hold as it lies on one subject.

    `requirement` None bars all uses; `placed_no` is the ledger entry that placed it, None while it is only proposed;
    `scope` says in words what it lies on.
    """

    hold_no: str
    reason: str
    requirement: str | None
    state: str
    placed_no: int | None
    scope: str

    def bars(self, uses: Uses | None) -> bool:
        """Whether it is about these uses at all."""
        if self.requirement is None:
            return True
        return uses is not None and self.requirement in (uses.text, uses.grade)


@dataclass(frozen=True, slots=True)
class Made:
    """A decision on one subject; `entry_no` is its ledger entry."""

    decision_no: str
    kind: str
    qualifier: str
    requirement: str
    entry_no: int
    by: str
    signed: bool = False


@dataclass(frozen=True, slots=True)
class SteelOfHeat:
    """What stands on a heat itself."""

    heat_id: int
    heat_no: str
    decisions: tuple[Made, ...] = ()
    holds: tuple[LaidHold, ...] = ()


@dataclass(frozen=True, slots=True)
class SteelOfPart:
    """What stands on a part itself. `shares` are (heat_id, largest share anywhere in it, millionths); `wants` are the
    (kind, words) that give it its own undecided: `transition`, `undetermined`, `event` or `product`. Where
    `shares_known` is False the shares are not recorded and stand at the whole."""

    part_id: int
    shares: tuple[tuple[int, int], ...] = ()
    wants: tuple[tuple[str, str], ...] = ()
    decisions: tuple[Made, ...] = ()
    holds: tuple[LaidHold, ...] = ()
    shares_known: bool = True

    def share_words(self, greatest: int) -> str:
        """A largest share in words."""
        return f"largest share {_share(greatest)}" if self.shares_known else "share not recorded"


@dataclass(frozen=True, slots=True)
class Reach:
    """Floors of the largest share, millionths, from which a heat counts and its holds reach a part."""

    general: int = 10_000
    chemistry: int = 50_000


@dataclass(frozen=True, slots=True)
class Cause:
    """One reason of a quality.

    `kind` is hold, lifted, rejected, transition, undetermined, event, product, heat, decision or none; `ref` names a
    record.
    """

    kind: str
    value: str
    words: str
    ref: str = ""


@dataclass(frozen=True, slots=True)
class Quality:
    """A quality and why, the deciding causes first."""

    value: str
    causes: tuple[Cause, ...]

    @property
    def because(self) -> str:
        """The deciding causes in words."""
        return "; ".join(cause.words for cause in self.deciding())

    def deciding(self) -> tuple[Cause, ...]:
        """The causes that are as bad as the quality itself."""
        return tuple(cause for cause in self.causes if cause.value == self.value)

    def kinds(self) -> frozenset[str]:
        """Kinds of the deciding causes."""
        return frozenset(cause.kind for cause in self.deciding())


FailsBecauseOf = Callable[[int, int, Uses], "bool | None"]
"""(part_id, heat_id, uses) -> whether the estimated composition fails because of that heat; None: not known."""


def _worst(causes: Sequence[Cause]) -> Quality:
    ranked = sorted(causes, key=lambda cause: -WORST[cause.value])
    return Quality(ranked[0].value, tuple(ranked))


def _share(millionths: int) -> str:
    return f"{millionths / MILLION:.6f}".rstrip("0").rstrip(".")


def _latest(decisions: Sequence[Made], uses: Uses | None) -> Made | None:
    made = [d for d in decisions if uses is not None and d.requirement == uses.text]
    return max(made, key=lambda d: d.entry_no, default=None)


def _by(made: Made) -> str:
    sign = "signed" if made.signed else "unsigned"
    qualifier = f" {made.qualifier}" if made.qualifier and made.qualifier != "as-ordered" else ""
    return f"{made.decision_no}, {made.by}, {sign}{qualifier}"


def _own(subject: str, uses: Uses | None, decisions: Sequence[Made], holds: Sequence[LaidHold]) -> list[Cause]:
    """What decisions and holds on one subject say: its latest decision or the lifted hold after it, all open holds."""
    about = [h for h in holds if h.placed_no is not None and h.bars(uses)]
    causes = [
        Cause("hold", HELD, f"{h.hold_no} ({h.reason}) lies on {h.scope}", h.hold_no)
        for h in about
        if h.state in BARRING
    ]
    made = _latest(decisions, uses)
    after = [h for h in about if made is None or (h.placed_no or 0) > made.entry_no]
    lifted = [h for h in after if h.state == "lifted"]
    if made is not None and made.kind in _REJECTING:
        causes.append(Cause("rejected", REJECTED, f"{subject} was rejected by {_by(made)}", made.decision_no))
    elif lifted:
        words = f"{lifted[-1].hold_no} was lifted and {subject} is not decided anew"
        causes.append(Cause("lifted", UNDECIDED, words, lifted[-1].hold_no))
    elif made is not None and made.kind == "release":
        if not after:
            words = f"{subject} is released for {made.requirement} by {_by(made)}"
            causes.append(Cause("decision", RELEASED, words, made.decision_no))
    elif made is not None:
        words = f"{subject}: {made.kind} by {_by(made)}, to be decided anew"
        causes.append(Cause("decision", UNDECIDED, words, made.decision_no))
    return causes


def quality_of_heat(uses: Uses | None, heat: SteelOfHeat) -> Quality:
    """Quality of a heat for a requirement; without one it is at best undecided."""
    subject = f"heat {heat.heat_no}"
    causes = _own(subject, uses, heat.decisions, heat.holds)
    if not any(cause.kind in ("decision", "rejected", "lifted") for cause in causes):
        causes.append(Cause("none", UNDECIDED, _nothing_decided(subject, uses)))
    return _worst(causes)


def _nothing_decided(subject: str, uses: Uses | None) -> str:
    return f"{subject} has no requirement" if uses is None else f"{subject} is not decided for {uses.text}"


def quality_of_part(
    uses: Uses | None,
    part: SteelOfPart,
    heats: Mapping[int, SteelOfHeat],
    reach: Reach,
    fails_because_of: FailsBecauseOf | None = None,
) -> Quality:
    """Quality of a part for a requirement; without one it is at best undecided."""
    causes = _own("the part", uses, part.decisions, part.holds)
    if not any(cause.kind == "decision" for cause in causes):
        causes += [Cause(kind, UNDECIDED, words) for kind, words in part.wants]
    if uses is None:
        words = "the part has no requirement: it bears no order, and no one grade is planned for its heats"
        causes.append(Cause("none", UNDECIDED, words))
    for heat_id, greatest in part.shares:
        heat = heats[heat_id]
        reaching = {}
        for hold in heat.holds:
            said = _reaches(hold, uses, part, heat_id, greatest, reach, fails_because_of)
            if said:
                reaching[hold.hold_no] = said
                words = f"{hold.hold_no} ({hold.reason}) on heat {heat.heat_no} reaches the part: {said}"
                causes.append(Cause("hold", HELD, words, hold.hold_no))
        if greatest >= reach.general:
            share = f"{part.share_words(greatest)}, counts from {_share(reach.general)}"
            causes += _of_heat(uses, heat, share, reaching)
    if not part.shares:
        causes.append(Cause("none", UNDECIDED, "no heat of the part is recorded"))
    return _worst(causes)


def _of_heat(uses: Uses | None, heat: SteelOfHeat, share: str, reaching: Mapping[str, str]) -> list[Cause]:
    """What a heat's own decision says of a part with a share of it."""
    subject = f"heat {heat.heat_no}"
    holds = [h for h in heat.holds if h.state not in BARRING or h.hold_no in reaching]
    said = [c for c in _own(subject, uses, heat.decisions, holds) if c.kind != "hold"]
    if not said and uses is not None:
        said = [Cause("none", UNDECIDED, _nothing_decided(subject, uses))]
    return [
        Cause("heat", c.value, c.words if c.value == RELEASED else f"{c.words} ({share})", c.ref or heat.heat_no)
        for c in said
    ]


def _reaches(
    hold: LaidHold,
    uses: Uses | None,
    part: SteelOfPart,
    heat_id: int,
    greatest: int,
    reach: Reach,
    fails_because_of: FailsBecauseOf | None,
) -> str:
    """Why a hold on a heat reaches a part with that largest share of it; empty where it does not."""
    if hold.placed_no is None or hold.state not in BARRING or not hold.bars(uses):
        return ""
    floor = reach.chemistry if is_chemistry(hold.reason) else reach.general
    share = part.share_words(greatest)
    if greatest >= floor:
        return f"{share}, reaches from {_share(floor)}"
    if is_chemistry(hold.reason) and uses is not None and fails_because_of is not None:
        fails = fails_because_of(part.part_id, heat_id, uses)
        if fails is None and greatest >= reach.general:
            return f"{share}, and the composition of the part is not known"
        if fails:
            return f"{share}, and the estimated composition fails because of it"
    return ""
