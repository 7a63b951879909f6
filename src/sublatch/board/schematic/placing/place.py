"""Places for all parts of a network, from its input at the left to its output at the right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from sublatch.board.schematic.placing.arcs import Load, join
from sublatch.board.schematic.placing.chains import Chain, branch, main_chain, role_of
from sublatch.board.schematic.placing.names import ring
from sublatch.board.schematic.placing.piece import Piece
from sublatch.board.schematic.placing.row import Joint, Row, block
from sublatch.board.schematic.placing.symbols import Texts, TwoPins, UnplaceableError, across, length_of
from sublatch.board.schematic.placing.tidy import tidy
from sublatch.circuit.filters.parts import Amplifier, FilterPart, Point, Wiring
from sublatch.circuit.networks.elements import GROUND

WIDEST, HIGHEST, ROW_END = 23.5, 30.0, 18.0
"""Room for a network's drawing in units, with the names of the nets at its ends; and where a row ends at the latest."""
NAMES = (-2.4, 4.5)
"""Room for the names of the nets, to the left of the input and to the right of the output."""
BETWEEN = 0.7
"""Air between rows, and between pieces side by side."""


def placed(wired: Wiring, texts: Texts, *, highest: float = HIGHEST) -> Wiring | None:
    """Return a network's parts with places, wires and names.

    Parameters
    ----------
    wired
        The parts, from node ``in`` to node ``out``.
    texts
        The lines that stand beside a component, by its role; of an op-amp those outside of it.
    highest
        Room upwards and downwards, in units.

    Returns
    -------
    Wiring or None
        The same parts in the same order, drawn from an input at the origin; None where no places are found, or not
        within `WIDEST` and `highest`.
    """
    try:
        return _placed(wired, texts, highest)
    except UnplaceableError:
        return None


def _placed(wired: Wiring, texts: Texts, highest: float) -> Wiring:
    """Return the parts with places, or raise."""
    if any(len(set(part.between)) < 2 for part in wired.parts if not isinstance(part, Amplifier)):
        raise UnplaceableError("a part across itself")
    chain = main_chain(wired.parts, lambda part: 0.0 if isinstance(part, Amplifier) else length_of(part, texts))
    if chain is None:
        raise UnplaceableError("no way")
    work = _Work(wired.parts, texts, {role_of(part): part for part in wired.parts})
    work.lay(chain)
    work.arcs()
    work.branches()
    work.rest()
    whole = work.stacked()
    left, bottom, right, top = whole.bounds
    if right - left > WIDEST or top - bottom > highest:
        raise UnplaceableError("no room")
    drawn = {role_of(part): part for part in whole.parts}
    if len(drawn) != len(wired.parts) or len(whole.parts) != len(drawn):
        raise UnplaceableError("parts left over")
    parts = tuple(drawn[role_of(part)] for part in wired.parts)
    return replace(wired, parts=parts, wires=tidy(whole.wires), labels=tuple(whole.labels), end=work.end)


def _across(part: TwoPins, left: str, texts: Texts, length: float) -> Piece:
    """Return a part across, of a length."""
    return across(part, left, texts, length=length)


def _is_full(row: Row, *, last: bool) -> bool:
    """Return whether a row is too long, with the room for the name at its end."""
    return row.piece.bounds[2] > ROW_END or (last and row.at[0] > WIDEST + NAMES[0] - NAMES[1])


def _span(row: Row, part: TwoPins) -> tuple[float, tuple[str, str]]:
    """Return how far apart a part's nodes are in a row, and these from left to right."""
    first, second = part.between
    if row.joints[first][0].left > row.joints[second][0].left:
        first, second = second, first
    return row.joints[second][0].left - row.joints[first][-1].right, (first, second)


@dataclass
class _Work:
    """Rows in the making, and the parts that have no places yet."""

    parts: Sequence[FilterPart]
    texts: Texts
    pool: dict[str, FilterPart]

    def __post_init__(self) -> None:
        """Begin without rows."""
        self.last = 0
        self.rows: list[Row] = []
        self.end: Point = (0.0, 0.0)

    def lay(self, chain: Chain) -> None:
        """Draw the way of the signal, in as many rows as it takes, and name its nodes."""
        row = Row(self.pool, self.texts, joints={node: [] for node in chain.nodes})
        row.piece.boxes.append((NAMES[0], -0.2, -0.3, 0.2))
        row.stand(chain.nodes[0], chain.parts[0], by=chain.parts[0])
        ways = (*chain.parts, None)
        place, breaks = 0, [(0, row.copy(), False)]
        while place < len(chain.parts):
            part, node, following = chain.parts[place], chain.nodes[place + 1], ways[place + 1]
            row.link(part, node)
            row.stand(node, following, by=part)
            place += 1
            if _is_full(row, last=following is None) and len(breaks) > 1:
                place, row, _ = max(breaks[1:], key=lambda one: (one[2], one[0]))
                row = self._broken(row)
                breaks = [(place, row.copy(), False)]
            else:
                breaks.append((place, row.copy(), isinstance(part, Amplifier)))
        x, y = row.at
        row.piece.boxes.append((x + 0.3, y - 0.2, x + NAMES[1], y + 0.2))
        self._finish(row)
        self.last = len(self.rows) - 1

    def _broken(self, row: Row) -> Row:
        """End a row in the name of its node, and begin another with it."""
        node, (x, y) = row.node, row.at
        end = (round(x + 0.8, 4), y)
        row.piece.labels = [label for label in row.piece.labels if label.text != node]
        row.piece.wire(node, (x, y), end)
        row.piece.add(ring(self.parts, node, end, "right"))
        self._finish(row)
        following = Row(row.pool, self.texts, joints={name: [] for name in row.joints})
        following.piece.add(ring(self.parts, node, (0.0, 0.0), "left"))
        following.piece.wire(node, (0.0, 0.0), (0.6, 0.0))
        following.node, following.at = node, (0.6, 0.0)
        following.mark(node, 0.6, 0.6, 0.0)
        return following

    def _finish(self, row: Row) -> None:
        """Keep a row."""
        self.rows.append(row)
        row.joints = {node: joints for node, joints in row.joints.items() if joints}
        self.pool = row.pool

    def _row_of(self, *nodes: str) -> Row | None:
        """Return the first row that has all of some nodes."""
        return next((row for row in self.rows if all(node in row.joints for node in nodes)), None)

    def arcs(self) -> None:
        """Draw what leads from a node to another of its row, the shortest first."""
        near: list[tuple[float, TwoPins, Row, tuple[str, str]]] = []
        for part in self.pool.values():
            if isinstance(part, Amplifier) or GROUND in part.between:
                continue
            row = self._row_of(*part.between)
            if row is not None:
                span, ends = _span(row, part)
                near.append((span, part, row, ends))
        for _, part, row, ends in sorted(near, key=lambda one: one[0]):
            length = length_of(part, self.texts)
            drawn = partial(_across, part, ends[0], self.texts)
            if join(row, ends, Load(drawn(length), length, stretched=drawn)) is not None:
                del self.pool[role_of(part)]
        for row in self.rows:
            for node, place in row.loose:
                self._tie(row, node, place)
            row.loose.clear()

    def _tie(self, row: Row, node: str, place: Point) -> None:
        """Lead the loose end of a wire to its node, or end it in the node's name."""
        mine, others = [Joint(place[0], place[0], place[1], up=False)], row.joints.get(node, [])
        for ends in ((mine, others), (others, mine)):
            if others and join(row, (node, node), Load(Piece()), ends=ends) is not None:
                return
        piece = ring(self.parts, node, place, "below")
        if row.piece.fits(piece) is None:
            raise UnplaceableError(node)
        row.piece.add(piece)

    def branches(self) -> None:
        """Draw the ways through all nodes that are not on the signal's own, and what leads from one to another."""
        while self.pool:
            known = list(dict.fromkeys(node for row in self.rows for node in row.joints))
            chain = branch(list(self.pool.values()), known, self.parts)
            if chain is None:
                return
            if not self._over(chain):
                self._below(chain)
            self.arcs()

    def _over(self, chain: Chain) -> bool:
        """Draw a branch over or below its row, if it has one and there is room."""
        ends = chain.nodes[0], chain.nodes[-1]
        row = self._row_of(*ends)
        if row is None or len(set(ends)) < 2:
            return False
        if row.joints[ends[0]][0].left > row.joints[ends[1]][0].left:
            if not chain.is_passive:
                return False
            chain = chain.backwards
        made = self._block(chain, row)
        length, rise = made.at
        inner = {node: joints for node, joints in made.joints.items() if node not in chain.nodes[:: len(chain.parts)]}
        place = join(row, (chain.nodes[0], chain.nodes[-1]), Load(made.piece, length, rise))
        if place is None:
            return False
        self.pool = made.pool
        x, y = place
        for node, joints in inner.items():
            for joint in joints:
                row.mark(node, joint.left + x, joint.right + x, joint.y + y, up=joint.up, down=joint.down)
        row.loose += [(node, (a + x, b + y)) for node, (a, b) in made.loose]
        return True

    def _block(self, chain: Chain, row: Row | None) -> Row:
        """Return a branch as a row of its own."""
        known = [node for one in self.rows for node in one.joints] if row is None else row.joints
        made = block(chain, Row(dict(self.pool), self.texts, joints={node: [] for node in known}))
        made.joints = {node: joints for node, joints in made.joints.items() if joints}
        return made

    def _below(self, chain: Chain) -> None:
        """Draw a branch in a row of its own, between the names of its nodes."""
        made = self._block(chain, None)
        self.pool = made.pool
        self._named(made, chain.nodes[0], chain.nodes[-1] if self._row_of(chain.nodes[-1]) else None)

    def _named(self, row: Row, first: str, last: str | None) -> None:
        """Name the ends of a row, and keep the row."""
        x, y = row.at
        row.piece.wire(first, (-0.4, 0.0), (0.0, 0.0))
        row.piece.add(ring(self.parts, first, (-0.4, 0.0), "left"))
        if last is not None:
            row.piece.wire(last, (x, y), (x + 0.4, y))
            row.piece.add(ring(self.parts, last, (round(x + 0.4, 4), y), "right"))
        self.rows.append(row)

    def rest(self) -> None:
        """Draw each part that is left over alone, between the names of its nodes."""
        for part in tuple(self.pool.values()):
            if isinstance(part, Amplifier) or GROUND in part.between:
                raise UnplaceableError(role_of(part))
            first, last = part.between
            row = Row(self.pool, self.texts)
            length = length_of(part, self.texts)
            row.place(across(part, first, self.texts, length=length), part)
            row.at = (length, 0.0)
            self._named(row, first, last)

    def stacked(self) -> Piece:
        """Return all rows, one below the other, those of branches side by side where there is room."""
        whole, last = Piece(), self.last
        floor, shelf = 0.0, (0.0, 0.0)
        for place, row in enumerate(self.rows):
            left, _, right, top = row.piece.bounds
            x, y = 0.0, (0.0 if place == 0 else floor - BETWEEN - top)
            if place > last:
                x = NAMES[0] - left
                if place > last + 1 and shelf[0] + 1.0 + right - left < ROW_END:
                    x, y = shelf[0] + 1.0 - left, shelf[1] - top
            x, y = round(x, 4), round(y, 4)
            shelf = (right + x, top + y)
            piece = row.piece.moved(x, y)
            whole.add(piece)
            floor = min(floor, piece.bounds[1])
            if place == last:
                self.end = (round(row.at[0] + x, 4), round(row.at[1] + y, 4))
        return whole
