"""A circuit's linear parts as networks: input, detector, output filter, and all that follows it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from sublatch.circuit.detectors.front import NOTE
from sublatch.circuit.model import Circuit, Pickup
from sublatch.circuit.networks.bandwidth import with_bandwidth
from sublatch.circuit.networks.elements import GROUND, Capacitor, Inductor, OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import LEAST_OHM, Network
from sublatch.circuit.networks.upstream import upstream


def input_network(circuit: Circuit) -> Network:
    """Return pickup, coupling capacitor, input resistance and follower, from ``in`` to ``out``."""
    pickup = circuit.input.pickup
    jack = "in" if pickup is None else "jack"
    return Network(
        (
            *_pickup_parts(pickup),
            Capacitor("coupling", (jack, "a"), circuit.input.coupling),
            Resistor("resistance", ("a", GROUND), circuit.input.resistance),
            OpAmp("follower", plus="a", minus="out", output="out"),
        )
    )


def _pickup_parts(pickup: Pickup | None) -> tuple[Part, ...]:
    """Return a pickup from ``in`` to ``jack``: its coil, whose voltage drives it, and the capacitance of its cable."""
    if pickup is None:
        return ()
    return (
        Resistor("pickup.resistance", ("in", "pickup.coil"), pickup.resistance),
        Inductor("pickup.inductance", ("pickup.coil", "jack"), pickup.inductance),
        Capacitor("pickup.cable", ("jack", GROUND), pickup.cable),
    )


def front_network(circuit: Circuit, *, output: str, sources: Collection[str] = ("in",)) -> Network:
    """Return what decides the voltage of a net ahead of the comparators.

    Parameters
    ----------
    circuit
        The circuit; only its input and detector matter.
    output
        A net of the detector's front (`DetectorKind.front`).
    sources
        ``in`` and the nets behind bends whose voltages are known already.

    Returns
    -------
    Network
        Driven at those of the sources that reach the net. Parts are called as on the board.
    """
    first = input_network(circuit).placed("input.", {"in": "in", "out": NOTE})
    parts = (replace(part, name=f"detector.{part.name}") for part in circuit.detector.front.parts)
    return upstream((*first.parts, *parts), inputs=tuple(sources), output=output)


def filter_network(circuit: Circuit, *, ideal: bool = False) -> Network:
    """Return the output filter alone, from ``in`` to ``out``, at the circuit's knob and switch positions.

    Parameters
    ----------
    circuit
        The circuit.
    ideal
        Leave out what the bandwidth of its op-amps does, which counts where it changes the filter by more than 1 %.
    """
    network = circuit.filter.network(tone=circuit.tone, peak=circuit.peak)
    if ideal or circuit.devices.values == "ideal":
        return network
    return with_bandwidth(network, circuit.devices.op_amp_class.gain_bandwidth_hz)


def output_network(circuit: Circuit, *, ideal: bool = False) -> Network:
    """Return all that is linear after the octave stage.

    Parameters
    ----------
    circuit
        The circuit.
    ideal
        As for `filter_network`.

    Returns
    -------
    Network
        Driven at ``octave`` (the octave stage's output) and ``direct`` (the input follower's); its output is
        the output buffer's, in volts, before the supply limits it.
    """
    after = filter_network(circuit, ideal=ideal).placed("filter.", {"in": "octave"})
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
        OpAmp("mix.follower", plus="mix.joint", minus="mix.out", output="mix.out"),
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
        OpAmp("output.buffer", plus="output.wiper", minus="output.minus", output="output.out"),
        Resistor("output.feedback", ("output.out", "output.minus"), output.feedback_resistor),
        Resistor("output.ground", ("output.minus", GROUND), output.ground_resistor),
    )
