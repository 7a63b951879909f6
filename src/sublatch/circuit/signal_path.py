"""A circuit's linear parts as networks: input, detector, output filter, and all that follows it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from functools import lru_cache

from sublatch.circuit.detectors.front import NOTE
from sublatch.circuit.filters.none import NoFilter
from sublatch.circuit.mixing.base import DIRECT, MIXED, OCTAVE
from sublatch.circuit.model import Circuit, Pickup
from sublatch.circuit.networks.bandwidth import with_bandwidth
from sublatch.circuit.networks.elements import GROUND, Capacitor, Inductor, OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import LEAST_OHM, Network
from sublatch.circuit.networks.upstream import upstream
from sublatch.circuit.output_buffers.base import BUFFERED, WIPER


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
    return upstream(_front_parts(circuit), inputs=tuple(sources), output=output)


@lru_cache(maxsize=64)
def _front_parts(circuit: Circuit) -> tuple[Part, ...]:
    """Return all linear parts ahead of the comparators, called as on the board."""
    first = input_network(circuit).placed("input.", {"in": "in", "out": NOTE})
    return (*first.parts, *(replace(part, name=f"detector.{part.name}") for part in circuit.detector.front.parts))


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
    mixing = _mixing(circuit, after.output)
    volume = volume_network(circuit).placed("output.", {"in": mixing.output})
    return Network((*after.parts, *mixing.parts, *volume.parts), inputs=("octave", "direct"), output=volume.output)


def direct_network(circuit: Circuit) -> Network:
    """Return the direct signal's own filter, from ``in`` to ``out``; a wire where it has none."""
    return (circuit.mix.direct_low_pass or NoFilter()).network(tone=circuit.direct_tone, peak=None)


def mixed_node(circuit: Circuit) -> str:
    """Return the node of `output_network` that the volume pot's coupling is fed from."""
    return _mixing(circuit, filter_network(circuit).placed("filter.", {"in": "octave"}).output).output


def volume_network(circuit: Circuit) -> Network:
    """Return coupling, trim, volume pot and the output buffer with its load, from ``in`` to ``out``."""
    output = circuit.output
    lower, upper = output.pot.resistances(circuit.volume)
    upper = max(upper, LEAST_OHM) + (output.trim_resistor or 0.0)
    return Network(
        (
            Capacitor("coupling", ("in", "coupled"), output.coupling),
            Resistor("trim_upper", ("coupled", WIPER), upper),
            Resistor("lower", (WIPER, GROUND), max(lower, LEAST_OHM)),
            *output.elements(),
        ),
        output=BUFFERED,
    )


def _mixing(circuit: Circuit, filtered: str) -> Network:
    """Return the direct signal's own filter and the mixing stage, whose output is the filtered octave without one."""
    mix = circuit.mix
    direct = direct_network(circuit).placed("mix.direct_filter.", {"in": "direct"})
    stage = Network(tuple(mix.elements(circuit.knobs.direct)), output=OCTAVE if mix.is_wire else MIXED)
    stage = stage.placed("mix.", {OCTAVE: filtered, DIRECT: direct.output})
    return Network(direct.parts + stage.parts, output=stage.output)
