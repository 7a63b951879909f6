"""What is sold, of capacitors, resistors and pots, and what of it is hard to buy. Common practice, no source.

Shops for builders carry dual-gang pots in a few values, linear and log; a reverse-log one in fewer still. What is not
here can be had somewhere, for more money or in large numbers.
"""

from __future__ import annotations

from sublatch.circuit.components.pots import AUDIO_MIDPOINT, Taper
from sublatch.units import format_ohms

CAPACITOR_SERIES = ("E3", "E6", "E12", "E24")
"""Capacitors are not sold in finer series."""
USUAL_CAPACITORS, USUAL_RESISTORS = "E12", "E24"
"""The series that are in every assortment."""
LEAST_FARAD, MOST_FARAD = 220e-12, 1e-6
"""Smaller capacitors vanish in a board's strays, larger ones are no small film capacitors."""
DUAL_POTS_OHM = (
    *(4.7e3, 5e3, 10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3),
    *(200e3, 220e3, 250e3, 470e3, 500e3, 1e6),
)
"""Pots that are sold with two gangs: 1-2-5, 1-2.2-4.7 and 2.5, from 4.7 kΩ to 1 MΩ."""
EASY_POTS_OHM: dict[Taper, tuple[float, ...]] = {
    "linear": (10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 200e3, 220e3, 250e3, 470e3, 500e3, 1e6),
    "log": (10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 200e3, 220e3, 250e3, 470e3, 500e3, 1e6),
    "reverse-log": (10e3, 25e3, 50e3, 100e3, 250e3, 500e3, 1e6),
}
"""Pots with one gang that are easily bought, by taper."""
EASY_DUAL_POTS_OHM: dict[Taper, tuple[float, ...]] = {
    "linear": (10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 220e3, 250e3, 470e3, 500e3, 1e6),
    "log": (10e3, 20e3, 22e3, 25e3, 47e3, 50e3, 100e3, 220e3, 250e3, 470e3, 500e3, 1e6),
    "reverse-log": (10e3, 50e3, 100e3),
}
"""The same with two gangs."""
MIDPOINTS = (0.10, AUDIO_MIDPOINT, 0.20)
"""Shares of a log track at half rotation that pots are sold with, some from memory; not every maker says which."""
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
    if taper != "linear" and not MIDPOINTS[0] <= midpoint <= MIDPOINTS[-1]:
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
