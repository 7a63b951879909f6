"""The signal path from take to output, stage by stage.

    take ─ detect ─ divide ─ generate ─ finish ─ limit ─ output
      └──────────────────────┘ └── direct ──┘

What the volume knob does at unity depends on all ahead of it, so it is found between generate and finish.

Each stage is a pure function of the take and of the settings that it and the stages before it depend on, so
candidates that differ only further down share everything above.
"""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.arrays import Signal
from sublatch.circuit.idle import heard_limits_v, note_idle_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.real_thresholds import real_thresholds
from sublatch.sampling.blocks import in_blocks
from sublatch.sampling.rates import doubled, halved
from sublatch.signal import detector
from sublatch.signal.cache import StageCache
from sublatch.signal.divider import drive_edges
from sublatch.signal.filtering.limits import limited
from sublatch.signal.front_volts import front, limits_reached_v
from sublatch.signal.hiss import hiss
from sublatch.signal.node_voltages import OutputSources, node_voltages
from sublatch.signal.octave_stage import switched
from sublatch.signal.unity import with_volume_found
from sublatch.takes.take import Take


@dataclass(frozen=True, eq=False)
class Rendered:
    """A take as a circuit gives it.

    Attributes
    ----------
    samples
        Output in volts (n,), at the take's rate and aligned with it.
    sample_rate
        Samples per second.
    drive_edges_s
        Times in seconds at which the drive changed.
    at_limit_share
        Share of time that the output buffer spent at its supply limits, 0 to 1.
    """

    samples: Signal
    sample_rate: int
    drive_edges_s: Signal
    at_limit_share: float


def render(take: Take, circuit: Circuit, *, cache: StageCache | None = None) -> Rendered:
    """Return a take as a circuit gives it.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit, with its knobs and switches where they shall be; a volume at unity is found by loudness, see
        `with_volume_found`.
    cache
        Results shared between renderings of this one take; none by default.

    Returns
    -------
    Rendered
        The output in volts, its drive edges, and how long it was at its limits.
    """
    cache = cache or StageCache()
    source = output_sources(take, circuit, cache=cache)
    circuit = with_volume_found(source, circuit)
    (output,) = node_voltages(source, circuit)
    if circuit.devices.hiss:
        output = output + hiss(circuit, count=len(output), sample_rate=take.sample_rate)
    limited_output, at_limit_share = limited(output, limits=heard_limits_v(circuit))
    return Rendered(limited_output, take.sample_rate, detected_drive(take, circuit, cache=cache), at_limit_share)


def output_sources(take: Take, circuit: Circuit, *, cache: StageCache | None = None) -> OutputSources:
    """Return a take as far as the octave stage.

    Parameters
    ----------
    take
        The take, in volts.
    circuit
        The circuit; only its input, detector, divider, octave stage and drive switch matter.
    cache
        Results shared between renderings of this one take; none by default.
    """
    cache = cache or StageCache()
    drive = detected_drive(take, circuit, cache=cache)
    return OutputSources(take, octave_sound(take, circuit, drive, cache), front(take, circuit, cache)[0])


def detected_edges(take: Take, circuit: Circuit, *, cache: StageCache | None = None) -> Signal:
    """Return the times in seconds (m,) at which the comparator changes state, in turn set and reset."""
    cache = cache or StageCache()

    def compute() -> Signal:
        volts = comparator_volts(take, circuit, cache)
        return detector.edges(volts, sample_rate=take.sample_rate, circuit=circuit)

    return cache.get(detector_key(circuit), compute)


def detected_drive(take: Take, circuit: Circuit, *, cache: StageCache | None = None) -> Signal:
    """Return the times in seconds (m,) at which the drive changes."""
    return drive_edges(detected_edges(take, circuit, cache=cache), stages=circuit.divider.stages)


def comparator_volts(take: Take, circuit: Circuit, cache: StageCache) -> Signal:
    """Return what the comparator sees, in volts (n,)."""
    filtered = front(take, circuit, cache)[1]
    return detector.comparator_input(filtered, sample_rate=take.sample_rate, circuit=circuit)


def detector_key(circuit: Circuit) -> tuple[object, ...]:
    """Return the settings that the edges depend on; real thresholds depend on the supply and on the bias too."""
    ahead = ("edges", circuit.input, circuit.detector, limits_reached_v(circuit), circuit.switches.drive)
    return (*ahead, circuit.devices, real_thresholds(circuit))


def octave_sound(take: Take, circuit: Circuit, drive: Signal, cache: StageCache) -> Signal:
    """Return the octave stage's output at the take's rate."""

    def stretch_of(note: Signal, first: int) -> Signal:
        return halved(
            switched.generate(
                doubled(note),
                drive - first / take.sample_rate,
                sample_rate=2 * take.sample_rate,
                octave=circuit.octave,
                idle_v=note_idle_v(circuit),
            )
        )

    def compute() -> Signal:
        return in_blocks(front(take, circuit, cache)[0], stretch_of)

    return cache.get(octave_key(circuit), compute)


def octave_key(circuit: Circuit) -> tuple[object, ...]:
    """Return the settings that the octave stage's output, and the direct signal beside it, depend on."""
    return ("octave", *detector_key(circuit), circuit.divider, circuit.octave)
