"""Networks of one's own whose parts do not hang together, each refused by the name of its part or node."""

import pytest

from own_networks import INVERTING, LADDER, SALLEN_KEY, WORKING, capacitor, op_amp, resistor
from sublatch.circuit.load import load_circuit
from sublatch.errors import CircuitError

REFUSED = {
    "a loose end": ([*LADDER, resistor("R9", "10k", "out", "x")], "part 'R9' has a loose end: node 'x' has only one"),
    "a mistyped node": ([*LADDER[:3], capacitor("C2", "4n7", "out", "grund")], "did you mean 'ground'?"),
    "ground by another name": (
        [*LADDER[:3], capacitor("C2", "4n7", "out", "GND")],
        "ground is written 'ground', got 'GND'",
    ),
    "an op-amp's output in the air": ([*LADDER, op_amp("U1", "out", "a", "x")], "part 'U1' has a loose end: node 'x'"),
    "an op-amp's input in the air": ([*SALLEN_KEY[:4], op_amp("U1", "b", "x", "out")], "part 'U1' has a loose end"),
    "a part to itself": ([*LADDER, resistor("R9", "1k", "a", "a")], "got 'R9' with both ends at 'a'"),
    "inputs together": (
        [*LADDER, op_amp("U1", "a", "a", "x"), resistor("R9", "1k", "x", "ground")],
        "got 'U1' with both",
    ),
    "an island": (
        [*LADDER, resistor("R8", "1k", "x", "y"), capacitor("C9", "1n", "x", "y")],
        "a part must lead from every node to 'in', 'ground' or an op-amp's output, and none does from 'x' and 'y'",
    ),
    "no direct current": (
        [*LADDER[:2], capacitor("C8", "1n", "a", "out"), capacitor("C9", "1n", "out", "ground")],
        "a resistor, for direct current, must lead from every node",
    ),
    "a coupling capacitor alone": ([capacitor("C1", "1u", "in", "out")], "and none does from 'out'"),
    "an op-amp's input without direct current": (
        [capacitor("C8", "1n", "in", "p"), capacitor("C9", "1n", "p", "ground"), op_amp("U1", "p", "out", "out")],
        "and none does from 'p'",
    ),
    "an output at ground": (
        [*LADDER, op_amp("U1", "a", "out", "ground")],
        "got 'U1' with its output at 'ground', which ground holds already",
    ),
    "an output at the input": ([*LADDER, op_amp("U1", "a", "out", "in")], "which the input holds already"),
    "two outputs": (
        [*SALLEN_KEY, op_amp("U2", "a", "out", "out")],
        "got 'U2' with its output at 'out', which op-amp 'U1' holds already",
    ),
    "a comparator": (
        [
            *LADDER[:2],
            op_amp("U1", "a", "ground", "x"),
            resistor("R8", "1k", "x", "out"),
            resistor("R9", "1k", "out", "ground"),
        ],
        "op-amp 'U1' has no feedback: nothing leads from its output to its inputs",
    ),
    "an integrator": (
        [part for part in INVERTING if part["name"] != "R2"],
        "op-amp 'U1' has no feedback at 0 Hz: it is an integrator",
    ),
    "nothing at in": (
        [resistor("R1", "1k", "out", "ground"), resistor("R2", "1k", "out", "ground")],
        "no part is on 'in'",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
@pytest.mark.parametrize("path", ["filter", "detector.filter"])
def test_what_does_not_hang_together_is_refused_by_name(name, path):
    parts, words = REFUSED[name]
    with pytest.raises(CircuitError) as caught:
        load_circuit("gated-open", changes={path: {"kind": "network", "parts": parts}})
    assert str(caught.value).startswith(f"gated-open: {path}: ")
    assert words in str(caught.value)


@pytest.mark.parametrize("name", WORKING)
def test_what_works_is_taken(name):
    load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": WORKING[name]}})


def test_a_series_resistor_alone_is_taken_since_the_mixing_resistors_load_it():
    load_circuit("gated-open", changes={"filter": {"kind": "network", "parts": [resistor("R1", "1k", "in", "out")]}})
