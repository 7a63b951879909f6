"""Unity: where the volume knob makes the effect as loud as the bypassed instrument, and the gain in hand above it.

The limits of the supply are left out of the search, here and wherever unity is asked for: the sound at unity is what
would be as loud as the bypassed take if nothing clipped, and how much of it does clip is told beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import log10
from typing import Literal

import numpy as np
from scipy.optimize import brentq

from sublatch.arrays import Signal
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.signal_path import mixed_node, output_network
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import AudioDataError
from sublatch.sampling.levels import loudness
from sublatch.signal.node_voltages import BUFFER, OutputSources, node_voltages
from sublatch.takes.take import SILENT_DBFS, Take, level_dbfs, take_from_samples

Measure = Literal["loudness", "rms", "peak"]
Heard = Callable[[Signal], Signal]
"""What a sound in volts (n,) is listened through before it is measured, such as a loudspeaker."""

TONE_HZ, TONE_VOLTS, TONE_SECONDS, TONE_RATE = 82.407, 0.2, 2.0, 24000
"""The tone that stands in for a take: an E, the second partial of a bass's low E and its strongest, at the level of a
note that sings (0.1 to 0.4 V, from memory)."""
MIDBAND_HZ = 1000.0
BAND_HZ = (30.0, 100.0, MIDBAND_HZ, 5000.0)
"""Where turning the volume knob must change the gain by as much as at the middle, for one figure to tell the change."""
LEAST_POSITION = 0.01
"""Below it a volume knob is off."""
HALF_WAY = 5.0
"""Where a volume at unity stands when nothing sounds."""
CLOSE_DB = 0.002
CLOSEST_TRIES = 4
PLACES = 3
"""Decimals of a position that is set for unity: a thousandth of a step."""


@dataclass(frozen=True)
class Unity:
    """Where the effect is as loud as the bypassed instrument.

    Attributes
    ----------
    heard
        The name of the take, or what tone stood in for it.
    measure
        ``loudness`` (ITU-R BS.1770), ``rms`` or ``peak``.
    position
        Position of the volume knob; None where even fully clockwise the effect is too soft.
    excess_gain_db
        Effect against bypassed with the knob fully clockwise, in dB: the gain in hand above unity, or below 0 what is
        missing.
    set_gain_db
        The same with the knob where the circuit has it; None where it is off.
    """

    heard: str
    measure: Measure
    position: float | None
    excess_gain_db: float
    set_gain_db: float | None


def tone_take() -> Take:
    """Return the tone that stands in for a take."""
    time_s = np.arange(round(TONE_SECONDS * TONE_RATE)) / TONE_RATE
    samples = TONE_VOLTS * np.sin(2.0 * np.pi * TONE_HZ * time_s)
    return take_from_samples(samples, TONE_RATE, name=f"a sine of {TONE_HZ:.1f} Hz, {TONE_VOLTS:g} V peak")


def unity(source: OutputSources, circuit: Circuit, *, measure: Measure = "loudness") -> Unity:
    """Return where a circuit's volume knob makes a take as loud as it is bypassed.

    Parameters
    ----------
    source
        The take, from `chain.output_sources`.
    circuit
        The circuit, its other knobs and switches where they shall be; a volume at unity counts as found.
    measure
        How loudness is judged; RMS also where loudness cannot be told (less than 0.4 s).

    Raises
    ------
    AudioDataError
        When the take is silent.

    Notes
    -----
    The limits of the supply are left out: clipping changes loudness, and is told apart. The position is found on the
    network's gain at 1 kHz and then measured again with the take, until it holds within 0.002 dB.
    """
    result = _unity(source, circuit, measure, None)
    if circuit.knobs.volume == UNITY:
        return replace(result, set_gain_db=result.excess_gain_db if result.position is None else 0.0)
    return replace(result, set_gain_db=effect_gain_db(source, circuit, measure=result.measure))


def with_volume_found(
    source: OutputSources, circuit: Circuit, *, measure: Measure = "loudness", heard: Heard | None = None
) -> Circuit:
    """Return a circuit whose volume knob stands at a number: as it is, or where unity is found to be.

    Parameters
    ----------
    source
        The take, from `chain.output_sources`.
    circuit
        The circuit.
    measure
        As for `unity`.
    heard
        What both are listened through; nothing when not given.

    Notes
    -----
    Where unity lies beyond fully clockwise, the knob stands there, at 10; where the take is silent or makes no sound,
    half way.
    """
    if circuit.knobs.volume != UNITY:
        return circuit
    try:
        position = _unity(source, circuit, measure, heard).position
    except AudioDataError:
        return with_settings(circuit, {"knobs.volume": HALF_WAY})
    return with_settings(circuit, {"knobs.volume": FULL_TURN if position is None else round(position, PLACES)})


def unity_position(
    circuit: Circuit, *, gain_at: Callable[[Circuit], float | None], gain_db: float | None = None
) -> float | None:
    """Return where the volume knob makes the effect as loud as the bypassed take; None where that is beyond 10.

    Parameters
    ----------
    circuit
        The circuit, its volume knob at a number.
    gain_at
        Returns how much louder than the bypassed take a circuit is, in dB, as if no supply limited it; None where
        nothing sounds.
    gain_db
        That of `circuit`, where it is known; measured when not given.

    Raises
    ------
    AudioDataError
        When nothing sounds.
    """
    gain_db = gain_at(circuit) if gain_db is None else gain_db
    if gain_db is None:
        circuit = with_settings(circuit, {"knobs.volume": FULL_TURN})
        gain_db = gain_at(circuit)
    if gain_db is None:
        raise AudioDataError(f"{circuit.title!r} makes no sound even at full volume")
    position = circuit.volume
    for attempt in range(CLOSEST_TRIES):
        next_position = _position_of_gain(circuit, volume_gain_db(circuit, position) - gain_db)
        if next_position is None:
            return position if attempt else None
        tilt_db, position = _tilt_db(circuit, position, next_position), next_position
        if tilt_db < CLOSE_DB:
            break
        measured_db = gain_at(with_settings(circuit, {"knobs.volume": position}))
        if measured_db is None or abs(measured_db) < CLOSE_DB:
            break
        gain_db = measured_db
    return position


def effect_gain_db(
    source: OutputSources, circuit: Circuit, *, measure: Measure = "loudness", heard: Heard | None = None
) -> float | None:
    """Return how much louder a circuit is than the bypassed take, in dB, as if no supply limited it.

    Parameters
    ----------
    source
        The take, from `chain.output_sources`.
    circuit
        The circuit, its volume knob at a number.
    measure
        ``loudness``, ``rms`` or ``peak``.
    heard
        What both are listened through; nothing when not given.

    Returns
    -------
    float or None
        The gain; None where either cannot be told.
    """
    bypassed_db = _level_db(source.take.samples, source.take.sample_rate, measure, heard)
    return None if bypassed_db is None else _gain_db(source, circuit, measure, heard, bypassed_db)


def volume_gain_db(circuit: Circuit, volume: float) -> float:
    """Return the gain in dB from octave stage to output at 1 kHz, but for the output filter's share, at a volume."""
    return float(_volume_gains_db(circuit, volume, (MIDBAND_HZ,))[0])


def is_silent(take: Take) -> bool:
    """Return whether a take holds no sound."""
    peak_dbfs = level_dbfs(float(np.max(np.abs(take.samples))) / take.full_scale_volts)
    return peak_dbfs is None or peak_dbfs < SILENT_DBFS


def _unity(source: OutputSources, circuit: Circuit, measure: Measure, heard: Heard | None) -> Unity:
    """Return unity, but for the gain as the circuit is set."""
    take = source.take
    bypassed_db = _level_db(take.samples, take.sample_rate, measure, heard)
    if measure == "loudness" and bypassed_db is None:
        return _unity(source, circuit, "rms", heard)
    if is_silent(take):
        raise AudioDataError(f"{take.name} is silent, so nothing can be as loud as it; was the right one given?")
    assert bypassed_db is not None
    full = with_settings(circuit, {"knobs.volume": FULL_TURN})
    full_db = _gain_db(source, full, measure, heard, bypassed_db)
    if full_db is None:
        raise AudioDataError(f"{take.name} makes no sound in {circuit.title!r} even at full volume")

    def gain_at(turned: Circuit) -> float | None:
        return _gain_db(source, turned, measure, heard, bypassed_db)

    position = unity_position(full, gain_at=gain_at, gain_db=full_db) if full_db >= 0.0 else None
    return Unity(take.name, measure, position, full_db, None)


def _gain_db(
    source: OutputSources, circuit: Circuit, measure: Measure, heard: Heard | None, bypassed_db: float
) -> float | None:
    """Return a circuit's level against that of the bypassed take; None where it cannot be told."""
    effect_db = _level_db(node_voltages(source, circuit)[0], source.take.sample_rate, measure, heard)
    return None if effect_db is None else effect_db - bypassed_db


def _position_of_gain(circuit: Circuit, gain_db: float) -> float | None:
    """Return the position at which `volume_gain_db` is so much, the least one where it is less; None beyond 10."""

    def excess_db(volume: float) -> float:
        return volume_gain_db(circuit, volume) - gain_db

    if excess_db(FULL_TURN) < 0.0:
        return None
    if excess_db(LEAST_POSITION) > 0.0:
        return LEAST_POSITION
    return float(brentq(excess_db, LEAST_POSITION, FULL_TURN, xtol=1e-5))


def _tilt_db(circuit: Circuit, position: float, other: float) -> float:
    """Return how unevenly turning the volume knob changes the gain over the band, in dB."""
    change_db = _volume_gains_db(circuit, other, BAND_HZ) - _volume_gains_db(circuit, position, BAND_HZ)
    return float(np.ptp(change_db))


def _volume_gains_db(circuit: Circuit, volume: float, frequency_hz: tuple[float, ...]) -> Signal:
    """Return the gains (k,) in dB from the mixing stage to the output at a volume."""
    network = output_network(with_settings(circuit, {"knobs.volume": volume}))
    nodes = (BUFFER, mixed_node(circuit))
    output, mixed = (nodal_response(network, np.array(frequency_hz), source="octave", output=node) for node in nodes)
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(output / mixed), 1e-300)))


def _level_db(samples: Signal, sample_rate: int, measure: Measure, heard: Heard | None) -> float | None:
    """Return the level of samples in volts (n,), as they are heard, in dB; None where there is none."""
    samples = samples if heard is None else heard(samples)
    if measure == "loudness":
        return loudness(samples, sample_rate=sample_rate)
    power = float(np.max(np.square(samples), initial=0.0) if measure == "peak" else np.mean(np.square(samples)))
    return 10.0 * log10(power) if power > 0.0 else None
