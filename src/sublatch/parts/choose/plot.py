"""A picture of chosen parts: the filter at both ends of its knob and switch, and how far boards differ around it."""

from __future__ import annotations

from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.model import Circuit
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.choose.choice import MeasuredSet
from sublatch.parts.tolerance import BAND_BOARDS, Wanted, spread
from sublatch.pictures.responses import Curve, responses_png


def chosen_png(chosen: MeasuredSet, tolerances: Tolerances, *, software: str = "") -> bytes:
    """Return a PNG picture of what a set of parts gives, with the band that holds nine boards of ten.

    Parameters
    ----------
    chosen
        The set of parts.
    tolerances
        Tolerances of the parts.
    software
        What the file shall say that it was made by.
    """
    return responses_png(chosen_curves(chosen, tolerances), software=software)


def chosen_curves(chosen: MeasuredSet, tolerances: Tolerances) -> list[Curve]:
    """Return the curves that `chosen_png` draws: one for each end of the knob in each position of the switch."""
    curves = []
    for setting in chosen.settings:
        circuit = _at(chosen.circuit, setting.wanted)
        around = spread(
            circuit,
            tolerances=tolerances,
            boards=BAND_BOARDS,
            wanted=(Wanted(circuit.tone, circuit.peak, None, 0.0),),
        )
        name = "as built" if circuit.tone is None else f"tone {circuit.tone:g}, {circuit.peak}"
        curves.append(Curve(name, response(circuit), around))
    return curves


def _at(circuit: Circuit, wanted: Wanted) -> Circuit:
    """Return a circuit with its tone knob and peak switch where a corner was asked for."""
    if wanted.tone is None:
        return circuit
    return with_settings(circuit, {"knobs.tone": wanted.tone, "switches.peak": wanted.peak})
