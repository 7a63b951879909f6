"""What a pot leaves at the ends of its travel: yields against a Monte Carlo by hand, and how the ends count."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.load import load_circuit
from sublatch.parts.choose.start_resistor import corner_and_peak
from sublatch.parts.tolerance import Wanted, board_draws, spread
from sublatch.parts.variation import drawn, terms

NO_SPREAD = Tolerances(capacitor=0.0, resistor=0.0, pot=0.0, gang=0.0, pot_end_ohm=0.0)


def shares_by_hand(least_ohm, most_ohm, *, start_ohm, boards=200_000):
    """Return the share of boards within 20 % and 1 dB of 100 Hz, 3 kHz, 0 and 4 dB, by formulas of its own.

    Sallen-Key at unity gain (Texas Instruments SLOA024B): f0 = 1/(2π √(R1 R2 Cg Cf)), Q = √(R1 R2 Cf/Cg)/(R1 + R2); the
    corner from |H|² = 1/2, a quadratic in (f/f0)²; the peak from its maximum. Plain draws, not a hypercube.
    """
    rng = np.random.default_rng(20)

    def off(share):
        return rng.uniform(1 - share, 1 + share, boards)

    track, apart = 50e3 * off(0.2), rng.uniform(-0.1, 0.1, boards)
    gangs = [track * (1 + apart), track * (1 - apart)]
    ends = [1.5e3 * off(0.05) for _ in gangs]
    starts = [start_ohm * off(0.05) for _ in gangs]
    left = {side: [rng.uniform(least_ohm, most_ohm, boards) for _ in gangs] for side in (0, 10)}
    good = np.ones(boards, dtype=bool)
    for ground, feedback, peak_db in ((27e-9, 56e-9, 0.0), (18e-9, 150e-9, 4.0)):
        cg, cf = ground * off(0.1), feedback * off(0.1)
        for at, hertz in ((0, 100.0), (10, 3000.0)):
            sections = [gang - rest if at == 0 else rest for gang, rest in zip(gangs, left[at], strict=True)]
            pairs = zip(ends, starts, sections, strict=True)
            r1, r2 = (end + start * section / (start + section) for end, start, section in pairs)
            f0, q = 1 / (2 * np.pi * np.sqrt(r1 * r2 * cg * cf)), np.sqrt(r1 * r2 * cf / cg) / (r1 + r2)
            b = 2 - 1 / q**2
            corner = f0 * np.sqrt((b + np.sqrt(b**2 + 4)) / 2)
            top = np.where(b > 0, q**2 / np.sqrt(np.maximum(q**2 - 0.25, 1e-9)), 1.0)
            good &= (np.abs(corner / hertz - 1) <= 0.2) & (np.abs(20 * np.log10(top) - peak_db) <= 1.0)
    return float(np.mean(good))


NARROW = {
    "filter.pot.value": "50k",
    "filter.start_resistor": "270k",
    "filter.end_resistor": "1k5",
    **{f"filter.ground_capacitor.{peak}": farad for peak, farad in (("flat", "27n"), ("peaked", "18n"))},
    **{f"filter.feedback_capacitor.{peak}": farad for peak, farad in (("flat", "56n"), ("peaked", "150n"))},
}
"""A sweep of 100 Hz to 3 kHz with a peak of 0 or 4 dB, whose end resistors are small."""


@pytest.fixture(scope="module")
def narrow():
    """The circuit, and what its boards are held against."""
    places = [(tone, peak) for peak in ("flat", "peaked") for tone in (0.0, 10.0)]
    wanted = [Wanted(tone, peak, 3e3 if tone else 100.0, 4.0 if peak == "peaked" else 0.0) for tone, peak in places]
    return load_circuit("gated-swept", changes=NARROW), wanted


@pytest.mark.parametrize(("limit_ohm", "about"), [(0.0, 0.90), (150.0, 0.86)])
def test_what_pots_leave_at_their_ends_costs_boards_as_by_hand(narrow, limit_ohm, about):
    circuit, wanted = narrow
    found = spread(circuit, wanted=wanted, tolerances=Tolerances(pot_end_ohm=limit_ohm))
    expected = shares_by_hand(0.0, limit_ohm, start_ohm=270e3)
    assert expected == pytest.approx(about, abs=0.01)
    assert found.yield_share == pytest.approx(expected, abs=0.01)


def test_pots_that_leave_all_that_they_may_cost_boards_as_by_hand(narrow):
    """150 Ω in every gang beside 1k5, the worst that the data sheet lets pass: seven boards of ten where nine were."""
    circuit, wanted = narrow
    made = [terms(circuit.filter, Tolerances(), tone=one.tone, peak=one.peak) for one in wanted]
    draws = board_draws(made, 20_000, 0)
    ends = {end for parts in made for several in parts.values() for term in several for end in term.ends}
    draws |= dict.fromkeys(ends, np.ones(20_000))
    good = np.ones(20_000, dtype=bool)
    for one, parts in zip(wanted, made, strict=True):
        corner_hz, peak_db = corner_and_peak("swept-second-order", drawn(parts, draws, 20_000))
        good &= (np.abs(corner_hz / one.corner_hz - 1) <= 0.2) & (np.abs(peak_db - one.peak_db) <= 1.0)
    expected = shares_by_hand(150.0, 150.0, start_ohm=270e3)
    assert expected == pytest.approx(0.70, abs=0.02)
    assert np.mean(good) == pytest.approx(expected, abs=0.01)


def test_what_a_pot_leaves_at_its_ends_moves_one_end_up_and_the_other_hardly():
    """At 10 the corner lies between those of 3 kΩ and of 3 kΩ + 150 Ω; 5 and 95 % of gangs' means by the triangle."""
    found = spread(load_circuit("gated-swept"), tolerances=replace(NO_SPREAD, pot_end_ohm=150.0), boards=50_000)
    low, high = found.settings[:2]
    triangle = [150.0 * sqrt(0.05 / 2), 150.0 * (1 - sqrt(0.05 / 2))]
    expected = sorted(high.wanted.corner_hz * 3e3 / (3e3 + left) for left in triangle)
    assert high.corner_hz == pytest.approx(expected, rel=3e-4)  # gangs that differ alter the corner by far less
    assert low.corner_hz == pytest.approx(
        [low.wanted.corner_hz * 103e3 / (103e3 - left) for left in triangle], rel=1e-5
    )


def test_a_small_pot_leaves_no_more_than_a_tenth():
    circuit = load_circuit("gated-swept", changes={"filter.pot.value": "1k", "filter.end_resistor": "1k"})
    (_, high, *_) = spread(circuit, tolerances=replace(NO_SPREAD, pot_end_ohm=1000.0)).settings
    assert high.corner_hz[0] > high.wanted.corner_hz / 1.1


def test_half_way_a_pots_ends_count_by_halves():
    """Linear track at 5: the half above the wiper has half of its own end more and half of the other less."""
    circuit = load_circuit("gated-swept", changes={"filter.pot.taper": "linear"})
    (track, *_) = (
        term for term in terms(circuit.filter, Tolerances(), tone=5.0, peak="flat")["first_end"] if term.ends
    )
    assert track.ends == {"filter.pot clockwise end (1)": 75.0, "filter.pot anticlockwise end (1)": -75.0}
