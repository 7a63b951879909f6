"""How far each device on one board is off: its offset, its bias current, its leakage.

Which way and how far follows the board's number and the device's role alone, so that a device keeps its error whatever
else is on the board. Drawn values are uniform up to the worst, which no maker promises (nor any other distribution):
it is the cautious choice, since most real parts lie nearer to typical.
"""

from __future__ import annotations

from functools import lru_cache
from hashlib import blake2b
from typing import Literal

from sublatch.circuit.devices.classes import Spread
from sublatch.circuit.devices.record import Devices

Sort = Literal["offset", "bias", "leakage"]


def op_amp_offset_v(devices: Devices, role: str) -> float:
    """Return the input offset in volts of the op-amp with a role: the minus input rests so much above the plus one."""
    return _signed(devices, role, _own(devices.op_amp_offset, devices.op_amp_class.offset_v))


def op_amp_bias_a(devices: Devices, role: str) -> float:
    """Return the current in amperes that flows into either input of the op-amp with a role."""
    return _one_way(devices, role, _own(devices.op_amp_bias, devices.op_amp_class.bias_a))


def comparator_offset_v(devices: Devices, role: str) -> float:
    """Return the input offset in volts of the comparator with a role: it changes when plus is so much below minus."""
    return _signed(devices, role, _own(devices.comparator_offset, devices.comparator_class.offset_v))


def comparator_bias_a(devices: Devices, role: str) -> float:
    """Return the current in amperes that flows into either input of the comparator with a role."""
    return _one_way(devices, role, _own(devices.comparator_bias, devices.comparator_class.bias_a))


def diode_leakage_a(devices: Devices, role: str) -> float:
    """Return the current in amperes that the diode with a role lets through in reverse."""
    return _one_way(devices, role, _own(devices.diode_leakage, devices.diode_class.leakage_a))


def _own(own: float | None, spread: Spread) -> Spread:
    """Return the user's own largest value where there is one."""
    return spread if own is None else Spread(own, own)


def _signed(devices: Devices, role: str, spread: Spread) -> float:
    """Return an error of either sign."""
    lot = _lot(devices.board, role, "offset")
    if devices.values == "drawn":
        return lot * spread.worst
    return (1.0 if lot >= 0.0 else -1.0) * _size(devices, spread)


def _one_way(devices: Devices, role: str, spread: Spread) -> float:
    """Return an error whose sign the class says."""
    if devices.values == "drawn":
        return 0.5 * (1.0 + _lot(devices.board, role, "bias")) * spread.worst
    return _size(devices, spread)


def _size(devices: Devices, spread: Spread) -> float:
    """Return how large an error is that is not drawn."""
    return {"ideal": 0.0, "typical": spread.typical, "worst": spread.worst}[devices.values]


@lru_cache(maxsize=1 << 16)
def _lot(board: int, role: str, sort: Sort) -> float:
    """Return a number from −1 to 1 that follows board, role and sort alone, uniform over the boards."""
    digest = blake2b(f"{board}/{role}/{sort}".encode(), digest_size=8).digest()
    return int.from_bytes(digest, "big") / 2.0**63 - 1.0
