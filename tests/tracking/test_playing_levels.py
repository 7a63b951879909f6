"""Lock over playing level: the same as when the take itself is louder, and the window read off it."""

import json

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.demo.takes import demo_takes
from sublatch.errors import AudioDataError
from sublatch.json_data import plain_values
from sublatch.pitch.notes import Note
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges
from sublatch.takes.take import take_from_samples
from sublatch.tracking.drive_over_level import drives_over_level
from sublatch.tracking.lock import lock
from sublatch.tracking.playing_levels import GAINS_DB, LevelLock, level_window, lock_over_level
from sublatch.tracking.track import note_lock, track

RATE = 16000
DETECTORS = {
    "peak-latch": {"detector.kind": "peak-latch"},
    "a latch with a high floor": {
        "detector.kind": "peak-latch",
        "detector.fraction": "30%",
        "detector.floor": "60mV",
    },
    "overtone": {"detector.kind": "overtone"},
    "logarithmic": {"detector.kind": "logarithmic-latch"},
    "zero-crossing": {"detector.kind": "zero-crossing"},
    "no hysteresis": {"detector.kind": "zero-crossing", "detector.hysteresis": "0V"},
    "unfiltered": {"detector.kind": "zero-crossing", "detector.filter.kind": "none"},
    "inverted": {"detector.kind": "peak-latch", "switches.drive": "inverted"},
    "leveller": {"detector.kind": "peak-latch", "detector.leveller": {"target": "300mV"}},
    "typical parts": {"detector.kind": "peak-latch", "devices.values": "typical"},
}
"""Of ideal parts but for the last: edges at all levels are told from one filtered take only where nothing is off."""


@pytest.fixture(scope="module")
def line():
    return take_from_samples(demo_takes(RATE)["walking-line"], RATE)


@pytest.fixture(scope="module")
def slide():
    return take_from_samples(demo_takes(RATE)["slide"], RATE)


def circuit_of(which):
    return load_circuit("gated-open", changes={"devices.values": "ideal", **DETECTORS[which]})


def louder(take, gain_db):
    return take_from_samples(10 ** (gain_db / 20) * take.samples, RATE)


@pytest.mark.parametrize("which", DETECTORS)
def test_edges_are_those_of_the_take_itself_at_that_level(line, which):
    circuit, gains_db = circuit_of(which), (-30.0, -12.0, -3.0, 0.0, 9.0, 24.0)
    ratios = [10 ** (gain / 20) for gain in gains_db]
    drives = drives_over_level(line, ratios, circuit=circuit, cache=StageCache())
    for gain_db, drive in zip(gains_db, drives, strict=True):
        expected = detected_edges(louder(line, gain_db), circuit)[::2]
        np.testing.assert_allclose(drive, expected, rtol=0, atol=1e-9)
    assert len(drives[3]) > 100


def test_no_edges_where_the_floor_is_never_reached(line):
    circuit = circuit_of("a latch with a high floor")
    (drive,) = drives_over_level(line, [1e-4], circuit=circuit, cache=StageCache())
    assert len(drive) == 0
    assert lock_over_level(line, circuit, gains_db=(-80.0,)).window is None


@pytest.mark.parametrize("which", ["peak-latch", "zero-crossing", "leveller"])
def test_shares_are_those_of_the_take_itself_at_that_level(line, slide, which):
    for take in (line, slide):
        found = lock_over_level(take, circuit_of(which), gains_db=(-18.0, 0.0, 6.0))
        plain = track(take, circuit_of(which))
        assert [item.note for item in plain.notes] == list(found.notes)
        for gain_db, shares in zip(found.gains_db, found.shares.T, strict=True):
            drive = detected_edges(louder(take, gain_db), circuit_of(which))[::2]
            expected = [note_lock(drive, note, plain.track).locked_share for note in found.notes]
            np.testing.assert_allclose(shares, expected, atol=1e-12)


def test_at_0_db_it_says_what_track_says(line):
    cache = StageCache()
    plain = track(line, circuit_of("zero-crossing"), cache=cache)
    found = lock_over_level(line, circuit_of("zero-crossing"), gains_db=(-6.0, 0.0), cache=cache)
    np.testing.assert_array_equal(found.shares[:, 1], [item.lock.locked_share for item in plain.notes])
    assert found.locked_share[1] == pytest.approx(plain.locked_share, abs=1e-12)


@pytest.mark.parametrize("hysteresis", [0.02, 0.1])
def test_a_sine_locks_from_where_it_passes_the_hysteresis(hysteresis):
    """Closed form: a sine of amplitude A toggles an ideal comparator at every cycle exactly where A·g > h."""
    changes = {
        "detector": {"kind": "zero-crossing", "hysteresis": hysteresis, "filter": {"kind": "none"}},
        "input.coupling": "1u",
        "input.resistance": "10M",
        "devices.values": "ideal",
    }
    t = np.arange(2 * RATE) / RATE
    samples = np.concatenate((np.zeros(RATE // 5), 0.2 * np.sin(2 * np.pi * 110.0 * t)))
    take, circuit = take_from_samples(samples, RATE), load_circuit("gated-open", changes=changes)
    found = lock_over_level(take, circuit, gains_db=np.arange(-24.0, 12.0, 0.25))
    edge_db = 20 * np.log10(hysteresis / 0.2)
    shares = found.locked_share
    assert np.all(shares[found.gains_db < edge_db - 0.25] == 0.0)
    assert np.all(shares[found.gains_db > edge_db + 0.25] > 0.97)
    window = found.window
    assert window.low_db == pytest.approx(edge_db, abs=0.3)
    assert window.low_volts == pytest.approx(hysteresis, rel=0.04)
    assert not window.or_lower
    assert window.or_higher


def test_a_plain_comparator_wants_one_level_and_a_latch_takes_any(line):
    """Common practice, no source: fixed thresholds are set to one player's touch."""
    fixed = lock_over_level(line, circuit_of("zero-crossing")).window
    latch = lock_over_level(line, circuit_of("peak-latch")).window
    assert not fixed.or_lower
    assert fixed.high_db - fixed.low_db < 20.0
    assert latch.high_db - latch.low_db == 36.0


def window_of(gains_db, shares, peak_volts=1.0):
    return level_window(np.array(gains_db, dtype=float), np.array(shares), peak_volts=peak_volts)


def test_the_window_is_interpolated_between_levels():
    """0.95 of the best 0.8 is 0.76: 0.66 of the way from 0.1 to 1.0 would be other figures, these are by hand."""
    found = window_of([-6, -3, 0, 3, 6], [0.0, 0.38, 0.8, 0.8, 0.6], peak_volts=0.5)
    assert found.best_share == 0.8
    assert found.low_db == pytest.approx(-3 * 0.04 / 0.42)
    assert found.high_db == pytest.approx(3 + 3 * 0.04 / 0.2)
    assert found.low_volts == pytest.approx(0.5 * 10 ** (found.low_db / 20))
    assert found.high_volts == pytest.approx(0.5 * 10 ** (found.high_db / 20))
    assert (found.or_lower, found.or_higher) == (False, False)


def test_open_ends_are_marked():
    low = window_of([-6, 0, 6], [1.0, 0.97, 0.0])
    assert (low.low_db, low.or_lower, low.or_higher) == (-6.0, True, False)
    high = window_of([-6, 0, 6], [0.0, 0.97, 1.0])
    assert (high.high_db, high.or_lower, high.or_higher) == (6.0, False, True)
    both = window_of([0], [0.4])
    assert (both.low_db, both.high_db, both.or_lower, both.or_higher) == (0.0, 0.0, True, True)


def test_of_two_windows_the_one_around_the_best_counts_and_of_equals_the_nearer():
    assert window_of([-12, -6, 0, 6, 12], [0.99, 0.2, 0.97, 0.2, 1.0]).low_db > 6.0
    assert window_of([-12, -6, 0, 6, 12], [1.0, 0.2, 1.0, 0.2, 1.0]).low_db == pytest.approx(-6 * 0.05 / 0.8)


def test_what_never_locks_has_no_window():
    assert window_of([-6, 0, 6], [0.0, 0.0, 0.0]) is None
    silent = lock_over_level(take_from_samples(np.zeros(RATE), RATE), circuit_of("peak-latch"))
    assert silent.notes == ()
    assert silent.locked_share is None
    assert silent.window is None
    assert silent.by_name() == []
    assert plain_values(silent)["level_window"] is None


def test_notes_of_one_name_stand_together_from_low_to_high():
    notes = tuple(
        Note(start, start + length, pitch, name, opened, True, pitch, pitch)
        for start, length, pitch, name, opened in (
            (0, 1, 55.0, "A1", False), (2, 3, 55.1, "A1", True), (6, 1, 41.2, "E1", False),
        )
    )  # fmt: skip
    found = LevelLock("t", "c", np.array([-3.0, 0.0]), 1.0, notes, np.array([[0.2, 0.4], [0.6, 0.8], [1.0, 0.0]]))
    rows = found.by_name()
    assert [(row.name, row.open_string) for row in rows] == [("E1", False), ("A1", True)]
    np.testing.assert_allclose(rows[1].shares, [0.5, 0.7])
    np.testing.assert_allclose(found.locked_share, [(0.2 + 1.8 + 1.0) / 5, (0.4 + 2.4) / 5])


def test_everything_becomes_plain_values(line):
    told = json.loads(json.dumps(plain_values(lock_over_level(line, circuit_of("zero-crossing"), name="mine"))))
    assert set(told) == {"take", "circuit", "level_window", "level_map"}
    assert set(told["level_window"]) == {
        "low_db", "high_db", "low_volts", "high_volts", "or_lower", "or_higher", "best_share",
    }  # fmt: skip
    assert told["circuit"] == "mine"
    assert told["level_map"]["gains_db"] == list(GAINS_DB)
    assert len(told["level_map"]["locked_share"]) == len(GAINS_DB)
    assert all(len(note["locked_share"]) == len(GAINS_DB) for note in told["level_map"]["notes"])


@pytest.mark.parametrize(
    ("gains_db", "message"),
    [
        ((), "at least one level"),
        ((0.0, 0.0), "must rise"),
        ((3.0, -3.0), "must rise"),
        ((0.0, 1000.0), "within ±120 dB"),
        ((float("nan"),), "within ±120 dB"),
    ],
)
def test_levels_that_cannot_be_are_refused(line, gains_db, message):
    with pytest.raises(AudioDataError, match=message):
        lock_over_level(line, circuit_of("peak-latch"), gains_db=gains_db)


def test_the_fast_share_is_the_share_of_lock(line):
    """One note by hand: the grid and the tolerance are those of `lock`."""
    circuit = circuit_of("zero-crossing")
    found = lock_over_level(line, circuit, gains_db=(0.0,))
    note = next(note for note in found.notes if note.steady)
    drive = detected_edges(line, circuit)[::2]
    expected = lock(drive, start_s=note.start_s, end_s=note.end_s, pitch_hz=note.pitch_hz).locked_share
    assert found.shares[found.notes.index(note), 0] == expected
