"""The octave stage as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS
from sublatch.circuit.octave_stages.base import NOTE, SWITCHED


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
