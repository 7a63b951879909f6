"""A reel: the candidates of a take one after another, for a phone or an amplifier."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from sublatch.arrays import Array
from sublatch.files.sound import read_audio, write_audio

GAP_S = 1.0
"""Silence between two candidates."""

Heard = Callable[[Array, int], Array]
"""From samples (n,) and their rate to the same as they are heard (n,)."""


def write_reel(path: Path, sounds: Sequence[Path], *, title: str, heard: Heard | None = None) -> None:
    """Write sound files one after another, with a second of silence in between.

    Parameters
    ----------
    path
        The reel.
    sounds
        The files, of one rate.
    title
        Its title.
    heard
        How a sound is heard, through a loudspeaker or with a bed; as it is when not given.

    Raises
    ------
    AudioFileError
        When one of them cannot be read.
    OutputError
        When the reel cannot be written.
    """
    stretches = []
    rate = 0
    for sound in sounds:
        recording = read_audio(sound)
        rate = recording.sample_rate
        samples = recording.samples[:, 0]
        if heard is not None:
            samples = heard(samples, rate)
        pause = np.zeros(round(GAP_S * rate), np.float32)
        stretches += [samples.astype(np.float32), pause]  # 24 bits are exact in it, in half the memory
    write_audio(path, np.concatenate(stretches[:-1]), rate, title=title)
