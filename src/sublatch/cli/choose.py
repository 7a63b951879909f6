"""``sublatch choose``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.completion import complete_choice, complete_circuit
from sublatch.cli.help import Manual
from sublatch.cli.options import (
    F,
    circuit_files,
    json_option,
    note,
    overwrite_option,
    path_option,
    print_json,
    quantities_option,
    quantity_option,
)
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.parts.choose.choice import Choice
    from sublatch.parts.choose.fitted import Fitted

SWEPT = ("swept-second-order", "swept-state-variable")
KINDS = (*SWEPT, "third-order", "first-order")


def _word_option(name: str, help: str, *, default: str | None = None) -> Callable[[F], F]:
    """Return an option that takes a word among few, which the Tab key completes."""
    return click.option(
        name, default=default, show_default=default is not None, help=help, shell_complete=complete_choice
    )


@click.command(
    cls=Manual,
    short_help="Find parts to buy for the filter that one liked.",
    examples=(
        "sublatch choose --low 100Hz --high 3kHz --peak 4dB -c gated-swept -o mine.toml",
        "sublatch choose --low 100Hz --high 3kHz --peak 4dB --stock bins.csv --pot 50k,100k",
        "sublatch choose --kind third-order --corner 300Hz --plot third.png",
    ),
    groups={
        "Kind of filter": ("--kind",),
        "Swept filter": ("--low", "--high", "--peak", "--flat", "--pot", "--taper"),
        "First- and third-order filters": ("--corner", "--shape"),
        "Parts to choose from": ("--series", "--resistor-series", "--stock"),
        "Boards as they come out": (
            "--capacitor-tolerance",
            "--resistor-tolerance",
            "--pot-tolerance",
            "--gang-mismatch",
            "--pot-end",
            "--distribution",
            "--corner-within",
            "--peak-within",
        ),
        "Output": ("--circuit",),
    },
)
@click.option("--kind", type=click.Choice(KINDS), default=SWEPT[0], show_default=True, help="The kind of filter.")
@quantity_option("--low", "hertz", "Corner with the tone knob at 0, such as 100Hz.")
@quantity_option("--high", "hertz", "Corner with the tone knob at 10, such as 3kHz.")
@quantity_option("--peak", "decibels", "Peak with the peak switch at peaked, such as 4dB.")
@quantity_option("--flat", "decibels", "Peak with the switch at flat.  [default: 0dB, maximally flat]")
@quantities_option("--pot", "ohms", "The dual-gang pots that may be taken, such as 50k,100k. Any when not given.")
@_word_option("--taper", "Its taper: linear, log or reverse-log. The one that sweeps most evenly when not given.")
@quantity_option("--corner", "hertz", "Corner of a first- or third-order filter, such as 300Hz.")
@_word_option("--shape", "Curve of a third-order filter: butterworth, bessel or chebyshev.  [default: butterworth]")
@_word_option("--series", "Series of the capacitors, E3 to E24.", default="E12")
@_word_option("--resistor-series", "Series of the resistors, E3 to E192.", default="E24")
@path_option("--stock", help="CSV file of what you own: sets that need no order come first.")
@quantity_option("--capacitor-tolerance", "fraction", "Of each capacitor.", default="10%")
@quantity_option("--resistor-tolerance", "fraction", "Of each resistor.", default="5%")
@quantity_option("--pot-tolerance", "fraction", "Of the pot's track.", default="20%")
@quantity_option("--gang-mismatch", "fraction", "Most that two gangs differ.", default="20%")
@quantity_option("--pot-end", "ohms", "Most left at each end of a pot.", default="150", zeros=("0", "none"))
@_word_option("--distribution", "How parts are spread: uniform or normal.", default="uniform")
@quantity_option("--corner-within", "fraction", "A board's corner must be.", default="20%")
@quantity_option("--peak-within", "decibels", "A board's peak must be.", default="1dB")
@click.option(
    "-c",
    "--circuit",
    help="Circuit to put the parts into: a built-in one or a .toml file. Needs -o.",
    shell_complete=complete_circuit,
)
@path_option("-o", "--output", help="Circuit file (.toml) to write it to. Needs -c.")
@path_option("--plot", help="PNG file to draw the filter into, with tolerance bands.")
@overwrite_option
@json_option
def choose(
    kind: str,
    low: float | None,
    high: float | None,
    peak: float | None,
    flat: float | None,
    pot: tuple[float, ...],
    taper: str | None,
    corner: float | None,
    shape: str | None,
    series: str,
    resistor_series: str,
    stock: Path | None,
    capacitor_tolerance: float,
    resistor_tolerance: float,
    pot_tolerance: float,
    gang_mismatch: float,
    pot_end: float,
    distribution: str,
    corner_within: float,
    peak_within: float,
    circuit: str | None,
    output: Path | None,
    plot: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Find parts to buy for a filter, and how many boards built from them come out as meant.

    A corner is where the gain is 3.01 dB below that at 0 Hz, as 'sublatch response' shows it. Both positions of the
    peak switch have the same corners, to 5 %, so that the switch adds a peak and no brightness. Where it is worth two
    parts more, a start resistor is across each gang of the pot, so that the low end hangs less on the pot's tolerance.
    Of sets that come near, those whose parts are easily bought come first; with --stock those of which you own all, and
    you are told what an order of one part would gain. Normal means that a tolerance is three
    standard deviations.
    """
    from sublatch.circuit.components.tolerances import Tolerances
    from sublatch.circuit.save import CIRCUIT_FILES
    from sublatch.parts.choose.bins import read_bins
    from sublatch.parts.choose.job import choose as choose_swept
    from sublatch.parts.choose.job import choose_fixed
    from sublatch.parts.choose.request import BASE, ChooseFixedRequest, ChooseRequest
    from sublatch.parts.tolerance import Limits
    from sublatch.pictures.file import guard_picture

    swept = {"--low": low, "--high": high, "--peak": peak, "--flat": flat, "--pot": pot or None, "--taper": taper}
    fixed = {"--corner": corner, "--shape": shape}
    _must_fit(kind, swept, fixed)
    if (circuit is None) != (output is None):
        raise click.UsageError(
            "-c and -o go together: the circuit to put the parts into, and the file to write, such as -c gated-swept "
            "-o mine.toml"
        )
    inputs = [*circuit_files(circuit), *([] if stock is None else [str(stock)])]
    if output is not None:
        CIRCUIT_FILES.guard(output, inputs=inputs, overwrite=overwrite)
    if plot is not None:
        guard_picture(plot, inputs=inputs, overwrite=overwrite)
    tolerances = Tolerances(
        capacitor=capacitor_tolerance,
        resistor=resistor_tolerance,
        pot=pot_tolerance,
        gang=gang_mismatch,
        pot_end_ohm=pot_end,
        distribution=distribution,  # type: ignore[arg-type]  # it is checked there
    )
    limits = Limits(corner_within, peak_within)
    bins = None if stock is None else read_bins(stock)
    if low is not None and high is not None and peak is not None:
        choice = choose_swept(
            ChooseRequest(
                kind=kind,  # type: ignore[arg-type]
                low_hz=low,
                high_hz=high,
                peak_db=peak,
                flat_peak_db=flat or 0.0,
                pots_ohm=pot,
                taper=taper,  # type: ignore[arg-type]  # it is checked there
                capacitors=series,
                resistors=resistor_series,
                tolerances=tolerances,
                limits=limits,
                base=circuit or BASE,
                bins=bins,
            )
        )
    else:
        assert corner is not None
        choice = choose_fixed(
            ChooseFixedRequest(
                corner_hz=corner,
                kind=kind,  # type: ignore[arg-type]
                shape=shape or "butterworth",  # type: ignore[arg-type]
                capacitors=series,
                resistors=resistor_series,
                tolerances=tolerances,
                limits=limits,
                bins=bins,
            )
        )
    written = None
    if circuit is not None and output is not None:
        written = _write(choice, circuit, output, inputs=inputs, overwrite=overwrite)
    _print(choice, output, written, as_json=as_json)
    if written is not None:
        _note_changes(written)
        if circuit_files(circuit):
            note(f"the comments in {circuit} are not carried over")
        click.echo(f"Written {output}: {written.circuit.title}", err=True)
    if plot is not None:
        _draw(choice, plot)


def _must_fit(kind: str, swept: Mapping[str, object], fixed: Mapping[str, object]) -> None:
    """Refuse options that this kind of filter has no use for, and the lack of those that it needs."""
    is_swept = kind in SWEPT
    own, others = (swept, fixed) if is_swept else (fixed, swept)
    useless = [name for name, value in others.items() if value is not None]
    if useless:
        right_kind = "third-order or first-order" if is_swept else " or ".join(SWEPT)
        raise click.UsageError(f"{useless[0]} is for --kind {right_kind}, got --kind {kind}")
    needed = ("--low", "--high", "--peak") if is_swept else ("--corner",)
    missing = [name for name in needed if own[name] is None]
    if missing:
        example = "--low 100Hz --high 3kHz --peak 4dB" if is_swept else f"--kind {kind} --corner 300Hz"
        raise click.UsageError(f"{', '.join(missing)} must be given for --kind {kind}, such as {example}")
    if kind == "first-order" and fixed["--shape"] is not None:
        raise click.UsageError("--shape is for --kind third-order")


def _print(choice: Choice, output: Path | None, written: Fitted | None, *, as_json: bool) -> None:
    """Print what was chosen, as a table or as JSON."""
    from sublatch.cli.choose_tables import print_choice

    if as_json:
        print_json({**plain_values(choice), "output": None if output is None else str(output), "written": written})
    else:
        print_choice(choice)


def _draw(choice: Choice, plot: Path) -> None:
    """Draw the best set of parts with its tolerance bands."""
    from sublatch.parts.choose.plot import chosen_png
    from sublatch.pictures.file import MAKER, write_picture

    write_picture(plot, chosen_png(choice.best, choice.spread.tolerances, software=MAKER))
    click.echo(f"Drawn {plot}; shaded: nine boards of ten", err=True)


def _write(choice: Choice, circuit: str, output: Path, *, inputs: list[str], overwrite: bool) -> Fitted:
    """Write the circuit with the best set of parts in it, and return it."""
    from sublatch.circuit.changed import change_comments
    from sublatch.circuit.load import load_circuit
    from sublatch.circuit.origins import without_marks
    from sublatch.circuit.save import save_circuit
    from sublatch.parts.choose.fitted import fitted

    old, loaded = load_circuit(circuit), load_circuit(circuit, changes=choice.changes)
    marks = without_marks(old.origins, ["filter"])
    new_filter = choice.best.circuit.filter  # without what was in it before
    loaded = loaded.model_copy(update={"filter": new_filter, "origins": marks})
    new = fitted(old, choice.best, into=loaded)
    comments = change_comments(old, new.circuit)
    save_circuit(new.circuit, output, comments=comments, inputs=inputs, overwrite=overwrite)
    return new


def _note_changes(written: Fitted) -> None:
    """Say which trim resistor there is now and where the volume stands, where unity has moved."""
    from sublatch.units import format_ohms

    trim_ohm, volume = written.circuit.output.trim_resistor, written.circuit.knobs.volume
    if trim_ohm != written.old_trim_ohm and written.old_trim_ohm is not None:
        now = "none" if trim_ohm is None else format_ohms(trim_ohm)
        was = format_ohms(written.old_trim_ohm)
        note(f"to keep unity where it was, output.trim_resistor is {now}, was {was}")
    if volume == written.old_volume:
        return
    before, after = (
        "beyond 10" if position is None else f"{position:.2f}"
        for position in (written.unity_before, written.unity_after)
    )
    note(f"unity moved from {before} to {after} on the volume knob: knobs.volume is {volume}, was {written.old_volume}")
