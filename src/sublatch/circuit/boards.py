"""Boards of one circuit: its parts somewhere within their tolerances, its devices somewhere within their classes.

A board is a circuit like any other, with other values; whatever works on a circuit works on it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from typing import TypeVar

from pydantic.fields import FieldInfo

from sublatch.checked import Checked, Unit, nested
from sublatch.circuit.components.controls import Pot
from sublatch.circuit.components.lots import lot
from sublatch.circuit.components.tolerances import Tolerances
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError

Record = TypeVar("Record", bound=Checked)

MOST_BOARDS = 1000
DEVICE_ERRORS = ("op_amp_offset", "op_amp_bias", "comparator_offset", "comparator_bias", "diode_leakage")
"""What devices are off by, as the settings of `Devices` that limit it."""


@dataclass(frozen=True)
class BoardDraws:
    """Which boards are looked at.

    Attributes
    ----------
    count
        How many, 1 to 1000.
    first
        Number of the first; the others follow.
    tolerances
        How far their parts may be off, and how they are spread.
    least_supply_v
        Down to where a battery may have aged; None for one that has not.
    """

    count: int = 30
    first: int = 1
    tolerances: Tolerances = field(default_factory=Tolerances)
    least_supply_v: float | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.count <= MOST_BOARDS:
            raise CircuitError(f"boards must be 1 to {MOST_BOARDS}, got {self.count}")

    @property
    def numbers(self) -> range:
        """The boards' numbers."""
        return range(self.first, self.first + self.count)

    def board(self, circuit: Circuit, number: int, *, nominal: Collection[str] = ()) -> Circuit:
        """Return one of them; see `drawn_board`."""
        return drawn_board(
            circuit, number, tolerances=self.tolerances, least_supply_v=self.least_supply_v, nominal=nominal
        )


def drawn_board(
    circuit: Circuit,
    number: int,
    *,
    tolerances: Tolerances | None = None,
    least_supply_v: float | None = None,
    nominal: Collection[str] = (),
) -> Circuit:
    """Return one board of a circuit.

    Parameters
    ----------
    circuit
        The circuit as drawn.
    number
        Which board, 1 or more; the same number is the same board.
    tolerances
        How far resistors, capacitors and pots may be off; 5 %, 10 % and 20 % when not given. Their distribution counts
        for devices too.
    least_supply_v
        Down to where the battery may have aged, in volts, uniform from the circuit's supply; not aged when not given.
    nominal
        Dotted paths of what is not off at all: parts, device errors such as ``devices.comparator_offset``, ``supply``.

    Returns
    -------
    Circuit
        With every part's value drawn by its own path, and `devices.values` ``drawn``.

    Raises
    ------
    CircuitError
        When the battery may have aged to more than the circuit's supply.
    """
    tolerances = tolerances or Tolerances()

    def off(path: str, sort: str) -> float:
        if path in nominal:
            return 0.0
        return tolerances.shares[sort] * lot(number, path, tolerances.distribution)

    drawn: dict[str, object] = {"values": "drawn", "board": number, "distribution": tolerances.distribution}
    drawn |= {name: 0.0 for name in DEVICE_ERRORS if f"devices.{name}" in nominal}
    update: dict[str, object] = {"devices": circuit.devices.model_copy(update=drawn)}
    if least_supply_v is not None:
        if least_supply_v > circuit.supply:
            raise CircuitError(
                f"a battery ages to less than its {circuit.supply:g} V, got {least_supply_v:g} V as its least"
            )
        aged = 0.0 if "supply" in nominal else 0.5 * (1.0 - lot(number, "battery"))
        update["supply"] = circuit.supply - aged * (circuit.supply - least_supply_v)
    return _changed(circuit, "", off).model_copy(update=update)


def drawn_paths(circuit: Circuit) -> tuple[str, ...]:
    """Return the dotted paths of all that may be off on a board of a circuit: parts, device errors, supply."""
    parts: list[str] = []

    def listed(path: str, sort: str) -> float:
        parts.append(path)
        return 0.0

    _changed(circuit, "", listed)
    return (*parts, *(f"devices.{name}" for name in DEVICE_ERRORS), "supply")


def _changed(record: Record, path: str, off: Callable[[str, str], float]) -> Record:
    """Return a record with each part in it, and in the records within it, off by a share that its path and sort give.

    Sorts are those of `Tolerances`: resistor, capacitor and pot.
    """
    update: dict[str, object] = {}
    for name, info in type(record).model_fields.items():
        value, inner = getattr(record, name), f"{path}.{name}".strip(".")
        if isinstance(value, Pot):
            update[name] = value.model_copy(update={"value": value.value * (1.0 + off(inner, "pot"))})
        elif isinstance(value, Checked):
            update[name] = _changed(value, inner, off)
        elif isinstance(value, tuple) and any(isinstance(part, Checked) for part in value):
            update[name] = tuple(
                _changed(part, f"{inner}.{getattr(part, 'name', place)}", off) if isinstance(part, Checked) else part
                for place, part in enumerate(value)
            )
        elif isinstance(value, float) and (sort := _sort(info)):
            update[name] = value * (1.0 + off(inner, sort))
    return record.model_copy(update=update)


def _sort(field: FieldInfo) -> str:
    """Return whether a field is a resistor's or a capacitor's value; empty where it is no part's."""
    parts = (part for part in (*field.metadata, *nested(field.annotation)) if isinstance(part, Unit))
    return {"Ω": "resistor", "F": "capacitor"}.get(next(parts, Unit("")).symbol, "")
