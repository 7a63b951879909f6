"""The pocket edition: chosen takes and candidates in one file, their sounds as they were, and never a file lost."""

from __future__ import annotations

import re
from base64 import b64decode
from dataclasses import replace

import numpy as np
import pytest
import soundfile

from sublatch.audition import pocket
from sublatch.audition.plan.load import load_audition
from sublatch.audition.pocket import write_pocket
from sublatch.audition.run import run_audition
from sublatch.demo.strings import pluck
from sublatch.errors import OutputError, PlanError
from sublatch.files.sound import compressed, read_audio, write_audio

RATE = 96000
PLAN = """takes = ["low.wav", "high.wav"]
full_scale = "2V"
[[candidates]]
name = "as built"
circuit = "gated-first-order"
[[candidates]]
name = "swept"
circuit = "gated-swept"
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pocket")
    for name, hertz in (("low", 41.2), ("high", 98.0)):
        write_audio(folder / f"{name}.wav", 0.5 * pluck(hertz, seconds=1.0, sample_rate=RATE), RATE)
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    plan = load_audition(folder / "plan.toml")
    return plan, run_audition(plan)


def players(text):
    """Return each plain player's sound by the name before it, samples and rate, as they come."""
    for name, sound in re.findall(r'<li><bdi>([^<]*)</bdi> <audio [^>]*src="data:audio/mpeg;base64,([^"]*)"', text):
        yield name, b64decode(sound)


def test_it_holds_what_was_chosen_and_sounds_as_the_files_do(made, tmp_path):
    plan, result = made
    path = tmp_path / "band.html"
    written = write_pocket(plan, result, path, folder=plan.output, only=["high", "swept"])
    assert written.size == path.stat().st_size < 10e6
    text = path.read_text(encoding="utf-8")
    assert "as built" not in text
    found = list(players(text))
    assert [name for name, _ in found] == ["bypassed", "swept"]
    for name, sound in found:
        (tmp_path / "sound.mp3").write_bytes(sound)
        samples, rate = soundfile.read(tmp_path / "sound.mp3")
        assert rate == 48000  # of 96 kHz, which no such file can have
        own = next(one for one in result.takes[1].candidates if one.name == name)
        wanted = read_audio(plan.output / own.file).samples
        levels = [
            10 * np.log10(np.mean(one**2) * len(one) / rate_hz) for one, rate_hz in ((samples, rate), (wanted, RATE))
        ]
        assert levels[0] == pytest.approx(levels[1], abs=0.1)


def test_all_of_it_is_taken_where_nothing_is_chosen(made, tmp_path):
    plan, result = made
    write_pocket(plan, result, tmp_path / "band.html", folder=plan.output)
    names = [name for name, _ in players((tmp_path / "band.html").read_text(encoding="utf-8"))]
    assert names == 2 * ["bypassed", "as built", "swept"]


def test_a_sound_loses_more_the_smaller_it_gets():
    samples = np.random.default_rng(1).uniform(-0.5, 0.5, 48000)
    sizes = [len(compressed(samples, 48000, compression=compression)) for compression in (0.2, 0.5, 0.8)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[-1] < sizes[0] / 1.5


def test_what_is_too_large_or_in_the_way_is_told_and_left(made, tmp_path, monkeypatch):
    plan, result = made
    path = tmp_path / "band.html"
    with pytest.raises(PlanError, match=r"--only must be a take or a candidate.*did you mean 'swept'"):
        write_pocket(plan, result, path, folder=plan.output, only=["swep"])
    with pytest.raises(PlanError, match=r"needs a take that can be used, got none"):
        write_pocket(plan, replace(result, takes=()), path, folder=plan.output)
    with pytest.raises(OutputError, match=r"must end in \.html"):
        write_pocket(plan, result, tmp_path / "band.zip", folder=plan.output)
    path.write_text("my own", encoding="utf-8")
    with pytest.raises(OutputError):
        write_pocket(plan, result, path, folder=plan.output)
    monkeypatch.setattr(pocket, "MOST_BYTES", 100_000)
    with pytest.raises(OutputError, match=r"must stay under 0 MB.*choose takes and candidates with --only"):
        write_pocket(plan, result, path, folder=plan.output, overwrite=True)
    assert path.read_text(encoding="utf-8") == "my own"
