"""What a voltmeter finds on the board before any signal: supply, bias, references, idling outputs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Board, Component
from sublatch.board.network import board_network
from sublatch.board.sheet.amounts import amount, amount_range, probe_point
from sublatch.board.sheet.reading_limits import tolerance_share
from sublatch.circuit.detectors.base import RECTIFIED
from sublatch.circuit.networks.solver import nodal_response
from sublatch.errors import CircuitError

OFFSET_V = 5e-3
"""Largest offset of an op-amp's input that is reckoned with (an assumption)."""
METER_OHM = 10e6
"""What an ordinary voltmeter puts on a node."""
STILL_HZ = 1e-3
"""As good as no frequency, and every network has an answer there."""
NEAR_SUPPLY_V = 0.05
AFTER_OCTAVE = ("filter", "mix", "output")
"""Blocks that follow the octave stage."""


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


def idle_rows(board: Board) -> list[IdleRow]:
    """Return the voltages to find without a signal, in the order in which they are looked at."""
    return [*_supply(board), *_references(board), *_idling(board), *_comparators(board)]


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


def _supply(board: Board) -> Iterator[IdleRow]:
    """Yield supply and bias."""
    supply_v = board.circuit.supply
    upper, lower = board.component("bias.upper"), board.component("bias.lower")
    remark = "after the protection diode; with another supply, bias and references go with it"
    yield _row(board, SUPPLY, ZERO, amount(supply_v, "V"), "as your supply", remark)
    middle, low, high = (share * supply_v for share in share_range(upper, lower))
    top, bottom = upper.amount or 0.0, lower.amount or 0.0
    source = top * bottom / (top + bottom)
    loaded = METER_OHM / (METER_OHM + source)
    remark = f"with the {1.0 - loaded:.1%} that a meter of 10 MΩ takes off"
    between = amount_range(low * loaded, high * loaded, "V")
    yield _row(board, "bias.divider", ZERO, amount(middle * loaded, "V"), between, remark)
    between = amount_range(low - OFFSET_V, high + OFFSET_V, "V")
    yield _row(board, BIAS, ZERO, amount(middle, "V"), between, f"{middle / supply_v:.1%} of the supply")


def _references(board: Board) -> Iterator[IdleRow]:
    """Yield the references on either side of the bias."""
    idle_v = board.circuit.output.bias * board.circuit.supply
    parts = {part.role: part for part in board.components}
    for side, sign, end_v in (("positive", 1.0, board.circuit.supply - idle_v), ("negative", -1.0, idle_v)):
        if far := parts.get(f"latch.{side}.far"):
            middle, *ends = (sign * share * end_v for share in share_range(far, parts[f"latch.{side}.near"]))
            between = amount_range(min(ends), max(ends), "V")
            yield _row(board, far.net("b"), BIAS, amount(middle, "V"), between, "on the meter’s lowest range")


def offset_at(board: Board, net: str) -> float:
    """Return how far offsets can bring a net ahead of the comparators from the bias when all of them add up, in volts.

    Notes
    -----
    Every op-amp's input is off by `OFFSET_V`, each with its own gain from there to the net.
    """
    driven = () if board.circuit.detector.rectified_path is None else (RECTIFIED,)
    return _inputs_v(board, net, _sections(board, ("input", "overtone", "detector")), driven)


def _idling(board: Board) -> Iterator[IdleRow]:
    """Yield the outputs of the op-amps in the signal's path, from the bias."""
    for part in _sections(board, ("input", "overtone", "detector")):
        yield _idle(board, part, offset_at(board, part.net("out")))
    for part in _sections(board, ("octave",)):
        yield _idle(board, part, _octave_v(board))
    for part in _sections(board, AFTER_OCTAVE):
        yield _idle(board, part, _after_octave_v(board, part.net("out")))


def resting_v(board: Board, net: str) -> float | None:
    """Return how far offsets can bring any net of the signal's path from the bias; None where a detector decides."""
    blocks = {part.block for part, _ in board.on_net(net)}
    if blocks & {"input", "overtone", "detector"}:
        try:
            return offset_at(board, net)
        except CircuitError:  # the rectifier is on the way
            return None
    return _after_octave_v(board, net) if blocks & {*AFTER_OCTAVE} else _octave_v(board)


def _octave_v(board: Board) -> float:
    """Return how far offsets can bring the octave stage's output from the bias."""
    octave = board.circuit.octave
    return OFFSET_V * (max(abs(gain) for gain in octave.gains) + octave.offset_gain)


def _after_octave_v(board: Board, net: str) -> float:
    """Return how far offsets can bring a net after the octave stage from the bias."""
    driven = ("octave", "note")
    ahead_v = _offset_v(board, net, "octave", driven, _octave_v(board))
    ahead_v += _offset_v(board, net, "note", driven, OFFSET_V)
    return ahead_v + _inputs_v(board, net, _sections(board, AFTER_OCTAVE), driven)


def _idle(board: Board, part: Component, offset_v: float) -> IdleRow:
    """Return the row of an op-amp's output."""
    return _row(board, part.net("out"), BIAS, "0 V", f"± {amount(offset_v, 'V', digits=2)}", part.note)


def _sections(board: Board, blocks: tuple[str, ...]) -> list[Component]:
    """Return the op-amps of some blocks that idle at the bias, without the rectifier's."""
    sections = (part for part in board.components if part.kind == "op-amp" and part.block in blocks)
    return [part for part in sections if not part.role.startswith("rectifier.")]


def _inputs_v(board: Board, net: str, sections: Sequence[Component], driven: tuple[str, ...]) -> float:
    """Return how far the op-amps' own offsets can bring a net from the bias when all of them add up."""
    total = 0.0
    for part in sections:
        input_net = f"{part.reference}.plus"  # the input alone is off, not the net it is on, which may be the bias
        pins = tuple((pin, input_net if pin == "+" else on) for pin, on in part.pins)
        components = tuple(replace(part, pins=pins) if other is part else other for other in board.components)
        total += _offset_v(replace(board, components=components), net, input_net, driven, OFFSET_V)
    return total


def _offset_v(board: Board, net: str, source: str, driven: tuple[str, ...], volts: float) -> float:
    """Return how far a net is from the bias when another is so many volts from it, and further driven ones are not."""
    network = board_network(board, inputs=(source, *(other for other in driven if other != source)), output=net)
    if not any(network.inputs[0] in part.nodes for part in network.parts):
        return 0.0
    return volts * float(abs(nodal_response(network, STILL_HZ)))


def _comparators(board: Board) -> Iterator[IdleRow]:
    """Yield the outputs of comparators, which both rest, and of what they set and reset."""
    if any(part.role.endswith(".far") for part in board.components):
        for net in ("set", "reset"):
            remark = "else an offset beats the floor: see the cautions"
            yield _row(board, net, ZERO, "near 0 V", "up to 0.4 V", remark)
    either, within = f"0 V or {amount(board.circuit.supply, 'V')}", f"± {amount(NEAR_SUPPLY_V, 'V', digits=2)}"
    for net in ("latch", "drive"):
        yield _row(board, net, ZERO, either, within, "either, but steady")
