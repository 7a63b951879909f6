"""How one circuit's detector differs from another's, as changes that a circuit file takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from sublatch import units
from sublatch.checked import Checked, Unit
from sublatch.circuit.load import changed
from sublatch.circuit.model import Circuit

_FORMATS: dict[str, Callable[[float], str]] = {
    "Ω": units.format_ohms,
    "F": units.format_farads,
    "V": units.format_volts,
    "s": units.format_seconds,
}


def changes_between(start: Circuit, end: Circuit) -> dict[str, str]:
    """Return what turns the detector and the drive switch of `start` into those of `end`.

    Parameters
    ----------
    start, end
        Circuits that differ in nothing else.

    Returns
    -------
    dict
        Values as the trade writes them by dotted path, for `load_circuit`. A changed ``kind`` stands before the
        settings that it brings with it, of which only those are listed that differ from its own values.
    """
    told = dict(_leaves(end))
    kinds = {path: value for path, value in told.items() if path.endswith(".kind")}
    begun, changes = dict(_leaves(start)), dict[str, str]()
    for path, value in sorted(kinds.items(), key=lambda item: item[0].count(".")):  # a detector's brings its filters'
        if begun.get(path) != value:
            changes[path] = value
            begun = dict(_leaves(Circuit.model_validate(changed(start.model_dump(exclude_none=True), changes))))
    different = {path: value for path, value in told.items() if begun.get(path) != value}
    unsaid = tuple(path.removesuffix("kind") for path in kinds if _is_unsaid(start, path, different))
    needed = {path: value for path, value in told.items() if path.startswith(unsaid)}
    return {**changes, **needed, **different}


def _leaves(circuit: Circuit) -> Iterator[tuple[str, str]]:
    """Give path and text of every setting of the detector and of the drive switch."""
    yield "switches.drive", circuit.switches.drive
    yield from _texts(circuit.detector, "detector.")


def _texts(table: Checked, above: str) -> Iterator[tuple[str, str]]:
    """Give path and text of every setting of a table, its kind first."""
    for name in sorted(type(table).model_fields, key=lambda name: name != "kind"):
        value = getattr(table, name)
        if isinstance(value, Checked):
            yield from _texts(value, f"{above}{name}.")
        elif value is not None:
            yield f"{above}{name}", _text(value, type(table).model_fields[name].metadata)


def _text(value: Any, metadata: list[Any]) -> str:
    """Return a value as the trade writes it."""
    unit = next((part.symbol for part in metadata if isinstance(part, Unit)), "")
    if isinstance(value, float):
        return _FORMATS[unit](value) if unit in _FORMATS else f"{100 * value:.6g}%"
    return str(value)


def _is_unsaid(start: Circuit, path: str, different: dict[str, str]) -> bool:
    """Return whether a table is changed within of which the starting circuit's file says nothing, not even its kind."""
    table = path.removesuffix("kind")
    if not any(other.startswith(table) for other in different):
        return False
    here: Checked = start
    for step in table.removesuffix(".").split("."):
        if step not in here.model_fields_set:
            return step in type(here).model_fields  # else it came with a changed kind
        here = getattr(here, step)
    return False
