"""Thresholds, comparators and latch as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.detector import SIGNAL_DIODE
from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.circuit.components.dividers import divider, loaded_v, reference_divider
from sublatch.circuit.components.preferred import nearest
from sublatch.circuit.detectors.thresholds import FRACTION_OHM, STEP_TIMES, Side, Thresholds

PULL_UP_OHM = 47e3
"""From each comparator's output to the supply; common practice, no source."""
SIGNS = {"positive": "+", "negative": "−"}
"""Both sides of the bias, and how the nets of each are marked."""


def add_latch(builder: Builder, watched: str) -> None:
    """Put thresholds, comparators and latch, from the net that is watched to ``latch`` and ``not latch``."""
    builder.block = "latch"
    thresholds = builder.circuit.detector.thresholds
    nets = [
        _threshold(builder, side, law, thresholds, watched) for side, law in zip(SIGNS, thresholds.sides, strict=True)
    ]
    setting = thresholds.setting
    if thresholds.fixed:
        builder.notes.append(
            "The hysteresis is two comparators and a latch, set above the upper threshold, reset below the lower."
        )
    elif thresholds.positive.rest_v == 0.0 and thresholds.least_v:
        builder.notes.append(
            f"Each store empties towards {setting} / fraction rather than to nothing, so that its threshold never "
            f"falls below the {setting}. It lies above the model's by at most the {setting}."
        )
    _comparators(builder, watched, *nets)


def _threshold(builder: Builder, side: str, law: Side, thresholds: Thresholds, watched: str) -> str:
    """Put what makes one side's threshold, and return its net."""
    if law.share == 0.0:
        path = f"detector.{thresholds.setting}"
        return _reference(builder, side, law.idle_v, path, f"{side} threshold")
    if law.rest_v == 0.0:
        return _followed(builder, side, law, thresholds, watched)
    return (_stepped if law.share == 1.0 else _tapped)(builder, side, law, thresholds, watched)


def _reference(builder: Builder, side: str, volts: float, path: str, note: str, *, drawn_a: float = 0.0) -> str:
    """Put a divider from the supply's end on one side to the bias and return its net: the bias for no volts.

    It gives so many volts while so much is drawn from it.
    """
    if volts == 0.0:
        return BIAS
    end, available_v = _end(builder, side)
    far, near = reference_divider(volts, available_v=available_v, drawn_a=drawn_a, name=path)
    net = f"reference {SIGNS[side]}"
    actual_v = loaded_v(far, near, available_v=available_v, drawn_a=drawn_a)
    far_note = f"{note}, {actual_v * 1e3:.3g} mV from the bias"
    builder.resistor(f"latch.{side}.far", far, end, net, path=path, note=far_note)
    builder.resistor(f"latch.{side}.near", near, net, BIAS, path=path, note=note)
    return net


def _end(builder: Builder, side: str) -> tuple[str, float]:
    """Return the supply's end on one side, and how far it is from the bias in volts."""
    idle_v = builder.circuit.output.bias * builder.circuit.supply
    return (SUPPLY, builder.circuit.supply - idle_v) if side == "positive" else (ZERO, idle_v)


def _store(builder: Builder, side: str, thresholds: Thresholds, watched: str) -> str:
    """Put what charges a store, and its capacitor, and return the store's net."""
    drive, held = (f"{name} {SIGNS[side]}" for name in ("charge", "held"))
    note = f"{side} peak store"
    builder.op_amp(f"latch.{side}.charge", watched, held, drive, note=note)
    ends = (drive, held) if side == "positive" else (held, drive)
    builder.diode(f"latch.{side}.diode", SIGNAL_DIODE, *ends, note=note)
    role, path = f"latch.{side}.hold_capacitor", "detector.hold_capacitor"
    builder.capacitor(role, thresholds.hold_farad, held, BIAS, path=path, note=note, tolerance="10 %")
    return held


def _tapped(builder: Builder, side: str, law: Side, thresholds: Thresholds, watched: str) -> str:
    """Put a store whose hold resistor is divided, from the store to its rest, and return the net of the tap."""
    held, tap, path = _store(builder, side, thresholds, watched), f"threshold {SIGNS[side]}", "detector.hold_resistor"
    note = f"what the {side} store empties towards"
    rest = _reference(builder, side, law.rest_v, f"detector.{thresholds.setting}", note)
    upper, lower = divider(law.share, total_ohm=thresholds.hold_ohm)
    note = f"hold resistor, divided: {lower / (upper + lower):.1%} of the {side} store"
    builder.resistor(f"latch.{side}.upper", upper, held, tap, path=path, note=note)
    builder.resistor(f"latch.{side}.lower", lower, tap, rest, path=path, note=note)
    return tap


def _stepped(builder: Builder, side: str, law: Side, thresholds: Thresholds, watched: str) -> str:
    """Put a store with a tap a fixed step below it, and return the net of the tap.

    A string from the store to the supply's far end draws nearly the same current whatever the store holds, and drops
    the step. The hold resistor, to a reference, and the string side by side are what the circuit file says, and so is
    the voltage that both together come to rest at.
    """
    held, tap, step_v = _store(builder, side, thresholds, watched), f"threshold {SIGNS[side]}", -law.added_v
    far, far_v = _end(builder, "negative" if side == "positive" else "positive")
    long_ohm = nearest(STEP_TIMES * thresholds.hold_ohm)
    short_ohm = nearest(step_v / (far_v + law.rest_v) * long_ohm)
    string_ohm = short_ohm + long_ohm
    hold_ohm = nearest(1.0 / (1.0 / thresholds.hold_ohm - 1.0 / string_ohm))
    drawn_a = (law.rest_v + far_v) / string_ohm
    rest_v = law.rest_v + hold_ohm * drawn_a
    setting, note = f"detector.{thresholds.setting}", f"what the {side} store empties towards, with the string"
    rest = _reference(builder, side, rest_v, setting, note, drawn_a=drawn_a)
    note = f"with the string beside it {thresholds.hold_ohm:.3g} Ω"
    builder.resistor(f"latch.{side}.hold_resistor", hold_ohm, held, rest, path="detector.hold_resistor", note=note)
    note = f"drops the step, {step_v * 1e3:.3g} mV"
    builder.resistor(f"latch.{side}.upper", short_ohm, held, tap, path="detector.step", note=note)
    builder.resistor(f"latch.{side}.lower", long_ohm, tap, far, path="detector.step", note="draws the step's current")
    return tap


def _followed(builder: Builder, side: str, law: Side, thresholds: Thresholds, watched: str) -> str:
    """Put a store with its follower and divider, and return the net of the threshold."""
    held, copy, threshold = (f"{name} {SIGNS[side]}" for name in ("held", "store", "threshold"))
    setting = thresholds.setting
    note = f"the {side} store's rest: {setting} / fraction"
    rest = _reference(builder, side, law.least_v / law.share, f"detector.{setting}", note)
    _store(builder, side, thresholds, watched)
    path, note = "detector.hold_resistor", f"{side} peak store"
    builder.resistor(f"latch.{side}.hold_resistor", thresholds.hold_ohm, held, rest, path=path, note=note)
    builder.op_amp(f"latch.{side}.follower", held, copy, copy, note="keeps the divider off the store")
    upper, lower = divider(law.share, total_ohm=FRACTION_OHM)
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
