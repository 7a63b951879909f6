"""Operations in the words of the bench: what is done, where, and how it is undone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from sublatch.board.change.find import Change
from sublatch.board.change.operations import Operation
from sublatch.board.change.points import Point, lead_name, points
from sublatch.board.change.sections import is_spare
from sublatch.board.change.together import stage_of
from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Component
from sublatch.parts.knobs.travel import taper_name

RAILS = {ZERO: "0 V", BIAS: "the bias", SUPPLY: "the supply"}
TOGETHER = {
    "lift": ("Lift {} parts of the {}, one by one", "as listed below", "solder all of them in again"),
    "replace": ("Replace {} parts of the {} by other values", "as listed below", "put the values before back"),
    "move": ("Move leads of the {1}, {0} in all", "as listed below", "bring all of them back, the last one first"),
    "tie off": ("Tie off {} sections of the {} that nothing uses any more", "as listed below", "wire them as before"),
}
"""What is said of many small steps in one, by kind: what is done, where, and how it is undone."""


@dataclass(frozen=True)
class Step:
    """One operation in words.

    Attributes
    ----------
    kind
        Its kind.
    what
        What is done.
    where
        Between which points and leads.
    back
        How it is undone.
    singly
        The same part by part, where it is many small steps; else empty.
    """

    kind: str
    what: str
    where: str
    back: str
    singly: tuple[Step, ...] = ()


def steps(change: Change) -> tuple[Step, ...]:
    """Return the operations of a change in words, in the order of work."""
    words = _Words(change, {point.net: point for point in points(change)})
    return tuple(words.step(operation) for operation in change.operations)


def part_name(part: Component) -> str:
    """Return a component with its value, such as ``R19 (39k)``; of a ganged one the whole."""
    value = part.value
    if part.pot is not None and part.pot.taper != "linear":
        value = value.replace(f" {part.pot.taper}", f" {taper_name(part.pot.taper, part.pot.midpoint)}")
    name = part.package if part.on_panel and part.package else part.reference
    return f"{name} ({value})" if value else str(name)


def part_names(parts: Iterable[Component]) -> str:
    """Return components with their values, one after the other."""
    return _listed(dict.fromkeys(part_name(part) for part in parts))


class _Words:
    """A change, with its points at hand."""

    def __init__(self, change: Change, letters: dict[str, Point]) -> None:
        self.change = change
        self.letters = letters

    def step(self, operation: Operation) -> Step:
        """Return an operation in words."""
        if operation.singly:
            what, where, back = TOGETHER[operation.kind]
            what = what.format(len(operation.singly), stage_of(operation))
            return Step(operation.kind, what, where, back, tuple(map(self.step, operation.singly)))
        kinds: dict[str, Callable[[Operation], tuple[str, str, str]]] = {
            "lift": self._lift,
            "bridge": self._bridge,
            "cut": self._cut,
            "hardwire": self._hole,
            "swap": self._hole,
            "replace": self._replace,
            "move": self._move,
            "insert": self._insert,
            "use": self._use,
            "tie off": self._tie_off,
            "add": self._add,
        }
        return Step(operation.kind, *kinds[operation.kind](operation))

    def place(self, net: str, *, besides: str = "") -> str:
        """Return a net as it is found: its letter and its first lead, or its rail; no lead of the part `besides`."""
        point = self.letters.get(net)
        name = RAILS.get(net)
        if name is None:
            leads = point.leads if point and point.leads else self._leads(net)
            name = next((lead for lead in leads if lead.split()[0] != besides), leads[0] if leads else net)
        return f"{point.letter} ({name})" if point else name

    def _leads(self, net: str) -> list[str]:
        """Return the leads on a net of the board before, those of packages first."""
        pins = sorted(self.change.before.on_net(net), key=lambda one: one[0].package is None)
        return [lead_name(part, pin) for part, pin in pins if part.kind != "package"]

    def _between(self, part: Component) -> str:
        """Return where a part of two pins is."""
        return " and ".join(self.place(net, besides=part.reference) for _, net in part.pins)

    def _joins(self, operation: Operation) -> str:
        """Return which places are joined in a control's stead, in words."""
        ways = dict.fromkeys(operation.moves.values())
        return "; ".join(f"join {self.place(start)} to {self.place(to)}" for start, to in ways)

    def _lift(self, operation: Operation) -> tuple[str, str, str]:
        out = operation.out
        if any(part.kind == "package" for part in out):
            chip = next(part for part in out if part.kind == "package")
            rest = part_names(part for part in out if part.kind == "capacitor")
            what = f"Take {chip.package} ({chip.value}) out of its socket; {rest} may stay or go"
            return what, "none of its sections is used any more", f"put {chip.package} back, pin 1 as before"
        if out[0].on_panel:
            where = "; ".join(filter(None, (self._left_loose(operation), "its hole stays empty: close it with a plug")))
            back = "put it back into its hole and wire it as in the sheet of the box before"
            return f"Take out the {out[0].control} {out[0].kind} {part_name(out[0])}", where, back
        where = f"between {self._between(out[0])}" if len(out[0].pins) == 2 else self._pins(out[0])
        return f"Lift {part_names(out)}", where, f"solder {out[0].reference} in again"

    def _bridge(self, operation: Operation) -> tuple[str, str, str]:
        (part,) = operation.out
        where = f"between {self._between(part)}"
        return f"Lift {part_name(part)} and join its two places with a wire", where, f"put {part.reference} back"

    def _cut(self, operation: Operation) -> tuple[str, str, str]:
        (start, to) = next(iter(operation.moves.values()))
        parts = {part.reference: part for part in operation.taken}
        leads = _listed(lead_name(parts[reference], pin) for reference, pin in operation.moves)
        what = f"Cut {leads} off from {self.place(start)}"
        where = f"the wire or track between them, as near to {leads} as it goes; the free end is {self.place(to)}"
        return what, where, "join the two ends of the cut again"

    def _hole(self, operation: Operation) -> tuple[str, str, str]:
        gone, new = operation.taken[0], [part for part in operation.put if part.control and part not in operation.taken]
        kind, own = gone.kind, f"{gone.control} {gone.kind} {part_name(gone)}"
        ends = self._joins(Operation(operation.kind, _fixed(operation.taken), _fixed(operation.put)))
        at, loose = self._position(operation), self._left_loose(operation)
        first = f"Hardwire the {own} at {at}" if kind == "switch" and at else f"Take out the {own}"
        if not new:
            where = "; ".join(filter(None, (ends, loose, "its hole stays empty: close it with a plug")))
            return first, where, f"lift that wire, wire the {gone.control} {kind} in again"
        job = f"the {new[0].control} {kind}"
        where = "; ".join(filter(None, (ends, loose, self._lugs(new))))
        name = new[0].package or new[0].reference
        lifted = "lift the wire" if ends else "wire it as before"
        if not operation.out:
            then = f"use it for {_of(str(new[0].control), kind)}"
            return f"{first}, {then}", where, f"wire {name} as the {gone.control} {kind} again, {lifted}"
        back = f"take out {name}, put the {gone.control} {kind} back, {lifted}"
        return f"{first}, put {job} {part_name(new[0])} into its hole", where, back

    def _left_loose(self, operation: Operation) -> str:
        """Return, in words, which ends of soldered parts a control that goes leaves on nothing."""
        nets = dict.fromkeys(self.change.net_after(net) for part in operation.out for _, net in part.pins)
        alone = [pins[0] for net in nets if len(pins := list(self.change.changed.on_net(net))) == 1]
        leads = [lead_name(part, pin) for part, pin in alone if part.package is None]
        return f"the end of {_listed(leads)} that was on it hangs loose: sleeve it" if leads else ""

    def _position(self, operation: Operation) -> str:
        """Return where a control that goes stands for good."""
        return next((at for one, at in self.change.fixed.items() if one == operation.taken[0].control), "")

    def _replace(self, operation: Operation) -> tuple[str, str, str]:
        old, new = operation.out[0], operation.new[0]
        if not old.on_panel:
            where = f"between {self._between(old)}" if len(old.pins) == 2 else self._pins(old)
            return f"Replace {part_name(old)} by {_value(new)}", where, f"put the {_value(old)} back"
        what = f"Replace the {old.control} {old.kind} {part_name(old)} by {_value(new)}"
        return what, "the same hole, the same wires", f"put the {_value(old)} back"

    def _move(self, operation: Operation) -> tuple[str, str, str]:
        (start, to) = next(iter(operation.moves.values()))
        parts = {part.reference: part for part in operation.taken}
        leads = _listed(lead_name(parts[reference], pin) for reference, pin in operation.moves)
        own = next(iter(operation.moves))[0]
        what = f"Move {leads} from {self.place(start, besides=own)} to {self.place(to, besides=own)}"
        return what, "lift the lead, or cut its track, and bring it over with a wire", f"bring {leads} back"

    def _insert(self, operation: Operation) -> tuple[str, str, str]:
        (part,) = operation.new
        ((reference, pin), (start, to)) = next(iter(operation.moves.items()))
        lead = lead_name(next(one for one in operation.taken if one.reference == reference), pin)
        what = f"Put {part_name(part)} in series with {lead}"
        where = f"between {self.place(start)} and {lead}, point {self.letters[to].letter} from then on; sleeve it"
        return what, where, f"take {part.reference} out and join the wire again"

    def _use(self, operation: Operation) -> tuple[str, str, str]:
        old, new = operation.taken[0], operation.put[0]
        free = "left over so far" if is_spare(old) else "free now"
        what = f"Use {new.reference}, {free}: {new.note or new.role}"
        return what, self._pins(new), f"wire {old.reference} as before: {self._pins(old)}"

    def _tie_off(self, operation: Operation) -> tuple[str, str, str]:
        old = operation.taken[0]
        what = f"Tie off {old.reference}, which nothing uses any more"
        where = self._pins(operation.put[0]) if operation.put else "its inputs and output may hang open"
        return what, where, f"wire {old.reference} as before: {self._pins(old)}"

    def _add(self, operation: Operation) -> tuple[str, str, str]:
        new = operation.new
        if new[0].on_panel:
            what = f"Drill a hole, fit the {new[0].control} {new[0].kind} {part_name(new[0])}"
            return what, self._lugs(new), "take it out and close the hole with a plug"
        bought = [part for part in new if part.value and part.kind != "package"]
        chips = [f"{part.package} ({part.value})" for part in new if part.kind == "package"]
        what = f"Add on the small board: {_listed([*chips, *(part_name(part) for part in bought)])}"
        ties = dict.fromkeys(net for part in new for _, net in part.pins if net in self.letters)
        order = sorted(ties, key=lambda net: (len(self.letters[net].letter), self.letters[net].letter))
        return what, f"its wires to {_listed(self.letters[net].letter for net in order)}", "unsolder its wires"

    def _pins(self, part: Component) -> str:
        """Return a component's pins with their places."""
        own = {net for _, net in part.pins if len({one.reference for one, _ in self.change.before.on_net(net)}) < 2}
        ways: dict[str, list[str]] = {}
        for pin, net in part.pins:
            ways.setdefault(net, []).append(pin.replace("-", "−"))
        told = (
            f"{' and '.join(pins)} {'joined' if net in own and net not in self.letters else 'to ' + self.place(net)}"
            for net, pins in ways.items()
            if not (net in own and net not in self.letters and len(pins) == 1)
        )
        return f"{part.reference}: {', '.join(told)}"

    def _lugs(self, parts: Sequence[Component]) -> str:
        """Return where a control's lugs go: to the points that were there, the rest with what is added for it."""
        nets = dict.fromkeys(net for part in parts for _, net in part.pins if net in self.letters)
        order = sorted(self.letters[net].letter for net in nets if self.letters[net].is_there)
        return f"wire {part_name(parts[0]).partition(' (')[0]} as drawn{', to ' + _listed(order) if order else ''}"


def _fixed(parts: Iterable[Component]) -> tuple[Component, ...]:
    """Return those components that are no controls."""
    return tuple(part for part in parts if not part.on_panel)


def _value(part: Component) -> str:
    """Return what a component would be bought as."""
    return part_name(part).partition("(")[2].removesuffix(")")


def _of(control: str, kind: str) -> str:
    """Return a control's job in words."""
    return f"the {control}" if kind == "switch" else f"the {control} knob"


def _listed(words: Iterable[str]) -> str:
    """Return words one after the other, the last two joined by "and"."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last
