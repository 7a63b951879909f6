"""A circuit after the octave stage as a list of parts whose values stay open: what the page builds its network from.

The network that Python solves is made from the very same parts (`circuit.signal_path.output_network`), with the
controls where they stand. Here each value is named by its setting, and each pot and switch by its control.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from sublatch.circuit.components.controls import PEAKS, Pot
from sublatch.circuit.components.quantities import UNITY
from sublatch.circuit.devices.errors import op_amp_bias_a, op_amp_offset_v
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.none import NoFilter
from sublatch.circuit.filters.parts import Amplifier, CapacitorPair, FilterPart, FixedCapacitor, FixedResistor, Rheostat
from sublatch.circuit.mixing.base import DIRECT, MIXED, OCTAVE
from sublatch.circuit.model import Circuit
from sublatch.circuit.networks.elements import GROUND
from sublatch.circuit.output_buffers.base import BUFFERED, WIPER

Node = Callable[[str], str]


@dataclass(eq=False)
class _List:
    """Parts so far, the values of their settings, and their pots."""

    parts: list[dict[str, Any]] = field(default_factory=list)
    values: dict[str, float] = field(default_factory=dict)
    pots: dict[str, dict[str, Any]] = field(default_factory=dict)

    def value(self, setting: str, value: float | None) -> str | None:
        """Note a value under its setting, which is returned; None for a part that is left out."""
        if value is None:
            return None
        self.values[setting] = value
        return setting

    def pot(self, setting: str, pot: Pot) -> str:
        """Note a pot under its setting, which is returned."""
        self.pots[setting] = pot.model_dump()
        return setting

    def add(self, sort: str, name: str, nodes: Iterable[str], **more: Any) -> None:
        """Note a part."""
        self.parts.append({"sort": sort, "name": name, "nodes": list(nodes), **more})


def live_circuit(circuit: Circuit) -> dict[str, Any]:
    """Return what is linear after a circuit's octave stage, for the page: plain values for JSON.

    Parameters
    ----------
    circuit
        The circuit.

    Returns
    -------
    dict
        ``parts``, each with its ``sort``, ``name``, ``nodes`` and the settings or controls its value comes from;
        ``values`` of those settings in ohms and farads; ``pots``; ``controls`` where they stand, None for one that is
        not there or for a volume that is a number only with a take; the ``output`` node, that of the output filter and
        of the direct signal's own; the output's ``limits`` in volts from the bias; ``off``, the offset and the bias
        current of each op-amp by its name; and ``bandwidth_hz``, the filter's op-amps'.

    Notes
    -----
    Sorts are ``resistor``, ``capacitor`` (with ``value``, or ``flat`` and ``peaked``), ``op-amp`` (plus, minus,
    output), ``rheostat`` (from the gang's side, joint, end resistor's side) and ``divider`` (a pot's clockwise end,
    wiper, anticlockwise end).
    """
    made = _List()
    filtered = _add_filter(made, circuit.filter, "filter.", source=OCTAVE, tone="tone")
    direct = _add_filter(
        made, circuit.mix.direct_low_pass or NoFilter(), "mix.direct_filter.", source=DIRECT, tone="direct_tone"
    )
    mixed = _add_mixing(made, circuit, filtered, direct)
    _add_output(made, circuit, mixed)
    ideal = circuit.devices.values == "ideal"
    return {
        "parts": made.parts,
        "values": made.values,
        "pots": made.pots,
        "output": f"output.{BUFFERED}",
        "filtered": filtered,
        "direct_filtered": direct,
        "limits": list(circuit.limits),
        "off": {
            part["name"]: {
                "offset_v": op_amp_offset_v(circuit.devices, part["name"]),
                "bias_a": op_amp_bias_a(circuit.devices, part["name"]),
            }
            for part in made.parts
            if part["sort"] == "op-amp"
        },
        "controls": _controls(circuit),
        "bandwidth_hz": None if ideal else circuit.devices.op_amp_class.gain_bandwidth_hz,
    }


def live_filter(chosen: FilterKind) -> dict[str, Any]:
    """Return an output filter alone as `live_circuit` has it: ``parts``, ``values``, ``pots``, ``filtered``.

    Parameters
    ----------
    chosen
        The filter.
    """
    made = _List()
    filtered = _add_filter(made, chosen, "filter.", source=OCTAVE, tone="tone")
    return {"parts": made.parts, "values": made.values, "pots": made.pots, "filtered": filtered}


def _controls(circuit: Circuit) -> dict[str, Any]:
    """Return where the controls after the octave stage stand."""
    return {
        "tone": circuit.tone,
        "peak": circuit.peak,
        "direct": circuit.knobs.direct if circuit.has_direct else None,
        "direct_tone": circuit.direct_tone,
        "volume": None if circuit.knobs.volume == UNITY else circuit.knobs.volume,
    }


def _placed(prefix: str, nodes: dict[str, str]) -> Node:
    """Return what gives a node its name in the whole network, as `Network.placed` does."""
    return lambda name: nodes.get(name, name if name == GROUND else prefix + name)


def _add_filter(made: _List, chosen: FilterKind, prefix: str, *, source: str, tone: str) -> str:
    """Add a filter's parts and return the node of its output, that of its source where it is a wire."""
    node = _placed(prefix, {"in": source})
    for part in chosen.wired.parts:
        _add_part(made, part, prefix, node, tone)
    return source if chosen.is_wire else node("out")


def _add_mixing(made: _List, circuit: Circuit, filtered: str, direct: str) -> str:
    """Add the mixing stage's parts and return the node of its output."""
    mix = circuit.mix
    node = _placed("mix.", {OCTAVE: filtered, DIRECT: direct})
    pot = mix.direct_pot_there
    if pot is not None:
        nodes = (node(DIRECT), node(pot.wiper), GROUND)
        made.add("divider", "mix.direct", nodes, pot=made.pot("mix.direct_pot", pot.pot), control="direct", trim=None)
    for part in mix.wiring().parts:
        _add_part(made, part, "mix.", node, None)
    return filtered if mix.is_wire else node(MIXED)


def _add_output(made: _List, circuit: Circuit, mixed: str) -> None:
    """Add coupling, trim, volume pot and output buffer."""
    output, node = circuit.output, _placed("output.", {"in": mixed})
    coupling = made.value("output.coupling", output.coupling)
    made.add("capacitor", "output.coupling", (node("in"), node("coupled")), value=coupling)
    trim = made.value("output.trim_resistor", output.trim_resistor)
    nodes = (node("coupled"), node(WIPER), GROUND)
    made.add("divider", "output.volume", nodes, pot=made.pot("output.pot", output.pot), control="volume", trim=trim)
    for part in output.wiring().parts:
        _add_part(made, part, "output.", node, None)


def _add_part(made: _List, part: FilterPart, prefix: str, node: Node, tone: str | None) -> None:
    """Add one part of a filter, mixing stage or output buffer."""
    if isinstance(part, Amplifier):
        made.add("op-amp", prefix + part.role, map(node, (part.plus, part.minus, part.output)))
        return
    nodes = [node(name) for name in part.between]
    if isinstance(part, Rheostat):
        pot, end, start = (prefix + name for name in part.settings)
        made.add(
            "rheostat",
            prefix + part.end,
            (nodes[0], node(part.joint), nodes[1]),
            pot=made.pot(pot, part.pot),
            end=made.value(end, part.end_ohm),
            start=made.value(start, part.start_ohm),
            control=tone,
        )
    elif isinstance(part, CapacitorPair):
        setting = prefix + part.role
        both = {peak: made.value(f"{setting}.{peak}", part.value.at(peak)) for peak in PEAKS}
        made.add("capacitor", setting, nodes, **both)
    elif isinstance(part, FixedCapacitor):
        setting = prefix + (part.setting or part.role)
        made.add("capacitor", prefix + part.role, nodes, value=made.value(setting, part.farad))
    else:
        assert isinstance(part, FixedResistor)
        setting = prefix + (part.setting or part.role)
        made.add("resistor", prefix + part.role, nodes, value=made.value(setting, part.ohm))
