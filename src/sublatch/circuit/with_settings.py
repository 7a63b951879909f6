"""A circuit with some of its settings elsewhere: knobs turned, switches thrown, parts exchanged."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from sublatch.checked import Checked, check
from sublatch.circuit.model import Circuit
from sublatch.circuit.origins import without_marks
from sublatch.errors import CircuitError

Table = TypeVar("Table", bound=Checked)


def with_settings(circuit: Circuit, settings: Mapping[str, Any]) -> Circuit:
    """Return a circuit with some settings elsewhere; searches call it for every trial.

    Parameters
    ----------
    circuit
        The circuit.
    settings
        Values by dotted path, such as ``{"knobs.tone": 3.5, "switches.peak": "peaked"}``; None where one is left out.

    Returns
    -------
    Circuit
        With all other settings as they were; those changed have lost their marks in ``origins``.

    Raises
    ------
    CircuitError
        When the circuit has no such setting, or a value is out of its range.

    Notes
    -----
    Each value is checked against those beside it in its table, not against the rest of the circuit: whether its filter
    has a tone knob at all, the caller knows. A new ``kind`` comes by way of `load.changed`, which brings its values.
    """
    changed = _with(circuit, settings, "")
    if not circuit.origins:
        return changed
    return changed.model_copy(update={"origins": without_marks(circuit.origins, settings)})


def _with(table: Table, settings: Mapping[str, Any], above: str) -> Table:
    """Return a table with new values in it and in the tables within it."""
    values: dict[str, Any] = {}
    within: dict[str, dict[str, Any]] = {}
    for path, value in settings.items():
        name, _, rest = path.partition(".")
        if not rest:
            values[name] = value
        elif isinstance(getattr(table, name, None), Checked):
            within.setdefault(name, {})[rest] = value
        else:
            raise CircuitError(f"there must be a setting {above}{path}, and this circuit has no table {above}{name}")
    if values:
        checked = check(
            type(table), {**dict(table), **values}, source=above.removesuffix(".") or "circuit", error=CircuitError
        )
        values = {name: getattr(checked, name) for name in values}
    for name, further in within.items():
        values[name] = _with(getattr(table, name), further, f"{above}{name}.")
    return table.model_copy(update=values)
