"""Logarithmic scales: decibels for amplitudes, semitones and cents for frequencies."""

from __future__ import annotations

import math
import re
from typing import overload

import numpy as np

from sublatch.arrays import Array
from sublatch.errors import UnitError
from sublatch.units.quantity import DECIBEL, HERTZ, checked

CONCERT_A_HZ = 440.0  # A4, ISO 16:1975
_CONCERT_A_STEP = 57  # semitones from C0 to A4
_STEPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_NOTE = re.compile(r"([A-Ga-g])([#♯]{0,2}|[b♭]{0,2})([-−]?[0-9]{1,3})")


@overload
def db_to_ratio(db: float) -> float: ...
@overload
def db_to_ratio(db: Array) -> Array: ...
def db_to_ratio(db: float | Array) -> float | Array:
    """Convert decibels to an amplitude ratio, 10^(dB/20).

    Parameters
    ----------
    db : float or ndarray
        Decibels, at most 400; −inf gives 0.

    Returns
    -------
    float or ndarray
        Amplitude ratio, same shape.

    Raises
    ------
    UnitError
        If a level is not a number or above 400 dB.
    """
    level_db = np.asarray(db, dtype=np.float64)
    if not np.all(level_db <= DECIBEL.high):
        raise UnitError(f"a level must be at most {DECIBEL.high:g} dB, got {db}")
    ratio = 10.0 ** (level_db / 20.0)
    return ratio if level_db.ndim else float(ratio)


@overload
def ratio_to_db(ratio: float) -> float: ...
@overload
def ratio_to_db(ratio: Array) -> Array: ...
def ratio_to_db(ratio: float | Array) -> float | Array:
    """Convert an amplitude ratio to decibels, 20·log10(ratio).

    Parameters
    ----------
    ratio : float or ndarray
        Amplitude ratio, 0 or more; 0 gives −inf.

    Returns
    -------
    float or ndarray
        Decibels, same shape.

    Raises
    ------
    UnitError
        If a ratio is negative, infinite or not a number.
    """
    amplitude = np.asarray(ratio, dtype=np.float64)
    if not np.all((amplitude >= 0.0) & np.isfinite(amplitude)):
        hint = "; take its absolute value first?" if np.any(amplitude < 0.0) else ""
        raise UnitError(f"an amplitude ratio must be 0 or more and finite, got {ratio}{hint}")
    with np.errstate(divide="ignore"):
        level_db = 20.0 * np.log10(amplitude)
    return level_db if amplitude.ndim else float(level_db)


def note_to_hz(name: str) -> float:
    """Return the frequency of a note such as "E1", "F#2" or "Bb0".

    Parameters
    ----------
    name : str
        Letter, up to two sharps (#) or flats (b), and octave number; C4 is middle C.

    Returns
    -------
    float
        Hertz.

    Raises
    ------
    UnitError
        If it is no note name with an octave number, or its frequency is above 10 MHz.

    Notes
    -----
    f = 440·2^(k/12), k semitones above A4. ISO 16:1975 sets A4 to 440 Hz; the twelve equal steps are common
    practice, no source.
    """
    match = _NOTE.fullmatch(name.strip())
    if match is None:
        raise UnitError(f"a note is a letter A to G and an octave number, like E1 or Bb0, got {name!r}")
    letter, accidentals, octave = match.groups()
    shift = len(accidentals) if accidentals[:1] in ("#", "♯") else -len(accidentals)
    step = _STEPS.index(letter.upper()) + shift + 12 * int(octave.replace("−", "-"))
    hz = CONCERT_A_HZ * 2.0 ** ((step - _CONCERT_A_STEP) / 12.0)
    return checked(hz, HERTZ, came=repr(name))


def hz_to_note(hz: float) -> str:
    """Return the name of the equal-tempered note nearest to a frequency.

    Parameters
    ----------
    hz : float
        Hertz, above 0 and at most 1e7.

    Returns
    -------
    str
        Note name with sharps, such as "F#1".

    Raises
    ------
    UnitError
        If the frequency is not above zero and at most 10 MHz.
    """
    above_a = 12.0 * (math.log2(checked(hz, HERTZ, came=str(hz))) - math.log2(CONCERT_A_HZ))
    octave, step = divmod(round(above_a) + _CONCERT_A_STEP, 12)
    return f"{_STEPS[step]}{octave}"


def cents(a_hz: float, b_hz: float) -> float:
    """Return how far frequency b lies above frequency a.

    Parameters
    ----------
    a_hz, b_hz : float
        Hertz, above 0 and at most 1e7.

    Returns
    -------
    float
        Hundredths of a semitone, 1200·log2(b/a); negative if b is the lower one.

    Raises
    ------
    UnitError
        If a frequency is not above zero and at most 10 MHz.
    """
    start_hz, end_hz = (checked(hz, HERTZ, came=str(hz)) for hz in (a_hz, b_hz))
    return 1200.0 * (math.log2(end_hz) - math.log2(start_hz))
