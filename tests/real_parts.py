"""What the devices of a circuit are off, as plain numbers for the differential equations (see `front_equations`)."""

from __future__ import annotations

from front_equations import Real
from sublatch.circuit.devices.errors import (
    comparator_bias_a,
    comparator_offset_v,
    diode_leakage_a,
    op_amp_offset_v,
)
from sublatch.circuit.idle import op_amp_limits_v
from sublatch.circuit.model import Circuit

WORST = {
    "devices.values": "worst",
    "devices.op_amp_offset": "10mV",
    "devices.op_amp_bias": 0.0,
    "devices.comparator_offset": "5mV",
    "devices.comparator_bias": "-250nA",
    "devices.diode_leakage": "25nA",
}
"""Every offset and current at its most, either sign by the board's number."""
ROLES = {
    "input": "input.follower",
    "band filter": "detector.band.filter.follower",
    "band": "detector.band.amplifier",
    "rectifier.first": "rectifier.first",
    "rectifier.second": "rectifier.second",
    "low-pass": "detector.filter.follower",
    "first": "detector.gain.amplifier",
    "second": "detector.gain.second_amplifier",
    "amplifier": "detector.amplifier.amplifier",
    "store +": "latch.positive.charge",
    "store -": "latch.negative.charge",
}
"""By the names of the equations: the op-amps' roles on the board."""


def real_parts(circuit: Circuit) -> Real:
    """Return what a circuit's devices are off; what the op-amps' own currents do is left out, and so must be none."""
    devices = circuit.devices
    return Real(
        offset={name: op_amp_offset_v(devices, role) for name, role in ROLES.items()},
        comparator=(-comparator_offset_v(devices, "latch.set"), -comparator_offset_v(devices, "latch.reset")),
        input_current=-comparator_bias_a(devices, "latch.set"),
        leakage=diode_leakage_a(devices, "latch.positive.diode"),
        limits=op_amp_limits_v(circuit),
    )
