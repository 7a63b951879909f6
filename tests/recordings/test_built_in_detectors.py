"""Lock of each built-in circuit, as it is, on recorded bass notes, from the pluck until they are 40 dB down.

The pitch is what string and fret name. Hard notes are open strings, and the D and G strings in first position.
"""

import numpy as np
import pytest

from recordings.soundfont import bass_notes, requires_soundfont
from recordings.whole_notes import as_take, is_hard, whole_note
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.tracking.track import track
from sublatch.tracking.tune.figures import locked_shares

pytestmark = [pytest.mark.recordings, requires_soundfont]

MEASURED = {"peak-latch": (0.856, 0.727, 0.964), "overtone": (0.986, 0.988, 0.985)}
"""Mean lock of all 35 notes, of the hard ones, of the rest."""


@pytest.fixture(scope="module")
def notes():
    return [whole_note(note) for note in bass_notes()]


@pytest.mark.parametrize("kind", [None, "overtone"])
@pytest.mark.parametrize("name", circuit_names())
def test_every_built_in_circuit_locks_as_much_as_is_said(notes, name, kind):
    """With its own detector, and with the overtone detector in its place; within a point of what was measured."""
    circuit = load_circuit(name, changes={"detector.kind": kind} if kind else {})
    shares, hard = locked_shares(notes, circuit), np.array([is_hard(note) for note in bass_notes()])
    found = np.mean(shares), np.mean(shares[hard]), np.mean(shares[~hard])
    assert found == pytest.approx(MEASURED[circuit.detector.kind], abs=0.01)


def test_the_tracking_job_finds_the_same_by_itself(notes):
    """Notes and pitches found in the take instead of named. Measured: 0.2 points apart on average, 1.3 at most."""
    circuit = load_circuit("gated-open")
    tracked = [track(as_take(note), circuit).locked_share for note in bass_notes()]
    apart = np.array(tracked) - locked_shares(notes, circuit)
    assert np.mean(np.abs(apart)) < 0.005
    assert np.max(np.abs(apart)) < 0.03
