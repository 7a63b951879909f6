"""The operations in the making: what is on the bench, step by step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from sublatch.board.builder import split_reference
from sublatch.board.change.holes import Hole, Lead
from sublatch.board.change.match import Match, Shaft
from sublatch.board.change.operations import Kind, Operation, same_thing
from sublatch.board.netlist import Component

TWO_ENDS = ("a", "b")


class Work:
    """The board between one step and the next.

    Attributes
    ----------
    operations
        The steps so far.
    counterparts
        What each component is on the board after, by its designator.
    moves
        Leads of parts that stay and do not stay where they are, with the nets from and to which they go.
    """

    def __init__(self, found: Match) -> None:
        self.found = found
        self.operations: list[Operation] = []
        self.counterparts = {old.reference: new for old, new in found.twins}
        self.moves = _moves(found)
        self._state = {part.reference: part for part in found.before.components}
        self._numbers: Counter[str] = Counter()
        for reference in self._state:
            self._count(reference)
        self._series = {net: part for part in found.new if (net := self._inserted_at(part))}
        self._bridges = {net: part for part in found.gone if (net := self._bridged_at(part))}

    def do(
        self,
        kind: Kind,
        *,
        out: Iterable[Component] = (),
        into: Iterable[Component] = (),
        leads: Mapping[Lead, str] | None = None,
        twin: Sequence[Component] = (),
    ) -> None:
        """Take components out, put others in and move leads, as one operation."""
        leads = leads or {}
        out, into = tuple(out), tuple(into)
        moved = [self._state[reference] for reference in dict.fromkeys(reference for reference, _ in leads)]
        put = [
            replace(part, pins=tuple((pin, leads.get((part.reference, pin), net)) for pin, net in part.pins))
            for part in moved
        ]
        for part in (*out, *moved):
            del self._state[part.reference]
        for part in (*put, *into):
            self._state[part.reference] = part
            self._count(part.reference)
        for part in into:
            like = next((one for one in twin if one.role == part.role), None)
            if like is not None:
                self.counterparts[part.reference] = like
        self.moves = {lead: ends for lead, ends in self.moves.items() if lead not in leads}
        self.operations.append(Operation(kind, (*out, *moved), (*put, *into)))

    def lift(self) -> None:
        """Take out what is not needed any more, sections apart; a wire takes the place of what was in series."""
        bridges = {part.reference: net for net, part in self._bridges.items()}
        for part in self.found.gone:
            if part.package is None:
                leads = self._leads(start=bridges[part.reference]) if part.reference in bridges else {}
                self.do("bridge" if leads else "lift", out=(part,), leads=leads)

    def cut(self) -> None:
        """Cut leads off to a net that is new, unless a part goes in series there."""
        there = {net for part in self.found.before.components for _, net in part.pins}
        for net in dict.fromkeys(to for _, to in self.moves.values()):
            if net not in there and net not in self._series:
                self.do("cut", leads=self._leads(to=net))

    def controls(self, changed: Iterable[Hole]) -> None:
        """Hardwire, swap, take out and replace controls; one in a further hole comes last, with `add`."""
        changed = list(changed)
        for hole in sorted(changed, key=lambda hole: not (hole.at and hole.gone and hole.gone[0].kind == "switch")):
            if hole.gone is None:
                continue
            is_switch = hole.gone[0].kind == "switch"
            kind: Kind = "hardwire" if hole.at and (is_switch or not hole.new) else "swap" if hole.new else "lift"
            self._fit(kind, hole.gone, hole.new, leads=hole.joined)
        for old, new in self.found.shafts:
            if not _alike(old, new):
                self._fit("replace", old, new)
        self._further = [hole.new for hole in changed if hole.gone is None and hole.new is not None]

    def replace(self) -> None:
        """Replace parts by others of another value in their places."""
        for old, new in self.found.twins:
            if old.control is None and not same_thing(old, new):
                now = self._state[old.reference]
                self.do("replace", out=(now,), into=(replace(new, reference=now.reference, pins=now.pins),))

    def move(self) -> None:
        """Move leads to other places that are there, those of one start and end together."""
        for start, to in dict.fromkeys(self.moves.values()):
            if to not in self._series:
                self.do("move", leads=self._leads(start=start, to=to))

    def insert(self) -> None:
        """Put parts in series with wires."""
        for net, part in self._series.items():
            new = self._named(part)
            self.do("insert", into=(new,), leads=self._leads(to=net), twin=(part,))

    def add(self, sections: Sequence[Component]) -> None:
        """Add what is new, block by block, and controls in further holes."""
        rest = [part for part in self.found.new if part.package is None and part not in self._series.values()]
        for block in dict.fromkeys(part.block for part in (*rest, *sections) if part.block != "packages"):
            named = [self._named(part) for part in rest if part.block == block]
            own = [part for part in sections if part.block == block]
            packages = {part.package for part in own}
            housekeeping = [
                part
                for part in sections
                if part.block == "packages" and (part.package or part.role.rpartition(".")[2]) in packages
            ]
            sections = [part for part in sections if part not in housekeeping]
            self.do("add", into=self._unique((*named, *own, *housekeeping)), twin=self.found.new)
        for shaft in self._further:
            self._fit("add", (), shaft)

    def _fit(self, kind: Kind, old: Shaft, new: Shaft | None, *, leads: Mapping[Lead, str] | None = None) -> None:
        """Take a control out and put another into its hole; one that serves for both stays, wired anew."""
        out = tuple(self._state[part.reference] for part in old)
        into: tuple[Component, ...] = ()
        if new:
            stays = bool(old) and (kind == "replace" or _alike(old, new))
            into = self._shaft(new, like=old if stays else ())
        self.do(kind, out=out, into=into, leads=leads, twin=new or ())
        if kind == "replace":  # of the same function, its lugs stay wired until their leads are moved
            self._keep_pins(out)

    def _keep_pins(self, old: Sequence[Component]) -> None:
        """Leave a control that was just replaced on the nets of the one before it."""
        nets = {part.reference: part.pins for part in old}
        last = self.operations.pop()
        put = tuple(replace(part, pins=nets.get(part.reference, part.pins)) for part in last.put)
        self._state |= {part.reference: part for part in put}
        self.operations.append(replace(last, put=put))

    def _shaft(self, shaft: Shaft, *, like: Shaft) -> tuple[Component, ...]:
        """Return a control on nets as the board before names them, with the designators of another or its own."""
        if like and len(like) == len(shaft):
            names = [(part.reference, part.package) for part in like]
        else:
            letters = split_reference(shaft[0].reference)[0]
            whole = f"{letters}{self._numbers[letters] + 1}"
            several = len(shaft) > 1
            names = [(whole + letter, whole) if several else (whole, None) for letter in "ABCDEFGH"[: len(shaft)]]
        return tuple(
            replace(part, reference=name, package=package, pins=self.found.there(part))
            for part, (name, package) in zip(shaft, names, strict=True)
        )

    def _named(self, part: Component) -> Component:
        """Return a new component with the next free designator, on nets as the board before names them."""
        letters = split_reference(part.reference)[0]
        self._numbers[letters] += 1
        return replace(part, reference=f"{letters}{self._numbers[letters]}", pins=self.found.there(part))

    def _unique(self, parts: Sequence[Component]) -> tuple[Component, ...]:
        """Return components of which those that came with further packages have designators that are free."""
        made: list[Component] = []
        for part in parts:
            taken = {one.reference for one in (*self._state.values(), *made)}
            if part.reference in taken:
                letters = split_reference(part.reference)[0]
                self._numbers[letters] += 1
                part = replace(part, reference=f"{letters}{self._numbers[letters]}")
            made.append(part)
        return tuple(made)

    def _count(self, reference: str) -> None:
        """Remember the highest number of each sort of designator."""
        letters, number = split_reference(reference)
        self._numbers[letters] = max(self._numbers[letters], number)

    def _leads(self, *, start: str | None = None, to: str | None = None) -> dict[Lead, str]:
        """Return the leads that wait to go from a net, or to one."""
        return {
            lead: end
            for lead, (begin, end) in self.moves.items()
            if (start is None or begin == start) and (to is None or end == to)
        }

    def _inserted_at(self, part: Component) -> str | None:
        """Return the new net behind a part that goes in series with a wire; None for any other part."""
        nets = dict(self.found.there(part))
        if tuple(nets) != TWO_ENDS:
            return None
        for net, other in ((nets["a"], nets["b"]), (nets["b"], nets["a"])):
            starts = {start for start, to in self.moves.values() if to == net}
            if starts == {other} and self._is_alone(net, part):
                return net
        return None

    def _is_alone(self, net: str, part: Component) -> bool:
        """Return whether all but one part on a net are those whose leads go there."""
        on_net = [
            one.role for one in self.found.after.components for _, name in one.pins if self.found.nets[name] == net
        ]
        moved = sum(to == net for _, to in self.moves.values())
        there = any(net == name for one in self.found.before.components for _, name in one.pins)
        return not there and len(on_net) == moved + 1 and part.role in on_net

    def _bridged_at(self, part: Component) -> str | None:
        """Return the net that vanishes with a part that was in series with a wire; None for any other part."""
        nets = dict(part.pins)
        if tuple(nets) != TWO_ENDS:
            return None
        for net, other in ((nets["a"], nets["b"]), (nets["b"], nets["a"])):
            leads = [to for start, to in self.moves.values() if start == net]
            on_net = sum(name == net for one in self.found.before.components for _, name in one.pins)
            if leads and set(leads) == {other} and on_net == len(leads) + 1:
                return net
        return None


def _alike(old: Shaft, new: Shaft) -> bool:
    """Return whether two controls would be bought as the same."""
    return len(old) == len(new) and same_thing(old[0], new[0])


def _moves(found: Match) -> dict[Lead, tuple[str, str]]:
    """Return the leads of parts on both boards whose nets differ."""
    return {
        (old.reference, pin): (old.net(pin), net)
        for old, new in found.twins
        for pin, net in found.there(new)
        if pin in dict(old.pins) and old.net(pin) != net
    }
