"""The octave stage as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS
from sublatch.circuit.model import GainGated

INVERTER_OHM = 22e3
"""The two equal resistors that make the gain −1; drawn choice."""


def add_octave(builder: Builder) -> None:
    """Put the switch that the drive works and its op-amp, from ``note`` to ``octave``."""
    builder.block = "octave"
    octave = builder.circuit.octave
    pins = (("A", "drive"), ("1", "note"), ("0", BIAS), ("common", "octave.switched"))
    note = "the note while the drive is high, the bias while it is low"
    builder.section("analogue switch", "octave.switch", pins, note=note)
    if isinstance(octave, GainGated):
        builder.op_amp("octave.amplifier", "octave.switched", "octave", "octave", note="follower of the gate")
    else:
        note = "inverter: the two match within 1 %"
        builder.resistor("octave.input", INVERTER_OHM, "note", "octave.minus", note=note)
        builder.resistor("octave.feedback", INVERTER_OHM, "octave.minus", "octave", note=note)
        note = "gain +1 with its plus input at the note, −1 with it at the bias"
        builder.op_amp("octave.amplifier", "octave.switched", "octave.minus", "octave", note=note)
    if octave.linear_range is not None:
        builder.notes.append(
            "octave.linear_range is the bend of a transconductance pair; the switch that is drawn has none."
        )
