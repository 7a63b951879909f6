"""Which common types of integrated circuit a circuit's classes of parts allow, by the kind of their sections."""

from __future__ import annotations

from sublatch.circuit.devices.catalogue import PAIRS
from sublatch.circuit.devices.classes import DeviceClass
from sublatch.circuit.model import Circuit

CMOS_NUMBERS = {"flip-flop": "4013", "analogue switch": "4053"}
"""What the types of one kind have in their names: one class holds both."""


def package_class(circuit: Circuit, kind: str) -> DeviceClass:
    """Return the class of part that the sections of one kind are of."""
    devices = circuit.devices
    known: dict[str, DeviceClass] = {
        "op-amp": devices.op_amp_class,
        "comparator": devices.comparator_class,
        "flip-flop": devices.switch_class,
        "analogue switch": devices.switch_class,
        "transconductance amplifier": PAIRS["transconductance"],
    }
    return known[kind]


def package_types(circuit: Circuit, kind: str) -> tuple[str, ...]:
    """Return the types that qualify for a package with sections of one kind."""
    return tuple(one for one in package_class(circuit, kind).types if CMOS_NUMBERS.get(kind, "") in one)
