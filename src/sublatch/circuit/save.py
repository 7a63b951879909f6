"""Circuit files written: a circuit as a text that a builder reads, and that loads as the very same circuit.

Values stand as the trade writes them ("4k7", "22n", "85%"); one that has more digits than that is written with all of
them. The text is made whole from the circuit, so comments of a file that the circuit was loaded from are not in it.
"""

from __future__ import annotations

import json
import textwrap
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any, get_args

from pydantic import BeforeValidator
from pydantic.fields import FieldInfo

from sublatch import units
from sublatch.checked import Checked
from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.components.quantities import LEFT_OUT
from sublatch.circuit.model import Circuit
from sublatch.errors import CircuitError, nearest_hint
from sublatch.files.own_files import OwnFiles

Reader = Callable[..., float]

COMMENT_COLUMN = 28
"""Where a comment beside a setting starts, as in the built-in circuits."""
LONGEST_LINE = 100
"""A comment that would make its line longer stands above it."""
CIRCUIT_FILES = OwnFiles(
    "circuit files", "\n# Written by sublatch. Once changed by hand, it is replaced only with --overwrite. Check: "
)
ORIGINS_COMMENT = "where each value comes from; take out the line of one that you change"
SMALL = (Pot, SwitchedCapacitor)
"""Tables that stand in one line."""
FIRST = ("kind", "part")
"""What tells records of different kinds apart stands before their settings."""


@dataclass(frozen=True)
class Setting:
    """One setting of a circuit.

    Attributes
    ----------
    text
        Its value as the trade writes it, such as 4k7.
    description
        What it is or does, one sentence.
    """

    text: str
    description: str


def circuit_toml(circuit: Circuit, *, comments: Mapping[str, str] | None = None, heading: str = "") -> str:
    """Return a circuit as the text of a circuit file.

    Parameters
    ----------
    circuit
        The circuit.
    comments
        What to say beside or above a setting or table, by its dotted path such as ``detector.fraction``.
    heading
        What to say at the top, one or more lines.

    Returns
    -------
    str
        TOML with every setting, those at their default too; loaded, it equals `circuit`. What is marked in its
        ``origins`` has the mark beside it too, unless there is a comment for it.

    Raises
    ------
    CircuitError
        When a comment is for a setting that the circuit does not have.
    """
    comments = comments or {}
    known = {path[:end] for path in settings_of(circuit) for end, c in enumerate(f"{path}.") if c == "."}
    for path in comments:
        if path not in known:
            raise CircuitError(
                f"a comment must be for a setting of the circuit, got {path!r}{nearest_hint(path, known)}"
            )
    top = "".join(f"{line}\n" for line in _comment_lines(heading))
    said = {**_marks(circuit), **comments}
    marks = [f"{json.dumps(path)} = {toml_value(mark)}\n" for path, mark in circuit.origins.items()]
    last = ["".join([_commented("[origins]", ORIGINS_COMMENT), "\n", *marks])] if marks else []
    return "\n".join([*([top] if top else []), *_sections(circuit, "", said), *last])


def settings_of(table: Checked) -> dict[str, Setting]:
    """Return every single setting of a circuit, or of a table in one, by its dotted path, in the order of the file."""
    return dict(_settings(table, ""))


def save_circuit(
    circuit: Circuit,
    path: str | Path,
    *,
    comments: Mapping[str, str] | None = None,
    heading: str = "",
    inputs: Iterable[str | Path] = (),
    overwrite: bool = False,
) -> None:
    """Write a circuit file, whole or not at all.

    Parameters
    ----------
    circuit
        The circuit.
    path
        The file; it ends in ``.toml``.
    comments, heading
        As for `circuit_toml`.
    inputs
        Files that must never be replaced, whatever `overwrite` says.
    overwrite
        Replace a file that this program did not write, or that was changed since.

    Raises
    ------
    CircuitError
        When a comment is for a setting that the circuit does not have.
    OutputError
        When the file cannot be written, or must not be replaced.
    """
    CIRCUIT_FILES.guard(path, inputs=inputs, overwrite=overwrite)
    text = circuit_toml(circuit, comments=comments, heading=heading)
    CIRCUIT_FILES.write(path, text)


def _marks(circuit: Circuit) -> dict[str, str]:
    """Return where each value comes from, as its comment; for a pot in one line, where they all agree, once."""
    marks: dict[str, str] = dict(circuit.origins)
    for table in dict.fromkeys(path.rpartition(".")[0] for path in circuit.origins):
        inside = [f"{table}.{name}" for name in _written(_table(circuit, table))]
        if inside and len({circuit.origins.get(path) for path in inside}) == 1:
            marks[table] = marks[inside[0]]
            marks = {path: mark for path, mark in marks.items() if path not in inside}
    return marks


def _table(circuit: Circuit, path: str) -> Checked | None:
    """Return the table at a path if it is one that can stand in a line."""
    value: Any = circuit
    for step in path.split("."):
        value = getattr(value, step, None)
    return value if isinstance(value, SMALL) else None


def _written(table: Checked | None) -> list[str]:
    """Return the settings of a table that its file has: of a linear pot no midpoint."""
    names = [] if table is None else [name for name, _, _ in _fields(table)]
    is_linear = isinstance(table, Pot) and table.taper == "linear"
    return [name for name in names if not (is_linear and name == "midpoint")]


def _settings(table: Checked, above: str) -> Iterator[tuple[str, Setting]]:
    """Give path and setting of all that is in a table."""
    for name, field, value in _fields(table):
        if isinstance(value, Checked):
            yield from _settings(value, f"{above}{name}.")
        else:
            plain = _plain(value, field)
            sentence = (type(table).__doc__ or "").partition("\n")[0] if name in FIRST else field.description or ""
            yield f"{above}{name}", Setting(plain if isinstance(plain, str) else toml_value(plain), sentence)


def _fields(table: Checked) -> Iterator[tuple[str, FieldInfo, Any]]:
    """Give name, field and value of each setting of a table that is there, its kind first."""
    fields = type(table).model_fields
    for name in sorted(fields, key=lambda name: name not in FIRST):
        value = getattr(table, name)
        if value is not None and not fields[name].exclude:
            yield name, fields[name], value
        elif LEFT_OUT in fields[name].metadata and fields[name].default is not None:
            yield name, fields[name], "none"


def _sections(table: Checked, path: str, comments: Mapping[str, str]) -> Iterator[str]:
    """Give the text of a table: its heading, its own settings, and after it that of each table in it."""
    lines = [_commented(f"[{path}]", comments.get(path))] if path else []
    deeper: list[tuple[Checked, str]] = []
    for name, field, value in _fields(table):
        inner = f"{path}.{name}".strip(".")
        if isinstance(value, Checked) and not _fits_a_line(value, inner, comments):
            deeper.append((value, inner))
        else:
            lines.append(_commented(f"{name} = {toml_value(_plain(value, field))}", comments.get(inner)))
    yield "".join(f"{line}\n" for line in lines)
    for value, inner in deeper:
        yield from _sections(value, inner, comments)


def _fits_a_line(table: Checked, path: str, comments: Mapping[str, str]) -> bool:
    """Return whether a table is so small that it stands in one line, unless there is something to say within it."""
    return isinstance(table, SMALL) and not any(other.startswith(f"{path}.") for other in comments)


def _plain(value: Any, field: FieldInfo) -> Any:
    """Return a value as texts, numbers, lists and mappings."""
    if isinstance(value, Checked):
        inner = {name: _plain(setting, its_field) for name, its_field, setting in _fields(value)}
        if (
            isinstance(value, Pot)
            and value.taper == "linear"
            and value.midpoint == Pot.model_fields["midpoint"].default
        ):
            del inner["midpoint"]  # it works nothing
        return inner
    if isinstance(value, tuple):
        return [_plain(part, field) for part in value]
    reader = _reader(field)
    return value if reader is None else _quantity(value, reader)


def _reader(field: FieldInfo) -> Reader | None:
    """Return what reads the quantity that a field holds; None where it holds none."""
    optional = (part for inner in get_args(field.annotation) for part in getattr(inner, "__metadata__", ()))
    readers = (part.func for part in (*field.metadata, *optional) if isinstance(part, BeforeValidator))
    return next((reader for reader in readers if reader in _QUANTITIES), None)


def _percent(share: float) -> str:
    """Return a share in per cent, with all its digits."""
    return f"{Decimal(repr(share)).scaleb(2).normalize():f}%"


_QUANTITIES: dict[Any, tuple[Callable[[float], str], Mapping[int, str]]] = {
    units.ohms: (units.format_ohms, {0: "R", 3: "k", 6: "M"}),
    units.farads: (units.format_farads, {-12: "p", -9: "n", -6: "u", -3: "m"}),
    units.volts: (units.format_volts, {-9: "nV", -6: "uV", -3: "mV", 0: "V"}),
    units.henries: (units.format_henries, {-9: "nH", -6: "uH", -3: "mH", 0: "H"}),
    units.amperes: (units.format_amperes, {-12: "pA", -9: "nA", -6: "uA", -3: "mA", 0: "A"}),
    units.seconds: (units.format_seconds, {-9: "ns", -6: "us", -3: "ms", 0: "s"}),
    units.fraction: (_percent, {-2: "%"}),
}
"""By what reads a quantity: what writes it in a few digits, and what may follow all its digits, by power of ten."""


def _quantity(value: float, reader: Reader) -> str | float:
    """Return a quantity so that it reads back as the very same number.

    In a few digits where those are enough, else with all its digits; a bare number where it is too small for either.
    """
    short, endings = _QUANTITIES[reader]
    digits = Decimal(repr(value)).normalize()
    if digits and digits.adjusted() < min(endings) - 3:
        return value
    text = short(value).replace(" ", "").replace("µ", "u")
    if reader(text) == value:
        return text
    power = max((power for power in endings if power <= digits.adjusted()), default=min(endings))
    return f"{digits.scaleb(-power):f}{endings[power]}"


def toml_value(plain: Any) -> str:
    """Return a plain value (text, number, list or mapping) as TOML has it; of a list of tables, each in its line."""
    if isinstance(plain, dict):
        return "{ " + ", ".join(f"{key} = {toml_value(value)}" for key, value in plain.items()) + " }"
    if isinstance(plain, list):
        if plain and isinstance(plain[0], dict):
            return "[\n" + "".join(f"    {toml_value(table)},\n" for table in plain) + "]"
        return "[" + ", ".join(toml_value(value) for value in plain) + "]"
    if isinstance(plain, str):
        return json.dumps(plain, ensure_ascii=False).replace("\x7f", "\\u007f")  # all else that TOML wants, JSON does
    return str(plain).lower() if isinstance(plain, bool) else repr(plain).removesuffix(".0")


def _commented(line: str, comment: str | None) -> str:
    """Return a line with a comment beside it, or above it where there is no room."""
    above = _comment_lines(comment or "")
    beside = f"{line + '  ':<{COMMENT_COLUMN}}{''.join(above)}".rstrip()
    if len(above) <= 1 and "\n" not in line and len(beside) <= LONGEST_LINE:
        return beside
    return "\n".join([*above, line])


def _comment_lines(text: str) -> list[str]:
    """Return a text as the lines of a comment, without characters that it must not have."""
    lines = []
    for line in text.strip().encode("utf-8", "replace").decode("utf-8").splitlines():
        fit = "".join(" " if unicodedata.category(character) == "Cc" else character for character in line)
        wrapped = textwrap.wrap(fit, LONGEST_LINE - 2, break_long_words=False, break_on_hyphens=False)
        lines += [f"# {part}".rstrip() for part in wrapped or [""]]
    return lines
