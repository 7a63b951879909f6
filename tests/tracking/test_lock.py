"""Lock against planted dropouts, whose times and kinds are known by construction."""

import numpy as np
import pytest

from sublatch.tracking.lock import lock

PITCHES = [30.8677, 41.2034, 55.0, 97.9989, 195.9977]


def clean(pitch, start, end, phase=0.3):
    """Changes once a period."""
    return start + (np.arange(int((end - start) * pitch) + 2) + phase) / pitch


def with_skip(changes, pitch, at, periods):
    """A second change half way through each of some periods."""
    inside = changes[(changes >= at) & (changes < at + periods / pitch)][:periods]
    return np.sort(np.concatenate((changes, inside + 0.5 / pitch))), inside[0], inside[-1] + 1 / pitch


def with_stall(changes, at, periods):
    """Some changes missing."""
    first = np.searchsorted(changes, at)
    gone = changes[first : first + periods]
    left = np.concatenate((changes[:first], changes[first + periods :]))
    return left, changes[first - 1], changes[first + len(gone)]


@pytest.mark.parametrize("pitch", PITCHES)
@pytest.mark.parametrize("phase", [0.0, 0.3, 0.99])
def test_a_clean_note_is_locked_throughout(pitch, phase):
    found = lock(clean(pitch, 1.0, 2.0, phase), start_s=1.0, end_s=2.0, pitch_hz=pitch)
    assert found.locked_share == 1.0
    assert found.dropouts == ()
    # lock is told at eight places of each cycle, the first a sixteenth after the start
    assert found.first_lock_s == pytest.approx(1.0 + 1 / 16 / pitch)
    assert 2.0 - 3 / 16 / pitch < found.last_lock_s < 2.0


@pytest.mark.parametrize("pitch", PITCHES)
@pytest.mark.parametrize("periods", [2, 3, 5, 12])
def test_planted_skips_are_found(pitch, periods):
    changes, start, end = with_skip(clean(pitch, 0.0, 2.0), pitch, 0.7, periods)
    found = lock(changes, start_s=0.0, end_s=2.0, pitch_hz=pitch)
    assert [d.kind for d in found.dropouts] == ["skip"]
    assert found.dropouts[0].start_s == pytest.approx(start, abs=1 / pitch)
    assert found.dropouts[0].end_s == pytest.approx(end, abs=1 / pitch)
    assert found.first_dropout_s == found.dropouts[0].start_s


@pytest.mark.parametrize("pitch", PITCHES)
@pytest.mark.parametrize("periods", [2, 3, 5, 12])
def test_planted_stalls_are_found(pitch, periods):
    changes, start, end = with_stall(clean(pitch, 0.0, 2.0), 0.7, periods)
    found = lock(changes, start_s=0.0, end_s=2.0, pitch_hz=pitch)
    assert [d.kind for d in found.dropouts] == ["stall"]
    assert found.dropouts[0].start_s == pytest.approx(start, abs=1 / pitch)
    assert found.dropouts[0].end_s == pytest.approx(end, abs=1 / pitch)


@pytest.mark.parametrize("pitch", PITCHES)
def test_a_stall_a_skip_and_a_stall_are_three(pitch):
    """What follows at once is told apart and does not overlap, where two periods of it are odd."""
    changes = clean(pitch, 0.0, 2.0)
    first = np.searchsorted(changes, 0.7)
    skipped = np.sort(np.concatenate((changes[first + 4 : first + 11], changes[first + 4 : first + 10] + 0.5 / pitch)))
    planted = np.concatenate((changes[:first], skipped, changes[first + 14 :]))
    found = lock(planted, start_s=0.0, end_s=2.0, pitch_hz=pitch).dropouts
    assert [d.kind for d in found] == ["stall", "skip", "stall"]
    bounds = [changes[first + place] for place in (-1, 4, 10, 14)]
    assert [d.start_s for d in found] == pytest.approx(bounds[:-1], abs=0.1 / pitch)
    assert [d.end_s for d in found] == pytest.approx(bounds[1:], abs=0.1 / pitch)


@pytest.mark.parametrize("pitch", PITCHES)
def test_one_change_amid_a_stall_is_a_stall(pitch):
    changes = clean(pitch, 0.0, 2.0)
    first = np.searchsorted(changes, 0.7)
    planted = np.concatenate((changes[:first], changes[first + 5 : first + 6], changes[first + 10 :]))
    found = lock(planted, start_s=0.0, end_s=2.0, pitch_hz=pitch).dropouts
    assert [d.kind for d in found] == ["stall"]
    assert found[0].start_s == pytest.approx(changes[first - 1], abs=0.1 / pitch)
    assert found[0].end_s == pytest.approx(changes[first + 10], abs=0.1 / pitch)


@pytest.mark.parametrize("share", [0.4, 0.5, 0.6, 0.7])
def test_a_second_change_anywhere_in_the_period_is_a_skip(share):
    changes = clean(55.0, 0.0, 2.0)
    inside = changes[(changes > 0.7) & (changes < 1.0)]
    found = lock(np.sort(np.concatenate((changes, inside + share / 55.0))), start_s=0.0, end_s=2.0, pitch_hz=55.0)
    assert [d.kind for d in found.dropouts] == ["skip"]


def test_a_drive_at_two_thirds_is_astray():
    pitch = 55.0
    changes = np.concatenate((clean(pitch, 0, 0.5), clean(pitch * 1.5, 0.5, 1.0, 1.0), clean(pitch, 1.0, 2.0, 1.0)))
    found = lock(np.unique(changes), start_s=0.0, end_s=2.0, pitch_hz=pitch)
    assert "stray" in [d.kind for d in found.dropouts]


@pytest.mark.parametrize("pitch", PITCHES)
def test_a_late_start_and_an_early_end_are_stalls(pitch):
    changes = clean(pitch, 0.3, 1.5)
    found = lock(changes[changes < 1.5], start_s=0.0, end_s=2.0, pitch_hz=pitch)
    assert [d.kind for d in found.dropouts] == ["stall", "stall"]
    assert found.first_lock_s == pytest.approx(0.3, abs=3 / pitch)
    assert found.last_lock_s == pytest.approx(1.5, abs=3 / pitch)
    assert found.locked_share == pytest.approx(0.6, abs=4 / pitch / 2)


def test_no_drive_at_all_is_one_stall():
    found = lock(np.zeros(0), start_s=0.0, end_s=1.0, pitch_hz=55.0)
    assert (found.locked_share, found.first_lock_s, found.last_lock_s) == (0.0, None, None)
    assert [d.kind for d in found.dropouts] == ["stall"]


@pytest.mark.parametrize(("cents", "share"), [(40, 1.0), (-40, 1.0), (60, 0.0), (-60, 0.0)])
def test_fifty_cents_decide(cents, share):
    drive = clean(55.0 * 2 ** (cents / 1200), 0.0, 3.0)
    assert lock(drive, start_s=0.0, end_s=3.0, pitch_hz=55.0).locked_share == share


def test_a_drive_at_the_note_s_own_pitch_skips():
    found = lock(clean(110.0, 0.0, 1.0), start_s=0.0, end_s=1.0, pitch_hz=55.0)
    assert found.locked_share == 0.0
    assert [d.kind for d in found.dropouts] == ["skip"]


def test_a_slide_is_followed_by_its_track():
    """Pitch rising from 40 to 80 Hz in 2 s: cycles are its integral, 40 t + 10 t²."""
    times = np.linspace(0, 2, 400)
    cycles = np.arange(1, 120)
    drive = (-40 + np.sqrt(1600 + 40 * cycles)) / 20
    found = lock(drive, start_s=0.0, end_s=2.0, track=(times, 40 + 20 * times))
    assert found.locked_share == 1.0
    assert lock(drive, start_s=0.0, end_s=2.0, pitch_hz=40.0).locked_share < 0.3


@pytest.mark.parametrize("jitter", [0.005, 0.02])
def test_jitter_is_no_dropout(rng, jitter):
    changes = clean(41.2, 0.0, 3.0)
    found = lock(changes + jitter / 41.2 * rng.uniform(-1, 1, len(changes)), start_s=0.0, end_s=3.0, pitch_hz=41.2)
    assert found.dropouts == ()
    assert found.locked_share == 1.0


def test_one_of_pitch_and_track_is_needed():
    with pytest.raises(ValueError, match="pitch_hz or a track"):
        lock(np.zeros(0), start_s=0.0, end_s=1.0)
    with pytest.raises(ValueError, match="end after it starts"):
        lock(np.zeros(0), start_s=1.0, end_s=1.0, pitch_hz=55.0)
