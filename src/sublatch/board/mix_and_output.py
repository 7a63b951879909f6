"""Mix and output as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS, ZERO

OUTPUT_FARAD, PULL_DOWN_OHM = 10e-6, 100e3
"""What keeps the bias off the output jack: 1.6 Hz into 10 kΩ. Drawn choice."""


def add_mix(builder: Builder, filtered: str) -> None:
    """Put the direct pot, the two resistors that add, and their follower, up to ``mixed``."""
    builder.block = "mix"
    mix = builder.circuit.mix
    wiper = BIAS
    if "direct" not in (builder.circuit.hardwired or ()):
        wiper = "direct wiper"
        builder.pot("mix.direct_pot", mix.direct_pot, (BIAS, wiper, "note"), control="direct", path="mix.direct_pot")
    builder.resistor("mix.octave_resistor", mix.octave_resistor, filtered, "mix.joint")
    builder.resistor("mix.direct_resistor", mix.direct_resistor, wiper, "mix.joint")
    builder.op_amp("mix.follower", "mix.joint", "mixed", "mixed", note="follower of the mix")


def add_output(builder: Builder) -> None:
    """Put coupling, trim, volume, load and buffer, from ``mixed`` to the jack."""
    builder.block = "output"
    output = builder.circuit.output
    builder.capacitor("output.coupling", output.coupling, "mixed", "output.coupled", tolerance="10 %")
    top = "output.coupled"
    if output.trim_resistor is not None:
        top = "output.trimmed"
        builder.resistor("output.trim_resistor", output.trim_resistor, "output.coupled", top)
    builder.pot("output.pot", output.pot, (BIAS, "output.wiper", top), control="volume", path="output.pot")
    builder.resistor("output.load", output.load, "output.wiper", BIAS)
    builder.resistor("output.feedback_resistor", output.feedback_resistor, "output.minus", "buffered")
    builder.resistor("output.ground_resistor", output.ground_resistor, "output.minus", BIAS)
    builder.op_amp("output.buffer", "output.wiper", "output.minus", "buffered", note="output buffer")
    note = "keeps the bias off the output jack; its plus end to the buffer"
    builder.electrolytic("output.capacitor", OUTPUT_FARAD, "buffered", "out", note=note)
    note = "keeps the output jack at 0 V"
    builder.resistor("output.pull_down", PULL_DOWN_OHM, "out", ZERO, note=note, tolerance="5 %")
    pins = (("tip", "out"), ("sleeve", ZERO))
    builder.other("J", "jack", "mono jack", "output.jack", pins, note="output")
    builder.notes.append(
        "The model ends at the output buffer. The capacitor after it is this drawing's; with a load of 10 kΩ or more "
        "its corner lies below 1.8 Hz."
    )
