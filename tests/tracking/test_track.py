"""The tracking job on takes whose dropouts were planted."""

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.demo.score import demo_notes
from sublatch.demo.takes import demo_takes
from sublatch.json_data import plain_values
from sublatch.signal.cache import StageCache
from sublatch.signal.chain import detected_edges
from sublatch.takes.take import take_from_samples
from sublatch.tracking import track as tracking
from sublatch.tracking.track import mean_share, mean_step, track

RATE = 16000
IDEAL = {"devices.values": "ideal"}
CIRCUIT = load_circuit("gated-open", changes={"detector.kind": "peak-latch", **IDEAL})
"""The textbook detector of ideal parts."""


def tone(pitch, seconds, *, silence_s=0.2):
    """A note with three partials and soft ends, after a silence; volts."""
    t = np.arange(round(seconds * RATE)) / RATE
    wave = sum(a * np.sin(2 * np.pi * pitch * n * t) for n, a in ((1, 0.3), (2, 0.12), (3, 0.05)))
    wave *= np.minimum(1, np.minimum(t / 0.005, (seconds - t) / 0.02))
    return np.concatenate((np.zeros(round(silence_s * RATE)), wave, np.zeros(round(silence_s * RATE))))


def as_take(samples):
    return take_from_samples(samples, RATE)


@pytest.mark.parametrize("pitch", [30.8677, 41.2034, 55.0, 73.4162, 97.9989])
def test_a_clean_note_loses_no_lock(pitch):
    found = track(as_take(tone(pitch, 2.0)), CIRCUIT)
    assert len(found.notes) == 1
    # the stores start empty and the filters settle: a period or two at either end may be missing
    assert found.locked_share > 1 - 5 / (2.0 * pitch)
    inner = [d for d in found.notes[0].lock.dropouts if d.start_s > 0.2 + 4 / pitch and d.end_s < 2.2 - 4 / pitch]
    assert inner == []


@pytest.mark.parametrize("pitch", [41.2034, 55.0, 97.9989])
@pytest.mark.parametrize("periods", [4, 8, 16])
def test_a_burst_of_second_harmonic_is_a_skip(pitch, periods):
    """The octave alone for some periods, whose comparator edges come twice as often."""
    samples = tone(pitch, 2.0)
    start = 0.2 + round(0.8 * pitch) / pitch
    stop = start + periods / pitch
    t = np.arange(len(samples)) / RATE
    inside = (t >= start) & (t < stop)
    samples[inside] = 0.35 * np.sin(2 * np.pi * 2 * pitch * (t[inside] - start))
    bare = load_circuit("gated-open", changes={"detector.kind": "peak-latch", "detector.filter.kind": "none"})
    found = track(as_take(samples), bare)
    edges = detected_edges(as_take(samples), bare)[::2]
    doubled = np.flatnonzero(np.abs(np.diff(edges) * pitch - 0.5) < 0.1)
    assert len(doubled) >= 2, "the plant itself: the comparator must really see twice the pitch"
    dropouts = [d for item in found.notes for d in item.lock.dropouts if d.end_s > start and d.start_s < stop]
    assert any(d.kind == "skip" for d in dropouts) or len(found.notes) > 1
    if dropouts:
        assert dropouts[0].start_s == pytest.approx(edges[doubled[0]], abs=1.5 / pitch)


def test_shares_weigh_notes_by_their_length():
    found = track(as_take(np.concatenate((tone(41.2034, 2.0), tone(55.0, 0.5)))), CIRCUIT)
    seconds = [item.note.end_s - item.note.start_s for item in found.notes]
    shares = [item.lock.locked_share for item in found.notes]
    assert found.locked_share == pytest.approx(np.average(shares, weights=seconds))
    assert found.open_string_locked_share == pytest.approx(found.locked_share)  # E1 and A1 are both open
    assert mean_share([found, found]) == pytest.approx(found.locked_share)


def test_a_note_whose_octave_comes_first_locks_late():
    """0.12 s of the octave at the note's own level, then the note: until then the comparator sees twice the pitch."""
    samples = tone(55.0, 2.0)
    time_s = np.arange(len(samples)) / RATE
    early = (time_s >= 0.2) & (time_s < 0.2 + 7 / 55.0)
    samples[early] = 0.35 * np.sin(2 * np.pi * 110.0 * (time_s[early] - 0.2))
    samples[early] += 0.02 * np.sin(2 * np.pi * 55.0 * (time_s[early] - 0.2))
    (late,) = track(as_take(samples), CIRCUIT).notes
    (clean,) = track(as_take(tone(55.0, 2.0)), CIRCUIT).notes
    assert clean.lock.first_lock_ms < 1000.0 / 55.0 + 10.0
    from_the_octave_ms = late.lock.first_lock_ms + 1000.0 * (late.note.start_s - 0.2)
    assert from_the_octave_ms == pytest.approx(1000.0 * 7 / 55.0, abs=1000.0 * 1.5 / 55.0)
    assert late.lock.early_locked_share < 0.5 < clean.lock.early_locked_share


def test_silence_and_noise_have_no_share(rng):
    for samples in (np.zeros(RATE), 0.05 * rng.standard_normal(2 * RATE)):
        found = track(as_take(samples), CIRCUIT)
        assert found.notes == ()
        assert found.locked_share is None
        assert found.remarks
        assert plain_values(found)["locked_share"] is None


def test_the_invented_lines_are_told_note_by_note():
    take = take_from_samples(demo_takes(RATE)["walking-line"], RATE)
    cache = StageCache()
    found = track(take, CIRCUIT, cache=cache)
    truth = [note for note in demo_notes()["walking-line"] if note.touch != "x"]
    assert len(found.notes) == len(truth)
    assert [item.note.name for item in found.notes] == [note.name for note in truth]
    assert found.locked_share > 0.95


def test_fixed_thresholds_track_worse_than_a_latch_on_open_strings():
    """Common practice, no source: open strings are where a plain comparator fails."""
    take = take_from_samples(demo_takes(RATE)["open-strings"], RATE)
    plain = load_circuit("gated-open", changes={"detector.kind": "zero-crossing", **IDEAL})
    latch, fixed = track(take, CIRCUIT), track(take, plain)
    assert latch.open_string_locked_share > 0.97
    assert fixed.open_string_locked_share < latch.open_string_locked_share - 0.1


def test_a_slide_is_followed():
    take = take_from_samples(demo_takes(RATE)["slide"], RATE)
    found = track(take, CIRCUIT)
    moving = [item for item in found.notes if not item.note.steady]
    assert moving
    assert min(item.lock.locked_share for item in moving) > 0.9


def test_everything_becomes_plain_values():
    document = plain_values(track(as_take(tone(55.0, 1.0)), CIRCUIT, name="mine"))
    assert set(document) >= {"take", "circuit", "locked_share", "notes"}
    assert set(document["notes"][0]) >= {
        "start_s", "end_s", "pitch_hz", "name", "open_string", "locked_share", "first_dropout_s", "dropouts",
    }  # fmt: skip
    assert set(document["notes"][0]) >= {"first_lock_ms", "early_locked_share", "uneven_share"}
    assert set(document) >= {"median_first_lock_ms", "p90_first_lock_ms", "early_locked_share", "uneven_share"}
    assert set(document) >= {"uncounted_share", "unsure_share", "least_margin_mv"}
    assert set(document["notes"][0]) >= {"margin_mv", "margin_db"}
    assert set(document["notes"][0]) >= {"phase_deg", "spread_deg", "jitter_deg", "jitter_ms", "step_share"}
    assert document["circuit"] == "mine"


def test_the_mean_step_weighs_notes_by_their_edges():
    found = track(as_take(np.concatenate((tone(41.2034, 2.0), tone(98.0, 0.6)))), CIRCUIT)
    edges = [item.switching.edges for item in found.notes]
    steps = [item.switching.step_share for item in found.notes]
    assert len(edges) == 2
    assert found.step_share == pytest.approx(np.average(steps, weights=edges))
    assert mean_step([found, found]) == pytest.approx(found.step_share)
    assert plain_values(found)["step_share"] == found.step_share
    assert mean_step([]) is None


def test_circuits_on_one_take_find_its_notes_and_pitch_once(monkeypatch):
    take, calls = as_take(tone(57.0, 1.0)), []
    real = tracking.find_notes

    def find_notes(take, *, tuning):
        calls.append(tuning)
        return real(take, tuning=tuning)

    monkeypatch.setattr(tracking, "find_notes", find_notes)
    cache = StageCache()
    first, second = (track(take, load_circuit(name), cache=cache) for name in ("gated-open", "polarity-swept"))
    assert calls == ["bass-4"]
    assert first.track is second.track
    assert first.notes[0].note is second.notes[0].note
    assert plain_values(track(take, load_circuit("polarity-swept"))) == plain_values(second)
    track(take, CIRCUIT, tuning="bass-5", cache=cache)
    assert calls == ["bass-4", "bass-5"]


def test_a_few_takes_are_remembered_and_no_more():
    for pitch in np.linspace(50.0, 60.0, tracking.KEPT + 2):
        track(as_take(tone(pitch, 0.5)), CIRCUIT)
    assert len(tracking._notes) == tracking.KEPT


@pytest.mark.parametrize("changes", [{}, {"switches.drive": "inverted"}])
def test_a_steady_note_has_the_margin_of_its_crests(changes):
    """A sine of 0.3 V held for 2 s, straight into the latch: 1 − fraction of what comes to the comparator.

    What comes there is the sine less what the input coupling takes, 22 nF into 1 MΩ, which is 7.2 Hz. It rises over
    0.15 s, less than a tenth of its time, since that coupling overshoots where a sine begins at once.
    """
    time_s = np.arange(2 * RATE) / RATE
    sine = 0.3 * np.sin(2 * np.pi * 55.0 * time_s) * np.minimum(1.0, time_s / 0.15)
    samples = np.concatenate((np.zeros(3200), sine))
    latch = {"detector.kind": "peak-latch", "detector.filter.kind": "none", "detector.fraction": 0.6, **IDEAL}
    bare = load_circuit("gated-open", changes=latch | changes)
    found = track(as_take(samples), bare)
    (item,) = found.notes
    crest_v = 0.3 / np.sqrt(1.0 + (1.0 / (2 * np.pi * 22e-9 * 1e6 * 55.0)) ** 2)
    assert item.margin.margin_mv == pytest.approx(1000.0 * 0.4 * crest_v, rel=0.01)
    assert item.margin.margin_db == pytest.approx(20.0 * np.log10(0.4), abs=0.1)
    assert found.least_margin_mv == item.margin.margin_mv
    assert found.margin_remarks == ()


def test_small_margins_are_among_the_remarks_for_programs_only_once():
    found = track(as_take(0.05 * tone(55.0, 1.0)), CIRCUIT)
    assert [remark.code for remark in found.margin_remarks] == ["small-margin"]
    assert "small-margin" not in [remark.code for remark in found.remarks]
    assert [remark["code"] for remark in plain_values(found)["remarks"]].count("small-margin") == 1
