"""The electrical check: what must hold of a board before anybody buys its parts.

Beside what the nets alone tell, the board is brought to rest in every way that matters: with the drive high and low,
and with the detector and the rectifier held on either side. There every op-amp must be held by its feedback, its inputs
within their range, every electrolytic the right way round, and thresholds, rectifier and octave stage where the circuit
file has them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sublatch.arrays import Array
from sublatch.board.check.connections import Fault, connection_faults
from sublatch.board.check.operating_point import OperatingPoint, Restless, operating_point
from sublatch.board.latch_divider_octave import trim_reach_v
from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Board, Component
from sublatch.board.network import HELD, board_network, linear_parts
from sublatch.circuit.networks.solver import Network, nodal_response
from sublatch.circuit.octave_stages.base import NOTE, OCTAVE
from sublatch.circuit.octave_stages.transconductance_pair import PAIR
from sublatch.circuit.signal_path import front_network, input_network, output_network
from sublatch.errors import CircuitError

RECTIFYING = ("rectifier.other_diode", "rectifier.diode")
"""The rectifier's diodes."""
PROBE_V = 0.5
"""From the bias, where detector and rectifier are held: within the reach of any part on a low supply."""
RESPONSE_HZ = (30.0, 150.0, 700.0, 3000.0)
"""Where the ways of the signal are held against the circuit's networks."""
SAME = 1e-3
"""How far they may be off, as a share: both are worked out from the same values, so nothing but rounding is allowed."""
LEAST_GAIN = 1e-7
"""Added to each gain, so that what lets nothing through compares too."""
STEP_V = 1e-3
"""By how much the note is moved to find the octave stage's gain: so little that no pair bends."""
NEAR = 0.05
"""How far a gain or threshold may be from the circuit's, as a share: resistors at their tolerance, and rounding."""
SMALL_V = 2e-5
"""By how much a threshold may be off beside: what its divider draws through the bias."""
LOW_SHARE = 0.4
"""Least share of a threshold that a store must reach at rest: what diodes without an op-amp would leave."""


@dataclass(frozen=True, eq=False)
class Rests:
    """The states in which a board is brought to rest: the drive high and low, the detector held up and down."""

    high: OperatingPoint
    low: OperatingPoint
    up: OperatingPoint
    down: OperatingPoint
    band_up: OperatingPoint | None
    band_down: OperatingPoint | None

    def all(self) -> list[OperatingPoint]:
        """Return every one."""
        found = (self.high, self.low, self.up, self.down, self.band_up, self.band_down)
        return [point for point in found if point is not None]


def electrical_faults(board: Board) -> list[Fault]:
    """Return what is wrong with a board; nothing where it can be built.

    Parameters
    ----------
    board
        The board.

    Notes
    -----
    Voltages are looked into once the nets are in order, since what floats has none.
    """
    faults = [*connection_faults(board), *_missing(board)]
    if faults:
        return faults
    try:
        rests = _rests(board)
    except Restless as problem:
        return [Fault("no rest", " and ".join(_concerned(board, problem.names)), "", str(problem))]
    return [
        *_feedback(board, rests),
        *_polarity(board, rests),
        *_functions(board, rests),
        *_responses(board),
        *_ranges(board, rests),
        *_trims(board, rests),
    ]


def must_be_sound(board: Board) -> None:
    """Refuse a board that the electrical check finds fault with.

    Raises
    ------
    CircuitError
        When it does; it names part and net of the first, and how many there are.
    """
    faults = electrical_faults(board)
    if faults:
        first = faults[0]
        where = " on net ".join(filter(None, (first.part, repr(first.net) if first.net else "")))
        more = f" ({len(faults)} faults in all)" if len(faults) > 1 else ""
        raise CircuitError(
            f"a board must pass its electrical check, and this one does not: {first.kind} at {where}: "
            f"{first.text}{more}; nothing was written"
        )


def _concerned(board: Board, names: tuple[str, ...]) -> list[str]:
    """Return what keeps changing, and the op-amps that work it."""
    nets = {net for part in board.components if part.reference in names for _, net in part.pins}
    working = [part.reference for part in board.components if part.kind == "op-amp" and part.net("out") in nets]
    return [*names, *(name for name in working if name not in names)]


def _missing(board: Board) -> Iterator[Fault]:
    """Yield the parts that the check itself looks at, where they are not there."""
    roles = ["latch.set", "latch.reset", "octave.amplifier"]
    if board.circuit.detector.front.rectifier is not None:
        roles += ["rectifier.input", *RECTIFYING]
    present = {part.role for part in board.components}
    yield from (Fault("part missing", role, "", "every such circuit needs it") for role in roles if role not in present)


def _watched(board: Board) -> str:
    """Return the net that both comparators watch, whichever of their inputs is on it."""
    both = (board.component(f"latch.{name}") for name in ("set", "reset"))
    shared = set.intersection(*({part.net(pin) for pin in "+-"} for part in both))
    return min(shared - {BIAS} or shared, default="")


def _rests(board: Board) -> Rests:
    """Bring the board to rest in every way."""
    high, low = (operating_point(board, drive_high=drive) for drive in (True, False))
    bias_v = high.volts[BIAS]
    watched = _watched(board)
    up, down = (operating_point(board, held={watched: bias_v + step}) for step in (PROBE_V, -PROBE_V))
    band: list[OperatingPoint | None] = [None, None]
    if board.circuit.detector.front.rectifier is not None:
        net = board.component("rectifier.input").net("a")
        band = [operating_point(board, held={net: bias_v + step}) for step in (PROBE_V, -PROBE_V)]
    return Rests(high, low, up, down, *band)


def _feedback(board: Board, rests: Rests) -> Iterator[Fault]:
    """Yield op-amps whose feedback is missing or comes to the wrong input, and those that rest at an end."""
    for part in board.components:
        if part.kind != "op-amp":
            continue
        works_diode = any(other.kind == "diode" for other, _ in board.on_net(part.net("out")))
        loops = [point.loop[part.reference] for point in rests.all() if part.reference in point.loop]
        if any(loop > 1e-6 for loop in loops):
            text = "its output comes back to its plus input; are its inputs exchanged?"
            yield Fault("feedback to the plus input", part.reference, part.net("+"), text)
        elif not any(loop < -1e-6 for loop in loops):
            yield Fault("no feedback", part.reference, part.net("-"), "its output must come back to its minus input")
        elif not works_diode and (rests.high.states[part.reference] or rests.low.states[part.reference]):
            yield Fault("at an end of its swing", part.reference, part.net("out"), "at rest an op-amp must be linear")


def _polarity(board: Board, rests: Rests) -> Iterator[Fault]:
    """Yield electrolytics that are reversed, clamps that conduct, and a lamp that stays dark."""
    for part in board.components:
        if part.kind == "electrolytic":
            lowest = min(point.against(part.net("a"), part.net("b"))[1] for point in (rests.high, rests.low))
            if lowest < 0.0:
                text = f"its plus end is {-lowest:.3g} V below its minus end"
                yield Fault("electrolytic reversed", part.reference, part.net("a"), text)
        ends = {net for _, net in part.pins}
        at_rail = part.kind == "diode" and not ends.isdisjoint({SUPPLY, ZERO})
        if at_rail and "raw" not in ends and any(point.states[part.reference] for point in (rests.high, rests.low)):
            text = "it conducts at rest; it is the wrong way round"
            yield Fault("diode reversed", part.reference, part.net("a"), text)
        if part.kind == "lamp" and not rests.high.states[part.reference]:
            yield Fault("diode reversed", part.reference, part.net("a"), "the lamp must light while the effect is on")


def _functions(board: Board, rests: Rests) -> Iterator[Fault]:
    """Yield thresholds, rectifier and octave stage that do not do what the circuit file says."""
    yield from _latch(board, rests)
    rectifier = board.circuit.detector.front.rectifier
    if rectifier is not None and rests.band_up is not None and rests.band_down is not None:
        for point in (rests.band_up, rests.band_down):
            found = _above_bias(point, rectifier.output)
            if abs(found - rectifier.sign * PROBE_V) > NEAR * PROBE_V:
                diodes = " and ".join(board.component(role).reference for role in RECTIFYING)
                wanted = rectifier.sign * PROBE_V
                text = f"{PROBE_V:g} V of either sign must be rectified to {wanted:g} V, found {found:.3g} V"
                yield Fault("rectifier", diodes, rectifier.output, f"{text}; are both diodes the right way round?")
    yield from _octave(board, rests)


def _latch(board: Board, rests: Rests) -> Iterator[Fault]:
    """Yield comparators that do not set above and reset below, and thresholds that are not where they should be."""
    watched = _watched(board)
    for name, point, sign, other_name in (("set", rests.up, 1.0, "reset"), ("reset", rests.down, -1.0, "set")):
        part, other = board.component(f"latch.{name}"), board.component(f"latch.{other_name}")
        if point.states[part.reference] < 0 or point.states[other.reference] > 0:
            text = f"with the detector at {sign * PROBE_V:+g} V it must {name} the latch; are its inputs exchanged?"
            yield Fault("comparator", part.reference, watched, text)
        net = part.net("-" if part.net("+") == watched else "+")
        yield from _threshold(board, part, net, (rests.high, point), sign)


def _threshold(
    board: Board, part: Component, net: str, points: tuple[OperatingPoint, OperatingPoint], sign: float
) -> Iterator[Fault]:
    """Yield a comparator's threshold that is not where it should be, at rest and with the detector held at a peak."""
    thresholds = board.circuit.detector.thresholds
    of_block = [other for other in board.components if other.kind == "diode" and other.block == part.block]
    side = "positive" if sign > 0.0 else "negative"
    named = [other.reference for other in of_block if side in other.role] or [part.reference]
    share = 1.0 if thresholds.fixed else LOW_SHARE
    law = thresholds.positive if sign > 0.0 else thresholds.negative
    peak_v = max(law.share * PROBE_V + law.added_v, law.least_v)
    for point, most_v, least_v, when in (
        (points[0], law.idle_v, law.idle_v, "at rest"),
        (points[1], peak_v, share * peak_v, f"with the detector at {sign * PROBE_V:+g} V"),
    ):
        found = sign * _above_bias(point, net)
        if not least_v * (1.0 - NEAR) - SMALL_V <= found <= most_v * (1.0 + NEAR) + SMALL_V:
            text = f"{when} it must be about {sign * most_v:.3g} V from the bias, found {sign * found:.3g} V"
            yield Fault("threshold", " and ".join(named), net, text)


def _octave(board: Board, rests: Rests) -> Iterator[Fault]:
    """Yield an octave stage whose gain is not that of its kind."""
    for drive_high, wanted in zip((True, False), board.circuit.octave.drawn_gains, strict=True):
        rest = rests.high if drive_high else rests.low
        moved = operating_point(board, drive_high=drive_high, held={NOTE: rest.volts[NOTE] + STEP_V})
        found = (moved.volts[OCTAVE] - rest.volts[OCTAVE]) / STEP_V
        if abs(found - wanted) > NEAR:
            switching = ("analogue switch", "transconductance amplifier")
            named = [part.reference for part in board.of_block("octave") if part.kind in switching]
            text = f"with the drive {'high' if drive_high else 'low'} its gain must be {wanted:g}, found {found:.3g}"
            yield Fault("octave stage", " and ".join(named), OCTAVE, text)


def _responses(board: Board) -> Iterator[Fault]:
    """Yield ways of the signal whose gain is not that of the circuit's own networks: a part is missing or wrong."""
    circuit = board.circuit
    ways: list[tuple[str, tuple[str, ...], Network, bool]]
    ways = [("buffered", ("octave", NOTE), output_network(circuit), False)]
    front, linear, known = circuit.detector.front, linear_parts(board), ["in"]
    for net, bend in zip(front.nets, (*front.bends, None), strict=True):
        wanted = front_network(circuit, output=net, sources=tuple(known))
        ways.append((net, wanted.inputs, wanted, True))
        known += [bend.output] if bend is not None else []
    for net, inputs, wanted, from_jack in ways:
        try:
            yield from _response(linear, net, inputs, wanted, from_jack=from_jack)
        except CircuitError as problem:
            yield Fault("response", "", net, str(problem))


def _response(board: Board, net: str, inputs: tuple[str, ...], wanted: Network, *, from_jack: bool) -> Iterator[Fault]:
    """Yield a way of the signal that is not as wanted, but for what guards the input."""
    found = board_network(board, inputs=(*inputs, *HELD), output=net)
    guard = _gains(board_network(board, inputs=("in",), output=NOTE)) / _gains(input_network(board.circuit))
    for source, other in zip(wanted.inputs, inputs, strict=True):
        ratio = _gains(found, other) / _gains(wanted, source)
        ratio = ratio / guard if from_jack and other == "in" else ratio
        if np.any(np.abs(ratio - 1.0) > SAME):
            text = f"from {other} on its gain is {float(ratio.min()):.3g} to {float(ratio.max()):.3g} times what the "
            yield Fault("response", "", net, f"{text}circuit file makes it: a part is missing, or of another value")


def _gains(network: Network, source: str | None = None) -> Array:
    """Return a network's gains at `RESPONSE_HZ`."""
    return np.abs(nodal_response(network, np.array(RESPONSE_HZ), source=source or network.inputs[0])) + LEAST_GAIN


def _ranges(board: Board, rests: Rests) -> Iterator[Fault]:
    """Yield inputs that rest where the circuit's class of part does not work, the supply being enough for it."""
    devices, supply_v = board.circuit.devices, board.circuit.supply
    op_amp, comparator = devices.op_amp_class, devices.comparator_class
    reach = {
        "op-amp": (op_amp, op_amp.input_low_v.typical, supply_v - op_amp.input_high_v.typical),
        "comparator": (comparator, 0.0, supply_v - comparator.input_high_v.worst),
    }
    for part in board.components:
        of_class, low_v, high_v = reach.get(part.kind, (None, 0.0, 0.0))
        if of_class is None or supply_v < of_class.least_v:
            continue
        for pin in "+-":
            yield from _out_of_range(part, pin, rests.high, (low_v, high_v), of_class.name)


def _trims(board: Board, rests: Rests) -> Iterator[Fault]:
    """Yield a transconductance pair between whose inputs there may be more than its trimmer takes away."""
    for part in board.of_block("octave"):
        if part.kind == "transconductance amplifier":
            reach_v = trim_reach_v(board) - PAIR.offset_v.worst
            _, least, most = rests.high.against(part.net("+"), part.net("-"))
            if max(-least, most) > reach_v:
                text = (
                    f"between its inputs there may be {max(-least, most) * 1e3:.3g} mV at rest, and the trimmer takes "
                    f"{reach_v * 1e3:.3g} mV beside the pair's own offset: op-amps of less offset and bias current?"
                )
                yield Fault("input out of range", part.reference, part.net("+"), text)


def _out_of_range(
    part: Component, pin: str, point: OperatingPoint, reach: tuple[float, float], name: str
) -> Iterator[Fault]:
    """Yield an input that rests outside of its range."""
    net = part.net(pin)
    _, least, most = point.against(net)
    if least < reach[0] or most > reach[1]:
        text = (
            f"input {pin} rests at {least:.3g} to {most:.3g} V, and {part.kind}s of class {name} take "
            f"{reach[0]:.3g} to {reach[1]:.3g} V: another devices.{part.kind.replace('-', '_')}, or a higher supply"
        )
        yield Fault("input out of range", part.reference, net, text)


def _above_bias(point: OperatingPoint, net: str) -> float:
    """Return a net's voltage from the bias."""
    return point.volts[net] - point.volts[BIAS]
