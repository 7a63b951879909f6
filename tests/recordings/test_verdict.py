"""What lock says of a drive's edges holds of the rendered sound, judged by its own waveform, on recorded bass notes.

The octave comes unfiltered, without the direct signal. Once a period, the sound of four periods around is held against
itself, two of them against two that lie some time later; the shortest time after which it is as like itself as after
any other, from a third of a period to two and a half, is its period. An octave down, that is two periods of the note.
Parts are ideal: of real ones the peak latch makes far fewer edges.
"""

from functools import cache

import numpy as np
import pytest

from recordings.soundfont import bass_notes, requires_soundfont
from recordings.whole_notes import whole_note
from sublatch.circuit.load import load_circuit
from sublatch.signal.chain import detected_edges, render
from sublatch.tracking.in_lock import TOLERANCE_CENTS, cents_of, rates

pytestmark = [pytest.mark.long, pytest.mark.recordings, requires_soundfont]

CIRCUITS = ["gated-open", "polarity-third-order"]
DETECTORS = ["peak-latch", "overtone"]
AS_LIKE = 0.9


def likeness(sound, middle, period):
    """How like itself two periods of a sound are after each lag, in samples: the lags, and 1 for the same."""
    length = round(2 * period)
    lags = np.arange(round(0.35 * period), round(2.5 * period))
    start = int(middle - 2 * period)
    part = sound[start : start + length + lags[-1]]
    if start < 0 or len(part) < length + lags[-1]:
        return lags, np.zeros(len(lags))
    products = np.correlate(part, part[:length])[lags]
    energy = np.concatenate(([0.0], np.cumsum(part**2)))
    norms = np.sqrt(energy[length] * (energy[lags + length] - energy[lags])) + 1e-20
    return lags, products / norms


def heard_periods(sound, middle, period):
    """Period of the sound around a place, in periods of the note."""
    lags, like = likeness(sound, middle, period)
    peaks = np.flatnonzero((like[1:-1] > like[:-2]) & (like[1:-1] >= like[2:])) + 1
    most = np.max(like[peaks], initial=0.0)
    return lags[peaks[like[peaks] > AS_LIKE * most][0]] / period if most > 0 else 0.0


@cache
def verdicts(circuit_name, detector):
    """Of every period of every note: whether the edges lock, whether the sound is an octave down, cycles to an edge."""
    settings = {"filter.kind": "none", "knobs.direct": 0, "detector.kind": detector, "devices.values": "ideal"}
    circuit = load_circuit(circuit_name, changes=settings)
    found = []
    for real, note in ((real, whole_note(real)) for real in bass_notes()):
        rate, pitch_hz = note.take.sample_rate, note.pitch_hz
        sets = (detected_edges(note.take, circuit)[::2] - note.start_s) * pitch_hz
        length = (note.end_s - note.start_s) * pitch_hz
        sound = render(note.take, circuit).samples
        places = np.arange(2.0, length - 3.0)
        locked = np.abs(cents_of(rates(sets[(sets >= 0) & (sets <= length)], places, length=length))) < TOLERANCE_CENTS
        middles = (note.start_s + places / pitch_hz) * rate
        heard = np.array([heard_periods(sound, middle, rate / pitch_hz) for middle in middles])
        down = np.abs(1200 * np.log2(np.maximum(heard, 1e-3) / 2)) < TOLERANCE_CENTS
        found += [(real.name, *one) for one in zip(places, locked, down, heard, strict=True)]
    return found


@pytest.mark.parametrize("detector", DETECTORS)
@pytest.mark.parametrize("circuit", CIRCUITS)
def test_where_the_edges_lock_the_sound_is_an_octave_down(circuit, detector):
    """Measured, of 8954 periods in lock with the peak latch and 11020 with the overtone detector: 99.6 to 99.9 %."""
    frames = verdicts(circuit, detector)
    agreed = np.array([down for _, _, locked, down, _ in frames if locked])
    assert len(agreed) > 8000
    assert np.mean(agreed) >= 0.97


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_where_they_disagree_the_window_reaches_into_a_dropout_or_the_attack(circuit):
    """In popped D and G notes above all, whose second partial outweighs the rest: an octave down is least clear there.

    Measured, gated and polarity-switched: 7 and 34 of 8954 periods.
    """
    frames = verdicts(circuit, "peak-latch")
    lost = {(name, place) for name, place, locked, _, _ in frames if not locked}
    apart = [(name, place) for name, place, locked, down, _ in frames if locked and not down]
    near = [place < 5 or bool({(name, place + k) for k in range(-2, 3)} & lost) for name, place in apart]
    assert 1 <= len(apart) <= 60
    assert np.mean(near) > 0.8


def test_the_judge_hears_notes_that_no_circuit_has_touched_at_their_own_pitch():
    """Or an octave above, where odd partials have died; an octave down in less than a hundredth (measured: 0.4 %)."""
    heard = []
    for note in map(whole_note, bass_notes()):
        rate = note.take.sample_rate
        places = np.arange(2.0, (note.end_s - note.start_s) * note.pitch_hz - 3.0)
        middles = (note.start_s + places / note.pitch_hz) * rate
        heard += [heard_periods(note.take.samples, middle, rate / note.pitch_hz) for middle in middles]
    assert np.mean(np.array(heard) > 1.5) < 0.01


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_far_from_any_lock_the_sound_is_seldom_an_octave_down(circuit):
    """Four periods or more from the nearest moment in lock, so that no window reaches there.

    Measured on 1872 such periods: 6.5 % gated, 3.0 % polarity-switched.
    """
    frames = verdicts(circuit, "peak-latch")
    locked = {(name, place) for name, place, is_locked, _, _ in frames if is_locked}
    far = [down for name, place, _, down, _ in frames if not {(name, place + k) for k in range(-4, 5)} & locked]
    assert len(far) > 1000
    assert np.mean(far) < 0.1
