"""What lies ahead of the comparators as components: stage by stage, whatever the kind of detector."""

from __future__ import annotations

from itertools import pairwise

from sublatch.board.builder import Builder
from sublatch.board.filters import add_filter
from sublatch.board.netlist import BIAS
from sublatch.circuit.detectors.bends import Logarithmic
from sublatch.circuit.detectors.front import (
    COUPLED,
    HALF_OHM,
    LINK_OHM,
    RECTIFIER_OHM,
    Filtered,
    Parts,
    Rectifier,
    Stage,
)
from sublatch.circuit.detectors.leveller import Leveller
from sublatch.circuit.networks.elements import Capacitor, OpAmp
from sublatch.units import format_farads

SIGNAL_DIODE = "1N4148"
OTHER_OHM, AROUND_OHM = 10e3, 220e3
"""The rectifier's other resistors, whose shares `_rectifier` explains; drawn choice."""
LARGE_FARAD = 2.2e-6
"""From this value on film is large; common practice, no source."""


def add_detector(builder: Builder) -> str:
    """Put all that lies ahead of the comparators and return the net that they watch."""
    detector = builder.circuit.detector
    for stage in detector.front.stages:
        builder.block = stage.block
        _stage(builder, stage)
    net = detector.front.output
    builder.block = "detector"
    return net if detector.leveller is None else _leveller(builder, detector.leveller, net)


def _stage(builder: Builder, stage: Stage) -> None:
    """Put one stage."""
    if isinstance(stage, Rectifier):
        _rectifier(builder, stage)
    elif isinstance(stage, Filtered):
        path = f"detector.{stage.setting}"
        net = add_filter(builder, stage.filter, path=path, source=stage.source, output=stage.output)
        if stage.follows:
            role, note = f"detector.{stage.follower}", "drives what follows"
            builder.op_amp(role, net, stage.end, stage.end, note=note)
    else:
        _parts(builder, stage)


def _parts(builder: Builder, stage: Parts) -> None:
    """Put a stage's parts, and the diodes of a logarithmic amplifier."""
    coarse = {part.name: "10 %" for part in stage.parts if isinstance(part, Capacitor) and "coupling" in part.name}
    builder.network(stage.parts, prefix="detector.", notes=stage.notes, tolerances=coarse)
    if any(isinstance(part, Capacitor) and part.farad >= LARGE_FARAD for part in stage.parts):
        builder.notes.append(
            f"Capacitors of {format_farads(LARGE_FARAD)} and more in the detector have next to no direct voltage: they "
            "are film or, where that is too large, electrolytic of the bipolar sort."
        )
    for bend in stage.bends:
        if isinstance(bend.law, Logarithmic):
            minus = next(part.minus for part in stage.parts if isinstance(part, OpAmp) and part.output == bend.output)
            _diodes(builder, bend.law.diodes, minus, bend.output)


def _diodes(builder: Builder, count: int, minus: str, output: str) -> None:
    """Put a string of diodes either way across the feedback of a logarithmic amplifier."""
    for way, first, last in (("falling", minus, output), ("rising", output, minus)):
        nets = [first, *(f"amplifier.{way}{place}" for place in range(1, count)), last]
        for place, (anode, cathode) in enumerate(pairwise(nets), start=1):
            note = f"{way} half waves, by the logarithm of the current"
            builder.diode(f"amplifier.{way}.{place}", SIGNAL_DIODE, anode, cathode, note=note)


def _rectifier(builder: Builder, stage: Rectifier) -> None:
    """Put a precision full-wave rectifier.

    Its first op-amp takes the positive half waves' current through the resistor to ``rectifier.half`` and gives the
    negative ones' through the one from ``rectifier.other``, each by its diode. The second has its plus input on the
    latter. With Ri at the input, Rh to half, Rl from there on, R around the second and Ro from other, positive half
    waves pass with a gain of (Rh / Ri) · (R / Rl), negative ones with (Ro || (Rh + Rl)) / Ri · (1 + R / (Rh + Rl)).
    Both are exactly 1 here. Of what comes up to 3 V the first has to give 15 / 22 and a diode's 0.6 V. The kink is off
    by the second op-amp's offset times Ri / (Rh + Rl), an eighth. With both diodes turned round it gives minus all
    that.
    """
    note = "rectifier; the five match within 1 %"
    path = f"detector.{stage.coupling_setting}"
    builder.capacitor(path, stage.coupling_farad, stage.source, COUPLED, tolerance="10 %")
    minus, half, other, total = (f"rectifier.{net}" for net in ("minus", "half", "other", "sum"))
    builder.resistor("rectifier.input", RECTIFIER_OHM, COUPLED, minus, note=note)
    builder.resistor("rectifier.around", OTHER_OHM, other, minus, note=note)
    builder.resistor("rectifier.feedback", HALF_OHM, half, minus, note=note)
    negative = stage.sign < 0
    idle, passed = ("positive", "negative") if negative else ("negative", "positive")
    drive = "rectifier.drive"
    for role, nets, halves in (("other_diode", (drive, other), idle), ("diode", (half, drive), passed)):
        anode, cathode = reversed(nets) if negative else nets
        builder.diode(f"rectifier.{role}", SIGNAL_DIODE, anode, cathode, note=f"{halves} half waves")
    builder.op_amp("rectifier.first", BIAS, minus, drive, note="parts the half waves")
    builder.resistor("rectifier.link", LINK_OHM, half, total, note=note)
    builder.resistor("rectifier.gain", AROUND_OHM, total, stage.output, note=note)
    builder.op_amp("rectifier.second", other, total, stage.output, note="adds both to a full wave")


def _leveller(builder: Builder, leveller: Leveller, source: str) -> str:
    """Put the leveller's store and a block for the rest of it, and return the net of its output."""
    path = "detector.leveller"
    pins = (("in", source), ("out", "levelled"), ("store", "leveller.store"))
    note = f"gain: {leveller.target:g} V over the stored peak, at most {leveller.most_gain:g}"
    builder.other("X", "block", "leveller", path, pins, path=path, note=note)
    builder.resistor(f"{path}.hold_resistor", leveller.hold_resistor, "leveller.store", BIAS)
    builder.capacitor(f"{path}.hold_capacitor", leveller.hold_capacitor, "leveller.store", BIAS, tolerance="10 %")
    builder.notes.append(
        "The leveller divides by the stored peak, which no few parts do truly: it is drawn as a block, to be built "
        "as any voltage-controlled amplifier with that law."
    )
    return "levelled"
