"""The output stage as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.filters import put_parts
from sublatch.board.netlist import BIAS, ZERO
from sublatch.circuit.networks.elements import GROUND
from sublatch.circuit.output_buffers.base import BUFFERED

OUTPUT_FARAD, PULL_DOWN_OHM = 10e-6, 100e3
"""What keeps the bias off the output jack: 1.6 Hz into 10 kΩ. Drawn choice."""


def add_output(builder: Builder, mixed: str) -> None:
    """Put coupling, trim, volume and buffer, from the net that the mixing stage gives to the jack."""
    builder.block = "output"
    output = builder.circuit.output
    builder.capacitor("output.coupling", output.coupling, mixed, "output.coupled", tolerance="10 %")
    top = "output.coupled"
    if output.trim_resistor is not None:
        top = "output.trimmed"
        builder.resistor("output.trim_resistor", output.trim_resistor, "output.coupled", top)
    builder.pot("output.pot", output.pot, (BIAS, "output.wiper", top), control="volume", path="output.pot")
    nets = {BUFFERED: "buffered", GROUND: BIAS}
    put_parts(builder, output.wiring().parts, "output", lambda node: nets.get(node, f"output.{node}"))
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
