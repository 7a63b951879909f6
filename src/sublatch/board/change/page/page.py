"""All parts of the change sheet set into one page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sublatch.board.change.find import Change, fresh_board
from sublatch.board.change.page.checks import checks, filter_checks, joints
from sublatch.board.change.page.drawing import change_svg
from sublatch.board.change.page.figures import (
    figures,
    knob_changes,
    knob_pairs,
    load_figures,
    load_remarks,
    responses,
)
from sublatch.board.change.page.loads import corner_changes, load_changes
from sublatch.board.change.page.readings import Bench, bench
from sublatch.board.change.page.words import steps
from sublatch.board.change.points import Point, lead_name, points
from sublatch.board.change.shared import shared_parts
from sublatch.board.change.small_board import SmallBoard
from sublatch.board.netlist import Board, Component
from sublatch.board.parts_list import PartLine, parts_list
from sublatch.board.sheet.amounts import EASY_PINS, amount, probe_point
from sublatch.board.sheet.bench_table import FILTER_HZ, TONE_HZ
from sublatch.board.sheet.cautions import Caution, before_power, cautions
from sublatch.board.sheet.knob_chart import knob_svg, knob_value
from sublatch.board.sheet.page import css_string, settings_sentence, shortened
from sublatch.board.sheet.supply import supply_estimate
from sublatch.board.sheet.wiring import Gang, Wiring, wiring
from sublatch.board.stripboard.page import found_section
from sublatch.circuit.components.tolerances import TRACK_SHARE
from sublatch.units import format_hertz
from sublatch.version import __version__

CHART_HEIGHT = 0.9
"""Of a knob's chart, in inches: two of them stand beside the responses."""
DENSE_ROWS = (10, 26)
"""Rows of steps and of parts to buy between which two pages hold a change in smaller type, and not in ordinary."""
HALF = 34
"""Characters of each title in the footer."""
OF_THE_CIRCUIT = ("Supply voltage", "Offsets")
"""Cautions that depend on the circuit."""


def page(change: Change, *, board: SmallBoard | None = None) -> str:
    """Return the change sheet as an HTML document.

    Parameters
    ----------
    change
        The change; both circuits' volume knobs stand at a number.
    board
        The small board of what is added; None where there is none, or it is not to be shown.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("sublatch.board", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(amount=amount, hertz=format_hertz)
    before, after, tie_points = bench(change.before), bench(change.changed), points(change)
    return environment.get_template("change/page/change.html.jinja").render(
        change=change,
        version=__version__,
        footer=Markup(
            css_string(" → ".join(shortened(one.circuit.title, HALF) for one in (change.before, change.after)))
        ),
        kept=len(shared_parts(change)),
        cautions=_cautions(change),
        **_result(change, before, after),
        **_work(change, tie_points, board),
        **_readings(change, tie_points, before, after),
    )


def parts_to_buy(change: Change) -> list[PartLine]:
    """Return what is to be bought for a change alone."""
    return parts_list(fresh_board(change))


def _result(change: Change, before: Bench, after: Bench) -> dict[str, Any]:
    """Return what the sheet says of before and after."""
    from markupsafe import Markup

    was, will_be = change.before.circuit, change.after.circuit
    pairs = [pair for pair in knob_pairs(was, will_be) if knob_changes(pair)]
    loads, corners = load_changes(change), corner_changes(was, will_be)
    told = [*figures(before, after), *load_figures(loads, corners)]
    return {
        "settings": (settings_sentence(was), settings_sentence(will_be)),
        "response": Markup(responses(was, will_be)) if _new_filter(change) else "",
        "knobs": [
            (when, one, [knob_value(one, step) for step in range(11)])
            for pair in pairs
            for when, one in zip(("before", "after"), pair, strict=True)
            if one is not None
        ],
        "charts": [Markup(knob_svg(new, before=old, height=CHART_HEIGHT)) for old, new in pairs if new is not None],
        "figures": [figure for figure in told if figure.changes],
        "same": [figure for figure in told if not figure.changes],
        "load_remarks": load_remarks(loads, corners),
    }


def _work(change: Change, tie_points: Sequence[Point], board: SmallBoard | None) -> dict[str, Any]:
    """Return what the sheet says of the work."""
    from markupsafe import Markup

    told, bought = steps(change), parts_to_buy(change)
    rows = len(bought) + sum(1 + len(step.singly) for step in told)
    return {
        "steps": told,
        "is_dense": DENSE_ROWS[0] < rows <= DENSE_ROWS[1],
        "further": [point for point in tie_points if not point.is_there],
        "drawings": [(title, Markup(svg)) for title, svg in change_svg(change, tie_points)],
        "parts": bought,
        "wiring": _new_wiring(change),
        "letters": {change.net_after(point.net): point.letter for point in tie_points},
        "pot_percent": f"{TRACK_SHARE:.0%}",
        "small_board": None if board is None else Markup(found_section(board.layout or board.why_none)),
    }


def _readings(change: Change, tie_points: Sequence[Point], before: Bench, after: Bench) -> dict[str, Any]:
    """Return what the sheet says of readings before work begins and after it."""
    return {
        "joints": joints(change, tie_points),
        "checks": checks(change, tie_points, before, after),
        "set_at": ", afterwards ".join(
            dict.fromkeys(probe_point(one, "set") for one in (change.before, change.changed))
        ),
        "levels_v": (before.table.level_v, after.table.level_v),
        "filter_checks": filter_checks(after.table.response) if _new_filter(change) else [],
        "filter_hz": FILTER_HZ,
        "table": after.table,
        "detector_changes": change.before.circuit.detector != change.after.circuit.detector,
        "octave": _octave(after),
        "tone_hz": TONE_HZ,
    }


def _cautions(change: Change) -> list[Caution]:
    """Return all that is to be minded; what the circuit before asks for just as well is on its own sheet."""
    known = cautions(change.before, supply_estimate(change.before))
    rest = cautions(change.changed, supply_estimate(change.changed))
    own = [one for one in rest if one.head not in OF_THE_CIRCUIT or one not in known]
    return [*_switched_jack(change.changed), *before_power(change.changed), *own]


def _switched_jack(board: Board) -> list[Caution]:
    """Return how the jack that keeps battery and supply apart is wired; nothing where the board has none."""
    jacks = [part for part in board.components if part.kind == "jack" and "switch" in dict(part.pins)]
    return [
        Caution(
            f"The switched jack {jack.reference}",
            f"Battery plus ({_others_on(board, jack, 'switch')}) goes to its switch contact and nowhere else, the "
            f"board ({_others_on(board, jack, 'plus')}) to its plus contact: a plug parts the two.",
        )
        for jack in jacks
    ]


def _others_on(board: Board, jack: Component, pin: str) -> str:
    """Return the other leads on a jack's contact."""
    leads = (lead_name(part, end) for part, end in board.on_net(jack.net(pin)) if part is not jack)
    return ", ".join(dict.fromkeys(leads))


def _octave(after: Bench) -> list[tuple[str, str, str]]:
    """Return where the knobs stand, the output's RMS with its range, and its peak, with the octave sounding."""
    rows = after.table.octave_sounding
    return [
        (check.where, check.readings[0], amount(row.peak_v, "V"))
        for check, row in zip(filter_checks(rows), rows, strict=True)
    ]


def _new_filter(change: Change) -> bool:
    """Return whether the output filter is another."""
    return change.before.circuit.filter != change.after.circuit.filter


def _new_wiring(change: Change) -> Wiring:
    """Return the wiring of the controls that the change puts in; one that replaces its like is on the same wires."""
    new = {
        part.package or part.reference
        for one in change.operations
        for part in one.put
        if part.control is not None and one.kind in ("hardwire", "swap", "add")
    }
    whole = wiring(change.changed)
    return Wiring(
        tuple(replace(one, gangs=_with_leads(change, one.gangs)) for one in whole.pots if one.reference in new),
        tuple(replace(one, poles=_with_leads(change, one.poles)) for one in whole.switches if one.reference in new),
        (),
    )


def _with_leads(change: Change, gangs: tuple[Gang, ...]) -> tuple[Gang, ...]:
    """Return gangs with what hangs on their lugs named as everywhere on this sheet."""
    return tuple(
        replace(gang, lugs=tuple(replace(lug, leads=_others(change, gang.reference, lug.net)) for lug in gang.lugs))
        for gang in gangs
    )


def _others(change: Change, reference: str, net: str) -> str:
    """Return two leads on a net but those of one component."""
    pins = [(part, pin) for part, pin in change.changed.on_net(net) if part.reference != reference]
    ranked = sorted(pins, key=lambda one: (one[1] not in EASY_PINS, one[0].kind == "package"))
    return ", ".join(list(dict.fromkeys(lead_name(*one) for one in ranked if one[0].kind != "package"))[:2])
