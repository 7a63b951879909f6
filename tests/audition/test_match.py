"""Candidates made equal by loudness, RMS or peak, with headroom and without any limiting."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sublatch.audition.listen.match import SILENT_DBFS, heard_gains, matching_gains
from sublatch.sampling.levels import Levels, levels

QUANTITY = {"loudness": "loudness_lufs", "rms": "rms_dbfs", "peak": "peak_dbfs"}
SILENCE = Levels(None, None, None, None)
level = st.floats(-60.0, 6.0)
crest = st.floats(0.0, 30.0)


@st.composite
def some_levels(draw):
    """Return levels as a signal may have them: RMS and loudness below the peak, the true peak above it."""
    peak = draw(level)
    rms = peak - draw(crest)
    return Levels(rms - draw(st.floats(-2.0, 6.0)), rms, rms - 1.0, peak, peak + draw(st.floats(0.0, 3.0)))


@given(st.lists(some_levels(), min_size=1, max_size=6), st.sampled_from(list(QUANTITY)), st.floats(0.0, 12.0))
def test_all_become_equal_no_peak_passes_the_headroom_and_the_level_is_the_highest_that_allows(found, match, headroom):
    gains, matched_by = matching_gains(found, match=match, headroom_db=headroom)
    after = [getattr(item, QUANTITY[match]) + gain for item, gain in zip(found, gains, strict=True)]
    peaks = [item.true_peak_dbtp + gain for item, gain in zip(found, gains, strict=True)]
    assert matched_by == match
    assert after == pytest.approx([after[0]] * len(after), abs=1e-9)
    assert max(peaks) <= -headroom + 1e-9
    loudest = max(getattr(item, QUANTITY[match]) for item in found)
    assert max(peaks) == pytest.approx(-headroom, abs=1e-9) or after[0] == pytest.approx(loudest, abs=1e-9)
    assert after[0] <= loudest + 1e-9


@given(st.lists(some_levels(), min_size=1, max_size=6), st.sampled_from([*QUANTITY, "none"]), st.floats(0.0, 12.0))
def test_matching_twice_changes_nothing(found, match, headroom):
    gains, _ = matching_gains(found, match=match, headroom_db=headroom)
    after = [
        Levels(
            *(value + gain for value in (item.loudness_lufs, item.rms_dbfs, -9.0, item.peak_dbfs, item.true_peak_dbtp))
        )
        for item, gain in zip(found, gains, strict=True)
    ]
    again, _ = matching_gains(after, match=match, headroom_db=headroom)
    assert again == pytest.approx([0.0] * len(again), abs=1e-9)


@given(st.lists(some_levels(), min_size=1, max_size=6), st.floats(0.0, 12.0))
def test_without_matching_all_get_one_gain_and_never_more_than_they_had(found, headroom):
    gains, matched_by = matching_gains(found, match="none", headroom_db=headroom)
    assert matched_by == "none"
    assert len(set(gains)) == 1
    assert gains[0] <= 0.0
    assert max(item.true_peak_dbtp for item in found) + gains[0] <= -headroom + 1e-9


@given(st.lists(some_levels(), min_size=1, max_size=4), st.sampled_from([*QUANTITY, "none"]))
def test_a_silent_candidate_gets_no_gain_and_is_not_heeded(found, match):
    faint = Levels(None, SILENT_DBFS - 2.0, None, SILENT_DBFS - 1.0, SILENT_DBFS - 1.0)
    alone, _ = matching_gains(found, match=match, headroom_db=1.0)
    together, matched_by = matching_gains([SILENCE, *found, faint], match=match, headroom_db=1.0)
    assert together == [0.0, *alone, 0.0]
    assert matched_by == match


@pytest.mark.parametrize("match", [*QUANTITY, "none"])
def test_where_all_are_silent_nothing_is_made_equal(match):
    below_every_number = Levels(None, None, None, -6210.0, -6210.0)  # its squares are 0
    gains, matched_by = matching_gains([SILENCE, below_every_number], match=match, headroom_db=1.0)
    assert (gains, matched_by) == ([0.0, 0.0], "none")


@given(st.lists(some_levels(), min_size=1, max_size=4))
def test_rms_stands_in_where_one_loudness_cannot_be_told(found):
    quiet = Levels(None, -75.0, -80.0, -72.0, -71.0)
    gains, matched_by = matching_gains([*found, quiet], match="loudness", headroom_db=1.0)
    assert matched_by == "rms"
    assert gains == matching_gains([*found, quiet], match="rms", headroom_db=1.0)[0]


@given(st.floats(0.01, 1.0), st.floats(0.01, 1.0))
def test_two_copies_at_different_levels_become_one(first, second):
    """The same sound, scaled: equal by one measure is equal by every measure."""
    assume(abs(first - second) > 1e-3)
    sound = 0.5 * np.sin(2 * np.pi * 440 * np.arange(4000) / 8000)
    found = [levels(scale * sound, sample_rate=8000) for scale in (first, second)]
    for match in QUANTITY:
        gains, _ = matching_gains(found, match=match, headroom_db=1.0)
        assert first * 10 ** (gains[0] / 20) == pytest.approx(second * 10 ** (gains[1] / 20), rel=1e-3)


@given(st.lists(st.tuples(some_levels(), some_levels()), min_size=1, max_size=5), st.sampled_from(list(QUANTITY)))
def test_heard_or_plain_all_are_equal_and_every_file_fits(pairs, match):
    plain, heard = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    gains = heard_gains(plain, heard=heard, match=match, headroom_db=1.0)
    after = [getattr(item, QUANTITY[match]) + gain for item, gain in zip(heard, gains.files_db, strict=True)]
    after += [getattr(item, QUANTITY[match]) + gain for item, gain in zip(plain, gains.plain_db, strict=True)]
    assert after == pytest.approx([after[0]] * len(after), abs=1e-9)
    peaks = [item.true_peak_dbtp + gain for item, gain in zip(heard, gains.files_db, strict=True)]
    peaks += [item.true_peak_dbtp + gain for item, gain in zip(plain, gains.plain_db, strict=True)]
    peaks += [item.true_peak_dbtp + gain for item, gain in zip(plain, gains.files_db, strict=True)]
    assert max(peaks) <= -1.0 + 1e-9
    loudest = max(getattr(item, QUANTITY[match]) for item in (*plain, *heard))
    assert max(peaks) == pytest.approx(-1.0, abs=1e-9) or after[0] == pytest.approx(loudest, abs=1e-9)


@given(st.lists(some_levels(), min_size=1, max_size=4), some_levels(), st.floats(-20.0, 20.0))
def test_with_a_bed_all_stay_equal_and_the_peaks_fit_together(found, bed, bed_level):
    gains = heard_gains(found, bed=bed, bed_level_db=bed_level, match="loudness", headroom_db=1.0)
    assert gains.files_db == gains.plain_db
    after = [item.loudness_lufs + gain for item, gain in zip(found, gains.files_db, strict=True)]
    assert after == pytest.approx([after[0]] * len(after), abs=1e-9)
    assert bed.loudness_lufs + gains.bed_db == pytest.approx(after[0] + bed_level, abs=1e-9)
    peaks = [item.true_peak_dbtp + gain for item, gain in zip(found, gains.files_db, strict=True)]
    together = 10 ** (max(peaks) / 20) + 10 ** ((bed.true_peak_dbtp + gains.bed_db) / 20)
    assert 20 * np.log10(together) <= -1.0 + 1e-9
    bare = matching_gains(found, match="loudness", headroom_db=1.0)[0]
    lowered = bare[0] - gains.files_db[0]
    assert lowered == pytest.approx(0.0, abs=1e-9) or 20 * np.log10(together) == pytest.approx(-1.0, abs=1e-9)


def test_what_is_not_heard_through_a_voicing_still_fits():
    deep = Levels(None, 9.0, 9.0, 12.0, 12.0)
    gains = heard_gains([deep], heard=[SILENCE], match="loudness", headroom_db=1.0)
    assert gains.files_db == (-13.0,)


def test_where_the_take_is_silent_a_bed_keeps_its_level():
    bed = Levels(-20.0, -18.0, -30.0, -6.0, -6.0)
    assert heard_gains([SILENCE], bed=bed, match="loudness", headroom_db=1.0).bed_db == 0.0
    assert heard_gains([SILENCE], bed=bed, match="loudness", headroom_db=10.0).bed_db == pytest.approx(-4.0)
