"""The output filter's response: gain over frequency, corner, peak."""

from __future__ import annotations

from numpy.typing import ArrayLike

from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.corners import Response, network_response
from sublatch.circuit.signal_path import filter_network


def response(circuit: Circuit, *, frequency_hz: ArrayLike | None = None) -> Response:
    """Return the response of a circuit's output filter at its knob and switch positions.

    Parameters
    ----------
    circuit
        The circuit.
    frequency_hz
        Where to give the curve (n,); 10 Hz to 20 kHz in even steps of pitch when not given.
    """
    return network_response(filter_network(circuit), frequency_hz=frequency_hz)
