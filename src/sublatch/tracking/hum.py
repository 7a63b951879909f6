"""Mains hum that is loud enough for a circuit's detector to divide it like a note."""

from __future__ import annotations

from math import sqrt

from sublatch.circuit.model import Circuit
from sublatch.signal.front.sine import input_floor_v
from sublatch.takes.quiet_moments import quietest_moments
from sublatch.takes.remarks import Remark
from sublatch.takes.take import Take


def hum_remarks(take: Take, circuit: Circuit) -> tuple[Remark, ...]:
    """Return what there is to say where the hum in a take's rests is above what a circuit's detector hears.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit; only its input and detector matter.

    Returns
    -------
    tuple of Remark
        One, where the rests are mostly mains hum, and a sine of its RMS peaks above the detector's floor there.

    Notes
    -----
    Hum of many multiples peaks higher than such a sine, so that it divides where this says so.
    """
    if circuit.detector.leveller is not None or circuit.detector.thresholds.least_v <= 0.0:
        return ()
    rest = quietest_moments(take.samples, take.sample_rate)
    if rest is None or not rest.mains_hz:
        return ()
    peak_v, floor_v = sqrt(2.0) * rest.hum_rms, input_floor_v(circuit, frequency_hz=float(rest.mains_hz))
    if peak_v <= floor_v:
        return ()
    text = (
        f"hum divides: in the rests there is mains hum of {1e3 * peak_v:.2g} mV peak, and this detector divides all "
        f"above {1e3 * floor_v:.2g} mV; turn away from the source, use a shielded lead, or raise detector."
        f"{circuit.detector.thresholds.setting} by {peak_v / floor_v:.1f} times"
    )
    return (Remark("hum-divides", text),)
