"""Input, supply and bias as components."""

from __future__ import annotations

from math import log10, pi

from sublatch.board.builder import Builder
from sublatch.board.netlist import BIAS, SUPPLY, ZERO
from sublatch.circuit.components.dividers import divider
from sublatch.circuit.components.preferred import nearest
from sublatch.circuit.devices.catalogue import DIODES
from sublatch.units import format_farads, format_hertz, format_ohms, format_volts

BIAS_STRING_OHM = 200e3
"""Both resistors of the bias divider together; drawn choice."""
BULK_FARAD, BIAS_FARAD = 100e-6, 10e-6
"""Across the supply and across the bias divider; common practice, no source."""
PROTECTION = "1 A Schottky"
"""What keeps a wrong polarity out."""
BATTERY_V, NEAR_V = 9.0, 0.7
"""Of one battery, and how far the supply may lie from a whole number of them."""
DIODE_V = 0.3
"""What the protection diode takes off, a Schottky; common practice, no source."""


PULL_DOWN_OHM, SERIES_OHM, RADIO_FARAD = 2.2e6, 1e3, 100e-12
"""At the input: what keeps it at 0 V while nothing is plugged in, what radio and overvoltage meet first, and what takes
radio away; common practice, no source."""
CLAMP = DIODES["low-leakage"].types[0]
"""One whose leakage moves the input less than the op-amps' offsets do."""
LAMP_V, LAMP_A = 2.0, 1e-3
"""A red lamp's forward voltage, and the current at which it is seen on a stage; common practice, no source."""

LEFT_OUT = (
    "A current limit or fuse: a battery's own resistance and a mains supply's limit do that; the diode bears 1 A.",
    "A filter of the supply beyond its large capacitor: a supply that hums is a bad one, and the bias is filtered.",
    "Protection against more than the supply's own voltage at the supply jack: read the plug's label first.",
    "A limiter against overvoltage at the output jack: its series resistor and the buffer bear a short circuit.",
    "Silent switching of the footswitch by a transistor: it is mechanical, and all that it switches rests at 0 V.",
    "Trimming of op-amps' offsets: what they come to is in the bench table, and no loudspeaker sees direct current.",
    "Compensation of input bias currents by equal resistors: with the classes of op-amp that it matters for, the bench "
    "table's ranges tell how much.",
    "Ferrite beads and screening: use a metal box, joined to 0 V at one place.",
)
"""What every board leaves out, and why."""


def add_input(builder: Builder) -> None:
    """Put the input jack, the footswitch, the protection, the coupling, the input resistance and the follower."""
    builder.block = "input"
    part = builder.circuit.input
    jack = (("tip", "input tip"), ("ring", "battery-"), ("sleeve", ZERO))
    note = "a mono plug joins ring and sleeve and so switches the battery on"
    builder.other("J", "jack", "stereo jack", "input.jack", jack, note=note)
    _footswitch(builder)
    note = "holds the input at 0 V, so that the footswitch does not pop"
    builder.resistor("input.pull_down", PULL_DOWN_OHM, "in", ZERO, note=note, tolerance="5 %")
    note = "what overvoltage and radio meet first"
    builder.resistor("input.series_resistor", SERIES_OHM, "in", "input.guarded", note=note)
    builder.capacitor("input.radio_capacitor", RADIO_FARAD, "input.guarded", ZERO, note="keeps radio out")
    builder.capacitor("input.coupling", part.coupling, "input.guarded", "input.a", tolerance="10 %")
    builder.resistor("input.resistance", part.resistance, "input.a", BIAS)
    note = "leads overvoltage at the input to the supply's ends"
    builder.diode("input.clamp_high", CLAMP, "input.a", SUPPLY, note=note)
    builder.diode("input.clamp_low", CLAMP, ZERO, "input.a", note=note)
    builder.op_amp("input.follower", "input.a", "note", "note", note="input follower")
    builder.notes.append(_input_note(part.resistance))


def _footswitch(builder: Builder) -> None:
    """Put the footswitch, whose third pole lights the lamp or mutes the input, and the lamp."""
    nets = (("input tip", "in", "bypass"), ("output tip", "out", "bypass"), (ZERO, "lamp", "in"))
    roles = tuple(f"footswitch.{pole}" for pole in ("input", "output", "lamp"))
    note = "true bypass; its third pole lights the lamp, or holds the input at 0 V while bypassed"
    builder.poles(roles, nets, control="bypass", path=None, note=note)
    across_v = max(builder.circuit.supply - LAMP_V, 0.5)
    note = f"lets about {LAMP_A * 1e3:g} mA through the lamp"
    builder.resistor("lamp.resistor", nearest(across_v / LAMP_A), SUPPLY, "lamp anode", note=note, tolerance="5 %")
    note = "lights while the effect is on; the shorter lead is the cathode"
    pins = (("a", "lamp anode"), ("b", "lamp"))
    builder.other("D", "lamp", "red LED", "lamp", pins, note=note)


def _input_note(resistance_ohm: float) -> str:
    """Return what the parts at the input that the model has not do, in figures."""
    seen_ohm = 1.0 / (1.0 / PULL_DOWN_OHM + 1.0 / (resistance_ohm + SERIES_OHM))
    loss_db = 20.0 * log10(1.0 + SERIES_OHM / resistance_ohm)
    corner_hz = 1.0 / (2.0 * pi * SERIES_OHM * RADIO_FARAD)
    return (
        f"The model begins at the input's coupling capacitor. Ahead of it this drawing has a pull-down, a series "
        f"resistor and a capacitor against radio: the instrument sees {format_ohms(float(f'{seen_ohm:.3g}'))} and "
        f"{format_farads(RADIO_FARAD)} (as a metre of cable has), the note is {loss_db:.2g} dB softer, the corner of "
        f"the coupling moves by {SERIES_OHM / (resistance_ohm + SERIES_OHM):.1%}, and that against radio lies at "
        f"{format_hertz(float(f'{corner_hz:.2g}'))} from a source of low impedance. The bench table counts all this in."
    )


def battery_count(supply_v: float) -> int:
    """Return how many 9 V batteries in a row give a supply; 0 where none do."""
    count = round(supply_v / BATTERY_V)
    return count if abs(supply_v - count * BATTERY_V) <= NEAR_V else 0


def add_supply(builder: Builder) -> None:
    """Put the battery, the supply jack, the protection and the bias rail."""
    builder.block = "supply"
    circuit = builder.circuit
    volts = format_volts(circuit.supply)
    battery = (("a", "battery+"), ("b", "battery-"))
    builder.other("BT", "battery", volts, "supply.battery", battery, path="supply", note="")
    jack = (("switch", "battery+"), ("plus", "raw"), ("minus", ZERO))
    note = (
        "centre contact minus, sleeve plus, as most pedals' supplies have it (common practice, no source); its switch "
        "takes the battery off when a plug is in"
    )
    builder.other("J", "jack", "supply jack, centre minus", "supply.jack", jack, note=note)
    protection = f"keeps a wrong polarity out; drops about {DIODE_V:g} V"
    builder.diode("supply.protection", PROTECTION, "raw", SUPPLY, note=protection)
    builder.electrolytic("supply.bulk", BULK_FARAD, SUPPLY, ZERO, note="holds the supply still")
    upper, lower = divider(circuit.output.bias, total_ohm=BIAS_STRING_OHM)
    builder.resistor("bias.upper", upper, SUPPLY, "bias.divider", path="output.bias", note="upper half of the bias")
    builder.resistor("bias.lower", lower, "bias.divider", ZERO, path="output.bias", note="lower half of the bias")
    builder.electrolytic("bias.capacitor", BIAS_FARAD, "bias.divider", ZERO, note="keeps the supply's noise out")
    builder.left_out += LEFT_OUT
    builder.op_amp("bias.follower", "bias.divider", BIAS, BIAS, note="drives the bias rail")
    builder.notes.append(
        "What the circuit file calls ground for the signal is the bias rail; only jacks, supply and logic are at 0 V."
    )
    builder.notes.append(
        f"The circuit's supply is meant after the protection diode: a battery reads about {DIODE_V:g} V more than the "
        "model."
    )
