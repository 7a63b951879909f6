"""What the shell offers on the Tab key: circuits, settings and their values, and what other options take."""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import TYPE_CHECKING, get_args

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
        known = next((setting.values for setting in settings if setting.path == path.strip()), ())
        return [CompletionItem(f"{path}={each}") for each in known if each.startswith(value)]
    beginning = [setting for setting in settings if setting.path.startswith(path)]
    return [CompletionItem(f"{setting.path}=", help=setting.description) for setting in beginning]


def complete_tuning(_ctx: click.Context, _parameter: click.Parameter, incomplete: str) -> Items:
    """Return the names of tunings."""
    from sublatch.pitch.open_strings import TUNINGS

    return _beginning(TUNINGS, incomplete)


def complete_choice(_ctx: click.Context, parameter: click.Parameter, incomplete: str) -> Items:
    """Return what an option of ``choose`` takes that is a word among few."""
    from sublatch.circuit.components.pots import Taper
    from sublatch.circuit.components.sold import CAPACITOR_SERIES
    from sublatch.parts.choose.request import Shape
    from sublatch.parts.variation import Distribution

    words = {
        "taper": get_args(Taper),
        "shape": get_args(Shape),
        "series": CAPACITOR_SERIES,
        "resistor_series": (*CAPACITOR_SERIES, "E48", "E96", "E192"),
        "distribution": get_args(Distribution),
    }
    return _beginning(words[str(parameter.name)], incomplete)


def _circuit(ctx: click.Context) -> Circuit:
    """Return the circuit that the command line names so far, with the settings it changes so far."""
    from sublatch.circuit.load import load_circuit
    from sublatch.cli.changes import read_changes
    from sublatch.errors import SublatchError

    named = ctx.params.get("circuit") or ctx.params.get("after")
    name = named or next(iter(ctx.params.get("circuits") or ()), WITH_ALL_CONTROLS)
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
    beginning = [
        entry
        for entry in entries
        if entry.name.startswith(start)
        and (start or not entry.name.startswith("."))
        and (entry.is_dir() or entry.name.lower().endswith(".toml"))
    ]
    typed_folder = incomplete[: len(incomplete) - len(start)]
    return [typed_folder + entry.name + ("/" if entry.is_dir() else "") for entry in beginning]
