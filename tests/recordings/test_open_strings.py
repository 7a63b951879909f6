"""What players say of tracking, common practice, no source: it must show on recorded notes, with the plain peak latch.

It is of ideal parts: of typical ones, offsets take more of its lock than strings and frets do.

Open strings lose lock more than fretted notes; inverting the drive changes tracking slightly. There are eight open
notes, on the E and G strings, and they differ more by string and hand than by fret. So each is held against the fretted
notes of the same string, played by the same hand: fingered, picked, slapped or popped.
"""

from functools import cache

import numpy as np
import pytest

from recordings.soundfont import bass_notes, requires_soundfont
from recordings.whole_notes import hand_of, whole_note
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.tracking.tune.figures import locked_shares

pytestmark = [pytest.mark.recordings, requires_soundfont]


@cache
def shares_of(name, drive="normal", seconds=np.inf):
    """Lock of each note by a built-in circuit with the textbook peak latch, whole notes or their beginnings."""
    notes = [whole_note(note, seconds=seconds) for note in bass_notes()]
    latch = {"detector.kind": "peak-latch", "switches.drive": drive, "devices.values": "ideal"}
    return locked_shares(notes, load_circuit(name, changes=latch))


def lost_by_open_strings(shares):
    """Of each open note, how much less it locks than the fretted ones of its string and hand, on average."""
    pairs = list(zip(bass_notes(), shares, strict=True))

    def fretted(note):
        return [
            share for one, share in pairs if one.fret and (one.string, hand_of(one)) == (note.string, hand_of(note))
        ]

    return np.array([np.mean(fretted(note)) - share for note, share in pairs if note.fret == 0])


@pytest.mark.parametrize("name", circuit_names())
def test_open_strings_lose_lock_more_than_fretted_notes(name):
    """Measured: 77.0 % of open strings' time against 88.1 %; on the same string, the same hand, 17.9 points less.

    All eight open notes are worse off than their fretted neighbours; by chance that would be one time in 256. In the
    first second the effect is a quarter of that, and not in every pair: open strings lose lock as they ring on.
    """
    shares = shares_of(name)
    fretted = np.array([note.fret > 0 for note in bass_notes()])
    lost = lost_by_open_strings(shares)
    assert len(lost) == 8
    assert np.all(lost > 0)
    assert 0.06 < np.mean(shares[fretted]) - np.mean(shares[~fretted]) < 0.16
    assert 0.12 < np.mean(lost) < 0.25


def test_it_shows_less_in_the_first_second():
    """Measured: 4.6 points less on the same string, the same hand, and two of the eight pairs are the other way."""
    lost = lost_by_open_strings(shares_of("gated-open", seconds=1.0))
    assert 0.02 < np.mean(lost) < 0.12 < np.mean(lost_by_open_strings(shares_of("gated-open")))


@pytest.mark.parametrize("name", circuit_names())
def test_inverting_the_drive_changes_tracking_slightly(name):
    """Measured: lock changes by 0.4 points on average, up or down, by 1.4 at most, and by more than one on 3 of 35.

    By the rendered sound, as `octave_judge` tells it, by 0.8 points on average, and by more than one on 6 of 35.
    """
    change = shares_of(name, "inverted") - shares_of(name)
    assert 0.002 < np.mean(np.abs(change)) < 0.02
    assert 0.01 < np.max(np.abs(change)) < 0.15
    assert 1 <= np.count_nonzero(np.abs(change) > 0.01) <= 12
    assert abs(np.mean(change)) < 0.01
