"""What is easily bought and what is hard to buy, of pots and resistors. Common practice, no source.

Shops for builders carry dual-gang pots in a few values, linear and log; a reverse-log one in fewer still. What is not
here can be had somewhere, for more money or in large numbers.
"""

from __future__ import annotations

from sublatch.circuit.components.pots import Taper
from sublatch.units import format_ohms

EASY_POTS_OHM: dict[Taper, tuple[float, ...]] = {
    "linear": (10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 200e3, 220e3, 250e3, 470e3, 500e3, 1e6),
    "log": (10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 200e3, 220e3, 250e3, 470e3, 500e3, 1e6),
    "reverse-log": (10e3, 25e3, 50e3, 100e3, 250e3, 500e3, 1e6),
}
"""Pots with one gang, by taper."""
EASY_DUAL_POTS_OHM: dict[Taper, tuple[float, ...]] = {
    "linear": (10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 220e3, 250e3, 470e3, 500e3, 1e6),
    "log": (10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 220e3, 250e3, 470e3, 500e3, 1e6),
    "reverse-log": (10e3, 50e3, 100e3),
}
"""Pots with two gangs."""
LEAST_MIDPOINT, MOST_MIDPOINT = 0.10, 0.20
"""Shares of a log track at half rotation that pots are sold with; not every maker says which."""
LEAST_OHM, MOST_OHM = 100.0, 1e6
"""Resistors of 100 Ω to 1 MΩ are in every assortment; the others are fewer, noisier or worse in tolerance."""
SAME = 1e-6
"""Values nearer than this share are one."""


def hard_pot(ohm: float, *, taper: Taper, midpoint: float, gangs: int = 1) -> str | None:
    """Return why a pot is hard to buy, in words; None where it is not.

    Parameters
    ----------
    ohm
        Its track.
    taper, midpoint
        Its taper, and for the log ones the share of its track at half rotation.
    gangs
        How many tracks one shaft turns.
    """
    kind = f"a {format_ohms(ohm)} {'dual-gang ' if gangs == 2 else ''}{taper} pot"
    if gangs > 2:
        return f"a pot with {gangs} gangs"
    easy = (EASY_DUAL_POTS_OHM if gangs == 2 else EASY_POTS_OHM)[taper]
    if all(abs(ohm / one - 1.0) > SAME for one in easy):
        return kind
    if taper != "linear" and not LEAST_MIDPOINT <= midpoint <= MOST_MIDPOINT:
        return f"{kind} with {100 * midpoint:g} % at half rotation"
    return None


def hard_resistor(ohm: float) -> str | None:
    """Return why a resistor is hard to buy, in words; None where it is not.

    Parameters
    ----------
    ohm
        Its value.
    """
    return None if LEAST_OHM * (1.0 - SAME) <= ohm <= MOST_OHM * (1.0 + SAME) else f"a {format_ohms(ohm)} resistor"
