"""What a voltmeter finds on the board before any signal: supply, bias, references, idling outputs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Board, Component
from sublatch.board.network import board_network
from sublatch.board.sheet.amounts import place, span, told
from sublatch.board.sheet.reading_limits import tolerance_share
from sublatch.circuit.detectors.base import RECTIFIED
from sublatch.circuit.networks.solver import nodal_response

OFFSET_V = 5e-3
"""Largest offset of an op-amp's input that is reckoned with (an assumption)."""
METER_OHM = 10e6
"""What an ordinary voltmeter puts on a node."""
STILL_HZ = 1e-3
"""As good as no frequency, and every network has an answer there."""
NEAR_SUPPLY_V = 0.05


@dataclass(frozen=True)
class QuietRow:
    """One voltage to find without a signal.

    Attributes
    ----------
    net, place
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
    place: str
    against: str
    expect: str
    between: str
    remark: str


def quiet_rows(board: Board) -> list[QuietRow]:
    """Return the voltages to find without a signal, in the order in which they are looked at."""
    return [*_supply(board), *_references(board), *_idling(board), *_comparators(board)]


def share_range(upper: Component, lower: Component) -> tuple[float, float, float]:
    """Return the share that a divider's lower resistor has, and its least and most with both at their tolerances."""
    top, bottom = upper.amount or 0.0, lower.amount or 0.0
    up, down = tolerance_share(upper), tolerance_share(lower)
    pairs = ((1.0, 1.0), (1.0 + up, 1.0 - down), (1.0 - up, 1.0 + down))
    middle, low, high = (bottom * b / (top * a + bottom * b) for a, b in pairs)
    return middle, low, high


def _supply(board: Board) -> Iterator[QuietRow]:
    """Yield supply and bias."""
    part, supply_v = {each.role: each for each in board.components}, board.circuit.supply
    remark = "after the protection diode; with another supply, bias and references go with it"
    yield QuietRow(SUPPLY, place(board, SUPPLY), ZERO, told(supply_v, "V"), "as your supply", remark)
    middle, low, high = share_range(part["bias.upper"], part["bias.lower"])
    top, bottom = part["bias.upper"].amount or 0.0, part["bias.lower"].amount or 0.0
    source = top * bottom / (top + bottom)
    loaded = METER_OHM / (METER_OHM + source)
    yield QuietRow(
        "bias.divider",
        place(board, "bias.divider"),
        ZERO,
        told(middle * loaded * supply_v, "V"),
        span(low * loaded * supply_v, high * loaded * supply_v, "V"),
        f"with the {1.0 - loaded:.1%} that a meter of 10 MΩ takes off",
    )
    yield QuietRow(
        BIAS,
        place(board, BIAS),
        ZERO,
        told(middle * supply_v, "V"),
        span(low * supply_v - OFFSET_V, high * supply_v + OFFSET_V, "V"),
        f"{middle:.1%} of the supply",
    )


def _references(board: Board) -> Iterator[QuietRow]:
    """Yield the references on either side of the bias."""
    idle_v = board.circuit.output.bias * board.circuit.supply
    part = {each.role: each for each in board.components}
    for side, sign, end_v in (("positive", 1.0, board.circuit.supply - idle_v), ("negative", -1.0, idle_v)):
        if f"latch.{side}.far" in part:
            far, near = part[f"latch.{side}.far"], part[f"latch.{side}.near"]
            middle, *ends = (sign * share * end_v for share in share_range(far, near))
            net = far.net("b")
            yield QuietRow(
                net,
                place(board, net),
                BIAS,
                told(middle, "V"),
                span(min(ends), max(ends), "V"),
                "on the meter’s lowest range",
            )


def offset_at(board: Board, net: str) -> float:
    """Return how far offsets can bring a net ahead of the comparators from the bias when all of them add up, in volts.

    Notes
    -----
    Every op-amp's input is off by `OFFSET_V`, each with its own gain from there to the net.
    """
    driven = () if board.circuit.detector.rectified_path is None else (RECTIFIED,)
    return _inputs_v(board, net, _sections(board, ("input", "overtone", "detector")), driven)


def _idling(board: Board) -> Iterator[QuietRow]:
    """Yield the outputs of the op-amps in the signal's path, from the bias."""
    for part in _sections(board, ("input", "overtone", "detector")):
        yield _idle(board, part, offset_at(board, part.net("out")))
    octave = board.circuit.octave
    octave_v = OFFSET_V * (max(abs(gain) for gain in octave.gains) + octave.offset_gain)
    yield from (_idle(board, part, octave_v) for part in _sections(board, ("octave",)))
    back = _sections(board, ("filter", "mix", "output"))
    driven = ("octave", "note")
    for part in back:
        net = part.net("out")
        ahead_v = _offset_v(board, net, "octave", driven, octave_v) + _offset_v(board, net, "note", driven, OFFSET_V)
        yield _idle(board, part, ahead_v + _inputs_v(board, net, back, driven))


def _idle(board: Board, part: Component, offset_v: float) -> QuietRow:
    """Return the row of an op-amp's output."""
    net = part.net("out")
    return QuietRow(net, place(board, net), BIAS, "0 V", f"± {told(offset_v, 'V', digits=2)}", part.note)


def _sections(board: Board, blocks: tuple[str, ...]) -> list[Component]:
    """Return the op-amps of some blocks that idle at the bias, without the rectifier's."""
    sections = (part for part in board.components if part.kind == "op-amp" and part.block in blocks)
    return [part for part in sections if not part.role.startswith("rectifier.")]


def _inputs_v(board: Board, net: str, sections: Sequence[Component], driven: tuple[str, ...]) -> float:
    """Return how far the op-amps' own offsets can bring a net from the bias when all of them add up."""
    total = 0.0
    for part in sections:
        own = (
            f"{part.reference}.plus"  # the input alone is off, not the net that it is on, which may be the bias itself
        )
        pins = tuple((pin, own if pin == "+" else on) for pin, on in part.pins)
        moved = tuple(replace(one, pins=pins) if one is part else one for one in board.components)
        total += _offset_v(replace(board, components=moved), net, own, driven, OFFSET_V)
    return total


def _offset_v(board: Board, net: str, source: str, driven: tuple[str, ...], volts: float) -> float:
    """Return how far a net is from the bias when another is so many volts from it, and further driven ones are not."""
    network = board_network(board, inputs=(source, *(other for other in driven if other != source)), output=net)
    if not any(network.inputs[0] in part.nodes for part in network.parts):
        return 0.0
    return volts * float(abs(nodal_response(network, STILL_HZ)))


def _comparators(board: Board) -> Iterator[QuietRow]:
    """Yield the outputs of comparators, which both rest, and of what they set and reset."""
    if any(part.role.endswith(".far") for part in board.components):
        for net in ("set", "reset"):
            remark = "else an offset beats the floor: see the cautions"
            yield QuietRow(net, place(board, net), ZERO, "near 0 V", "up to 0.4 V", remark)
    supply = f"0 V or {told(board.circuit.supply, 'V')}"
    for net in ("latch", "drive"):
        yield QuietRow(
            net, place(board, net), ZERO, supply, f"± {told(NEAR_SUPPLY_V, 'V', digits=2)}", "either, but steady"
        )
