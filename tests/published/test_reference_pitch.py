"""The reference pitch on notes whose pitch is known by construction, scored by an independent library.

Raw pitch and raw chroma accuracy: Poliner et al., IEEE Trans. Audio Speech Lang. Process. 15(4):1247, 2007, and
Salamon et al., IEEE Signal Process. Mag. 31(2):118, 2014, as `mir_eval.melody` cites and computes them: the share of
moments within 50 cents, and that share when octaves are forgiven. Their difference is the share of octave errors.
Open strings are those of ISO 16:1975 at A4 = 440 Hz.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import count

import mir_eval
import numpy as np
import pytest

from sublatch.arrays import Array
from sublatch.demo.partials import String
from sublatch.demo.strings import Glide, pluck, slide
from sublatch.pitch.reference.track import reference_pitch
from sublatch.takes.take import take_from_samples

RATE_HZ = 16000
LEAD_IN_S = 0.2
PITCHES_HZ = [30.8677, 36.7081, 41.2034, 55.0, 65.4064, 73.4162, 97.9989, 130.8128, 155.5635, 195.9977]
seeds = count()


def complex_tone(pitch_hz: float, amplitudes: dict[int, float], *, stiffness: float = 2e-4) -> Array:
    """Return 1.5 s of stretched partials that fall by 20 dB, after a short silence, with a little noise."""
    time_s = np.arange(round(1.5 * RATE_HZ)) / RATE_HZ
    tone = np.zeros(len(time_s))
    for n, amplitude in amplitudes.items():
        tone += amplitude * np.sin(2 * np.pi * n * pitch_hz * np.sqrt(1 + stiffness * n**2) * time_s + n)
    tone *= 10 ** (-time_s / 1.5) * np.minimum(1, np.minimum(time_s / 0.005, (1.5 - time_s) / 0.01))
    sound = np.concatenate([np.zeros(round(LEAD_IN_S * RATE_HZ)), tone])
    return 0.3 * sound / np.max(np.abs(sound)) + 1e-5 * np.random.default_rng(next(seeds)).standard_normal(len(sound))


def check(sound: Array, truth: float | Callable[[Array], Array], start_s: float, end_s: float) -> None:
    """Hold the reference pitch of a sound against the truth, from one moment to another."""
    track = reference_pitch(take_from_samples(sound, RATE_HZ))
    inside = (track.time_s >= start_s) & (track.time_s <= end_s)
    time_s, found_hz = track.time_s[inside], np.nan_to_num(track.pitch_hz[inside])
    true_hz = truth(time_s) if callable(truth) else np.full(len(time_s), truth)
    scores = mir_eval.melody.evaluate(time_s, true_hz, time_s, found_hz)
    assert np.diff(track.time_s) == pytest.approx(0.01, abs=1e-9)
    assert len(time_s) >= int((end_s - start_s) / 0.01)
    assert scores["Raw Pitch Accuracy"] >= 0.99
    assert scores["Raw Chroma Accuracy"] == scores["Raw Pitch Accuracy"]
    assert np.median(np.abs(1200 * np.log2(np.maximum(found_hz, 1.0) / true_hz))) <= 10


@pytest.mark.parametrize("over_db", [6, 20, 40, 60])
@pytest.mark.parametrize("pitch_hz", PITCHES_HZ)
def test_a_second_partial_far_above_all_others_is_no_octave(pitch_hz: float, over_db: float) -> None:
    second = 10 ** (over_db / 20)
    check(complex_tone(pitch_hz, {1: 1, 2: second, 3: 0.7, 4: 0.5, 5: 0.5, 6: 0.3, 7: 0.3}), pitch_hz, 0.25, 1.65)


@pytest.mark.parametrize("under_db", [6, 20, 40, 60, np.inf])
@pytest.mark.parametrize("pitch_hz", PITCHES_HZ)
def test_a_weak_or_missing_fundamental_is_no_octave(pitch_hz: float, under_db: float) -> None:
    first = 10 ** (-under_db / 20)
    check(complex_tone(pitch_hz, {1: first, 2: 1, 3: 0.5, 4: 0.4, 5: 0.3, 6: 0.2, 7: 0.15}), pitch_hz, 0.25, 1.65)


@pytest.mark.parametrize("amplitudes", [{1: 1}, {1: 1, 3: 0.4, 5: 0.2}, {n: 1 / n for n in range(1, 12)}])
@pytest.mark.parametrize("stiffness", [0.0, 5e-4])
@pytest.mark.parametrize("pitch_hz", PITCHES_HZ)
def test_nor_is_an_octave_below_heard_into_a_plain_note(
    pitch_hz: float, stiffness: float, amplitudes: dict[int, float]
) -> None:
    check(complex_tone(pitch_hz, amplitudes, stiffness=stiffness), pitch_hz, 0.25, 1.65)


@pytest.mark.parametrize(("pluck_position", "pickup_position"), [(0.12, 0.16), (0.25, 0.16), (0.1, 0.06), (0.33, 0.28)])
@pytest.mark.parametrize("pitch_hz", PITCHES_HZ)
def test_plucked_strings(pitch_hz: float, pluck_position: float, pickup_position: float) -> None:
    note = pluck(
        pitch_hz,
        seconds=3,
        sample_rate=RATE_HZ,
        seed=next(seeds),
        string=String(pluck_position=pluck_position, pickup_position=pickup_position),
    )
    check(note, pitch_hz, 0.03, 2.8)


@pytest.mark.parametrize("key", range(23, 56))
def test_every_fret_from_the_low_b_to_g3(key: int) -> None:
    """MIDI keys 23, B0, to 55, G3; ISO 16:1975 in equal temperament."""
    pitch_hz = 440 * 2 ** ((key - 69) / 12)
    note = pluck(pitch_hz, seconds=1.5, sample_rate=RATE_HZ, seed=key, string=String(inharmonicity=2e-4))
    check(note, pitch_hz, 0.03, 1.3)


@pytest.mark.parametrize("odd_until_s", [0.3, 0.6])
@pytest.mark.parametrize("pitch_hz", PITCHES_HZ)
def test_a_note_whose_odd_partials_die_early_keeps_its_pitch(pitch_hz: float, odd_until_s: float) -> None:
    """As on slapped strings: after a while only the partials of the octave above are left."""
    odd = complex_tone(pitch_hz, {1: 0.3, 3: 0.5, 5: 0.3, 7: 0.2})
    even = complex_tone(pitch_hz, {2: 1, 4: 0.4, 6: 0.2, 8: 0.1})
    time_s = np.arange(len(odd)) / RATE_HZ - LEAD_IN_S
    check(even + odd * np.clip(10 - 10 * time_s / odd_until_s, 0, 1), pitch_hz, 0.25, 1.6)


@pytest.mark.parametrize("seconds", [0.5, 1.0])
@pytest.mark.parametrize(
    ("from_hz", "to_hz"), [(41.2034, 61.7354), (30.8677, 61.7354), (97.9989, 48.9994), (73.4162, 97.9989), (55, 110)]
)
def test_slides_are_followed(from_hz: float, to_hz: float, seconds: float) -> None:
    sound = slide(
        Glide(from_hz, to_hz, start_s=0.6, end_s=0.6 + seconds),
        seconds=2.5,
        sample_rate=RATE_HZ,
        string=String(pickup_position=0.12),
    )

    def true_hz(time_s: Array) -> Array:
        way = np.clip((time_s - 0.6) / seconds, 0, 1)
        return from_hz * (to_hz / from_hz) ** (0.5 - 0.5 * np.cos(np.pi * way))

    check(sound, true_hz, 0.03, 2.3)
