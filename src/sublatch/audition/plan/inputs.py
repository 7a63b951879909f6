"""The files that an audition reads: looked for before anything is written, and never written over."""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from sublatch.audition.plan.records import Audition
from sublatch.errors import PlanError, nearest_hint
from sublatch.files.whole_files import guard_inputs


def look_for_recordings(plan: Audition) -> None:
    """Refuse a plan that names a take or bed that is not there, as after a slip of the pen.

    Raises
    ------
    PlanError
        With a line for each file that is missing, and the nearest name beside it.
    """
    recordings = [("takes", plan.take_path(entry)) for entry in plan.plan.takes]
    recordings += [("bed", path) for entry in plan.plan.takes if (path := plan.bed_path(entry)) is not None]
    missing = dict.fromkeys((key, path) for key, path in recordings if _is_missing(path))
    if missing:
        raise PlanError(
            "\n".join(f"{plan.path}: {key}: {path}: there is no such file{_hint(path)}" for key, path in missing)
        )


def guard_all_inputs(plan: Audition, outputs: Iterable[Path]) -> None:
    """Refuse to write over the plan, a circuit, a take, or what it is heard with.

    Raises
    ------
    OutputError
        Naming the first of the outputs that is an input.
    """
    inputs = plan.inputs
    read = {identity for path in inputs for identity in _identities(path)}
    for path in outputs:
        if read.intersection(_identities(path)):
            guard_inputs(path, inputs)


def _is_missing(path: Path) -> bool:
    """Return whether there is nothing at a path; what cannot be looked at is told when it is read."""
    try:
        path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return True
    except OSError:
        return False
    return False


def _hint(path: Path) -> str:
    """Return which file in the same folder was probably meant."""
    names: list[str] = []
    with suppress(OSError):
        names = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
    return nearest_hint(path.name, names) or "; is the path right?"


def _identities(path: Path) -> list[object]:
    """Return what two names of one file have in common."""
    try:
        status = path.stat()
    except OSError:
        return [os.path.realpath(path)]
    return [os.path.realpath(path), (status.st_dev, status.st_ino)]
