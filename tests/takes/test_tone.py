"""Full scale from a tone and a meter, against the closed form: a sine of U volts RMS peaks at √2 U.

The recordings are made of a known voltage at a known full scale, so what is found can be held against that.
"""

import numpy as np
import pytest

from sublatch.errors import AudioDataError
from sublatch.takes.take import take_from_samples
from sublatch.takes.tone import full_scale_of, measure_tone

FULL_SCALE_VOLTS = 1.7539


def recorded(rms_volts, hz, *, rate=48000, seconds=4.0, phase=0.3, dc=0.0, hum=0.0, noise=0.0, seed=3):
    """Return what an input of a known full scale makes of a tone; hum and noise in volts RMS."""
    time_s = np.arange(round(seconds * rate)) / rate
    volts = rms_volts * np.sqrt(2) * np.sin(2 * np.pi * hz * time_s + phase) + dc
    volts += hum * np.sqrt(2) * np.sin(2 * np.pi * 50.03 * time_s)
    volts += noise * np.random.default_rng(seed).standard_normal(len(time_s))
    return volts / FULL_SCALE_VOLTS


def found(samples, rate=48000):
    return measure_tone(take_from_samples(samples, rate))


@pytest.mark.parametrize("rate", [8000, 44100, 48000, 96000, 192000])
@pytest.mark.parametrize("hz", [61.3, 97.31, 199.87, 200.0, 440.123, 987.654])
def test_full_scale_comes_out_as_it_was(rate, hz):
    tone = found(recorded(0.31, hz, rate=rate), rate)
    assert full_scale_of(tone, meter_volts=0.31) == pytest.approx(FULL_SCALE_VOLTS, rel=1e-5)
    assert tone.hz == pytest.approx(hz, rel=1e-4)
    assert tone.remarks == ()


@pytest.mark.parametrize("hz", [97.31, 199.87, 440.123])
def test_hum_noise_and_an_offset_do_not_matter(hz):
    dirty = recorded(0.31, hz, dc=0.1, hum=0.01, noise=0.003)
    tone = found(dirty)
    assert full_scale_of(tone, meter_volts=0.31) == pytest.approx(FULL_SCALE_VOLTS, rel=3e-4)
    assert tone.impurity == pytest.approx(np.hypot(0.01, 0.003) / 0.31, rel=0.05)
    # the sample peak, which a person would read off, is 20 % too high by then
    assert np.max(np.abs(dirty)) * FULL_SCALE_VOLTS > 1.2 * 0.31 * np.sqrt(2)


def test_what_is_before_and_after_the_tone_does_not_matter():
    tone = recorded(0.31, 200.0, seconds=3.0)
    thump = 0.5 * np.exp(-np.arange(4800) / 400)
    sound = np.concatenate([np.zeros(48000), thump, tone, -thump, np.zeros(24000)])
    result = found(sound)
    assert full_scale_of(result, meter_volts=0.31) == pytest.approx(FULL_SCALE_VOLTS, rel=1e-4)
    assert (result.start_s, result.end_s) == (pytest.approx(1.1, abs=0.21), pytest.approx(4.1, abs=0.21))
    assert result.remarks == ()


@pytest.mark.parametrize("before_s", [0.81, 0.83, 0.85, 0.87, 0.89, 0.93, 0.97, 0.99])
def test_wherever_the_tone_begins_and_ends_it_is_steady(before_s):
    silence = 1e-5 * np.random.default_rng(1).standard_normal(round(before_s * 48000))
    result = found(np.concatenate([silence, recorded(0.31, 200.0, seconds=2.0), silence]))
    assert result.remarks == ()
    assert full_scale_of(result, meter_volts=0.31) == pytest.approx(FULL_SCALE_VOLTS, rel=1e-4)


def test_the_longest_level_counts_and_others_are_told():
    sound = np.concatenate([recorded(0.2, 200.0, seconds=1.5), recorded(0.31, 200.0, seconds=3.0)])
    result = found(sound)
    assert full_scale_of(result, meter_volts=0.31) == pytest.approx(FULL_SCALE_VOLTS, rel=1e-3)
    (remark,) = result.remarks
    assert remark.code == "tone-changes"
    assert "from 1.6 to 4.5 s" in remark.text


def test_a_drifting_tone_and_an_impure_one_are_told():
    drifting = recorded(0.31, 200.0) * np.linspace(0.985, 1.015, 4 * 48000)
    assert [remark.code for remark in found(drifting).remarks] == ["tone-drifts"]
    time_s = np.arange(4 * 48000) / 48000
    triangle = 0.5 * 2 / np.pi * np.arcsin(np.sin(2 * np.pi * 200 * time_s))
    result = found(triangle)
    assert [remark.code for remark in result.remarks] == ["tone-impure"]
    # Fourier: a triangle of height h has a fundamental of 8 h / π², and 12 % beside it
    assert result.peak == pytest.approx(0.5 * 8 / np.pi**2, rel=1e-3)
    assert result.impurity == pytest.approx(np.sqrt(np.pi**4 / 96 - 1), rel=0.01)


@pytest.mark.parametrize(("hz", "rms_volts", "code"), [(1500.0, 0.31, "tone-pitch"), (200.0, 0.005, "tone-faint")])
def test_what_a_meter_may_read_wrong_is_told(hz, rms_volts, code):
    assert [remark.code for remark in found(recorded(rms_volts, hz)).remarks] == [code]


def hum_alone():
    time_s = np.arange(4 * 48000) / 48000
    return sum(a * np.sin(2 * np.pi * 50 * k * time_s) for k, a in ((1, 0.05), (2, 0.01), (3, 0.02)))


@pytest.mark.parametrize(
    ("samples", "words"),
    [
        (np.clip(recorded(2.0, 200.0), -1, 1), "the tone must not be clipped; turn it down"),
        (hum_alone(), r"must hold a tone, got mains hum at 50\.0 Hz; use a tone of about 200 Hz"),
        (np.zeros(96000), "must hold a second of steady tone, got silence"),
        (recorded(0.31, 200.0, seconds=0.5), r"must hold a second of steady tone, got 0\.5 s"),
        (0.1 * np.random.default_rng(1).standard_normal(96000), "must hold a sine, got "),
        (0.3 * np.sign(recorded(1.0, 200.0)), "must hold a sine, got 48 % of harmonics"),
        (recorded(0.31, 200.0) * np.exp(-np.arange(4 * 48000) / 24000), "must hold a second of tone at one level"),
    ],
    ids=["clipped", "hum", "silence", "short", "noise", "square", "plucked"],
)
def test_what_is_no_steady_tone_is_refused(samples, words):
    with pytest.raises(AudioDataError, match="take: .*" + words):
        found(samples)


@pytest.mark.parametrize(
    ("volts", "words"),
    [
        (0.0, "above 0 V, got 0.0 V"),
        (-0.3, "above 0 V, got -0.3 V"),
        (310.0, "at most 100 V, got 1754 V .* millivolts"),
    ],
)
def test_impossible_readings_are_refused(volts, words):
    with pytest.raises(AudioDataError, match=words):
        full_scale_of(found(recorded(0.31, 200.0)), meter_volts=volts)
