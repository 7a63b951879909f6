"""Where a detector's front rests with the devices that it is built of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sublatch.circuit.detectors.bends import FullWave, Logarithmic
from sublatch.circuit.detectors.front import KINK
from sublatch.circuit.devices.errors import comparator_bias_a, op_amp_bias_a, op_amp_offset_v
from sublatch.circuit.idle import network_idle_v, op_amp_limits_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.signal_path import front_network
from sublatch.signal.front.bends import bent_values


@dataclass(frozen=True)
class FrontIdle:
    """Where a front rests, in volts from the bias.

    Attributes
    ----------
    bent_v
        What each bend is fed, in order.
    watched_v
        What the comparators watch, with what their own currents drop there.
    """

    bent_v: tuple[float, ...]
    watched_v: float


@lru_cache(maxsize=64)
def front_idle(circuit: Circuit) -> FrontIdle:
    """Return where a circuit's front rests; at 0 V where its parts are ideal."""
    front, devices = circuit.detector.front, circuit.devices
    if devices.values == "ideal":
        return FrontIdle((0.0,) * len(front.bends), 0.0)
    known, fed = {"in": 0.0}, []
    for bend in front.bends:
        network = front_network(circuit, output=bend.input, sources=known)
        rest_v = network_idle_v(network, devices, driven_v=known)[bend.input]
        if isinstance(bend.law, Logarithmic):  # its diodes lie between two nodes that its offset moves alike
            fed.append(0.0)
            known[bend.output] = rest_v
            continue
        fed.append(
            rest_v + (KINK * op_amp_offset_v(devices, "rectifier.second") if isinstance(bend.law, FullWave) else 0.0)
        )
        known[bend.output] = float(bent_values(np.array([fed[-1]]), law=bend.law, limits=op_amp_limits_v(circuit))[0])
    network = front_network(circuit, output=front.output, sources=known)
    watched = network_idle_v(network, devices, driven_v=known, drawn_a={front.output: _watching_a(circuit)})
    return FrontIdle(tuple(fed), watched[front.output])


def _watching_a(circuit: Circuit) -> float:
    """Return the current in amperes that the comparators, and what charges the stores, draw from what they watch."""
    drawn = sum(comparator_bias_a(circuit.devices, f"latch.{name}") for name in ("set", "reset"))
    if not circuit.detector.thresholds.fixed:
        drawn += sum(op_amp_bias_a(circuit.devices, f"latch.{side}.charge") for side in ("positive", "negative"))
    return drawn
