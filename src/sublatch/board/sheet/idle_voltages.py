"""What a voltmeter finds on the board before any signal: supply, bias, references, idling outputs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from sublatch.board.check.elements import comparator_offset_v
from sublatch.board.check.operating_point import OperatingPoint, operating_point
from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Board, Component
from sublatch.board.network import HELD, board_network, linear_parts
from sublatch.board.sheet.amounts import amount, amount_range, outward, probe_point
from sublatch.board.sheet.reading_limits import tolerance_share
from sublatch.circuit.detectors.bends import FullWave
from sublatch.circuit.networks.solver import nodal_response
from sublatch.circuit.octave_stages.base import OCTAVE

METER_OHM = 10e6
"""What an ordinary voltmeter puts on a node."""
STILL_HZ = 1e-6
"""As good as no frequency, and every network has an answer there."""
NEAR_SUPPLY_V = 0.05
SEEN = 0.05
"""Share of a range by which its middle must miss the bias to be told."""


@dataclass(frozen=True)
class IdleRow:
    """One voltage to find without a signal.

    Attributes
    ----------
    net, probe_at
        The net, and where it can be reached.
    against
        Where the meter's other lead goes.
    expect
        What to find.
    between
        The range that is in order.
    remark
        What to mind.
    """

    net: str
    probe_at: str
    against: str
    expect: str
    between: str
    remark: str


Rests = tuple[OperatingPoint, OperatingPoint]
"""Where the board rests with the drive high and low."""


def rests_of(board: Board) -> Rests:
    """Return where a board rests with its drive high and low."""
    return operating_point(board, drive_high=True), operating_point(board, drive_high=False)


def idle_rows(board: Board) -> list[IdleRow]:
    """Return the voltages to find without a signal, in the order in which they are looked at.

    Parameters
    ----------
    board
        The board.

    Notes
    -----
    Each range has every resistor at its tolerance, and every op-amp, comparator, diode and transconductance pair at the
    worst of the classes that the circuit names, all of them pulling the same way: no sound board reads beyond it.
    """
    rests = rests_of(board)
    return [*_supply(board, rests), *_references(board, rests), *_idling(board, rests), *_comparators(board, rests)]


def share_range(upper: Component, lower: Component) -> tuple[float, float, float]:
    """Return the share that a divider's lower resistor has, and its least and most with both at their tolerances."""
    top, bottom = upper.amount or 0.0, lower.amount or 0.0
    up, down = tolerance_share(upper), tolerance_share(lower)
    pairs = ((1.0, 1.0), (1.0 + up, 1.0 - down), (1.0 - up, 1.0 + down))
    middle, low, high = (bottom * b / (top * a + bottom * b) for a, b in pairs)
    return middle, low, high


def _row(board: Board, net: str, *columns: str) -> IdleRow:
    """Return the row of a net, with the columns after its place."""
    return IdleRow(net, probe_point(board, net), *columns)


def rest_range(rests: Rests, net: str, against: str = ZERO) -> tuple[float, float, float]:
    """Return the voltage from one net to another at rest, and its least and most with every part at its worst."""
    found = [rest.against(net, against) for rest in rests]
    return found[0][0], min(low for _, low, _ in found), max(high for *_, high in found)


def _supply(board: Board, rests: Rests) -> Iterator[IdleRow]:
    """Yield supply and bias."""
    supply_v = board.circuit.supply
    upper, lower = board.component("bias.upper"), board.component("bias.lower")
    remark = "after the protection diode; with another supply, bias and references go with it"
    yield _row(board, SUPPLY, ZERO, amount(supply_v, "V"), "as your supply", remark)
    middle, low, high = rest_range(rests, "bias.divider")
    top, bottom = upper.amount or 0.0, lower.amount or 0.0
    source = top * bottom / (top + bottom)
    loaded = METER_OHM / (METER_OHM + source)
    remark = f"with the {1.0 - loaded:.1%} that a meter of 10 MΩ takes off"
    between = amount_range(*outward(low * loaded, high * loaded), "V")
    yield _row(board, "bias.divider", ZERO, amount(middle * loaded, "V"), between, remark)
    middle, low, high = rest_range(rests, BIAS)
    remark = f"{share_range(upper, lower)[0]:.1%} of the supply"
    yield _row(board, BIAS, ZERO, amount(middle, "V"), amount_range(*outward(low, high), "V"), remark)


def _references(board: Board, rests: Rests) -> Iterator[IdleRow]:
    """Yield the references on either side of the bias."""
    for part in board.components:
        if part.role.startswith("latch.") and part.role.endswith(".far"):
            net = part.net("b")
            middle, low, high = rest_range(rests, net, BIAS)
            between = amount_range(*outward(low, high), "V")
            yield _row(board, net, BIAS, amount(middle, "V"), between, "on the meter’s lowest range")


def offset_times(board: Board, net: str) -> float:
    """Return how many op-amps' input offsets can add up on a net ahead of the comparators, each with its gain to there.

    Notes
    -----
    Every op-amp ahead counts with the size of its own gain from its input to the net. What a rectifier gives passes a
    capacitor.
    """
    driven = tuple(bend.output for bend in board.circuit.detector.front.bends if isinstance(bend.law, FullWave))
    driven, board = (*driven, *HELD), linear_parts(board)
    total = 0.0
    for part in _sections(board, ("input", "overtone", "detector")):
        input_net = f"{part.reference}.plus"  # the input alone is off, not the net it is on, which may be the bias
        pins = tuple((pin, input_net if pin == "+" else on) for pin, on in part.pins)
        components = tuple(replace(part, pins=pins) if other is part else other for other in board.components)
        network = board_network(replace(board, components=components), inputs=(input_net, *driven), output=net)
        if any(network.inputs[0] in element.nodes for element in network.parts):
            total += float(abs(nodal_response(network, STILL_HZ)))
    return total


def _idling(board: Board, rests: Rests) -> Iterator[IdleRow]:
    """Yield the outputs of the op-amps in the signal's path, from the bias."""
    for part in _sections(board, ("input", "overtone", "detector", "octave", "filter", "direct", "mix", "output")):
        yield _idle(board, part, rest_range(rests, part.net("out"), BIAS))


def _idle(board: Board, part: Component, found: tuple[float, float, float]) -> IdleRow:
    """Return the row of an op-amp's output."""
    middle, low, high = found
    most = max(-low, high)
    remark = part.note
    if board.circuit.octave.is_pair and part.net("out") == OCTAVE:
        remark += "; before it is trimmed, and after it the same with the drive high as with it low"
    if abs(middle) > SEEN * most:
        return _row(board, part.net("out"), BIAS, amount(middle, "V"), amount_range(*outward(low, high), "V"), remark)
    return _row(
        board, part.net("out"), BIAS, "0 V", f"± {amount(outward(0.0, most, digits=2)[1], 'V', digits=2)}", remark
    )


def _sections(board: Board, blocks: tuple[str, ...]) -> list[Component]:
    """Return the op-amps of some blocks that idle at the bias, in the blocks' order, without the rectifier's."""
    sections = [part for block in blocks for part in board.of_block(block) if part.kind == "op-amp"]
    return [part for part in sections if not part.role.startswith("rectifier.")]


def _comparators(board: Board, rests: Rests) -> Iterator[IdleRow]:
    """Yield the outputs of comparators, and of what they set and reset."""
    either, within = f"0 V or {amount(board.circuit.supply, 'V')}", f"± {amount(NEAR_SUPPLY_V, 'V', digits=2)}"
    if any(part.role.endswith(".far") for part in board.components):
        for net in ("set", "reset"):
            part = board.component(f"latch.{net}")
            *_, ahead_v = rest_range(rests, part.net("+"), part.net("-"))
            if ahead_v + comparator_offset_v(board.circuit.devices) > 0.0:
                remark = (
                    f"near 0 V, unless an offset beats the {board.circuit.detector.thresholds.setting}: see cautions"
                )
                yield _row(board, net, ZERO, either, f"0.4 V; {within}", remark)
            else:
                yield _row(board, net, ZERO, "near 0 V", "up to 0.4 V", "no offset beats the floor")
    for net in ("latch", "drive"):
        yield _row(board, net, ZERO, either, within, "either, but steady")
