"""Boards of one circuit: its parts somewhere within their tolerances, its devices somewhere within their classes.

A board is a circuit like any other, with other values; whatever works on a circuit works on it.
"""

from __future__ import annotations

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


def drawn_board(
    circuit: Circuit, number: int, *, tolerances: Tolerances | None = None, least_supply_v: float | None = None
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
    board = _drawn(circuit, "", number, tolerances)
    devices = circuit.devices.model_copy(
        update={"values": "drawn", "board": number, "distribution": tolerances.distribution}
    )
    update: dict[str, object] = {"devices": devices}
    if least_supply_v is not None:
        if least_supply_v > circuit.supply:
            raise CircuitError(
                f"a battery ages to less than its {circuit.supply:g} V, got {least_supply_v:g} V as its least"
            )
        aged = 0.5 * (1.0 - lot(number, "battery"))
        update["supply"] = circuit.supply - aged * (circuit.supply - least_supply_v)
    return board.model_copy(update=update)


def _drawn(record: Record, path: str, number: int, tolerances: Tolerances) -> Record:
    """Return a record with every resistance and capacitance in it, and in the records within it, drawn."""
    update: dict[str, object] = {}
    for name, field in type(record).model_fields.items():
        value, inner = getattr(record, name), f"{path}.{name}".strip(".")
        if isinstance(value, Pot):
            share = tolerances.pot * lot(number, inner, tolerances.distribution)
            update[name] = value.model_copy(update={"value": value.value * (1.0 + share)})
        elif isinstance(value, Checked):
            update[name] = _drawn(value, inner, number, tolerances)
        elif isinstance(value, tuple) and any(isinstance(part, Checked) for part in value):
            update[name] = tuple(
                _drawn(part, f"{inner}.{place}", number, tolerances) if isinstance(part, Checked) else part
                for place, part in enumerate(value)
            )
        elif isinstance(value, float) and (share := _tolerance(field, tolerances)):
            update[name] = value * (1.0 + share * lot(number, inner, tolerances.distribution))
    return record.model_copy(update=update)


def _tolerance(field: FieldInfo, tolerances: Tolerances) -> float:
    """Return how far the value of a field may be off; 0 where it is no part's."""
    parts = (part for part in (*field.metadata, *nested(field.annotation)) if isinstance(part, Unit))
    return {"Ω": tolerances.resistor, "F": tolerances.capacitor}.get(next(parts, Unit("")).symbol, 0.0)
