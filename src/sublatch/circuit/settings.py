"""The settings of a circuit that can be changed from outside, by dotted path, and what they can be set to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from sublatch.checked import Checked, nested, records_in
from sublatch.circuit.components.quantities import LEFT_OUT
from sublatch.circuit.filters.base import FilterKind
from sublatch.circuit.model import Circuit


@dataclass(frozen=True)
class Setting:
    """One setting of a circuit.

    Attributes
    ----------
    path
        Such as ``knobs.tone``.
    values
        All that it can be set to where these are words or few numbers, as texts; of a part that may be left out
        ``none`` alone. Empty where any value of a range will do.
    description
        What it is, in a sentence.
    """

    path: str
    values: tuple[str, ...]
    description: str


def settings_of(circuit: Circuit) -> list[Setting]:
    """Return every single setting that a circuit has, in the order of a circuit file.

    Parameters
    ----------
    circuit
        The circuit. Settings of a kind that its filter, detector or octave stage is not are left out, and so are the
        tone knob and peak switch where no part of the filter belongs to them.
    """
    absent = {"origins"} if circuit.filter.works_with_tone else {"origins", "knobs.tone"}
    absent |= set() if circuit.filter.works_with_peak else {"switches.peak"}
    return [setting for setting in _inside(type(circuit), circuit, "", ()) if setting.path not in absent]


def _inside(kind: type[Checked], record: Checked | None, above: str, kinds: tuple[str, ...]) -> Iterator[Setting]:
    """Give the settings of a record, which can be of several kinds, or of one that is left out so far."""
    for name, field in kind.model_fields.items():
        path = f"{above}{name}"
        value = None if record is None else getattr(record, name)
        records = records_in(field)
        if name == "kind":
            yield Setting(path, kinds or _words(field), "Which kind it is; another brings its own values.")
        elif records and isinstance(value, (list, tuple)):
            continue  # parts of a network of one's own have names, not paths
        elif records:
            if LEFT_OUT in field.metadata:
                yield Setting(path, ("none",), field.description or "")
            inner = value if isinstance(value, Checked) else None
            yield from _inside(type(inner) if inner else records[0], inner, f"{path}.", _tags(records, path))
        else:
            yield Setting(path, _words(field), field.description or "")


def _tags(records: list[type[Checked]], path: str) -> tuple[str, ...]:
    """Return the words that tell the kinds of a record from one another."""
    if path.startswith("detector."):  # which has no knob and no switch
        records = [one for one in records if not (issubclass(one, FilterKind) and one.needs_a_control())]
    return tuple(word for one in records if "kind" in one.model_fields for word in _words(one.model_fields["kind"]))


def _words(field: FieldInfo) -> tuple[str, ...]:
    """Return the values of a field that has few, as texts."""
    literals = [part for part in nested(field.annotation) if get_origin(part) is Literal]
    words = tuple(str(value) for part in literals for value in get_args(part))
    return (*words, "none") if LEFT_OUT in field.metadata else words
