"""Preferred values: finding neighbours and ranges, judged by an independent library."""

import math

import eseries
import numpy as np
import pytest
from eseries import ESeries
from hypothesis import given
from hypothesis import strategies as st

from sublatch.circuit.components import preferred
from sublatch.errors import CircuitError

NAMES = ["E3", "E6", "E12", "E24", "E48", "E96", "E192"]
any_series = st.sampled_from(NAMES)
any_part = st.floats(1e-12, 1e8)


@given(any_part, any_series)
def test_neighbours_enclose_the_value(value, name):
    lower, upper = preferred.below(value, name), preferred.above(value, name)
    assert lower < value < upper
    assert preferred.is_preferred(lower, name)
    assert preferred.is_preferred(upper, name)
    between = preferred.values_between(lower, upper, name)
    assert len(between) == (3 if preferred.is_preferred(value, name) else 2)


@given(st.floats(1e-3, 1e8), any_series)
def test_neighbours_agree_with_the_library(value, name):
    if preferred.is_preferred(value, name):
        value *= 1.0001  # the library's own rounding decides on which side of a member such a value is
    assert preferred.below(value, name) == pytest.approx(eseries.find_less_than(ESeries[name], value), rel=1e-12)
    assert preferred.above(value, name) == pytest.approx(eseries.find_greater_than(ESeries[name], value), rel=1e-12)


@given(any_part, any_series)
def test_nearest_is_nearest_by_ratio(value, name):
    choices = preferred.values_between(value / 3.0, value * 3.0, name)
    distance = np.abs(np.log(choices / value))
    assert abs(math.log(preferred.nearest(value, name) / value)) == pytest.approx(distance.min(), abs=1e-12)


def test_nearest_by_ratio_is_not_nearest_by_difference():
    # between 10 and 22 the middle by difference is 16.0, by ratio √220 = 14.83
    assert preferred.nearest(15.5, "E3") == 22.0
    assert preferred.nearest(14.8, "E3") == 10.0


@pytest.mark.parametrize("name", NAMES)
def test_members_are_their_own_nearest_in_every_decade(name):
    for decade in range(-15, 13):
        for member in preferred.series(name):
            value = float(f"{member}e{decade}")
            assert preferred.nearest(value, name) == value
            assert preferred.is_preferred(value * (1 + 1e-12), name)
            assert not preferred.is_preferred(value * 1.0001, name)


def test_neighbours_of_a_member_are_other_members():
    assert preferred.below(4700.0) == 4300.0
    assert preferred.above(4700.0) == 5100.0
    assert preferred.below(1000.0) == 910.0
    assert preferred.above(9.1e-9) == 10e-9
    assert preferred.below(4.7 * 1e-9) == 4.3e-9  # 4.7·1e-9 is not quite 4.7e-9
    assert preferred.nearest(4650.0) == 4700.0


def test_range_includes_its_ends_and_rises():
    values = preferred.values_between(1e3, 10e3, "E6")
    np.testing.assert_array_equal(values, [1000, 1500, 2200, 3300, 4700, 6800, 10000])
    assert preferred.values_between(1.05e3, 1.1e3, "E12").size == 0
    np.testing.assert_array_equal(preferred.values_between(470.0, 470.0, "E6"), [470.0])


@given(any_series, st.floats(-9, 6), st.floats(0, 4))
def test_range_is_complete(name, start, decades):
    low = 10.0**start
    high = low * 10.0**decades
    values = preferred.values_between(low, high, name)
    assert np.all(np.diff(values) > 0)
    expected = [float(f"{m}e{d}") for d in range(-11, 12) for m in preferred.series(name)]
    inside = [v for v in expected if low * (1 - 1e-9) <= v <= high * (1 + 1e-9)]
    np.testing.assert_array_equal(values, inside)


@pytest.mark.parametrize(
    ("name", "hint"), [("e24", "'E24'"), ("E25", "'E24'"), (24, "'E24'"), ("E100", "'E1"), ("", "")]
)
def test_unknown_series_is_refused_with_a_hint(name, hint):
    for call in (
        lambda: preferred.series(name),
        lambda: preferred.nearest(1.0, name),
        lambda: preferred.values_between(1.0, 2.0, name),
        lambda: preferred.is_preferred(1.0, name),
    ):
        with pytest.raises(CircuitError, match=f"one of E3, E6.*got .*{hint}"):
            call()


@pytest.mark.parametrize("value", [0.0, -4700.0, math.nan, math.inf, 1e31])
def test_value_must_be_a_part(value):
    for call in (preferred.nearest, preferred.below, preferred.above, preferred.is_preferred):
        with pytest.raises(CircuitError, match="part value must be"):
            call(value)


def test_ends_the_wrong_way_round_are_refused():
    with pytest.raises(CircuitError, match="swap them"):
        preferred.values_between(2e3, 1e3)
