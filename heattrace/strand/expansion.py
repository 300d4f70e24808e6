"""Thermal expansion: hot metres against cold metres."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from heattrace.strand.record import CARBON_STEEL_EXPANSION, CastUnreadable


def carbon_steel(temperature_c: float) -> float:
    """Linear expansion of carbon steel from 20 degree C, as a fraction of the cold length.

    20 to 750: 1.2e-5 T + 0.4e-8 T^2 - 2.416e-4; 750 to 860: 0.011; 860 to 1200: 2e-5 T - 6.2e-3

    Parameters
    ----------
    temperature_c : float, [degree C]
        20 to 1200.

    Returns
    -------
    float, [-]

    Raises
    ------
    CastUnreadable
        Outside 20 to 1200 degree C the source gives no value.

    Notes
    -----
    Austenitic stainless steel expands more; a works that casts it needs its own set.

    Examples
    --------
    By hand at 900: 2e-5 x 900 - 6.2e-3 = 0.0118

    >>> round(carbon_steel(900.0), 7)
    0.0118

    References
    ----------
    EN 1993-1-2, thermal elongation of steel; read in a web copy, not in the standard itself.
    """
    if not 20.0 <= temperature_c <= 1200.0:
        raise CastUnreadable(
            f"cut temperature {temperature_c:g} degree C: the expansion formula holds from 20 to 1200; "
            "correct cut_temperature_c in the strands sheet"
        )
    if temperature_c < 750.0:
        return 1.2e-5 * temperature_c + 0.4e-8 * temperature_c**2 - 2.416e-4
    if temperature_c <= 860.0:
        return 0.011
    return 2e-5 * temperature_c - 6.2e-3


EXPANSION_SETS: Mapping[str, Callable[[float], float]] = MappingProxyType({CARBON_STEEL_EXPANSION: carbon_steel})
"""Expansion formulas by the name a rule set cites."""


def expansion(set_name: str, temperature_c: float) -> float:
    """Linear expansion [-] at a temperature by the named set. Raises CastUnreadable for an unknown set."""
    try:
        formula = EXPANSION_SETS[set_name]
    except KeyError:
        known = ", ".join(EXPANSION_SETS)
        raise CastUnreadable(f"expansion set {set_name!r} is not known; choose one of: {known}") from None
    return formula(temperature_c)


def cold_length(hot_m: float, strain: float) -> float:
    """Length at 20 degree C [m] of what measures `hot_m` at an expansion of `strain`.

    Examples
    --------
    By hand: 6.000 / 1.0118 = 5.93003

    >>> round(cold_length(6.0, 0.0118), 5)
    5.93003
    """
    return hot_m / (1.0 + strain)
