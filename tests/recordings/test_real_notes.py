"""The main job on recorded electric-bass notes, fingered, picked and slapped, that nobody here made."""

import numpy as np
import pytest

from recordings.soundfont import bass_notes, requires_soundfont
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.signal.chain import detected_drive, render
from sublatch.takes.take import take_from_samples
from sublatch.units.scales import cents

pytestmark = [pytest.mark.recordings, requires_soundfont]

START_S, END_S = 0.1, 1.0


def as_take(note, peak_volts=0.5):
    """The recording as a take whose peak is `peak_volts`."""
    return take_from_samples(note.samples / np.abs(note.samples).max() * peak_volts, note.sample_rate)


def locked_share(drive, pitch_hz):
    """Share of the first second in which four note periods of the drive are within 50 cents of half the pitch."""
    at = np.searchsorted(drive, np.arange(START_S, END_S, 0.005))
    whole = (at >= 2) & (at < len(drive) - 2)
    found = np.array([4 / (drive[i + 2] - drive[i - 2]) for i in at[whole]])
    return np.count_nonzero(np.abs(1200 * np.log2(found / pitch_hz)) < 50) / len(at)


def test_most_notes_are_tracked_while_they_are_loud():
    circuit = load_circuit("gated-open")
    shares = {n.name: locked_share(detected_drive(as_take(n), circuit), n.pitch_hz) for n in bass_notes()}
    assert np.mean(list(shares.values())) > 0.96  # found: 0.973
    assert np.count_nonzero(np.array(list(shares.values())) > 0.95) >= 27  # of 35; found: 29


@pytest.mark.parametrize("name", ["gated-open", "polarity-third-order"])
def test_where_it_tracks_the_rendered_sound_is_an_octave_down(name):
    """The lowest strong component that the switching makes, by its spectrum, is half what string and fret name.

    What the take has of its own there, such as another string ringing along, is not looked at: a gated half of it
    stays. Parts are ideal: the thump of typical ones has the same pitch, and in the open G that is slapped, whose
    octave is a few millivolts, the two nearly cancel.
    """
    circuit = load_circuit(name, changes={"filter.kind": "none", "devices.values": "ideal"})
    tracked = 0
    for note in bass_notes():
        take = as_take(note)
        rendered = render(take, circuit)
        if locked_share(rendered.drive_edges_s, note.pitch_hz) < 0.99:
            continue
        tracked += 1
        rate = note.sample_rate
        spectrum, own = (
            np.abs(np.fft.rfft(excerpt * np.hanning(len(excerpt)), 1 << 17))
            for excerpt in (
                one[round(START_S * rate) : round(END_S * rate)] for one in (rendered.samples, take.samples)
            )
        )
        frequency = np.fft.rfftfreq(1 << 17, 1 / rate)
        below = (frequency > 15) & (frequency < 0.75 * note.pitch_hz) & (spectrum > own)
        lowest = frequency[below][np.argmax(spectrum[below])]
        assert abs(cents(note.pitch_hz / 2, lowest)) < 35, note.name
    assert tracked >= 26


@pytest.mark.long
@pytest.mark.parametrize("name", circuit_names())
def test_every_built_in_circuit_renders_every_note(name):
    circuit = load_circuit(name)
    for note in bass_notes():
        rendered = render(as_take(note), circuit)
        assert len(rendered.samples) == len(note.samples)
        assert np.all(np.isfinite(rendered.samples))
        assert np.max(np.abs(rendered.samples)) > 0.01
        assert rendered.at_limit_share < 0.01


def test_inverting_the_drive_moves_the_switching_but_not_the_pitch():
    for note in bass_notes()[:6]:
        normal, inverted = (
            steady_part(detected_drive(as_take(note), load_circuit("gated-swept", changes={"switches.drive": way})))
            for way in ("normal", "inverted")
        )
        assert abs(len(normal) - len(inverted)) <= 1, note.name
        count = min(len(normal), len(inverted))
        assert np.min(np.abs(normal[:count] - inverted[:count])) > 1e-3, note.name
        pitches = [(len(drive) - 1) / (drive[-1] - drive[0]) for drive in (normal, inverted)]
        assert abs(cents(*pitches)) < 10, note.name


def steady_part(drive):
    """A drive's edges from 0.2 to 1 s."""
    return drive[(drive > 0.2) & (drive < 1.0)]
