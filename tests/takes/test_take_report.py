"""Reports on takes whose level, noise, pitch and faults are known."""

import json

import numpy as np
import pytest
import soundfile

from sublatch.errors import AudioDataError, AudioFileError
from sublatch.json_data import plain_values
from sublatch.take_report import report
from sublatch.takes.take import take_from_samples

RATE = 48000
KEYS = [
    *("file", "sample_rate", "channels", "seconds", "peak_dbfs", "peak_volts", "noise_dbfs", "clipped_samples"),
    *("dc_offset", "lowest_pitch_hz", "highest_pitch_hz", "remarks", "fit"),
]


def note(pitch_hz, seconds=1.0, *, rate=RATE, partials=8, weak=1.0, decay_s=0.7):
    """Return a decaying note at a peak of about 0.3; `weak` scales its fundamental."""
    time_s = np.arange(round(seconds * rate)) / rate
    number = np.arange(1, 1 + min(partials, int(0.45 * rate / pitch_hz)))
    strength = np.where(number == 1, weak, 1.0) / number
    wave = strength @ np.sin(2 * np.pi * pitch_hz * np.outer(number, time_s))
    wave *= np.exp(-time_s / decay_s) * np.minimum(1.0, (time_s[-1] - time_s) / 0.01)
    return 0.3 * wave / np.max(np.abs(wave))


def hiss(count, rms=1e-4, seed=1):
    return rms * np.random.default_rng(seed).standard_normal(count)


def tune(*pitches_hz, rest_s=0.5, rate=RATE, **how):
    """Return notes after a rest, with noise 80 dB down."""
    sound = np.concatenate([np.zeros(round(rest_s * rate)), *(note(hz, rate=rate, **how) for hz in pitches_hz)])
    return sound + hiss(len(sound))


def told(samples, rate=RATE, **scale):
    return report(take_from_samples(samples, rate, **scale))


def about(found, word):
    """Return the remarks that begin with a word."""
    return [remark.text for remark in found.remarks if remark.text.startswith(word)]


def cents(hz, reference_hz):
    return 1200 * np.log2(hz / reference_hz)


# The record


def test_the_keys_are_those_of_the_contract_and_go_into_json():
    data = plain_values(told(tune(41.2)))
    assert list(data) == KEYS
    assert json.loads(json.dumps(data, allow_nan=False)) == data


@pytest.mark.parametrize("samples", [np.zeros(RATE), np.zeros(1), np.array([0.3]), np.ones(RATE)])
def test_degenerate_takes_give_plain_json_too(samples):
    json.dumps(plain_values(told(samples)), allow_nan=False)


def test_a_fit_take_has_no_remarks():
    assert told(tune(41.2, 55.0)).remarks == ()


def test_a_file_is_read_and_named(tmp_path):
    sound = tune(41.2)
    soundfile.write(tmp_path / "a.wav", np.column_stack([sound, sound / 2]), RATE, subtype="PCM_24")
    with pytest.raises(AudioFileError, match="2 channels that differ"):
        report(tmp_path / "a.wav")
    found = report(str(tmp_path / "a.wav"), channel=2, full_scale_volts=4.0)
    assert (found.file, found.channels, found.sample_rate) == (str(tmp_path / "a.wav"), 2, RATE)
    assert found.seconds == 1.5
    assert found.peak_volts == pytest.approx(2 * np.max(np.abs(sound)), rel=1e-5)
    assert found.peak_dbfs == pytest.approx(20 * np.log10(np.max(np.abs(sound)) / 2), abs=1e-4)
    assert not about(found, "full scale is assumed")
    assert about(report(tmp_path / "a.wav", channel=1), "full scale is assumed to be 1 V")


def test_a_take_keeps_its_own_scale():
    take = take_from_samples(tune(41.2), RATE, full_scale_volts=2.0)
    assert report(take).file == "take"
    assert report(take).peak_dbfs == pytest.approx(20 * np.log10(np.max(np.abs(take.samples)) / 2.0))
    for settings in ({"full_scale_volts": 1.0}, {"channel": 1}):
        with pytest.raises(AudioDataError, match="go with a path, got a take"):
            report(take, **settings)


# Level and noise


@pytest.mark.parametrize("rms_dbfs", [-85.0, -70.0, -50.0])
def test_noise_in_a_rest_is_measured(rms_dbfs):
    sound = np.concatenate([np.zeros(RATE // 2), note(41.2, 4.0)])
    found = told(0.05 + sound + hiss(len(sound), rms=10 ** (rms_dbfs / 20)))
    # the quietest four of ten frames of 2400 samples each: each frame's level scatters by 0.13 dB
    assert found.noise_dbfs == pytest.approx(rms_dbfs, abs=0.4)
    assert found.dc_offset == pytest.approx(0.05, abs=2e-3)
    assert bool(about(found, "noisy")) == (rms_dbfs > -60)


def test_noise_close_under_a_quiet_take_is_remarked_upon():
    sound = tune(41.2) / 10
    assert about(told(sound + hiss(len(sound), rms=10 ** (-62 / 20))), "noisy, or without a rest")


def test_noise_is_not_told_where_there_is_none():
    assert told(note(41.2, 0.45)).noise_dbfs is None
    assert told(np.concatenate([np.zeros(RATE), note(41.2)])).noise_dbfs is None
    assert told(np.zeros(RATE)).noise_dbfs is None


def test_levels_are_remarked_upon():
    sound = tune(41.2)
    sound /= np.max(np.abs(sound))
    assert about(told(0.97 * sound), "hot: the peak is -0.3 dBFS")
    assert not about(told(0.9 * sound), "hot")
    assert about(told(0.03 * sound), "too quiet: the peak is -30.5 dBFS")
    assert not about(told(0.033 * sound), "too quiet")
    clipped = told(np.clip(3 * sound, -1, 1))
    assert clipped.clipped_samples > 100
    assert about(clipped, "clipped: ")
    assert not about(clipped, "hot")


def test_silence_is_said_once():
    found = told(np.zeros(RATE))
    assert [remark.code for remark in found.remarks] == ["silent"]
    assert (found.peak_dbfs, found.peak_volts, found.lowest_pitch_hz) == (None, 0.0, None)


def test_low_rates_and_short_takes_are_remarked_upon():
    assert about(told(tune(41.2, rate=8000), 8000), "low sample rate: 8000 Hz keeps nothing of string noise above 4000")
    assert not about(told(tune(41.2, rate=16000), 16000), "low sample rate")
    assert about(told(note(41.2, 0.05)), "very short")


@pytest.mark.parametrize("mains_hz", [50, 60])
def test_hum_is_suspected_in_a_steady_rest_only(mains_hz):
    sound = tune(41.2, 55.0, rest_s=1.5)
    time_s = np.arange(len(sound)) / RATE
    hum = 4e-4 * np.sin(2 * np.pi * mains_hz * time_s) + 2e-4 * np.sin(2 * np.pi * 3 * mains_hz * time_s)
    assert about(told(sound + hum), f"hum: its rests are mostly {mains_hz} Hz and multiples")
    assert not about(told(sound), "hum")
    # a note near the mains frequency that dies away is no hum
    assert not about(told(note(mains_hz, 8.0, decay_s=1.0) + hiss(8 * RATE, 1e-7)), "hum")


# Pitch


@pytest.mark.parametrize("rate", [8000, 44100, 48000, 192000])
@pytest.mark.parametrize("pitch_hz", [30.87, 41.2, 97.99, 220.0, 440.0])
def test_one_note_is_found_at_every_rate(rate, pitch_hz):
    found = told(tune(pitch_hz, rate=rate), rate)
    assert abs(cents(found.lowest_pitch_hz, pitch_hz)) < 15
    assert abs(cents(found.highest_pitch_hz, pitch_hz)) < 15


@pytest.mark.parametrize(
    ("first_hz", "second_hz"),
    [(41.2, 82.41), (82.41, 41.2), (30.87, 97.99), (110.0, 61.74), (55.0, 58.27), (82.41, 659.3), (123.5, 370.0)],
)
def test_two_notes_are_both_reported(first_hz, second_hz):
    found = told(tune(first_hz, second_hz))
    low_hz, high_hz = sorted((first_hz, second_hz))
    assert abs(cents(found.lowest_pitch_hz, low_hz)) < 15
    assert abs(cents(found.highest_pitch_hz, high_hz)) < 15


def test_one_short_low_note_in_a_long_take_is_not_lost():
    found = told(np.concatenate([tune(*[98.0] * 20), note(41.2, 0.4), tune(98.0)]))
    assert abs(cents(found.lowest_pitch_hz, 41.2)) < 15
    assert abs(cents(found.highest_pitch_hz, 98.0)) < 15


def test_a_tail_that_is_left_with_the_octave_is_still_the_note():
    time_s = np.arange(4 * RATE) / RATE
    low, high = (0.2 * np.sin(2 * np.pi * hz * time_s) for hz in (49.0, 98.0))
    sound = low * np.exp(-time_s / 0.25) + high * np.exp(-time_s / 1.5)
    # 1 s in, the fundamental is 29 dB under the octave; most of the note must show it for the vote to be fair
    sound = np.concatenate([np.zeros(RATE // 2), sound[: RATE // 1]])
    found = told(sound + hiss(len(sound)))
    assert abs(cents(found.lowest_pitch_hz, 49.0)) < 20
    assert abs(cents(found.highest_pitch_hz, 49.0)) < 20


@pytest.mark.parametrize("weak", [0.3, 0.1])
def test_a_weak_fundamental_is_still_the_pitch(weak):
    found = told(tune(41.2, weak=weak))
    assert abs(cents(found.lowest_pitch_hz, 41.2)) < 15
    assert abs(cents(found.highest_pitch_hz, 41.2)) < 15


def test_both_ends_of_a_slide_are_reported():
    time_s = np.arange(2 * RATE) / RATE
    pitch_hz = 41.2 * 2 ** (np.clip(time_s - 0.5, 0, 1) * 7 / 12)
    phase = 2 * np.pi * np.cumsum(pitch_hz) / RATE
    sound = np.concatenate([np.zeros(RATE // 2), 0.2 * np.sin(phase) + 0.1 * np.sin(2 * phase)])
    found = told(sound + hiss(len(sound)))
    assert abs(cents(found.lowest_pitch_hz, 41.2)) < 30
    assert abs(cents(found.highest_pitch_hz, 41.2 * 2 ** (7 / 12))) < 30


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("colour", ["white", "brown"])
def test_noise_has_no_pitch(seed, colour):
    noise = hiss(5 * RATE, rms=0.1, seed=seed)
    if colour == "brown":
        noise = np.cumsum(noise)
        noise = noise - np.convolve(noise, np.full(RATE // 20, 20 / RATE), "same")
        noise *= 0.3 / np.max(np.abs(noise))
    found = told(noise)
    assert (found.lowest_pitch_hz, found.highest_pitch_hz) == (None, None)
    assert about(found, "no note found")


def test_hiss_around_a_note_adds_no_pitch():
    sound = np.concatenate([np.zeros(3 * RATE), note(55.0), np.zeros(3 * RATE)])
    found = told(sound + hiss(len(sound), rms=3e-3))
    assert abs(cents(found.lowest_pitch_hz, 55.0)) < 15
    assert abs(cents(found.highest_pitch_hz, 55.0)) < 15


def test_scaling_changes_levels_only():
    sound = tune(41.2, 61.74)
    once, twice = told(sound, full_scale_volts=1.0), told(2 * sound, full_scale_volts=2.0)
    assert twice.peak_volts == pytest.approx(2 * once.peak_volts)
    for key in KEYS:
        if key not in ("peak_volts",):
            assert getattr(twice, key) == getattr(once, key)
