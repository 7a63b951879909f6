"""Filters and the mixing stage as components, whatever their kind: by the lists of their parts."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS, Control
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.filters.parts import (
    Amplifier,
    CapacitorPair,
    FilterPart,
    FixedCapacitor,
    FixedResistor,
    Rheostat,
)
from sublatch.circuit.mixing.base import DIRECT, MIXED, OCTAVE
from sublatch.circuit.mixing.two_inputs import LOOSE, WIPER
from sublatch.circuit.networks.elements import GROUND

Net = Callable[[str], str]
DIRECT_FILTERED, LOOSE_END = "direct filtered", "loose end"
"""Nets of what the direct signal's own filter gives, and of the direct resistor's end where no pot feeds it."""


def add_filter(
    builder: Builder, chosen: FilterKind, *, path: str, source: str, output: str, knob: Control = "tone"
) -> str:
    """Put a filter on the board and return the net of its output: the source itself without a filter."""
    if chosen.is_wire:
        return source
    wired, net = chosen.wired, _nets(path, {"in": source, "out": output})
    for gang in wired.rheostats:
        if gang.start_ohm is not None:
            setting = f"{path}.{gang.settings[2]}"
            builder.resistor(
                f"{path}.{gang.start}", gang.start_ohm, net(gang.between[0]), net(gang.joint), path=setting
            )
    for part in wired.parts:
        _put(builder, part, path, net)
    _put_gangs(builder, wired.rheostats, path, net, knob)
    _put_poles(builder, wired.pairs, path, net)
    return output


def ends_in_op_amp(chosen: FilterKind) -> bool:
    """Return whether what follows cannot load a filter that is fed from an op-amp."""
    return chosen.is_wire or any(isinstance(part, Amplifier) and part.output == "out" for part in chosen.wired.parts)


def add_mix(builder: Builder, filtered: str) -> str:
    """Put the direct signal's own filter, its pot and the mixing stage, and return the net of what they give.

    That is the filtered octave's own net where there is no mixing stage.
    """
    mix, low_pass, direct = builder.circuit.mix, builder.circuit.mix.direct_low_pass, "note"
    if low_pass is not None:
        builder.block, path = "direct", "mix.direct_filter"
        direct = add_filter(builder, low_pass, path=path, source="note", output=DIRECT_FILTERED, knob="direct tone")
    builder.block = "mix"
    nets = {OCTAVE: filtered, DIRECT: direct, MIXED: "mixed", WIPER: "direct wiper", LOOSE: LOOSE_END}
    net, pot = _nets("mix", nets), mix.direct_pot_there
    if pot is not None:
        role = "mix.direct_pot"
        builder.pot(role, pot.pot, (BIAS, net(pot.wiper), net(DIRECT)), control="direct", path=role)
    put_parts(builder, mix.wiring().parts, "mix", net)
    if any(part.net("a") == nets[LOOSE] for part in builder.components if part.kind == "resistor"):
        builder.notes.append(
            "Without a direct pot one end of the direct resistor hangs loose: it carries nothing, and may be left out."
        )
    return filtered if mix.is_wire else "mixed"


def put_parts(builder: Builder, parts: Sequence[FilterPart], path: str, net: Net) -> None:
    """Put parts that no knob moves, resistors and capacitors first."""
    for part in sorted(parts, key=lambda part: isinstance(part, Amplifier)):
        _put(builder, part, path, net)


def _nets(path: str, known: Mapping[str, str]) -> Net:
    """Return what names the net of a node: its own where it is known, else below the path."""
    return lambda node: {**known, GROUND: BIAS}.get(node, f"{path}.{node}")


def _put(builder: Builder, part: FilterPart, path: str, net: Net) -> None:
    """Put one part, or what of it is neither ganged with others nor across a gang."""
    note = f"{part.name} of the circuit file" if part.name else ""
    if isinstance(part, Amplifier):
        nets = (net(node) for node in (part.plus, part.minus, part.output))
        builder.op_amp(f"{path}.{part.role}", *nets, note=note or part.note)
        return
    a, b = (net(node) for node in part.between)
    if isinstance(part, Rheostat):
        setting = f"{path}.{part.settings[1]}"
        builder.resistor(f"{path}.{part.end}", part.end_ohm, net(part.joint), b, path=setting, note=note)
    elif isinstance(part, CapacitorPair):
        for throw, farad in (("flat", part.value.flat), ("peaked", part.value.peaked)):
            end = f"{path}.{part.role}.{throw}"
            builder.capacitor(end, farad, end, b, path=end, note=note)
    else:
        role, setting = f"{path}.{part.role}", f"{path}.{part.setting or part.role}"
        if isinstance(part, FixedResistor):
            builder.resistor(role, part.ohm, a, b, path=setting, note=note)
        else:
            assert isinstance(part, FixedCapacitor)
            builder.capacitor(role, part.farad, a, b, path=setting, note=note)


def _put_gangs(builder: Builder, gangs: Sequence[Rheostat], path: str, net: Net, knob: Control) -> None:
    """Put the gangs that a knob turns, those of one track on one shaft."""
    for pot in dict.fromkeys(gang.pot for gang in gangs):
        same = [gang for gang in gangs if gang.pot == pot]
        ends = tuple((net(gang.joint), net(gang.joint), net(gang.between[0])) for gang in same)
        roles = tuple(f"{path}.{gang.gang}" for gang in same)
        builder.gangs(roles, pot, ends, control=knob, path=f"{path}.{same[0].settings[0]}")
    if len({gang.pot for gang in gangs}) > 1:
        builder.notes.append(f"The gangs of {path} have different tracks, and the {knob} knob must turn all of them.")


def _put_poles(builder: Builder, pairs: Sequence[CapacitorPair], path: str, net: Net) -> None:
    """Put the poles of the peak switch."""
    if pairs:
        nets = tuple((net(pair.between[0]), f"{path}.{pair.role}.flat", f"{path}.{pair.role}.peaked") for pair in pairs)
        builder.poles(tuple(f"{path}.{pair.pole}" for pair in pairs), nets, control="peak", path="switches.peak")
