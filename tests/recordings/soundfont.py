"""Reader of real bass notes: the General MIDI sound set that Debian packages as ``fluid-soundfont-gm``.

Its electric basses were recorded note by note and named by string and fret ("Picked Bass A3": third fret of the A
string). A note is used only when two independent statements in the file agree on it: that name, and the key at which
its instrument plays it untransposed. The recordings are given as they are: no looping, no transposing, no levelling.
"""

from __future__ import annotations

import logging
import os
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sublatch.arrays import Signal

SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
STYLES = {33: "fingered", 34: "picked", 36: "slapped", 37: "slapped"}
"""Playing style of each General MIDI program, counted from 0; 37 holds popped notes, and their names say so."""
OPEN_STRING_KEYS = {"E": 28, "A": 33, "D": 38, "G": 43}
"""MIDI keys of E1, A1, D2 and G2."""


@dataclass(frozen=True, eq=False)
class RealNote:
    """One recorded note of an electric bass in standard tuning.

    Attributes
    ----------
    name
        As it stands in the file.
    style
        ``"fingered"``, ``"picked"`` or ``"slapped"``.
    string
        ``"E"``, ``"A"``, ``"D"`` or ``"G"``.
    fret
        0 for the open string.
    pitch_hz
        What string and fret stand for at A4 = 440 Hz, not measured.
    samples
        Shape (n,), full scale ±1, read-only.
    sample_rate
        In hertz.
    """

    name: str
    style: str
    string: str
    fret: int
    pitch_hz: float
    samples: Signal
    sample_rate: int


def why_missing(path: Path = SOUNDFONT) -> str:
    """Return why no real notes can be read here, or an empty text."""
    if not path.is_file():
        return "the real bass notes are not installed (Debian and Ubuntu: apt-get install fluid-soundfont-gm)"
    if find_spec("sf2utils") is None:
        return "sf2utils is not installed (it comes with the extra `test`)"
    if find_spec("audioop") is None:
        return "sf2utils needs the module audioop, which left Python in 3.13 (the package audioop-lts brings it back)"
    return ""


requires_soundfont = pytest.mark.skipif(bool(why_missing()) and os.environ.get("CI") != "true", reason=why_missing())
"""Mark for tests that need real notes: without them they are skipped, but under CI=true they run, and so fail."""


def bass_notes() -> list[RealNote]:
    """Return the real notes, by style and then from low to high.

    Raises
    ------
    FileNotFoundError
        When they or their reader are not installed.
    """
    return list(_contents()[0])


def left_out() -> dict[str, str]:
    """Return the names of recordings that `bass_notes` does not vouch for, and why."""
    return dict(_contents()[1])


def string_and_fret(name: str) -> tuple[str, int] | None:
    """Read "Pop D1" as first fret of the D string; open strings end in 0 or, in places, the letter O."""
    found = re.fullmatch(r".* ([EADG])(\d{1,2}|O)", name)
    return (found[1], int(found[2].replace("O", "0"))) if found else None


def pitch_of_key_hz(key: int) -> float:
    """Return the pitch of a MIDI key, equal temperament at A4 = 440 Hz (ISO 16:1975)."""
    return float(440 * 2 ** ((key - 69) / 12))


@cache
def _contents() -> tuple[list[RealNote], dict[str, str]]:
    """Read the file once: the notes, and what was left out with the reason."""
    if reason := why_missing():
        raise FileNotFoundError(reason)
    notes: dict[str, RealNote] = {}
    rejected: dict[str, str] = {}
    with _sound_set(SOUNDFONT) as sound_set:
        for style, sample, key in _electric_bass(sound_set):
            place = string_and_fret(sample.name)
            if place is None:
                rejected[sample.name] = "not named by string and fret"
            elif not sample.is_mono:
                rejected[sample.name] = "half of a stereo pair"
            elif key != (named_key := OPEN_STRING_KEYS[place[0]] + place[1]):
                rejected[sample.name] = f"named as key {named_key} but played as key {key}"
            else:
                notes[sample.name] = _real_note(style, *place, sample)
    return sorted(notes.values(), key=lambda note: (note.style, note.pitch_hz)), rejected


@contextmanager
def _sound_set(path: Path) -> Iterator[Any]:
    """Open a sound set; what its reader has to remark about other instruments is not heard."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # it imports audioop, for machines of the other byte order
        from sf2utils.sf2parse import Sf2File  # type: ignore[import-untyped]
    before = logging.root.manager.disable
    logging.disable(logging.WARNING)
    try:
        with path.open("rb") as file:
            yield Sf2File(file)
    finally:
        logging.disable(before)


def _electric_bass(sound_set: Any) -> Iterator[tuple[str, Any, int]]:
    """Yield style, recording and untransposed key of everything that the electric basses play."""
    for preset in sound_set.presets:
        if getattr(preset, "bank", None) != 0 or preset.preset not in STYLES:  # the list's end mark has no bank
            continue
        for zone in preset.bags:
            for part in zone.instrument.bags if zone.instrument else ():
                if (sample := part.sample) is not None:
                    own_key = sample.original_pitch
                    yield STYLES[preset.preset], sample, own_key if part.base_note is None else part.base_note


def _real_note(style: str, string: str, fret: int, sample: Any) -> RealNote:
    """Turn one 16-bit recording into numbers."""
    samples = np.frombuffer(sample.raw_sample_data, dtype=np.int16) / 32768.0
    samples.setflags(write=False)
    pitch_hz = pitch_of_key_hz(OPEN_STRING_KEYS[string] + fret)
    return RealNote(sample.name, style, string, fret, pitch_hz, samples, sample.sample_rate)
