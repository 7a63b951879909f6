"""A circuit's linear parts as networks: input, detector filter, output filter, and all that follows it."""

from __future__ import annotations

from sublatch.circuit.detectors.base import BAND, BLENDED, NOTE, RECTIFIED
from sublatch.circuit.filters.none import NoFilter
from sublatch.circuit.mixing.base import DIRECT, MIXED, OCTAVE
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.solver import LEAST_OHM, Network
from sublatch.circuit.output_buffers.base import BUFFERED, WIPER


def input_network(circuit: Circuit) -> Network:
    """Return coupling capacitor, input resistance and follower, from ``in`` to ``out``."""
    return Network(
        (
            Capacitor("C1", ("in", "a"), circuit.input.coupling),
            Resistor("R1", ("a", GROUND), circuit.input.resistance),
            OpAmp("follower", plus="a", minus="out", output="out"),
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
