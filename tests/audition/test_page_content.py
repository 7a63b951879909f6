"""The stretch of a take that is shown close up, and the pictures of an audition."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pytest

from sublatch.audition.folder.layout import Layout
from sublatch.audition.page.content import close_up, responses, steady_stretch
from sublatch.audition.plan.load import load_audition
from sublatch.audition.run import run_audition
from sublatch.files.sound import write_audio

RATE = 8000


def note(pitch_hz, seconds, peak):
    return peak * np.sin(2 * np.pi * pitch_hz * np.arange(round(seconds * RATE)) / RATE)


def test_two_periods_of_the_loudest_steady_note_are_shown():
    """A soft note of 50 Hz, then a loud one of 100 Hz; the drive changes once in a period."""
    samples = np.concatenate([note(50, 0.5, 0.1), note(100, 0.5, 0.5)])
    drive = np.concatenate([np.arange(0.0, 0.5, 0.02), np.arange(0.5, 1.0, 0.01)])
    start, stop = steady_stretch(samples, drive, sample_rate=RATE)
    assert start >= 0.5 * RATE
    assert stop - start == 2 * RATE // 100


def test_an_unsteady_drive_is_passed_over(rng):
    samples = np.concatenate([note(100, 0.5, 0.9), note(50, 0.5, 0.1)])
    wild = np.sort(rng.uniform(0.0, 0.45, 12))
    start, stop = steady_stretch(samples, np.concatenate([wild, np.arange(0.5, 1.0, 0.02)]), sample_rate=RATE)
    assert start >= 0.5 * RATE
    assert stop - start == 2 * RATE // 50


def test_a_drive_too_slow_or_too_fast_for_a_note_is_passed_over():
    samples = note(100, 2.0, 0.5)
    for period_s in (0.2, 0.0005):
        start, stop = steady_stretch(samples, np.arange(0.0, 2.0, period_s), sample_rate=RATE)
        assert stop - start == round(0.05 * RATE)


@pytest.mark.parametrize("length", [1, 2, 100, 4000])
@pytest.mark.parametrize("where", [0.0, 0.5, 1.0])
def test_without_a_note_the_peak_is_shown(length, where):
    samples = np.zeros(length)
    peak = round(where * (length - 1))
    samples[peak] = 1.0
    start, stop = steady_stretch(samples, np.zeros(0), sample_rate=RATE)
    assert 0 <= start <= peak < stop <= length
    assert stop - start == min(length, round(0.05 * RATE))


@pytest.mark.parametrize("samples", [note(60, 0.6, 0.3), np.zeros(4000), np.array([0.3]), np.zeros(1)])
def test_every_take_has_its_pictures(tmp_path, samples):
    write_audio(tmp_path / "a.wav", samples, RATE)
    (tmp_path / "plan.toml").write_text(
        'takes = ["a.wav"]\n[[candidates]]\nname = "one"\ncircuit = "gated-swept"\n', encoding="utf-8"
    )
    plan = load_audition(tmp_path / "plan.toml")
    result = run_audition(plan, jobs=1)
    for picture in (responses(plan), close_up(result.takes[0], plan, Layout(plan.output, plan))):
        root = ElementTree.fromstring(picture)
        assert root.tag.endswith("svg")
        assert "one" in "".join(root.itertext())
