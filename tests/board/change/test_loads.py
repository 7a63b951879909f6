"""Loads before and after against closed forms."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from board_cases import circuit_of
from sublatch.board import board
from sublatch.board.change.find import find_change
from sublatch.board.change.page.loads import HEAVY_OHM, corner_changes, load_changes
from sublatch.circuit.load import load_circuit

SWEPT = load_circuit("gated-swept")


def loads_between(before, after):
    return {one.net: one for one in load_changes(find_change(board(before), board(after)))}


def parallel(*ohms: float) -> float:
    return 1.0 / sum(1.0 / ohm for ohm in ohms)


def least_of_swept_filter(*, end_ohm: float, feedback: float, ground: float) -> float:
    """Return the least |V / I| at the input of a unity-gain Sallen-Key filter of two equal resistors.

    With the follower's output Vo: Va = Vo (1 + s R Cg), (V − Va) / R = (Va − Vo) (s Cf + 1 / R).
    """
    s = 2j * pi * np.geomspace(20.0, 20e3, 61)
    va = 1.0 + s * end_ohm * ground
    current = (va - 1.0) * (s * feedback + 1.0 / end_ohm)
    return float(np.min(np.abs((va + end_ohm * current) / current)))


def test_a_swept_filter_loads_the_octave_stage_by_its_input_impedance() -> None:
    """Before, 39k and 15n in series, in parallel with nothing: the least is at 20 kHz."""
    change = loads_between(load_circuit("gated-first-order"), SWEPT)["octave"]
    first_order = abs(39e3 + 1.0 / (2j * pi * 20e3 * 15e-9))
    assert change.before_ohm == pytest.approx(first_order, rel=1e-6)
    least = least_of_swept_filter(end_ohm=3e3, feedback=47e-9, ground=5.6e-9)
    least = min(least, least_of_swept_filter(end_ohm=3e3, feedback=22e-9, ground=12e-9))
    assert change.after_ohm == pytest.approx(least, rel=1e-6)
    assert change.is_heavy == (least < HEAVY_OHM)


def test_a_trim_resistor_lightens_the_load_of_the_mixing_stage() -> None:
    """At 20 kHz the coupling capacitor of 1 µF is 8 Ω, and fully clockwise the wiper's load is across the track."""
    before = load_circuit("gated-swept", changes={"output.trim_resistor": "none"})
    change = loads_between(before, SWEPT)["mixed"]
    coupling = 1.0 / (2j * pi * 20e3 * 1e-6)
    assert change.before_ohm == pytest.approx(abs(parallel(100e3, 1e6) + coupling), rel=1e-6)
    assert change.after_ohm == pytest.approx(abs(75e3 + parallel(100e3, 1e6) + coupling), rel=1e-6)


def test_without_its_pot_the_direct_signal_loads_the_input_follower_no_more() -> None:
    plain = {"detector.filter.kind": "none"}
    before = load_circuit("gated-open", changes=plain)
    after = load_circuit("gated-open", changes=plain | {"hardwired": ["direct"]})
    change = loads_between(before, after)["note"]
    assert change.after_ohm is None
    mixing = 22e3 + 22e3  # the octave stage at rest is as good as the bias
    assert change.before_ohm == pytest.approx(parallel(10e3, mixing), rel=1e-3)


def test_corners_follow_what_the_capacitor_works_into() -> None:
    """1 / (2π R C) with R the track and the trim, the wiper's load across the lower part; fully clockwise 100k ∥ 1M."""
    before = load_circuit("gated-swept", changes={"output.trim_resistor": "none"})
    (change,) = corner_changes(before, SWEPT)
    assert change.name == "output.coupling"
    for coupling, ohm in ((change.before, parallel(100e3, 1e6)), (change.after, 75e3 + parallel(100e3, 1e6))):
        assert coupling is not None
        assert coupling.corner_hz[-1] == pytest.approx(1.0 / (2.0 * pi * ohm * 1e-6), rel=1e-4)


def test_what_does_not_change_is_not_told() -> None:
    after = load_circuit("gated-swept", changes={"output.ground_resistor": "10k"})
    assert loads_between(SWEPT, after) == {}
    assert corner_changes(SWEPT, after) == []


def test_a_detector_with_a_rectifier_loads_the_input_follower_by_its_two_paths() -> None:
    """The band's 18n and 36k, and the plain signal's 360k into the joint with the rectifier's 47k and 100n."""
    before = circuit_of("gated-open-overtone", hardwired=["direct"])
    after = circuit_of("gated-open", hardwired=["direct"], detector__filter__kind="none")
    change = loads_between(before, after)["note"]
    s = 2j * pi * 20e3
    band, blend = 36e3 + 1.0 / (s * 18e-9), 360e3 + 47e3 + 1.0 / (s * 100e-9)
    assert change.before_ohm == pytest.approx(abs(1.0 / (1.0 / band + 1.0 / blend)), rel=1e-6)
    assert change.after_ohm is None
