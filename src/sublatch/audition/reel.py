"""A reel: the candidates of a take one after another, for a phone or an amplifier."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from sublatch.files import read_audio, write_audio

GAP_S = 1.0
"""Silence between two candidates."""


def write_reel(path: Path, sounds: Sequence[Path], *, title: str) -> None:
    """Write sound files one after another, with a second of silence in between.

    Raises
    ------
    AudioFileError
        When one of them cannot be read.
    OutputError
        When the reel cannot be written.
    """
    parts = []
    rate = 0
    for sound in sounds:
        recording = read_audio(sound)
        rate = recording.sample_rate
        pause = np.zeros(round(GAP_S * rate), np.float32)
        parts += [recording.samples[:, 0].astype(np.float32), pause]  # 24 bits are exact in it, in half the memory
    write_audio(path, np.concatenate(parts[:-1]), rate, title=title)
