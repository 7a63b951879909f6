"""Circuits with some settings elsewhere."""

from __future__ import annotations

import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError

CHANGES = {
    "knobs.tone": 3.5,
    "knobs.volume": "unity",
    "switches.peak": "peaked",
    "output.trim_resistor": 47e3,
    "output.pot.midpoint": 0.2,
    "supply": 12.0,
}


def test_it_is_the_circuit_that_a_file_with_these_values_gives():
    start = load_circuit("gated-swept")
    assert with_settings(start, CHANGES) == load_circuit("gated-swept", changes=CHANGES)
    for path, value in CHANGES.items():
        assert with_settings(start, {path: value}) == load_circuit("gated-swept", changes={path: value})
    assert start == load_circuit("gated-swept")


@pytest.mark.parametrize(
    ("position", "end"),
    [
        (10.5, "got 10.5; was it meant as 1.05?"),
        (11, "got 11"),
        (100, "got 100; was it meant as 10?"),
        (101, "got 101"),
    ],
)
def test_a_position_past_10_may_lack_its_point_but_11_does_not(position, end):
    """A tenth of 101 is past 10 as well, and 11 is a position just past the end."""
    with pytest.raises(CircuitError) as caught:
        with_settings(load_circuit("gated-swept"), {"knobs.tone": position})
    assert str(caught.value).endswith(end)


def test_a_part_is_left_out_by_none_and_nothing_changed_is_the_same():
    trimmed = load_circuit("gated-swept", changes={"output.trim_resistor": "47k"})
    assert with_settings(trimmed, {"output.trim_resistor": None}).output.trim_resistor is None
    assert with_settings(trimmed, {}) == trimmed


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"knobs.tone": 10.1}, "knobs: tone: a knob's position must be 0 (fully anticlockwise) to 10, got 10.1"),
        ({"knobs.tnoe": 5.0}, "knobs: unknown key 'tnoe'; did you mean 'tone'"),
        ({"switches.peak": "round"}, "switches: peak: must be one of flat, peaked, got 'round'"),
        ({"knob.tone": 5.0}, "there must be a setting knob.tone, and this circuit has no table knob"),
        ({"output.pots.value": 5.0}, "there must be a setting output.pots.value"),
        ({"supply.volts": 9.0}, "there must be a setting supply.volts, and this circuit has no table supply"),
        ({"supply": 1.0}, "circuit: "),
    ],
)
def test_what_is_not_there_or_out_of_range_is_refused(settings, message):
    with pytest.raises(CircuitError) as caught:
        with_settings(load_circuit("gated-swept"), settings)
    assert str(caught.value).startswith(message)
