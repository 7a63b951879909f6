"""Where a change ties in: points named by letters, and the netlist that a small board has to hold."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from string import ascii_uppercase

from sublatch.board.builder import LUGS, THROWS
from sublatch.board.change.find import Change
from sublatch.board.netlist import STILL, Component
from sublatch.board.sheet.amounts import EASY_PINS

LETTERS = tuple(letter for letter in ascii_uppercase if letter not in "IO")
"""Names of points; I and O look like figures."""
LUG = {pin: f"lug {number}" for pin, number in LUGS}
LEADS = 2
"""How many of a point's leads are named."""


@dataclass(frozen=True)
class Point:
    """A place on the board, as it is named on the change sheet.

    Attributes
    ----------
    letter
        Its name.
    net
        Its net, as the board before names it, or a new one's.
    is_there
        Whether the board before has it.
    leads
        Where it is found: leads that stay there. Of a new one, what it joins.
    """

    letter: str
    net: str
    is_there: bool
    leads: tuple[str, ...]


@dataclass(frozen=True)
class Addition:
    """What a change adds on a small board of its own.

    Attributes
    ----------
    components
        The components that are soldered on it: no controls, and no parts that go into a wire.
    edge
        The wires at its edge: their letters, and the nets that they are on.
    """

    components: tuple[Component, ...]
    edge: tuple[tuple[str, str], ...]


def points(change: Change) -> tuple[Point, ...]:
    """Return every place where a change ties in, those that the board before has first.

    Notes
    -----
    A point is an end of a lead that moves, a net of a part that comes in series, or one on which what is added meets
    what is there or a control. Those that are there come in the order of the board, the rails after them.
    """
    there = _nets(change.before.components)
    touched = _touched(change)
    steps = (part for operation in change.operations for part in operation.put)
    rank = {net: number for number, net in enumerate({**there, **_nets(steps)})}
    order = sorted(touched, key=lambda net: (net not in there, net in STILL, rank[net]))
    return tuple(
        Point(letter, net, net in there, _leads(change, net)) for letter, net in zip(_letters(), order, strict=False)
    )


def addition(change: Change) -> Addition:
    """Return the netlist that a small board holds, and the wires at its edge.

    This is what a layout is to be made of: its components' nets, and the nets of `Addition.edge` at its rim.
    """
    parts = tuple(part for one in change.operations if one.kind == "add" for part in one.new if not part.on_panel)
    own = {(part.reference, pin) for part in parts for pin, _ in part.pins}
    letters = {point.net: point.letter for point in points(change)}
    edge = [net for net in _nets(parts) if not _on_net(change, net) <= own]
    return Addition(parts, tuple(sorted((letters[net], net) for net in edge)))


def lead_name(part: Component, pin: str) -> str:
    """Return what somebody at the bench calls a lead, such as ``U8A out``, ``RV2 lug 3`` or ``R21``."""
    if part.kind == "pot":
        return f"{part.reference} {LUG[pin]}"
    if part.kind == "electrolytic":
        return f"{part.reference} {'+' if pin == 'a' else '−'}"
    if part.kind == "switch" and pin in ("1", "2"):
        return f"{part.reference} {THROWS[str(part.control)][int(pin) - 1]}"
    return part.reference if pin in ("a", "b") else f"{part.reference} {pin}".replace("-", "−")


def _touched(change: Change) -> set[str]:
    """Return the nets on which something ties in."""
    nets: set[str] = set()
    for operation in change.operations:
        nets |= {net for start, to in operation.moves.values() for net in (start, to)}
        if operation.kind == "insert":
            nets |= _nets(operation.new).keys()
    new = [part for one in change.operations for part in one.new if one.kind in ("add", "hardwire", "swap", "use")]
    soldered = {(part.reference, pin) for part in new if not part.on_panel for pin, _ in part.pins}
    controls = {(part.reference, pin) for part in new if part.on_panel for pin, _ in part.pins}
    for net in _nets(new):
        on_net = _on_net(change, net)
        if on_net - soldered - controls or (on_net & soldered and on_net & controls):
            nets.add(net)
    return nets


def _nets(components: Iterable[Component]) -> dict[str, None]:
    """Return the nets of components, in order."""
    return dict.fromkeys(net for part in components for _, net in part.pins)


def _on_net(change: Change, net: str) -> set[tuple[str, str]]:
    """Return the leads on a net once all is done."""
    return {(part.reference, pin) for part, pin in change.changed.on_net(change.net_after(net))}


def _leads(change: Change, net: str) -> tuple[str, ...]:
    """Return names of leads on a net: those that are there before and stay, or else all that it joins at last."""
    stays = {part.reference for part in change.changed.components if part.kind != "package"}
    before = [(part, pin) for part, pin in change.before.on_net(net) if part.reference in stays]
    pins = before or [(part, pin) for part, pin in change.changed.on_net(change.net_after(net))]
    if net in STILL:
        easy = [(part, pin) for part, pin in pins if pin in EASY_PINS and part.kind != "switch"]
        pins = easy or [(part, pin) for part, pin in pins if part.kind == "electrolytic"]
    ranked = sorted(pins, key=lambda one: (one[1] not in EASY_PINS, one[0].on_panel, len(one[0].pins)))
    return tuple(dict.fromkeys(lead_name(part, pin) for part, pin in ranked))[:LEADS]


def _letters() -> Iterable[str]:
    """Give letters, then pairs of them."""
    yield from LETTERS
    yield from (first + second for first in LETTERS for second in LETTERS)
