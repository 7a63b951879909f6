"""One gain a take: the takes without an effect become equally loud, and nothing becomes louder."""

from __future__ import annotations

import pytest

from sublatch.audition.listen.results import CandidateResult, TakeResult
from sublatch.audition.listen.take_levels import MOST_CUT_DB, take_gains_db
from sublatch.sampling.levels import Levels


def take(loudness_lufs: float | None, *, gain_db: float = 0.0, heard_lufs: float | None = None) -> TakeResult:
    """Return a take of a loudness, which matching lifts, heard through a voicing where that has one too."""
    levels = Levels(loudness_lufs, -20.0, -20.0, -3.0)
    heard = None if heard_lufs is None else Levels(heard_lufs, -20.0, -20.0, -3.0)
    bypassed = CandidateResult("bypassed", "", {}, "a.wav", levels, gain_db, 0.0, heard_levels=heard)
    return TakeResult("walk", "walk.wav", candidates=(bypassed,))


def test_the_louder_come_down_to_the_softest() -> None:
    assert take_gains_db([take(-20.0), take(-26.04), take(-23.0)]) == pytest.approx([-6.0, 0.0, -3.0])


def test_matching_and_voicing_count() -> None:
    """What is heard is the file, so with its gain, through the voicing."""
    takes = [take(-20.0, gain_db=-4.0), take(-30.0, gain_db=5.0), take(-10.0, gain_db=1.0, heard_lufs=-31.0)]
    assert take_gains_db(takes) == pytest.approx([-6.0, -5.0, 0.0])


def test_a_take_that_is_far_too_soft_does_not_bring_the_others_down() -> None:
    soft = take(-20.0 - MOST_CUT_DB - 0.1)
    assert take_gains_db([take(-20.0), soft, take(-22.0)]) == pytest.approx([-2.0, 0.0, 0.0])


def test_silence_and_failed_takes_are_left_as_they_are() -> None:
    assert take_gains_db([take(None), TakeResult("x", "x.wav", error="gone"), take(-20.0)]) == [0.0, 0.0, 0.0]
    assert take_gains_db([]) == []
