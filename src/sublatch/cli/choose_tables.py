"""What ``sublatch choose`` prints: parts, what they give, how boards differ, other sets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sublatch.cli.options import number, share
from sublatch.parts.knobs.judgement import buying_remarks, hard_parts, step_words
from sublatch.units import format_hertz

if TYPE_CHECKING:
    from sublatch.parts.choose.choice import Choice, MeasuredSet, Setting
    from sublatch.parts.tolerance import Limits
    from sublatch.parts.variation import Tolerances

NAMES = {"end_resistor": "end resistor", "pot": "pot"}
SPREADS = {
    "uniform": "uniform within their tolerance",
    "normal": "normal, their tolerance three standard deviations and none outside it",
}
LINE = 120
WORTH_A_WORD = 0.1
"""A part that causes less of the variation is not named."""


def print_choice(found: Choice, tolerances: Tolerances, limits: Limits) -> None:
    """Print a choice."""
    click.echo("parts")
    rows = _parts(found.best)
    width = max(len(name) for name, _ in rows)
    for name, value in rows:
        click.echo(f"  {name:<{width}}  {value}")
    click.echo()
    _print_settings(found.best)
    _print_remarks(found)
    click.echo()
    _print_boards(found, tolerances, limits)
    if found.alternatives:
        click.echo()
        _print_alternatives(found.alternatives)
    click.echo()
    click.echo("for the circuit file, in place of its [filter] tables")
    click.echo()
    click.echo(found.best.toml, nl=False)


def _parts(found: MeasuredSet) -> list[tuple[str, str]]:
    """Return what to buy: each part's name and value."""
    changes = {path.removeprefix("filter."): str(value) for path, value in found.changes.items()}
    if "pot.value" not in changes:
        return [(name.replace("_", " "), value) for name, value in changes.items() if name != "kind"]
    midpoint = float(changes.get("pot.midpoint", 0.5))
    tapers = {
        "linear": "linear",
        "log": f"log, {100 * midpoint:g} % at half rotation",
        "reverse-log": f"reverse-log, {100 * (1 - midpoint):g} % at half rotation",
    }
    flats = {name.removesuffix(".flat"): value for name, value in changes.items() if name.endswith(".flat")}
    others = {name: f"{flat} flat, {changes[f'{name}.peaked']} peaked" for name, flat in flats.items()}
    plain = {name: value for name, value in changes.items() if name.endswith("_resistor")}
    others |= {name: value for name, value in plain.items() if name not in ("start_resistor", "end_resistor")}
    start = [("start resistor", f"{changes['start_resistor']}, one across each gang")] if _has_start(found) else []
    return [
        ("pot", f"{changes['pot.value']} dual-gang, {tapers[changes['pot.taper']]}"),
        *start,
        ("end resistor", f"{changes['end_resistor']}, one in series with each gang; at 10 it alone is left"),
        *((name.replace("_", " "), value) for name, value in others.items()),
    ]


def _has_start(found: MeasuredSet) -> bool:
    """Return whether a set of parts has start resistors."""
    return "filter.start_resistor" in found.changes


def _print_settings(found: MeasuredSet) -> None:
    """Print what the parts give beside what was asked for."""
    rows: list[tuple[str, ...]] = [("", "corner", "asked", "off", "peak", "asked", "f0")]
    for one in found.settings:
        asked_hz = one.wanted.corner_hz
        assert asked_hz is not None
        rows.append(
            (
                _place(one),
                format_hertz(round(one.corner_hz, 1)),
                format_hertz(asked_hz),
                f"{100 * one.corner_off:+.1f} %",
                f"{one.peak_db:.2f} dB",
                f"{one.wanted.peak_db:.2f} dB",
                format_hertz(round(one.natural_hz, 1)),
            )
        )
    _print_rows(rows)
    if found.steepest_octaves is not None:
        words = step_words(found.steepest_octaves, "octaves")
        click.echo(f"The knob's steepest step covers {found.steepest_octaves:.2f} octaves: {words}.")


def _print_remarks(found: Choice) -> None:
    """Print the headroom, and what is hard to buy."""
    hard = buying_remarks(hard_parts(found.best.circuit.filter))
    for words in (*([] if found.in_hand is None else [found.in_hand.judged]), *(one.text for one in hard)):
        click.echo(click.wrap_text(f"{words[0].upper()}{words[1:]}.", LINE, subsequent_indent="  "))


def _place(one: Setting) -> str:
    """Return the knob's and switch's position in words."""
    if one.wanted.tone is None:
        return "as built"
    return f"tone {one.wanted.tone:g}, {one.wanted.peak}"


def _print_boards(found: Choice, tolerances: Tolerances, limits: Limits) -> None:
    """Print how many boards stay within the limits, and what decides."""
    spread = found.spread
    click.echo(
        f"{share(spread.yield_share)} % of boards have their corner within {100 * limits.corner_share:g} % and their "
        f"peak within {limits.peak_db:g} dB"
    )
    click.echo(
        f"  with capacitors {100 * tolerances.capacitor:g} %, resistors {100 * tolerances.resistor:g} %"
        f"{_pot_tolerances(found, tolerances)}"
    )
    boards = f"{spread.boards} boards, give or take {100 * spread.standard_error:.1f}"
    click.echo(f"  parts {SPREADS[spread.tolerances.distribution]} ({boards})")
    if _has_start(found.best):
        _print_start(found, tolerances)
    told = [f"{_cause(name)} {100 * part:.0f} %" for name, part in spread.matters.items() if part >= WORTH_A_WORD]
    if told:
        click.echo(f"  what boards differ by comes from: {', '.join(told)}")


def _pot_tolerances(found: Choice, tolerances: Tolerances) -> str:
    """Return in words how far the pot may be off, where there is one."""
    if found.best.steepest_octaves is None:
        return ""
    left = f"up to {tolerances.pot_end_ohm:g} Ω left at each end"
    return f", pot {100 * tolerances.pot:g} %, its gangs {100 * tolerances.gang:g} % apart at most, {left}"


def _print_start(found: Choice, tolerances: Tolerances) -> None:
    """Print what the start resistors are good for."""
    low_end = found.best.low_end
    assert low_end is not None
    left, whole = (100 * tolerances.pot * counts for counts in (low_end.pot_counts, low_end.pot_alone_counts))
    click.echo(
        f"  at tone 0 a pot {100 * tolerances.pot:g} % off moves the corner by about {left:.0f} %, without the start "
        f"resistors by {whole:.0f} %"
    )
    if found.without_start_share is not None:
        click.echo(f"  of boards with the best set that has none, {share(found.without_start_share)} % come within")


def _cause(name: str) -> str:
    """Return the name of a part that varies, in words."""
    part, _, position = name.removeprefix("filter.").replace("_", " ").partition(".")
    return f"{position} {part}".lstrip()


def _print_alternatives(alternatives: tuple[MeasuredSet, ...]) -> None:
    """Print other sets, each in a line with its largest errors."""
    order = "the nearest first" if alternatives[0].steepest_octaves is None else "the easiest to buy and surest first"
    click.echo(f"other sets, {order}, with the most that they are off")
    if alternatives[0].steepest_octaves is not None:
        with_start = any(_has_start(one) for one in alternatives)
        heads: tuple[str, ...] = (
            "pot",
            *(("start",) if with_start else ()),
            "end",
            "flat",
            "peaked",
            "low",
            "high",
            "boards",
            "corner",
            "switch",
            "flat dB",
            "peak dB",
            "",
        )
        _print_rows([heads, *(_swept_row(one, with_start=with_start) for one in alternatives)])
    else:
        heads = ("resistors", "capacitors", "corner", "off", "peak dB", "off")
        _print_rows([heads, *(_fixed_row(one) for one in alternatives)])


def _swept_row(found: MeasuredSet, *, with_start: bool) -> tuple[str, ...]:
    """Return the line of a set for a swept filter."""
    values = {path.removeprefix("filter."): str(value) for path, value in found.changes.items()}
    assert found.share_within is not None
    flat_low, flat_high, peaked_low, _ = found.settings
    ends = (format_hertz(round(setting.corner_hz)) for setting in (flat_low, flat_high))
    off = max((one.corner_off for one in found.settings), key=abs)
    apart = peaked_low.corner_hz / flat_low.corner_hz - 1.0
    return (
        f"{values['pot.value']} {values['pot.taper']}",
        *((values.get("start_resistor", "-"),) if with_start else ()),
        *(values["end_resistor"], *found.pairs, *ends, f"{share(found.share_within)} %"),
        *(f"{100 * off:+.1f} %", f"{100 * apart:+.1f} %"),
        *(f"{number(one.peak_db, places=2)} ({one.peak_off_db:+.2f})" for one in (flat_low, peaked_low)),
        ", ".join(one.code.replace("-", " ") for one in found.remarks),
    )


def _fixed_row(found: MeasuredSet) -> tuple[str, ...]:
    """Return the line of a set for a filter without knob or switch."""
    values = {path.removeprefix("filter."): str(value) for path, value in found.changes.items()}
    capacitors = ", ".join(value for name, value in values.items() if name.endswith("capacitor"))
    resistor = next(value for name, value in values.items() if name.endswith("resistor"))
    (one,) = found.settings
    return (
        *(resistor, capacitors, format_hertz(round(one.corner_hz, 1)), f"{100 * one.corner_off:+.1f} %"),
        *(number(one.peak_db, places=2), f"{one.peak_off_db:+.2f}"),
    )


def _print_rows(rows: list[tuple[str, ...]]) -> None:
    """Print rows of cells in columns."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        click.echo("  " + "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip())
