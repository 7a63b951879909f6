"""Third-octave levels of what a take makes of a circuit, for any position of its knobs and switches without rendering.

All that follows the octave stage is linear until the supply limits it, so the power in a band is the power of the two
sources there, times the squared gain of what follows: |g|² P₁₁ + |h|² P₂₂ + 2 Re(g h* P₁₂).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Array, Complex
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import transfer
from sublatch.circuit.signal_path import output_network
from sublatch.sampling.bands import BAND_NUMBERS, band_edges_hz, cross_powers_between
from sublatch.signal.node_voltages import OutputSources

CELLS = 16
"""Parts of a third of an octave whose gains count as constant: bands are then within 0.05 dB of rendered ones."""


@dataclass(frozen=True, eq=False)
class SourceBands:
    """The octave stage's output and the direct signal of a take, in narrow cells of frequency.

    Attributes
    ----------
    centre_hz
        Middle of each cell (m,), on a logarithmic scale.
    octave, direct
        Mean square of each in volts squared (m,).
    cross
        Their mean product (m,), octave times the conjugate of direct.
    """

    centre_hz: Array
    octave: Array
    direct: Array
    cross: Complex

    def powers(self, circuit: Circuit) -> Array:
        """Return the mean square of the circuit's output in each third-octave band in volts squared (25,)."""
        network = output_network(circuit)
        through = transfer(network, source="octave").response(self.centre_hz)
        power = np.abs(through) ** 2 * self.octave
        if circuit.knobs.direct > 0.0:
            beside = transfer(network, source="direct").response(self.centre_hz)
            power += np.abs(beside) ** 2 * self.direct + 2.0 * np.real(through * beside.conj() * self.cross)
        return np.asarray(np.maximum(power.reshape(len(BAND_NUMBERS), CELLS).sum(axis=1), 0.0))


def source_bands(source: OutputSources) -> SourceBands:
    """Return the bands of a take's two sources.

    Parameters
    ----------
    source
        The take, from `output_sources`.
    """
    low, high = band_edges_hz()[[0, -1]]
    edges = np.geomspace(low, high, len(BAND_NUMBERS) * CELLS + 1)
    octave, direct, cross = (
        cross_powers_between(first, second, sample_rate=source.take.sample_rate, edges_hz=edges)
        for first, second in (
            (source.octave, source.octave),
            (source.direct, source.direct),
            (source.octave, source.direct),
        )
    )
    return SourceBands(np.sqrt(edges[1:] * edges[:-1]), octave.real, direct.real, cross)
