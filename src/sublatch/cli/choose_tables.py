"""What ``sublatch choose`` prints: parts, what they give, how boards differ, other sets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sublatch.cli.options import columns, number, share
from sublatch.parts.knobs.judgement import buying_remarks, step_words
from sublatch.units import format_hertz

if TYPE_CHECKING:
    from sublatch.circuit.components.tolerances import Tolerances
    from sublatch.parts.choose.choice import Choice, MeasuredSet, Setting

SPREADS = {
    "uniform": "uniform within their tolerance",
    "normal": "normal, their tolerance three standard deviations and none outside it",
}
SWEPT_HEADS = ("flat", "peaked", "low", "high", "boards", "corner", "switch", "flat dB", "peak dB", "")
LINE = 120
WORTH_A_WORD = 0.1
"""A part that causes less of the variation is not named."""


def print_choice(choice: Choice) -> None:
    """Print a choice."""
    click.echo("parts\n" + columns(_parts(choice.best)) + "\n")
    if choice.best.orders is not None:
        _print_orders(choice)
    _print_settings(choice.best)
    _print_remarks(choice)
    click.echo()
    _print_boards(choice)
    if choice.alternatives:
        click.echo()
        _print_alternatives(choice.alternatives)
    click.echo("\nfor the circuit file, in place of its [filter] tables\n")
    click.echo(choice.best.toml, nl=False)


def _print_orders(choice: Choice) -> None:
    """Print what must be ordered, and what an order of one part would gain."""
    best, other = choice.best, choice.gain
    click.echo(f"to order: {order_words(best)}" if best.orders else "You own all of these parts.")
    if not best.orders:
        if other is None or not choice.gains:
            click.echo("An order of one part would gain nothing.")
        else:
            click.echo(f"An order of one part, {order_words(other)}, would gain:")
            heads = ("", "boards", "corner off at most", "peak off at most")
            rows = [_gain_row("as it is", best), _gain_row("with the order", other)]
            click.echo(columns([heads, *rows]))
    click.echo()


def _gain_row(name: str, parts: MeasuredSet) -> tuple[str, ...]:
    """Return what a set comes to, in a line."""
    peak = max(abs(setting.peak_off_db) for setting in parts.settings)
    return name, f"{share(parts.share_within or 0.0)} %", f"{100 * parts.corner_off:.1f} %", f"{peak:.2f} dB"


def order_words(parts: MeasuredSet) -> str:
    """Return what of a set must be ordered, in words."""
    return ", ".join(one.words for one in parts.orders or ()) or "nothing"


def _values(parts: MeasuredSet) -> dict[str, str]:
    """Return a set of parts as the filter's settings, each as text."""
    return {path.removeprefix("filter."): str(value) for path, value in parts.changes.items()}


def _parts(parts: MeasuredSet) -> list[tuple[str, str]]:
    """Return what to buy: each part's name and value."""
    values = _values(parts)
    if "pot.value" not in values:
        return [(name.replace("_", " "), value) for name, value in values.items() if name != "kind"]
    midpoint = float(values.get("pot.midpoint", 0.5))
    tapers = {
        "linear": "linear",
        "log": f"log, {100 * midpoint:g} % at half rotation",
        "reverse-log": f"reverse-log, {100 * (1 - midpoint):g} % at half rotation",
    }
    bought = [("pot", f"{values['pot.value']} dual-gang, {tapers[values['pot.taper']]}")]
    if _has_start(parts):
        bought.append(("start resistor", f"{values['start_resistor']}, one across each gang"))
    bought.append(("end resistor", f"{values['end_resistor']}, one in series with each gang; at 10 it alone is left"))
    for name in (path.removesuffix(".flat") for path in values if path.endswith(".flat")):
        bought.append((name.replace("_", " "), f"{values[f'{name}.flat']} flat, {values[f'{name}.peaked']} peaked"))
    plain = [name for name in values if name.endswith("_resistor") and name not in ("start_resistor", "end_resistor")]
    return [*bought, *((name.replace("_", " "), values[name]) for name in plain)]


def _has_start(parts: MeasuredSet) -> bool:
    """Return whether a set of parts has start resistors."""
    return "filter.start_resistor" in parts.changes


def _print_settings(parts: MeasuredSet) -> None:
    """Print what the parts give beside what was asked for."""
    heads = ("", "corner", "asked", "off", "peak", "asked", "f0")
    click.echo(columns([heads, *(_setting_row(setting) for setting in parts.settings)]))
    if parts.steepest_octaves is not None:
        judged = step_words(parts.steepest_octaves, "octaves")
        click.echo(f"The knob's steepest step covers {parts.steepest_octaves:.2f} octaves: {judged}.")


def _setting_row(setting: Setting) -> tuple[str, ...]:
    """Return the line of one position of knob and switch."""
    wanted = setting.wanted
    assert wanted.corner_hz is not None
    return (
        "as built" if wanted.tone is None else f"tone {wanted.tone:g}, {wanted.peak}",
        format_hertz(round(setting.corner_hz, 1)),
        format_hertz(wanted.corner_hz),
        f"{100 * setting.corner_off:+.1f} %",
        f"{setting.peak_db:.2f} dB",
        f"{wanted.peak_db:.2f} dB",
        format_hertz(round(setting.natural_hz, 1)),
    )


def _print_remarks(choice: Choice) -> None:
    """Print the headroom, and what is hard to buy."""
    headroom = [] if choice.in_hand is None else [choice.in_hand.judged]
    for text in (*headroom, *(remark.text for remark in buying_remarks(choice.best.hard))):
        click.echo(click.wrap_text(f"{text[0].upper()}{text[1:]}.", LINE, subsequent_indent="  "))


def _print_boards(choice: Choice) -> None:
    """Print how many boards stay within the limits, and what decides."""
    spread, limits = choice.spread, choice.limits
    tolerances = spread.tolerances
    click.echo(
        f"{share(spread.yield_share)} % of boards have their corner within {100 * limits.corner_share:g} % and their "
        f"peak within {limits.peak_db:g} dB"
    )
    click.echo(
        f"  with capacitors {100 * tolerances.capacitor:g} %, resistors {100 * tolerances.resistor:g} %"
        f"{_pot_tolerances(choice)}"
    )
    boards = f"{spread.boards} boards, give or take {100 * spread.standard_error:.1f}"
    click.echo(f"  parts {SPREADS[tolerances.distribution]} ({boards})")
    if _has_start(choice.best):
        _print_start(choice, tolerances)
    causes = [f"{_cause(name)} {100 * part:.0f} %" for name, part in spread.matters.items() if part >= WORTH_A_WORD]
    if causes:
        click.echo(f"  what boards differ by comes from: {', '.join(causes)}")


def _pot_tolerances(choice: Choice) -> str:
    """Return in words how far the pot may be off, where there is one."""
    if choice.best.steepest_octaves is None:
        return ""
    tolerances = choice.spread.tolerances
    left = f"up to {tolerances.pot_end_ohm:g} Ω left at each end"
    return f", pot {100 * tolerances.pot:g} %, its gangs {100 * tolerances.gang:g} % apart at most, {left}"


def _print_start(choice: Choice, tolerances: Tolerances) -> None:
    """Print what the start resistors are good for."""
    low_end = choice.best.low_end
    assert low_end is not None
    pot_percent = 100 * tolerances.pot
    click.echo(
        f"  at tone 0 a pot {pot_percent:g} % off moves the corner by about {pot_percent * low_end.pot_counts:.0f} %, "
        f"without the start resistors by {pot_percent * low_end.pot_alone_counts:.0f} %"
    )
    if choice.without_start_share is not None:
        click.echo(f"  of boards with the best set that has none, {share(choice.without_start_share)} % come within")


def _cause(name: str) -> str:
    """Return the name of a part that varies, in words."""
    part, _, position = name.removeprefix("filter.").replace("_", " ").partition(".")
    return f"{position} {part}".lstrip()


def _print_alternatives(alternatives: tuple[MeasuredSet, ...]) -> None:
    """Print other sets, each in a line with its largest errors."""
    rows: list[tuple[str, ...]]
    if alternatives[0].steepest_octaves is None:
        order, heads = "the nearest first", ("resistors", "capacitors", "corner", "off", "peak dB", "off", "")
        rows = [heads, *(_fixed_row(parts) for parts in alternatives)]
    else:
        order, start = "the easiest to buy and surest first", any(_has_start(parts) for parts in alternatives)
        pot = ("pot", "start", "end") if start else ("pot", "end")
        rows = [(*pot, *SWEPT_HEADS), *(_swept_row(parts, with_start=start) for parts in alternatives)]
    order = order if alternatives[0].orders is None else f"those of which you own all first, then {order}"
    click.echo(f"other sets, {order}, with the most that they are off")
    click.echo(columns(rows))


def _swept_row(parts: MeasuredSet, *, with_start: bool) -> tuple[str, ...]:
    """Return the line of a set for a swept filter."""
    values = _values(parts)
    assert parts.share_within is not None
    flat_low, flat_high, peaked_low, _ = parts.settings
    ends = (format_hertz(round(setting.corner_hz)) for setting in (flat_low, flat_high))
    largest_off = max((setting.corner_off for setting in parts.settings), key=abs)
    apart = peaked_low.corner_hz / flat_low.corner_hz - 1.0
    return (
        f"{values['pot.value']} {values['pot.taper']}",
        *((values.get("start_resistor", "-"),) if with_start else ()),
        *(values["end_resistor"], *parts.pairs, *ends, f"{share(parts.share_within)} %"),
        *(f"{100 * largest_off:+.1f} %", f"{100 * apart:+.1f} %"),
        *(f"{number(setting.peak_db, places=2)} ({setting.peak_off_db:+.2f})" for setting in (flat_low, peaked_low)),
        ", ".join((*_ordered(parts), *(remark.code.replace("-", " ") for remark in parts.remarks))),
    )


def _fixed_row(parts: MeasuredSet) -> tuple[str, ...]:
    """Return the line of a set for a filter without knob or switch."""
    values = _values(parts)
    capacitors = ", ".join(value for name, value in values.items() if name.endswith("capacitor"))
    resistor = next(value for name, value in values.items() if name.endswith("resistor"))
    (setting,) = parts.settings
    return (
        *(resistor, capacitors, format_hertz(round(setting.corner_hz, 1)), f"{100 * setting.corner_off:+.1f} %"),
        *(number(setting.peak_db, places=2), f"{setting.peak_off_db:+.2f}"),
        ", ".join(_ordered(parts)),
    )


def _ordered(parts: MeasuredSet) -> list[str]:
    """Return what of a set must be ordered, in a cell; nothing where that is nothing."""
    return [f"order {order_words(parts)}"] if parts.orders else []
