"""Where a tuned detector's edges fall: the step they make, and what it costs a circuit in the search."""

import numpy as np
import pytest

from sublatch.circuit.boards import BoardDraws
from sublatch.circuit.load import load_circuit
from sublatch.errors import AudioDataError
from sublatch.takes.take import take_from_samples
from sublatch.tracking.in_lock import WINDOW_CYCLES
from sublatch.tracking.track import track
from sublatch.tracking.tune.fast_lock import Listener, TuneNote
from sublatch.tracking.tune.figures import note_figures, without_steps
from sublatch.tracking.tune.job import TuneAim
from sublatch.tracking.tune.job import tune as tune_on

RATE = 16000
IDEAL = {"devices.values": "ideal"}
PLAIN = {"detector.kind": "peak-latch", **IDEAL}
SHARES = (1.0, 0.3, 0.15, 0.1)


def tune(notes, circuit, *, boards=None, step_weight=0.0, **how):
    """Search on few boards, and measure on few, which are enough to tell what is done with them."""
    return tune_on(notes, circuit, aim=TuneAim(step_weight, boards or BoardDraws(3)), **how)


def one_note(pitch_hz, *, shares=SHARES, seconds=0.8, decay=2.0, open_string=False):
    """A take of silence and then one note, dying away at so many nepers a second; phases are the partials' numbers."""
    t = np.arange(round(seconds * RATE)) / RATE
    tone = sum(a * np.sin(2 * np.pi * n * pitch_hz * t + n) for n, a in enumerate(shares, start=1))
    samples = 0.2 * np.minimum(1.0, t / 0.01) * np.exp(-decay * t) * tone
    take = take_from_samples(np.concatenate((np.zeros(round(0.3 * RATE)), samples)), RATE)
    return TuneNote(take, 0.3, 0.3 + seconds, pitch_hz, open_string)


@pytest.fixture(scope="module")
def easy_notes():
    """Notes that any detector holds on to."""
    return [one_note(pitch_hz, open_string=pitch_hz < 42.0) for pitch_hz in (41.2, 46.2, 55.0, 65.4, 77.8, 98.0)]


def crossing_at(corner_farad):
    """A plain comparator after a first-order low-pass of 47 kΩ, of ideal parts."""
    low_pass = {"kind": "first-order", "resistor": "47k", "capacitor": corner_farad}
    detector = {"kind": "zero-crossing", "hysteresis": "500uV", "filter": low_pass}
    return load_circuit("gated-open", changes={"detector": detector, **IDEAL})


@pytest.mark.parametrize(("text", "farad"), [("1n", 1e-9), ("22n", 22e-9), ("100n", 100e-9)])
def test_a_sines_step_is_the_sine_of_the_low_passs_lag(text, farad):
    """An RC low-pass lags by arctan(2πfRC), and a comparator behind it switches so much after the zero crossing."""
    notes = [one_note(pitch_hz, shares=(1.0,), seconds=1.5, decay=0.0) for pitch_hz in (41.2, 110.0)]
    expected = [np.sin(np.arctan(2 * np.pi * note.pitch_hz * 47e3 * farad)) for note in notes]
    circuit = crossing_at(text)
    np.testing.assert_allclose(note_figures(notes, circuit).step_shares, expected, atol=0.015)
    np.testing.assert_allclose(Listener(notes).locked_and_step_shares(circuit)[1], expected, atol=0.015)


@pytest.mark.parametrize("kind", ["zero-crossing", "peak-latch", "overtone", "logarithmic-latch"])
@pytest.mark.parametrize("stages", [1, 2])
def test_the_fast_measure_agrees_with_the_whole_path(easy_notes, kind, stages):
    circuit = load_circuit("gated-open", changes={"detector.kind": kind, "divider.stages": stages})
    whole, fast = note_figures(easy_notes, circuit), Listener(easy_notes).locked_and_step_shares(circuit)
    cycles = np.array([(note.end_s - note.start_s) * note.pitch_hz for note in easy_notes])
    assert np.all(np.abs(fast[0] - whole.locked_shares) <= WINDOW_CYCLES / cycles)  # set or not when a note begins
    np.testing.assert_allclose(fast[1], whole.step_shares, atol=0.04)


def test_a_note_has_the_step_that_tracking_tells(easy_notes):
    """Tracking finds start and end of the note by itself."""
    circuit = load_circuit("gated-open", changes=PLAIN)
    for note in easy_notes:
        assert track(note.take, circuit).step_share == pytest.approx(
            note_figures([note], circuit).step_shares[0], abs=0.03
        )


def test_means_leave_out_notes_without_edges(easy_notes):
    silent = TuneNote(take_from_samples(np.zeros(RATE), RATE), 0.2, 0.9, 55.0, open_string=True)
    found = note_figures([silent, *easy_notes[1:]], load_circuit("gated-open", changes=PLAIN))
    assert np.isnan(found.step_shares[0])
    assert found.step_share == pytest.approx(np.mean(found.step_shares[1:]))
    assert found.open_locked() == found.open_locked(step_weight=0.5) == 0.0
    assert note_figures([silent], load_circuit("gated-open", changes=PLAIN)).step_share is None


def test_what_steps_cost_is_a_share_of_the_lock():
    locked, steps = np.array([1.0, 0.8, 0.5, 0.0]), np.array([0.0, 0.5, 1.0, np.nan])
    np.testing.assert_allclose(without_steps(locked, steps, 0.5), [1.0, 0.6, 0.25, 0.0])
    np.testing.assert_array_equal(without_steps(locked, steps, 0.0), locked)


def test_with_a_weight_the_edges_move_to_the_zero_crossings(easy_notes):
    """All is locked at the start, as drawn and of ideal parts."""
    start = load_circuit("gated-open", changes=PLAIN)
    found = tune(easy_notes, start, trials=100, held_out_share=0.34, step_weight=0.5)
    for before, after in ((found.before, found.after), (found.held_out.before, found.held_out.after)):
        assert before.locked_share == 1.0
        assert before.step_share > 0.5
        assert after.step_share < 0.5 * before.step_share
        assert after.locked_share > 0.95


@pytest.mark.parametrize("seed", range(4))
def test_it_is_never_worse_than_the_start_by_the_weighed_score(easy_notes, seed):
    """From a circuit that does well already, with only a few trials; lock may fall where the edges pay for it."""
    start, weight = crossing_at("10n"), 0.8
    found = tune(easy_notes, start, trials=9, seed=seed, held_out_share=0.5, step_weight=weight)
    order = sorted(easy_notes, key=lambda note: (not note.open_string, note.pitch_hz))
    searched_on, held_out = order[0::2], order[1::2]
    for notes, told in ((searched_on, found.after), (held_out, found.held_out.after)):
        before, after = (note_figures(notes, circuit) for circuit in (start, found.circuit))
        assert (after.locked(), after.open_locked()) == (told.locked_share, told.open_string_locked_share)
        assert after.locked(step_weight=weight) >= before.locked(step_weight=weight)
        assert (after.open_locked(step_weight=weight) or 0.0) >= (before.open_locked(step_weight=weight) or 0.0)


def test_without_a_weight_nothing_hangs_on_the_edges(easy_notes, monkeypatch):
    """Not even the time it takes to look at them; and a weight of 0 is none."""
    weak = (0.01, 1.0, 0.03, 0.5, 0.4, 0.4, 0.3, 0.3, 0.25, 0.2, 0.2, 0.15, 0.1, 0.1)
    notes = [one_note(pitch_hz, shares=weak, open_string=True) for pitch_hz in (73.4, 82.4, 98.0)]
    start = load_circuit("gated-open", changes=PLAIN)
    expected = tune(notes, start, trials=40, seed=1)
    assert expected.changes
    monkeypatch.delattr(Listener, "locked_and_step_shares")
    found = tune(notes, start, trials=40, seed=1, step_weight=0.0)
    assert (found.circuit, found.after, found.held_out) == (expected.circuit, expected.after, expected.held_out)


@pytest.mark.parametrize("weight", [-0.1, 1.01, float("nan"), float("inf")])
def test_a_weight_out_of_range_is_refused(easy_notes, weight):
    with pytest.raises(AudioDataError, match=rf"step_weight must be 0 to 1, got {weight:g}; at 1, a note"):
        tune(easy_notes, load_circuit("gated-open", changes=PLAIN), step_weight=weight)
