"""What the finite bandwidth of op-amps does to a network, where it does anything that counts."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from sublatch.circuit.networks.elements import OpAmp, Part
from sublatch.circuit.networks.solver import Network, nodal_response

COUNTS = 0.01
"""Change of a response from which on bandwidth counts."""
HEARD_HZ = np.geomspace(20.0, 20e3, 61)
"""Where it is looked for."""
LEAST_SHARE = 0.1
"""Share of the largest gain, below which a change is not heard."""


@lru_cache(maxsize=512)
def with_bandwidth(network: Network, gain_bandwidth_hz: float) -> Network:
    """Return a network with op-amps of finite bandwidth, or as it is where that changes it by less than 1 %.

    Parameters
    ----------
    network
        The parts and how they are joined.
    gain_bandwidth_hz
        Frequency at which the op-amps' gain has fallen to 1.

    Notes
    -----
    Changes are those of the complex gain from 20 Hz to 20 kHz, where that is within 20 dB of its largest.
    """
    real = replace(network, parts=tuple(_slower(part, gain_bandwidth_hz) for part in network.parts))
    if real == network:
        return network
    return real if response_change(network, real) > COUNTS else network


def response_change(network: Network, other: Network) -> float:
    """Return the largest change of gain or phase from one network's response to another's, as a share of the first."""
    gain, changed = (nodal_response(one, HEARD_HZ) for one in (network, other))
    passing = np.abs(gain) >= LEAST_SHARE * np.max(np.abs(gain))
    return float(np.max(np.abs(changed[passing] / gain[passing] - 1.0)))


def _slower(part: Part, gain_bandwidth_hz: float) -> Part:
    """Return an op-amp with a finite bandwidth, any other part as it is."""
    return replace(part, gain_bandwidth_hz=gain_bandwidth_hz) if isinstance(part, OpAmp) else part
