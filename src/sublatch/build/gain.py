"""Unity: where the volume knob makes the effect as loud as the bypassed instrument, and the gain in hand above it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from math import log10
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from sublatch.build.driven import BUFFER, Driven, turned, voltages
from sublatch.build.tapers import MIDBAND_HZ
from sublatch.circuit.assemble import output_network
from sublatch.circuit.model import Circuit
from sublatch.circuit.network import nodal_response
from sublatch.circuit.pots import FULL_TURN
from sublatch.errors import AudioDataError
from sublatch.signal.levels import loudness
from sublatch.take import SILENT_DBFS, Take, level_dbfs, take_from_samples

Measure = Literal["loudness", "rms"]

TONE_HZ, TONE_VOLTS, TONE_SECONDS, TONE_RATE = 82.407, 0.2, 2.0, 24000
"""The tone that stands in for a take: an E, the second partial of a bass's low E and its strongest, at the level of a
note that sings (0.1 to 0.4 V, from memory)."""
LEAST_POSITION = 0.01
"""Below it a volume knob is off."""
CLOSE_DB = 0.002
CLOSEST_TRIES = 4


@dataclass(frozen=True)
class Unity:
    """Where the effect is as loud as the bypassed instrument.

    Attributes
    ----------
    heard
        The name of the take, or what tone stood in for it.
    measure
        ``loudness`` (ITU-R BS.1770) or ``rms``.
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

    def to_dict(self) -> dict[str, Any]:
        """Return the result as plain values for JSON."""
        return asdict(self)


def tone_take() -> Take:
    """Return the tone that stands in for a take."""
    time_s = np.arange(round(TONE_SECONDS * TONE_RATE)) / TONE_RATE
    samples = TONE_VOLTS * np.sin(2.0 * np.pi * TONE_HZ * time_s)
    return take_from_samples(samples, TONE_RATE, name=f"a sine of {TONE_HZ:.1f} Hz, {TONE_VOLTS:g} V peak")


def unity(source: Driven, circuit: Circuit, *, measure: Measure = "loudness") -> Unity:
    """Return where a circuit's volume knob makes a take as loud as it is bypassed.

    Parameters
    ----------
    source
        The take, from `driven`.
    circuit
        The circuit, its other knobs and switches where they shall be.
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
    before = _level_db(source.take.samples, source.take.sample_rate, measure)
    if measure == "loudness" and before is None:
        return unity(source, circuit, measure="rms")
    if is_silent(source.take):
        raise AudioDataError(f"{source.take.name} is silent, so nothing can be as loud as it; was the right one given?")
    assert before is not None
    full = _gain_db(source, turned(circuit, volume=FULL_TURN), measure, before)
    own = _gain_db(source, circuit, measure, before)
    if full is None:
        raise AudioDataError(f"{source.take.name} makes no sound in {circuit.title!r} even at full volume")
    return Unity(
        heard=source.take.name,
        measure=measure,
        position=_unity_position(source, circuit, measure, before, full) if full >= 0.0 else None,
        excess_gain_db=full,
        set_gain_db=own,
    )


def effect_gain_db(source: Driven, circuit: Circuit, *, measure: Measure = "loudness") -> float | None:
    """Return how much louder a circuit is than the bypassed take, in dB, as if no supply limited it.

    Parameters
    ----------
    source
        The take, from `driven`.
    circuit
        The circuit.
    measure
        ``loudness`` or ``rms``.

    Returns
    -------
    float or None
        The gain; None where either cannot be told.
    """
    before = _level_db(source.take.samples, source.take.sample_rate, measure)
    return None if before is None else _gain_db(source, circuit, measure, before)


def volume_gain_db(circuit: Circuit, volume: float) -> float:
    """Return the gain in dB from octave stage to output at 1 kHz, but for the output filter's share, at a volume."""
    network = output_network(turned(circuit, volume=volume))
    heard = nodal_response(network, MIDBAND_HZ, source="octave", output=BUFFER)
    mixed = nodal_response(network, MIDBAND_HZ, source="octave", output="mix.out")
    return float(20.0 * np.log10(np.maximum(np.abs(heard / mixed), 1e-300)))


def is_silent(take: Take) -> bool:
    """Return whether a take holds no sound."""
    peak_dbfs = level_dbfs(float(np.max(np.abs(take.samples))) / take.full_scale_volts)
    return peak_dbfs is None or peak_dbfs < SILENT_DBFS


def _gain_db(source: Driven, circuit: Circuit, measure: Measure, before_db: float) -> float | None:
    """Return a circuit's level against that of the bypassed take; None where it cannot be told."""
    after_db = _level_db(voltages(source, circuit)[0], source.take.sample_rate, measure)
    return None if after_db is None else after_db - before_db


def _unity_position(
    source: Driven, circuit: Circuit, measure: Measure, before_db: float, full_db: float
) -> float | None:
    """Return the position at which a take is as loud as bypassed, given the gain fully clockwise."""
    full, wanted = volume_gain_db(circuit, FULL_TURN), -full_db
    position = FULL_TURN
    for _ in range(CLOSEST_TRIES):
        target = full + wanted

        def miss(at: float, target: float = target) -> float:
            return volume_gain_db(circuit, at) - target

        if miss(LEAST_POSITION) > 0.0 or miss(FULL_TURN) < 0.0:
            return position if position < FULL_TURN else None
        position = float(brentq(miss, LEAST_POSITION, FULL_TURN, xtol=1e-5))
        found = _gain_db(source, turned(circuit, volume=position), measure, before_db)
        if found is None:
            return None
        if abs(found) < CLOSE_DB:
            break
        wanted -= found
    return position


def _level_db(samples: NDArray[np.float64], sample_rate: int, measure: Measure) -> float | None:
    """Return the level of samples in volts (n,) in dB; None where there is none."""
    if measure == "loudness":
        return loudness(samples, sample_rate=sample_rate)
    power = float(np.mean(np.square(samples)))
    return 10.0 * log10(power) if power > 0.0 else None
