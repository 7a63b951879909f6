"""What the shell offers on the Tab key: circuits after -c, settings and their values after --set, tunings."""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import TYPE_CHECKING

import click
from click.shell_completion import CompletionItem

if TYPE_CHECKING:
    from sublatch.circuit.model import Circuit

Items = list[CompletionItem]

WITH_ALL_CONTROLS = "gated-swept"
"""The circuit whose settings are offered where the command line names none that can be read."""


def complete_circuit(_ctx: click.Context, _parameter: click.Parameter, incomplete: str) -> Items:
    """Return the built-in circuits, and the circuit files and folders in the folder that is typed."""
    from sublatch.circuit.load import circuit_names, load_circuit

    built_in = [
        CompletionItem(name, help=load_circuit(name).title) for name in circuit_names() if name.startswith(incomplete)
    ]
    return built_in + [CompletionItem(path) for path in _files_and_folders(incomplete)]


def complete_built_in(_ctx: click.Context, _parameter: click.Parameter, incomplete: str) -> Items:
    """Return the built-in circuits."""
    from sublatch.circuit.load import circuit_names

    return _beginning(circuit_names(), incomplete)


def complete_setting(ctx: click.Context, _parameter: click.Parameter, incomplete: str) -> Items:
    """Return the paths of the circuit's settings, and after an equals sign the values that this one can have."""
    from sublatch.circuit.settings import settings_of

    settings = settings_of(_circuit(ctx))
    path, equals, value = incomplete.partition("=")
    if equals:
        values = next((one.values for one in settings if one.path == path.strip()), ())
        return [CompletionItem(f"{path}={one}") for one in values if one.startswith(value)]
    return [CompletionItem(f"{one.path}=", help=one.description) for one in settings if one.path.startswith(path)]


def complete_tuning(_ctx: click.Context, _parameter: click.Parameter, incomplete: str) -> Items:
    """Return the names of tunings."""
    from sublatch.pitch.open_strings import TUNINGS

    return _beginning(TUNINGS, incomplete)


def _circuit(ctx: click.Context) -> Circuit:
    """Return the circuit that the command line names so far, with the settings it changes so far."""
    from sublatch.circuit.load import load_circuit
    from sublatch.cli.changes import read_changes
    from sublatch.errors import SublatchError

    name = ctx.params.get("circuit") or next(iter(ctx.params.get("circuits") or ()), WITH_ALL_CONTROLS)
    for changes in (ctx.params.get("changes") or (), ()):
        try:
            return load_circuit(name, changes=read_changes(changes))
        except (SublatchError, click.UsageError):
            continue
    return load_circuit(WITH_ALL_CONTROLS)


def _beginning(names: Iterable[str], incomplete: str) -> Items:
    """Return the names that begin with what is typed."""
    return [CompletionItem(name) for name in names if name.startswith(incomplete)]


def _files_and_folders(incomplete: str) -> list[str]:
    """Return the circuit files and the folders whose path begins with what is typed; folders end in a slash."""
    folder, start = os.path.split(incomplete)
    try:
        entries = sorted(os.scandir(os.path.expanduser(folder) or "."), key=lambda entry: entry.name)
    except OSError:
        return []
    shown = [entry for entry in entries if entry.name.startswith(start) and (start or not entry.name.startswith("."))]
    paths = {entry: incomplete[: len(incomplete) - len(start)] + entry.name for entry in shown}
    return [f"{path}/" if entry.is_dir() else path for entry, path in paths.items() if _is_offered(entry)]


def _is_offered(entry: os.DirEntry[str]) -> bool:
    """Return whether a file may be a circuit, or is a folder that may hold some."""
    return entry.is_dir() or entry.name.lower().endswith(".toml")
