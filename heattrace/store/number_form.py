"""The form in which numbers of the plant are searched, beside the form in which they were written."""

from __future__ import annotations

# Signs that do not show: soft hyphen, zero-width spaces and joiners, word joiner, byte-order mark.
_HIDDEN = str.maketrans(dict.fromkeys("\u00ad\u200b\u200c\u200d\u2060\ufeff"))
_DASHES = str.maketrans(dict.fromkeys("‐‑‒–—―−﹘﹣－", "-"))


def searched(text: str) -> str:
    """The form in which a number is searched: outer blanks, letter case, sorts of dashes, hidden signs evened out.

    Leading zeros stay. The outcome is never longer in meaning than what was typed: nothing is guessed.

    >>> searched("  41878 "), searched("s300\\u20131\\u200b-07"), searched("240 -  a")
    ('41878', 'S300-1-07', '240 - A')
    """
    if text.isascii():
        return " ".join(text.split()).upper()
    import unicodedata

    even = unicodedata.normalize("NFKC", text.translate(_HIDDEN)).translate(_DASHES)
    return " ".join(even.split()).upper()
