"""What decides a node's voltage, and what of a detector's front couples."""

from __future__ import annotations

import numpy as np
import pytest

from sublatch.circuit.load import load_circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.networks.upstream import upstream

PARTS: tuple[Part, ...] = (
    Resistor("R1", ("in", "a"), 1e3),
    Capacitor("C1", ("a", GROUND), 1e-6),
    OpAmp("U1", plus="a", minus="b", output="b"),
    Resistor("R2", ("b", "c"), 2e3),
    Capacitor("C2", ("c", GROUND), 1e-7),
    OpAmp("U2", plus="c", minus="d", output="d"),
    Resistor("R3", ("b", "e"), 3e3),
    Resistor("R4", ("e", GROUND), 3e3),
)


@pytest.mark.parametrize(
    ("output", "inputs", "names", "driven"),
    [
        ("b", ("in",), {"R1", "C1", "U1"}, ("in",)),
        ("d", ("in",), {"R1", "C1", "U1", "R2", "C2", "U2"}, ("in",)),
        ("d", ("in", "b"), {"R2", "C2", "U2"}, ("b",)),
        ("e", ("in", "c"), {"R1", "C1", "U1", "R3", "R4"}, ("in",)),
        ("b", ("in", "b"), set(), ("b",)),
    ],
)
def test_only_what_feeds_or_loads_a_node_is_left(output, inputs, names, driven):
    found = upstream(PARTS, inputs=inputs, output=output)
    assert {part.name for part in found.parts} == names
    assert found.inputs == driven


def test_couplings_are_the_capacitors_in_series():
    circuit = load_circuit("gated-open", changes={"detector.kind": "overtone"})
    front = circuit.detector.front
    corners = {}
    for coupling in front.couplings:
        farad, network = front.coupled(coupling)
        low, high = (abs(nodal_response(network, hz, source=coupling.source)) for hz in (1e-4, 1e6))
        corners[coupling.setting] = (farad, float(low / high))
    assert [name for name in corners] == ["band.coupling", "blend.coupling", "gain.coupling", "gain.last_coupling"]
    ohm = {"band.coupling": 22e3, "blend.coupling": 82e3 + 82e3, "gain.coupling": 100e3, "gain.last_coupling": 4.7e3}
    for name, (farad, ratio) in corners.items():
        assert ratio == pytest.approx(2 * np.pi * 1e-4 * ohm[name] * farad, rel=1e-3), name
