"""What the user owns: bins of resistors, capacitors and pots, read from a table of comma-separated values."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from sublatch.circuit.components.pots import Taper
from sublatch.errors import StockError, UnitError, nearest_hint
from sublatch.files.text import read_text
from sublatch.units import farads, format_farads, format_ohms, fraction, ohms

Kind = Literal["resistor", "capacitor", "pot"]
COLUMNS = ("kind", "value", "measured", "quantity", "tolerance", "taper", "gangs", "bin")
NEEDED = ("kind", "value")
OTHER_NAMES = {
    **{"r": "resistor", "resistors": "resistor", "c": "capacitor", "cap": "capacitor", "capacitors": "capacitor"},
    **{"pots": "pot", "potentiometer": "pot", "potentiometers": "pot"},
}
FARTHEST = 2.0
"""How many times its value, or what share of it, a part measures at most; more is a slip of the prefix."""
MOST_TOLERANCE = 0.5
SAME = 1e-9
"""Values no further apart than this share are one."""


@dataclass(frozen=True)
class Bin:
    """What lies in one bin.

    Attributes
    ----------
    kind
        What it holds.
    value
        What is printed on it, in ohms or farads.
    measured
        What a meter found, in the same unit; None where it was not measured.
    quantity
        How many there are; None for enough of them.
    tolerance
        How far they may be off, as a share; None where the file does not say.
    taper, gangs
        Of a pot.
    """

    kind: Kind
    value: float
    measured: float | None = None
    quantity: int | None = None
    tolerance: float | None = None
    taper: Taper = "linear"
    gangs: int = 2

    @property
    def actual(self) -> float:
        """What counts: the measured value, or else the printed one."""
        return self.value if self.measured is None else self.measured


@dataclass(frozen=True)
class _Line:
    """One line of the file: where it stands, and its cells by column."""

    where: str
    cells: Mapping[str, str]

    def wrong(self, rule: str, column: str, hint: str = "") -> StockError:
        """Return the error that a cell breaks a rule."""
        return StockError(f"{self.where}: {column} {rule}, got {self.cells[column]!r}{hint}")


def read_bins(path: str | Path) -> tuple[Bin, ...]:
    """Return what the user owns, from a file.

    Parameters
    ----------
    path
        A table with the columns ``kind`` and ``value`` and, where one likes, ``measured``, ``quantity``,
        ``tolerance``, ``taper`` and ``gangs`` of pots, and ``bin``, a name; commas or semicolons between.

    Raises
    ------
    StockError
        When the file cannot be read, or a line is wrong: with its number, what came, and what would work.
    """
    text = read_text(
        Path(path), what="a table of bins", missing="no such file", hint="give the file's name", error=StockError
    )
    found = [(line, _bin(line)) for line in _lines(text, str(path))]
    _check_twice(found)
    return tuple(one for _, one in found if one.quantity != 0)


def _lines(text: str, path: str) -> Iterator[_Line]:
    """Yield the lines of a table, after its heads were looked at; empty ones and comments are left out."""
    delimiter = ";" if ";" in text.partition("\n")[0] else ","
    reader = csv.reader(text.split("\n"), delimiter=delimiter)
    heads: list[str] | None = None
    count = 0
    for row in reader:
        cells = [cell.strip() for cell in row]
        if not any(cells) or cells[0].startswith("#"):
            continue
        where = f"{path}: line {reader.line_num}"
        if heads is None:
            heads = [cell.casefold() for cell in cells]
            _check_heads(heads, where)
            continue
        if len(cells) > len(heads) and any(cells[len(heads) :]):
            raise StockError(
                f"{where}: must have a cell for each of {len(heads)} columns, got {len(cells)}; write decimals with a "
                "point, or put the cell in quotation marks"
            )
        count += 1
        yield _Line(where, {head: cell for head, cell in zip(heads, cells, strict=False)} | _blank(heads, cells))
    if not count:
        came = "an empty file" if heads is None else "column names alone"
        raise StockError(
            f"{path}: must have a line of column names, such as 'kind,value,quantity', and one for each bin, such as "
            f"'resistor,4k7,20', got {came}"
        )


def _blank(heads: list[str], cells: list[str]) -> dict[str, str]:
    """Return empty cells for columns that a line, or the whole table, does not have."""
    return dict.fromkeys([*heads[len(cells) :], *(column for column in COLUMNS if column not in heads)], "")


def _check_heads(heads: list[str], where: str) -> None:
    """Refuse columns that are not known, are there twice, or are missing."""
    for head in heads:
        if head not in COLUMNS:
            hint = nearest_hint(head, COLUMNS)
            raise StockError(f"{where}: columns must be among {', '.join(COLUMNS)}, got {head!r}{hint}")
        if heads.count(head) > 1:
            raise StockError(f"{where}: each column must be there once, got {head!r} {heads.count(head)} times")
    missing = [column for column in NEEDED if column not in heads]
    if missing:
        raise StockError(f"{where}: the column {missing[0]!r} must be there, got {', '.join(heads)}")


def _bin(line: _Line) -> Bin:
    """Return what a line says."""
    kind = _kind(line)
    read = farads if kind == "capacitor" else ohms
    value = _quantity(line, "value", read)
    measured = _quantity(line, "measured", read) if line.cells["measured"] else None
    if measured is not None and not 1.0 / FARTHEST <= measured / value <= FARTHEST:
        raise line.wrong(f"must be near the value, {line.cells['value']}", "measured", _prefix_hint(line, value, read))
    taper, gangs = _taper(line, kind), _gangs(line, kind)
    return Bin(kind, value, measured, _count(line), _tolerance(line), taper, gangs)


def _kind(line: _Line) -> Kind:
    """Return what a line is of."""
    word = line.cells["kind"].casefold()
    for kind in get_args(Kind):
        if OTHER_NAMES.get(word, word) == kind:
            return kind  # type: ignore[no-any-return]  # one of `Kind`
    raise line.wrong(f"must be {', '.join(get_args(Kind))}", "kind", nearest_hint(word, get_args(Kind)))


def _quantity(line: _Line, column: str, read: Callable[[str], float]) -> float:
    """Return the resistance or capacitance of a cell."""
    try:
        return read(line.cells[column])
    except UnitError as problem:
        kind = line.cells["kind"]
        raise StockError(f"{line.where}: {column} of a {kind}: {problem}") from None


def _prefix_hint(line: _Line, value: float, read: Callable[[str], float]) -> str:
    """Return the measured value with the prefix that was probably meant."""
    number = line.cells["measured"].rstrip("FΩpnuµkMRohm ")
    for prefix in ("p", "n", "u", "", "k", "M"):
        try:
            if 1.0 / FARTHEST <= read(number + prefix) / value <= FARTHEST:
                return f"; was it meant as {number + prefix}?"
        except UnitError:
            continue
    return f"; leave it out, and {(format_farads if read is farads else format_ohms)(value)} counts"


def _count(line: _Line) -> int | None:
    """Return how many there are."""
    text = line.cells["quantity"]
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 7):
        raise line.wrong("must be a whole number such as 10, or empty for enough", "quantity")
    return int(text)


def _tolerance(line: _Line) -> float | None:
    """Return how far they may be off."""
    text = line.cells["tolerance"]
    if not text:
        return None
    try:
        share = fraction(text)
    except UnitError as problem:
        raise StockError(f"{line.where}: tolerance: {problem}") from None
    if share > MOST_TOLERANCE:
        hint = f"; was it meant as {text}%?" if share <= 100 * MOST_TOLERANCE and "%" not in text else ""
        raise line.wrong(f"must be at most {MOST_TOLERANCE:.0%}", "tolerance", hint)
    return share


def _taper(line: _Line, kind: Kind) -> Taper:
    """Return a pot's taper."""
    word = line.cells["taper"].casefold()
    if not word:
        return "linear"
    if kind != "pot":
        raise line.wrong("is for pots: leave it empty", "taper")
    for taper in get_args(Taper):
        if word == taper:
            return taper  # type: ignore[no-any-return]  # one of `Taper`
    names = get_args(Taper)
    raise line.wrong(f"must be {', '.join(names)}", "taper", nearest_hint(word, names))


def _gangs(line: _Line, kind: Kind) -> int:
    """Return how many tracks a pot's shaft turns."""
    text = line.cells["gangs"]
    if not text:
        return 2
    if kind != "pot":
        raise line.wrong("is for pots: leave it empty", "gangs")
    if text not in ("1", "2"):
        raise line.wrong("must be 1 or 2", "gangs")
    return int(text)


def _check_twice(found: Sequence[tuple[_Line, Bin]]) -> None:
    """Refuse two values for one bin: one name for unlike parts, or one part counted twice."""
    first: dict[tuple[object, ...], _Line] = {}
    for line, one in found:
        name = line.cells["bin"]
        part = ("part", one.kind, one.value, one.measured, one.taper, one.gangs)
        keys = {part: f"the {one.kind} of {line.cells['value']}", ("bin", name): f"bin {name!r}"}
        for key, told in keys.items():
            if key == ("bin", ""):
                continue
            if key in first:
                raise StockError(
                    f"{line.where}: a bin must have one value, got {told} again, after "
                    f"{first[key].where.rpartition(': ')[2]}; put both into one line, or give each part its own "
                    "measured value"
                )
            first[key] = line
