"""What each component of a board is to direct current, and by how much it may be off."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from sublatch.board.input_and_supply import CLAMP, LAMP_V
from sublatch.board.netlist import ZERO, Board, Component
from sublatch.board.network import pot_ohm
from sublatch.circuit.devices.catalogue import DIODES
from sublatch.circuit.devices.record import Devices
from sublatch.circuit.networks.solver import LEAST_OHM
from sublatch.circuit.octave_stages.transconductance_pair import CONTROL_V, PAIR

DIODE_V = 0.6
"""Of a silicon diode that conducts; common practice, no source."""
ON_S = 0.1
"""Slope of a diode that conducts."""
CLOSED_S = 1e3
"""Of a contact."""
SINK_S = 1e-2
"""Of a comparator's open collector that pulls down."""
PAIR_BIAS_AT_A = 0.5e-3
"""Control current at which a pair's bias current is told."""

Sort = Literal["offset", "bias", "leakage"]
ONE_WAY = ("bias", "leakage")
"""Causes that go one way alone, from nothing to their worst."""
Volts = Mapping[str, float]
Between = tuple[str, str, float]
Into = tuple[str, float]


@dataclass(frozen=True)
class Cause:
    """One way in which one device is off: volts of offset, amperes of bias at a net or of leakage."""

    name: str
    sort: Sort
    amount: float
    net: str = ""


@dataclass(frozen=True)
class Element:
    """A part with its nets, and what may be off about it."""

    name: str
    nets: tuple[str, ...]
    causes: tuple[Cause, ...] = ()

    def conductances(self, _state: int) -> Iterator[Between]:
        """Yield what conducts: two nets and siemens."""
        yield from ()

    def currents(self, _state: int) -> Iterator[Into]:
        """Yield the currents that flow into nets."""
        yield from ()

    def pushed(self, cause: Cause, _state: int) -> Iterator[Into]:
        """Yield the currents that flow into nets beside when the device is off."""
        if cause.sort == "bias":
            yield cause.net, -cause.amount


@dataclass(frozen=True)
class Ohmic(Element):
    """A resistor, off by a share of its ohms, or a contact."""

    siemens: float = 0.0
    tolerance: float = 0.0

    def conductances(self, _state: int) -> Iterator[Between]:
        """Yield the resistor."""
        yield self.nets[0], self.nets[1], self.siemens


@dataclass(frozen=True)
class Source(Element):
    """An output that is held at a voltage."""

    output: str = ""
    volts: float = 0.0


@dataclass(frozen=True)
class Gaining(Element):
    """An op-amp, its swing from end to end."""

    plus: str = ""
    minus: str = ""
    output: str = ""
    swing: tuple[float, float] = (0.0, 0.0)

    def state(self, volts: Volts, state: int) -> int:
        """Return whether it is linear, or at which end of its swing."""
        ahead = volts[self.plus] - volts[self.minus]
        if state:
            return 0 if ahead * state < 0.0 else state
        low, high = self.swing
        return -1 if volts[self.output] < low else 1 if volts[self.output] > high else 0


@dataclass(frozen=True)
class Comparing(Element):
    """A comparator with an open collector."""

    plus: str = ""
    minus: str = ""
    output: str = ""

    def state(self, volts: Volts, _state: int) -> int:
        """Return 1 while its collector is open, −1 while it pulls down."""
        return 1 if volts[self.plus] > volts[self.minus] else -1

    def conductances(self, state: int) -> Iterator[Between]:
        """Yield its collector while it pulls down."""
        if state < 0:
            yield self.output, ZERO, SINK_S


@dataclass(frozen=True)
class Conducting(Element):
    """A diode from its anode to its cathode."""

    forward_v: float = DIODE_V

    def state(self, volts: Volts, state: int) -> int:
        """Return 1 while it conducts."""
        across = volts[self.nets[0]] - volts[self.nets[1]]
        return int(across > self.forward_v - (1e-12 if state else 0.0))

    def conductances(self, state: int) -> Iterator[Between]:
        """Yield its slope while it conducts."""
        if state:
            yield self.nets[0], self.nets[1], ON_S

    def currents(self, state: int) -> Iterator[Into]:
        """Yield what its forward voltage comes to while it conducts."""
        if state:
            yield self.nets[0], ON_S * self.forward_v
            yield self.nets[1], -ON_S * self.forward_v

    def pushed(self, cause: Cause, state: int) -> Iterator[Into]:
        """Yield its leakage while it blocks."""
        if not state:
            yield self.nets[0], cause.amount
            yield self.nets[1], -cause.amount


@dataclass(frozen=True)
class Transconducting(Element):
    """A transconductance pair: siemens from its inputs' difference into its output."""

    plus: str = ""
    minus: str = ""
    output: str = ""
    siemens: float = 0.0

    def pushed(self, cause: Cause, state: int) -> Iterator[Into]:
        """Yield what its offset makes of its output current, and its bias currents."""
        yield from super().pushed(cause, state)
        if cause.sort == "offset":
            yield self.output, self.siemens * cause.amount


def elements(board: Board, *, drive_high: bool) -> list[Element]:
    """Return what each component is to direct current, the last flip-flop's output high or low."""
    return [element for part in board.components for element in _elements(board, part, drive_high)]


def _elements(board: Board, part: Component, drive_high: bool) -> Iterator[Element]:
    """Yield what a component is."""
    nets = tuple(net for _, net in part.pins)
    if part.kind == "resistor":
        yield _resistor(part)
    elif part.kind == "pot":
        for name, ohm, pair in zip("lu", pot_ohm(part, board.circuit), (nets[:2], nets[1:]), strict=True):
            yield Ohmic(part.reference + name, pair, siemens=1.0 / max(ohm, LEAST_OHM))
    elif part.kind == "switch":
        yield Ohmic(part.reference, (part.net("common"), part.net(_throw(board, part))), siemens=CLOSED_S)
    elif part.kind == "analogue switch":
        closed = part.net("1" if drive_high else "0")
        ohm = board.circuit.devices.switch_class.resistance_ohm.typical
        yield Ohmic(part.reference, (part.net("common"), closed), siemens=1.0 / ohm)
    elif part.kind == "flip-flop":
        yield from _flip_flop(board, part, drive_high)
    elif part.kind == "jack" and part.role == "input.jack":
        yield Source(part.reference, (), output=part.net("tip"))
    elif part.kind == "block":
        yield Gaining(part.reference, nets, plus=part.net("in"), minus=part.net("out"), output=part.net("out"),
                      swing=(0.0, board.circuit.supply))  # fmt: skip
    else:
        yield from _device(board, part, drive_high)


def _resistor(part: Component) -> Ohmic:
    """Return a resistor with its tolerance."""
    assert part.amount is not None
    share = float(part.tolerance.removesuffix("%")) / 100.0
    nets = (part.net("a"), part.net("b"))
    return Ohmic(part.reference, nets, siemens=1.0 / part.amount, tolerance=share)


def _throw(board: Board, part: Component) -> str:
    """Return at which throw a switch stands; the footswitch at effect."""
    second = {"peak": board.circuit.peak == "peaked", "drive": board.circuit.switches.drive == "inverted"}
    return "2" if second.get(str(part.control), False) else "1"


def _flip_flop(board: Board, part: Component, drive_high: bool) -> Iterator[Element]:
    """Yield a flip-flop's outputs, all at the levels that go with the drive's."""
    for pin, high in (("Q", not drive_high), ("/Q", drive_high)):
        if pin in dict(part.pins):
            yield Source(part.reference, (), output=part.net(pin), volts=board.circuit.supply if high else 0.0)


def _device(board: Board, part: Component, drive_high: bool) -> Iterator[Element]:
    """Yield an active device; nothing of what direct current does not enter."""
    devices, supply_v = board.circuit.devices, board.circuit.supply
    if part.kind == "op-amp":
        of_class = devices.op_amp_class
        swing = (of_class.swing_low_v.typical, supply_v - of_class.swing_high_v.typical)
        swing = swing if supply_v >= of_class.least_v else (0.0, supply_v)  # below, nobody knows; the sheet warns
        plus, minus, output = (part.net(pin) for pin in ("+", "-", "out"))
        causes = (Cause(part.reference, "offset", op_amp_offset_v(devices)), *_bias(part, op_amp_bias_a(devices)))
        yield Gaining(part.reference, (plus, minus, output), causes, plus, minus, output, swing)
    elif part.kind == "comparator":
        plus, minus, output = (part.net(pin) for pin in ("+", "-", "out"))
        bias_a = devices.comparator_class.bias_a.worst if devices.comparator_bias is None else devices.comparator_bias
        yield Comparing(part.reference, (plus, minus, output), _bias(part, bias_a), plus, minus, output)
    elif part.kind in ("diode", "lamp"):
        yield _diode(devices, part)
    elif part.kind == "transconductance amplifier":
        yield from _pair(board, part, drive_high)


def _diode(devices: Devices, part: Component) -> Conducting:
    """Return a diode with its leakage."""
    of_class = DIODES["low-leakage"] if part.value == CLAMP else devices.diode_class
    own = None if part.value == CLAMP else devices.diode_leakage
    amps = of_class.leakage_a.worst if own is None else own
    causes = (Cause(part.reference, "leakage", amps),)
    forward_v = LAMP_V if part.kind == "lamp" else DIODE_V
    return Conducting(part.reference, (part.net("a"), part.net("b")), causes, forward_v)


def _pair(board: Board, part: Component, drive_high: bool) -> Iterator[Element]:
    """Yield a transconductance pair with the control current that its drive gives it, and its control pin."""
    control = part.net("control")
    yield Conducting(f"{part.reference} control", (control, ZERO), forward_v=CONTROL_V)
    amps = control_a(board, part) if drive_high else 0.0
    if "out" not in dict(part.pins):
        return
    plus, minus, output = (part.net(pin) for pin in ("+", "-", "out"))
    bias_a = PAIR.bias_a.worst * amps / PAIR_BIAS_AT_A
    causes = (Cause(part.reference, "offset", PAIR.offset_v.worst), *_bias(part, bias_a))
    yield Transconducting(
        part.reference, (plus, minus, output), causes, plus, minus, output, amps / PAIR.linear_range_v
    )


def control_a(board: Board, part: Component) -> float:
    """Return the control current of a pair while the drive is high, in amperes."""
    ohm = [other.amount for other, _ in board.on_net(part.net("control")) if other.kind == "resistor" and other.amount]
    return sum((board.circuit.supply - CONTROL_V) / each for each in ohm)


def _bias(part: Component, amps: float) -> tuple[Cause, ...]:
    """Return the bias current of either input."""
    return tuple(Cause(part.reference, "bias", amps, part.net(pin)) for pin in "+-")


def op_amp_offset_v(devices: Devices) -> float:
    """Return the largest offset that an op-amp of the circuit's class may have, in volts."""
    return devices.op_amp_class.offset_v.worst if devices.op_amp_offset is None else devices.op_amp_offset


def op_amp_bias_a(devices: Devices) -> float:
    """Return the largest bias current into an input of an op-amp of the circuit's class, in amperes."""
    return devices.op_amp_class.bias_a.worst if devices.op_amp_bias is None else devices.op_amp_bias


def comparator_offset_v(devices: Devices) -> float:
    """Return the largest offset that a comparator of the circuit's class may have, in volts."""
    own = devices.comparator_offset
    return devices.comparator_class.offset_v.worst if own is None else own
