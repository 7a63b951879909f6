"""The response of the output filter, or of the direct signal's own: gain over frequency, corner, peak."""

from __future__ import annotations

from numpy.typing import ArrayLike

from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.corners import Response, network_response
from sublatch.circuit.signal_path import filter_network
from sublatch.errors import CircuitError


def response(circuit: Circuit, *, frequency_hz: ArrayLike | None = None, direct: bool = False) -> Response:
    """Return the response of a circuit's output filter at its knob and switch positions.

    Parameters
    ----------
    circuit
        The circuit.
    frequency_hz
        Where to give the curve (n,); 10 Hz to 20 kHz in even steps of pitch when not given.
    direct
        Give that of the direct signal's own filter instead.

    Raises
    ------
    CircuitError
        When the direct signal's is asked for and there is no direct knob.
    """
    return network_response(filter_network(of_direct(circuit) if direct else circuit), frequency_hz=frequency_hz)


def of_direct(circuit: Circuit) -> Circuit:
    """Return a circuit whose output filter and tone knob are those of the direct signal, without a peak switch.

    What tells of an output filter then tells of the direct signal's own.

    Raises
    ------
    CircuitError
        When the circuit has no direct knob.
    """
    low_pass = circuit.mix.direct_low_pass
    if low_pass is None:
        raise CircuitError(
            f"only a circuit with a direct knob has a response of the direct signal, and {circuit.title!r} has none: "
            f"{circuit.mix.why_no_direct}"
        )
    knobs = circuit.knobs.model_copy(update={"tone": circuit.direct_tone})
    switches = circuit.switches.model_copy(update={"peak": None})
    return circuit.model_copy(update={"filter": low_pass, "knobs": knobs, "switches": switches})
