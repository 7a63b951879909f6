"""The output stage as components."""

from __future__ import annotations

from math import log10

from sublatch.board.builder import Builder
from sublatch.board.filters import put_parts
from sublatch.board.netlist import BIAS, ZERO
from sublatch.circuit.networks.elements import GROUND
from sublatch.circuit.output_buffers.base import BUFFERED

OUTPUT_FARAD, PULL_DOWN_OHM, SERIES_OHM = 10e-6, 100e3, 470.0
"""What keeps the bias off the output jack, 1.6 Hz into 10 kΩ, and what keeps a cable off the buffer. Drawn choice."""


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
    builder.electrolytic("output.capacitor", OUTPUT_FARAD, "buffered", "output.ac", note=note)
    note = "keeps the output at 0 V, so that the footswitch does not pop"
    builder.resistor("output.pull_down", PULL_DOWN_OHM, "output.ac", ZERO, note=note, tolerance="5 %")
    note = "keeps a cable's capacitance off the buffer, and bears a short circuit"
    builder.resistor("output.series_resistor", SERIES_OHM, "output.ac", "out", note=note)
    pins = (("tip", "output tip"), ("sleeve", ZERO))
    builder.other("J", "jack", "mono jack", "output.jack", pins, note="output")
    loss_db = 20.0 * log10(1.0 + SERIES_OHM / 10e3)
    builder.notes.append(
        "The model ends at the output buffer. The capacitor and the resistor after it are this drawing's; with a load "
        f"of 10 kΩ or more its corner lies below 1.8 Hz, and the resistor takes off at most {loss_db:.1g} dB."
    )
