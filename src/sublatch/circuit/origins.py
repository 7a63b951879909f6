"""Where a circuit's values come from: known, fitted to what is known, or assumed; marks without effect on the sound.

A mark belongs to a value as it stands in the file. A value that is changed loses its mark: what it is now was decided,
and no longer says anything of the box that was looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal, get_args

from sublatch.checked import Checked
from sublatch.errors import nearest_hint

Origin = Literal["known", "fitted", "assumed"]
ORIGINS: tuple[Origin, ...] = get_args(Origin)
UNMARKED = ("title", "knobs", "switches", "hardwired", "origins")
"""The tables of a circuit that hold no values of parts: what it is called, and where its controls stand."""


def check_origins(record: Checked, origins: Mapping[str, Origin]) -> None:
    """Refuse a mark for what is no value of a circuit.

    Parameters
    ----------
    record
        The circuit.
    origins
        Marks by dotted path.

    Raises
    ------
    ValueError
        Naming the path, and the nearest that is one.
    """
    known = dict.fromkeys(markable_paths(record))
    for path in origins:
        if path not in known:
            raise ValueError(
                f"origins: a mark must be for a value of this circuit, got {path!r}{nearest_hint(path, known)}"
            )


def markable_paths(record: Checked, above: str = "") -> list[str]:
    """Return the dotted path of every value of a circuit that can have a mark, in the order of its file."""
    paths: list[str] = []
    for name in sorted(type(record).model_fields, key=lambda name: name != "kind"):
        value = getattr(record, name)
        if not above and name in UNMARKED:
            continue
        if isinstance(value, Checked):
            paths += markable_paths(value, f"{above}{name}.")
        else:
            paths.append(f"{above}{name}")
    return paths


def without_marks(origins: Mapping[str, Origin], changed: Iterable[str]) -> dict[str, Origin]:
    """Return the marks without those of values that were changed.

    Parameters
    ----------
    origins
        Marks by dotted path.
    changed
        Paths of values or of whole tables.
    """
    paths = tuple(changed)
    return {
        path: mark
        for path, mark in origins.items()
        if not any(path == one or path.startswith(f"{one}.") for one in paths)
    }


def carried_marks(origins: Mapping[str, Origin], record: Checked, changed: Iterable[str]) -> dict[str, Origin]:
    """Return the marks that go along from a circuit to one that was made from it.

    Parameters
    ----------
    origins
        Marks of the one before.
    record
        The new circuit.
    changed
        Paths of values or of whole tables that were changed.
    """
    there = set(markable_paths(record))
    return {path: mark for path, mark in without_marks(origins, changed).items() if path in there}


def marked(text: str, origins: Mapping[str, Origin], *paths: str) -> str:
    """Return a value in words with its mark behind it, as it is wherever a value of a circuit is shown.

    Parameters
    ----------
    text
        The value, such as 39k.
    origins
        The circuit's marks.
    paths
        Where the value stands; of several, the least sure mark counts.

    Returns
    -------
    str
        Such as "39k, fitted"; the text alone without a mark.
    """
    mark = least_sure(origins, *paths)
    return text if mark is None else f"{text}, {mark}"


def least_sure(origins: Mapping[str, Origin], *paths: str) -> Origin | None:
    """Return the least sure mark of the values at some paths or in the tables there; None where none has one."""
    marks = {mark for path, mark in origins.items() if any(path == one or path.startswith(f"{one}.") for one in paths)}
    return max(marks, key=ORIGINS.index, default=None)


def changed_tables(before: Mapping[str, Any], after: Mapping[str, Any], changed: Iterable[str]) -> list[str]:
    """Return the paths that were changed, where a kind was changed the whole table that it is of.

    Parameters
    ----------
    before, after
        The settings of a circuit file, nested.
    changed
        Dotted paths that were set.
    """
    tables = []
    for path in changed:
        table, _, key = path.rpartition(".")
        another = key == "kind" and _at(before, path) != _at(after, path)
        tables.append(table if another and table else path)
    return tables


def _at(settings: Mapping[str, Any], path: str) -> Any:
    """Return what stands at a dotted path; None where nothing does."""
    value: Any = settings
    for step in path.split("."):
        value = value.get(step) if isinstance(value, Mapping) else None
    return value
