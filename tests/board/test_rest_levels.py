"""Direct voltages by this test's own nodal solution, parts at their worst, against the bench table's ranges."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np
import pytest

from board_cases import circuit_of
from sublatch.board.assemble import board
from sublatch.board.netlist import Board, Component
from sublatch.board.sheet.idle_voltages import IdleRow, idle_rows
from sublatch.circuit.load import circuit_names

BOARDS = 60
"""Drawn at random, each part at one end or the other of what it may be off by."""
WORST = {  # data sheets, from memory: op-amp offset and bias current, comparator's bias current
    "fet-input": (10e-3, 200e-12),
    "single-supply": (7e-3, -250e-9),
    "rail-to-rail": (2.5e-3, 100e-12),
}
COMPARATOR_A, LEAKAGE_A = -250e-9, {"1N3595": 1e-9, "1N4148": 25e-9}
PAIR_V, PAIR_A_PER_A, THERMAL_V = 4e-3, 5e-6 / 0.5e-3, 25.69e-3
PREFIX = {"": 1.0, "m": 1e-3, "µ": 1e-6, "n": 1e-9}


@dataclass
class Nodal:
    """G v = i with ideal op-amps, each a further unknown current and the equation v+ − v− = −offset."""

    fixed: dict[str, float]
    conductances: list[tuple[str, str, float]] = field(default_factory=list)
    currents: list[tuple[str, float]] = field(default_factory=list)
    op_amps: list[tuple[str, str, str, float]] = field(default_factory=list)
    pairs: list[tuple[str, str, str, float, float]] = field(default_factory=list)

    def solve(self) -> dict[str, float]:
        """Return every net's voltage."""
        nets = {net for a, b, _ in self.conductances for net in (a, b)}
        nets |= {net for *three, _ in self.op_amps for net in three} | {n for p in self.pairs for n in p[:3]}
        row = {net: place for place, net in enumerate(sorted(nets - set(self.fixed)))}
        size = len(row) + len(self.op_amps)
        matrix, known = np.zeros((size, size)), np.zeros(size)

        def put(line: int, net: str, weight: float) -> None:
            if net in row:
                matrix[line, row[net]] += weight
            else:
                known[line] -= weight * self.fixed[net]

        for a, b, siemens in self.conductances:
            for one, other in ((a, b), (b, a)):
                if one in row:
                    put(row[one], one, siemens)
                    put(row[one], other, -siemens)
        for net, amps in self.currents:
            if net in row:
                known[row[net]] += amps
        for plus, minus, output, siemens, offset in self.pairs:
            put(row[output], plus, -siemens)
            put(row[output], minus, siemens)
            known[row[output]] += siemens * offset
        for place, (plus, minus, output, offset) in enumerate(self.op_amps, start=len(row)):
            matrix[row[output], place] = 1.0
            put(place, plus, 1.0)
            put(place, minus, -1.0)
            known[place] -= offset
        matrix[range(len(row)), range(len(row))] += 1e-13  # what floats rests at 0 V
        solution = np.linalg.solve(matrix, known)
        return self.fixed | {net: float(solution[place]) for net, place in row.items()}


def levels(made: Board, op_amp: str, *, drive_high: bool, draw: np.random.Generator | None) -> dict[str, float]:
    """Return the board's voltages at rest, its stores' diodes blocking, one board of many or as drawn."""
    supply_v = made.circuit.supply
    nodal = Nodal({"0V": 0.0, "supply": supply_v, "input tip": 0.0, "drive": supply_v if drive_high else 0.0})
    nodal.fixed |= {"latch": 0.0, "not latch": supply_v}
    sign = (lambda: 0.0) if draw is None else (lambda: float(draw.choice((-1.0, 1.0))))
    either = (lambda: 0.0) if draw is None else (lambda: float(draw.choice((0.0, 1.0))))
    offset_v, bias_a = WORST[op_amp]
    for part in made.components:
        nets = tuple(net for _, net in part.pins)
        if part.kind == "resistor":
            share = float(part.tolerance.removesuffix("%")) / 100
            nodal.conductances.append((nets[0], nets[1], 1 / ((part.amount or 0.0) * (1 + sign() * share))))
        elif part.kind == "pot":
            nodal.conductances += _pot(made, part)
        elif part.kind == "switch" and part.control != "drive":
            nodal.conductances.append((part.net("common"), part.net("1"), 1e4))
        elif part.kind == "analogue switch":
            nodal.conductances.append((part.net("common"), part.net("1" if drive_high else "0"), 1 / 180))
        elif part.kind == "op-amp" and not part.role.endswith(".charge") and not part.role.startswith("rectifier."):
            nodal.op_amps.append((part.net("+"), part.net("-"), part.net("out"), sign() * offset_v))
        if part.kind in ("op-amp", "comparator"):
            each_a = bias_a if part.kind == "op-amp" else COMPARATOR_A
            nodal.currents += [(part.net(pin), -either() * each_a) for pin in "+-"]
        elif part.kind == "diode" and part.value in LEAKAGE_A:
            amps = either() * LEAKAGE_A[part.value]
            nodal.currents += [(part.net("a"), amps), (part.net("b"), -amps)]
        elif part.role == "octave.pair" and drive_high:
            amps = (supply_v - 1.3) / (made.component("octave.control").amount or 0.0)
            three = (part.net("+"), part.net("-"), part.net("out"))
            nodal.pairs.append((*three, amps / (2 * THERMAL_V), sign() * PAIR_V))
            nodal.currents += [(part.net(pin), -either() * PAIR_A_PER_A * amps) for pin in "+-"]
    return nodal.solve()


def _pot(made: Board, part: Component) -> list[tuple[str, str, float]]:
    """Return a pot's two resistances where its knob stands; half way for a trimmer."""
    circuit = made.circuit
    position = {"tone": circuit.tone, "direct": circuit.knobs.direct, "volume": circuit.volume, "trim": 5.0}
    place = position[str(part.control)]
    assert part.pot is not None
    assert place is not None
    below, above = part.pot.resistances(place)
    ends = (part.net("ccw"), part.net("wiper")), (part.net("wiper"), part.net("cw"))
    return [(*pair, 1 / max(ohm, 1e-3)) for pair, ohm in zip(ends, (below, above), strict=True) if pair[0] != pair[1]]


def volts(text: str) -> float:
    """Return an amount as the sheet writes it, in volts."""
    number, unit = text.replace("−", "-").split("\N{NO-BREAK SPACE}")
    return float(number) * PREFIX[unit.removesuffix("V")]


def limits(row: IdleRow) -> tuple[float, float]:
    """Return the range of a row as it is printed, in volts."""
    text = row.between
    if text.startswith("±"):
        most = volts(text.removeprefix("± "))
        return -most, most
    ends, unit = text.split("\N{NO-BREAK SPACE}")
    low, high = (float(end.replace("−", "-")) * PREFIX[unit.removesuffix("V")] for end in re.split(" to |–", ends))
    return low, high


def readings(made: Board, voltages: dict[str, float], rows: list[IdleRow]) -> dict[str, float]:
    """Return what is found for each row whose range stands in volts, with the meter's own load."""
    found = {}
    for row in rows:
        if row.between.startswith("±") or ("\N{NO-BREAK SPACE}" in row.between and row.net not in ("set", "reset")):
            found[row.net] = voltages.get(row.net, 0.0) - (voltages["bias"] if row.against == "bias" else 0.0)
    upper, lower = (made.component(f"bias.{name}").amount or 0.0 for name in ("upper", "lower"))
    found["bias.divider"] *= 10e6 / (10e6 + upper * lower / (upper + lower))
    return {net: value for net, value in found.items() if net not in ("latch", "drive")}


CASES = [(name, op_amp) for name in circuit_names() for op_amp in WORST]
CASES += [(case, "fet-input") for case in ("pair", "pair-lifted", "swept-state-variable", "gated-swept-overtone")]
CASES += [(case, "single-supply") for case in ("pair", "second-order")]


@pytest.mark.long
@pytest.mark.parametrize(("case", "op_amp"), CASES)
def test_no_sound_board_reads_beyond_the_bench_table(case: str, op_amp: str) -> None:
    made = board(circuit_of(case, devices__op_amp=op_amp))
    rows = idle_rows(made)
    within = {row.net: limits(row) for row in rows if row.net in readings(made, _plain(made, op_amp), rows)}
    assert {"bias", "note", "octave", "buffered"} <= set(within)
    draw = np.random.default_rng(1)
    widest = dict.fromkeys(within, 0.0)
    for number in range(BOARDS):
        voltages = levels(made, op_amp, drive_high=number % 2 == 0, draw=draw)
        for net, found in readings(made, voltages, rows).items():
            low, high = within[net]
            assert low <= found <= high, f"{net}: {found} V is not within {low} to {high} V"
            middle = 0.5 * (low + high)
            widest[net] = max(widest[net], abs(found - middle) / (high - middle))
    assert widest["note"] > 0.5, "a range that no board comes near to says nothing"
    assert widest["buffered"] > 0.3


def _plain(made: Board, op_amp: str) -> dict[str, float]:
    """Return the board's voltages with ideal parts."""
    return levels(made, op_amp, drive_high=True, draw=None)


@pytest.mark.parametrize("case", ["gated-swept", "pair", "polarity-third-order"])
def test_with_ideal_parts_every_output_rests_at_the_bias(case: str) -> None:
    made = board(circuit_of(case))
    voltages = _plain(made, "fet-input")
    assert voltages["bias"] == pytest.approx(4.5, abs=1e-6)
    for net in ("note", "octave", "mixed", "buffered"):
        assert voltages[net] - voltages["bias"] == pytest.approx(0.0, abs=1e-6)
    assert voltages["out"] == pytest.approx(0.0, abs=1e-6) == pytest.approx(voltages["in"], abs=1e-6)
