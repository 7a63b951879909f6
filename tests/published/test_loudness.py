"""Loudness and levels against ITU-R BS.1770, EBU Tech 3341 and AES17, with libebur128 as second opinion."""

import numpy as np
import pyebur128
import pytest
from scipy import signal

from sublatch.sampling.levels import levels, loudness, loudness_weights

RATES = [44100, 48000, 96000]


def tone(frequency, dbfs, seconds, rate=48000):
    """A sine whose peak is `dbfs`."""
    return 10 ** (dbfs / 20) * np.sin(2 * np.pi * frequency * np.arange(round(seconds * rate)) / rate)


def second_opinion(samples, rate):
    """Integrated loudness by libebur128."""
    state = pyebur128.R128State(1, rate, pyebur128.MeasurementMode.MODE_I)
    state.add_frames(samples.astype(np.float64), len(samples))
    return pyebur128.get_loudness_global(state)


@pytest.mark.parametrize("rate", RATES)
def test_a_full_scale_997_hz_sine_reads_minus_3_01(rate):
    """BS.1770-4, annex 1 (wording from memory; the value is libebur128's too)."""
    assert loudness(tone(997, 0, 5, rate), sample_rate=rate) == pytest.approx(-3.0103, abs=0.005)


@pytest.mark.parametrize(
    ("frequency", "weight_db"),
    [
        (20.60, -12.874),
        (30.87, -8.001),
        (41.20, -5.326),
        (55.0, -3.361),
        (73.42, -2.028),
        (98.0, -1.179),
        (196.0, -0.278),
        (997.0, 0.691),
        (2000.0, 3.071),
        (10000.0, 4.042),
    ],
)
def test_k_weighting(frequency, weight_db):
    """From the coefficients of BS.1770-4 at 48 kHz: loudness of a sine is −0.691 − 3.0103 + weight."""
    found = loudness(tone(frequency, 0, 20), sample_rate=48000)
    assert found == pytest.approx(-0.691 - 3.0103 + weight_db, abs=0.01)


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ([(-23, 20)], -23.0),
        ([(-33, 20)], -33.0),
        ([(-36, 10), (-23, 60), (-36, 10)], -23.0),
        ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
        ([(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
    ],
)
def test_ebu_tech_3341_sequences(parts, expected):
    """Cases 1 to 5, stereo 1 kHz tones, ±0.1 LU; one channel of two equal ones reads 3.01 LU less."""
    samples = np.concatenate([tone(1000, level, seconds) for level, seconds in parts])
    assert loudness(samples, sample_rate=48000) + 3.0103 == pytest.approx(expected, abs=0.1)


def bass_like(rate):
    """Three partials of a low E, plucked four times."""
    time = np.arange(6 * rate) / rate
    partials = ((1, 0.2, 0.3), (2, 0.25, 1.1), (3, 0.1, 4.0))
    return sum(a * np.sin(2 * np.pi * 41.2 * n * time + p) for n, a, p in partials) * np.exp(-0.5 * (time % 1.5))


@pytest.mark.parametrize("rate", [8000, 22050, *RATES])
def test_libebur128_agrees_on_a_bass_like_signal(rate):
    """At 48 kHz, for which the recommendation gives its filters; at other rates it is the same sound."""
    assert loudness(bass_like(rate), sample_rate=rate) == pytest.approx(
        second_opinion(bass_like(48000), 48000), abs=0.02
    )


def test_a_full_scale_sine_reads_0_dbfs_rms():
    """AES17: 0 dBFS is the RMS of a sine whose peak reaches full scale; a square wave reads +3.01 dBFS."""
    sine = levels(tone(997, 0, 2), sample_rate=48000)
    assert sine.rms_dbfs == pytest.approx(0.0, abs=1e-3)
    assert sine.peak_dbfs == pytest.approx(0.0, abs=1e-3)
    square = levels(np.sign(tone(997, 0, 2) + 1e-9), sample_rate=48000)
    assert square.rms_dbfs == pytest.approx(3.0103, abs=1e-3)


def test_the_low_band_is_20_to_200_hz():
    both = tone(60, -10, 3) + tone(1000, -6, 3)
    found = levels(both, sample_rate=48000)
    assert found.low_band_dbfs == pytest.approx(-10.0, abs=0.02)
    faded = tone(1000, 0, 3) * np.hanning(3 * 48000)
    assert levels(faded, sample_rate=48000).low_band_dbfs < -100


def test_volts_are_relative_to_full_scale():
    assert levels(2 * tone(997, 0, 1), sample_rate=48000, full_scale_volts=2.0).peak_dbfs == pytest.approx(
        0.0, abs=1e-3
    )


@pytest.mark.parametrize("samples", [np.zeros(0), np.zeros(1), np.zeros(96000)])
def test_silence_has_no_levels(samples):
    found = levels(samples, sample_rate=48000)
    assert (found.loudness_lufs, found.rms_dbfs, found.low_band_dbfs, found.peak_dbfs) == (None,) * 4


def test_a_signal_under_a_gating_block_has_no_loudness():
    found = levels(tone(100, -6, 0.39), sample_rate=48000)
    assert found.loudness_lufs is None
    assert found.rms_dbfs == pytest.approx(-6.0, abs=0.05)


def test_one_sample_has_a_peak():
    assert levels(np.array([0.5]), sample_rate=48000).peak_dbfs == pytest.approx(-6.02, abs=0.01)


@pytest.mark.parametrize(
    ("divisor", "degrees", "amplitude", "expected"),
    [(4, 0, 0.5, -6.0), (4, 45, 0.5, -6.0), (6, 60, 0.5, -6.0), (8, 67.5, 0.5, -6.0), (4, 45, 1.41, 3.0)],
)
def test_true_peak(divisor, degrees, amplitude, expected):
    """EBU Tech 3341, cases 15 to 19, a faded tone at fs/divisor; tolerance of the document: +0.2, −0.4 dB."""
    n = np.arange(48000)
    fade = np.clip(np.minimum(n, n[::-1]) / 4800, 0, 1)
    found = levels(
        amplitude * fade * np.sin(2 * np.pi * n / divisor + np.radians(degrees)), sample_rate=48000
    ).true_peak_dbtp
    assert expected - 0.4 <= found <= expected + 0.2
    assert found == pytest.approx(expected, abs=0.03)


def test_true_peak_is_never_below_the_sample_peak(rng):
    found = levels(0.1 * rng.standard_normal(48000), sample_rate=48000)
    assert found.true_peak_dbtp >= found.peak_dbfs


@pytest.mark.parametrize("corner_hz", [400, 12000])
def test_true_peak_is_that_of_the_whole_signal_resampled(rng, corner_hz):
    """Against scipy's polyphase resampling of every sample by 4; the ends fade, and nothing is near the band's edge."""
    noise = rng.standard_normal(24000) * np.hanning(24000)
    noise = signal.sosfilt(signal.butter(8, corner_hz, fs=48000, output="sos"), noise)
    expected = 20 * np.log10(np.max(np.abs(signal.resample_poly(noise, 4, 1, window=("kaiser", 8.0)))))
    assert levels(noise, sample_rate=48000).true_peak_dbtp == pytest.approx(expected, abs=0.02)


UNDER_READ_DB = 0.688
"""BS.1770-4, annex 2: −20 log cos(π/8), the most that four times the rate misses, at the Nyquist frequency."""


def whole_at_64(samples):
    """Peak in dB of the Fourier sum of the whole signal, between silences, at 64 times the rate."""
    long = np.pad(samples, 8192)
    fine = 64 * np.fft.irfft(np.fft.rfft(long)[: len(long) // 2], 64 * len(long))
    return 20 * np.log10(np.max(np.abs(fine)))


def steep_burst(cycles_per_sample, length, phase):
    """A short burst of a high tone; with few samples near its summits."""
    n = np.arange(length) - (length - 1) / 2
    return np.hanning(length + 2)[1:-1] * np.cos(2 * np.pi * cycles_per_sample * n + phase)


def signs_of_a_sinc(length):
    """Samples of one size whose signs all help half way between two of them."""
    n = np.arange(length) - (length - 1) / 2
    return np.sign(np.sinc(n)) * (0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(length) + 0.5) / length))


def with_a_decoy(samples, share=1.0):
    """A signal behind a slow swell whose largest sample is that share of the signal's largest or more."""
    swell = share * np.max(np.abs(samples)) * np.hanning(2001)
    return np.concatenate((swell, np.zeros(500), samples, np.zeros(500)))


def band_limited(samples, cutoff=0.45):
    """What of a signal lies below a share of its rate."""
    spectrum = np.fft.rfft(np.pad(samples, 2048))
    return np.fft.irfft(np.where(np.fft.rfftfreq(len(samples) + 4096) < cutoff, spectrum, 0))


def clipped_noise(seed, level):
    """Noise held at ±1."""
    return np.clip(level * np.random.default_rng(seed).standard_normal(4000), -1, 1)


def sparse_impulses(seed):
    """One sample in forty is ±1, some of them side by side."""
    rng = np.random.default_rng(seed)
    return np.where(rng.random(4000) < 0.025, rng.choice([-1.0, 1.0], 4000), 0.0)


ADVERSARIES = {
    **{f"{f} fs, {p} rad": steep_burst(f, 400, p) for f in (0.25, 0.35, 0.42, 0.45, 0.48) for p in (0.0, 0.7, 1.57)},
    **{f"decoy, {f} fs": with_a_decoy(steep_burst(f, 60, 0.0)) for f in (0.25, 0.4, 0.45)},
    **{f"short, {f} fs, {n}": with_a_decoy(steep_burst(f, n, 1.57), 1.5) for f in (0.4, 0.45) for n in (8, 12, 20, 31)},
    **{
        f"half a sample off, {s}": with_a_decoy(np.tile([1.0, 1.0, -1.0, -1.0], 20) * np.hanning(80), s)
        for s in (1, 1.3)
    },
    **{
        f"signs of a sinc, {n}, {share}": with_a_decoy(band_limited(signs_of_a_sinc(n)), share)
        for n in (8, 24, 100, 600)
        for share in (1.2, 1.7)
    },
    **{f"clipped noise, {level}": clipped_noise(5, level) for level in (0.5, 2.0, 50.0)},
    **{f"band-limited clipped noise, {level}": band_limited(clipped_noise(6, level)) for level in (0.5, 2.0, 50.0)},
    **{f"impulses, {seed}": sparse_impulses(seed) for seed in (1, 2, 3)},
    "one sample": np.array([1.0]),
    "two samples": np.array([1.0, 1.0]),
    "at the end": np.concatenate((np.zeros(8192 - 1024), np.array([1.0, 1.0, -1.0, -1.0, 1.0, 1.0]))),
}


@pytest.mark.long
@pytest.mark.parametrize("name", list(ADVERSARIES))
def test_true_peak_of_signals_made_to_mislead(name):
    """Never above the peak of the whole signal at 64 times the rate, and below it by no more than annex 2 allows."""
    samples = ADVERSARIES[name]
    found = levels(samples, sample_rate=48000).true_peak_dbtp
    true = whole_at_64(samples)
    assert true - UNDER_READ_DB - 0.002 <= found <= true + 0.002


@pytest.mark.parametrize("place", range(7000, 7400, 23))
def test_true_peak_does_not_depend_on_where_it_lies(place):
    """A burst at 0.45 of the rate moved over a seam of the blocks that are transformed."""
    alone, moved = np.zeros(400), np.zeros(20000)
    alone[100:160] = moved[place : place + 60] = steep_burst(0.45, 60, 1.0)
    found = [levels(one, sample_rate=48000).true_peak_dbtp for one in (alone, moved)]
    assert found[1] == pytest.approx(found[0], abs=1e-3)


@pytest.mark.parametrize("hertz", [25.0, 60.0, 250.0, 997.0, 4000.0])
def test_loudness_weights_are_what_a_steady_sine_is_weighed_with(hertz):
    """BS.1770-4: a sine of amplitude a reads −0.691 + 10 lg(w a²/2), w being the weight of its frequency."""
    sine = 0.5 * np.sin(2 * np.pi * hertz * np.arange(5 * 48000) / 48000)
    expected = -0.691 + 10 * np.log10(loudness_weights(np.array([hertz]))[0] * 0.125)
    assert loudness(sine, sample_rate=48000) == pytest.approx(expected, abs=0.02)
