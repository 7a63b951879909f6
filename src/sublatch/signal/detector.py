"""The detector: its bends, what the comparator sees, and the edges it makes of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import exp, log

import numpy as np

from sublatch.arrays import Complex, Signal
from sublatch.circuit.detectors.bends import Bend, FullWave, Law, Logarithmic, Swing
from sublatch.circuit.detectors.front import Front
from sublatch.circuit.detectors.leveller import Leveller
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import Network, nodal_response
from sublatch.circuit.signal_path import front_network
from sublatch.sampling.rates import doubled, halved
from sublatch.signal.comparator import comparator_edges, peak_store
from sublatch.signal.output import limited

Limits = tuple[float, float]
STEPS = 4096
"""Points of a period of a sine."""
HARMONICS = 256
"""Of a rectified sine, those beyond have less than 1/50000 of its mean value."""
HUM_HZ = 50.0
"""Mains hum; at 60 Hz as much as makes no odds."""
SOUGHT_V, HALVINGS = (1e-7, 10.0), 24
"""Between which peaks the least one is sought, and how often that is halved: to a millionth of it."""
NEWTON_STEPS = 6
"""From where they begin, a logarithmic amplifier's voltages are found to 1e-12 of themselves by then."""


def bent(volts: Signal, *, bend: Bend, limits: Limits) -> Signal:
    """Return a signal bent, without what would fold into its band.

    Parameters
    ----------
    volts
        Volts (n,) from where its input is at rest.
    bend
        The bend.
    limits
        Lowest and highest output of an op-amp, in volts from the bias.

    Notes
    -----
    What bends without a limit is bent at twice the rate, so that what folds comes from beyond three times the take's
    Nyquist frequency before it reaches the take's own band. Limits are switching (see `signal.output.limited`).
    """
    if isinstance(bend.law, Swing):
        low, high = limits
        return limited(volts, limits=(low - bend.idle_v, high - bend.idle_v))[0]
    return halved(bent_values(doubled(volts), bend=bend, limits=limits))


def bent_values(volts: Signal, *, bend: Bend, limits: Limits) -> Signal:
    """Return voltages (n,) from rest bent one by one, whatever folds."""
    if bend.idle_v == 0.0:
        return _by_law(volts, bend.law, limits)
    rest_v = _by_law(np.array([bend.idle_v]), bend.law, limits)
    return _by_law(volts + bend.idle_v, bend.law, limits) - rest_v


def _by_law(volts: Signal, law: Law, limits: Limits) -> Signal:
    """Return voltages from the bias bent one by one."""
    if isinstance(law, FullWave):
        return law.sign * np.abs(volts)
    if isinstance(law, Swing):
        return np.clip(volts, *limits)
    return _logarithmic(volts, law)


def _logarithmic(volts: Signal, law: Logarithmic) -> Signal:
    """Return what a logarithmic amplifier gives (n,), by Newton's method.

    The function is odd and its slope rises with size, so that from above, where the resistor or the diodes alone would
    take all of the current, every step comes nearer.
    """
    unit_v, scale_v = law.diodes * law.emission_v, 2.0 * law.ohm * law.saturation_a
    size = np.abs(volts)
    found = np.minimum(size, unit_v * np.arcsinh(size / scale_v))
    for _ in range(NEWTON_STEPS):
        wave = np.exp(found / unit_v)
        past = found + 0.5 * scale_v * (wave - 1.0 / wave) - size
        found -= past / (1.0 + 0.5 * scale_v / unit_v * (wave + 1.0 / wave))
    return np.copysign(found, volts)


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
        known[bend.output] = np.fft.rfft(bent_values(wave, bend=bend, limits=limits))
    return _periodic(known, front.output, network_of, frequency_hz) + front.idle_v


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


def comparator_input(filtered: Signal, *, sample_rate: int, circuit: Circuit) -> Signal:
    """Return what the comparator sees, in volts (n,), of the detector filter's output in volts (n,)."""
    leveller = circuit.detector.leveller
    upright = filtered if leveller is None else levelled(filtered, sample_rate=sample_rate, leveller=leveller)
    return upright if circuit.switches.drive == "normal" else -upright


def levelled(samples: Signal, *, sample_rate: int, leveller: Leveller) -> Signal:
    """Return a signal (n,) with its level evened: a gain of target over a peak store, up to the most there is."""
    level = peak_store(np.abs(samples), hold=leveller.hold_s * sample_rate)
    return samples * (leveller.target / np.maximum(level, leveller.target / leveller.most_gain))


def edges(comparator_volts: Signal, *, sample_rate: int, circuit: Circuit) -> Signal:
    """Return the times at which the comparator changes state.

    Parameters
    ----------
    comparator_volts
        What the comparator sees, in volts (n,); the comparator starts reset.
    sample_rate
        Samples per second.
    circuit
        The circuit; only its comparator matters here.

    Returns
    -------
    NDArray
        Times in seconds (m,), in turn set and reset.
    """
    thresholds = circuit.detector.thresholds
    return comparator_edges(comparator_volts, sample_rate=sample_rate, thresholds=thresholds) / sample_rate
