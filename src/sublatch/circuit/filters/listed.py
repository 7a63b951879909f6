"""Any filter as a list of its parts: what stands for a kind of filter that nobody has drawn."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.filters.kinds import Filter, OwnNetwork
from sublatch.circuit.filters.own_network import (
    OwnCapacitor,
    OwnOpAmp,
    OwnPart,
    OwnResistor,
    OwnRheostat,
    OwnSwitchedCapacitor,
)
from sublatch.circuit.networks.elements import Capacitor, OpAmp, Part, Resistor
from sublatch.errors import CircuitError

LEAST_END_OHM = 0.1
"""The least that a circuit file may list."""
TONES = (FULL_TURN, 0.0, FULL_TURN / 2)
"""Positions that tell a gang of the pot from a fixed resistor; at the first nothing is left of its track."""


def listed_parts(chosen: Filter) -> tuple[OwnPart, ...]:
    """Return the parts of a filter as a circuit file would list them, from node ``in`` to node ``out``.

    Parameters
    ----------
    chosen
        A filter of any kind. A resistor that its tone knob moves must be a gang of its pot and an end resistor.

    Raises
    ------
    CircuitError
        When a part moves with the tone knob in another way.
    """
    if isinstance(chosen, OwnNetwork):
        return chosen.parts
    flat, peaked = ([chosen.network(tone=tone, peak=peak).parts for tone in TONES] for peak in ("flat", "peaked"))
    pots = tone_pots(chosen)
    return tuple(
        _listed(chosen.kind, at, switched, pots[0] if pots else None)
        for at, switched in zip(zip(*flat, strict=True), peaked[0], strict=True)
    )


def _listed(kind: str, at: tuple[Part, ...], switched: Part, pot: Pot | None) -> OwnPart:
    """Return one part as a file lists it, from what it is along the travel of the knob and with the switch thrown."""
    part = at[0]
    if isinstance(part, OpAmp):
        return OwnOpAmp(part="op-amp", name=part.name, plus=part.plus, minus=part.minus, output=part.output)
    if isinstance(part, Capacitor):
        assert isinstance(switched, Capacitor)
        if part == switched:
            return OwnCapacitor(part="capacitor", name=part.name, value=part.farad, between=part.nodes)
        both = SwitchedCapacitor(flat=part.farad, peaked=switched.farad)
        return OwnSwitchedCapacitor(part="switched-capacitor", name=part.name, value=both, between=part.nodes)
    if all(one == part for one in at):
        return OwnResistor(part="resistor", name=part.name, value=part.ohm, between=part.nodes)
    moved = [one.ohm - part.ohm for one in at if isinstance(one, Resistor)]
    if pot is None or not np.allclose(moved, [pot.resistances(tone)[1] for tone in TONES]):
        raise CircuitError(
            f"a filter without a drawing is listed part by part, and {part.name!r} of a {kind!r} one "
            "is neither fixed nor a gang of its pot"
        )
    return OwnRheostat(
        part="rheostat", name=part.name, pot=pot, end_resistor=max(part.ohm, LEAST_END_OHM), between=part.nodes
    )


def tone_pots(chosen: Filter) -> tuple[Pot, ...]:
    """Return the pots that the tone knob turns, one for each gang that has a track of its own."""
    if isinstance(chosen, OwnNetwork):
        return tuple(part.pot for part in chosen.parts if isinstance(part, OwnRheostat))
    return tuple(value for name in type(chosen).model_fields if isinstance(value := getattr(chosen, name), Pot))


def with_tone_pots(chosen: Filter, changes: Mapping[str, Any]) -> Filter:
    """Return a filter with the settings in `changes` in every pot that the tone knob turns."""
    if isinstance(chosen, OwnNetwork):
        parts = tuple(
            part.model_copy(update={"pot": part.pot.model_copy(update=changes)})
            if isinstance(part, OwnRheostat)
            else part
            for part in chosen.parts
        )
        return chosen.model_copy(update={"parts": parts})
    pots = {name: value for name in type(chosen).model_fields if isinstance(value := getattr(chosen, name), Pot)}
    return chosen.model_copy(update={name: pot.model_copy(update=changes) for name, pot in pots.items()})
