"""A board turned back into a network of resistors, capacitors and op-amps, so that it can be solved."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain

from sublatch.board.netlist import STILL, SUPPLY, ZERO, Board, Component
from sublatch.circuit.model import HALF_WAY, Circuit
from sublatch.circuit.networks.elements import GROUND, Capacitor, OpAmp, Part, Resistor
from sublatch.circuit.networks.solver import LEAST_OHM, Network
from sublatch.errors import CircuitError

NO_LOAD = ("op-amp", "comparator", "switch", "package", "jack", "battery", "lamp")
"""Kinds whose inputs take no current from the signal, and those that are settled otherwise."""

HELD = ("rectifier.minus",)
"""Nets that an op-amp holds at the bias by way of diodes, whichever way the current goes."""


def board_network(board: Board, *, inputs: tuple[str, ...], output: str, positions: Circuit | None = None) -> Network:
    """Return all that decides a net's voltage, from driven nets on.

    Parameters
    ----------
    board
        The board.
    inputs
        Nets that are driven.
    output
        The net that is listened to.
    positions
        A circuit whose knobs and switches say where the board's stand; the board's own circuit when not given.

    Returns
    -------
    Network
        Every part that loads or feeds a net on the way, with supply, bias and 0 V as ground.

    Raises
    ------
    CircuitError
        When something on the way is not linear.

    Notes
    -----
    An op-amp's output is a net whose voltage its load does not change, so what hangs on it is left out unless it leads
    back. An end of a pot's travel is `LEAST_OHM` where the pot divides and a wire where it is a variable resistor, as
    in the circuit's own networks.
    """
    circuit = positions or board.circuit
    joined = _joined(board, circuit)
    ends = tuple(joined.get(name, name) for name in inputs)
    listened = joined.get(output, output)
    driven = {part.net("out"): part for part in board.components if part.kind == "op-amp"}
    loads = _loads(board, joined)
    parts: dict[str, list[Part]] = {}
    waiting, seen = [listened], set(ends) | {GROUND}
    while waiting:
        net = waiting.pop()
        if net in seen:
            continue
        seen.add(net)
        deciding = [driven[net]] if net in driven else loads[net]
        for component in deciding:
            parts[component.reference] = list(_linear(component, circuit, joined))
            waiting += [node for part in parts[component.reference] for node in part.nodes]
    return Network(_without_loose_ends([*chain(*parts.values())], {*ends, listened}), ends, listened)


def _joined(board: Board, circuit: Circuit) -> dict[str, str]:
    """Return another name for each net that has one: ground, and what a switch or a turned-down pot joins."""
    joined = dict.fromkeys(STILL, GROUND)
    for part in board.components:
        ends = None
        if part.kind == "switch" and part.control == "peak":
            ends = part.net("1" if circuit.peak == "flat" else "2"), part.net("common")
        elif _is_rheostat(part) and pot_ohm(part, circuit)[1] == 0.0:
            ends = part.net("wiper"), part.net("cw")
        if ends is not None:
            old, new = (joined.get(end, end) for end in ends)
            joined = {net: new if name == old else name for net, name in joined.items()} | {old: new}
    return joined


def _loads(board: Board, joined: dict[str, str]) -> defaultdict[str, list[Component]]:
    """Return the components that load or feed each net."""
    loads: defaultdict[str, list[Component]] = defaultdict(list)
    for part in board.components:
        if part.kind not in NO_LOAD and not _is_clamp(part):
            for net in {joined.get(name, name) for _, name in part.pins}:
                loads[net].append(part)
    return loads


def _is_clamp(part: Component) -> bool:
    """Return whether a component is a diode to an end of the supply, which only overvoltage makes conduct."""
    return part.kind == "diode" and not {SUPPLY, ZERO}.isdisjoint(net for _, net in part.pins)


def _is_rheostat(part: Component) -> bool:
    """Return whether a component is a pot with its wiper tied to its anticlockwise end."""
    return part.kind == "pot" and part.net("ccw") == part.net("wiper")


def pot_ohm(part: Component, circuit: Circuit) -> tuple[float, float]:
    """Return the resistance below and above a pot's wiper."""
    assert part.pot is not None
    position = {
        "tone": circuit.tone,
        "direct": circuit.knobs.direct,
        "direct tone": circuit.direct_tone,
        "volume": circuit.volume,
        "trim": HALF_WAY,
    }[str(part.control)]
    assert position is not None
    below, above = part.pot.resistances(position)
    share, (at_ccw, at_cw) = below / part.pot.value, part.left_ohm
    more = (1.0 - share) * at_ccw - share * at_cw  # the track's resistance holds from end to end
    return below + more, above - more


def _linear(part: Component, circuit: Circuit, joined: dict[str, str]) -> Iterator[Part]:
    """Yield what a component is in a network."""
    nets = [joined.get(net, net) for _, net in part.pins]
    if part.kind == "resistor" and part.amount is not None:
        yield Resistor(part.reference, (nets[0], nets[1]), part.amount)
    elif part.kind in ("capacitor", "electrolytic") and part.amount is not None:
        yield Capacitor(part.reference, (nets[0], nets[1]), part.amount)
    elif part.kind == "op-amp":
        yield OpAmp(part.reference, plus=nets[0], minus=nets[1], output=nets[2])
    elif part.kind == "pot":
        for name, ohm, pair in zip("lu", pot_ohm(part, circuit), (nets[:2], nets[1:]), strict=True):
            if pair[0] != pair[1]:
                yield Resistor(part.reference + name, (pair[0], pair[1]), max(ohm, LEAST_OHM))
    else:
        raise CircuitError(f"only linear parts make a network, and {part.reference} ({part.kind}) is not linear")


def _without_loose_ends(parts: list[Part], kept: set[str]) -> tuple[Part, ...]:
    """Return the parts without those that hang on a net alone, such as a capacitor that a switch leaves open."""
    while True:
        uses = Counter(node for part in parts for node in part.nodes)
        held = [part for part in parts if not any(uses[n] == 1 and n not in kept and n != GROUND for n in part.nodes)]
        if len(held) == len(parts):
            return tuple(parts)
        parts = held


def linear_parts(board: Board) -> Board:
    """Return what is linear of a board."""
    return replace(board, components=tuple(part for part in board.components if part.kind not in ("diode", "block")))
