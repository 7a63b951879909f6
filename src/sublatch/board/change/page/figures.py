"""Before and after in figures: corner and peak, level, unity, current and controls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sublatch.board.change.page.loads import CornerChange, LoadChange
from sublatch.board.change.page.readings import NOTHING, Bench
from sublatch.board.netlist import Board
from sublatch.board.sheet.amounts import amount, decibels
from sublatch.board.sheet.filter_figures import LEAST_PEAK_DB, FilterFact, filter_facts
from sublatch.board.sheet.supply import SupplyEstimate, supply_estimate
from sublatch.circuit.model import Circuit
from sublatch.circuit.response import response
from sublatch.circuit.with_settings import with_settings
from sublatch.parts.knobs.coupling import Coupling
from sublatch.parts.knobs.travel import KnobCurve, knob_curve, knob_names
from sublatch.pictures.responses import Curve, FigureLook, Line, responses_svg
from sublatch.signal.chain import output_sources
from sublatch.signal.unity import tone_take, unity
from sublatch.units import format_hertz, format_ohms

RESPONSE_HZ = np.geomspace(10.0, 20e3, 400)
LOOK = FigureLook(
    width=4.6,
    height=1.75,
    legend=0.0,
    line_width=1.4,
    dot=4.0,
    grid=("#cccccc", 0.5, 1.0),
    ticks_hz=(10, 30, 100, 300, 1000, 3000, 10000, 20000),
    lines=(
        Line("#000000", (0, (6.0, 2.0)), "#ffffff"),
        Line("#000000", "-", "#ffffff"),
        Line("#000000", (0, (1.5, 1.5)), "#ffffff"),
        Line("#000000", (0, (8.0, 2.0, 1.5, 2.0)), "#ffffff"),
    ),
)
"""Ink on white, lines told apart by their dashes, half the page wide."""


@dataclass(frozen=True)
class Figure:
    """One figure before and after, as texts."""

    what: str
    before: str
    after: str

    @property
    def changes(self) -> bool:
        """Whether the two differ."""
        return self.before != self.after


def figures(before: Bench, after: Bench) -> list[Figure]:
    """Return what changes in figures, and what is always asked for though it stays."""
    boards = before.board, after.board
    facts = [filter_facts(board.circuit) for board in boards]
    supplies = [supply_estimate(board) for board in boards]
    told: list[tuple[str, list[str]]] = [
        ("Corner of the output filter, 3.01 dB down", [_corners(one) for one in facts]),
        ("Its peak", [_peaks(one) for one in facts]),
        ("Octave sounding at volume 10, against the jack", [_levels(one) for one in (before, after)]),
        ("As loud as bypassed, by RMS", [_unity(board.circuit) for board in boards]),
        ("Knobs and switches that change", _controls(*boards)),
        *(
            (f"Current with {kind}", [_draws(one, index) for one in supplies])
            for index, kind in enumerate(supplies[0].kinds)
        ),
    ]
    return [Figure(what, *values) for what, values in told]


def load_figures(loads: list[LoadChange], corners: list[CornerChange]) -> list[Figure]:
    """Return loads and coupling corners before and after."""
    made = []
    for load in loads:
        what = f"Least load of {load.lead} (“{load.net}”), 20 Hz to 20 kHz"
        made.append(Figure(what, _ohms(load.before_ohm), _ohms(load.after_ohm)))
    for one in corners:
        what = f"Corner of {one.name}, volume at 0, 5 and 10"
        made.append(Figure(what, _corner(one.before), _corner(one.after)))
    return made


def load_remarks(loads: list[LoadChange], corners: list[CornerChange]) -> list[str]:
    """Return what to mind of changed loads and corners."""
    heavy = [
        f"{load.lead} has to drive {_ohms(load.after_ohm)} at the worst position of the knobs; op-amps are specified "
        "for 2 kΩ, so at high levels and frequencies it may lose a little swing."
        for load in loads
        if load.is_heavy
    ]
    lost = [
        f"{one.name}: what it couples now loses {one.after.loss_octave_db:.1f} dB at 20.6 Hz, the octave under a low "
        "E; the bass suffers."
        for one in corners
        if one.after is not None and one.after.bass_suffers and not (one.before and one.before.bass_suffers)
    ]
    return [*heavy, *lost]


def responses(before: Circuit, after: Circuit) -> str:
    """Return the output filters before and after in one diagram, as SVG."""
    curves = [
        Curve(", ".join(filter(None, (when, peak))), response(with_peak, frequency_hz=RESPONSE_HZ))
        for when, circuit in (("before", before), ("after", after))
        for peak in circuit.filter.peaks
        for with_peak in (with_settings(circuit, {"switches.peak": peak}),)
    ]
    return responses_svg(curves, alt_text="Output filter's gain over frequency, before and after", look=LOOK)


def knob_pairs(before: Circuit, after: Circuit) -> list[tuple[KnobCurve | None, KnobCurve | None]]:
    """Return each knob's curve before and after, None where there is no such knob."""
    names = dict.fromkeys((*knob_names(after), *knob_names(before)))
    return [(_curve(before, name), _curve(after, name)) for name in names]


def knob_changes(pair: tuple[KnobCurve | None, KnobCurve | None]) -> bool:
    """Return whether a knob sets something else than before."""
    before, after = pair
    return before is None or after is None or not np.allclose(before.value, after.value, rtol=1e-3, equal_nan=True)


def _curve(circuit: Circuit, name: str) -> KnobCurve | None:
    """Return a knob's curve, None where there is no such knob."""
    return knob_curve(circuit, name) if name in knob_names(circuit) else None


def _corners(facts: list[FilterFact]) -> str:
    """Return the corners over the knob's travel, in each position of the switch."""
    if not facts:
        return "no filter"
    by_peak: dict[str | None, list[FilterFact]] = {}
    for fact in facts:
        by_peak.setdefault(fact.peak, []).append(fact)
    told = (
        dash.join(dict.fromkeys((one[0].corners, one[-1].corners))) + (f" {peak}" if peak else "")
        for peak, one in by_peak.items()
        for dash in (" to ",)
    )
    return ", ".join(told)


def _peaks(facts: list[FilterFact]) -> str:
    """Return the highest peak in each position of the switch."""
    if not facts:
        return NOTHING
    highest: dict[str | None, float] = {}
    for fact in facts:
        peak_db = fact.response.peak_db if fact.response.peak_hz is not None else 0.0
        highest[fact.peak] = max(highest.get(fact.peak, 0.0), peak_db)
    texts = {peak: f"{decibels(db)} dB" if db >= LEAST_PEAK_DB else "none" for peak, db in highest.items()}
    return ", ".join(f"{text} at {peak}" if peak else text for peak, text in texts.items())


def _levels(bench: Bench) -> str:
    """Return the level of the output over all positions of tone and peak."""
    gains = [row.gain_db for row in bench.table.octave_sounding]
    low, high = decibels(min(gains)), decibels(max(gains))
    return f"{low} dB" if low == high else f"{low} to {high} dB"


def _unity(circuit: Circuit) -> str:
    """Return where the volume knob makes the effect as loud as the bypassed tone, and what is in hand."""
    found = unity(output_sources(tone_take(), circuit), circuit, measure="rms")
    if found.position is None:
        return f"not even at 10: {-found.excess_gain_db:.1f} dB too soft"
    return f"volume {found.position:.1f}, {found.excess_gain_db:.1f} dB in hand"


def _controls(*boards: Board) -> list[str]:
    """Return the controls of each of two boards that the other one does not have alike; "none" where there are none."""
    listed = [
        [
            f"{shaft[0].control} ({shaft[0].value})"
            for shaft in (*board.ganged("pot"), *board.ganged("switch"))
            if shaft[0].on_panel
        ]
        for board in boards
    ]
    return [
        ", ".join(one for one in mine if mine.count(one) > other.count(one)) or "none"
        for mine, other in (listed, listed[::-1])
    ]


def _draws(supply: SupplyEstimate, kind: int) -> str:
    """Return the current with one kind of op-amp, and how long a battery lasts."""
    hours = f", {supply.hours[kind]:.0f} h from a battery" if supply.hours and supply.batteries == 1 else ""
    return f"{amount(supply.amps[kind], 'A')}{hours}"


def _ohms(ohm: float | None) -> str:
    """Return a load in three digits."""
    return "none" if ohm is None else format_ohms(float(f"{ohm:.3g}"))


def _corner(coupling: Coupling | None) -> str:
    """Return a coupling capacitor's corner at the ends and the middle of the volume knob's travel."""
    if coupling is None:
        return "none"
    return ", ".join(dict.fromkeys(format_hertz(float(f"{hertz:.3g}")) for hertz in coupling.corner_hz[[0, 10, 20]]))
