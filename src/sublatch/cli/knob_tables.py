"""Tables and sentences of ``sublatch knobs``."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING

import click
import numpy as np

from sublatch.circuit.origins import marked
from sublatch.cli.options import columns, level, number, share
from sublatch.parts.knobs.headroom import BUFFER_NAME, peak_cost_db
from sublatch.parts.knobs.judgement import step_words
from sublatch.parts.knobs.travel import USEFUL_DB, taper_name
from sublatch.units import format_farads, format_hertz, format_ohms

if TYPE_CHECKING:
    from sublatch.circuit.model import Circuit
    from sublatch.parts.knobs.coupling import Coupling
    from sublatch.parts.knobs.headroom import Hardest, Headroom
    from sublatch.parts.knobs.report import Knobs
    from sublatch.parts.knobs.same_sound import SameAs, Setting
    from sublatch.parts.knobs.travel import KnobCurve
    from sublatch.parts.knobs.trim import Trim
    from sublatch.signal.unity import Unity

SETS = {
    "tone": "corner of the output filter, 3.01 dB down",
    "volume": "gain against fully clockwise",
    "direct": "gain against fully clockwise",
}
POTS = {"tone": "filter", "volume": "output.pot", "direct": "mix.direct_pot"}
"""Where the values stand that a knob's curve comes of."""
LINE = 120
MEASURES = {"loudness": "loudness", "rms": "RMS"}
NAMED_DB, NAMED_SHARE = 2.0, 0.005
"""A band in which two sounds differ by less, or that has less of the loudness, is not named."""


def print_knobs(report: Knobs) -> None:
    """Print all that was found."""
    click.echo(report.title)
    if report.same_as is not None:
        _print_same_as(report.same_as)
    for curve, even in zip(report.curves, report.even, strict=True):
        _print_curve(curve, even, report.circuit)
    _print_unities(report.unities, report.headrooms)
    if report.trim is not None:
        _print_trim(report.trim)
        _print_ways(report)
    _print_headrooms(report)
    _print_couplings(report.couplings, report.circuit)
    _print_remarks(report)


def _print_curve(curve: KnobCurve, even: KnobCurve, circuit: Circuit) -> None:
    """Print what a knob sets at whole positions, its steps, and the most even taper."""
    pot = marked(f"{taper_name(curve.taper, curve.midpoint)} pot", circuit.origins, POTS[curve.name])
    click.echo(f"\n{curve.name}: {SETS[curve.name]}; {pot}")
    click.echo(f"  {'position':<9}" + "".join(f"{position:>7}" for position in range(11)))
    places, none = (0, "none") if curve.unit == "Hz" else (1, "off")
    cells = (number(float(value), places=places) if np.isfinite(value) else none for value in curve.value[::2])
    click.echo(f"  {curve.unit:<9}" + "".join(f"{cell:>7}" for cell in cells))
    if curve.steepest_per_step is None or curve.steepest_at is None:
        click.echo("  no step can be told")
        return
    unit, at = curve.step_unit, curve.steepest_at
    click.echo(f"  steepest step {_steps(curve)}; the steepest is from {at:g} to {at + 1:g}{_counted(curve)}")
    click.echo(f"  {step_words(curve.steepest_per_step, unit)}")
    if even.spread < curve.spread - 1e-6:
        click.echo(f"  most even with a {taper_name(even.taper, even.midpoint)} pot: steepest step {_steps(even)}")
    else:
        click.echo("  no taper that is sold makes it more even")


def _steps(curve: KnobCurve) -> str:
    """Return the steepest and the gentlest step in words."""
    steepest, gentlest = number(curve.steepest_per_step, places=2), number(curve.gentlest_per_step, places=2)
    return f"{steepest} {curve.step_unit}, gentlest {gentlest}"


def _counted(curve: KnobCurve) -> str:
    """Return which part of the travel counts, where it is not all."""
    return "" if curve.unit == "Hz" else f"; counted within {-USEFUL_DB:g} dB of full"


def _print_same_as(same: SameAs) -> None:
    """Print where another circuit's sound is, how near that gets, and what stays different."""
    nearest = same.nearest
    click.echo(f"\nnearest to the sound of {same.circuit!r}, with {same.heard}")
    apart = f"{nearest.difference_db:.1f} dB apart in thirds of an octave, at matched level and weighted as heard"
    click.echo(f"  {_setting(nearest)}: {apart}")
    for verb, sign in (("brings out", 1.0), ("lacks", -1.0)):
        bands = zip(same.band_db, same.band_share, strict=True)
        named = [sign * db >= NAMED_DB and counts >= NAMED_SHARE for db, counts in bands]
        if any(named):
            click.echo(f"  it {verb} more than {NAMED_DB:g} dB {_bands(named, same.band_hz)}")
    if same.with_direct is not None:
        apart = f"{same.with_direct.difference_db:.1f} dB apart"
        click.echo(f"  with the direct knob turned too, {_setting(same.with_direct)}: {apart}")
    if same.corner_hz is not None:
        click.echo(f"  {_corner(same)}")
    click.echo("  all that follows is told of the nearest setting")


def _setting(setting: Setting) -> str:
    """Return where knobs and switch stand in words."""
    peak = "" if setting.peak is None else f", peak {setting.peak}"
    return f"tone {setting.tone:.2f}{peak}, direct {setting.direct:g}"


def _bands(named: Sequence[bool], band_hz: Sequence[float]) -> str:
    """Return bands in words, neighbours together: "from 315 Hz to 630 Hz and at 1 kHz"."""
    words = []
    for is_named, run in groupby(zip(named, band_hz, strict=True), key=itemgetter(0)):
        if is_named:
            hertz = [format_hertz(hertz) for _, hertz in run]
            words.append(f"at {hertz[0]}" if len(hertz) == 1 else f"from {hertz[0]} to {hertz[-1]}")
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _corner(same: SameAs) -> str:
    """Return in words what comes of setting the same corner instead."""
    assert same.corner_hz is not None
    corner = format_hertz(same.corner_hz)
    if same.corner_tone is None:
        return f"its corner of {corner} is nowhere on the tone knob"
    apart = f"{same.corner_difference_db:.1f} dB apart"
    return f"its corner of {corner} is at {same.corner_tone:.2f} on the tone knob, where the two are {apart}"


def _print_unities(unities: Sequence[Unity], headrooms: Sequence[Headroom]) -> None:
    """Print where unity is by each measure, and whether the output clips there."""
    click.echo("\nunity: where the volume knob makes the effect as loud as the bypassed instrument")
    rows = [("with", "by".ljust(8), "position", "in hand dB", "as set dB")]
    for unity in unities:
        gains = number(unity.excess_gain_db), number(unity.set_gain_db)
        rows.append((unity.heard, MEASURES[unity.measure], _position(unity.position), *gains))
    click.echo(columns(rows, right_from=2))
    if unities[0].position is None:
        click.echo(f"  even at 10 the effect is {-unities[0].excess_gain_db:.1f} dB too soft; give it more gain")
    for row in headrooms:
        room = row.node_headroom_db[BUFFER_NAME]
        if row.at == "unity" and room is not None and room < 0.0:
            where = "" if row.peak is None else f", {row.peak},"
            click.echo(
                f"  at unity{where} the output clips: it is {-room:.1f} dB past the limits of {row.supply_volts:g} V"
            )


def _print_trim(trim: Trim) -> None:
    """Print the trim resistor, or why there is none."""
    wanted = f"{trim.wanted_position:g}"
    click.echo(f"\ntrim resistor for unity at {wanted}")
    if not trim.possible:
        at = "beyond 10" if trim.position is None else f"at {trim.position:.2f}"
        click.echo(f"  not possible: even without a trim resistor unity is {at}, and a trim can only move it up")
        if trim.missing_db is not None:
            click.echo(f"  {trim.missing_db:.1f} dB more gain would be needed{_more_gain(trim)}")
        return
    outcome = f"unity at {_position(trim.position)}, {trim.excess_gain_db:.1f} dB in hand"
    if trim.resistor_ohm is None or trim.exact_ohm is None:
        click.echo(f"  none needed: {outcome} without one")
        return
    exact = f"{trim.exact_ohm / 1000.0:.4g} kΩ"
    click.echo(f"  output.trim_resistor = {format_ohms(trim.resistor_ohm)} (E24; the exact value is {exact})")
    click.echo(f"  it takes out {trim.takes_out_db:.1f} dB at 10; measured with it: {outcome}")


def _print_ways(report: Knobs) -> None:
    """Print the tapers and trim resistors together that put unity where it was asked for, the best first."""
    if not report.ways or report.settled is None:
        return
    click.echo("\ntaper and trim together, the best first: not twitchy, few parts exchanged, even steps")
    rows: list[tuple[str, ...]] = [("pot", "trim", "to ground", "off dB", "steepest dB", "gentlest dB", "exchanged")]
    for way in report.ways:
        trim = "none" if way.trim_ohm is None else format_ohms(way.trim_ohm)
        figures = (number(value, places=2) for value in (way.off_db, way.steepest_db, way.gentlest_db))
        exchanged = ", ".join(path.removeprefix("output.") for path in way.exchanged) or "nothing"
        rows.append((way.pot, trim, format_ohms(way.ground_ohm), *figures, exchanged))
    click.echo(columns(rows))
    first, found = report.ways[0], report.settled
    in_hand = f"{found.excess_gain_db:.1f} dB in hand"
    click.echo(f"  measured with {first.pot}: unity at {_position(found.position)}, {in_hand}; -o writes it")


def _position(position: float | None) -> str:
    """Return where unity is on the volume knob, if it is anywhere."""
    return "none" if position is None else f"{position:.2f}"


def _more_gain(trim: Trim) -> str:
    """Return the part that would add the missing gain, in words."""
    ohm = trim.ground_resistor_ohm
    return "" if ohm is None else f", such as output.ground_resistor = {format_ohms(ohm)}"


def _print_headrooms(report: Knobs) -> None:
    """Print headroom and the share of time at the limits at each supply, and what reaches them first."""
    rows = _without_repeats(report.headrooms)
    click.echo(f"\nheadroom of the output buffer with {report.unities[0].heard}, and time at its limits")
    voltages = "".join(f"{supply.supply_volts:>17g} V" for supply in rows[0].supplies)
    click.echo(f"  {'volume':<13}{'peak':<7}{voltages}")
    for row in rows:
        cells = (
            f"{level(supply.headroom_db, 'dB'):>10} {share(supply.at_limit_share):>6} %" for supply in row.supplies
        )
        click.echo(f"  {_volume(row):<13}{row.peak or '–':<7}{''.join(cells)}")
    told = [row for row in rows if row.at in ("unity", "set")]
    for row in told:
        room = None if row.first is None else row.node_headroom_db[row.first]
        first = "nothing sounds"
        if room is not None:
            first = f"first to reach the limits is the {row.first}, {_room(room, row)}"
        click.echo(f"  {_volume_and_peak(row)}: {first}")
    for row in told:
        if row.hardest is not None:
            click.echo(f"  {_volume_and_peak(row)}: {_hardest(row.hardest, row)}")
    for row in report.headrooms:
        if row.at in ("full", "clips"):
            _print_clipping(row)
    for at in dict.fromkeys(row.at for row in told):
        cost = peak_cost_db(rows, at)
        if cost is not None:
            click.echo(f"  {at}: the peaked position costs {number(cost)} dB of headroom")


def _without_repeats(rows: Sequence[Headroom]) -> list[Headroom]:
    """Return the rows without those where the volume knob stands as in one before."""
    first: dict[tuple[str, str | None], Headroom] = {}
    for row in rows:
        first.setdefault((f"{row.volume:.2f}", row.peak), row)
    return list(first.values())


def _print_clipping(row: Headroom) -> None:
    """Print where clipping begins, or that it does not."""
    room, peak = row.node_headroom_db[BUFFER_NAME], "" if row.peak is None else f", {row.peak}"
    if row.at == "clips":
        click.echo(f"  volume{peak}: clipping begins at {row.volume:.2f}, with {row.supply_volts:g} V")
    elif room is not None and room >= 0.0:
        click.echo(f"  volume{peak}: no clipping even at 10, with {row.supply_volts:g} V")


def _hardest(hardest: Hardest, row: Headroom) -> str:
    """Return in words where the tone knob leaves the least headroom."""
    room = _room(hardest.headroom_db, row)
    if hardest.headroom_db >= 0.0:
        return f"least headroom with tone at {hardest.tone:.1f}, {room}"
    return f"hits the limits with tone at {hardest.tone:.1f}, {room}, {share(hardest.at_limit_share)} % of the time"


def _room(room_db: float, row: Headroom) -> str:
    """Return how far the limits are, or how far a take is past them, in words."""
    far = f"{room_db:.1f} dB to go" if room_db >= 0.0 else f"{-room_db:.1f} dB past them"
    return f"{far} at {row.supply_volts:g} V"


def _volume(row: Headroom) -> str:
    """Return where the volume knob stands in words."""
    return f"{row.at} {row.volume:.2f}"


def _volume_and_peak(row: Headroom) -> str:
    """Return where knob and switch stand in words."""
    return _volume(row) + ("" if row.peak is None else f", {row.peak}")


def _print_remarks(report: Knobs) -> None:
    """Print in one place what there is to mind."""
    if report.remarks:
        click.echo("\nto mind")
        for remark in report.remarks:
            click.echo(click.wrap_text(remark.text, LINE, initial_indent="  ", subsequent_indent="    "))


def _print_couplings(couplings: Sequence[Coupling], circuit: Circuit) -> None:
    """Print the coupling capacitors' corners over the volume knob's travel, and where bass is lost."""
    click.echo("\ncoupling capacitors: high-pass corner over the volume knob's travel, and most lost of low notes")
    rows = [("", "value".rjust(7), "corner Hz".rjust(13), "41.2 Hz", "20.6 Hz   ")]
    for coupling in couplings:
        low_hz, high_hz = float(coupling.corner_hz.min()), float(coupling.corner_hz.max())
        corner = f"{low_hz:.2f}" if high_hz - low_hz < 0.005 else f"{low_hz:.2f} to {high_hz:.2f}"
        low_e, octave = (number(-db, places=2) for db in (coupling.loss_low_e_db, coupling.loss_octave_db))
        farad = marked(format_farads(coupling.farad), circuit.origins, coupling.name)
        rows.append((coupling.name, farad, corner, low_e, f"{octave} dB"))
    click.echo(columns(rows, right_from=1))
    for coupling in couplings:
        if coupling.bass_suffers:
            click.echo(f"  the bass suffers from {coupling.name}: {_lost(coupling)} is lost, more than 1 dB")


def _lost(coupling: Coupling) -> str:
    """Return what is lost of the lowest note that has to pass, in words."""
    if coupling.lowest_hz > 30.0:
        return f"{coupling.loss_low_e_db:.1f} dB of a low E, 41.2 Hz,"
    return f"{coupling.loss_octave_db:.1f} dB of an octave under a low E, 20.6 Hz,"
