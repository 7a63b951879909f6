"""Where a circuit rests with the devices that it is built of: what their offsets and bias currents come to.

What is constant after the octave stage stops at the output's coupling capacitor, and is left out. What is not constant
is the step: the input follower's own idle voltage, switched together with the note.
"""

from __future__ import annotations

from collections.abc import Mapping

from sublatch.circuit.devices.errors import op_amp_bias_a, op_amp_offset_v
from sublatch.circuit.devices.record import Devices
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import OpAmp
from sublatch.circuit.networks.idle import idle_voltages
from sublatch.circuit.networks.solver import Network
from sublatch.circuit.signal_path import input_network, output_network
from sublatch.errors import CircuitError


def network_idle_v(
    network: Network,
    devices: Devices,
    *,
    driven_v: Mapping[str, float] | None = None,
    drawn_a: Mapping[str, float] | None = None,
) -> dict[str, float]:
    """Return where each node of a network rests, in volts from the bias.

    Parameters
    ----------
    network
        A network whose op-amps bear the names that they have on the board, such as ``input.follower``.
    devices
        What it is built of.
    driven_v
        Where its inputs rest; 0 V where not given.
    drawn_a
        What else is drawn from nodes, in amperes.

    Raises
    ------
    CircuitError
        When a bias current has no way to go.
    """
    op_amps = [part for part in network.parts if isinstance(part, OpAmp)]
    bias_a: dict[str, float] = dict(drawn_a or {})
    for part in op_amps:
        for node in (part.plus, part.minus):
            bias_a[node] = bias_a.get(node, 0.0) + op_amp_bias_a(devices, part.name)
    offset_v = {part.name: op_amp_offset_v(devices, part.name) for part in op_amps}
    return idle_voltages(network, offset_v=offset_v, bias_a=bias_a, driven_v=driven_v)


def note_idle_v(circuit: Circuit) -> float:
    """Return where the input follower's output rests, in volts from the bias: by its offset and its bias current."""
    if circuit.devices.values == "ideal":
        return 0.0
    network = input_network(circuit).placed("input.", {"in": "in", "out": "note"})
    return network_idle_v(network, circuit.devices)[network.output]


def op_amp_limits_v(circuit: Circuit) -> tuple[float, float]:
    """Return how far the output of any other op-amp can go down and up from the bias, in volts.

    By its class; ideal ones are taken to go as far as the output buffer.
    """
    if circuit.devices.values == "ideal":
        return circuit.limits
    amp, idle = circuit.devices.op_amp_class, circuit.output.bias * circuit.supply
    worst = circuit.devices.values == "worst"
    low, high = (spread.worst if worst else spread.typical for spread in (amp.swing_low_v, amp.swing_high_v))
    return low - idle, circuit.supply - high - idle


def output_limits_v(circuit: Circuit) -> tuple[float, float]:
    """Return how far the output can go down and up from where it rests, in volts.

    The output buffer's own offset, with its gain, brings it nearer to one limit.
    """
    low, high = circuit.limits
    if circuit.devices.values == "ideal":
        return low, high
    network = output_network(circuit)
    rest = network_idle_v(network, circuit.devices)[network.output]
    return low - rest, high - rest


def heard_limits_v(circuit: Circuit) -> tuple[float, float]:
    """Return the output's limits as `output_limits_v` has them, of a circuit that can sound.

    Raises
    ------
    CircuitError
        When the output rests at a limit, so that there is no room on that side.
    """
    low, high = output_limits_v(circuit)
    if not low < 0.0 < high:
        raise CircuitError(
            f"the output must have room on both sides of where it rests, got limits of {low:+.3g} V and {high:+.3g} V "
            f"in {circuit.title!r}; with its op-amp's offset, is a supply of {circuit.supply:g} V too low, or the gain "
            "too high?"
        )
    return low, high
