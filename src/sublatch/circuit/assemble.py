"""A circuit's linear parts as networks: input, detector filter, output filter, and all that follows it."""

from __future__ import annotations

from sublatch.circuit.model import Circuit
from sublatch.circuit.network import GROUND, Capacitor, Network, OpAmp, Part, Resistor

LEAST_OHM = 1e-3
"""What a wiper at the end of its track still has, so that no conductance is infinite."""


def input_network(circuit: Circuit) -> Network:
    """Return coupling capacitor, input resistance and follower, from ``in`` to ``out``."""
    return Network(
        (
            Capacitor("C1", ("in", "a"), circuit.input.coupling),
            Resistor("R1", ("a", GROUND), circuit.input.resistance),
            OpAmp("U1", plus="a", minus="out", output="out"),
        )
    )


def detector_network(circuit: Circuit) -> Network:
    """Return input and detector filter one after the other, from ``in`` to ``out``."""
    first = input_network(circuit)
    after = circuit.detector.filter.network(tone=None, peak=None)
    second = after.placed("detector.", {"in": "out"})
    return Network(first.placed("input.", {"in": "in", "out": "out"}).parts + second.parts, output=second.output)


def filter_network(circuit: Circuit) -> Network:
    """Return the output filter alone, from ``in`` to ``out``, at the circuit's knob and switch positions."""
    return circuit.filter.network(tone=circuit.tone, peak=circuit.peak)


def output_network(circuit: Circuit) -> Network:
    """Return all that is linear after the octave stage.

    Returns
    -------
    Network
        Driven at ``octave`` (the octave stage's output) and ``direct`` (the input follower's); its output is
        the output buffer's, in volts, before the supply limits it.
    """
    after = filter_network(circuit).placed("filter.", {"in": "octave"})
    parts = (*after.parts, *_mix_parts(circuit, after.output), *_output_parts(circuit))
    return Network(parts, inputs=("octave", "direct"), output="output.out")


def _mix_parts(circuit: Circuit, filtered: str) -> tuple[Part, ...]:
    """Return the direct pot, the two mixing resistors and their follower."""
    mix = circuit.mix
    lower, upper = mix.direct_pot.resistances(circuit.knobs.direct)
    return (
        Resistor("mix.direct_upper", ("direct", "mix.wiper"), max(upper, LEAST_OHM)),
        Resistor("mix.direct_lower", ("mix.wiper", GROUND), max(lower, LEAST_OHM)),
        Resistor("mix.R1", (filtered, "mix.joint"), mix.octave_resistor),
        Resistor("mix.R2", ("mix.wiper", "mix.joint"), mix.direct_resistor),
        OpAmp("mix.U1", plus="mix.joint", minus="mix.out", output="mix.out"),
    )


def _output_parts(circuit: Circuit) -> tuple[Part, ...]:
    """Return coupling, trim, volume pot, load and the output buffer with its gain."""
    output = circuit.output
    lower, upper = output.pot.resistances(circuit.knobs.volume)
    return (
        Capacitor("output.C1", ("mix.out", "output.coupled"), output.coupling),
        Resistor(
            "output.trim_upper",
            ("output.coupled", "output.wiper"),
            max(upper, LEAST_OHM) + (output.trim_resistor or 0.0),
        ),
        Resistor("output.lower", ("output.wiper", GROUND), max(lower, LEAST_OHM)),
        Resistor("output.load", ("output.wiper", GROUND), output.load),
        OpAmp("output.U1", plus="output.wiper", minus="output.minus", output="output.out"),
        Resistor("output.feedback", ("output.out", "output.minus"), output.feedback_resistor),
        Resistor("output.ground", ("output.minus", GROUND), output.ground_resistor),
    )
