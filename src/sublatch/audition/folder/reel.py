"""A reel: the candidates of a take one after another, for a phone or an amplifier."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from sublatch.arrays import Array
from sublatch.files.sound import read_audio, write_stretches

GAP_S = 1.0
"""Silence between two candidates."""

Heard = Callable[[Array, int], Array]
"""From samples (n,) and their rate to the same as they are heard (n,)."""


def write_reel(path: Path, sounds: Sequence[Path], *, sample_rate: int, title: str, heard: Heard | None = None) -> None:
    """Write sound files one after another, with a second of silence in between.

    Parameters
    ----------
    path
        The reel.
    sounds, sample_rate
        The files, and the rate of all of them.
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

    def stretches() -> Iterator[Array]:
        for place, sound in enumerate(sounds):
            if place:
                yield np.zeros(round(GAP_S * sample_rate))
            samples = read_audio(sound).samples[:, 0]
            yield samples if heard is None else heard(samples, sample_rate)

    write_stretches(path, stretches, sample_rate, title=title)
