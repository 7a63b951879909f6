"""The voltages that a detector's front makes of a take, one bend after another."""

from __future__ import annotations

from collections.abc import Mapping

from sublatch.arrays import Signal
from sublatch.circuit.detectors.bends import Swing
from sublatch.circuit.idle import op_amp_limits_v
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.solver import Network, transfer
from sublatch.circuit.signal_path import front_network, input_network
from sublatch.signal.cache import StageCache
from sublatch.signal.filtering import fixed as filters
from sublatch.signal.front.bends import bent, bent_from_rest
from sublatch.signal.front.idle import front_idle
from sublatch.takes.take import Take


def front(take: Take, circuit: Circuit, cache: StageCache) -> tuple[Signal, Signal]:
    """Return the input follower's output and what the front gives, in volts (n,) from where they rest."""
    ahead = circuit.detector.front

    def compute() -> tuple[Signal, Signal]:
        first = front_network(circuit, output=ahead.nets[0])
        paths = [[transfer(network)] for network in (input_network(circuit), first)]
        follower, volts = filters.apply([take.samples], paths, sample_rate=take.sample_rate)
        sources, networks = {"in": take.samples}, _networks(circuit)
        for bend, idle_v in zip(ahead.bends, front_idle(circuit).bent_v, strict=True):
            if bend.output == ahead.output:  # compared as it is: what would fold is no error in a value
                volts = bent_from_rest(volts, law=bend.law, limits=limits, idle_v=idle_v)
                continue
            sources[bend.output] = bent(volts, law=bend.law, limits=limits, idle_v=idle_v)
            volts = _driven_volts(networks.pop(0), sources, take.sample_rate)
            sources = {name: sources[name] for name in sources if any(name in later.inputs for later in networks)}
        return follower, volts

    limits = op_amp_limits_v(circuit)
    return cache.get(("front", circuit.input, ahead, circuit.devices, limits_reached_v(circuit)), compute)


def limits_reached_v(circuit: Circuit) -> tuple[float, float] | None:
    """Return the limits that the detector's op-amps reach, in volts from the bias; None where none does."""
    swings = any(isinstance(bend.law, Swing) for bend in circuit.detector.front.bends)
    return op_amp_limits_v(circuit) if swings else None


def _networks(circuit: Circuit) -> list[Network]:
    """Return what decides the voltages after each of a front's bends but one that the comparators watch."""
    ahead, known, networks = circuit.detector.front, ["in"], []
    for bend, output in zip(ahead.bends, ahead.nets[1:], strict=True):
        known.append(bend.output)
        if bend.output != ahead.output:
            networks.append(front_network(circuit, output=output, sources=known))
    return networks


def _driven_volts(network: Network, sources: Mapping[str, Signal], sample_rate: int) -> Signal:
    """Return the voltage (n,) that sources make at the end of a network."""
    path = [transfer(network, source=name) for name in network.inputs]
    return filters.apply([sources[name] for name in network.inputs], [path], sample_rate=sample_rate)[0]
