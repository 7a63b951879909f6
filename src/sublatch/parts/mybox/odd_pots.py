"""Pots that facts ask for and that nobody sells."""

from __future__ import annotations

from collections.abc import Iterator
from math import log

from sublatch.circuit.components.sold import EASY_DUAL_POTS_OHM, EASY_POTS_OHM
from sublatch.circuit.components.tolerances import TRACK_SHARE
from sublatch.circuit.model import Circuit
from sublatch.parts.fit.fitting import value_at
from sublatch.parts.mybox.volume_fit import POT
from sublatch.units import format_ohms

FILTER_POT = "filter.pot.value"
POTS = {POT: ("volume", EASY_POTS_OHM), FILTER_POT: ("tone", EASY_DUAL_POTS_OHM)}
"""What may be fitted: its knob, and the values that are sold."""


def odd_pots(circuit: Circuit) -> Iterator[tuple[str, str]]:
    """Yield each fitted pot's dotted path whose track is none that is sold, as far off as tracks are, and why in words.

    Parameters
    ----------
    circuit
        The circuit, its values marked.
    """
    for path, (knob, sold) in POTS.items():
        if circuit.origins.get(path) != "fitted":
            continue
        ohm = float(value_at(circuit, path))
        pots = sorted({one for values in sold.values() for one in values})
        if any(abs(ohm / one - 1.0) <= TRACK_SHARE for one in pots):
            continue
        values = " and ".join(format_ohms(one) for one in _nearest(ohm, pots))
        made = format_ohms(float(f"{ohm:.3g}"))
        yield (
            path,
            f"the {knob} pot would have to be {made}, and none is sold that may measure so: nearest are {values}",
        )


def _nearest(ohm: float, pots: list[float]) -> list[float]:
    """Return the two pots that are nearest by ratio, the smaller one first."""
    return sorted(sorted(pots, key=lambda one: abs(log(one / ohm)))[:2])
