"""Options that several commands share, and how their values are read and results printed."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from sublatch.cli.completion import complete_circuit, complete_setting, complete_tuning
from sublatch.errors import UnitError
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.board.orders.files import OrderFiles
    from sublatch.pitch.given.notes import GivenNotes

F = TypeVar("F", bound=Callable[..., Any])


METAVARS = {"hertz": "HZ", "ohms": "OHMS", "decibels": "DB", "fraction": "SHARE"}
"""What help shows for a quantity, by its reader in `sublatch.units`."""


def path_option(*names: str, help: str) -> Callable[[F], F]:
    """Return an option that takes a file or a folder."""
    return click.option(*names, type=click.Path(path_type=Path), help=help)


def quantity_option(
    name: str, unit: str, help: str, *, default: str | None = None, zeros: Sequence[str] = ()
) -> Callable[[F], F]:
    """Return an option whose value one of `sublatch.units`' readers takes; `zeros` stand for a 0 that it refuses."""

    def read(_ctx: click.Context, _parameter: click.Parameter, text: str | None) -> float | None:
        from sublatch import units

        if text is None or text.strip() in zeros:
            return None if text is None else 0.0
        try:
            return float(getattr(units, unit)(text))
        except UnitError as problem:
            raise UnitError(f"{name}: {problem}") from None

    return click.option(
        name, callback=read, metavar=METAVARS[unit], default=default, show_default=default is not None, help=help
    )


def quantities_option(name: str, unit: str, help: str) -> Callable[[F], F]:
    """Return an option that takes values with commas between, as a tuple; an empty one when it is not given."""

    def read(_ctx: click.Context, _parameter: click.Parameter, text: str | None) -> tuple[float, ...]:
        from sublatch import units

        try:
            return tuple(float(getattr(units, unit)(word)) for word in (text or "").split(",") if text is not None)
        except UnitError as problem:
            raise UnitError(f"{name}: {problem}") from None

    return click.option(name, callback=read, metavar=f"{METAVARS[unit]},…", help=help)


def circuit_options(function: F) -> F:
    """Add -c and --set."""
    help_set = "Change one setting, such as knobs.tone=3.5 or filter.kind=first-order. May be given again."
    return _circuit_and_set(function, "circuit", help_set=help_set)


def circuits_options(function: F) -> F:
    """Add -c, which may be given again, and --set for all of them."""
    help_set = "Change one setting in every circuit, such as switches.drive=inverted. May be given again."
    return _circuit_and_set(function, "circuits", help_set=help_set)


def _circuit_and_set(function: F, parameter: str, *, help_set: str) -> F:
    """Add -c, whose value is a parameter of the command, and --set."""
    several = parameter == "circuits"
    again = " May be given again." if several else ""
    add_set = click.option(
        "--set", "changes", multiple=True, metavar="PATH=VALUE", help=help_set, shell_complete=complete_setting
    )
    add_circuit = click.option(
        "-c",
        "--circuit",
        parameter,
        multiple=several,
        required=True,
        help=f"A built-in circuit (see 'sublatch circuits') or a .toml file.{again}",
        shell_complete=complete_circuit,
    )
    return add_circuit(add_set(function))


def order_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add --parts and --netlist, of which the command gets `orders`: an `OrderFiles`."""

    @wraps(function)
    def with_orders(*args: Any, parts: Path | None, netlist: Path | None, **others: Any) -> Any:
        from sublatch.board.orders.files import OrderFiles

        return function(*args, orders=OrderFiles(parts, netlist), **others)

    add_netlist = path_option("--netlist", help="CSV file for the netlist, one pin a row.")
    return path_option("--parts", help="CSV file for the parts to order, hardware included.")(add_netlist(with_orders))


def take_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add --full-scale and --calibration, of which the command gets volts as `full_scale`, and --channel."""

    @wraps(function)
    def with_volts(*args: Any, full_scale: str | None, calibration: Path | None, **others: Any) -> Any:
        return function(*args, full_scale=_full_scale_volts(full_scale, calibration), **others)

    add_channel = click.option(
        "--channel", type=click.IntRange(min=1), help="Channel to use, from 1, when they differ."
    )
    add_calibration = path_option(
        "--calibration", help="File that says it instead, as 'sublatch take --meter' writes it."
    )
    add_full_scale = click.option(
        "--full-scale", metavar="VOLTS", help="Volts at the instrument that 0 dBFS stands for, such as 2V. Assumed 1 V."
    )
    return add_full_scale(add_calibration(add_channel(with_volts)))


def notes_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add --notes and --notes-start, of which a command of takes gets the notes as `given`, None without."""

    @wraps(function)
    def with_notes(
        *args: Any, takes: tuple[str, ...], notes: Path | None, notes_start: str | None, **others: Any
    ) -> Any:
        return function(*args, takes=takes, given=_given_notes(takes, notes, notes_start), **others)

    add_start = click.option(
        "--notes-start", metavar="SECONDS", help="Where the zero of --notes lies in the take; else found by its onsets."
    )
    add_notes = path_option(
        "--notes", help="The notes that were played, a .mid file or a text, instead of those found."
    )
    return add_notes(add_start(with_notes))


tuning_option = click.option(
    "--tuning",
    default="bass-4",
    show_default=True,
    help="Open strings: bass-5, guitar-6, …, or notes: 'D1 A1 D2 G2'.",
    shell_complete=complete_tuning,
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print one JSON document on standard output.")
overwrite_option = click.option(
    "--overwrite", is_flag=True, help="Replace files even where sublatch did not make them."
)


def _full_scale_volts(text: str | None, calibration: Path | None) -> float | None:
    """Return the volts of --full-scale or --calibration, None without either."""
    if text is not None and calibration is not None:
        raise click.UsageError("--full-scale and --calibration say the same; give one of them")
    if calibration is not None:
        from sublatch.takes.calibration import read_calibration

        return read_calibration(calibration)
    return None if text is None else read_positive_volts("--full-scale", text)


def _given_notes(takes: Sequence[str], file: Path | None, start: str | None) -> GivenNotes | None:
    """Return the notes of --notes, None without."""
    if file is None:
        if start is not None:
            raise click.UsageError("--notes-start says where the notes of --notes begin; give that as well")
        return None
    if len(takes) != 1:
        raise click.UsageError(f"--notes has the notes of one take, got {len(takes)} takes; track them one by one")
    from sublatch.pitch.given.read import read_notes

    return read_notes(file, start_s=None if start is None else _signed_seconds("--notes-start", start))


def _signed_seconds(option: str, text: str) -> float:
    """Return the seconds that an option gives, of either sign."""
    from sublatch.units import seconds

    plain = text.strip().replace("−", "-")
    try:
        return -seconds(plain[1:]) if plain.startswith("-") else seconds(plain)
    except UnitError as problem:
        raise UnitError(f"{option}: {problem}") from None


def notes_words(context: click.Context) -> list[str]:
    """Return --notes and --notes-start as they were given, for another command line; nothing without."""
    given = {"--notes": context.params["notes"], "--notes-start": context.params["notes_start"]}
    return [word for option, value in given.items() if value is not None for word in (option, str(value))]


def scale_words(context: click.Context) -> list[str]:
    """Return --full-scale or --calibration as it was given, for another command line; nothing without either."""
    given = {"--full-scale": context.params["full_scale"], "--calibration": context.params["calibration"]}
    return [word for option, value in given.items() if value is not None for word in (option, str(value))]


def read_positive_volts(option: str, text: str) -> float:
    """Return the volts that an option gives, above 0 V and at most 100 V."""
    from sublatch.takes.take import HIGHEST_FULL_SCALE_VOLTS
    from sublatch.units import volts

    try:
        value = volts(text)
    except UnitError as problem:
        raise UnitError(f"{option}: {problem}") from None
    if not 0.0 < value <= HIGHEST_FULL_SCALE_VOLTS:
        hint = "; is it in millivolts?" if value > HIGHEST_FULL_SCALE_VOLTS else ""
        raise UnitError(f"{option} must be above 0 V and at most {HIGHEST_FULL_SCALE_VOLTS:g} V, got {text!r}{hint}")
    return value


def note_assumed() -> None:
    """Say that nobody said what full scale stands for."""
    note("0 dBFS is taken for 1 V peak; say otherwise with --full-scale or --calibration")


def circuit_files(*circuits: str | None) -> list[str]:
    """Return those of circuits' names that are files, not built-in ones."""
    return [circuit for circuit in circuits if circuit is not None and circuit.lower().endswith(".toml")]


def note_orders(orders: OrderFiles) -> None:
    """Say which order list and netlist were written."""
    for _, path in orders.asked:
        click.echo(f"Written {path}", err=True)


@contextmanager
def search_bar(label: str, *, steps: int) -> Iterator[Callable[[], None]]:
    """Show on a terminal how far a search is, that may take a few steps more or less; give what tells of a step."""
    if not sys.stderr.isatty():
        yield lambda: None
        return
    with click.progressbar(length=steps, label=label, file=sys.stderr) as bar:
        yield lambda: bar.update(1 if bar.pos < steps else 0)


def print_json(document: Any) -> None:
    """Print one JSON document, records and all, in ASCII so that it is the same in every terminal and pipe."""
    click.echo(json.dumps(plain_values(document), indent=2, allow_nan=False))


def note(text: str) -> None:
    """Print a remark on standard error."""
    click.echo(f"note: {text}", err=True)


def printable(text: str) -> str:
    """Return a text from a file without what would move the cursor or end the line."""
    plain = text.replace("\N{NO-BREAK SPACE}", " ")
    return "".join(character if character.isprintable() else "�" for character in plain)


def columns(rows: Sequence[Sequence[str]], *, right_from: int = 99, indent: str = "  ") -> str:
    """Return rows of cells as lines, each column as wide as its widest cell; from one column on they end flush."""
    sides = ["<" if column < right_from else ">" for column in range(len(rows[0]))]
    formats = [f"{side}{max(map(len, cells))}" for side, cells in zip(sides, zip(*rows, strict=True), strict=True)]
    return "\n".join(indent + "  ".join(map(format, row, formats)).rstrip() for row in rows)


def number(value: float | None, *, places: int = 1) -> str:
    """Return a level or gain for a table, a dash where there is none."""
    return "–" if value is None else f"{round(value, places) + 0.0:.{places}f}"  # no minus before a zero


def level(value: float | None, unit: str, *, signed: bool = False) -> str:
    """Return a level with its unit, a gain with its sign."""
    plus = "+" if signed and value is not None and round(value, 1) > 0.0 else ""
    return "–" if value is None else f"{plus}{number(value)} {unit}"


def share(value: float) -> str:
    """Return a share in per cent, so that a little is never taken for nothing."""
    return "< 0.1" if 0.0 < value < 0.0005 else f"{100 * value:.1f}" if value else "0"
