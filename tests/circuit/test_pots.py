"""Potentiometers: the properties every taper must have, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sublatch.circuit.components.pots import position_of, wiper_fraction, wiper_resistances
from sublatch.errors import CircuitError

TAPERS = ["linear", "log", "reverse-log"]
any_taper = st.sampled_from(TAPERS)
any_position = st.floats(0.0, 10.0)
any_midpoint = st.floats(1e-6, 0.4999999)


@given(any_taper, any_midpoint)
def test_ends_are_exact(taper, midpoint):
    assert wiper_fraction(0, taper=taper, midpoint=midpoint) == 0.0
    assert wiper_fraction(10, taper=taper, midpoint=midpoint) == 1.0
    assert wiper_resistances(10e3, 0, taper=taper, midpoint=midpoint) == (0.0, 10e3)
    assert wiper_resistances(10e3, 10, taper=taper, midpoint=midpoint) == (10e3, 0.0)


@given(any_taper, any_midpoint, any_position)
def test_share_stays_on_the_track(taper, midpoint, position):
    assert 0.0 <= wiper_fraction(position, taper=taper, midpoint=midpoint) <= 1.0


@given(any_midpoint)
def test_half_rotation_is_what_the_midpoint_says(midpoint):
    assert wiper_fraction(5, taper="log", midpoint=midpoint) == pytest.approx(midpoint, rel=1e-9)
    assert wiper_fraction(5, taper="reverse-log", midpoint=midpoint) == pytest.approx(1 - midpoint, rel=1e-9)
    assert wiper_fraction(5, taper="linear", midpoint=midpoint) == 0.5


@given(any_midpoint, any_position)
def test_reverse_is_the_track_turned_round(midpoint, position):
    mirrored = 1.0 - wiper_fraction(10.0 - position, taper="log", midpoint=midpoint)
    assert wiper_fraction(position, taper="reverse-log", midpoint=midpoint) == pytest.approx(mirrored, abs=1e-12)


@given(st.floats(0.001, 0.499), st.floats(0.0, 0.9), st.floats(0.001, 0.1))
def test_log_multiplies_alike_over_equal_turns(midpoint, turn, step):
    # r + 1/(b − 1) grows by the factor b^step over every step, wherever it starts; b by its definition
    offset = 1.0 / ((1.0 / midpoint - 1.0) ** 2 - 1.0)
    start, end = (wiper_fraction(10.0 * x, taper="log", midpoint=midpoint) for x in (turn, turn + step))
    factor = (1.0 / midpoint - 1.0) ** (2.0 * step)
    assert (end + offset) / (start + offset) == pytest.approx(factor, rel=1e-9)


@given(any_midpoint)
def test_log_nearly_linear_is_nearly_linear(midpoint):
    positions = np.linspace(0.0, 10.0, 21)
    deviation = np.abs(wiper_fraction(positions, taper="log", midpoint=0.5 - 1e-9) - positions / 10.0)
    assert deviation.max() < 1e-8
    assert np.all(wiper_fraction(positions, taper="log", midpoint=midpoint) <= positions / 10.0 + 1e-12)


@pytest.mark.parametrize("taper", TAPERS)
@pytest.mark.parametrize("midpoint", [1e-6, 0.1, 0.15, 0.2, 0.4999])
def test_turning_up_never_turns_down(taper, midpoint):
    share = wiper_fraction(np.linspace(0.0, 10.0, 1001), taper=taper, midpoint=midpoint)
    assert np.all(np.diff(share) > 0.0)


@given(any_taper, st.floats(0.01, 0.4999), any_position)
def test_position_comes_back_from_its_share(taper, midpoint, position):
    share = wiper_fraction(position, taper=taper, midpoint=midpoint)
    assert position_of(share, taper=taper, midpoint=midpoint) == pytest.approx(position, abs=1e-9)


@given(any_taper, any_midpoint, st.floats(0.0, 1.0))
def test_share_comes_back_from_its_position(taper, midpoint, share):
    position = position_of(share, taper=taper, midpoint=midpoint)
    assert 0.0 <= position <= 10.0
    assert wiper_fraction(position, taper=taper, midpoint=midpoint) == pytest.approx(share, abs=1e-12)


@given(st.floats(1.0, 10e6), any_position, any_taper)
def test_both_sides_make_up_the_track(track_ohm, position, taper):
    lower_ohm, upper_ohm = wiper_resistances(track_ohm, position, taper=taper)
    assert lower_ohm >= 0.0
    assert upper_ohm >= 0.0
    assert lower_ohm + upper_ohm == pytest.approx(track_ohm, rel=1e-15)
    assert lower_ohm == pytest.approx(track_ohm * wiper_fraction(position, taper=taper))


@pytest.mark.parametrize("taper", TAPERS)
def test_arrays_agree_with_single_positions(taper):
    positions = np.array([[0.0, 2.5], [7.5, 10.0]])
    share = wiper_fraction(positions, taper=taper)
    lower_ohm, upper_ohm = wiper_resistances(50e3, positions, taper=taper)
    back = position_of(share, taper=taper)
    assert share.shape == lower_ohm.shape == upper_ohm.shape == back.shape == (2, 2)
    for index, position in np.ndenumerate(positions):
        assert share[index] == wiper_fraction(position, taper=taper)
        assert (lower_ohm[index], upper_ohm[index]) == wiper_resistances(50e3, position, taper=taper)
    assert type(wiper_fraction(5, taper=taper)) is float
    assert type(position_of(0.5, taper=taper)) is float


def test_positions_are_left_as_they_were():
    positions = np.linspace(0.0, 10.0, 5)
    before = positions.copy()
    share = wiper_fraction(positions, taper="linear")
    share += 1.0
    np.testing.assert_array_equal(positions, before)


@pytest.mark.parametrize(
    ("position", "words"),
    [
        (11, "got 11; 10 is fully clockwise"),
        (10.001, "got 10.001; 10 is fully clockwise"),
        (35, "got 35; was it meant as 3.5?"),
        (-1, "got -1; 0 is fully anticlockwise"),
        (math.nan, "got nan"),
        (math.inf, "got inf"),
        (np.array([3.0, 11.0, -2.0]), "got 11"),
    ],
)
def test_knob_off_its_scale_is_refused(position, words):
    with pytest.raises(CircuitError, match=f"knob position must be 0 to 10, {words}"):
        wiper_fraction(position)
    with pytest.raises(CircuitError, match="knob position must be 0 to 10"):
        wiper_resistances(10e3, position)


@pytest.mark.parametrize(
    ("midpoint", "words"),
    [
        (0.5, "linear taper"),
        (0.85, "reverse-log with 0.15"),
        (15, "meant as 0.15"),
        (0.0, ""),
        (-0.1, ""),
        (math.nan, ""),
    ],
)
def test_midpoint_must_leave_a_log_law(midpoint, words):
    for taper in ("log", "reverse-log"):
        with pytest.raises(CircuitError, match=f"midpoint .*below 0.5, got {midpoint}.*{words}"):
            wiper_fraction(5, taper=taper, midpoint=midpoint)
        with pytest.raises(CircuitError, match="midpoint"):
            position_of(0.5, taper=taper, midpoint=midpoint)
    assert wiper_fraction(5, taper="linear", midpoint=midpoint) == 0.5


@pytest.mark.parametrize(
    ("taper", "words"),
    [
        ("lin", "'linear'"),
        ("audio", "'log'"),
        ("Log", "'log'"),
        ("antilog", "'reverse-log'"),
        ("A", "letters"),
        ("s", ""),
    ],
)
def test_unknown_taper_is_refused_with_a_hint(taper, words):
    with pytest.raises(CircuitError, match=f"one of linear, log, reverse-log, got '{taper}'.*{words}"):
        wiper_fraction(5, taper=taper)


@pytest.mark.parametrize("share", [-0.01, 1.01, math.nan, np.array([0.5, 2.0])])
def test_share_must_be_on_the_track(share):
    with pytest.raises(CircuitError, match="share of the track must be 0 to 1"):
        position_of(share)


@pytest.mark.parametrize("track_ohm", [0.0, -10e3, math.nan, math.inf])
def test_track_must_have_resistance(track_ohm):
    with pytest.raises(CircuitError, match="track must be above 0 Ω"):
        wiper_resistances(track_ohm, 5)


@pytest.mark.parametrize("share", [1.05, 50.0, [0.5, 1.01]])
def test_a_share_beyond_the_track_may_be_a_percentage(share):
    with pytest.raises(CircuitError, match="meant in percent"):
        position_of(share)
    with pytest.raises(CircuitError) as told:
        position_of(-0.5)
    assert "percent" not in str(told.value)
