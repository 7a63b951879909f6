"""Input, supply and bias as components."""

from __future__ import annotations

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.circuit.components.dividers import divider
from sublatch.units import format_volts

BIAS_STRING_OHM = 200e3
"""Both resistors of the bias divider together; drawn choice."""
BULK_FARAD, BIAS_FARAD = 100e-6, 10e-6
"""Across the supply and across the bias divider; common practice, no source."""
DIODE_V = 0.3
"""What the protection diode takes off, a Schottky; common practice, no source."""


def add_input(builder: Builder) -> None:
    """Put the input jack, the coupling, the input resistance and the follower."""
    builder.block = "input"
    part = builder.circuit.input
    jack = (("tip", "in"), ("ring", "battery-"), ("sleeve", ZERO))
    note = "a mono plug joins ring and sleeve and so switches the battery on"
    builder.other("J", "jack", "stereo jack", "input.jack", jack, note=note)
    builder.capacitor("input.coupling", part.coupling, "in", "input.a", tolerance="10 %")
    builder.resistor("input.resistance", part.resistance, "input.a", BIAS)
    builder.op_amp("input.follower", "input.a", "note", "note", note="input follower")


def add_supply(builder: Builder) -> None:
    """Put the battery, the supply jack, the protection and the bias rail."""
    builder.block = "supply"
    circuit = builder.circuit
    volts = format_volts(circuit.supply)
    battery = (("a", "battery+"), ("b", "battery-"))
    builder.other("BT", "battery", volts, "supply.battery", battery, path="supply", note="")
    jack = (("switch", "battery+"), ("plus", "raw"), ("minus", ZERO))
    note = "its switch takes the battery off when a plug is in; mark which contact is plus"
    builder.other("J", "jack", "supply jack", "supply.jack", jack, note=note)
    protection = f"keeps a wrong polarity out; drops about {DIODE_V:g} V"
    builder.diode("supply.protection", "1 A Schottky", "raw", SUPPLY, note=protection)
    builder.electrolytic("supply.bulk", BULK_FARAD, SUPPLY, ZERO, note="holds the supply still")
    upper, lower = divider(circuit.output.bias, total_ohm=BIAS_STRING_OHM)
    builder.resistor("bias.upper", upper, SUPPLY, "bias.divider", path="output.bias", note="upper half of the bias")
    builder.resistor("bias.lower", lower, "bias.divider", ZERO, path="output.bias", note="lower half of the bias")
    builder.electrolytic("bias.capacitor", BIAS_FARAD, "bias.divider", ZERO, note="keeps the supply's noise out")
    builder.op_amp("bias.follower", "bias.divider", BIAS, BIAS, note="drives the bias rail")
    builder.notes.append(
        "What the circuit file calls ground for the signal is the bias rail; only jacks, supply and logic are at 0 V."
    )
    builder.notes.append(
        f"The circuit's supply is meant after the protection diode: a battery reads about {DIODE_V:g} V more than the "
        "model."
    )
