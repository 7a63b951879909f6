"""Notes as fingers begin them: hammered on, pulled off, bent, ghosted, and slid through."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.arrays import Array
from sublatch.demo.partials import String
from sublatch.demo.strings import Glide, dead_note, pluck, slide
from sublatch.pitch.notes import find_notes
from sublatch.pitch.reference.confirmed_onsets import confirmed_onsets
from sublatch.pitch.reference.excerpts import AFTER_ONSET_S, BEFORE_ONSET_S, LENGTHS_S, RATE_HZ, excerpts
from sublatch.pitch.reference.onsets import onsets
from sublatch.pitch.reference.periodicity import periodicities
from sublatch.takes.take import take_from_samples
from sublatch.units.scales import note_to_hz

RATE = 16000
LEAD_S = 0.3
BRIGHT = String(pickup_position=0.12)


def played(*sounds: tuple[float, Array], seconds: float) -> Array:
    """Return sounds at their times after a lead-in, over a little noise."""
    line = 1e-4 * np.random.default_rng(7).standard_normal(round((LEAD_S + seconds) * RATE))
    for start_s, sound in sounds:
        first = round((LEAD_S + start_s) * RATE)
        line[first : first + len(sound)] += sound[: len(line) - first]
    return line


def found(line: Array) -> list[tuple[str, float]]:
    """Return name and start of each note, counted from the end of the lead-in."""
    notes = find_notes(take_from_samples(line, RATE), tuning="bass-5").notes
    return [(note.name, note.start_s - LEAD_S) for note in notes]


@pytest.mark.parametrize(("low", "high"), [("E1", "G1"), ("A1", "B1"), ("D2", "F#2"), ("G2", "A2")])
@pytest.mark.parametrize("up", [True, False])
def test_a_note_hammered_on_or_pulled_off_is_a_note_of_its_own(low: str, high: str, up: bool) -> None:
    """The pitch changes within 20 ms, and nothing is plucked."""
    first, second = (low, high) if up else (high, low)
    way = Glide(note_to_hz(first), note_to_hz(second), start_s=0.5, end_s=0.52)
    notes = found(played((0.0, slide(way, seconds=1.2, sample_rate=RATE, string=BRIGHT)), seconds=1.5))
    assert [name for name, _ in notes] == [first, second]
    assert notes[1][1] == pytest.approx(0.51, abs=0.05)


@pytest.mark.parametrize("name", ["E1", "A1", "G2"])
@pytest.mark.parametrize("semitones", [1, 2])
def test_a_bend_is_one_note(name: str, semitones: int) -> None:
    """Up within 0.3 s and held: the pitch moves, but it is played once."""
    pitch_hz = note_to_hz(name)
    way = Glide(pitch_hz, pitch_hz * 2 ** (semitones / 12), start_s=0.4, end_s=0.7)
    assert len(found(played((0.0, slide(way, seconds=1.4, sample_rate=RATE, string=BRIGHT)), seconds=1.6))) == 1


@pytest.mark.parametrize("beats_a_minute", [100, 120])
def test_ghost_notes_between_sixteenths_are_not_counted(beats_a_minute: int) -> None:
    step_s = 60.0 / beats_a_minute / 4
    names = ["E1", None, "G1", "A1", None, "A1", "B1", None, "D2", "E1"]
    sounds = []
    for place, name in enumerate(names):
        shape = {"seconds": step_s + 0.05, "sample_rate": RATE, "seed": place}
        if name is None:
            sound = dead_note(note_to_hz("E1"), level_volts=0.2, **shape)
        else:
            sound = pluck(note_to_hz(name), held_s=0.9 * step_s, level_volts=0.4, string=BRIGHT, **shape)
        sounds.append((place * step_s, sound))
    notes = found(played(*sounds, seconds=len(names) * step_s + 0.3))
    assert [name for name, _ in notes] == [name for name in names if name]
    starts_s = [place * step_s for place, name in enumerate(names) if name]
    assert [start_s for _, start_s in notes] == pytest.approx(starts_s, abs=0.04)


def test_onsets_of_a_slide_do_not_stand_and_faint_ones_do_where_the_pitch_changes() -> None:
    """Steady, a slide over an octave in 0.5 s, steady, and from 2 s on another pitch."""
    time_s = np.arange(300) * 0.01
    cents = np.interp(time_s, (0.8, 1.3), (0.0, 1200.0)) + 300.0 * (time_s >= 2.0)
    pitch_hz = 50.0 * 2 ** (cents / 1200)
    clear_s, faint_s = np.array([0.3, 1.05]), np.array([0.3, 0.5, 1.05, 1.6, 2.0])
    assert confirmed_onsets(pitch_hz, clear_s, faint_s).tolist() == [0.3, 2.0]
    pitch_hz[90:120] = np.nan
    assert confirmed_onsets(pitch_hz, clear_s, faint_s).tolist() == [0.3, 1.05, 2.0]


@pytest.mark.parametrize("seed", range(3))
def test_white_noise_has_hardly_an_onset_but_its_beginning(seed: int) -> None:
    """Bands of noise rise some ten times a second; of those fewer than one in twenty may pass."""
    noise = 0.1 * np.random.default_rng(seed).standard_normal(8 * RATE)
    clear_s, faint_s = onsets(take_from_samples(np.concatenate([np.zeros(RATE), noise]), RATE))
    assert abs(clear_s[0] - 1.0) < 0.02
    assert sum(start_s > 1.3 for start_s in clear_s) <= 4
    assert len(clear_s) <= len(faint_s)


def test_every_excerpt_lies_between_two_onsets_and_is_the_longest_that_fits() -> None:
    onsets_s = np.array([0.5, 0.62, 0.9, 1.6])
    where = excerpts(200, onsets_s)
    lengths_s = np.array(LENGTHS_S)[where.length]
    begin_s, end_s = where.first / RATE_HZ, where.first / RATE_HZ + lengths_s
    bounds_s = where.bounds_s[where.span]
    room_s = bounds_s[:, 1] - bounds_s[:, 0]
    fits = room_s >= LENGTHS_S[0]
    assert np.all(fits)
    assert np.all(begin_s >= bounds_s[:, 0] - 1 / RATE_HZ)
    assert np.all(end_s <= bounds_s[:, 1] + 1 / RATE_HZ)
    assert set(lengths_s[(where.span > 0) & (where.span < 4)].round(3)) == {0.094, 0.176}
    assert where.bounds_s[1].tolist() == pytest.approx([0.5 + AFTER_ONSET_S, 0.62 - BEFORE_ONSET_S])
    assert excerpts(200, np.array([0.03])).span.max() == 0


def test_a_short_stretch_repeats_itself_at_its_period_and_its_multiples() -> None:
    """For x(t) = x(t + T) the difference function is 1 at T and 2 T, −1 for a sine at T/2 (closed form)."""
    sound = np.sin(2 * np.pi * 100.0 * np.arange(4000) / 4000)
    where = excerpts(100, np.array([0.2, 0.35]))
    likeness = periodicities(sound, where, np.array([100.0, 50.0, 200.0]))
    assert list(likeness) == [1]
    assert likeness[1] == pytest.approx([1.0, 1.0, -1.0], abs=0.02)
