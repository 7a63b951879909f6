"""Recordings with one fault each, made for the purpose, and good ones that must not be blamed for any.

Each fault has its code. Good takes are what players bring: low-B, E-standard and guitar lines, notes near the mains
frequencies, notes that are held.
"""

import re

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from sublatch.take_report import report
from sublatch.takes.quiet_moments import quietest_moments
from sublatch.takes.remarks import FIT, OF_CIRCUITS, UNFIT, Remark, fit_to_use
from sublatch.takes.take import take_from_samples

RATE = 48000
E_STANDARD = (41.20, 55.00, 73.42, 98.00, 82.41, 61.74)
LOW_B = (30.87, 34.65, 41.20, 46.25)
GUITAR = (82.41, 110.0, 146.83, 196.0, 246.94, 329.63)
NEAR_MAINS = (49.0, 51.91, 58.27, 61.74, 98.0, 103.83, 116.54, 123.47)
HIGH = (329.63, 392.0, 493.88, 659.26)


def note(pitch_hz, seconds, *, decay_s, rng):
    """Return a plucked note: partials that die away the faster the higher they are."""
    time_s = np.arange(round(seconds * RATE)) / RATE
    wave = np.zeros(len(time_s))
    for number in range(1, 1 + min(20, int(9000 / pitch_hz))):
        phase = rng.uniform(0, 2 * np.pi)
        wave += (
            np.sin(2 * np.pi * pitch_hz * number * time_s + phase) * np.exp(-time_s * number**0.5 / decay_s) / number
        )
    return wave * np.minimum(1, (time_s[-1] - time_s) / 0.02)


def line(pitches_hz, *, seconds=0.8, decay_s=0.8, rest_s=1.2, seed=5, noise=3e-5):
    """Return notes at a peak of 0.3 after a rest."""
    rng = np.random.default_rng(seed)
    notes = np.concatenate([note(hz, seconds, decay_s=decay_s, rng=rng) for hz in pitches_hz])
    sound = np.concatenate([np.zeros(round(rest_s * RATE)), 0.3 * notes / np.max(np.abs(notes))])
    return sound + noise * rng.standard_normal(len(sound))


def hum(count, rms_dbfs, *, mains_hz=50.0, strengths=(1.0, 0.3, 0.5, 0.1, 0.25), seed=2):
    """Return mains and its multiples, of an RMS against full scale."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(count) / RATE
    wave = sum(
        strength * np.sin(2 * np.pi * mains_hz * (number + 1) * time_s + rng.uniform(0, 6))
        for number, strength in enumerate(strengths)
    )
    return wave / np.std(wave) * 10 ** (rms_dbfs / 20)


def told(samples, **scale):
    return report(take_from_samples(samples, RATE, **scale))


def codes(samples):
    return [remark.code for remark in told(samples).remarks]


GOOD = {
    "E standard": line(E_STANDARD),
    "low B": line(LOW_B),
    "guitar": line(GUITAR),
    "near the mains frequencies": line(NEAR_MAINS),
    "held for six seconds": line((49.0, 61.74), seconds=6.0, decay_s=5.0),
    "held at exactly 100 Hz": line((100.0, 100.0), seconds=4.0, decay_s=3.0),
    "held at exactly 50 and 60 Hz": line((50.0, 60.0), seconds=4.0, decay_s=2.0),
    "short and dead": line(E_STANDARD, seconds=0.25, decay_s=0.08),
    "dark": sosfilt(butter(2, 150, fs=RATE, output="sos"), line(E_STANDARD)),
    "without its lowest octave's rumble": sosfilt(butter(2, 40, "high", fs=RATE, output="sos"), line(E_STANDARD)),
}


@pytest.mark.parametrize("name", GOOD)
def test_a_good_take_gets_no_remark(name):
    found = told(GOOD[name])
    assert (found.remarks, found.fit) == ((), True)


@pytest.mark.parametrize("pitch_hz", [49.0, 50.0, 60.0, 61.74, 98.0, 100.0, 120.0])
@pytest.mark.parametrize("decay_s", [1.0, 3.0])
def test_a_note_without_any_rest_is_no_hum(pitch_hz, decay_s):
    assert not {"hum", "slight-hum"} & set(codes(line([pitch_hz] * 2, seconds=5.0, decay_s=decay_s, rest_s=0.0)))


def test_a_tone_of_100_hz_that_is_held_evenly_is_no_hum():
    tone = 0.2 * np.sin(2 * np.pi * 100 * np.arange(6 * RATE) / RATE)
    assert "hum" not in codes(tone)
    assert "hum" not in codes(np.concatenate([tone / 8, tone]))


# Hum


@pytest.mark.parametrize("mains_hz", [49.9, 50.0, 50.1, 59.95, 60.0])
@pytest.mark.parametrize("rms_dbfs", [-34.0, -45.0, -55.0])
def test_hum_is_told_with_its_level(mains_hz, rms_dbfs):
    sound = line(E_STANDARD)
    found = told(sound * 2 + 2 * hum(len(sound), rms_dbfs, mains_hz=mains_hz), full_scale_volts=2.0)
    (remark,) = found.remarks
    assert (remark.code, found.fit) == ("hum", False)
    words = remark.text.split()
    assert remark.text.startswith(f"hum: its rests are mostly {round(mains_hz)} Hz and multiples, ")
    assert float(words[words.index("dBFS") - 1]) == pytest.approx(rms_dbfs, abs=0.2)
    assert float(words[words.index("mV") - 1]) == pytest.approx(2000 * 10 ** (rms_dbfs / 20), rel=0.02)


@pytest.mark.parametrize(("mains_hz", "highest"), [(50, 20), (60, 16)])
def test_hum_counts_with_its_multiples_up_to_1_khz(mains_hz, highest):
    """Two lines of amplitudes a and b have an RMS of √((a² + b²) / 2); what lies above 1 kHz is no part of it."""
    time_s = np.arange(2 * RATE) / RATE
    mains, top, above = (np.sin(2 * np.pi * mains_hz * number * time_s) for number in (1, highest, highest + 1))
    for more, rms in ((0.0 * above, np.sqrt(1.0)), (0.8 * top, np.sqrt(1.64)), (0.8 * above, np.sqrt(1.0))):
        found = quietest_moments(1e-3 * (mains + more), RATE)
        assert found.mains_hz == mains_hz
        assert found.hum_rms == pytest.approx(1e-3 * rms / np.sqrt(2), rel=0.01)


def test_faint_hum_is_told_and_makes_nothing_unfit():
    sound = line(E_STANDARD)
    found = told(sound + hum(len(sound), -74.0))
    assert ([remark.code for remark in found.remarks], found.fit) == (["slight-hum"], True)


@pytest.mark.parametrize("strengths", [(1.0,), (0.1, 1.0, 0.3, 0.5), (0.3, 0.1, 1.0)])
def test_hum_has_many_faces(strengths):
    sound = line(NEAR_MAINS)
    assert codes(sound + hum(len(sound), -40.0, strengths=strengths)) == ["hum"]


def test_a_recording_of_hum_alone_is_told_as_hum():
    found = told(hum(4 * RATE, -30.0) + 1e-4 * np.random.default_rng(1).standard_normal(4 * RATE))
    assert {"hum", "no-note"} <= {remark.code for remark in found.remarks}
    assert not found.fit


# Lows


@pytest.mark.parametrize(("order", "cut_hz"), [(4, 250), (4, 300), (8, 250)])
@pytest.mark.parametrize("pitches_hz", [E_STANDARD, LOW_B], ids=["E standard", "low B"])
def test_a_high_passed_bass_lacks_its_lows(pitches_hz, order, cut_hz):
    cut = sosfilt(butter(order, cut_hz, "high", fs=RATE, output="sos"), line(pitches_hz))
    found = told(cut)
    remark = next(remark for remark in found.remarks if remark.code == "no-lows")
    assert not found.fit
    assert "laptop" in remark.text
    assert "high-pass" in remark.text


@pytest.mark.parametrize("with_hum", [False, True])
def test_a_line_above_250_hz_alone_lacks_lows_and_hum_does_not_stand_in_for_them(with_hum):
    sound = line(HIGH)
    found = told(sound + (hum(len(sound), -40.0) if with_hum else 0.0))
    remark = next(remark for remark in found.remarks if remark.code == "no-lows")
    lowest = re.search(r"its lowest note is at (\d+) Hz: a guitar's upper strings were played, or", remark.text)
    assert lowest is not None
    assert float(lowest[1]) == pytest.approx(329.63, abs=1.0)
    assert not found.fit


def test_one_low_note_among_high_ones_is_lows_enough():
    assert codes(line((*HIGH, *HIGH, 98.0, *HIGH))) == []


# The others


def test_clipped_silent_short_and_quiet_takes_are_unfit():
    sound = line(E_STANDARD)
    assert codes(np.clip(5 * sound, -1, 1)) == ["clipped"]
    assert codes(np.zeros(RATE)) == ["silent"]
    assert "too-short" in codes(sound[-2000:])
    assert "too-quiet" in codes(sound / 12)
    for bad in (np.clip(5 * sound, -1, 1), np.zeros(RATE), sound[-2000:], sound / 12):
        assert not told(bad).fit


def test_noise_and_a_take_without_a_rest_are_told_apart():
    assert codes(line(E_STANDARD, noise=6e-3)) == ["noisy"]
    without = told(line(E_STANDARD, rest_s=0.0, seconds=0.4, decay_s=3.0))
    assert ([remark.code for remark in without.remarks], without.fit) == (["no-rest"], True)


def test_every_code_is_listed_once():
    assert len({*UNFIT, *FIT, *OF_CIRCUITS}) == len(UNFIT) + len(FIT) + len(OF_CIRCUITS)
    assert fit_to_use([Remark(code, "") for code in (*FIT, *OF_CIRCUITS)])
    assert not any(fit_to_use([Remark(code, "")]) for code in UNFIT)
