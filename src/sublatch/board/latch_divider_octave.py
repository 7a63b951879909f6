"""Thresholds, comparators and latch, the divider, and the octave stage as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.detector import SIGNAL_DIODE
from sublatch.board.dividers import divider, reference_divider
from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.circuit.detectors.base import Thresholds
from sublatch.circuit.octave_stages.base import NOTE, SWITCHED

PULL_UP_OHM = 47e3
"""From each comparator's output to the supply; common practice, no source."""
FRACTION_OHM = 100e3
"""Both resistors of each fraction divider together; drawn choice."""
SIGNS = {"positive": "+", "negative": "−"}
"""Both sides of the bias, and how the nets of each are marked."""


def add_latch(builder: Builder, watched: str) -> None:
    """Put thresholds, comparators and latch, from the net that is watched to ``latch`` and ``not latch``."""
    builder.block = "latch"
    thresholds = builder.circuit.detector.thresholds
    least = thresholds.setting
    if thresholds.fixed:
        path = f"detector.{least}"
        nets = [_reference(builder, side, thresholds.least_v, path, f"{side} threshold") for side in SIGNS]
        builder.notes.append(
            "The hysteresis is two comparators and a latch, set above the upper threshold, reset below the lower."
        )
    else:
        nets = [_store(builder, side, thresholds, watched) for side in SIGNS]
        if thresholds.least_v:
            builder.notes.append(
                f"Each store empties towards {least} / fraction rather than to nothing, so that its threshold never "
                f"falls below the {least}. It lies above the model's by at most the {least}."
            )
    _comparators(builder, watched, *nets)


def add_divider(builder: Builder) -> None:
    """Put the drive switch and the flip-flops that halve the rate, up to net ``drive``."""
    builder.block = "divider"
    circuit, throws = builder.circuit, ("latch", "not latch")
    clock = throws[circuit.switches.drive == "inverted"]
    clock_switched = "drive" not in (circuit.hardwired or ())
    if clock_switched:
        clock = "clock"
        builder.poles(("switches.drive",), ((clock, *throws),), control="drive", path="switches.drive")
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
    """Put the switch that the drive works and its op-amp, from ``note`` to ``octave``."""
    builder.block = "octave"
    octave = builder.circuit.octave
    pins = (("A", "drive"), ("1", NOTE), ("0", BIAS), ("common", SWITCHED))
    note = "the note while the drive is high, the bias while it is low"
    builder.section("analogue switch", "octave.switch", pins, note=note)
    builder.network(octave.parts, prefix="octave.", notes=octave.notes, tolerances={})
    if octave.linear_range is not None:
        builder.notes.append(
            "octave.linear_range is the bend of a transconductance pair; the switch that is drawn has none."
        )


def _reference(builder: Builder, side: str, volts: float, path: str, note: str) -> str:
    """Put a divider from the supply's end on one side to the bias and return its net: the bias for no volts."""
    if volts == 0.0:
        return BIAS
    idle_v = builder.circuit.output.bias * builder.circuit.supply
    end, available_v = (SUPPLY, builder.circuit.supply - idle_v) if side == "positive" else (ZERO, idle_v)
    far, near = reference_divider(volts, available_v=available_v, name=path)
    net = f"reference {SIGNS[side]}"
    actual_v = available_v * near / (far + near)
    far_note = f"{note}, {actual_v * 1e3:.3g} mV from the bias"
    builder.resistor(f"latch.{side}.far", far, end, net, path=path, note=far_note)
    builder.resistor(f"latch.{side}.near", near, net, BIAS, path=path, note=note)
    return net


def _store(builder: Builder, side: str, thresholds: Thresholds, watched: str) -> str:
    """Put a peak store with its follower and divider, and return the net of the threshold."""
    drive, held, copy, threshold = (f"{name} {SIGNS[side]}" for name in ("charge", "held", "store", "threshold"))
    rest = _reference(
        builder,
        side,
        thresholds.least_v / thresholds.fraction,
        f"detector.{thresholds.setting}",
        f"the {side} store's rest: {thresholds.setting} / fraction",
    )
    note = f"{side} peak store"
    builder.op_amp(f"latch.{side}.charge", watched, held, drive, note=note)
    ends = (drive, held) if side == "positive" else (held, drive)
    builder.diode(f"latch.{side}.diode", SIGNAL_DIODE, *ends, note=note)
    path = "detector.hold_resistor"
    builder.resistor(f"latch.{side}.hold_resistor", thresholds.hold_ohm, held, rest, path=path, note=note)
    role, path = f"latch.{side}.hold_capacitor", "detector.hold_capacitor"
    builder.capacitor(role, thresholds.hold_farad, held, BIAS, path=path, note=note, tolerance="10 %")
    builder.op_amp(f"latch.{side}.follower", held, copy, copy, note="keeps the divider off the store")
    upper, lower = divider(thresholds.fraction, total_ohm=FRACTION_OHM)
    path, note = "detector.fraction", f"{lower / (upper + lower):.1%} of the {side} store"
    builder.resistor(f"latch.{side}.upper", upper, copy, threshold, path=path, note=note)
    builder.resistor(f"latch.{side}.lower", lower, threshold, BIAS, path=path, note=note)
    return threshold


def _comparators(builder: Builder, watched: str, positive: str, negative: str) -> None:
    """Put the two comparators and the latch that they set and reset."""
    for name, plus, minus in (("set", watched, positive), ("reset", negative, watched)):
        pins = (("+", plus), ("-", minus), ("out", name))
        builder.section("comparator", f"latch.{name}", pins, note=f"it {name}s the latch")
        note = "pull-up of the comparator's open collector"
        builder.resistor(f"latch.{name}.pull_up", PULL_UP_OHM, SUPPLY, name, note=note, tolerance="5 %")
    latch = (("S", "set"), ("R", "reset"), ("D", ZERO), ("CLK", ZERO), ("Q", "latch"), ("/Q", "not latch"))
    builder.section("flip-flop", "latch.latch", latch, note="flip-flop used as a latch")
