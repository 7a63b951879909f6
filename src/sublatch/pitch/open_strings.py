"""The open strings of basses and guitars, by the name of a tuning or string by string."""

from __future__ import annotations

from collections.abc import Mapping

from sublatch.errors import UnitError, nearest_hint
from sublatch.units.scales import hz_to_note, note_to_hz

TUNINGS: Mapping[str, str] = {
    "bass-4": "E1 A1 D2 G2",
    "bass-5": "B0 E1 A1 D2 G2",
    "bass-6": "B0 E1 A1 D2 G2 C3",
    "guitar-6": "E2 A2 D3 G3 B3 E4",
    "guitar-7": "B1 E2 A2 D3 G3 B3 E4",
}
"""Standard tunings, from the lowest string up (common practice, no source)."""


def open_strings(tuning: str) -> dict[str, float]:
    """Return the open strings of a tuning.

    Parameters
    ----------
    tuning
        A name such as "bass-4", or the strings' notes with spaces or commas between: "D1 A1 D2 G2".

    Returns
    -------
    dict of str to float
        Pitch in hertz by name of the note (with sharps, never flats), in the order given.

    Raises
    ------
    UnitError
        If it is neither, or names the same note twice.

    Notes
    -----
    Pitches in equal temperament at A4 = 440 Hz (ISO 16:1975).
    """
    words = TUNINGS.get(tuning.strip().lower(), tuning).replace(",", " ").split()
    try:
        pitches_hz = [note_to_hz(word) for word in words]
    except UnitError as error:
        raise UnitError(_complaint(tuning, words)) from error
    strings = {hz_to_note(pitch_hz): pitch_hz for pitch_hz in pitches_hz}
    if not words or len(strings) < len(words):
        what = "the same string twice" if words else "no strings"
        raise UnitError(f"a tuning must name each of its strings once, got {tuning!r}: {what}")
    return strings


def _complaint(tuning: str, words: list[str]) -> str:
    """Return what is wrong with a tuning, as one word or string by string."""
    known = f"a tuning must be one of {', '.join(TUNINGS)}, or notes such as 'D1 A1 D2 G2', got {tuning!r}"
    if len(words) == 1:
        return known + nearest_hint(words[0].lower(), TUNINGS)
    return f"{known}: {next(word for word in words if not _is_note(word))!r} is no note with an octave number"


def _is_note(word: str) -> bool:
    """Return whether a word names a note."""
    try:
        note_to_hz(word)
    except UnitError:
        return False
    return True
