"""The divider and the octave stage as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS, ZERO
from sublatch.circuit.octave_stages.base import NOTE, SWITCHED


def add_divider(builder: Builder) -> None:
    """Put the drive switch and the flip-flops that halve the rate, up to net ``drive``."""
    builder.block = "divider"
    nets = (("clock", "latch", "not latch"),)
    builder.poles(("switches.drive",), nets, control="drive", path="switches.drive")
    stages = builder.circuit.divider.stages
    clock = "clock"
    for stage in range(1, stages + 1):
        half, inverted = f"half{stage}", "drive" if stage == stages else f"not half{stage}"
        pins = [("D", inverted), ("CLK", clock), ("S", ZERO), ("R", ZERO), ("/Q", inverted)]
        pins += [("Q", half)] if stage < stages else []
        note = f"flip-flop {stage} of the divider: each rise of its clock turns it over"
        builder.section("flip-flop", f"divider.{stage}", tuple(pins), note=note)
        clock = half
    builder.notes.append(
        "The drive switch feeds the divider from the latch or from its complement, which is what turning the note over "
        "ahead of the comparators comes to. Which half comes first after switching on is left to chance."
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
