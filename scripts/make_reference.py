"""Rewrite what the documents say of the code: every setting in README.md, every module in DEVELOPERS.md.

Run it with the environment's Python: ``python scripts/make_reference.py``. It changes nothing but what stands between
the marks ``<!-- settings -->`` and ``<!-- end of settings -->``, and likewise for the remarks and the modules.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from sublatch import units
from sublatch.audition.plan.records import Plan
from sublatch.checked import Checked, Unit
from sublatch.circuit.components.quantities import Position, Share
from sublatch.circuit.filters.kinds import KINDS
from sublatch.circuit.filters.own_network import OwnRheostat, OwnSwitchedCapacitor
from sublatch.circuit.model import Circuit
from sublatch.takes.remarks import FIT, UNFIT

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "src" / "sublatch"
FILES: tuple[tuple[str, type[Checked]], ...] = (("A circuit file", Circuit), ("A plan", Plan))
TAGS = ("kind", "part")
"""Fields that tell one record from another; they stand in the headings."""
WORKED: tuple[type[Checked], ...] = (*(kind for kind in KINDS if kind.needs_a_control()), OwnRheostat, OwnSwitchedCapacitor)
"""What a knob or switch works; nothing in a detector is."""
PREFIXES = ((1e6, 1e6, "M"), (1e3, 1e3, "k"), (0.1, 1.0, ""), (1e-3, 1e-3, "m"), (1e-6, 1e-6, "µ"), (0.0, 1e-12, "p"))
"""From which value on, the step, and its prefix: from a tenth on the plain unit."""
SHARE, POSITION = get_args(Share)[1], get_args(Position)[1]
WRITTEN = {
    "Ω": units.format_ohms,
    "F": units.format_farads,
    "V": units.format_volts,
    "s": units.format_seconds,
    "dB": units.format_decibels,
}


@dataclass(frozen=True)
class Row:
    """One setting: its name, its range in words, its default as the file has it, and what it is."""

    name: str
    range: str
    default: str
    description: str


def main() -> None:
    """Rewrite both documents where they are out of date."""
    for path, text in documents().items():
        if path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8", newline="\n")
            print(f"{path.relative_to(ROOT)}: rewritten")


def documents() -> dict[Path, str]:
    """Return the documents as they should be, by path."""
    parts = {
        "README.md": {"settings": settings(), "remarks": remarks()},
        "DEVELOPERS.md": {"modules": modules()},
    }
    found = {}
    for name, by_mark in parts.items():
        text = (ROOT / name).read_text(encoding="utf-8")
        for mark, new in by_mark.items():
            text = _between(text, mark, new)
        found[ROOT / name] = text
    return found


def remarks() -> str:
    """Return a table of the codes of all remarks on takes."""
    rows = [f"| `{code}` | unfit | {what} |" for code, what in UNFIT.items()]
    rows += [f"| `{code}` | | {what} |" for code, what in FIT.items()]
    return "\n".join(["| code | | what it stands for |", "|---|---|---|", *rows, ""])


def _between(text: str, mark: str, new: str) -> str:
    """Return `text` with what stands between two marks replaced."""
    first, last = f"<!-- {mark} -->\n", f"<!-- end of {mark} -->\n"
    before, _, rest = text.partition(first)
    _, found, after = rest.partition(last)
    if not found:
        raise SystemExit(f"the marks {first.strip()} and {last.strip()} must be there, in that order")
    return f"{before}{first}\n{new}\n{last}{after}"


def settings() -> str:
    """Return a table for each table of a circuit file and of a plan."""
    sections = []
    for title, top in FILES:
        sections.append(f"### {title}")
        for kind, paths in records(top).items():
            sections.append(_section(kind, paths))
    return "\n\n".join(section for section in sections if section) + "\n"


def records(top: type[Checked]) -> dict[type[Checked], list[str]]:
    """Return every kind of record in a file, from the top down, and the dotted paths at which it can stand."""
    found: dict[type[Checked], list[str]] = {}
    waiting: list[tuple[type[Checked], str]] = [(top, "")]
    while waiting:
        kind, path = waiting.pop(0)
        if path.startswith("detector.") and issubclass(kind, WORKED):
            continue
        places = found.setdefault(kind, [])
        places += [path] if path not in places else []
        for name, field in kind.model_fields.items():
            inner = f"{path}.{name}".strip(".") + ("[]" if get_origin(field.annotation) in (list, tuple) else "")
            waiting += [(part, inner) for part in _kinds(field)]
    return found


def _section(kind: type[Checked], paths: list[str]) -> str:
    """Return one record's heading, its sentence and its table."""
    tags = [f"`{key} = {_value(tag)}`" for key in TAGS for tag in get_args(_annotation(kind, key))]
    heading = ", ".join([*(f"`{_header(path)}`" for path in paths if path), *tags])
    lines = [f"#### {heading}", ""] if heading else []
    lines += [_first_paragraph(kind.__doc__ or ""), ""]
    table = rows(kind)
    if table:
        lines += ["| setting | range | default | what it is |", "|---|---|---|---|"]
        lines += [f"| `{row.name}` | {row.range} | {row.default} | {row.description} |" for row in table]
    return "\n".join(lines).strip()


def rows(kind: type[Checked]) -> list[Row]:
    """Return a record's settings; tables of a circuit that explain themselves have a section and no row."""
    return [
        Row(name, _range(field), _default(field), field.description or "")
        for name, field in kind.model_fields.items()
        if name not in TAGS and (field.description or not _kinds(field))
    ]


def bounds(field: FieldInfo) -> tuple[tuple[float, bool], tuple[float, bool]]:
    """Return the lowest and the highest value of a field, each with whether it is itself left out."""
    parts = list(_parts(field))
    if POSITION in parts:
        return (0.0, False), (10.0, False)
    low = [(part.ge, False) for part in parts if hasattr(part, "ge")]
    low += [(part.gt, True) for part in parts if hasattr(part, "gt")]
    high = [(part.le, False) for part in parts if hasattr(part, "le")]
    high += [(part.lt, True) for part in parts if hasattr(part, "lt")]
    highest = min(((value, not out) for value, out in high), default=(inf, True))
    return max(low, default=(-inf, False)), (highest[0], not highest[1])


def _range(field: FieldInfo) -> str:
    """Return what a field takes, in words."""
    choices = [choice for part in _nested(field.annotation) if get_origin(part) is Literal for choice in get_args(part)]
    if choices:
        positions = ["0 to 10"] if POSITION in _parts(field) else []
        return ", ".join([*positions, *(f"`{_value(choice)}`" for choice in choices)])
    if _kinds(field):
        return "tables" if get_origin(field.annotation) in (list, tuple) else "table"
    (low, low_out), (high, high_out) = bounds(field)
    if low == -inf:
        plain = {dict: "table", list: "list", tuple: "list", str: "text", Any: "value"}
        return next(word for kind, word in plain.items() if kind in _nested(field.annotation))
    lowest = f"above {_plain(low, field)}" if low_out else _plain(low, field)
    if high == inf:
        return f"{lowest} or more"
    return f"{lowest} to {'below ' if high_out else ''}{_plain(high, field)}"


def _plain(value: float, field: FieldInfo) -> str:
    """Return a limit with its unit, such as "100 MΩ"."""
    symbol = _symbol(field)
    if symbol == "%":
        return f"{100 * value:g} %"
    if symbol in ("", "dB") or not value or (symbol == "s" and value >= 1):
        return f"{value:g} {symbol}".strip()
    step, prefix = next((step, prefix) for least, step, prefix in PREFIXES if value >= least)
    return f"{value / step:g} {prefix}{symbol}"


def _default(field: FieldInfo) -> str:
    """Return a field's default as code, or that there is none."""
    if field.default is PydanticUndefined:
        return "needed"
    return "none" if field.default is None else f"`{written(field, field.default)}`"


def written(field: FieldInfo, value: Any) -> str:
    """Return a field's value as a file would have it."""
    symbol = _symbol(field)
    if symbol == "%":
        return f'"{100 * value:g}%"'
    if symbol:
        return f'"{WRITTEN[symbol](value).replace(" ", "")}"'
    return _value(value)


def _value(value: Any) -> str:
    """Return a value as TOML has it; of a table, what was said of it."""
    if isinstance(value, Checked):
        fields = type(value).model_fields
        said = [key for key in fields if key in value.model_fields_set or key in TAGS]
        pairs = [f"{key} = {written(fields[key], getattr(value, key))}" for key in said]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    if isinstance(value, str):
        return f'"{value}"'
    return f"{value:g}" if isinstance(value, (int, float)) else str(value)


def _symbol(field: FieldInfo) -> str:
    """Return a field's unit, "%" for a share, an empty text for none."""
    parts = list(_parts(field))
    return "%" if SHARE in parts else next((part.symbol for part in parts if isinstance(part, Unit)), "")


def _kinds(field: FieldInfo) -> list[type[Checked]]:
    """Return the kinds of record that a field holds."""
    return [part for part in _nested(field.annotation) if isinstance(part, type) and issubclass(part, Checked)]


def _parts(field: FieldInfo) -> Iterator[Any]:
    """Give all that is said of a field's values, within optional ones too."""
    yield from field.metadata
    for part in _nested(field.annotation):
        if isinstance(part, FieldInfo):
            yield from part.metadata
        else:
            yield part


def _nested(annotation: Any) -> Iterator[Any]:
    """Give an annotation and everything it is made of."""
    yield annotation
    yield get_origin(annotation)
    for part in get_args(annotation):
        yield from _nested(part)


def _annotation(kind: type[Checked], name: str) -> Any:
    """Return a field's annotation, None where there is no such field."""
    return kind.model_fields[name].annotation if name in kind.model_fields else None


def _header(path: str) -> str:
    """Return a dotted path as the header of its table."""
    return f"[[{path.removesuffix('[]')}]]" if path.endswith("[]") else f"[{path.replace('[]', '')}]"


def modules() -> str:
    """Return a line for each module of the package, folder by folder."""
    lines = ["| module | what it is |", "|---|---|"]
    paths = sorted(PACKAGE.rglob("*.py"), key=lambda path: (path.parent != PACKAGE, path.parent, path.name))
    for path in paths:
        name = path.relative_to(PACKAGE).as_posix()
        folder = path.name == "__init__.py" and path.parent != PACKAGE
        shown = f"**`{name.removesuffix('__init__.py')}`**" if folder else f"`{name}`"
        docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        lines.append(f"| {shown} | {_first_paragraph(docstring)} |")
    return "\n".join(lines) + "\n"


def _first_paragraph(docstring: str) -> str:
    """Return the first paragraph of a docstring on one line."""
    return " ".join(docstring.partition("\n\n")[0].replace("``", "`").split())


if __name__ == "__main__":
    main()
