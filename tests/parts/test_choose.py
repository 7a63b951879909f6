"""Choice of parts: the search against brute force, what is promised against what is measured, and bad wishes."""

from __future__ import annotations

import tomllib
from functools import cache
from itertools import product

import numpy as np
import pytest

from filter_networks import second_order
from sublatch.circuit.components.preferred import values_between
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.filters.third_order import THIRD_ORDER_CAPACITORS
from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.corners import corners_and_peaks, network_response
from sublatch.circuit.networks.solver import nodal_response, solve_boards, transfer
from sublatch.circuit.response import response
from sublatch.circuit.signal_path import filter_network
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.parts.choose.curves import q_of_peak, second_order_corner, second_order_peak_db
from sublatch.parts.choose.fixed_search import fixed_sets
from sublatch.parts.choose.job import choose, choose_fixed
from sublatch.parts.choose.request import ChooseFixedRequest, ChooseRequest
from sublatch.parts.choose.start_resistor import corner_and_peak, pot_counts, share_within
from sublatch.parts.choose.swept_search import Stock, Sweep, SweptParts, best_taper, octaves_per_step, swept_sets
from sublatch.parts.knobs.judgement import hard_parts
from sublatch.parts.tolerance import Limits, spread
from sublatch.parts.variation import drawn, terms
from sublatch.signal.filtering.fixed import apply

RATE = 48000
KINDS = ("swept-second-order", "swept-state-variable")
SHAPES = ("butterworth", "bessel", "chebyshev")
SWEEPS = [
    *((100.0, 3000.0, 4.0), (100.0, 5000.0, 7.5)),
    *(pytest.param(*case, marks=pytest.mark.long) for case in ((100.0, 3000.0, 3.5), (60.0, 1000.0, 1.0))),
    (250.0, 800.0, 12.0),
]

chosen = cache(choose)
"""Several tests look at the same choice."""


def gains_db(network, frequency_hz):
    return 20 * np.log10(np.abs(nodal_response(network, frequency_hz)))


def curve_of(kind, first, second):
    """Return the corner at 1 Ω and the gain in dB below the corner, both from the nodal equations."""
    if kind == "swept-second-order":
        network = second_order(first_ohm=10e3, second_ohm=10e3, ground_farad=first, feedback_farad=second)
    else:
        farads = {"first_capacitor": first, "second_capacitor": second}
        pairs = {f"filter.{name}": {"flat": farad, "peaked": farad} for name, farad in farads.items()}
        changes = {"filter.kind": kind, "filter.end_resistor": 10e3, "knobs.tone": 10.0, **pairs}
        network = filter_network(load_circuit("gated-swept", changes=changes))
    corner_hz = network_response(network).corner_hz
    return corner_hz * 10e3, gains_db(network, corner_hz * np.arange(1, 121) / 120)


@pytest.mark.long
@pytest.mark.parametrize(
    ("kind", "with_start", "most"), [(KINDS[0], False, 6.0), (KINDS[0], True, 2.5), (KINDS[1], True, 2.5)]
)
def test_the_search_finds_what_trying_everything_finds(kind, with_start, most):
    """Each pair of pairs of capacitors, each pot, each start and end resistor, judged one at a time."""
    sweep = Sweep(90.0, 2000.0, 5.0, kind=kind)
    stock = Stock(pots_ohm=(22e3, 100e3), capacitors="E3", resistors="E6")
    farads = values_between(220e-12, 1e-6, "E3")
    curves = {pair: curve_of(kind, *pair) for pair in product(farads, farads)}
    ratios = (4 * q_of_peak(peak_db) ** 2 for peak_db in (0.0, 5.0))
    flat_wish, peaked_wish = (curve_of(KINDS[0], 10e-9, 10e-9 * ratio)[1] for ratio in ratios)
    flat_off = {pair: np.max(np.abs(curve - flat_wish)) / 0.5 for pair, (_, curve) in curves.items()}
    peaked_off = {pair: np.max(np.abs(curve - peaked_wish)) / 0.5 for pair, (_, curve) in curves.items()}
    pairs = [
        (flat, peaked) for flat, peaked in product(curves, curves) if max(flat_off[flat], peaked_off[peaked]) <= most
    ]
    starts = values_between(2.2e3, 1e6, "E6").tolist() if with_start else [None]
    tried = {}
    for pot, start, end in product(stock.pots_ohm, starts, values_between(1e3, 1e6, "E6")):
        if start is not None and not pot / 10 <= start <= pot * 10:
            continue
        section = pot if start is None else 1 / (1 / pot + 1 / start)
        for flat, peaked in pairs:
            corners = [
                curves[pair][0] / ohm / hertz - 1.0
                for pair in (flat, peaked)
                for ohm, hertz in ((section + end, 90.0), (end, 2000.0))
            ]
            apart = curves[peaked][0] / curves[flat][0] - 1.0
            misses = [*(abs(off) / 0.10 for off in corners), abs(apart) / 0.05, flat_off[flat], peaked_off[peaked]]
            if max(misses) <= most:
                tried[pot, start, end, flat, peaked] = misses
    found = swept_sets(sweep, stock, most_miss=most, with_start=with_start)
    assert len(tried) > 20
    assert {(one.pot_ohm, one.start_ohm, one.end_ohm, one.flat_farad, one.peaked_farad) for one in found} == set(tried)
    best = min(tried, key=lambda key: (round(max(tried[key]), 5), round(sum(tried[key]), 5)))
    first = found[0]
    assert max(first.misses) == pytest.approx(max(tried[best]), abs=1e-5)
    assert sum(first.misses) == pytest.approx(sum(tried[best]), abs=1e-4)
    for one in found:
        expected = tried[one.pot_ohm, one.start_ohm, one.end_ohm, one.flat_farad, one.peaked_farad]
        np.testing.assert_allclose(one.misses, expected, atol=2e-5)
    assert [max(one.misses) for one in found] == pytest.approx(sorted(max(m) for m in tried.values()), abs=1e-5)


def third_order_denominator(ohm, farad):
    """Return a, b, c of 1 + a s + b s² + c s³ (n, 3) from equal resistors and capacitors (n, 3), by hand."""
    first, second, third = (ohm * farad).T
    return np.stack([first + 3 * third, 2 * third * (first + second), first * second * third], axis=1)


def loss_db(denominator, omega):
    """Return 10 log |1 + a s + b s² + c s³|² at s = jω."""
    a, b, c = np.moveaxis(denominator, -1, 0)[..., np.newaxis]
    return 10 * np.log10((1 - b * omega**2) ** 2 + (a * omega - c * omega**3) ** 2)


def third_order_corners(denominator):
    """Return the highest ω at which 1 + (a² − 2b) x + (b² − 2ac) x² + c² x³ = 2, x = ω²."""
    a, b, c = denominator.T
    companion = np.zeros((len(a), 3, 3))
    companion[:, 0] = (
        np.stack([-(b * b - 2 * a * c), -(a * a - 2 * b), np.ones(len(a))], axis=1) / c[:, np.newaxis] ** 2
    )
    companion[:, 1, 0] = companion[:, 2, 1] = 1.0
    roots = np.linalg.eigvals(companion)
    return np.sqrt(np.max(np.where(np.abs(roots.imag) <= 1e-6 * np.abs(roots), roots.real, 0.0), axis=1))


@pytest.mark.long
@pytest.mark.parametrize("shape", ["butterworth", "chebyshev"])
def test_the_third_order_search_finds_what_trying_everything_finds(shape):
    """All capacitors of a series with every resistor, not only those around the textbook's, by the closed form."""
    farads, omega = values_between(220e-12, 1e-6, "E12"), 2 * np.pi * 500.0
    ideal = third_order_denominator(1.0, np.array([THIRD_ORDER_CAPACITORS[shape]]))
    relative = np.arange(1, 121) / 60
    wish = loss_db(ideal, third_order_corners(ideal)[:, np.newaxis] * relative)
    sets = np.array(list(product(farads, repeat=3)))
    tried = {}
    for ohm in values_between(2.2e3, 220e3, "E6"):
        curves = third_order_denominator(ohm, sets)
        about = np.flatnonzero(np.abs(loss_db(curves, np.array([omega]))[:, 0] - 3.01) < 3.0)  # 10 % off, and far more
        corner = third_order_corners(curves[about])
        misses = np.abs(corner / omega - 1.0) / 0.10
        curve_off = np.max(np.abs(loss_db(curves[about], corner[:, np.newaxis] * relative) - wish), axis=1) / 0.5
        for place, miss in zip(about, np.maximum(misses, curve_off), strict=True):
            if miss <= 1.0:
                tried[(float(ohm), *sets[place].tolist())] = miss
    found = fixed_sets(500.0, kind="third-order", shape=shape, capacitors="E12", resistors="E6")
    assert len(tried) > 3
    assert {(one.ohm, *one.farad) for one in found} == set(tried)
    assert [max(one.misses) for one in found] == pytest.approx(sorted(tried.values()), abs=1e-6)


def test_the_first_order_search_finds_what_trying_everything_finds():
    found = fixed_sets(440.0, kind="first-order", shape="butterworth", capacitors="E6", resistors="E12")
    tried = [
        (abs(1 / (2 * np.pi * ohm * farad * 440.0) - 1) / 0.10, ohm, farad)
        for ohm in values_between(2.2e3, 220e3, "E12")
        for farad in values_between(220e-12, 1e-6, "E6")
    ]
    near = [one for one in tried if one[0] <= 1.0]
    assert len(found) == len(near) > 5
    assert max(found[0].misses) == pytest.approx(min(near)[0], abs=1e-9)


@pytest.mark.parametrize(("low_hz", "high_hz", "peak_db"), SWEEPS)
def test_what_is_promised_is_what_the_network_solver_measures(low_hz, high_hz, peak_db):
    found = chosen(ChooseRequest(low_hz=low_hz, high_hz=high_hz, peak_db=peak_db, capacitors="E24"))
    for one in (found.best, *found.alternatives):
        assert one.miss <= 1.0
        for setting in one.settings:
            changes = {**one.changes, "knobs.tone": setting.wanted.tone, "switches.peak": setting.wanted.peak}
            measured = response(load_circuit("polarity-swept", changes=changes))
            assert setting.corner_hz == pytest.approx(measured.corner_hz, rel=1e-6)
            assert setting.peak_db == pytest.approx(measured.peak_db, abs=1e-6)
            assert abs(setting.corner_off) <= 0.10
            assert abs(setting.peak_off_db) <= 0.5
        flat_low, flat_high, peaked_low, peaked_high = (setting.corner_hz for setting in one.settings)
        assert peaked_low / flat_low == pytest.approx(1.0, abs=0.05)
        assert peaked_high / flat_high == pytest.approx(1.0, abs=0.05)
        wishes = [setting.wanted.corner_hz for setting in one.settings]
        assert wishes == [low_hz, high_hz, low_hz, high_hz]


@pytest.mark.parametrize("kind", ["first-order", "third-order"])
def test_a_fixed_filter_is_what_was_promised(kind):
    found = choose_fixed(ChooseFixedRequest(corner_hz=300.0, kind=kind))
    measured = response(load_circuit("gated-open", changes=found.changes))
    assert found.best.settings[0].corner_hz == pytest.approx(measured.corner_hz, rel=1e-9)
    assert measured.corner_hz == pytest.approx(300.0, rel=0.03)
    assert measured.peak_db < 0.1


def heard(network):
    """Return frequencies and the gain there in dB above the lowest, of a rendered exponential sine sweep."""
    seconds, low_hz, high_hz = 6.0, 2.0, 20000.0
    t = np.arange(round(seconds * RATE)) / RATE
    rate = np.log(high_hz / low_hz) / seconds
    sweep = np.sin(2 * np.pi * low_hz * np.expm1(rate * t) / rate)
    sweep = np.concatenate([sweep, np.zeros(RATE)])
    (out,) = apply([sweep], [[transfer(network)]], sample_rate=RATE)
    frequency = np.fft.rfftfreq(len(sweep), 1 / RATE)
    some = (frequency > 4.0) & (frequency < 10000.0)
    gain_db = 20 * np.log10(np.abs(np.fft.rfft(out)[some] / np.fft.rfft(sweep)[some]))
    return frequency[some], gain_db - gain_db[0]


def must_be_heard(found):
    """Promised and rendered corner within 1 %, peak within 0.1 dB, at every end of the knob and of the switch."""
    for one in found.settings:
        changes = {**found.changes, "knobs.tone": one.wanted.tone, "switches.peak": one.wanted.peak}
        changes = {path: value for path, value in changes.items() if value is not None}
        frequency, gain_db = heard(filter_network(load_circuit("gated-open", changes=changes)))
        above = np.flatnonzero(gain_db > -3.0103)[-1]
        assert frequency[above] == pytest.approx(one.corner_hz, rel=0.01)
        assert max(0.0, float(gain_db.max())) == pytest.approx(one.peak_db, abs=0.1)


@pytest.mark.parametrize(("low_hz", "high_hz", "peak_db"), SWEEPS)
def test_a_sine_sweep_through_the_filter_shows_what_was_promised(low_hz, high_hz, peak_db):
    must_be_heard(chosen(ChooseRequest(low_hz=low_hz, high_hz=high_hz, peak_db=peak_db, capacitors="E24")).best)


@pytest.mark.parametrize(("low_hz", "high_hz", "peak_db"), SWEEPS)
def test_a_sine_sweep_through_a_state_variable_filter_shows_what_was_promised(low_hz, high_hz, peak_db):
    wish = {"low_hz": low_hz, "high_hz": high_hz, "peak_db": peak_db, "capacitors": "E24"}
    found = choose(ChooseRequest(kind="swept-state-variable", **wish)).best
    assert found.parts["kind"] == "swept-state-variable"
    assert found.miss <= 1.0
    for one in found.settings:
        assert abs(one.corner_off) <= 0.10
        assert abs(one.peak_off_db) <= 0.5
    must_be_heard(found)


@pytest.mark.parametrize("pot_ohm", [50e3, 10e6])
def test_a_sine_sweep_shows_what_start_resistors_promise(pot_ohm):
    found = chosen(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0, pots_ohm=(pot_ohm,))).best
    assert found.parts["start_resistor"] is not None
    must_be_heard(found)


def test_a_sine_sweep_shows_what_other_sets_promise():
    for found in chosen(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0)).alternatives:
        must_be_heard(found)


@pytest.mark.parametrize(("kind", "shape"), [("first-order", "butterworth"), *(("third-order", s) for s in SHAPES)])
def test_a_sine_sweep_shows_what_a_fixed_filter_promises(kind, shape):
    found = choose_fixed(ChooseFixedRequest(corner_hz=300.0, kind=kind, shape=shape))
    for one in (found.best, *found.alternatives):
        must_be_heard(one)


def test_no_fixed_filter_is_asked_for_a_peak():
    """The ripple of an odd order lies below the gain at 0 Hz: |H| falls by 0.5 dB and comes back, and no further."""
    found = choose_fixed(
        ChooseFixedRequest(corner_hz=300.0, shape="chebyshev", capacitors="E24", limits=Limits(peak_db=0.1))
    )
    (one,) = found.best.settings
    assert one.wanted.peak_db == 0.0
    assert one.peak_db == pytest.approx(0.0, abs=0.1)
    frequency, gain_db = heard(filter_network(load_circuit("gated-open", changes=found.changes)))
    rippled = gain_db[frequency < 0.75 * one.corner_hz]
    assert rippled.min() == pytest.approx(-0.5, abs=0.15)
    assert found.spread.yield_share > 0.1


def test_the_changes_and_the_table_for_the_file_are_the_same_parts(tmp_path):
    found = chosen(ChooseRequest(low_hz=80.0, high_hz=2500.0, peak_db=6.0, pots_ohm=(33.333e3,), capacitors="E24"))
    file = tmp_path / "box.toml"
    file.write_text(f'title = "Box"\n\n[octave]\nkind = "gain-gated"\n\n{found.best.toml}', encoding="utf-8")
    assert load_circuit(file).filter == load_circuit("gated-first-order", changes=found.changes).filter
    assert load_circuit(file).filter.pot.value == 33.333e3
    assert tomllib.loads(found.best.toml)["filter"]["kind"] == "swept-second-order"


def test_every_part_can_be_bought():
    for name in ("E6", "E12", "E24"):
        parts = chosen(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0, capacitors=name)).best.parts
        for capacitor in (*parts["ground_capacitor"].values(), *parts["feedback_capacitor"].values()):
            assert values_between(capacitor * 0.999, capacitor * 1.001, name) == pytest.approx([capacitor])
        start = parts["start_resistor"]
        assert start is None or len(values_between(start * 0.999, start * 1.001, "E24")) == 1
        assert len(values_between(parts["end_resistor"] * 0.999, parts["end_resistor"] * 1.001, "E24")) == 1


def test_of_sets_that_miss_alike_the_one_with_the_handiest_pot_comes_first():
    """The pot nearest to 50 kΩ by ratio: 47 kΩ is 6 % off, 100 kΩ a factor of 2, 22 kΩ one of 2.3."""
    sets = [
        SweptParts(pot_ohm=ohm, end_ohm=3e3, flat_farad=(1e-8, 1e-8), peaked_farad=(1e-8, 2e-8), misses=(0.5,) * 7)
        for ohm in (4.7e3, 22e3, 47e3, 50e3, 100e3, 1e6)
    ]
    assert [one.pot_ohm for one in sorted(sets, key=lambda one: one.rank)] == [50e3, 47e3, 100e3, 22e3, 4.7e3, 1e6]


@pytest.mark.parametrize(
    ("ratio", "taper"), [(1.3, "linear"), (2.0, "linear"), (10.0, "reverse-log"), (30.0, "reverse-log")]
)
def test_the_taper_is_the_one_that_spreads_octaves_most_evenly(ratio, taper):
    end = 100e3 / (ratio - 1.0)
    chosen, steepest = best_taper(100e3, end, Stock())
    assert chosen == taper
    for other in ("linear", "log", "reverse-log"):
        steps = octaves_per_step(100e3, end, taper=other, midpoint=0.15)
        assert np.sum(steps[::2]) == pytest.approx(np.log2(ratio))  # the ten whole steps
        assert np.max(steps) >= steepest - 1e-12


def test_start_resistors_make_steps_as_parallel_resistances_do():
    left = np.array([1.0, *((32.1111 ** (1 - turn) - 1) / 31.1111 for turn in np.arange(0.1, 1.05, 0.1))])
    gang = 50e3 * left * 100e3 / (50e3 * left + 100e3)
    steps = octaves_per_step(50e3, 1.2e3, taper="reverse-log", midpoint=0.15, start_ohm=100e3)
    assert steps[::2] == pytest.approx(np.log2((1.2e3 + gang[:-1]) / (1.2e3 + gang[1:])), abs=1e-5)
    assert best_taper(50e3, 1.2e3, Stock(), start_ohm=100e3) == ("reverse-log", pytest.approx(np.max(steps)))


@pytest.mark.parametrize(("kind", "start"), [(KINDS[0], True), (KINDS[0], False), (KINDS[1], True)])
def test_boards_by_closed_form_are_those_of_the_solver(kind, start):
    """The same draws and ideal op-amps: all that may differ is a board that is within rounding of a limit."""
    sweep = Sweep(100.0, 3000.0, 4.0, kind=kind)
    wish = {"kind": kind, "low_hz": 100.0, "high_hz": 3000.0, "peak_db": 4.0, "pots_ohm": (50e3,)}
    tolerances = Tolerances() if start else Tolerances(pot=0.01, gang=0.01)
    found = chosen(ChooseRequest(**wish, tolerances=tolerances))
    assert (found.best.parts["start_resistor"] is not None) == start
    parts = parts_of(found.best)
    quick = share_within(parts, sweep, tolerances=tolerances, limits=Limits())
    ideal = with_settings(found.best.circuit, {"devices.values": "ideal"})
    solved = spread(ideal, tolerances=tolerances, wanted=[setting.wanted for setting in found.best.settings])
    assert quick == pytest.approx(solved.yield_share, abs=2e-4)


def parts_of(found):
    """Return a measured set as the search has it, its misses left out."""
    told = found.parts
    first, second = (told[name] for name in told if name.endswith("_capacitor"))
    flat, peaked = ((first[at], second[at]) for at in ("flat", "peaked"))
    return SweptParts(told["pot"]["value"], told["end_resistor"], flat, peaked, (), told["start_resistor"])


def test_start_resistors_come_first_where_they_are_worth_it():
    """Of all sets with them whose knob is as even, about the one with the most boards, and five of 100 more."""
    sweep, stock = Sweep(100.0, 3000.0, 4.0), Stock(pots_ohm=(50e3,))
    found = chosen(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0, pots_ohm=(50e3,)))
    without = next(one for one in found.alternatives if one.parts["start_resistor"] is None)
    plain = swept_sets(sweep, stock)[0]
    assert without.miss == pytest.approx(max(plain.misses))
    yields = spread(without.circuit, wanted=[setting.wanted for setting in without.settings]).yield_share
    assert found.without_start_share == pytest.approx(yields, abs=2e-4)
    assert found.spread.yield_share >= yields + 0.05
    assert found.best.miss <= without.miss + 0.1
    steepest = 1.1 * without.steepest_octaves
    assert found.best.steepest_octaves <= steepest
    for parts in swept_sets(sweep, stock, most_miss=without.miss + 0.1, with_start=True):
        if best_taper(50e3, parts.end_ohm, stock, start_ohm=parts.start_ohm)[1] <= steepest:
            share = share_within(parts, sweep, tolerances=Tolerances(), limits=Limits())
            assert share <= found.spread.yield_share + 0.03


@pytest.mark.parametrize("start_ohm", [None, 100e3, 15e3])
def test_what_of_the_pots_error_is_left_at_the_low_end(start_ohm):
    parts = SweptParts(50e3, 1.2e3, (33e-9, 68e-9), (22e-9, 220e-9), (), start_ohm)

    def corner(pot_ohm):
        gang = pot_ohm if start_ohm is None else 1 / (1 / pot_ohm + 1 / start_ohm)
        return 1 / (1.2e3 + gang)

    slope = -np.log(corner(50e3 * 1.001) / corner(50e3 / 1.001)) / np.log(1.001**2)
    assert pot_counts(parts) == pytest.approx(slope, rel=1e-5)


def test_a_pot_that_is_too_large_is_tamed_by_start_resistors():
    """Without them 10 MΩ would want capacitors below 220 pF at 100 Hz."""
    sweep, stock = Sweep(100.0, 3000.0, 4.0), Stock(pots_ohm=(10e6,))
    assert not swept_sets(sweep, stock)
    found = chosen(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0, pots_ohm=(10e6,)))
    assert found.without_start_share is None
    for one in (found.best, *found.alternatives):
        assert one.miss <= 1.0
        assert 1e6 <= one.parts["start_resistor"] <= 10e6
        for setting in one.settings:
            assert abs(setting.corner_off) <= 0.10
    assert found.best.low_end.pot_counts < 0.5 < found.best.low_end.pot_alone_counts


def test_alternatives_are_ranked_and_each_has_another_pot():
    found = chosen(ChooseRequest(low_hz=100.0, high_hz=5000.0, peak_db=7.5))
    sets = (found.best, *found.alternatives)
    order = [(len(hard_parts(one.circuit.filter)), -round(20 * one.share_within), one.miss) for one in sets]
    assert order == sorted(order)  # what is easily bought, then five boards of 100 more, then the nearest
    assert len({one.parts["pot"]["value"] for one in (found.best, *found.alternatives)}) == 5
    assert len(chosen(ChooseRequest(low_hz=100.0, high_hz=5000.0, peak_db=7.5, alternatives=0)).alternatives) == 0


def test_a_given_pot_and_taper_are_kept():
    found = chosen(ChooseRequest(low_hz=100.0, high_hz=3000.0, peak_db=4.0, pots_ohm=(50e3,), taper="linear"))
    for one in (found.best, *found.alternatives):
        assert one.parts["pot"]["value"] == 50e3
        assert one.parts["pot"]["taper"] == "linear"
    assert found.best.steepest_octaves > 1.5  # half an octave with the right taper


@pytest.mark.parametrize("q", [0.3, 0.7072, 1.7, 15.0])
def test_corner_and_peak_of_the_second_order_are_the_networks(q):
    network = second_order(first_ohm=10e3, second_ohm=10e3, ground_farad=1e-9 * 0.5 / q, feedback_farad=1e-9 * 2 * q)
    found = network_response(network)
    assert second_order_corner(q) == pytest.approx(2 * np.pi * 1e-5 * found.corner_hz, rel=1e-12)
    assert second_order_peak_db(q) == pytest.approx(found.peak_db, abs=1e-6)
    assert q_of_peak(float(second_order_peak_db(q))) == pytest.approx(max(q, np.sqrt(0.5)), rel=1e-9)


@pytest.mark.parametrize("start_ohm", [None, 150e3])
@pytest.mark.parametrize("tone", [0.0, 10.0])
@pytest.mark.parametrize("kind", KINDS)
def test_the_closed_form_of_each_kind_is_its_network(kind, tone, start_ohm, rng):
    """Corner and peak of boards whose parts are all far from nominal, against the solver."""
    parts = SweptParts(50e3, 1.2e3, (33e-9, 68e-9), (47e-9, 220e-9), (), start_ohm)
    made = parts.filter(kind)
    for peak in ("flat", "peaked"):
        several = terms(made, Tolerances(0.3, 0.3, 0.3, 0.3), tone=tone, peak=peak)
        names = {name for some in several.values() for term in some for name in (*term.causes, *term.ends)}
        values = drawn(several, {name: rng.uniform(-1, 1, 50) for name in sorted(names)}, 50)
        expected = corners_and_peaks(solve_boards(made.network(tone=tone, peak=peak), values))
        corner_hz, peak_db = corner_and_peak(kind, values)
        assert corner_hz == pytest.approx(expected.corner_hz, rel=1e-9)
        assert peak_db == pytest.approx(expected.peak_db, abs=0.011)  # a peak of less may be missed on the batch's grid


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"kind": "state-variable"}, "kind must be one of swept-second-order, .* got 'state-variable'; did you mean"),
        ({"low_hz": 3000.0, "high_hz": 100.0}, "high end must be above the low end, got 3 kHz to 100 Hz; swap them"),
        ({"high_hz": 100.0}, "high end must be above the low end, got 100 Hz to 100 Hz$"),
        ({"low_hz": 5.0}, "low end must be 10 Hz to 20 kHz, got 5 Hz"),
        ({"high_hz": 30e3}, "high end must be 10 Hz to 20 kHz, got 30 kHz"),
        ({"low_hz": float("nan")}, "low end must be 10 Hz to 20 kHz, got nan"),
        ({"peak_db": -1.0}, "peak must be 0 to 20 dB, got -1 dB"),
        ({"peak_db": 21.0}, "peak must be 0 to 20 dB, got 21 dB"),
        ({"flat_peak_db": 5.0}, "flat position's peak must not be above the peaked one's, got 5 dB and 4 dB; swap"),
        ({"flat_peak_db": -3.0}, "flat position's peak must be 0 to 20 dB, got -3 dB"),
        ({"pots_ohm": (10e3,)}, "at most 11 times the low end for a pot of 10k .* got 30 times; take 47k or more"),
        ({"pots_ohm": (50.0,)}, "a pot must be 1k to 10M, got 50 Ω"),
        ({"high_hz": 4800.0, "pots_ohm": (10e3,)}, "got 48 times; take 47k or more"),  # (47 kΩ + 1 kΩ) / 1 kΩ
        ({"high_hz": 4810.0, "pots_ohm": (10e3,)}, "got 48.1 times; take 50k or more"),
        ({"low_hz": 10.0, "high_hz": 20e3}, "at most 1001 times the low end for the largest pot, 1M, .* 2000 times"),
        ({"capacitors": "E13"}, "series must be one of E3, .*got 'E13'; did you mean"),
        ({"capacitors": "E96"}, "capacitors are sold in E3, E6, E12, E24 and no finer, got 'E96'"),
        ({"resistors": "E25"}, "got 'E25'; did you mean 'E24'"),
        ({"taper": "audio"}, "a taper must be one of linear, log, reverse-log, got 'audio'; did you mean 'log'"),
        ({"midpoint": 15.0}, "midpoint .* got 15.0; was it meant as 0.15"),
        (
            {"capacitors": "E3", "peak_db": 4.0},
            r"no E3 capacitors and E24 end resistors come near it: the nearest, 47k with 130k across it and 1k2 and "
            r".*, have the switch's two corners 9\.0 % apart, the 0 dB curve 0\.82 dB off with a peak of 0\.00 dB; "
            r"try a",
        ),
        (
            {"capacitors": "E3", "resistors": "E3", "pots_ohm": (100e3,)},
            r"a pot of 100k and E3 end resistors come near it: the nearest, 100k with .*, have the high end, flat, at ",
        ),
    ],
)
def test_what_cannot_be_asked_is_refused(changes, words):
    wish = {"low_hz": 100.0, "high_hz": 3000.0, "peak_db": 4.0}
    with pytest.raises(CircuitError, match=words):
        choose(ChooseRequest(**{**wish, **changes}))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"corner_hz": 5.0}, "corner must be 10 Hz to 20 kHz, got 5 Hz"),
        ({"kind": "second-order"}, "kind must be one of first-order, third-order, got 'second-order'; did you mean"),
        ({"shape": "butter"}, "shape must be one of .* got 'butter'; did you mean 'butterworth'"),
        (
            {"capacitors": "E3", "resistors": "E3"},
            "no E3 capacitors come near it: the nearest, .*, have the corner at .* \\(.* %\\)",
        ),
    ],
)
def test_what_cannot_be_asked_of_a_fixed_filter_is_refused(changes, words):
    with pytest.raises(CircuitError, match=words):
        choose_fixed(ChooseFixedRequest(**{"corner_hz": 300.0, **changes}))


@pytest.mark.parametrize("corner_hz", [10.0, 40.0, 300.0, 4000.0, 20000.0])
@pytest.mark.parametrize("shape", SHAPES)
def test_third_order_filters_can_be_bought_for_every_corner(corner_hz, shape):
    found = choose_fixed(ChooseFixedRequest(corner_hz=corner_hz, shape=shape, capacitors="E24"))
    assert found.best.settings[0].corner_hz == pytest.approx(corner_hz, rel=0.1)
    assert found.best.settings[0].peak_db == pytest.approx(0.0, abs=0.5)
