"""A circuit's linear parts as networks: input, detector filter, output filter, and all that follows it."""

from __future__ import annotations

from sublatch.circuit.detectors.kinds import Blend, Overtone
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import LEAST_OHM, Network


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
    """Return input and detector filter one after the other.

    Returns
    -------
    Network
        Driven at ``in``, and in a circuit with an overtone detector at ``rectified`` (the rectifier's output) too; its
        output is the detector filter's.
    """
    first = input_network(circuit).placed("input.", {"in": "in", "out": "note"})
    filter_ = circuit.detector.filter.network(tone=None, peak=None)
    if not isinstance(circuit.detector, Overtone):
        second = filter_.placed("detector.", {"in": "note"})
        return Network(first.parts + second.parts, output=second.output)
    second = filter_.placed("detector.", {"in": "blended"})
    parts = (*first.parts, *_blend_parts(circuit.detector.blend), *second.parts)
    return Network(parts, inputs=("in", "rectified"), output=second.output)


def band_network(circuit: Circuit) -> Network:
    """Return the input and an overtone detector's band, from ``in`` to what is rectified.

    Raises
    ------
    TypeError
        When the circuit's detector has no band.
    """
    if not isinstance(circuit.detector, Overtone):
        raise TypeError(f"only an overtone detector has a band, got detector.kind = {circuit.detector.kind!r}")
    band = circuit.detector.band
    first = input_network(circuit).placed("input.", {"in": "in", "out": "note"})
    high_pass = (
        Capacitor("band.C1", ("note", "band.a"), band.capacitor),
        Resistor("band.R1", ("band.a", GROUND), band.resistor),
        OpAmp("band.U1", plus="band.a", minus="high", output="high"),
    )
    low_pass = band.filter.network(tone=None, peak=None).placed("band.filter.", {"in": "high"})
    return Network(first.parts + high_pass + low_pass.parts, output=low_pass.output)


def _blend_parts(blend: Blend) -> tuple[Part, ...]:
    """Return the rectifier's coupling capacitor, the two resistors that add, and the amplifier after them."""
    return (
        Capacitor("blend.C1", ("rectified", "blend.coupled"), blend.coupling),
        Resistor("blend.R1", ("blend.coupled", "blend.joint"), blend.rectified_resistor),
        Resistor("blend.R2", ("note", "blend.joint"), blend.plain_resistor),
        OpAmp("blend.U1", plus="blend.joint", minus="blend.minus", output="blended"),
        Resistor("blend.R3", ("blended", "blend.minus"), blend.feedback_resistor),
        Resistor("blend.R4", ("blend.minus", GROUND), blend.ground_resistor),
    )


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
    lower, upper = output.pot.resistances(circuit.volume)
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
