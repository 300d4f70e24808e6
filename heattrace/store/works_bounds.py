"""What a works value may be: bounds of its numbers, and the words it may hold."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from heattrace.errors import WrongUsage

# Least and greatest; a pure part is one whose own heat is more than half of it everywhere.
_SHARE = (0.0, 1.0)
_BOUNDS: dict[str, tuple[float, float]] = {
    **dict.fromkeys(
        ("old-max", "step-min", "hold-reach", "hold-reach-chemistry", "scale-warn", "scale-distrust", "counter-error",
         "balance-band"),
        _SHARE,
    ),
    "pure-min": (0.5, 1.0),
    # Between the lightest cast iron and more than any steel: beyond lies a slip of the unit [t/m3].
    "density": (5.0, 10.0),
}  # fmt: skip


def check_number(name: str, number: float, text: str) -> None:
    """Refuse a number outside what the value can mean.

    Raises
    ------
    WrongUsage
        It is outside; the message says what was expected.
    """
    least, most = _BOUNDS.get(name, (0.0, 1e6))
    if name == "pure-min" and number == least:
        raise WrongUsage(f'{name}: found "{text}"; a share above {least:g}, up to {most:g}, was expected')
    if not least <= number <= most:
        raise WrongUsage(f'{name}: found "{text}"; a number from {least:g} to {most:g} was expected')


def check_words(name: str, words: Collection[str]) -> None:
    """Refuse a word a list value cannot hold, or one named twice.

    Raises
    ------
    WrongUsage
        A word is unknown or stands twice.
    """
    if len(set(words)) < len(words):
        raise WrongUsage(f'{name}: found "{", ".join(words)}"; each word once was expected')
    if name == "ladder":
        # check, control, product and tundish-early are left out on purpose: they never speak for a heat unasked.
        from heattrace.judging.ladder import RUNGS

        _known(name, words, RUNGS)
    if name == "event-wants-check":
        check_kinds(name, words)


def check_kinds(name: str, kinds: Iterable[str]) -> None:
    """Refuse an event kind the record has not.

    Raises
    ------
    WrongUsage
        A kind is unknown.
    """
    from heattrace.strand.event_kinds import EVENT_KINDS

    _known(name, kinds, EVENT_KINDS)


def check_elements(name: str, symbols: Iterable[str]) -> None:
    """Refuse a symbol that is no element of the record.

    Raises
    ------
    WrongUsage
        A symbol is unknown.
    """
    from heattrace.metallurgy.elements import ELEMENTS

    _known(name, symbols, ELEMENTS)


def check_liquidus(text: str) -> None:
    """Refuse a name that is no liquidus formula of this program.

    Raises
    ------
    WrongUsage
        There is none of that name.
    """
    from heattrace.metallurgy.registry import LIQUIDUS_NAMES

    _known("liquidus-formula", [text], LIQUIDUS_NAMES)


def _known(name: str, words: Iterable[str], known: Collection[str]) -> None:
    for word in words:
        if word not in known:
            raise WrongUsage(f'{name}: found "{word}"; of these was expected: {", ".join(known)}')
