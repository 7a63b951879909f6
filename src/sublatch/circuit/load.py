"""Circuits by name or from a file, with settings changed on the way."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import deepcopy
from importlib.resources import files
from pathlib import Path
from typing import Any

from sublatch.checked import check, parse_toml
from sublatch.circuit.detectors.base import DetectorKind
from sublatch.circuit.mixing.base import MixKind
from sublatch.circuit.model import (
    Circuit,
    detector_kinds,
    mixing_kinds,
    octave_stage_kinds,
    output_buffer_kinds,
    with_kinds_left_out,
)
from sublatch.circuit.octave_stages.base import OctaveStage
from sublatch.circuit.origins import changed_tables, without_marks
from sublatch.circuit.output_buffers.base import OutputStage
from sublatch.errors import CircuitError, nearest_hint
from sublatch.files.text import names_beside, read_text

Changes = Mapping[str, Any]
"""Settings by their dotted path, such as ``{"knobs.tone": 3.5, "filter.kind": "first-order"}``."""

_LIBRARY = files("sublatch.circuit") / "library"
_Kind = type[DetectorKind] | type[OctaveStage] | type[MixKind] | type[OutputStage]
_KINDS: Mapping[str, Callable[[], Mapping[str, _Kind]]] = {
    "detector": detector_kinds,
    "octave": octave_stage_kinds,
    "mix": mixing_kinds,
    "output": output_buffer_kinds,
}
"""The tables that keep what another kind has too, and their kinds."""


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
    if name not in circuit_names():
        raise _unknown(name, files=())
    return (_LIBRARY / f"{name}.toml").read_text(encoding="utf-8")


def _unknown(name: str, *, files: Iterable[str]) -> CircuitError:
    """Return the error for a name that is no built-in circuit, where these files could be meant."""
    names = circuit_names()
    known = [*names, *files]
    hint = nearest_hint(name, known)
    if f"{name}.toml" in known:
        hint = f"; did you mean the file '{name}.toml'?"
    return CircuitError(
        f"no built-in circuit {name!r}{hint} (there are {', '.join(names)}; a file's name ends in .toml)"
    )


def is_circuit_file(name: str | Path) -> bool:
    """Return whether a circuit's name is that of a file, not of a built-in one."""
    return isinstance(name, Path) or name.lower().endswith(".toml")


def load_circuit(name: str | Path, *, changes: Changes | None = None, folder: Path | None = None) -> Circuit:
    """Return a circuit, built in or from a file.

    Parameters
    ----------
    name
        Name of a built-in circuit, or path of a TOML file (it ends in ``.toml``).
    changes
        Settings to change, by dotted path; a table changes the settings in it and leaves its others. A changed
        ``filter.kind`` brings the new filter with its own values, and drops the tone knob and peak switch of the old
        one; so does a ``detector.kind`` changed to or from one that stands alone (``overtone``), for all of its table.
        Any other changed ``kind`` drops the settings that only the old kind had. A ``mix.kind`` changed to or from one
        that leaves another output buffer (``none``) changes ``output.kind`` too.
        What is changed loses its mark in ``origins``.
    folder
        Where a relative path starts; the working folder when not given.

    Raises
    ------
    CircuitError
        When the circuit is unknown, is no TOML, or has a key or value that cannot be.
    """
    source = str(name)
    if is_circuit_file(name):
        text = read_text(
            (folder or Path()) / name,
            what="a circuit file",
            missing="no such circuit",
            hint=f"built in are {', '.join(circuit_names())}",
            error=CircuitError,
        )
    elif source in circuit_names():
        text = circuit_text(source)
    else:
        raise _unknown(source, files=names_beside(folder or Path(), ending=".toml"))
    data = parse_toml(text, source=source, error=CircuitError, kind=Circuit)
    try:
        settings = changed(data, changes or {})
    except CircuitError as problem:
        raise CircuitError(f"{source}: {problem}") from None
    return check(Circuit, settings, source=source, error=CircuitError)


def changed(data: Mapping[str, Any], changes: Changes) -> dict[str, Any]:
    """Return the settings in `data` with those in `changes` put in their places.

    Raises
    ------
    CircuitError
        When a path leads through something that is not a table.
    """
    result: dict[str, Any] = deepcopy(dict(data))
    single = dict(_single(changes))
    if not single.keys().isdisjoint(("mix.kind", "output.kind")):
        result = with_kinds_left_out(result)
        _bring_buffer(result, single)
    for path in sorted(single, key=lambda path: (path.rpartition(".")[2] != "kind", path.count("."))):
        _set(result, path, single[path])
    for control in _controls_gone(data, result):
        table, _, name = control.partition(".")
        if control not in single and isinstance(result.get(table), dict):
            result[table].pop(name, None)
    if isinstance(result.get("origins"), dict):
        result["origins"] = without_marks(result["origins"], changed_tables(data, result, single))
    return result


def _bring_buffer(data: Mapping[str, Any], single: dict[str, Any]) -> None:
    """Have a new kind of mixing stage bring the output buffer that it leaves, where the old one left another."""
    new = {"mix": {"kind": single.get("mix.kind")}}
    before, after = (with_kinds_left_out({"mix": each["mix"]})["output"]["kind"] for each in (data, new))
    if "mix.kind" in single and before != after:
        single.setdefault("output.kind", after)


def _controls_gone(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """Return the knobs and switches that were of a filter or mixing stage that is another now."""
    gone = []
    if _kind_at(before, "filter") != _kind_at(after, "filter"):
        gone += ["knobs.tone", "switches.peak"]
    if _kind_at(before, "mix", "direct_filter") != _kind_at(after, "mix", "direct_filter"):
        gone += ["knobs.direct_tone"]
    mixing = mixing_kinds().get(str(_kind_at(after, "mix")))
    if _kind_at(before, "mix") != _kind_at(after, "mix") and mixing is not None and not mixing().direct_pot_there:
        gone += ["knobs.direct", "knobs.direct_tone"]
    return gone


def _single(settings: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Give each single setting with its whole path."""
    for key, value in settings.items():
        if isinstance(value, Mapping) and value:
            yield from _single(value, f"{above}{key}.")
        else:
            yield f"{above}{key}", value


def _set(data: dict[str, Any], path: str, value: Any) -> None:
    """Put one setting in its place."""
    *steps, key = path.split(".")
    if not all((*steps, key)):
        raise CircuitError(f"a setting is named like knobs.tone, got {path!r}")
    table = data
    while steps:
        step, *steps = steps
        inner = table.setdefault(step, {})
        if isinstance(inner, list):
            inner, steps, key = _named_part(inner, steps, key, path)
        if not isinstance(inner, dict):
            raise CircuitError(f"{path}: {step} is a value, not a table, so nothing in it can be set")
        table = inner
    if key == "kind" and "." in path and table.get("kind") != value:
        _drop_what_is_old(table, path.split(".")[-2], value)
    if not (value == {} and isinstance(table.get(key), dict)):
        table[key] = deepcopy(value)


def _named_part(parts: list[Any], steps: list[str], key: str, path: str) -> tuple[Any, list[str], str]:
    """Return the part of a list that a path goes on with, by its name, and the rest of the path after it."""
    rest = ".".join((*steps, key))
    named = {str(part["name"]): part for part in parts if isinstance(part, dict) and "name" in part}
    name = max((name for name in named if rest.startswith(f"{name}.")), key=len, default=None)
    if name is None:
        raise CircuitError(
            f"{path}: must name a part and what of it, such as {next(iter(named), 'R1')}.value; "
            f"there are {', '.join(named) or 'none'}{nearest_hint(rest.partition('.')[0], named)}"
        )
    *steps, key = rest.removeprefix(f"{name}.").split(".")
    return named[name], steps, key


def _drop_what_is_old(table: dict[str, Any], name: str, kind: Any) -> None:
    """Drop the settings that the new kind does not have: all of a filter's, where one name is not one part."""
    known = _KINDS[name]() if name in _KINDS else {}
    new, old = known.get(str(kind)), known.get(str(table.get("kind")))
    if new is not None and (new.stands_alone or (old is not None and old.stands_alone)):
        table.clear()
        table.update(new().model_dump(exclude_none=True))
        return
    keep = set(new.model_fields) - getattr(new, "own", frozenset()) if new is not None else set()
    for key in [key for key in table if key not in keep]:
        del table[key]


def _kind_at(data: Mapping[str, Any], *steps: str) -> Any:
    """Return the kind of a table, none where the file does not say."""
    chosen: Any = data
    for step in steps:
        chosen = chosen.get(step, {}) if isinstance(chosen, Mapping) else None
    return chosen.get("kind", "none") if isinstance(chosen, Mapping) else None
