"""Tolerances: the batch of boards against one board at a time, shares against integrals, and what moves what."""

from __future__ import annotations

from dataclasses import replace
from math import erf, sqrt

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import truncnorm, uniform

from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.filters.swept_second_order import SweptSecondOrder
from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.corners import corners_and_peaks, network_response
from sublatch.circuit.networks.elements import Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.solver import Network, nodal_response, solve_boards
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.json_data import plain_values
from sublatch.parts.tolerance import Limits, spread, wanted_of
from sublatch.parts.variation import drawn, terms

NO_SPREAD = Tolerances(capacitor=0.0, resistor=0.0, pot=0.0, gang=0.0, pot_end_ohm=0.0)
OWN = [
    {"part": "rheostat", "name": "P1", "pot": {"value": "50k"}, "end_resistor": "1k8", "between": ["in", "a"]},
    {"part": "rheostat", "name": "P2", "pot": {"value": "50k"}, "end_resistor": "1k8", "between": ["a", "b"]},
    {"part": "switched-capacitor", "name": "C1", "value": {"flat": "22n", "peaked": "15n"}, "between": ["b", "ground"]},
    {"part": "switched-capacitor", "name": "C2", "value": {"flat": "47n", "peaked": "120n"}, "between": ["a", "out"]},
    {"part": "op-amp", "name": "U1", "plus": "b", "minus": "out", "output": "out"},
]
SHELF = [  # a zero, a gain of a half at 0 Hz, and a coupling between stages
    {"part": "resistor", "name": "R1", "value": "10k", "between": ["in", "a"]},
    {"part": "resistor", "name": "R2", "value": "10k", "between": ["a", "ground"]},
    {"part": "resistor", "name": "R3", "value": "1k", "between": ["a", "b"]},
    {"part": "capacitor", "name": "C1", "value": "47n", "between": ["b", "ground"]},
    {"part": "resistor", "name": "R4", "value": "22k", "between": ["a", "c"]},
    {"part": "capacitor", "name": "C2", "value": "4n7", "between": ["c", "ground"]},
    {"part": "op-amp", "name": "U1", "plus": "c", "minus": "out", "output": "out"},
]


def circuit_with(**filter_):
    return load_circuit("gated-open", changes={"filter": filter_} if filter_ else {})


CIRCUITS = {
    "first-order": lambda: load_circuit("gated-first-order"),
    "second-order": lambda: circuit_with(**SecondOrder(feedback_capacitor="68n").model_dump()),
    "third-order": lambda: load_circuit("polarity-third-order"),
    "swept": lambda: load_circuit("gated-swept"),
    "own": lambda: circuit_with(kind="network", parts=OWN),
    "shelf": lambda: circuit_with(kind="network", parts=SHELF),
}


def one_board(network, values, board):
    """Return the network with the values of one board."""
    parts = []
    for part in network.parts:
        if isinstance(part, Resistor):
            parts.append(Resistor(part.name, part.nodes, float(values[part.name][board])))
        elif isinstance(part, Capacitor):
            parts.append(Capacitor(part.name, part.nodes, float(values[part.name][board])))
        else:
            parts.append(part)
    return Network(tuple(parts), inputs=network.inputs, output=network.output)


@pytest.mark.parametrize("name", CIRCUITS)
def test_a_batch_is_the_same_boards_one_at_a_time(name, rng):
    circuit, boards = CIRCUITS[name](), 12
    for wanted in wanted_of(circuit):
        made = terms(circuit.filter, Tolerances(0.2, 0.1, 0.3, 0.3), tone=wanted.tone, peak=wanted.peak)
        causes = {cause for parts in made.values() for term in parts for cause in (*term.causes, *term.ends)}
        values = drawn(made, {cause: rng.uniform(-1, 1, boards) for cause in sorted(causes)}, boards)
        network = circuit.filter.network(tone=wanted.tone, peak=wanted.peak)
        solved = solve_boards(network, values)
        many = corners_and_peaks(solved)
        frequency = np.geomspace(10, 20e3, 7)
        power = solved.power(frequency)
        for board in range(boards):
            single = one_board(network, values, board)
            expected = network_response(single)
            assert many.corner_hz[board] == pytest.approx(expected.corner_hz, rel=1e-11)
            assert many.peak_db[board] == pytest.approx(expected.peak_db, abs=1e-10)
            np.testing.assert_allclose(power[board], np.abs(nodal_response(single, frequency)) ** 2, rtol=1e-9)


@pytest.mark.parametrize("name", CIRCUITS)
def test_parts_at_their_nominal_values_are_the_circuit(name):
    circuit = CIRCUITS[name]()
    for wanted in wanted_of(circuit):
        made = terms(circuit.filter, Tolerances(), tone=wanted.tone, peak=wanted.peak)
        values = {part: sum(term.nominal for term in parts) for part, parts in made.items()}
        for part in circuit.filter.network(tone=wanted.tone, peak=wanted.peak).parts:
            if not isinstance(part, OpAmp):
                amount = part.ohm if isinstance(part, Resistor) else part.farad
                assert values[part.name] == pytest.approx(amount, rel=1e-12)


def law(distribution, share):
    """Return how a value over its nominal one is distributed: within the tolerance, or that being three sigmas."""
    return uniform(1 - share, 2 * share) if distribution == "uniform" else truncnorm(-3, 3, loc=1, scale=share / 3)


def exact_share(resistor_share, capacitor_share, limit, distribution):
    """Return the chance that 1/(2π R C) is within a share of its nominal value."""
    resistor, capacitor = law(distribution, resistor_share), law(distribution, capacitor_share)

    def chance(r):
        within = capacitor.cdf(1 / ((1 - limit) * r)) - capacitor.cdf(1 / ((1 + limit) * r))
        return within * resistor.pdf(r)

    edges = (1 - resistor_share, 1 + resistor_share)
    return quad(chance, *edges, limit=400, epsabs=1e-7)[0]


@pytest.mark.parametrize("distribution", ["uniform", "normal"])
@pytest.mark.parametrize(
    ("resistor_share", "capacitor_share", "limit"),
    [(0.05, 0.1, 0.05), (0.05, 0.1, 0.1), (0.01, 0.2, 0.1), (0.05, 0.05, 0.03)],
)
def test_the_share_of_first_order_filters_is_that_of_the_integral(resistor_share, capacitor_share, limit, distribution):
    expected = exact_share(resistor_share, capacitor_share, limit, distribution)
    assert 0.2 < expected < 0.999
    for seed in range(4):
        found = spread(
            load_circuit("gated-first-order"),
            limits=Limits(corner_share=limit),
            seed=seed,
            tolerances=Tolerances(capacitor=capacitor_share, resistor=resistor_share, distribution=distribution),
        )
        assert plain_values(found)["distribution"] == distribution
        assert found.standard_error < 0.005
        assert found.yield_share == pytest.approx(expected, abs=0.01)


def test_a_capacitor_alone_stays_within_limits_as_the_normal_integral_says():
    """1/(1 + t) within ±3 % for t = ±5 % as three sigmas: Φ of 3·0.03/0.97/0.05 and of 3·0.03/1.03/0.05, cut at ±3."""
    found = spread(
        load_circuit("gated-first-order"),
        limits=Limits(corner_share=0.03),
        tolerances=Tolerances(capacitor=0.05, resistor=0.0, distribution="normal"),
    )
    above, below, cut = (erf(3 * off / 0.05 / sqrt(2)) for off in (0.03 / 0.97, 0.03 / 1.03, 0.05))
    assert found.yield_share == pytest.approx((above + below) / 2 / cut, abs=2e-4)  # a Latin hypercube of one cause


def test_the_share_of_swept_filters_is_stable_from_seed_to_seed():
    circuit, limits = load_circuit("gated-swept"), Limits(corner_share=0.12, peak_db=0.5)
    shares = [spread(circuit, limits=limits, seed=seed).yield_share for seed in range(4)]
    assert 0.2 < np.mean(shares) < 0.8
    assert max(shares) - min(shares) < 0.02
    assert np.abs(np.array(shares) - np.mean(shares)).max() < 0.01


def test_the_same_seed_gives_the_same_answer_and_another_another():
    circuit = load_circuit("gated-swept")
    first, again, other = (plain_values(spread(circuit, seed=seed, boards=500)) for seed in (3, 3, 4))
    assert first == again
    assert first != other


def test_first_order_parts_matter_as_their_variances():
    """The logarithm of the corner is a sum, so the shares are 0.1² and 0.05² of their sum, near enough."""
    matters = spread(load_circuit("gated-first-order")).matters
    assert list(matters) == ["filter.capacitor", "filter.resistor"]
    assert matters["filter.capacitor"] == pytest.approx(0.8, abs=0.02)
    assert matters["filter.resistor"] == pytest.approx(0.2, abs=0.02)


def test_a_pot_alone_moves_only_the_low_end():
    """R = end + track · (1 ± 0.2) with the knob at 0, the end resistor alone at 10."""
    circuit = load_circuit("gated-swept")
    found = spread(circuit, tolerances=replace(NO_SPREAD, pot=0.2))
    assert max(found.matters, key=lambda name: found.matters[name]) == "filter.pot"
    nominal = 103e3
    for one in found.settings:
        assert one.corner_hz is not None
        relative = np.array(one.corner_hz) / one.wanted.corner_hz
        if one.wanted.tone == 10:
            assert relative == pytest.approx([1.0, 1.0], abs=1e-6)
        else:  # 5 % and 95 % of an even spread are at ± 0.9 of it
            expected = [nominal / (3e3 + 100e3 * 1.18), nominal / (3e3 + 100e3 * 0.82)]
            assert relative == pytest.approx(expected, abs=0.005)
        assert one.peak_db == pytest.approx((one.wanted.peak_db, one.wanted.peak_db), abs=1e-6)


def test_gangs_that_differ_leave_the_sum_of_resistances():
    """R (1 + ε/2) and R (1 − ε/2): Q falls by √(1 − ε²/4), the peak by 0.04 dB at most for 20 %."""
    found = spread(load_circuit("gated-swept"), tolerances=replace(NO_SPREAD, gang=0.2))
    low = next(one for one in found.settings if (one.wanted.tone, one.wanted.peak) == (0.0, "peaked"))
    assert low.wanted.peak_db - 0.05 < low.peak_db[0] < low.wanted.peak_db - 0.02
    assert low.peak_db[1] <= low.wanted.peak_db + 1e-6


def test_without_tolerances_every_board_is_the_circuit():
    circuit = load_circuit("gated-swept")
    found = spread(circuit, tolerances=NO_SPREAD, boards=100, limits=Limits(0.001, 0.001))
    assert (found.yield_share, found.standard_error) == (1.0, 0.0)
    assert found.matters == {}
    expected = network_response(circuit.filter.network(tone=4.0, peak="flat"), frequency_hz=found.frequency_hz)
    np.testing.assert_allclose(found.low_db, expected.gain_db, atol=1e-6)
    np.testing.assert_allclose(found.high_db, expected.gain_db, atol=1e-6)


def test_the_bandwidth_of_its_op_amps_counts_on_every_board():
    """Of slow op-amps at the bright end, where ideal ones give another corner; each setting as `response` has it."""
    slow = load_circuit("gated-swept", changes={"devices.op_amp": "single-supply"})
    ideal = with_settings(slow, {"devices.values": "ideal"})
    told = spread(slow, tolerances=NO_SPREAD, boards=100).settings
    apart = 0.0
    for one, without in zip(told, wanted_of(ideal), strict=True):
        at = {"knobs.tone": one.wanted.tone, "switches.peak": one.wanted.peak}
        measured = response(with_settings(slow, at))
        assert (one.wanted.corner_hz, one.wanted.peak_db) == (measured.corner_hz, measured.peak_db)
        assert one.corner_hz == pytest.approx((measured.corner_hz,) * 2, rel=1e-6)
        assert one.peak_db == pytest.approx((measured.peak_db,) * 2, abs=1e-6)
        apart = max(apart, abs(measured.corner_hz / without.corner_hz - 1.0))
    assert apart > 0.002


def test_the_band_is_that_of_the_closed_form():
    """Far above the corner the gain is −20 log(2π f R C), so its percentiles are those of the product R C."""
    found = spread(
        load_circuit("gated-first-order"), frequency_hz=[27.2, 272.06, 20e3], tolerances=Tolerances(resistor=0.0)
    )
    expected = [20 * np.log10(272.06 / 20e3 / (1 + off)) for off in (0.09, -0.09)]
    assert found.low_db[2] == pytest.approx(expected[0], abs=0.06)
    assert found.high_db[2] == pytest.approx(expected[1], abs=0.06)
    assert np.all(found.low_db < found.high_db)
    assert found.low_db[1] < -3.0103 < found.high_db[1]


def test_what_boards_are_held_against_can_be_given():
    circuit = load_circuit("gated-first-order")
    (nominal,) = wanted_of(circuit)
    far = type(nominal)(None, None, 2.0 * nominal.corner_hz, 0.0)
    assert spread(circuit, boards=200, wanted=[far]).yield_share == 0.0


def test_each_physical_part_varies_by_itself():
    names = set(spread(load_circuit("gated-swept"), boards=100).matters)
    assert names == {
        "filter.pot",
        "filter.pot gangs",
        *(f"filter.pot {side}clockwise end ({gang})" for side in ("", "anti") for gang in (1, 2)),
        "filter.end_resistor (1)",
        "filter.end_resistor (2)",
        *(f"filter.{part}_capacitor.{peak}" for part in ("ground", "feedback") for peak in ("flat", "peaked")),
    }
    own = set(spread(CIRCUITS["own"](), boards=100).matters)
    assert own == {
        *("filter.pot", "filter.pot gangs", "P1 end resistor", "P2 end resistor"),
        *(f"filter.pot {side}clockwise end ({gang})" for side in ("", "anti") for gang in (1, 2)),
        *("C1 flat", "C1 peaked", "C2 flat", "C2 peaked"),
    }
    assert SweptSecondOrder().kind == load_circuit("gated-swept").filter.kind


def test_a_wire_has_no_spread():
    found = spread(load_circuit("gated-open"))
    assert (found.yield_share, found.matters, found.settings[0].corner_hz) == (1.0, {}, None)
    assert not np.any(found.low_db)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"capacitor": 10.0}, "the capacitors' tolerance must be 0 % to 50 %, got 1000 %; was it meant as 10 %"),
        ({"pot": -0.1}, "the pots' tolerance must be 0 % to 50 %, got -10 %$"),
        ({"gang": float("nan")}, "the gangs' mismatch must be 0 % to 50 %, got nan"),
        ({"pot_end_ohm": -1.0}, "what a pot leaves at its ends must be 0 Ω to 1k, got -1 Ω"),
        ({"pot_end_ohm": 15e3}, "what a pot leaves at its ends must be 0 Ω to 1k, got 15000 Ω"),
        ({"distribution": "gaussian"}, "a distribution must be uniform or normal, got 'gaussian'$"),
    ],
)
def test_tolerances_that_cannot_be_are_refused(changes, words):
    with pytest.raises(CircuitError, match=words):
        Tolerances(**changes)


def test_too_few_boards_are_refused():
    with pytest.raises(CircuitError, match="boards must be 100 to 1000000, got 10"):
        spread(load_circuit("gated-first-order"), boards=10)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ((20.0, 1.0), "corner_share must be above 0 and at most 1, got 20; was it meant as 0.2"),
        ((0.0, 1.0), "corner_share must be above 0 and at most 1, got 0"),
        ((0.2, 0.0), "peak_db must be above 0 and at most 20 dB, got 0 dB"),
    ],
)
def test_limits_that_cannot_be_are_refused(values, words):
    with pytest.raises(CircuitError, match=words):
        Limits(*values)


def test_a_filter_that_blocks_zero_frequency_is_refused():
    parts = [
        {"part": "capacitor", "name": "C1", "value": "10n", "between": ["in", "out"]},
        {"part": "resistor", "name": "R1", "value": "10k", "between": ["out", "ground"]},
    ]
    with pytest.raises(CircuitError, match="lets nothing through there"):
        spread(circuit_with(kind="network", parts=parts))


@pytest.mark.parametrize("start_ohm", [None, 220e3, 47e3])
def test_a_start_resistor_narrows_the_low_end_as_parallel_resistances_do(start_ohm):
    """Only the track varies, ±20 %: the corner goes as 1 / (Re + Rp ∥ Rs), and its percentiles with the track's."""
    changes = {} if start_ohm is None else {"filter.start_resistor": start_ohm}
    circuit = load_circuit("gated-swept", changes=changes)
    found = spread(circuit, tolerances=replace(NO_SPREAD, pot=0.2))
    low, high = found.settings[:2]

    def whole_ohm(track_ohm):
        return 3e3 + (track_ohm if start_ohm is None else track_ohm * start_ohm / (track_ohm + start_ohm))

    expected = [low.wanted.corner_hz * whole_ohm(100e3) / whole_ohm(track) for track in (118e3, 82e3)]
    assert low.corner_hz == pytest.approx(expected, rel=1e-4)
    assert high.corner_hz == pytest.approx([high.wanted.corner_hz] * 2, rel=1e-6)


def test_start_resistors_have_a_tolerance_of_their_own_and_the_pot_counts_less():
    circuit = load_circuit("gated-swept", changes={"filter.start_resistor": "100k"})
    with_start, plain = spread(circuit), spread(load_circuit("gated-swept"))
    new = {"filter.start_resistor (1)", "filter.start_resistor (2)"}
    assert set(with_start.matters) == set(plain.matters) | new
    assert 0.0 < with_start.matters["filter.start_resistor (1)"] < with_start.matters["filter.pot"]
    assert with_start.matters["filter.pot"] < plain.matters["filter.pot"] - 0.1
    assert with_start.yield_share > plain.yield_share + 0.05
    only = spread(circuit, tolerances=Tolerances(capacitor=0.0, resistor=0.1, pot=0.0, gang=0.0))
    worst = 3.3e3 + 110e3 * 100e3 / (110e3 + 100e3)  # no board is further off than with all resistors at their limits
    assert only.settings[0].corner_hz[0] > only.settings[0].wanted.corner_hz * 53e3 / worst
    assert only.settings[0].corner_hz[0] < only.settings[0].wanted.corner_hz * 0.985
