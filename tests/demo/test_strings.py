"""The plucked string: levels, decay, pitch, and what must not be heard."""

from __future__ import annotations

from collections.abc import Callable
from math import pi
from typing import Any

import numpy as np
import pytest
from scipy.signal import hilbert

from sublatch.arrays import Signal
from sublatch.demo.noise import noise_floor
from sublatch.demo.partials import String
from sublatch.demo.strings import Glide, dead_note, pluck, slide
from sublatch.errors import AudioDataError

PURE = {"noise_share": 0.0, "slow_share": 0.0, "inharmonicity": 0.0}


def settings(named: dict[str, float]) -> dict[str, Any]:
    """Return what `pluck` is called with: what is the string's in its record."""
    own = {name: value for name, value in named.items() if name in String.__dataclass_fields__}
    return {**{name: value for name, value in named.items() if name not in own}, "string": String(**own)}


def level_at(sound: Signal, frequency_hz: float, start_s: float, sample_rate: int) -> float:
    """Return the amplitude of a sine over a fifth of a second."""
    start, count = round(start_s * sample_rate), round(0.2 * sample_rate)
    time_s = np.arange(start, start + count) / sample_rate
    return float(2 * abs(np.mean(sound[start : start + count] * np.exp(-2j * pi * frequency_hz * time_s))))


def heard_hz(sound: Signal, sample_rate: int) -> Signal:
    """Return the frequency of a single partial, sample by sample."""
    return np.diff(np.unwrap(np.angle(hilbert(sound)))) * sample_rate / (2 * pi)


def summed_plainly(*, held_s: float) -> Signal:
    """Return a note by the formulas of the docstrings, one partial and one sample at a time."""
    out, f, stiff, p, q = np.zeros(12000), 41.0, 3e-4, 0.12, 0.16
    time_s = np.arange(12000) / 16000
    n = 1
    while (f_n := n * f * (1 + stiff * n * n) ** 0.5) < 8000:
        loss = 1.5 * np.log(10) / 2.0 + pi * 8e-4 * (f_n - f * (1 + stiff) ** 0.5)
        decay = 0.7 * np.exp(-loss * time_s) + 0.3 * np.exp(-loss * time_s / 3)
        decay *= np.exp(-70 * (1 + f_n / 600) * np.maximum(0, time_s - held_s))
        soft = 1 / (1 + (f_n / 1500) ** 2) / (1 + (f_n / 4000) ** 4) ** 0.5
        out += soft / n * np.sin(n * pi * p) * np.sin(n * pi * q) * np.sin(2 * pi * f_n * time_s) * decay
        n += 1
    return out


@pytest.mark.parametrize("held_s", [0.5, np.inf])
def test_a_note_is_the_plain_sum_of_its_partials(held_s: float) -> None:
    true = summed_plainly(held_s=held_s)
    if held_s < 0.75:
        true[-160:] *= 0.5 + 0.5 * np.cos(pi * np.arange(1, 161) / 160)
    sound = pluck(
        41, seconds=0.75, sample_rate=16000, held_s=held_s, string=String(decay_s=2, slow_share=0.3, noise_share=0)
    )
    np.testing.assert_allclose(sound, true * 0.25 / np.max(np.abs(true)), rtol=0, atol=1e-6)


def test_a_moving_note_goes_over_into_the_same_sum() -> None:
    """A glide too small to matter takes the other way of summing, up to 0.15 s."""
    still = pluck(41, seconds=0.5, string=String(noise_share=0))
    moved = pluck(41, seconds=0.5, string=String(noise_share=0, glide_cents=1e-9))
    np.testing.assert_allclose(moved, still, rtol=0, atol=1e-6)


def test_the_peak_is_the_level_asked_for() -> None:
    for level_volts in (0.01, 0.3, 1.0):
        assert np.max(np.abs(pluck(55, seconds=0.5, level_volts=level_volts))) == pytest.approx(level_volts)


def test_the_same_seed_gives_the_same_note() -> None:
    first, again, other = (pluck(55, seconds=0.3, seed=seed) for seed in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    assert np.max(np.abs(first - other)) > 1e-4


@pytest.mark.parametrize("make", [pluck, dead_note])
def test_a_note_starts_and_ends_in_silence(make: Callable[..., Signal]) -> None:
    sound = make(41.2, seconds=0.5, level_volts=1.0)
    assert sound[0] == 0
    assert np.max(np.abs(sound[-48:])) < 1e-4


def test_stopping_a_note_makes_no_click() -> None:
    sound = pluck(41.2, seconds=1.0, held_s=0.5, string=String(noise_share=0))
    bend = np.abs(np.diff(sound, 2))
    assert np.max(bend[24000 - 48 : 24000 + 2400]) <= np.max(bend[24000 - 2400 : 24000 - 48])


def test_the_fundamental_falls_30_db_in_its_decay() -> None:
    sound = pluck(50, seconds=3, sample_rate=8000, held_s=np.inf, string=String(decay_s=2, damping=0, **PURE))
    fall = level_at(sound, 50, 2.2, 8000) / level_at(sound, 50, 0.2, 8000)
    assert 20 * np.log10(fall) == pytest.approx(-30, abs=0.05)


def test_high_partials_die_sooner_by_the_loss_factor() -> None:
    sound = pluck(50, seconds=1.5, sample_rate=8000, held_s=np.inf, string=String(decay_s=np.inf, damping=1e-3, **PURE))
    for number in (2, 5, 11):
        fall = level_at(sound, number * 50, 1.2, 8000) / level_at(sound, number * 50, 0.2, 8000)
        assert np.log(fall) == pytest.approx(-pi * 1e-3 * (number - 1) * 50, rel=0.02)


def test_nothing_folds_back_at_a_low_rate() -> None:
    sound = pluck(
        330,
        seconds=1,
        sample_rate=8000,
        held_s=np.inf,
        string=String(brightness_hz=np.inf, rolloff_hz=np.inf, decay_s=np.inf, damping=0, **PURE),
    )
    lines = np.abs(np.fft.rfft(sound))
    partials = np.arange(330, 4000, 330)  # bins are 1 Hz apart; folded partials would fall between these
    assert np.min(lines[partials]) > 1e-4 * np.max(lines)
    assert np.max(np.delete(lines, partials)) < 1e-10 * np.max(lines)


def test_the_sample_rate_changes_nothing_that_is_heard() -> None:
    soft = {"brightness_hz": 500.0, "rolloff_hz": 1000.0}  # so that no partial above 24 kHz counts
    slow = pluck(55, seconds=0.5, sample_rate=48000, string=String(noise_share=0, **soft))
    for rate in (96000, 192000):
        quick = pluck(55, seconds=0.5, sample_rate=rate, string=String(noise_share=0, **soft))[:: rate // 48000]
        quick *= np.max(slow) / np.max(quick)  # the peak may fall between two samples
        np.testing.assert_allclose(quick, slow, rtol=0, atol=1e-6)


def test_a_hard_pluck_starts_sharp_and_comes_down() -> None:
    # At a quarter of the sample rate there is one partial only, whose frequency can be read off its phase.
    sound = pluck(
        2000, seconds=1, sample_rate=8000, held_s=np.inf, string=String(glide_cents=50, decay_s=np.inf, **PURE)
    )
    sharp_cents = 1200 * np.log2(heard_hz(sound, 8000) / 2000)
    assert np.median(sharp_cents[40:60]) == pytest.approx(50 * np.exp(-50 / 8000 / 0.03), abs=2)
    assert np.median(sharp_cents[4000:]) == pytest.approx(0, abs=0.01)


def test_a_slide_moves_evenly_in_cents_and_never_jumps() -> None:
    sound = slide(
        Glide(1400, 2000, start_s=0.5, end_s=1.5),
        seconds=2,
        sample_rate=8000,
        held_s=np.inf,
        string=String(inharmonicity=0, pickup_position=0.2),
    )
    frequency_hz = heard_hz(sound, 8000)[2000:15000]  # from 0.25 s, when the finger's noise has gone
    assert frequency_hz[1000] == pytest.approx(1400, rel=1e-3)
    assert frequency_hz[6000] == pytest.approx((1400 * 2000) ** 0.5, rel=1e-3)
    assert frequency_hz[12000] == pytest.approx(2000, rel=1e-3)
    assert np.max(np.abs(np.diff(frequency_hz))) < 2.0  # the glide itself is at most 0.12 Hz a sample


def test_until_it_moves_a_slide_is_the_note_that_it_starts_from() -> None:
    """How its partials stand to each other, and how they die, is that of the pitch that was plucked."""
    string = String(inharmonicity=0, noise_share=0)
    still = pluck(100, seconds=2, sample_rate=8000, held_s=np.inf, string=string)
    glide = Glide(100, 200, start_s=0.8, end_s=1.5)
    moved = slide(glide, seconds=2, sample_rate=8000, held_s=np.inf, string=string)
    for number in (2, 3, 5):
        for start_s in (0.25, 0.55):
            shares = [level_at(sound, 100 * number, start_s, 8000) / level_at(sound, 100, start_s, 8000)
                      for sound in (still, moved)]  # fmt: skip
            assert shares[1] == pytest.approx(shares[0], rel=1e-3)


def test_a_dead_note_is_gone_at_once() -> None:
    sound = dead_note(41.2, seconds=0.4, level_volts=0.2)
    assert np.max(np.abs(sound)) == pytest.approx(0.2)
    assert np.max(np.abs(sound[7200:])) < 0.2 * 10 ** (-40 / 20)  # 40 dB down after 0.15 s


@pytest.mark.parametrize("silent", [{"level_volts": 0.0}, {"pluck_position": 0.0}, {"pickup_position": 0.0}])
def test_no_level_or_no_motion_is_silence(silent: dict[str, float]) -> None:
    np.testing.assert_allclose(pluck(55, seconds=0.2, **settings(silent)), 0.0, atol=1e-15)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"frequency_hz": 12001}, r"frequency_hz must be 1 to 12000 Hz, got frequency_hz = 12001 Hz"),
        ({"frequency_hz": float("nan")}, "frequency_hz must be"),
        ({"seconds": 0}, "seconds must be"),
        ({"sample_rate": 4000}, "sample_rate must be 8000 to 192000 Hz"),
        ({"level_volts": -1}, "level_volts must be"),
        ({"pluck_position": 1.2}, "pluck_position must be 0 to 1"),
        ({"pickup_position": -0.1}, "pickup_position must be 0 to 1"),
        ({"inharmonicity": 1}, "inharmonicity must be"),
        ({"decay_s": 0}, "decay_s must be"),
        ({"damping": 1}, "damping must be"),
        ({"slow_share": 2}, "slow_share must be"),
        ({"brightness_hz": 0}, "brightness_hz must be"),
        ({"rolloff_hz": 0}, "rolloff_hz must be"),
        ({"noise_share": 2}, "noise_share must be"),
        ({"glide_cents": -1}, "glide_cents must be"),
        ({"held_s": -1}, "held_s must be"),
    ],
)
def test_what_no_string_does_is_refused(wrong: dict[str, float], said: str) -> None:
    with pytest.raises(AudioDataError, match=said):
        pluck(**{"frequency_hz": 55.0, "seconds": 0.1, **settings(wrong)})


def test_a_slide_off_the_end_of_the_string_is_refused() -> None:
    with pytest.raises(AudioDataError, match="pickup_position at to_hz must be 0 to 1"):
        slide(Glide(50, 400, start_s=0.2, end_s=0.5), seconds=1, string=String(pickup_position=0.16))
    with pytest.raises(AudioDataError, match="end_s must be"):
        slide(Glide(50, 60, start_s=0.2, end_s=1.5), seconds=1)


def test_the_noise_floor_has_the_level_and_hum_asked_for() -> None:
    noise = noise_floor(48000, rms_volts=1e-3, hum_hz=60, hum_share=0.5, seed=3)
    assert np.sqrt(np.mean(noise**2)) == pytest.approx(1e-3, rel=0.05)
    lines = 2 * np.abs(np.fft.rfft(noise) / 48000) ** 2
    assert np.sum(lines[[60, 120, 180, 300, 420]]) == pytest.approx(0.5e-6, rel=0.1)
    octaves = [np.sum(np.delete(lines, 300)[low : 2 * low]) for low in (400, 800)]
    assert octaves[1] / octaves[0] == pytest.approx(1, rel=0.3)  # pink: as much in each octave
