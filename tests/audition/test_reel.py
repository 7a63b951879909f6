"""Reels: the candidates one after another, exact, with a second of silence in between."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.audition.folder.reel import GAP_S, write_reel
from sublatch.errors import AudioFileError, OutputError
from sublatch.files.sound import read_audio, write_audio

RATE = 8000


@pytest.fixture
def sounds(tmp_path, rng):
    paths = [tmp_path / "a.wav", tmp_path / "b.wav", tmp_path / "c.wav"]
    for path, length in zip(paths, (1000, 1, 400), strict=True):
        write_audio(path, rng.uniform(-1, 1, length), RATE)
    return paths


def test_the_sounds_follow_one_another_to_the_last_bit(tmp_path, sounds):
    write_reel(tmp_path / "reel.wav", sounds, sample_rate=RATE, title="three")
    reel = read_audio(tmp_path / "reel.wav")
    pause = np.zeros(round(GAP_S * RATE))
    first, second, third = (read_audio(path).samples[:, 0] for path in sounds)
    assert np.array_equal(reel.samples[:, 0], np.concatenate([first, pause, second, pause, third]))
    assert (reel.sample_rate, reel.subtype, reel.title) == (RATE, "PCM_24", "three")


def test_a_reel_of_one_is_that_one(tmp_path, sounds):
    write_reel(tmp_path / "reel.wav", sounds[:1], sample_rate=RATE, title="one")
    assert np.array_equal(read_audio(tmp_path / "reel.wav").samples, read_audio(sounds[0]).samples)


def test_a_sound_or_folder_that_is_gone_is_named(tmp_path, sounds):
    with pytest.raises(AudioFileError, match=r"gone\.wav"):
        write_reel(tmp_path / "reel.wav", [*sounds, tmp_path / "gone.wav"], sample_rate=RATE, title="")
    with pytest.raises(OutputError, match="its folder does not exist"):
        write_reel(tmp_path / "no" / "reel.wav", sounds, sample_rate=RATE, title="")
    assert not list(tmp_path.glob("*reel*"))
