"""A chain drawn as a row: parts on the rail, what goes to ground below, op-amps with what belongs to them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from sublatch.board.schematic.placing.amplifier import GRID, cell
from sublatch.board.schematic.placing.chains import Chain, role_of
from sublatch.board.schematic.placing.names import PLAIN, beside, pin_of
from sublatch.board.schematic.placing.piece import Piece
from sublatch.board.schematic.placing.pillars import Pillar, hung, pillars
from sublatch.board.schematic.placing.symbols import Texts, TwoPins, UnplaceableError, across, length_of
from sublatch.circuit.filters.parts import Amplifier, FilterPart, Point, Side

PUSHES = 60
"""How many steps of the grid a part is pushed to the right before it is given up."""
AHEAD = 0.8
"""How far a joint is from the op-amp after it."""


@dataclass(frozen=True)
class Joint:
    """Where wires may meet a node: anywhere from `left` to `right` at a height, upwards or downwards."""

    left: float
    right: float
    y: float
    up: bool = True
    down: bool = True


@dataclass
class Row:
    """A row in the making: parts without places, what is drawn, where nodes are, and where the row has come to."""

    pool: dict[str, FilterPart]
    texts: Texts
    piece: Piece = field(default_factory=Piece)
    joints: dict[str, list[Joint]] = field(default_factory=dict)
    node: str = ""
    at: Point = (0.0, 0.0)
    loose: list[tuple[str, Point]] = field(default_factory=list)

    def copy(self) -> Row:
        """Return a row that goes on by itself."""
        joints = {node: [*places] for node, places in self.joints.items()}
        return replace(self, pool=dict(self.pool), piece=self.piece.copy(), joints=joints, loose=[*self.loose])

    def place(self, piece: Piece, *used: FilterPart) -> None:
        """Take in a piece, and its parts from those without places."""
        self.piece.add(piece)
        for part in used:
            del self.pool[role_of(part)]

    def mark(self, node: str, left: float, right: float, y: float, *, up: bool = True, down: bool = True) -> None:
        """Note where wires may meet a node."""
        self.joints.setdefault(node, []).append(Joint(round(left, 4), round(right, 4), round(y, 4), up=up, down=down))

    def stand(self, node: str, following: FilterPart | None, *, by: FilterPart) -> None:
        """Come to a node by a part: everything between it and ground hangs there, and its name is beside it."""
        self.node = node
        self.mark(node, self.at[0], self.at[0], self.at[1])
        sides: tuple[Side, ...] = ("left", "right") if isinstance(following, Amplifier) else ("right", "left")
        for pillar in pillars(self.pool, node, self.joints):
            self._hang(pillar, sides)
        if node not in PLAIN:
            self._name(pin_of((by,), node))

    def link(self, part: FilterPart, node: str) -> None:
        """Draw the part that leads on to a node."""
        if isinstance(part, Amplifier):
            self._amplify(part, node)
            return
        length = max(self._least(node), length_of(part, self.texts))
        run = across(part, self.node, self.texts, length=length)
        x, y = self._pushed(run, self.at[0])
        self._lead(x)
        self.place(run.moved(x, y), part)
        self.at = (round(x + length, 4), y)

    def _name(self, pin: tuple[str, str]) -> None:
        """Write the node's name beside it, the rail led on where there is no room."""
        joint = self.joints[self.node][-1]
        for push in range(PUSHES):
            span = ((joint.left, joint.y), round(self.at[0] + GRID * push - joint.left, 4))
            for piece in beside(self.node, pin, [span]):
                if self.piece.fits(piece) == 0:
                    self.piece.add(piece)
                    self._lead_on(round(max(self.at[0], piece.labels[0].place[0]), 4))
                    return
        raise UnplaceableError(self.node)

    def _lead_on(self, x: float) -> None:
        """Lead the rail on to a place."""
        self._lead(x)
        self.at = (max(x, self.at[0]), self.at[1])

    def _hang(self, pillar: Pillar, sides: tuple[Side, ...]) -> None:
        """Hang a pillar where it fits, its texts on the side that takes less room, or the first of two alike."""
        tries = []
        for rank, side in enumerate(sides):
            piece, inner = hung(pillar, self.node, self.texts, side)
            tries.append((self._pushed(piece, self.at[0])[0], rank, piece, inner))
        x, _, piece, inner = min(tries, key=lambda one: one[:2])
        self._lead_on(x)
        self.place(piece.moved(*self.at), *pillar)
        for node, place in inner:
            self.mark(node, x + place[0], x + place[0], self.at[1] + place[1], up=False, down=False)

    def _amplify(self, part: Amplifier, output: str) -> None:
        """Draw an op-amp whose upper input is on the rail."""
        made = cell(part, self.node, self.pool, self.joints, self.texts)
        least = self._least(output)
        x, y = self._pushed(made.piece, self.at[0] + AHEAD)
        joint = self.joints[self.node][-1].left
        self._lead(x)
        self.place(made.piece.moved(x, y), *made.used)
        for node, (left, below) in made.marks:
            if node in self.joints:
                self.loose.append((node, (round(x + left, 4), round(y + below, 4))))
                continue
            self.mark(node, x + left, x + left, y + below, up=False)
        for node, (left, below) in made.inner:
            self.mark(node, x + left, x + left, y + below, up=False, down=False)
        start, y = round(x + made.end, 4), round(y - 0.5, 4)
        end = max(start, round(joint + least, 4), round(x + made.free, 4))
        self.piece.wire(output, (start, y), (end, y))
        self.node, self.at = output, (end, y)
        self.mark(output, start, end, y)

    def _pushed(self, piece: Piece, x: float) -> Point:
        """Return the first place at which a piece fits, pushed to the right."""
        y = self.at[1]
        for _ in range(PUSHES):
            x = round(x, 4)
            if self.piece.fits(piece.moved(x, y)) == 0:
                return x, y
            x += GRID
        raise UnplaceableError(self.node)

    def _lead(self, x: float) -> None:
        """Lead the rail on to where the next part is."""
        if x > self.at[0]:
            last = self.joints[self.node][-1]
            self.piece.wire(self.node, self.at, (x, self.at[1]))
            self.joints[self.node][-1] = replace(last, right=max(last.right, x))

    def _least(self, node: str) -> float:
        """Return the length of the longest part between the row's node and another."""
        both = {self.node, node}
        parts: list[TwoPins] = [part for part in self.pool.values() if not isinstance(part, Amplifier)]
        return max((length_of(part, self.texts) for part in parts if set(part.between) == both), default=0.0)


def block(chain: Chain, row: Row) -> Row:
    """Return a chain as a row of its own, with what hangs at its inner nodes; parts go from the given row's pool."""
    made = Row(dict(row.pool), row.texts)
    made.joints = {node: [] for node in (*row.joints, *chain.nodes)}
    made.node = chain.nodes[0]
    made.mark(chain.nodes[0], 0.0, 0.0, 0.0)
    for place, (part, node) in enumerate(zip(chain.parts, chain.nodes[1:], strict=True), start=1):
        made.link(part, node)
        if place < len(chain.parts):
            made.stand(node, chain.parts[place], by=part)
        elif node in row.joints:
            made.node = node
            made.mark(node, made.at[0], made.at[0], made.at[1])
        else:
            made.stand(node, None, by=part)
    return made
