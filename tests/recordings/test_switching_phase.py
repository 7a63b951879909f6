"""Where in the note's cycle the detectors switch the octave stage, and at what levels they hold on, on recorded notes.

Every recording is taken at 0.5 V peak; parts are ideal, as the peak latch is told of. Bounds are a little outside what
was measured when they were written.
"""

import numpy as np
import pytest

from recordings.soundfont import bass_notes, requires_soundfont
from sublatch.circuit.load import load_circuit
from sublatch.signal.cache import StageCache
from sublatch.takes.take import take_from_samples
from sublatch.tracking.phase import MID_WAVE
from sublatch.tracking.playing_levels import level_window, lock_over_level
from sublatch.tracking.track import mean_share, mean_step, track

pytestmark = [pytest.mark.long, pytest.mark.recordings, requires_soundfont]

PEAK_VOLTS = 0.5


def circuit_with(kind):
    return load_circuit("gated-swept", changes={"detector.kind": kind, "devices.values": "ideal"})


@pytest.fixture(scope="module")
def takes():
    """Each recording as a take, with the results that detectors share."""
    scaled = [(PEAK_VOLTS * note.samples / np.max(np.abs(note.samples)), note.sample_rate) for note in bass_notes()]
    return [(take_from_samples(samples, rate), StageCache()) for samples, rate in scaled]


@pytest.fixture(scope="module")
def tracked(takes):
    """What each kind of detector makes of every note."""
    circuits = {kind: circuit_with(kind) for kind in ("peak-latch", "overtone")}
    return {kind: [track(take, circuit, cache=cache) for take, cache in takes] for kind, circuit in circuits.items()}


def figures(results, name):
    found = [getattr(item.switching, name) for result in results for item in result.notes]
    return np.array([value for value in found if value is not None])


def window(takes, kind):
    """The window of all notes together, every note counting alike."""
    circuit = circuit_with(kind)
    every = [lock_over_level(take, circuit, cache=cache) for take, cache in takes]
    shares = np.mean([one.locked_share for one in every], axis=0)
    return level_window(every[0].gains_db, shares, peak_volts=PEAK_VOLTS)


@pytest.mark.parametrize(("kind", "least_deg", "most_deg"), [("peak-latch", 45.0, 70.0), ("overtone", 25.0, 45.0)])
def test_both_detectors_switch_well_off_the_zero_crossings(tracked, kind, least_deg, most_deg):
    """Measured: a median of 58° and 34° from the fundamental's zero crossing, steps of 38 % of the peak.

    At its fundamental's crest a note rich in overtones may well be near zero, so that the step is smaller than the
    sine of the phase.
    """
    assert least_deg < np.median(np.abs(figures(tracked[kind], "phase_deg"))) < most_deg
    step = mean_step(tracked[kind])
    assert 0.3 < step < 0.45
    assert step < MID_WAVE


def test_the_overtone_detector_locks_better_and_its_phase_wanders_more(tracked):
    """Measured: lock 85 % and 97 %; spread 23° and 32°, jitter from edge to edge 2.0° of both (medians).

    The wandering is slow: overtones drift against the fundamental while the note dies.
    """
    latch, overtone = tracked["peak-latch"], tracked["overtone"]
    assert mean_share(overtone) > mean_share(latch) + 0.1
    assert np.median(figures(overtone, "spread_deg")) > np.median(figures(latch, "spread_deg")) + 5.0
    for results in (latch, overtone):
        jitter_deg = np.median(figures(results, "jitter_deg"))
        assert jitter_deg < 3.5
        assert jitter_deg < np.median(figures(results, "spread_deg")) / 5
        assert np.median(figures(results, "jitter_ms")) < 0.13


def test_both_latches_take_any_level_from_under_a_tenth_of_a_volt_and_a_plain_comparator_does_not(takes):
    """Measured: from 0.057 V and 0.032 V peak up; fixed thresholds only from 0.19 V to 0.34 V, and 52 % at best.

    On every third note, as the others would say the same.
    """
    takes = takes[::3]
    for kind in ("peak-latch", "overtone"):
        found = window(takes, kind)
        assert found.low_volts < 0.1
        assert found.or_higher
    fixed = window(takes, "zero-crossing")
    assert not fixed.or_higher
    assert not fixed.or_lower
    assert fixed.high_db - fixed.low_db < 9.0
