"""Devices: their classes, how far those on one board are off, and how a circuit file names them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import kstest

from sublatch.circuit.devices import catalogue
from sublatch.circuit.devices.errors import (
    comparator_bias_a,
    comparator_offset_v,
    diode_leakage_a,
    op_amp_bias_a,
    op_amp_offset_v,
)
from sublatch.circuit.devices.record import Devices
from sublatch.circuit.load import load_circuit
from sublatch.circuit.save import circuit_toml
from sublatch.errors import CircuitError

CLASSES = [
    one
    for table in (catalogue.OP_AMPS, catalogue.COMPARATORS, catalogue.DIODES, catalogue.SWITCHES, catalogue.PAIRS)
    for one in table.values()
]
ERRORS = (op_amp_offset_v, op_amp_bias_a, comparator_offset_v, comparator_bias_a, diode_leakage_a)


@pytest.mark.parametrize("one", CLASSES, ids=lambda one: one.name)
def test_every_class_says_what_to_buy_where_it_is_from_and_worst_is_worse_than_typical(one):
    assert one.types
    assert one.source
    assert 0.0 <= one.least_v < one.most_v
    spreads = [value for value in vars(one).values() if isinstance(value, catalogue.Spread)]
    assert all(abs(spread.typical) <= abs(spread.worst) for spread in spreads)
    assert all(spread.typical * spread.worst >= 0.0 for spread in spreads)


def test_swing_and_inputs_of_common_types():
    """TL072 at ±15 V: ±13.5 V typical, ±12 V guaranteed; LM358: up to 1.5 V below the supply (TI data sheets)."""
    fet, single = catalogue.OP_AMPS["fet-input"], catalogue.OP_AMPS["single-supply"]
    assert (fet.swing_high_v.typical, fet.swing_high_v.worst) == (15 - 13.5, 15 - 12)
    assert (single.swing_low_v.typical, single.swing_low_v.worst) == (0.005, 0.02)
    assert single.swing_high_v.typical == 1.5
    assert fet.noise_v_rthz == 15e-9


@pytest.mark.parametrize("error", ERRORS)
def test_ideal_parts_are_not_off_and_worst_ones_by_the_worst(error):
    assert error(Devices(values="ideal"), "latch.set") == 0.0
    worst = {abs(error(Devices(values="worst", board=board), "latch.set")) for board in range(1, 20)}
    assert len(worst) == 1
    drawn = np.array([error(Devices(values="drawn", board=board), "latch.set") for board in range(1, 2000)])
    assert np.max(np.abs(drawn)) <= max(worst)
    assert np.max(np.abs(drawn)) > 0.99 * max(worst)


def test_parts_are_typical_where_a_circuit_does_not_say():
    assert load_circuit("gated-open").devices == Devices() == Devices(values="typical")


def test_drawn_offsets_are_uniform_and_those_of_two_devices_independent():
    """Kolmogorov–Smirnov test against the uniform distribution (scipy.stats.kstest), and no correlation."""
    boards = [Devices(values="drawn", board=board) for board in range(1, 4001)]
    one, other = (
        np.array([comparator_offset_v(devices, role) for devices in boards]) for role in ("latch.set", "latch.reset")
    )
    assert kstest(one, "uniform", args=(-5e-3, 10e-3)).pvalue > 0.01
    assert kstest(other, "uniform", args=(-5e-3, 10e-3)).pvalue > 0.01
    assert abs(np.corrcoef(one, other)[0, 1]) < 0.05
    typical = np.array([op_amp_offset_v(Devices(values="typical", board=board), "a") for board in range(1, 2001)])
    assert set(np.abs(typical)) == {3e-3}
    assert abs(np.mean(np.sign(typical))) < 0.07


def test_bias_flows_one_way_and_the_users_own_values_count():
    assert op_amp_bias_a(Devices(values="worst", op_amp="single-supply"), "input.follower") == -250e-9
    assert op_amp_bias_a(Devices(values="typical"), "input.follower") == 65e-12
    own = Devices(values="worst", op_amp_offset="1mV", op_amp_bias="-2nA", diode_leakage="3nA")
    assert abs(op_amp_offset_v(own, "x")) == 1e-3
    assert op_amp_bias_a(own, "x") == -2e-9
    assert diode_leakage_a(own, "x") == 3e-9


def test_another_number_is_another_board():
    different = {op_amp_offset_v(Devices(values="drawn", board=board), "input.follower") for board in range(1, 9)}
    assert len(different) == 8


def test_a_file_names_classes_and_is_told_the_nearest():
    changes = {"devices.op_amp": "single-supply", "devices.values": "worst", "devices.comparator_bias": "-40nA"}
    circuit = load_circuit("gated-open", changes=changes)
    assert circuit.devices.op_amp_class.types[0] == "LM358"
    assert 'op_amp = "single-supply"' in circuit_toml(circuit)
    assert 'comparator_bias = "-40nA"' in circuit_toml(circuit)
    with pytest.raises(CircuitError, match=r"devices.op_amp: must be one of .*did you mean 'fet-input'"):
        load_circuit("gated-open", changes={"devices.op_amp": "fet-inputs"})
    with pytest.raises(CircuitError, match="a current is written like 65pA"):
        load_circuit("gated-open", changes={"devices.op_amp_bias": "65 pF"})
