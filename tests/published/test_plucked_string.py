"""A plucked string against what is published about strings.

N. H. Fletcher and T. D. Rossing, *The Physics of Musical Instruments*, on the plucked string (from memory): a
string drawn aside at a point and let go moves as two travelling copies of its first shape (d'Alembert). The
oracle below follows those copies and knows nothing of partials.

J. Kemp, SN Applied Sciences 2:636, 2020: stretched partials of a low B string.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from sublatch.arrays import Array, Signal
from sublatch.demo.partials import String
from sublatch.demo.strings import pluck

RATE_HZ = 48000
PITCH_HZ = 50.0  # 960 samples a period, 50 periods a second: every partial falls on a line of the transform


def ideal(pluck_position: float, pickup_position: float, **changes: float) -> Array:
    settings = {"inharmonicity": 0.0, "decay_s": np.inf, "damping": 0.0, "slow_share": 0.0, **changes}
    return pluck(
        PITCH_HZ,
        seconds=1.0,
        sample_rate=RATE_HZ,
        held_s=np.inf,
        string=String(
            pluck_position=pluck_position,
            pickup_position=pickup_position,
            brightness_hz=np.inf,
            rolloff_hz=np.inf,
            noise_share=0.0,
            **settings,
        ),
    )


def sine_parts(sound: Signal, count: int) -> Array:
    """Return how much of sin(2πnft) there is, n = 1 … count, relative to the first."""
    lines = -2 * np.fft.rfft(sound).imag[round(PITCH_HZ) :: round(PITCH_HZ)][:count] / len(sound)
    return lines / lines[0]


def travelling_wave_parts(p: float, q: float, count: int) -> Array:
    """Return the same from two travelling copies of a triangle with its corner at p, sensed at q.

    Lengths in string lengths, time in periods: the string is passed in half a period. The slope of the triangle,
    continued as an odd function of period 2, is 1/p within p of an even number and −1/(1−p) elsewhere. Velocity
    at q is half the slope arriving from one side less half the slope arriving from the other. It is constant
    between jumps, so that its Fourier integral is a sum over the jumps.
    """

    def slope(x: float) -> float:
        return 1 / p if abs((x + 1) % 2 - 1) < p else -1 / (1 - p)

    jumps = sorted({0.0, 1.0, *(((sign * q + corner) / 2) % 1 for sign in (1, -1) for corner in (p, -p))})
    n = np.arange(1, count + 1)
    parts = np.zeros(count)
    for start, stop in pairwise(jumps):
        middle = start + stop  # twice the mean time: how far a wave has come
        velocity = 0.5 * (slope(q + middle) - slope(q - middle))
        parts += velocity * (np.cos(2 * np.pi * n * start) - np.cos(2 * np.pi * n * stop)) / (np.pi * n)
    return parts / parts[0]


@pytest.mark.parametrize(("p", "q"), [(0.12, 0.16), (0.25, 0.16), (0.2, 0.25), (0.1, 0.06), (1 / 3, 0.28)])
def test_partials_are_those_of_two_travelling_waves(p: float, q: float) -> None:
    made, true = sine_parts(ideal(p, q), 100), travelling_wave_parts(p, q, 100)
    np.testing.assert_allclose(made, true, rtol=0, atol=1e-9)
    assert np.min(true) < 0 < np.max(true)  # both signs occur


def test_no_partial_has_a_cosine_part() -> None:
    spectrum = np.fft.rfft(ideal(0.12, 0.16))
    assert np.max(np.abs(spectrum.real)) < 1e-9 * np.max(np.abs(spectrum.imag))


@pytest.mark.parametrize(
    ("p", "q", "ratio_db"),
    [(0.12, 0.16, 4.24), (0.25, 0.16, 1.86), (0.2, 0.25, 1.17), (0.1, 0.06, 5.43), (1 / 3, 0.28, -3.91)],
)
def test_second_partial_over_first_is_two_cosines(p: float, q: float, ratio_db: float) -> None:
    second = sine_parts(ideal(p, q), 2)[1]
    assert second == pytest.approx(2 * np.cos(np.pi * p) * np.cos(np.pi * q), rel=1e-9)
    assert 20 * np.log10(abs(second)) == pytest.approx(ratio_db, abs=0.01)


def test_equal_decay_keeps_that_ratio() -> None:
    decay_s = 0.8
    sound = ideal(0.12, 0.16, decay_s=decay_s)
    grown = sound * 10 ** (1.5 * np.arange(len(sound)) / RATE_HZ / decay_s)  # takes the decay out again
    for part in (grown[:960], grown[-960:]):  # the first period and the last
        lines = np.abs(np.fft.rfft(part))
        assert 20 * np.log10(lines[2] / lines[1]) == pytest.approx(4.24, abs=0.01)


@pytest.mark.parametrize(("fret", "number"), [(12, 10), (21, 6)])
def test_low_b_string_is_a_semitone_sharp_where_kemp_found_it(fret: int, number: int) -> None:
    """Kemp: about 100 cents at partial 10 (12th fret) and at partial 6 (21st); "about" is read as within 5.

    Both give B near 3.1e-4 for the open string, since B goes with the inverse square of the length.
    """
    pitch_hz = 30.8677 * 2 ** (fret / 12)
    sound = pluck(
        pitch_hz,
        seconds=4.0,
        sample_rate=8000,
        held_s=np.inf,
        string=String(
            inharmonicity=3.1e-4 * 2 ** (fret / 6), decay_s=np.inf, damping=0.0, noise_share=0.0, pluck_position=0.13
        ),
    )
    heard = strongest_hz(sound, 8000, number * pitch_hz * 1.02, number * pitch_hz * 1.10)
    assert 1200 * np.log2(heard / (number * pitch_hz)) == pytest.approx(100, abs=5)


def strongest_hz(sound: Signal, sample_rate: int, low_hz: float, high_hz: float) -> float:
    """Return the frequency of the strongest line between two frequencies, to about 0.01 Hz."""
    padded = 8 * len(sound)
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), padded))
    frequency_hz = np.fft.rfftfreq(padded, 1 / sample_rate)
    inside = (frequency_hz > low_hz) & (frequency_hz < high_hz)
    return float(frequency_hz[inside][np.argmax(spectrum[inside])])
