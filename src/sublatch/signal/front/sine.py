"""What a front makes of a steady sine, and the least sine that the comparators divide."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import exp, log

import numpy as np

from sublatch.arrays import Complex, Signal
from sublatch.circuit.detectors.front import Front
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import Network, nodal_response
from sublatch.circuit.signal_path import front_network
from sublatch.signal.front.bends import Limits, bent_values

STEPS = 4096
"""Points of a period of a sine."""
HARMONICS = 256
"""Of a rectified sine, those beyond have less than 1/50000 of its mean value."""
HUM_HZ = 50.0
"""Mains hum; at 60 Hz as much as makes no odds."""
SOUGHT_V, HALVINGS = (1e-7, 10.0), 24
"""Between which peaks the least one is sought, and how often that is halved: to a millionth of it."""


def sine_through(
    front: Front,
    network_of: Callable[[str, Sequence[str]], Network],
    *,
    volts: float,
    frequency_hz: float,
    limits: Limits,
) -> Signal:
    """Return a period (n,) of what a sine makes at the end of a detector's front, all settled.

    Parameters
    ----------
    front
        The detector's front.
    network_of
        What decides the voltage of a net, driven at ``in`` and at those of some known nets that reach it.
    volts, frequency_hz
        The sine's peak at the input jack, and its frequency.
    limits
        Lowest and highest output of an op-amp, in volts from the bias.

    Notes
    -----
    Between its bends all is linear, so that each harmonic passes exactly, up to `HARMONICS`; a bend takes the period
    point by point.
    """
    sine = np.zeros(STEPS // 2 + 1, dtype=complex)
    sine[1] = 0.5 * STEPS * volts
    known: dict[str, Complex] = {"in": sine}
    for bend, net in zip(front.bends, front.nets, strict=False):
        wave = _periodic(known, net, network_of, frequency_hz)
        known[bend.output] = np.fft.rfft(bent_values(wave, law=bend.law, limits=limits))
    return _periodic(known, front.output, network_of, frequency_hz)


def _periodic(
    known: Mapping[str, Complex], net: str, network_of: Callable[[str, Sequence[str]], Network], frequency_hz: float
) -> Signal:
    """Return a period (n,) of what known spectra make at a net."""
    if net in known:
        return np.fft.irfft(known[net], STEPS)
    network, total = network_of(net, tuple(known)), np.zeros(STEPS // 2 + 1, dtype=complex)
    for name in known:
        if name in network.inputs:
            some = np.arange(1, 2 if name == "in" else HARMONICS + 1)
            total[some] += known[name][some] * nodal_response(network, frequency_hz * some, source=name)
    return np.fft.irfft(total, STEPS)


def input_floor_v(circuit: Circuit, *, frequency_hz: float = HUM_HZ) -> float:
    """Return the least peak in volts at the input jack of a sine that makes the comparator change in both directions.

    Parameters
    ----------
    circuit
        The circuit; its leveller, which would raise what is small, is left out.
    frequency_hz
        The sine's frequency; that of mains hum when not given.

    Notes
    -----
    Whatever is larger, hum among it, is divided; ideal parts.
    """
    detector = circuit.detector
    positive, negative = (side.idle_v for side in detector.thresholds.sides)

    def network_of(net: str, known: Sequence[str]) -> Network:
        return front_network(circuit, output=net, sources=known)

    def lacking(log_v: float) -> float:
        wave = sine_through(
            detector.front, network_of, volts=exp(log_v), frequency_hz=frequency_hz, limits=circuit.limits
        )
        return max(positive - float(wave.max()), negative + float(wave.min()))

    low, high = (log(volts) for volts in SOUGHT_V)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if lacking(middle) > 0.0 else (low, middle)
    return exp(high)
