"""A circuit's linear parts as networks: input, detector filter, output filter, and all that follows it."""

from __future__ import annotations

from sublatch.circuit.detectors.base import BAND, BLENDED, NOTE, RECTIFIED
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
        Driven at ``in``, and in a circuit whose detector has a rectified path at ``rectified`` (the rectifier's output)
        too; its output is the detector filter's.
    """
    first = input_network(circuit).placed("input.", {"in": "in", "out": NOTE})
    filter_ = circuit.detector.filter.network(tone=None, peak=None)
    path = circuit.detector.rectified_path
    if path is None:
        second = filter_.placed("detector.", {"in": NOTE})
        return Network(first.parts + second.parts, output=second.output)
    second = filter_.placed("detector.", {"in": BLENDED})
    return Network((*first.parts, *path.blend, *second.parts), inputs=("in", RECTIFIED), output=second.output)


def band_network(circuit: Circuit) -> Network:
    """Return the input and the band of a detector's rectified path, from ``in`` to what is rectified.

    Raises
    ------
    TypeError
        When the circuit's detector has none.
    """
    path = circuit.detector.rectified_path
    if path is None:
        raise TypeError(
            f"only a detector with a rectified path has a band, got detector.kind = {circuit.detector.kind!r}"
        )
    first = input_network(circuit).placed("input.", {"in": "in", "out": NOTE})
    low_pass = path.filter.network(tone=None, peak=None).placed(f"{path.filter_setting}.", {"in": BAND})
    return Network(first.parts + path.band + low_pass.parts, output=low_pass.output)


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
    """Return the direct pot, where there is one, the two mixing resistors and their follower."""
    mix = circuit.mix
    lower, upper = mix.direct_pot.resistances(circuit.knobs.direct)
    wiper, pot = "mix.wiper", [Resistor("mix.direct_upper", ("direct", "mix.wiper"), max(upper, LEAST_OHM))]
    pot.append(Resistor("mix.direct_lower", ("mix.wiper", GROUND), max(lower, LEAST_OHM)))
    if "direct" in (circuit.hardwired or ()):
        wiper, pot = GROUND, []
    return (
        *pot,
        Resistor("mix.R1", (filtered, "mix.joint"), mix.octave_resistor),
        Resistor("mix.R2", (wiper, "mix.joint"), mix.direct_resistor),
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
