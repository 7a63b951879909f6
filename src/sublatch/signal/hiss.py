"""Hiss: the noise of resistors and op-amps at the output.

Every resistor has its thermal noise, √(4kTR) volts over the root of a hertz in series with it (J. B. Johnson and
H. Nyquist, 1928; H. Nyquist, "Thermal agitation of electric charge in conductors", Phys. Rev. 32, 1928, from memory),
every op-amp the noise of its class between its inputs. What the input's op-amp makes is switched with the note, which
leaves white noise white; all else goes through the network after the octave stage.
"""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import OpAmp, Resistor
from sublatch.circuit.networks.solver import Network, matrices, nodal_response
from sublatch.circuit.signal_path import input_network, output_network

BOLTZMANN_J_K = 1.380649e-23
"""Exact since 2019 (SI)."""
ROOM_K = 293.15
LOWEST_HZ, POINTS = 1.0, 96
"""Where the spectrum is worked out, evenly in log frequency; straight in between."""


def hiss(circuit: Circuit, *, count: int, sample_rate: int) -> Signal:
    """Return what a circuit's own noise adds to its output, in volts (n,), the same every time for the same board.

    Parameters
    ----------
    circuit
        The circuit, its knobs and switches where they shall be.
    count
        Samples.
    sample_rate
        Samples per second.
    """
    frequency_hz = np.fft.rfftfreq(count, 1.0 / sample_rate)
    points_hz = np.geomspace(LOWEST_HZ, max(sample_rate / 2.0, 2.0 * LOWEST_HZ), POINTS)
    density = np.interp(frequency_hz, points_hz, output_noise_v_rthz(circuit, points_hz))
    white = np.random.default_rng(circuit.devices.board).standard_normal(count)
    return np.asarray(np.fft.irfft(np.fft.rfft(white) * density * np.sqrt(sample_rate / 2.0), count))


def output_noise_v_rthz(circuit: Circuit, frequency_hz: Signal) -> Signal:
    """Return the noise at a circuit's output in volts over the root of a hertz at frequencies (k,)."""
    amp = circuit.devices.op_amp_class.noise_v_rthz
    follower = input_network(circuit).placed("input.", {"in": "in", "out": "note"})
    note = _squared(follower, "note", frequency_hz, amp)
    high, low = circuit.octave.gains
    stage = 0.5 * (high**2 + low**2) * note + (circuit.octave.offset_gain * amp) ** 2
    after = output_network(circuit)
    through = [np.abs(nodal_response(after, frequency_hz, source=source)) ** 2 for source in after.inputs]
    return np.sqrt(_squared(after, after.output, frequency_hz, amp) + through[0] * stage + through[1] * note)


def _squared(network: Network, node: str, frequency_hz: Signal, amp_v_rthz: float) -> Signal:
    """Return the squared noise (k,) at a node of all resistors and op-amps of a network, its inputs silent."""
    conductance, susceptance, _, row = matrices(network, network.inputs[0])
    s = 2j * np.pi * frequency_hz[:, np.newaxis, np.newaxis]
    read = np.zeros(len(conductance))
    read[row[node]] = 1.0
    equations = (conductance + s * susceptance).transpose(0, 2, 1)
    reach = np.linalg.solve(equations, read[:, np.newaxis].astype(complex))[:, :, 0]
    total = np.zeros(len(frequency_hz))
    for part in network.parts:
        if isinstance(part, Resistor):
            a, b = (reach[:, row[name]] if name in row else 0.0 for name in part.nodes)
            total += np.abs(a - b) ** 2 * 4.0 * BOLTZMANN_J_K * ROOM_K / part.ohm
    op_amps = [part for part in network.parts if isinstance(part, OpAmp)]
    for place, _ in enumerate(op_amps, len(row)):
        total += np.abs(reach[:, place]) ** 2 * amp_v_rthz**2
    return total
