"""The divider and the octave stage as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS, SUPPLY, ZERO, Board
from sublatch.circuit.components.controls import Pot
from sublatch.circuit.model import Circuit
from sublatch.circuit.octave_stages.base import NOTE, OCTAVE, SWITCHED, OctaveStage
from sublatch.circuit.octave_stages.transconductance_pair import (
    CONTROL_V,
    PAIR,
    TRIM_OHM,
    PairStage,
    pair_stage,
)
from sublatch.units import format_volts

CLOCK_OHM = 470e3
"""From the first clock to the supply: light beside the flip-flop's output, and little for a battery. Drawn choice."""


def add_divider(builder: Builder) -> None:
    """Put the drive switch and the flip-flops that halve the rate, up to net ``drive``."""
    builder.block = "divider"
    circuit, throws = builder.circuit, ("latch", "not latch")
    clock = throws[circuit.switches.drive == "inverted"]
    clock_switched = "drive" not in (circuit.hardwired or ())
    if clock_switched:
        clock = "clock"
        builder.poles(("switches.drive",), ((clock, *throws),), control="drive", path="switches.drive")
        note = "holds the clock while the drive switch is between its throws"
        builder.resistor("clock.pull_up", CLOCK_OHM, SUPPLY, "clock", note=note, tolerance="5 %")
    stages = circuit.divider.stages
    for stage in range(1, stages + 1):
        half, inverted = f"half{stage}", "drive" if stage == stages else f"not half{stage}"
        pins = [("D", inverted), ("CLK", clock), ("S", ZERO), ("R", ZERO), ("/Q", inverted)]
        pins += [("Q", half)] if stage < stages else []
        note = f"flip-flop {stage} of the divider: each rise of its clock turns it over"
        builder.section("flip-flop", f"divider.{stage}", tuple(pins), note=note)
        clock = half
    feeds = "The drive switch feeds the divider" if clock_switched else "The divider is fed"
    builder.notes.append(
        f"{feeds} from the latch or from its complement, which is what turning the note over ahead of the comparators "
        "comes to. Which half comes first after switching on is left to chance."
    )


def add_octave(builder: Builder) -> None:
    """Put the octave stage, from ``note`` to ``octave``: a transconductance pair where the circuit has one."""
    builder.block = "octave"
    octave = builder.circuit.octave
    if octave.is_pair:
        _pair(builder)
        return
    pins = (("A", "drive"), ("1", NOTE), ("0", BIAS), ("common", SWITCHED))
    note = "the note while the drive is high, the bias while it is low"
    builder.section("analogue switch", "octave.switch", pins, note=note)
    builder.network(octave.parts, prefix="octave.", notes=octave.notes, tolerances={})
    builder.left_out += [
        "Compensation of the charge that the CMOS switch pushes into the octave at each change: op-amps of low output "
        "impedance swallow it.",
        "octave.transition, feedthrough, leak and mismatch: nobody solders imperfections; what is built has its own.",
    ]
    if octave.linear_range is not None:
        builder.notes.append(
            "octave.linear_range is the bend of a transconductance pair; the switch that is drawn has none."
        )


def _pair(builder: Builder) -> None:
    """Put the pair with its divider, control current, trimmer and the op-amp that turns its current into volts."""
    circuit, stage = builder.circuit, _pair_stage(builder.circuit)
    assert circuit.octave.linear_range is not None
    path, source = "octave.linear_range", NOTE
    minus, plus, control, current = (f"octave.{name}" for name in ("minus", "plus", "control", "current"))
    if stage.lift is not None:
        source = "octave.lifted"
        for name, ohm, nets in zip(
            ("feedback", "ground"), stage.lift, (("octave.low", source), ("octave.low", BIAS)), strict=True
        ):
            builder.resistor(f"octave.lift_{name}", ohm, *nets, path=path, note="lifts the note for the divider")
        builder.op_amp("octave.lift", NOTE, "octave.low", source, note="lifts the note for the divider")
    divided = f"divider: {PAIR.linear_range_v * 1e3:.1f} mV of {format_volts(circuit.octave.linear_range)}"
    builder.resistor("octave.source", stage.source, source, minus, path=path, note=divided)
    builder.resistor("octave.shunt", stage.shunt, minus, BIAS, path=path, note=divided)
    builder.resistor("octave.balance", stage.balance, plus, BIAS, note="as much as the other input sees")
    note = "trims the drive that reaches the output: without a note, the least thump"
    builder.pot("octave.trim", Pot(value=TRIM_OHM), (ZERO, "trim wiper", SUPPLY), control="trim", path=None, note=note)
    builder.resistor(
        "octave.trim_resistor", stage.trim, "trim wiper", plus, note=f"± {stage.trim_v * 1e3:.3g} mV of trim"
    )
    note = f"control current, {stage.control_a * 1e6:.3g} µA while the drive is high"
    builder.resistor("octave.control", stage.control, "drive", control, path=path, note=note)
    builder.resistor("octave.load", stage.load, current, OCTAVE, path=path, note="turns the pair's current into volts")
    unused = (("diodes", ZERO), ("buffer in", ZERO))
    pins = (("+", plus), ("-", minus), ("control", control), ("out", current), *unused)
    builder.section("transconductance amplifier", "octave.pair", pins, note="gate: open while it has control current")
    builder.op_amp("octave.amplifier", BIAS, current, OCTAVE, note="turns the pair's current into volts")
    builder.left_out += [
        "The pair's linearizing diodes and its buffers: the diodes would change the law that the model has, and the "
        "op-amp that follows needs no buffer. Both are tied off.",
        "A trimmer for the pair's gain, and its compensation of temperature: 10 °C change the gain by 3.4 %, 0.3 dB.",
        "A capacitor across the load resistor: what the pair gives is as fast as its op-amp.",
    ]
    builder.notes += _pair_notes(stage, circuit.octave, circuit.supply)


def _pair_stage(circuit: Circuit) -> PairStage:
    """Return the values of a pair's parts."""
    assert circuit.octave.linear_range is not None
    bias_v = circuit.output.bias * circuit.supply
    return pair_stage(circuit.octave.linear_range, supply_v=circuit.supply, bias_v=bias_v)


def trim_reach_v(board: Board) -> float:
    """Return what the trimmer of a board's transconductance pair takes away between its inputs, in volts."""
    return _pair_stage(board.circuit).trim_v


def _pair_notes(stage: PairStage, octave: OctaveStage, supply_v: float) -> list[str]:
    """Return what the drawn pair does, in figures, and where it differs from the circuit's."""
    untrimmed_v = stage.feedthrough_v(PAIR.offset_v.worst)
    told = [
        f"The transconductance pair bends at {stage.linear_range_v * 1e3:.4g} mV (tanh of 1), with a gain of "
        f"{stage.gain:.3f} for a small note: gm = I / 2V with I = {stage.control_a * 1e6:.3g} µA, V = kT/q at 25 °C. "
        f"The control current is (supply − {CONTROL_V:g} V) / R, so gain and largest output follow the supply: at "
        f"{0.9 * supply_v:.3g} V both are {1.0 - (0.9 * supply_v - CONTROL_V) / (supply_v - CONTROL_V):.0%} lower. "
        "Gain falls, and the linear range grows, by 0.34 % for each °C.",
        "While the drive is low the control pin is at 0 V, below its two base-emitter voltages, and the pair is cut "
        "off: it lets nothing through. octave.leak is an imperfection that is not drawn.",
        f"Before it is trimmed, the pair's offset of up to {PAIR.offset_v.worst * 1e3:g} mV lets up to "
        f"{untrimmed_v * 1e3:.3g} mV of the drive (peak) into the octave. octave.feedthrough, "
        f"{format_volts(octave.feedthrough)}, stands for what the trimmer leaves.",
    ]
    return told
