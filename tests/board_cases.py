"""Circuits that between them put every kind of component on a board."""

from __future__ import annotations

from typing import Any

import mpmath
import pytest

from sublatch.circuit.detectors.leveller import Leveller
from sublatch.circuit.filters.kinds import KINDS
from sublatch.circuit.load import circuit_names, load_circuit
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.solver import Network

FIXED_PARTS: list[dict[str, Any]] = [
    {"part": "resistor", "name": "Ra", "value": "10k", "between": ["in", "m"]},
    {"part": "capacitor", "name": "Ca", "value": "10n", "between": ["m", "ground"]},
    {"part": "resistor", "name": "Rb", "value": "12k", "between": ["m", "out"]},
    {"part": "capacitor", "name": "Cb", "value": "4n7", "between": ["out", "ground"]},
]
MOVED_PARTS: list[dict[str, Any]] = [
    {
        "part": "rheostat",
        "name": "Pa",
        "pot": {"value": "50k", "taper": "reverse-log"},
        "end_resistor": "1k",
        "between": ["in", "m"],
    },
    {
        "part": "switched-capacitor",
        "name": "Ca",
        "value": {"flat": "10n", "peaked": "22n"},
        "between": ["m", "out"],
    },
    {"part": "resistor", "name": "Ra", "value": "33k", "between": ["m", "p"]},
    {"part": "capacitor", "name": "Cb", "value": "3n3", "between": ["p", "ground"]},
    {"part": "op-amp", "name": "Ua", "plus": "p", "minus": "out", "output": "out"},
]
OWN_MOVED = {"kind": "network", "parts": MOVED_PARTS}
OWN_FIXED = {"kind": "network", "parts": FIXED_PARTS}
BUILT_IN = {load_circuit(name).filter.kind for name in circuit_names()}
FURTHER = [kind for kind in KINDS if kind.needs_a_control() and kind().kind not in BUILT_IN]
"""Kinds of filter with a knob or switch that no built-in circuit has."""

CHANGES: dict[str, tuple[str, dict[str, Any]]] = {
    **{name: (name, {}) for name in circuit_names()},
    "gated-swept-overtone": ("gated-swept", {"detector.kind": "overtone"}),
    "gated-swept-peak-latch": ("gated-swept", {"detector.kind": "peak-latch"}),
    "gated-open-peak-latch": ("gated-open", {"detector.kind": "peak-latch"}),
    "logarithmic-latch": ("gated-open", {"detector.kind": "logarithmic-latch"}),
    "one-diode-either-way": (
        "gated-open",
        {"detector.kind": "logarithmic-latch", "detector.amplifier.diodes": 1, "detector.filter": OWN_FIXED},
    ),
    "gated-open-overtone": ("gated-open", {"detector.kind": "overtone"}),
    "diodes-turned-round": ("gated-open", {"detector.kind": "overtone", "detector.band.rectifier": "negative"}),
    "gated-swept-zero-crossing": ("gated-swept", {"detector.kind": "zero-crossing"}),
    "polarity-third-order-zero-crossing": ("polarity-third-order", {"detector.kind": "zero-crossing"}),
    "swept-with-a-start": ("gated-swept", {"filter.start_resistor": "220k"}),
    **{kind().kind: ("gated-open", {"filter.kind": kind().kind}) for kind in FURTHER},
    **{
        f"{kind().kind}-with-a-start": ("gated-open", {"filter.kind": kind().kind, "filter.start_resistor": "220k"})
        for kind in FURTHER
        if "start_resistor" in kind.model_fields
    },
    "hardwired": (
        "gated-swept",
        {"switches.drive": "inverted", "hardwired": ["drive"], "mix.direct_pot": "none"},
    ),
    "two-octaves": ("polarity-swept", {"divider.stages": 2, "detector.floor": 0.0, "output.bias": 0.4}),
    "pair": ("gated-swept", {"octave.linear_range": "0.5V"}),
    "pair-lifted": ("gated-first-order", {"octave.linear_range": "52mV", "divider.stages": 2}),
    "no-hysteresis": ("gated-open", {"detector.kind": "zero-crossing", "detector.hysteresis": 0.0}),
    "second-order": ("gated-first-order", {"filter.kind": "second-order", "detector.filter.kind": "second-order"}),
    "own-networks": (
        "gated-swept",
        {
            "filter": OWN_MOVED,
            "detector.kind": "overtone",
            "detector.filter": OWN_FIXED,
            "detector.band.filter": OWN_FIXED,
        },
    ),
    "own-passive-filter": ("polarity-third-order", {"filter": OWN_FIXED, "detector.filter.kind": "first-order"}),
    "band-first-order": ("gated-open", {"detector.kind": "overtone", "detector.band.filter.kind": "first-order"}),
    "band-third-order": ("gated-open", {"detector.kind": "overtone", "detector.band.filter.kind": "third-order"}),
    "bare": (
        "gated-open",
        {"detector.kind": "overtone", "detector.band.filter.kind": "none", "detector.filter.kind": "none"},
    ),
    "virtual-earth": (
        "gated-swept",
        {"mix.kind": "virtual-earth", "mix.direct_filter": {"kind": "swept-first-order", "start_resistor": "220k"}},
    ),
    "virtual-earth-without-a-pot": (
        "gated-first-order",
        {"mix.kind": "virtual-earth", "mix.direct_pot": "none", "output.kind": "inverting"},
    ),
    "no-mixing-stage": ("gated-open", {"mix.kind": "none"}),
    "direct-through-an-own-network": ("gated-first-order", {"mix.direct_filter": OWN_FIXED}),
    "levelled": ("gated-open", {"detector.filter.kind": "none"}),
}
"""A built-in circuit and what is changed in it, by name; the one named levelled gets a leveller too."""

QUICK = (*circuit_names(), "pair", "levelled", "hardwired", "own-networks", "virtual-earth", "bare")
"""Cases that are tried each time; the others take long together."""
every_case = pytest.mark.parametrize(
    "case", [pytest.param(case, marks=() if case in QUICK else pytest.mark.long) for case in CHANGES]
)


def circuit_of(case: str, **more: Any) -> Circuit:
    """Return the circuit of a case, with further settings, their dots written as double underscores."""
    name, changes = CHANGES[case]
    further = {path.replace("__", "."): value for path, value in more.items()}
    circuit = load_circuit(name, changes=changes | further)
    if case == "levelled":
        detector = circuit.detector.model_copy(update={"leveller": Leveller()})
        return circuit.model_copy(update={"detector": detector})
    return circuit


GUARD = (Resistor("guard", ("in", "guarded"), 1e3), Capacitor("radio", ("guarded", "ground"), 100e-12))
"""What the drawing puts ahead of the model's coupling capacitor, a pull-down across the source apart."""


def guarded(network: Network) -> Network:
    """Return a network of the circuit behind the parts that guard its input."""
    if "in" not in network.inputs:
        return network
    others = tuple(name for name in network.inputs if name != "in")
    behind = network.placed("behind.", {name: name for name in others} | {"in": "guarded"})
    return Network(GUARD + behind.parts, network.inputs, behind.output)


def exact_response(network: Network, frequency_hz: float, *, source: str) -> Any:
    """Return a network's response in forty digits, since a wiper at its end has a thousandth of an ohm."""
    with mpmath.workdps(40):
        names = sorted({node for part in network.parts for node in part.nodes} | {*network.inputs} - {GROUND})
        row = {name: index for index, name in enumerate(name for name in names if name != GROUND)}
        size = len(row) + len(network.inputs) + sum(isinstance(part, OpAmp) for part in network.parts)
        matrix, known = mpmath.zeros(size, size), mpmath.zeros(size, 1)
        extra = len(row)
        for part in network.parts:
            if isinstance(part, OpAmp):
                matrix[row[part.output], extra] = 1
                for node, sign in ((part.plus, 1), (part.minus, -1)):
                    if node != GROUND:
                        matrix[extra, row[node]] += sign
                extra += 1
                continue
            s = 2j * mpmath.pi * mpmath.mpf(frequency_hz)
            admittance = 1 / mpmath.mpf(part.ohm) if isinstance(part, Resistor) else s * mpmath.mpf(part.farad)
            ends = [row.get(node) for node in part.nodes]
            for a, b, sign in ((0, 0, 1), (1, 1, 1), (0, 1, -1), (1, 0, -1)):
                if ends[a] is not None and ends[b] is not None:
                    matrix[ends[a], ends[b]] += sign * admittance
        for name in network.inputs:
            matrix[row[name], extra] = matrix[extra, row[name]] = 1
            known[extra] = int(name == source)
            extra += 1
        return mpmath.lu_solve(matrix, known)[row[network.output]]
