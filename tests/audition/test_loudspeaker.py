"""Listening through a loudspeaker: levels, alignment, and impulse responses of every rate."""

import numpy as np
import pytest

from oracles import amplitude, db
from sublatch.audition.listen.loudspeaker import ImpulseResponse, impulse_response, voiced, voicing_transfer
from sublatch.errors import AudioDataError

RATE = 48000


@pytest.mark.parametrize("frequency_hz", [30.0, 41.0, 140.0, 440.0, 1000.0, 3500.0, 8000.0])
def test_a_sine_gets_the_transfer_function_s_gain(sine, frequency_hz):
    out = voiced(sine(frequency_hz, 2.0), sample_rate=RATE, voicing="loudspeaker")
    gain = abs(voicing_transfer().response(frequency_hz))
    assert amplitude(out[RATE:], frequency_hz) == pytest.approx(gain, rel=1e-5)


def test_the_generic_one_starts_with_the_sound():
    """Its cone's corner delays a click by a tenth of a millisecond, and nothing comes before it."""
    click = np.zeros(RATE)
    click[20000:20004] = [0.25, 0.75, 0.75, 0.25]
    out = voiced(click, sample_rate=RATE, voicing="loudspeaker")
    assert len(out) == RATE
    assert np.abs(out[:19950]).max() < 1e-4 * np.abs(out).max()
    assert 0 <= int(np.argmax(np.abs(out))) - 20001 < 10


def test_blocks_are_no_matter(rng):
    """Noise up to 0.45 of the rate, as a recording has it: at half the rate itself an ideal filter rings for ever."""
    lines = np.fft.rfft(rng.standard_normal(400_000))
    lines[180_000:] = 0.0
    noise = np.fft.irfft(lines)
    whole = voiced(noise, sample_rate=RATE, voicing="loudspeaker")
    part = voiced(noise[:50_000], sample_rate=RATE, voicing="loudspeaker")
    np.testing.assert_allclose(part[:47_000], whole[:47_000], atol=1e-6)


def decaying(rate, count=2000, silence=0):
    """A response that begins at once and rings at 300 Hz."""
    t = np.arange(count) / rate
    return np.concatenate((np.zeros(silence), np.exp(-t / 0.004) * np.cos(2 * np.pi * 300 * t)))


def slow(rate, silence=0.0, seconds=0.1):
    """A response without anything sharp in it, so that every rate can hold it: it rises in 2 ms."""
    t = np.arange(round(seconds * rate)) / rate - silence
    inside = np.maximum(t, 0.0)
    return inside**5 * np.exp(-inside / 0.0005) * np.cos(2 * np.pi * 300 * inside)


def test_convolution_is_what_numpy_s_is(rng):
    noise, samples = rng.standard_normal(300_000), decaying(RATE)
    out = voiced(noise, sample_rate=RATE, voicing=impulse_response(samples, sample_rate=RATE))
    expected = np.convolve(noise[:60_000], samples)[:60_000]
    scale = out[:60_000] @ expected / (expected @ expected)
    np.testing.assert_allclose(out[:60_000], scale * expected, atol=1e-9 * np.abs(out).max())
    late = np.convolve(noise[250_000 - 2000 :], samples)[2000:52_000]
    np.testing.assert_allclose(out[250_000:], scale * late, atol=1e-9 * np.abs(out).max())


@pytest.mark.parametrize("gain", [1e-3, 1.0, 250.0])
def test_a_response_s_own_level_is_no_matter(rng, gain):
    """Pink noise from 60 Hz to 1 kHz comes out as loud as it went in."""
    count = 2 * RATE
    frequency = np.fft.rfftfreq(count, 1 / RATE)
    lines = np.exp(2j * np.pi * rng.random(len(frequency))) / np.sqrt(np.maximum(frequency, 1.0))
    pink = np.fft.irfft(lines * ((frequency >= 60) & (frequency <= 1000)), count)
    periodic = np.tile(pink, 2)
    for voicing in ("loudspeaker", impulse_response(gain * decaying(RATE), sample_rate=RATE)):
        out = voiced(periodic, sample_rate=RATE, voicing=voicing)[count:]
        assert db(np.std(out) / np.std(pink)) == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("silence", [0, 1, 700, 48_000])
def test_leading_silence_is_left_out(rng, silence):
    noise = rng.standard_normal(RATE)
    plain = voiced(noise, sample_rate=RATE, voicing=impulse_response(decaying(RATE), sample_rate=RATE))
    later = impulse_response(decaying(RATE, silence=silence), sample_rate=RATE)
    assert later.onset == silence
    np.testing.assert_allclose(voiced(noise, sample_rate=RATE, voicing=later), plain, atol=1e-4)


@pytest.mark.parametrize("rate", [8000, 22050, 44100, 44101, 48000, 96000, 192000])
def test_a_response_of_another_rate_sounds_the_same(sine, rate):
    """The same curve sampled at another rate: gain and phase of a sine within 0.05 dB and half a degree."""
    for frequency_hz in (80.0, 500.0, 1500.0):
        tone = sine(frequency_hz, 1.0)
        heard = []
        for one in (RATE, rate):
            voicing = impulse_response(slow(one, silence=0.02), sample_rate=one)
            out = voiced(tone, sample_rate=RATE, voicing=voicing)[RATE // 2 :]
            phase_s = voicing.onset / one - 0.02  # where −40 dB is reached differs by a fraction of a sample
            turns = np.exp(-2j * np.pi * frequency_hz * (np.arange(len(out)) / RATE + phase_s))
            heard.append(2 * np.mean(out * turns))
        ratio = heard[1] / heard[0]
        assert db(abs(ratio)) == pytest.approx(0.0, abs=0.05)
        assert np.degrees(np.angle(ratio)) == pytest.approx(0.0, abs=0.5)


def test_a_response_of_one_sample_changes_nothing(rng):
    noise = rng.standard_normal(5000)
    same = impulse_response(np.array([0.0, 0.0, 0.3]), sample_rate=RATE)
    np.testing.assert_allclose(voiced(noise, sample_rate=RATE, voicing=same), noise, atol=1e-9)
    other = impulse_response(np.array([0.0, 0.0, 0.3]), sample_rate=96000)
    low = np.sin(2 * np.pi * 200 * np.arange(5000) / RATE)
    np.testing.assert_allclose(voiced(low, sample_rate=RATE, voicing=other)[200:-200], low[200:-200], atol=1e-4)


@pytest.mark.parametrize("voicing", ["loudspeaker", impulse_response(decaying(RATE), sample_rate=RATE)])
def test_silence_and_the_shortest_signals(voicing):
    assert not np.any(voiced(np.zeros(1000), sample_rate=RATE, voicing=voicing))
    for count in (0, 1, 2):
        assert len(voiced(np.ones(count), sample_rate=RATE, voicing=voicing)) == count


BAD = [
    (np.zeros(100), RATE, "cab.wav must hold sound, got 100 samples of silence"),
    (np.zeros(0), RATE, "must hold sound, got 0 samples"),
    (np.array([1.0, np.nan, 0.0]), RATE, "must be a number, got 1 that are not"),
    (np.array([1.0, np.inf]), RATE, "must be a number, got 1 that are not"),
    (np.ones((100, 2)), RATE, "give one channel"),
    (np.ones(100, dtype=int), RATE, "must be floats"),
    (np.ones(5 * RATE + 1), RATE, r"at most 5 s long, got 5\.0 s; is it a recording"),
    (np.ones(100), 7000, "8000 to 192000 Hz, got 7000"),
    (np.tile([1.0, -1.0], 5000), RATE, "must pass sound from 60 to 1000 Hz"),
]


@pytest.mark.parametrize(("samples", "rate", "words"), BAD)
def test_what_is_no_impulse_response_is_refused(samples, rate, words):
    with pytest.raises(AudioDataError, match=words):
        impulse_response(samples, sample_rate=rate, name="cab.wav")


def test_an_unknown_voicing_is_refused():
    with pytest.raises(AudioDataError, match="'loudspeaker' or an impulse response, got 'speaker'"):
        voiced(np.ones(10), sample_rate=RATE, voicing="speaker")


def test_a_response_is_a_copy():
    samples = decaying(RATE)
    made = impulse_response(samples, sample_rate=RATE)
    samples[:] = 0.0
    assert isinstance(made, ImpulseResponse)
    assert made.samples[0] == 1.0
