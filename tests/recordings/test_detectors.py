"""Lock of the detectors on recorded bass notes, whole notes from the pluck until they are 40 dB down.

The pitch is what string and fret name. Every figure asked for is a little under what was measured when it was written.
"""

import numpy as np
import pytest

from recordings.soundfont import bass_notes, requires_soundfont
from sublatch.circuit.detectors.overtone import Band, Blend, Overtone
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.model import detector_kinds
from sublatch.takes.take import take_from_samples
from sublatch.tracking.tune import variants as moves
from sublatch.tracking.tune.fast_lock import TuneNote
from sublatch.tracking.tune.figures import locked_shares
from sublatch.tracking.tune.job import tune

pytestmark = [pytest.mark.recordings, requires_soundfont]

IDEAL = {"devices.values": "ideal"}
DOWN = 10 ** (-40 / 20)
WINDOW_S = 0.05


def whole_note(note, peak_volts=0.5):
    """A recording as a note to tune on: from a twentieth of its peak until it stays 40 dB below."""
    samples, rate = note.samples / np.abs(note.samples).max() * peak_volts, note.sample_rate
    start = np.flatnonzero(np.abs(samples) > 0.05 * peak_volts)[0]
    window = round(WINDOW_S * rate)
    count = len(samples) // window
    peaks = np.abs(samples[: count * window]).reshape(count, window).max(axis=1)
    end = (np.flatnonzero(peaks > DOWN * peak_volts)[-1] + 1) * window
    take = take_from_samples(samples, rate)
    return TuneNote(take, start / rate, end / rate, note.pitch_hz, open_string=note.fret == 0)


@pytest.fixture(scope="module")
def notes():
    return [whole_note(note) for note in bass_notes()]


def is_hard(note):
    """Open strings, and the D and G strings in first position: where overtones outweigh the fundamental."""
    return note.fret == 0 or (note.string in "DG" and note.fret < 5)


HARD = np.array([is_hard(note) for note in bass_notes()])


def strongest_partial(note):
    """Number of the strongest of the first eight partials between 0.1 and 1.1 s."""
    rate = note.sample_rate
    excerpt = note.samples[round(0.1 * rate) : round(1.1 * rate)]
    spectrum = np.abs(np.fft.rfft(excerpt * np.hanning(len(excerpt)), 1 << 18))
    frequency = np.fft.rfftfreq(1 << 18, 1 / rate)
    near = [np.abs(frequency / (n * note.pitch_hz) - 1) < 0.03 for n in range(1, 9)]
    return 1 + int(np.argmax([spectrum[one].max() for one in near]))


def shares_of(notes, **changes):
    """Lock of each note by the built-in detector with these settings of it changed."""
    settings = {f"detector.{name.replace('__', '.')}": value for name, value in changes.items()}
    return locked_shares(notes, load_circuit("gated-open", changes=settings))


def test_the_built_in_detectors_are_one():
    first, *others = (load_circuit(name) for name in circuit_names())
    assert all((one.input, one.detector) == (first.input, first.detector) for one in others)


def test_the_built_in_peak_latch_loses_only_notes_whose_overtones_outweigh_the_fundamental(notes):
    """Slapped notes on the D and G strings: the fundamental lies up to 20 dB under the second partial.

    Of ideal parts; what typical ones cost it is in `test_parts_that_are_off`.
    """
    circuit = load_circuit("gated-open", changes={"detector.kind": "peak-latch", **IDEAL})
    shares = locked_shares(notes, circuit)
    assert np.mean(shares) == pytest.approx(0.856, abs=0.01)
    lost = [note for note, share in zip(bass_notes(), shares, strict=True) if share < 0.7]
    assert {note.name for note in lost} >= {"Slap Bass D3", "Pop G0"}
    assert all(strongest_partial(note) > 1 for note in lost)


def test_the_overtone_detector_holds_on_to_every_style_with_its_own_values(notes):
    """Measured: 98.6 % of all notes' time, 98.8 % where overtones outweigh the fundamental; 83.2 % of the worst note.

    Its low-pass, band and hold were found on these very notes; what tuning reaches on notes it has not heard is asked
    for further down. Its floor is above what real parts are off, and its amplifiers reach their limits.
    """
    shares = shares_of(notes, kind="overtone")
    styles = np.array([note.style for note in bass_notes()])
    assert np.mean(shares[HARD]) > 0.953
    assert np.mean(shares[~HARD]) > 0.96
    for style, least in (("fingered", 0.975), ("picked", 0.982), ("slapped", 0.933)):
        assert np.mean(shares[styles == style]) > least, style
    worst = np.argsort(shares)
    assert bass_notes()[worst[0]].name == "Pop G0"
    assert shares[worst[0]] > 0.76
    assert shares[worst[1]] > 0.8


def test_inverted_it_holds_on_as_well(notes):
    circuit = load_circuit("gated-open", changes={"detector.kind": "overtone", "switches.drive": "inverted"})
    assert np.mean(locked_shares(notes, circuit)) > 0.953


@pytest.mark.parametrize("level", [0.5, 2.0])
def test_it_bears_a_take_6_db_softer_or_louder(level):
    played = [whole_note(note, peak_volts=0.5 * level) for note in bass_notes()]
    assert np.mean(shares_of(played, kind="overtone")) > 0.95


def test_the_best_plain_peak_latch_is_no_match_for_it(notes):
    """The best of 500 peak latches tried on these notes, with a threshold lower than a comparator's own offset.

    It is of ideal parts, with which it holds on best; the overtone detector is of typical ones.

    Measured: it loses 7.0 % of the time, 9.9 % of the hard notes; the overtone detector 1.4 % and 1.2 %.
    """
    best = {
        "kind": "peak-latch",
        "filter": {"kind": "first-order", "resistor": "9k1", "capacitor": "100n"},
        "fraction": "95%",
        "hold_resistor": "220k",
        "floor": "390uV",
    }
    changes = {"switches.drive": "inverted", "detector": best, **IDEAL}
    plain = locked_shares(notes, load_circuit("gated-open", changes=changes))
    overtone = shares_of(notes, kind="overtone")
    assert 0.915 < np.mean(plain) < 0.945
    assert 1 - np.mean(overtone) < (1 - np.mean(plain)) / 3
    assert 1 - np.mean(overtone[HARD]) < (1 - np.mean(plain[HARD])) / 3


def as_nobody_tuned_it():
    """An overtone detector of round values: equal shares, a band of 300 to 1500 Hz, 100 Hz, a fraction of a half."""
    band_filter = SecondOrder(
        first_resistor=7.5e3, second_resistor=7.5e3, ground_capacitor=10e-9, feedback_capacitor=22e-9
    )
    return Overtone(
        filter=moves.butterworth(3, 100.0),
        fraction=0.5,
        hold_resistor=100e3,
        band=Band(capacitor=15e-9, filter=band_filter),
        blend=Blend(rectified_resistor=47e3, plain_resistor=47e3),
    )


class Untuned(Overtone):
    """The overtone detector with other values of its own."""

    def __init__(self, **values):
        super().__init__(**(values or as_nobody_tuned_it().model_dump()))


@pytest.mark.long
@pytest.mark.parametrize(
    ("first", "least_hard", "least_rest", "lost"),
    [  # Measured: 98.1, 99.4 and no note under 94.2; and 98.8, 99.0 and 94.9 without the one that is lost, which holds
        # 44. Through "Pop G5" the A string rings on, 15 dB under the fundamental, and the low-pass that low notes want
        # favours it by 11 dB; no note that is searched on is like it, and other searches hold it 19 to 83.
        (0, 0.97, 0.985, set()),
        (1, 0.975, 0.98, {"Pop G5"}),
    ],
    ids=["the first of each two", "the second of each two"],
)
def test_tuned_on_every_other_note_it_holds_on_to_the_others(notes, monkeypatch, first, least_hard, least_rest, lost):
    """The search starts from values that know nothing of these notes."""
    monkeypatch.setattr(moves, "detector_kinds", lambda: {**detector_kinds(), "overtone": Untuned})
    begun = load_circuit("gated-open", changes={"detector.kind": "peak-latch"})
    found = tune(notes[first::2], begun, trials=500, held_out_share=0.0)
    others, hard = notes[1 - first :: 2], HARD[1 - first :: 2]
    names = np.array([note.name for note in bass_notes()[1 - first :: 2]])
    shares = locked_shares(others, found.circuit)
    assert found.circuit.detector.kind == "overtone"
    assert set(names[shares < 0.93]) <= lost
    held = ~np.isin(names, list(lost))
    assert np.mean(shares[hard & held]) > least_hard
    assert np.mean(shares[~hard & held]) > least_rest
    assert np.mean(shares) > np.mean(locked_shares(others, begun)) + 0.1
