"""Tables and sentences of ``sublatch knobs``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click
import numpy as np

from sublatch.cli.options import level, number, share
from sublatch.parts.knobs.headroom import BUFFER_NAME, peak_cost_db
from sublatch.parts.knobs.judgement import step_words
from sublatch.parts.knobs.travel import USEFUL_DB, taper_name
from sublatch.units import format_farads, format_hertz, format_ohms

if TYPE_CHECKING:
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
LINE = 120
MEASURES = {"loudness": "loudness", "rms": "RMS"}
TOLD_DB, TOLD_SHARE = 2.0, 0.005
"""A band in which two sounds differ by less, or that has less of the loudness, is not named."""


def print_knobs(found: Knobs) -> None:
    """Print all that was found."""
    click.echo(found.title)
    if found.same_as is not None:
        _print_same_as(found.same_as)
    for curve, even in zip(found.curves, found.even, strict=True):
        _print_curve(curve, even)
    _print_unities(found.unities, found.headrooms)
    if found.trim is not None:
        _print_trim(found.trim)
    _print_headrooms(found)
    _print_couplings(found.couplings)
    _print_remarks(found)


def _print_curve(curve: KnobCurve, even: KnobCurve) -> None:
    """Print what a knob sets at whole positions, its steps, and the most even taper."""
    click.echo(f"\n{curve.name}: {SETS[curve.name]}; {taper_name(curve.taper, curve.midpoint)} pot")
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
    at = same.nearest
    click.echo(f"\nnearest to the sound of {same.circuit!r}, with {same.heard}")
    apart = f"{at.difference_db:.1f} dB apart in thirds of an octave, at matched level and weighted as heard"
    click.echo(f"  {_setting(at)}: {apart}")
    for word, sign in (("brings out", 1.0), ("lacks", -1.0)):
        bands = _runs([sign * db >= TOLD_DB and part >= TOLD_SHARE for db, part in _bands(same)], same.band_hz)
        if bands:
            click.echo(f"  it {word} more than {TOLD_DB:g} dB {bands}")
    if same.with_direct is not None:
        apart = f"{same.with_direct.difference_db:.1f} dB apart"
        click.echo(f"  with the direct knob turned too, {_setting(same.with_direct)}: {apart}")
    if same.corner_hz is not None:
        click.echo(f"  {_corner(same)}")
    click.echo("  all that follows is told of the nearest setting")


def _setting(at: Setting) -> str:
    """Return where knobs and switch stand in words."""
    peak = "" if at.peak is None else f", peak {at.peak}"
    return f"tone {at.tone:.2f}{peak}, direct {at.direct:g}"


def _bands(same: SameAs) -> list[tuple[float, float]]:
    """Return of each band by how much more the circuit has there, in dB, and how much it counts."""
    return list(zip(same.band_db, same.band_share, strict=True))


def _runs(inside: Sequence[bool], band_hz: Sequence[float]) -> str:
    """Return bands in words, those side by side together: "from 315 Hz to 630 Hz and at 1 kHz"."""
    runs: list[list[float]] = []
    for hertz, before, here in zip(band_hz, (False, *inside), inside, strict=False):
        if here:
            runs += [] if before else [[]]
            runs[-1].append(hertz)
    words = [
        f"at {format_hertz(run[0])}" if len(run) == 1 else f"from {format_hertz(run[0])} to {format_hertz(run[-1])}"
        for run in runs
    ]
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
    width = max(len(one.heard) for one in unities)
    click.echo(f"  {'with':<{width}}  by        position  in hand dB  as set dB")
    for one in unities:
        position = "none" if one.position is None else f"{one.position:.2f}"
        gains = f"{number(one.excess_gain_db):>10}  {number(one.set_gain_db):>9}"
        click.echo(f"  {one.heard:<{width}}  {MEASURES[one.measure]:<8}  {position:>8}  {gains}")
    if unities[0].position is None:
        click.echo(f"  even at 10 the effect is {-unities[0].excess_gain_db:.1f} dB too soft; give it more gain")
    for row in headrooms:
        room = row.node_headroom_db[BUFFER_NAME]
        if row.at == "unity" and room is not None and room < 0.0:
            where = "" if row.peak is None else f", {row.peak},"
            click.echo(f"  at unity{where} the output clips: it is {-room:.1f} dB past the limits of {_supply(row)}")


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
    position = "none" if trim.position is None else f"{trim.position:.2f}"
    outcome = f"unity at {position}, {trim.excess_gain_db:.1f} dB in hand"
    if trim.resistor_ohm is None or trim.exact_ohm is None:
        click.echo(f"  none needed: {outcome} without one")
        return
    exact = f"{trim.exact_ohm / 1000.0:.4g} kΩ"
    click.echo(f"  output.trim_resistor = {format_ohms(trim.resistor_ohm)} (E24; the exact value is {exact})")
    click.echo(f"  it takes out {trim.takes_out_db:.1f} dB at 10; measured with it: {outcome}")


def _more_gain(trim: Trim) -> str:
    """Return the part that would add the missing gain, in words."""
    ohm = trim.ground_resistor_ohm
    return "" if ohm is None else f", such as output.ground_resistor = {format_ohms(ohm)}"


def _print_headrooms(found: Knobs) -> None:
    """Print headroom and the share of time at the limits at each supply, and what reaches them first."""
    rows = found.headrooms
    click.echo(f"\nheadroom of the output buffer with {found.unities[0].heard}, and time at its limits")
    voltages = "".join(f"{one.supply_volts:>17g} V" for one in rows[0].supplies)
    click.echo(f"  {'volume':<13}{'peak':<7}{voltages}")
    for row in rows:
        cells = "".join(f"{level(one.headroom_db, 'dB'):>10} {share(one.at_limit_share):>6} %" for one in row.supplies)
        click.echo(f"  {row.at + f' {row.volume:.2f}':<13}{row.peak or '–':<7}{cells}")
    for row in rows:
        room = None if row.first is None else row.node_headroom_db[row.first]
        first = "nothing sounds"
        if room is not None:
            first = f"first to reach the limits is the {row.first}, {_room(room, row)}"
        click.echo(f"  {_place(row)}: {first}")
    for row in rows:
        if row.hardest is not None:
            click.echo(f"  {_place(row)}: {_hardest(row.hardest, row)}")
    for at in dict.fromkeys(row.at for row in rows):
        cost = peak_cost_db(rows, at)
        if cost is not None:
            click.echo(f"  {at}: the peaked position costs {number(cost)} dB of headroom")


def _hardest(there: Hardest, row: Headroom) -> str:
    """Return in words where the tone knob leaves the least headroom."""
    if there.headroom_db >= 0.0:
        return f"least headroom with tone at {there.tone:.1f}, {_room(there.headroom_db, row)}"
    past = f"{_room(there.headroom_db, row)}, {share(there.at_limit_share)} % of the time"
    return f"hits the limits with tone at {there.tone:.1f}, {past}"


def _room(room_db: float, row: Headroom) -> str:
    """Return how far the limits are, or how far a take is past them, in words."""
    far = f"{room_db:.1f} dB to go" if room_db >= 0.0 else f"{-room_db:.1f} dB past them"
    return f"{far} at {_supply(row)}"


def _place(row: Headroom) -> str:
    """Return where knob and switch stand in words."""
    return f"{row.at} {row.volume:.2f}" + ("" if row.peak is None else f", {row.peak}")


def _supply(row: Headroom) -> str:
    """Return the circuit's own supply in words."""
    return f"{row.supply_volts:g} V"


def _print_remarks(found: Knobs) -> None:
    """Print in one place what there is to mind."""
    if found.remarks:
        click.echo("\nto mind")
        for one in found.remarks:
            click.echo(click.wrap_text(one.text, LINE, initial_indent="  ", subsequent_indent="    "))


def _print_couplings(found: Sequence[Coupling]) -> None:
    """Print the coupling capacitors' corners over the volume knob's travel, and where bass is lost."""
    click.echo("\ncoupling capacitors: high-pass corner over the volume knob's travel, and most lost of low notes")
    width = max(len(one.name) for one in found)
    click.echo(f"  {'':<{width}}  {'value':>7}  {'corner Hz':>13}  41.2 Hz  20.6 Hz")
    for one in found:
        low, high = float(one.corner_hz.min()), float(one.corner_hz.max())
        corner = number(low, places=2) if high - low < 0.005 else f"{number(low, places=2)} to {number(high, places=2)}"
        losses = f"{number(-one.loss_low_e_db, places=2):>7}  {number(-one.loss_octave_db, places=2):>7} dB"
        click.echo(f"  {one.name:<{width}}  {format_farads(one.farad):>7}  {corner:>13}  {losses}")
    for one in found:
        if one.bass_suffers:
            click.echo(f"  the bass suffers from {one.name}: {_lost(one)} lost, more than 1 dB")


def _lost(one: Coupling) -> str:
    """Return what is lost of the lowest note that has to pass, in words."""
    low_e = one.lowest_hz > 30.0
    loss = one.loss_low_e_db if low_e else one.loss_octave_db
    words = "a low E, 41.2 Hz" if low_e else "an octave under a low E, 20.6 Hz"
    return f"{loss:.1f} dB of {words}, is"
