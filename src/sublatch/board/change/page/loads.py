"""What a change does to loads and coupling corners: each stage's load and each corner, before and after."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from sublatch.board.change.find import Change
from sublatch.board.change.match import HOUSEKEEPING
from sublatch.board.netlist import STILL, Board, Component
from sublatch.board.network import board_network
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.detectors.base import RECTIFIED
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.octave_stages.base import OCTAVE
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.knobs.coupling import Coupling, couplings

LOAD_HZ = np.geomspace(20.0, 20e3, 61)
"""Where loads are looked at."""
TEST_OHM = 1e3
"""A resistor in series with the stage, in the network alone, by which its load is found."""
NO_LOAD_OHM = 1e8
"""More is called no load."""
HEAVY_OHM = 2e3
"""What op-amps are specified to drive, 2 kΩ (data sheets of common types, from memory)."""
LINEAR = ("resistor", "capacitor", "electrolytic", "pot", "op-amp", "switch")
DRIVEN = (OCTAVE, RECTIFIED)
"""Nets that are driven whatever hangs on them, and are as good as the bias while another is looked at."""
CHANGED_SHARE = 0.01
"""A smaller change of a load or corner is not told."""


@dataclass(frozen=True)
class LoadChange:
    """The least that an op-amp's output has to drive in the blocks behind it.

    Attributes
    ----------
    lead, net
        Where the output is found, and its net after.
    before_ohm, after_ohm
        Least impedance from 20 Hz to 20 kHz over the ends of all knobs and switches; None where nothing hangs there.
    """

    lead: str
    net: str
    before_ohm: float | None
    after_ohm: float | None

    @property
    def is_heavy(self) -> bool:
        """Whether it is more than op-amps are specified to drive, and was not before."""
        return self.after_ohm is not None and self.after_ohm < HEAVY_OHM <= (self.before_ohm or np.inf)


@dataclass(frozen=True)
class CornerChange:
    """A coupling capacitor's high-pass corner and what it costs, before and after; None on a board without it."""

    name: str
    before: Coupling | None
    after: Coupling | None


def load_changes(change: Change) -> list[LoadChange]:
    """Return the stages that stay and whose load the change alters.

    Notes
    -----
    The stage's output is driven through `TEST_OHM` in its own op-amp's stead, and V = V0 Z / (Z + R) of the network
    that hangs there gives Z. Only other blocks count, not the stage's own feedback, and no diodes or analogue switches.
    """
    drivers = {part.reference: part for part in change.changed.components if _drives(part)}
    made = []
    for part in (part for part in change.before.components if _drives(part) and part.reference in drivers):
        other = drivers[part.reference]
        pair = _least_ohm(change.before, part), _least_ohm(change.changed, other)
        if _differs(*pair):
            made.append(LoadChange(f"{part.reference} out", other.net("out"), *pair))
    return made


def corner_changes(before: Circuit, after: Circuit) -> list[CornerChange]:
    """Return the coupling capacitors whose corner the change alters, in the order of the signal."""
    old, new = ({one.name: one for one in couplings(circuit)} for circuit in (before, after))
    changes = (CornerChange(name, old.get(name), new.get(name)) for name in dict.fromkeys((*old, *new)))
    return [one for one in changes if one.before is None or one.after is None or _moved(one.before, one.after)]


def _drives(part: Component) -> bool:
    """Return whether a component is an op-amp that something uses in the signal's path."""
    return part.kind == "op-amp" and part.block != HOUSEKEEPING and part.net("out") not in STILL


def _moved(before: Coupling, after: Coupling) -> bool:
    """Return whether a corner lies elsewhere at an end of the volume knob's travel."""
    return bool(np.any(np.abs(after.corner_hz / before.corner_hz - 1.0) > CHANGED_SHARE))


def _differs(before: float | None, after: float | None) -> bool:
    """Return whether a load is told as changed."""
    if before is None or after is None:
        return before is not after
    return abs(after / before - 1.0) > CHANGED_SHARE


def _least_ohm(board: Board, driver: Component) -> float | None:
    """Return the least impedance that an op-amp's output sees in other blocks; None where nothing hangs there."""
    cut, out = _with_test_resistor(board, driver), driver.net("out")
    inputs = ("test", *(net for net in DRIVEN if net != out))
    shares = []
    for positions in _positions(board.circuit):
        network = board_network(cut, inputs=inputs, output=out, positions=positions)
        shares.append(np.asarray(nodal_response(network, LOAD_HZ, source="test")))
    share = np.array(shares)
    rest = np.abs(1.0 - share)
    least = float(np.max(rest / np.abs(share)))
    return TEST_OHM / least if least > TEST_OHM / NO_LOAD_OHM else None


def _with_test_resistor(board: Board, driver: Component) -> Board:
    """Return the linear parts of other blocks, with a resistor that drives an output in its op-amp's stead."""
    kept = [part for part in board.components if part.kind in LINEAR and part.block != driver.block]
    pins = (("a", "test"), ("b", driver.net("out")))
    test = Component("R0", "resistor", "", "test", "test", pins, amount=TEST_OHM)
    return replace(board, components=(*kept, test))


def _positions(circuit: Circuit) -> Iterator[Circuit]:
    """Yield the ends of all knobs and switches together."""
    ends = (0.0, FULL_TURN)
    tones: Iterable[float | None] = (None,) if circuit.tone is None else ends
    for tone in tones:
        for peak in circuit.filter.peaks:
            for volume in ends:
                for direct in (0.0,) if "direct" in (circuit.hardwired or ()) else ends:
                    settings = {"knobs.tone": tone, "switches.peak": peak}
                    yield with_settings(circuit, {**settings, "knobs.volume": volume, "knobs.direct": direct})
