"""The low-pass filters as components."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS
from sublatch.circuit.filters.kinds import (
    Filter,
    FirstOrder,
    NoFilter,
    OwnNetwork,
    SecondOrder,
    SweptSecondOrder,
    ThirdOrder,
)
from sublatch.circuit.filters.listed import listed_parts
from sublatch.circuit.filters.own_network import (
    OwnCapacitor,
    OwnOpAmp,
    OwnPart,
    OwnResistor,
    OwnRheostat,
    OwnSwitchedCapacitor,
)
from sublatch.circuit.networks.elements import GROUND

Net = Callable[[str], str]
Listed = Sequence[tuple[str, OwnPart]]
"""Parts with the role that each has on the board."""

FOLLOWER = "follower of the filter"


def add_filter(builder: Builder, chosen: Filter, *, path: str, source: str, output: str) -> str:
    """Put a filter on the board and return the net of its output: the source itself without a filter."""
    if isinstance(chosen, NoFilter):
        return source
    if isinstance(chosen, FirstOrder):
        builder.resistor(f"{path}.resistor", chosen.resistor, source, f"{path}.a")
        builder.capacitor(f"{path}.capacitor", chosen.capacitor, f"{path}.a", BIAS)
        builder.op_amp(f"{path}.follower", f"{path}.a", output, output, note=FOLLOWER)
    elif isinstance(chosen, SecondOrder):
        _second_order(builder, chosen, path, source, output)
    elif isinstance(chosen, ThirdOrder):
        _third_order(builder, chosen, path, source, output)
    elif isinstance(chosen, SweptSecondOrder):
        _swept(builder, chosen, path, source, output)
    else:
        _listed(builder, chosen, path, source, output)
    return output


def ends_in_op_amp(chosen: Filter) -> bool:
    """Return whether what follows cannot load a filter that is fed from an op-amp."""
    if isinstance(chosen, NoFilter):
        return True
    return any(isinstance(part, OwnOpAmp) and part.output == "out" for part in listed_parts(chosen))


def _second_order(builder: Builder, chosen: SecondOrder, path: str, source: str, output: str) -> None:
    """Put a Sallen-Key low-pass."""
    builder.resistor(f"{path}.first_resistor", chosen.first_resistor, source, f"{path}.a")
    builder.resistor(f"{path}.second_resistor", chosen.second_resistor, f"{path}.a", f"{path}.b")
    builder.capacitor(f"{path}.ground_capacitor", chosen.ground_capacitor, f"{path}.b", BIAS)
    builder.capacitor(f"{path}.feedback_capacitor", chosen.feedback_capacitor, f"{path}.a", output)
    builder.op_amp(f"{path}.follower", f"{path}.b", output, output, note=FOLLOWER)


def _third_order(builder: Builder, chosen: ThirdOrder, path: str, source: str, output: str) -> None:
    """Put a third-order low-pass around one op-amp."""
    a, b, c = (f"{path}.{node}" for node in "abc")
    builder.resistor(f"{path}.first_resistor", chosen.first_resistor, source, a)
    builder.capacitor(f"{path}.first_ground_capacitor", chosen.first_ground_capacitor, a, BIAS)
    builder.resistor(f"{path}.second_resistor", chosen.second_resistor, a, b)
    builder.capacitor(f"{path}.feedback_capacitor", chosen.feedback_capacitor, b, output)
    builder.resistor(f"{path}.third_resistor", chosen.third_resistor, b, c)
    builder.capacitor(f"{path}.second_ground_capacitor", chosen.second_ground_capacitor, c, BIAS)
    builder.op_amp(f"{path}.follower", c, output, output, note=FOLLOWER)


def _swept(builder: Builder, chosen: SweptSecondOrder, path: str, source: str, output: str) -> None:
    """Put a Sallen-Key low-pass with a dual-gang pot and a two-pole switch."""
    a, b, first, second = (f"{path}.{node}" for node in ("a", "b", "first", "second"))
    builder.gangs(
        (f"{path}.first_gang", f"{path}.second_gang"),
        chosen.pot,
        ((first, first, source), (second, second, a)),
        control="tone",
        path=f"{path}.pot",
    )
    if chosen.start_resistor is not None:
        for start, gang, joint in (("first_start", first, source), ("second_start", second, a)):
            builder.resistor(f"{path}.{start}", chosen.start_resistor, joint, gang, path=f"{path}.start_resistor")
    builder.resistor(f"{path}.first_end", chosen.end_resistor, first, a, path=f"{path}.end_resistor")
    builder.resistor(f"{path}.second_end", chosen.end_resistor, second, b, path=f"{path}.end_resistor")
    for name, other in (("ground_capacitor", BIAS), ("feedback_capacitor", output)):
        pair = chosen.ground_capacitor if name == "ground_capacitor" else chosen.feedback_capacitor
        for throw, farad in (("flat", pair.flat), ("peaked", pair.peaked)):
            builder.capacitor(f"{path}.{name}.{throw}", farad, f"{path}.{name}.{throw}", other)
    builder.poles(
        (f"{path}.ground_pole", f"{path}.feedback_pole"),
        tuple(
            (common, f"{path}.{name}.flat", f"{path}.{name}.peaked")
            for name, common in (("ground_capacitor", b), ("feedback_capacitor", a))
        ),
        control="peak",
        path="switches.peak",
    )
    builder.op_amp(f"{path}.follower", b, output, output, note=FOLLOWER)


def _listed(builder: Builder, chosen: Filter, path: str, source: str, output: str) -> None:
    """Put the parts that the user lists, or of a kind without a drawing those that its network has."""
    is_own = isinstance(chosen, OwnNetwork)
    listed = listed_parts(chosen)
    parts = [(f"{path}.parts.{n}" if is_own else f"{path}.{part.name}", part) for n, part in enumerate(listed)]

    def net(node: str) -> str:
        return {"in": source, "out": output, GROUND: BIAS}.get(node, f"{path}.{node}")

    for role, part in parts:
        _listed_part(builder, part, role, net, setting=None if is_own else path)
    _listed_gangs(builder, parts, path, net, setting=None if is_own else path)
    _listed_poles(builder, parts, net)


def _listed_part(builder: Builder, part: OwnPart, role: str, net: Net, *, setting: str | None) -> None:
    """Put one listed part, or what of it is not ganged with others; it comes from its own setting or from the given."""
    note = f"{part.name} of the circuit file" if setting is None else f"{part.name} of the filter"
    if isinstance(part, OwnOpAmp):
        builder.op_amp(role, net(part.plus), net(part.minus), net(part.output), note=note)
        return
    a, b = (net(node) for node in part.between)
    if isinstance(part, OwnResistor):
        builder.resistor(role, part.value, a, b, path=setting or f"{role}.value", note=note)
    elif isinstance(part, OwnCapacitor):
        builder.capacitor(role, part.value, a, b, path=setting or f"{role}.value", note=note)
    elif isinstance(part, OwnRheostat):
        builder.resistor(
            f"{role}.end", part.end_resistor, f"{role}.end", b, path=setting or f"{role}.end_resistor", note=note
        )
    else:
        for throw, farad in (("flat", part.value.flat), ("peaked", part.value.peaked)):
            end = f"{role}.value.{throw}"
            builder.capacitor(end, farad, end, b, path=setting or end, note=note)


def _listed_gangs(builder: Builder, parts: Listed, path: str, net: Net, *, setting: str | None) -> None:
    """Put the tone pot's gangs, those of one track on one shaft."""
    gangs = [(role, part) for role, part in parts if isinstance(part, OwnRheostat)]
    for pot in dict.fromkeys(part.pot for _, part in gangs):
        same = [(role, part) for role, part in gangs if part.pot == pot]
        ends = tuple((f"{role}.end", f"{role}.end", net(part.between[0])) for role, part in same)
        roles = tuple(f"{role}.pot" for role, _ in same)
        builder.gangs(roles, pot, ends, control="tone", path=setting or roles[0])
    if len({part.pot for _, part in gangs}) > 1:
        builder.notes.append(f"The gangs of {path} have different tracks, and the tone knob must turn all of them.")


def _listed_poles(builder: Builder, parts: Listed, net: Net) -> None:
    """Put the poles of the peak switch."""
    poles = [(role, part) for role, part in parts if isinstance(part, OwnSwitchedCapacitor)]
    if poles:
        nets = tuple((net(part.between[0]), f"{role}.value.flat", f"{role}.value.peaked") for role, part in poles)
        builder.poles(tuple(f"{role}.pole" for role, _ in poles), nets, control="peak", path="switches.peak")
