"""Circuits by name or from a file, with settings changed on the way."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from copy import deepcopy
from importlib.resources import files
from pathlib import Path
from typing import Any

from sublatch.checked import check
from sublatch.circuit.filters import FILTER_KINDS
from sublatch.circuit.model import Circuit, GainGated, PeakLatch, PolaritySwitched, ZeroCrossing
from sublatch.errors import CircuitError, nearest_hint

Changes = Mapping[str, Any]
"""Settings by their dotted path, such as ``{"knobs.tone": 3.5, "filter.kind": "first-order"}``."""

_LIBRARY = files("sublatch.circuit") / "library"
_KINDS = {
    "filter": FILTER_KINDS,
    "detector": (PeakLatch, ZeroCrossing),
    "octave": (PolaritySwitched, GainGated),
}


def circuit_names() -> list[str]:
    """Return the names of the built-in circuits."""
    return sorted(entry.name.removesuffix(".toml") for entry in _LIBRARY.iterdir() if entry.name.endswith(".toml"))


def circuit_text(name: str) -> str:
    """Return a built-in circuit as the text of its file.

    Raises
    ------
    CircuitError
        When there is no such circuit.
    """
    names = circuit_names()
    if name not in names:
        raise CircuitError(
            f"no built-in circuit {name!r}{nearest_hint(name, names)} (there are {', '.join(names)}; "
            "a file's name ends in .toml)"
        )
    return (_LIBRARY / f"{name}.toml").read_text(encoding="utf-8")


def load_circuit(name: str | Path, *, changes: Changes | None = None, folder: Path | None = None) -> Circuit:
    """Return a circuit, built in or from a file.

    Parameters
    ----------
    name
        Name of a built-in circuit, or path of a TOML file (it ends in ``.toml``).
    changes
        Settings to change, by dotted path. A changed ``kind`` brings the new kind's own values and drops
        the settings, knob and switch that only the old kind had.
    folder
        Where a relative path starts; the working folder when not given.

    Raises
    ------
    CircuitError
        When the circuit is unknown, is no TOML, or has a key or value that cannot be.
    """
    source = str(name)
    if isinstance(name, Path) or source.endswith(".toml"):
        text = _read((folder or Path()) / name)
    else:
        text = circuit_text(source)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise CircuitError(f"{source}: must be a TOML file: {problem}") from None
    return check(Circuit, changed(data, changes or {}), source=source, error=CircuitError)


def _read(path: Path) -> str:
    """Return the text of a circuit file."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise CircuitError(f"{path}: no such circuit file; built in are {', '.join(circuit_names())}") from None
    except IsADirectoryError:
        raise CircuitError(f"{path}: must be a circuit file, got a folder") from None
    except UnicodeDecodeError:
        raise CircuitError(f"{path}: must be a text file in UTF-8, got something else") from None
    except OSError as problem:
        raise CircuitError(f"{path}: cannot be read: {problem.strerror}") from None


def changed(data: Mapping[str, Any], changes: Changes) -> dict[str, Any]:
    """Return the settings in `data` with those in `changes` put in their places.

    Raises
    ------
    CircuitError
        When a path leads through something that is not a table.
    """
    result: dict[str, Any] = deepcopy(dict(data))
    kinds_first = sorted(changes, key=lambda path: not path.endswith("kind"))
    for path in kinds_first:
        table, key = _table(result, path)
        if key == "kind" and table.get("kind") != changes[path]:
            _change_kind(result, table, path, changes[path])
        table[key] = deepcopy(changes[path])
    return result


def _table(data: dict[str, Any], path: str) -> tuple[dict[str, Any], str]:
    """Return the table that a dotted path ends in, made where absent, and the last key."""
    *steps, key = path.split(".")
    if not all((*steps, key)):
        raise CircuitError(f"a setting is named like knobs.tone, got {path!r}")
    table = data
    for step in steps:
        table = table.setdefault(step, {})
        if not isinstance(table, dict):
            raise CircuitError(f"{path}: {step} is a value, not a table, so nothing in it can be set")
    return table, key


def _change_kind(data: dict[str, Any], table: dict[str, Any], path: str, kind: Any) -> None:
    """Drop from `table` what the new kind does not have, and the controls that only the old filter had."""
    new = next((k for k in _KINDS.get(path.split(".")[-2], ()) if k.model_fields["kind"].default == kind), None)
    keep = set(new.model_fields) if new is not None else set()
    for key in [key for key in table if key not in keep]:
        del table[key]
    if path == "filter.kind":
        data.get("knobs", {}).pop("tone", None)
        data.get("switches", {}).pop("peak", None)
