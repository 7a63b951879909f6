"""``sublatch choose``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sublatch.cli.completion import complete_circuit
from sublatch.cli.help import Manual
from sublatch.cli.options import json_option, note, overwrite_option, print_json
from sublatch.errors import UnitError
from sublatch.json_data import plain_values

if TYPE_CHECKING:
    from sublatch.parts.choose.choice import Choice
    from sublatch.parts.choose.fitted import Fitted
    from sublatch.parts.tolerance import Limits
    from sublatch.parts.variation import Tolerances

SWEPT = ("swept-second-order", "swept-state-variable")
NOTHING = ("0", "none")
"""What `--pot-end` says for a pot that turns down to nothing; a resistance that is read is above zero."""
KINDS = (*SWEPT, "third-order", "first-order")


@click.command(
    cls=Manual,
    short_help="Find parts to buy for the filter that one liked.",
    examples=(
        "sublatch choose --low 100Hz --high 3kHz --peak 4dB -c gated-swept -o mine.toml",
        "sublatch choose --kind third-order --corner 300Hz --plot third.png",
    ),
    groups={
        "Kind of filter": ("--kind",),
        "Swept filter": ("--low", "--high", "--peak", "--flat", "--pot", "--taper"),
        "First- and third-order filters": ("--corner", "--shape"),
        "Parts on sale": ("--series", "--resistor-series"),
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
@click.option("--low", metavar="HZ", help="Corner with the tone knob at 0, such as 100Hz.")
@click.option("--high", metavar="HZ", help="Corner with the tone knob at 10, such as 3kHz.")
@click.option("--peak", metavar="DB", help="Peak with the peak switch at peaked, such as 4dB.")
@click.option("--flat", metavar="DB", help="Peak with the switch at flat.  [default: 0dB, maximally flat]")
@click.option("--pot", metavar="OHMS", help="The dual-gang pot, such as 50k. Chosen when not given.")
@click.option("--taper", help="Its taper: linear, log or reverse-log. The one that sweeps most evenly when not given.")
@click.option("--corner", metavar="HZ", help="Corner of a first- or third-order filter, such as 300Hz.")
@click.option(
    "--shape", help="Curve of a third-order filter: butterworth, bessel or chebyshev.  [default: butterworth]"
)
@click.option("--series", default="E12", show_default=True, help="Series of the capacitors, E3 to E24.")
@click.option("--resistor-series", default="E24", show_default=True, help="Series of the resistors, E3 to E192.")
@click.option("--capacitor-tolerance", metavar="SHARE", default="10%", show_default=True, help="Of each capacitor.")
@click.option("--resistor-tolerance", metavar="SHARE", default="5%", show_default=True, help="Of each resistor.")
@click.option("--pot-tolerance", metavar="SHARE", default="20%", show_default=True, help="Of the pot's track.")
@click.option("--gang-mismatch", metavar="SHARE", default="20%", show_default=True, help="Most that two gangs differ.")
@click.option("--pot-end", metavar="OHMS", default="150", show_default=True, help="Most left at each end of a pot.")
@click.option("--distribution", default="uniform", show_default=True, help="How parts are spread: uniform or normal.")
@click.option("--corner-within", metavar="SHARE", default="20%", show_default=True, help="A board's corner must be.")
@click.option("--peak-within", metavar="DB", default="1dB", show_default=True, help="A board's peak must be.")
@click.option(
    "-c",
    "--circuit",
    help="Circuit to put the parts into: a built-in one or a .toml file. Needs -o.",
    shell_complete=complete_circuit,
)
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Circuit file (.toml) to write it to. Needs -c.")
@click.option("--plot", type=click.Path(path_type=Path), help="PNG file to draw the filter into, with tolerance bands.")
@overwrite_option
@json_option
def choose(
    kind: str,
    low: str | None,
    high: str | None,
    peak: str | None,
    flat: str | None,
    pot: str | None,
    taper: str | None,
    corner: str | None,
    shape: str | None,
    series: str,
    resistor_series: str,
    capacitor_tolerance: str,
    resistor_tolerance: str,
    pot_tolerance: str,
    gang_mismatch: str,
    pot_end: str,
    distribution: str,
    corner_within: str,
    peak_within: str,
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
    Of sets that come near, those whose parts are easily bought come first. Normal means that a tolerance is three
    standard deviations.
    """
    from sublatch.circuit.save import CIRCUIT_FILES
    from sublatch.parts.choose.job import choose as choose_swept
    from sublatch.parts.choose.job import choose_fixed
    from sublatch.parts.choose.request import BASE, ChooseFixedRequest, ChooseRequest
    from sublatch.parts.tolerance import Limits
    from sublatch.parts.variation import Tolerances
    from sublatch.pictures.file import guard_picture
    from sublatch.units import decibels, fraction, hertz, ohms

    swept = {"--low": low, "--high": high, "--peak": peak, "--flat": flat, "--pot": pot, "--taper": taper}
    fixed = {"--corner": corner, "--shape": shape}
    needed = ("--low", "--high", "--peak") if kind in SWEPT else ("--corner",)
    _must_fit(kind, *((swept, fixed) if kind in SWEPT else (fixed, swept)), needed)
    if kind == "first-order" and shape is not None:
        raise click.UsageError("--shape is for --kind third-order")
    if (circuit is None) != (output is None):
        raise click.UsageError(
            "-c and -o go together: the circuit to put the parts into, and the file to write, such as -c gated-swept "
            "-o mine.toml"
        )
    if output is not None and circuit is not None:
        CIRCUIT_FILES.guard(output, inputs=_files(circuit), overwrite=overwrite)
    if plot is not None:
        guard_picture(plot, inputs=_files(circuit), overwrite=overwrite)
    tolerances = Tolerances(
        capacitor=_read("--capacitor-tolerance", capacitor_tolerance, fraction),
        resistor=_read("--resistor-tolerance", resistor_tolerance, fraction),
        pot=_read("--pot-tolerance", pot_tolerance, fraction),
        gang=_read("--gang-mismatch", gang_mismatch, fraction),
        pot_end_ohm=0.0 if pot_end.strip() in NOTHING else _read("--pot-end", pot_end, ohms),
        distribution=distribution,  # type: ignore[arg-type]  # it is checked there
    )
    limits = Limits(_read("--corner-within", corner_within, fraction), _read("--peak-within", peak_within, decibels))
    if kind in SWEPT:
        request = ChooseRequest(
            kind=kind,  # type: ignore[arg-type]
            low_hz=_read("--low", low, hertz),
            high_hz=_read("--high", high, hertz),
            peak_db=_read("--peak", peak, decibels),
            flat_peak_db=_read("--flat", flat or "0dB", decibels),
            pot_ohm=None if pot is None else _read("--pot", pot, ohms),
            taper=taper,  # type: ignore[arg-type]  # it is checked there
            capacitors=series,
            resistors=resistor_series,
            tolerances=tolerances,
            limits=limits,
            base=circuit or BASE,
        )
        found = choose_swept(request)
    else:
        fixed_request = ChooseFixedRequest(
            corner_hz=_read("--corner", corner, hertz),
            kind=kind,  # type: ignore[arg-type]
            shape=shape or "butterworth",  # type: ignore[arg-type]
            capacitors=series,
            resistors=resistor_series,
            tolerances=tolerances,
            limits=limits,
        )
        found = choose_fixed(fixed_request)
    _tell(found, tolerances, limits, circuit=circuit, output=output, overwrite=overwrite, as_json=as_json)
    if plot is not None:
        _draw(found, tolerances, plot)


def _must_fit(kind: str, own: dict[str, str | None], others: dict[str, str | None], needed: tuple[str, ...]) -> None:
    """Refuse options that this kind of filter has no use for, and the lack of those that it needs."""
    astray = [name for name, value in others.items() if value is not None]
    if astray:
        meant = f"--kind {' or '.join(SWEPT)}" if kind not in SWEPT else "--kind third-order or first-order"
        raise click.UsageError(f"{astray[0]} is for {meant}, got --kind {kind}")
    missing = [name for name in needed if own[name] is None]
    if missing:
        example = "--low 100Hz --high 3kHz --peak 4dB" if kind in SWEPT else f"--kind {kind} --corner 300Hz"
        raise click.UsageError(f"{', '.join(missing)} must be given for --kind {kind}, such as {example}")


def _read(name: str, text: str | None, reader: Callable[[str | float], float]) -> float:
    """Return the quantity of an option."""
    assert text is not None
    try:
        return reader(text)
    except UnitError as problem:
        raise UnitError(f"{name}: {problem}") from None


def _files(circuit: str | None) -> list[str]:
    """Return the file that a circuit is read from, none for a built-in one."""
    return [circuit] if circuit is not None and circuit.lower().endswith(".toml") else []


def _draw(found: Choice, tolerances: Tolerances, plot: Path) -> None:
    """Draw the best set of parts with its tolerance bands."""
    from sublatch.parts.choose.plot import chosen_png
    from sublatch.pictures.file import MAKER, write_picture

    write_picture(plot, chosen_png(found.best, tolerances, software=MAKER))
    click.echo(f"Drawn {plot}; shaded: nine boards of ten", err=True)


def _tell(
    found: Choice,
    tolerances: Tolerances,
    limits: Limits,
    *,
    circuit: str | None,
    output: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Write the circuit where that is asked for, and print what was found."""
    from sublatch.cli.choose_tables import print_choice

    written = None if circuit is None or output is None else _write(found, circuit, output, overwrite=overwrite)
    if as_json:
        print_json({**plain_values(found), "output": None if output is None else str(output), "written": written})
    else:
        print_choice(found, tolerances, limits)
    if circuit is not None and written is not None:
        _say_what_was_mended(written)
        if _files(circuit):
            note(f"the comments in {circuit} are not carried over")
        click.echo(f"Written {output}: {written.circuit.title}", err=True)


def _write(found: Choice, circuit: str, output: Path, *, overwrite: bool) -> Fitted:
    """Write the circuit with the best set of parts in it, and return it."""
    from sublatch.circuit.changed import change_comments
    from sublatch.circuit.load import load_circuit
    from sublatch.circuit.save import save_circuit
    from sublatch.parts.choose.fitted import fitted

    old, loaded = load_circuit(circuit), load_circuit(circuit, changes=found.changes)
    loaded = loaded.model_copy(update={"filter": found.best.circuit.filter})  # without what was in it before
    made = fitted(old, found.best, into=loaded)
    comments = change_comments(old, made.circuit)
    save_circuit(made.circuit, output, comments=comments, inputs=_files(circuit), overwrite=overwrite)
    return made


def _say_what_was_mended(made: Fitted) -> None:
    """Say where the volume stands now, where unity has moved."""
    volume = made.circuit.knobs.volume
    if volume == made.old_volume:
        return
    before, after = (
        "beyond 10" if position is None else f"{position:.2f}" for position in (made.unity_before, made.unity_after)
    )
    note(f"unity moved from {before} to {after} on the volume knob: knobs.volume is {volume}, was {made.old_volume}")
