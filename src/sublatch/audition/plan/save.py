"""Plan files written: a plan as a text that a user reads and edits, and that loads as the very same plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from sublatch.audition.plan.records import Plan
from sublatch.circuit.save import toml_value
from sublatch.files.own_files import OwnFiles

PLAN_FILES = OwnFiles(
    "plans", "\n# Plan written by sublatch. Once changed by hand, it is replaced only with --overwrite. Check: "
)


def plan_toml(plan: Plan, *, heading: str = "") -> str:
    """Return a plan as the text of a plan file, without what is at its default.

    Parameters
    ----------
    plan
        The plan.
    heading
        What to say at the top, one or more lines.
    """
    settings = plan.model_dump(exclude_defaults=True)
    candidates, sweeps = settings.pop("candidates", []), settings.pop("sweeps", [])
    if "full_scale" in settings:
        settings["full_scale"] = f"{settings['full_scale']!r}V".replace(".0V", "V")
    lines = [f"# {line}" for line in heading.splitlines()]
    lines += ["", *(f"{key} = {_value(value)}" for key, value in settings.items())]
    for name, entries in (("candidates", candidates), ("sweeps", sweeps)):
        for entry in entries:
            lines += ["", f"[[{name}]]", *(f"{key} = {_value(value)}" for key, value in entry.items())]
    return "\n".join(lines).strip("\n") + "\n"


def write_plan(
    plan: Plan, path: str | Path, *, heading: str = "", inputs: Iterable[str | Path] = (), overwrite: bool = False
) -> None:
    """Write a plan file, whole or not at all.

    Parameters
    ----------
    plan
        The plan.
    path
        The file; it ends in ``.toml``.
    heading
        As for `plan_toml`.
    inputs
        Files that must never be replaced, whatever `overwrite` says.
    overwrite
        Replace a file that this program did not write, or that was changed since.

    Raises
    ------
    OutputError
        When the file cannot be written, or must not be replaced.
    """
    PLAN_FILES.guard(path, inputs=inputs, overwrite=overwrite)
    PLAN_FILES.write(path, plan_toml(plan, heading=heading))


def _value(value: Any) -> str:
    """Return a value as TOML has it; keys of tables are quoted where they are dotted paths."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(_pairs(value)) + " }" if value else "{}"
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        return "[\n" + "".join(f"    {_value(table)},\n" for table in value) + "]"
    return toml_value(value)


def _pairs(table: Mapping[str, Any]) -> Iterator[str]:
    """Give the keys and values of a table in one line."""
    for key, value in table.items():
        letters = key.replace("_", "").replace("-", "")
        yield f"{key if letters.isascii() and letters.isalnum() else toml_value(key)} = {_value(value)}"
