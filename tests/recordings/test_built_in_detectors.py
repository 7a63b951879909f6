"""Lock of each built-in circuit, as it is, on recorded bass notes, from the pluck until they are 40 dB down.

The pitch is what string and fret name. Hard notes are open strings, and the D and G strings in first position.
"""

import numpy as np
import pytest

from recordings.soundfont import bass_notes, requires_soundfont
from recordings.whole_notes import as_take, is_hard, whole_note
from sublatch.circuit.detectors.overtone import Overtone
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.tracking.track import track
from sublatch.tracking.tune.figures import locked_shares

pytestmark = [pytest.mark.recordings, requires_soundfont]

VALUES = ("ideal", "typical")
MEASURED = {
    "peak-latch": (0.856, 0.727, 0.964),
    "overtone": (0.978, 0.976, 0.979),
    "logarithmic-latch": (0.874, 0.772, 0.960),
}
"""Mean lock of all 35 notes, of the hard ones, of the rest.

Of a peak latch of ideal parts: its thresholds are direct-coupled, so that typical ones take some of its lock.
"""
CASES = [("peak-latch", "ideal"), *((kind, values) for kind in ("overtone", "logarithmic-latch") for values in VALUES)]


@pytest.fixture(scope="module")
def notes():
    return [whole_note(note) for note in bass_notes()]


def test_every_built_in_circuit_has_the_overtone_detector_and_the_same():
    circuits = [load_circuit(name) for name in circuit_names()]
    assert all(one.detector == Overtone() for one in circuits)
    assert len({(one.input, one.supply, one.limits, one.switches.drive) for one in circuits}) == 1


@pytest.mark.parametrize(("kind", "values"), CASES)
def test_each_kind_locks_as_much_as_is_said(notes, kind, values):
    """In a built-in circuit, all of which have the same ahead of the octave stage; within a point of what was found."""
    circuit = load_circuit("gated-open", changes={"detector.kind": kind, "devices.values": values})
    shares, hard = locked_shares(notes, circuit), np.array([is_hard(note) for note in bass_notes()])
    found = np.mean(shares), np.mean(shares[hard]), np.mean(shares[~hard])
    assert found == pytest.approx(MEASURED[kind], abs=0.01)


def test_the_tracking_job_finds_the_same_by_itself(notes):
    """Notes and pitches found in the take instead of named. Measured: 0.2 points apart on average, 1.3 at most."""
    circuit = load_circuit("gated-open")
    tracked = [track(as_take(note), circuit).locked_share for note in bass_notes()]
    apart = np.array(tracked) - locked_shares(notes, circuit)
    assert np.mean(np.abs(apart)) < 0.005
    assert np.max(np.abs(apart)) < 0.03
