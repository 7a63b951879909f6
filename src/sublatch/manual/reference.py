"""The reference of settings: every table of a circuit file and of a plan, and what each of its keys takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import get_args, get_origin

from pydantic.fields import FieldInfo

from sublatch.audition.plan.records import Plan
from sublatch.checked import Checked, records_in
from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.model import Circuit
from sublatch.errors import ManualError, nearest_hint
from sublatch.manual.fields import TAGS, default_of, range_of, toml_value, unit_of

FILES: dict[str, type[Checked]] = {"circuit": Circuit, "plan": Plan}
"""What the user writes, by the word for it."""


@dataclass(frozen=True)
class Row:
    """One key of a table.

    Attributes
    ----------
    name
        The key.
    unit
        Such as "Ω"; "%" for a share, an empty text where it has none.
    range
        What it takes, in words.
    default
        What it is when the file leaves it out, as the file would have it; "needed" or "none" where there is none.
    description
        What it is, in a sentence.
    """

    name: str
    unit: str
    range: str
    default: str
    description: str


@dataclass(frozen=True)
class Table:
    """One kind of table of a file.

    Attributes
    ----------
    file
        "circuit" or "plan".
    record
        The record that holds it.
    paths
        The dotted paths at which it can stand, an empty text for the file's own keys; ``[]`` follows a list of tables.
    """

    file: str
    record: type[Checked]
    paths: tuple[str, ...]

    @property
    def tag(self) -> str:
        """Return the key and value that tell it from others at its paths, as ``kind = "none"``; empty without one."""
        fields = self.record.model_fields
        tags = [(key, tag) for key in TAGS if key in fields for tag in get_args(fields[key].annotation)]
        return ", ".join(f"{key} = {toml_value(tag)}" for key, tag in tags)

    @property
    def description(self) -> str:
        """Return what it is, in a sentence."""
        return first_paragraph(self.record.__doc__ or "")

    @property
    def rows(self) -> list[Row]:
        """Return its keys; a table within it that explains itself has a `Table` and no row."""
        return [
            Row(name, unit_of(field), range_of(field), default_of(field), field.description or "")
            for name, field in self.record.model_fields.items()
            if name not in TAGS and (field.description or not records_in(field))
        ]


@dataclass(frozen=True)
class Answer:
    """What there is to say of a path: the settings and the tables that it stands for.

    Attributes
    ----------
    settings
        Each with the dotted path of its table.
    tables
        Each with the dotted path at which it stands here.
    """

    settings: tuple[tuple[str, Table, Row], ...]
    tables: tuple[tuple[str, Table], ...]


@cache
def tables() -> tuple[Table, ...]:
    """Return every table of a circuit file and of a plan, each file from the top down."""
    return tuple(
        Table(file, record, tuple(paths)) for file, top in FILES.items() for record, paths in _records(top).items()
    )


def answer(path: str) -> Answer:
    """Return what a dotted path stands for.

    Parameters
    ----------
    path
        Of a setting or a table, such as ``filter.capacitor`` or ``output``; a name by itself, such as ``taper``,
        stands for every setting of that name where no path is so called. Brackets do not count, and a table's ``kind``
        stands for the table in all its kinds.

    Raises
    ------
    ManualError
        When nothing is so called.
    """
    wanted = path.replace("[", "").replace("]", "").strip()
    every = Answer(tuple(_settings()), tuple(_tables_by_path()))
    table_path = wanted.removesuffix(".kind").removesuffix(".part")
    settings = tuple((above, table, row) for above, table, row in every.settings if _path(above, row.name) == wanted)
    tables_there = tuple((at, table) for at, table in every.tables if at and at in (wanted, table_path))
    if not settings and not tables_there:
        settings = tuple((above, table, row) for above, table, row in every.settings if row.name == wanted)
    if not settings and not tables_there:
        raise ManualError(f"there is no setting {path!r}{nearest_hint(wanted, setting_paths())}")
    return Answer(settings, tables_there)


def setting_paths() -> list[str]:
    """Return the dotted path of every setting and every table."""
    paths = [_path(above, row.name) for above, _, row in _settings()]
    return list(dict.fromkeys([*paths, *(path for path, _ in _tables_by_path() if path)]))


def first_paragraph(docstring: str) -> str:
    """Return the first paragraph of a docstring on one line."""
    return " ".join(docstring.partition("\n\n")[0].replace("``", "`").split())


def _tables_by_path() -> list[tuple[str, Table]]:
    """Return every table at each of its paths, as a reader would write them."""
    return [(path.replace("[]", ""), table) for table in tables() for path in table.paths]


def _settings() -> list[tuple[str, Table, Row]]:
    """Return every setting with its table's path."""
    return [(path, table, row) for path, table in _tables_by_path() for row in table.rows]


def _path(above: str, name: str) -> str:
    """Return the dotted path of a key in a table."""
    return f"{above}.{name}".strip(".")


def _records(top: type[Checked]) -> dict[type[Checked], list[str]]:
    """Return every kind of record in a file, from the top down, and the dotted paths at which it can stand."""
    records: dict[type[Checked], list[str]] = {}
    waiting: list[tuple[type[Checked], str]] = [(top, "")]
    while waiting:
        record, path = waiting.pop(0)
        if path.startswith("detector.") and _holds(record, (Pot, SwitchedCapacitor)):
            continue  # no knob and no switch works anything in a detector
        if path.startswith("mix.direct_filter") and _holds(record, (SwitchedCapacitor,)):
            continue  # the direct signal's filter has no switch
        paths = records.setdefault(record, [])
        paths += [path] if path not in paths else []
        for name, field in record.model_fields.items():
            inner = _path(path, name) + ("[]" if _is_list(field) else "")
            waiting += [(part, inner) for part in records_in(field)]
    return records


def _holds(record: type[Checked], kinds: tuple[type[Checked], ...]) -> bool:
    """Return whether a record has a part of some kinds."""
    parts = [part for field in record.model_fields.values() for part in records_in(field)]
    return any(issubclass(part, kinds) for part in parts)


def _is_list(field: FieldInfo) -> bool:
    """Return whether a field is a list of tables."""
    return get_origin(field.annotation) in (list, tuple)
