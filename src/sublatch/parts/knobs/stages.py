"""Mixing stage and output buffer: what they do to level and sign, and how the buffer loads the volume pot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.mixing.base import DIRECT, MIXED, OCTAVE
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import Network, nodal_response, transfer
from sublatch.circuit.signal_path import direct_network, filter_network
from sublatch.parts.knobs.travel import HALF_STEPS
from sublatch.signal.unity import MIDBAND_HZ
from sublatch.units import format_ohms

LEAST_DB = 0.05
"""Less is no change of level."""
WAYS = {1: "the same way round as", -1: "turned over against"}


@dataclass(frozen=True)
class Stages:
    """What mixing stage and output buffer do.

    Attributes
    ----------
    mix, buffer
        Their kinds.
    octave_least_db, octave_most_db
        Least and most gain of the mixing stage for the octave over the travel of the direct knob, in dB.
    direct_gain_db
        Its gain for the direct signal with the knob at 10, in dB; None without it.
    octave_sign, direct_sign
        1, or −1 where the note that the octave stage lets through, and the direct signal, leave the box turned over
        against the bypassed signal; None without the knob.
    load_ohm, load_setting
        What the volume pot works into, and the setting that it is.
    load_loss_db
        Most that this load takes anywhere on the volume knob's travel, in dB (0 and above).
    """

    mix: str
    buffer: str
    octave_least_db: float
    octave_most_db: float
    direct_gain_db: float | None
    octave_sign: int
    direct_sign: int | None
    load_ohm: float
    load_setting: str
    load_loss_db: float

    @property
    def sentences(self) -> tuple[str, ...]:
        """All that in sentences."""
        level = f"mix.kind = {self.mix}: the octave comes through it at {_level(self.octave_least_db)}"
        if self.octave_most_db - self.octave_least_db >= LEAST_DB:
            level += f" to {_level(self.octave_most_db)}, as the direct knob stands"
        elif self.direct_gain_db is not None:
            level += " wherever the direct knob stands"
        if self.direct_gain_db is None:
            level += ", and there is no direct knob"
        else:
            level += f"; the direct signal at {_level(self.direct_gain_db)} with direct at 10"
        load = (
            f"output.kind = {self.buffer}: the volume pot works into {format_ohms(self.load_ohm)} "
            f"({self.load_setting}), which takes at most {self.load_loss_db:.1f} dB on the knob's travel"
        )
        return (level, load, self._sign_sentence)

    @property
    def _sign_sentence(self) -> str:
        """What becomes of the signal's sign, in a sentence."""
        octave, direct = (WAYS.get(sign or 0) for sign in (self.octave_sign, self.direct_sign))
        if direct in (None, octave):
            return f"sign: the note leaves the box {octave} the bypassed signal"
        return f"sign: the octave's note leaves the box {octave} the bypassed signal, the direct one {direct} it"

    def json_fields(self) -> dict[str, Any]:
        """Return what JSON tells of it."""
        return dict(vars(self))


def stages(circuit: Circuit) -> Stages:
    """Return what a circuit's mixing stage and output buffer do.

    Parameters
    ----------
    circuit
        The circuit; where its knobs stand does not matter.

    Notes
    -----
    A load R on a source of resistance r takes 20 log(1 + r/R) (Thévenin); r is that of the volume pot's wiper with
    what is ahead of it.
    """
    octave_db = [_gain_db(circuit, OCTAVE, position) for position in HALF_STEPS.tolist()]
    return Stages(
        mix=circuit.mix.kind,
        buffer=circuit.output.kind,
        octave_least_db=min(octave_db),
        octave_most_db=max(octave_db),
        direct_gain_db=_gain_db(circuit, DIRECT, FULL_TURN) if circuit.has_direct else None,
        octave_sign=circuit.sign * _sign_of(filter_network(circuit)),
        direct_sign=circuit.sign * _sign_of(direct_network(circuit)) if circuit.has_direct else None,
        load_ohm=circuit.output.load_ohm,
        load_setting=f"output.{circuit.output.load_setting}",
        load_loss_db=_load_loss_db(circuit),
    )


def _gain_db(circuit: Circuit, source: str, direct: float) -> float:
    """Return the mixing stage's gain from one of its sources, in dB."""
    mix = circuit.mix
    network = Network(tuple(mix.elements(direct)), (OCTAVE, DIRECT), OCTAVE if mix.is_wire else MIXED)
    return float(20.0 * np.log10(abs(nodal_response(network, MIDBAND_HZ, source=source))))


def _sign_of(network: Network) -> int:
    """Return whether a filter lets a signal through as it is, 1, or turned over, −1; at 0 Hz, or else in the middle."""
    if network.output in network.inputs:
        return 1
    at_zero, middle = transfer(network).response([0.0, MIDBAND_HZ])
    return -1 if (at_zero or middle).real < 0.0 else 1


def _load_loss_db(circuit: Circuit) -> float:
    """Return the most that the load takes on the volume knob's travel, in dB."""
    output = circuit.output
    lower, upper = np.array([output.pot.resistances(position) for position in HALF_STEPS.tolist()]).T
    ahead = upper + (output.trim_resistor or 0.0)
    loss = 20.0 * np.log10(1.0 + lower * ahead / (lower + ahead) / output.load_ohm)
    return float(np.max(loss))


def _level(decibels: float) -> str:
    """Return a level with its sign."""
    rounded = round(decibels, 1)
    return f"{rounded:+.1f} dB".replace("-", "−") if rounded else "0.0 dB"
