"""Bends of a detector applied to signals: rectifier, an op-amp's limits, logarithmic amplifier."""

from __future__ import annotations

import numpy as np

from sublatch.arrays import Signal
from sublatch.circuit.detectors.bends import FullWave, Law, Logarithmic, Swing
from sublatch.sampling.blocks import in_blocks
from sublatch.sampling.rates import doubled, halved
from sublatch.signal.filtering.limits import limited

Limits = tuple[float, float]
NEWTON_STEPS = 6
"""From where they begin, a logarithmic amplifier's voltages are found to 1e-12 of themselves by then."""


def bent(volts: Signal, *, law: Law, limits: Limits, idle_v: float = 0.0) -> Signal:
    """Return a signal bent, from where it then rests, without what would fold into its band.

    Parameters
    ----------
    volts
        Volts (n,) from where it rests.
    law
        The bend.
    limits
        Lowest and highest output of an op-amp, in volts from the bias.
    idle_v
        Where it rests, in volts from the bias.

    Notes
    -----
    What bends without a limit is bent at twice the rate, so that what folds comes from beyond three times the take's
    Nyquist frequency before it reaches the take's own band. Limits are switching: see `signal.filtering.limits`.
    """
    if isinstance(law, Swing):
        low, high = limits
        return limited(volts, limits=(low - idle_v, high - idle_v))[0]

    def bend(stretch: Signal, _: int) -> Signal:
        return halved(bent_from_rest(doubled(stretch), law=law, limits=limits, idle_v=idle_v))

    return in_blocks(volts, bend)


def bent_from_rest(volts: Signal, *, law: Law, limits: Limits, idle_v: float) -> Signal:
    """Return voltages (n,) from where they rest bent one by one, from where they then rest; whatever folds."""
    if idle_v == 0.0:
        return bent_values(volts, law=law, limits=limits)
    resting = bent_values(np.array([idle_v]), law=law, limits=limits)
    return bent_values(volts + idle_v, law=law, limits=limits) - resting


def bent_values(volts: Signal, *, law: Law, limits: Limits) -> Signal:
    """Return voltages bent one by one, whatever folds."""
    if isinstance(law, FullWave):
        return law.sign * np.abs(volts)
    if isinstance(law, Swing):
        return np.clip(volts, *limits)
    return _logarithmic(volts, law)


def unbent_value(volts: float, *, law: Law) -> float:
    """Return which voltage a bend makes into a small positive one: the rectifier's and the limits' are the same."""
    return float(_unbent(np.array([volts]), law)[0]) if isinstance(law, Logarithmic) else volts


def _unbent(volts: Signal, law: Logarithmic) -> Signal:
    """Return the voltage (n,) that a logarithmic amplifier would give without its diodes."""
    unit_v = law.diodes * law.emission_v
    return volts + 2.0 * law.ohm * law.saturation_a * np.sinh(volts / unit_v)


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
