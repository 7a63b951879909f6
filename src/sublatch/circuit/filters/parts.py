"""The five sorts of part that a filter is made of, each with all that network, board, tolerances and drawing need.

A kind of filter is a list of these. Who reads the list asks what sort a part is, never what kind the filter is.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from sublatch.circuit.components.controls import Peak, Pot, SwitchedCapacitor
from sublatch.circuit.networks.elements import Capacitor, OpAmp, Resistor
from sublatch.circuit.networks.elements import Part as Element
from sublatch.circuit.networks.solver import LEAST_OHM

Point = tuple[float, float]
"""A place on the drawing, in units from the filter's input."""
Path = tuple[Point, ...]
Side = Literal["left", "right", "above", "below"]
Nodes = tuple[str, str]

STEP = 2.6
"""Length of a resistor with its leads."""
GANG = 3.0
"""Length of a gang of the pot."""


@dataclass(frozen=True)
class Line:
    """Where a part of two pins is drawn.

    Attributes
    ----------
    start, end
        Its first and its second pin.
    side
        Where its designator and value are; by its direction when not given.
    wires
        Wires that are there because of it.
    """

    start: Point
    end: Point
    side: Side | None = None
    wires: tuple[Path, ...] = ()


def along(start: Point) -> Line:
    """Return the place of a part that runs to the right."""
    return Line(start, (start[0] + STEP, start[1]))


def down(start: Point, *, side: Side | None = None) -> Line:
    """Return the place of a part that runs down to ground."""
    return Line(start, (start[0], start[1] - 2.0), side)


def over(start: Point, end: Point) -> Line:
    """Return the place of a part that runs over the top, from a joint to an output."""
    height = start[1] + 1.6
    left, right = (start[0], height), (end[0], height)
    return Line(left, right, wires=((start, left), (right, end)))


@dataclass(frozen=True)
class Changeover:
    """Where a pole of the switch and its two capacitors are drawn.

    Attributes
    ----------
    lead
        The wire to the pole's common pin.
    throws
        Its two throws, where the capacitors begin.
    label
        Where the pole's designator is.
    ends
        Where the capacitors end.
    sides
        Where each capacitor's designator and value are.
    wires
        Wires that lead on from there.
    label_side
        On which side of its place the designator is.
    """

    lead: Path
    throws: tuple[Point, Point]
    label: Point
    ends: tuple[Point, Point]
    sides: tuple[Side | None, Side | None] = (None, None)
    wires: tuple[Path, ...] = ()
    label_side: Literal["left", "right"] = "left"


def switched_down(joint: Point, *, lower: float = 0.0) -> Changeover:
    """Return the place of a pole and two capacitors that lead down to ground from below a joint."""
    x, y = joint[0], joint[1] - lower
    throws = ((x - 0.7, y - 3.2), (x + 0.7, y - 3.2))
    ends = ((x - 0.7, y - 5.2), (x + 0.7, y - 5.2))
    return Changeover((joint, (x, y - 2.4)), throws, (x - 1.1, y - 2.6), ends, ("left", "right"))


def switched_over(joint: Point, out: Point, *, short: float = 3.0) -> Changeover:
    """Return the place of a pole and two capacitors over the top, which end `short` units before an output."""
    x, y = joint
    upper, lower = y + 3.6, y + 1.8
    ends = ((out[0] - short, upper), (out[0] - short, lower))
    wires = (*((end, (out[0], end[1])) for end in ends), ((out[0], upper), (out[0], lower), out))
    lead = (joint, (x, y + 2.7), (x + 0.5, y + 2.7))
    return Changeover(lead, ((x + 1.5, upper), (x + 1.5, lower)), (x - 0.25, y + 2.7), ends, wires=wires)


@dataclass(frozen=True)
class FixedResistor:
    """A resistor between two nodes.

    Attributes
    ----------
    role
        What it is for: its path on the board, below the filter's.
    ohm, between
        Its resistance, and the nodes it joins.
    drawn
        Where it is on the drawing; None where nobody drew it.
    setting
        The setting that it comes from, below the filter; its role when not given.
    name
        What a user calls it, in a network of his own.
    """

    role: str
    ohm: float
    between: Nodes
    drawn: Line | None = None
    setting: str = ""
    name: str = ""

    def elements(self, *, tone: float | None, peak: Peak | None) -> Iterable[Element]:
        """Give what it is in a network at these knob and switch positions."""
        yield Resistor(self.name or self.role, self.between, self.ohm)


@dataclass(frozen=True)
class FixedCapacitor:
    """A capacitor between two nodes; all but `farad` as for a resistor."""

    role: str
    farad: float
    between: Nodes
    drawn: Line | None = None
    setting: str = ""
    name: str = ""

    def elements(self, *, tone: float | None, peak: Peak | None) -> Iterable[Element]:
        """Give what it is in a network at these knob and switch positions."""
        yield Capacitor(self.name or self.role, self.between, self.farad)


@dataclass(frozen=True)
class Rheostat:
    """A gang of the tone pot that falls clockwise, a resistor in series with it, and perhaps one across its track.

    Attributes
    ----------
    gang, end, start
        Roles of the gang, of the resistor in series and of the one across.
    joint
        Node between gang and end resistor.
    pot, end_ohm, start_ohm
        The pot, and the two resistors; None without one across.
    between
        Nodes: on the gang's side, and on the end resistor's.
    drawn
        The gang's first pin; None where nobody drew it.
    toward
        Where it runs from there.
    settings
        The settings that pot, end and start resistor come from, below the filter.
    name
        What a user calls it, in a network of his own.
    """

    gang: str
    end: str
    start: str
    joint: str
    pot: Pot
    end_ohm: float
    start_ohm: float | None
    between: Nodes
    drawn: Point | None = None
    toward: Literal["right", "left", "down", "up"] = "right"
    settings: tuple[str, str, str] = ("pot", "end_resistor", "start_resistor")
    name: str = ""

    def gang_ohm(self, tone: float | None) -> float:
        """Return what is left of the gang at a position of the knob."""
        assert tone is not None, "a filter with a rheostat has a tone knob"
        return self.pot.resistances(tone)[1]

    def elements(self, *, tone: float | None, peak: Peak | None) -> Iterable[Element]:
        """Give what it is in a network: one resistor, or three; at the end of its travel the gang is a wire."""
        gang, (first, last) = self.gang_ohm(tone), self.between
        if self.start_ohm is None:
            yield Resistor(self.name or self.end, self.between, self.end_ohm + gang)
            return
        if gang > 0.0:
            yield Resistor(self.gang, (first, self.joint), max(gang, LEAST_OHM))
            yield Resistor(self.start, (first, self.joint), self.start_ohm)
            first = self.joint
        yield Resistor(self.end, (first, last), self.end_ohm)


def ganged(
    which: str, pot: Pot, *, end_ohm: float, start_ohm: float | None, between: Nodes, drawn: Point | None = None
) -> Rheostat:
    """Return a gang of a filter's one pot with its resistors, their roles from a word such as ``first``."""
    return Rheostat(
        f"{which}_gang", f"{which}_end", f"{which}_start", which, pot, end_ohm, start_ohm, between, drawn=drawn
    )


@dataclass(frozen=True)
class CapacitorPair:
    """Two capacitors of which a pole of the peak switch selects one.

    Attributes
    ----------
    role, pole
        What the pair is for, before ``.flat`` and ``.peaked``, and the role of the pole.
    value
        The two values.
    between
        Nodes: on the pole's side, and on the capacitors'.
    drawn, name
        As for a resistor.
    """

    role: str
    pole: str
    value: SwitchedCapacitor
    between: Nodes
    drawn: Changeover | None = None
    name: str = ""

    def elements(self, *, tone: float | None, peak: Peak | None) -> Iterable[Element]:
        """Give what it is in a network at these knob and switch positions."""
        assert peak is not None, "a filter with a switched capacitor has a peak switch"
        yield Capacitor(self.name or self.role, self.between, self.value.at(peak))


@dataclass(frozen=True)
class Amplifier:
    """An op-amp.

    Attributes
    ----------
    role, plus, minus, output
        What it is for, and its nodes.
    note
        Why it is there.
    drawn
        The plus input of a follower, or the middle of the left side of another; None where nobody drew it.
    plus_up
        Whether the plus input is drawn above the other.
    name
        What a user calls it, in a network of his own.
    """

    role: str
    plus: str
    minus: str
    output: str
    note: str = ""
    drawn: Point | None = None
    plus_up: bool = True
    name: str = ""

    def elements(self, *, tone: float | None, peak: Peak | None) -> Iterable[Element]:
        """Give what it is in a network; no knob or switch changes it."""
        yield OpAmp(self.name or self.role, self.plus, self.minus, self.output)


FilterPart = FixedResistor | FixedCapacitor | Rheostat | CapacitorPair | Amplifier


@dataclass(frozen=True)
class Label:
    """A place on the drawing where the name of a net is, which is that of a part's pin.

    Attributes
    ----------
    role, pin
        A component on the net, and its pin.
    place, side
        Where on the wire, and on which side of it the name is.
    text
        What is written; the net's own name when empty.
    beside
        Where a name begins that stands beside a wire; None for a wire that ends in its name.
    """

    role: str
    pin: str
    place: Point
    side: Side
    text: str = ""
    beside: Point | None = None


@dataclass(frozen=True)
class Wiring:
    """The parts of a filter from node ``in`` to node ``out``, in the order of its network.

    Attributes
    ----------
    parts
        The parts; none are a plain wire.
    wires, labels
        Wires of the drawing that belong to no part, and names of nets.
    end
        Where on the drawing the output ends; None for a filter that nobody drew, whose parts get their places when it
        is drawn.
    """

    parts: tuple[FilterPart, ...]
    wires: tuple[Path, ...] = ()
    labels: tuple[Label, ...] = ()
    end: Point | None = None

    @property
    def rheostats(self) -> tuple[Rheostat, ...]:
        """The gangs of the tone pot."""
        return tuple(part for part in self.parts if isinstance(part, Rheostat))

    @property
    def pairs(self) -> tuple[CapacitorPair, ...]:
        """What the peak switch selects from."""
        return tuple(part for part in self.parts if isinstance(part, CapacitorPair))
