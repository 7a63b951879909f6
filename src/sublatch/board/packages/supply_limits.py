"""What supply the classes of parts on a board bear, what they need, and which others qualify."""

from __future__ import annotations

from collections.abc import Mapping

from sublatch.circuit.devices.catalogue import COMPARATORS, OP_AMPS, PAIRS, SWITCHES
from sublatch.circuit.devices.classes import DeviceClass, OpAmpClass
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError
from sublatch.units import format_volts

CHOICES: tuple[tuple[str, str, Mapping[str, DeviceClass]], ...] = (
    ("op_amp", "op-amps", OP_AMPS),
    ("comparator", "comparators", COMPARATORS),
    ("switch", "CMOS flip-flops and switches", SWITCHES),
)
"""Field of `devices`, what such parts are called, and the classes to choose from."""


def part_classes(circuit: Circuit) -> list[tuple[str, DeviceClass]]:
    """Return what the integrated circuits of a board are called, each with the class that the circuit names."""
    classes = [(what, known[getattr(circuit.devices, field)]) for field, what, known in CHOICES]
    if circuit.octave.is_pair:
        classes.append(("transconductance pairs", PAIRS["transconductance"]))
    return classes


def guard_supply(circuit: Circuit) -> None:
    """Refuse a supply that is above what any of a board's parts bears.

    Raises
    ------
    CircuitError
        When it is; it names each sort of part that does not bear it, and the classes that do.
    """
    supply_v = circuit.supply
    harmed = overloaded(circuit, supply_v)
    if not harmed:
        return
    most = format_volts(min(part.most_v for _, part in harmed))
    told = "; ".join(
        f"{described(what, part)} bear {format_volts(part.most_v)}{_instead(what, supply_v)}" for what, part in harmed
    )
    raise CircuitError(
        f"supply must be at most {most} for this board, got {supply_v:.10g} V: {told}; give it {most} or less (what is "
        "only rendered may have more)"
    )


def described(what: str, part: DeviceClass) -> str:
    """Return a sort of part with its class and types."""
    return f"{what} of class {part.name} ({', '.join(part.types)})"


def overloaded(circuit: Circuit, supply_v: float) -> list[tuple[str, DeviceClass]]:
    """Return the sorts of part on a board that do not bear a supply."""
    return [(what, part) for what, part in part_classes(circuit) if supply_v > part.most_v]


def starved(circuit: Circuit, supply_v: float) -> list[tuple[str, DeviceClass]]:
    """Return the sorts of part on a board that need more than a supply."""
    return [(what, part) for what, part in part_classes(circuit) if supply_v < part.least_v]


def qualifying(what: str, supply_v: float) -> list[DeviceClass]:
    """Return the classes of a sort of part that bear a supply and need no more."""
    known = next((known for _, name, known in CHOICES if name == what), {})
    return [part for part in known.values() if part.least_v <= supply_v <= part.most_v]


def op_amps_for(circuit: Circuit) -> list[OpAmpClass]:
    """Return the classes of op-amp that a circuit's supply suits, the circuit's own first whether it does or not."""
    own, supply_v = circuit.devices.op_amp_class, circuit.supply
    return [own, *(one for one in OP_AMPS.values() if one.least_v <= supply_v <= one.most_v and one is not own)]


def _instead(what: str, supply_v: float) -> str:
    """Return which classes bear it, in brackets."""
    names = [part.name for part in qualifying(what, supply_v)]
    return f" (of class {' or '.join(names)} they would bear it)" if names else ""
