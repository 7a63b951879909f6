"""The drawings of the detector: overtones, rectifier, blend, low-pass, gain and leveller."""

from __future__ import annotations

from collections.abc import Iterable

from sublatch.board.netlist import BIAS
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.filters import draw_listed, draw_wiring, to_bias, wiring_of
from sublatch.board.schematic.symbols import amp, amplifier, box, follower
from sublatch.circuit.detectors.front import Filtered, Front, Parts, Rectifier
from sublatch.circuit.filters.parts import Wiring

BAND = {f"band.{name}" for name in ("capacitor", "resistor", "amplifier", "feedback_resistor", "ground_resistor")}
BLEND = {f"blend.{name}" for name in ("coupling", "rectified_resistor", "plain_resistor")}
GAIN = {
    *("gain.input_resistor", "gain.amplifier", "gain.feedback_resistor", "gain.coupling", "gain.coupled_resistor"),
    *("gain.second_amplifier", "gain.second_feedback_resistor", "gain.second_ground_resistor"),
    *("gain.last_coupling", "gain.last_resistor"),
}
LOGARITHMIC = {f"amplifier.{name}" for name in ("coupling", "input_resistor", "amplifier", "feedback_resistor")}
"""Parts of stages that there are drawings of."""
ROOM_AHEAD_OF_BAND, ROOM_FOR_LOW_PASS = 12.0, 17.0
"""Room upwards and downwards that is left on a sheet for a network of the user's, in units."""
BELOW_OWN = 1.2
"""How far below a network of the user's the next thing is drawn."""


def draw_overtone(sheet: Sheet) -> None:
    """Draw what is rectified, the rectifier and the blend; parts that nobody has drawn are listed."""
    front = sheet.board.circuit.detector.front
    rectifier = front.rectifier
    assert rectifier is not None
    named = [_names(stage) for stage in front.stages if isinstance(stage, Parts) and stage.block == "overtone"]
    drawn = named == [BAND, BLEND]
    height = _band(sheet, front) if drawn else _listed(sheet, "overtone")
    _rectifier(sheet, height, rectifier)
    if drawn:
        _blend(sheet, height - 5.6)


def _names(stage: Parts) -> set[str]:
    """Return the names of a stage's parts."""
    return {part.name for part in stage.parts}


def _listed(sheet: Sheet, block: str) -> float:
    """List all of a block but the rectifier, and return the height at which that goes."""
    parts = [part for part in sheet.board.of_block(block) if part.role.startswith("detector.")]
    couples = {f"detector.{stage.coupling_setting}" for stage in _rectifiers(sheet)}
    parts = [part for part in parts if part.role not in couples]
    return draw_listed(sheet, "detector.", (0.0, 0.0), parts=parts) - 4.5


def _rectifiers(sheet: Sheet) -> Iterable[Rectifier]:
    """Return the rectifiers of the detector's front."""
    return (stage for stage in sheet.board.circuit.detector.front.stages if isinstance(stage, Rectifier))


def draw_low_pass(sheet: Sheet) -> None:
    """Draw the detector's low-pass, what follows it and, where there is one, the leveller."""
    detector = sheet.board.circuit.detector
    low_pass = next(
        stage for stage in detector.front.stages if isinstance(stage, Filtered) and stage.setting == "filter"
    )
    wired = wiring_of(sheet, detector.filter, "detector.filter", highest=ROOM_FOR_LOW_PASS)
    if wired is None:
        height = draw_listed(sheet, "detector.filter.", (0.0, 0.0)) - 2.0
    else:
        height = _named_filter(sheet, wired, "detector.filter", (low_pass.source, low_pass.output))
    height = _second_follower(sheet, low_pass, height)
    for stage in detector.front.stages:
        if isinstance(stage, Parts) and stage.block == "detector":
            height = _after_low_pass(sheet, stage, low_pass.end, height)
    if detector.leveller is not None:
        _leveller(sheet, height)


def _second_follower(sheet: Sheet, filtered: Filtered, y: float) -> float:
    """Draw the follower that a filter without an op-amp at its end needs, and return the height below it."""
    if not filtered.follows:
        return y
    sheet.name(filtered.output, (0.0, y), side="left")
    driven = follower(sheet, f"detector.{filtered.follower}", sheet.wire((0.0, y), (0.8, y)))
    sheet.name_right_of(filtered.end, driven)
    return y - 4.0


def _after_low_pass(sheet: Sheet, stage: Parts, source: str, y: float) -> float:
    """Draw what follows the low-pass, or list it, and return the height below it."""
    drawings = {frozenset(GAIN): (_gain, 2.4, 7.0), frozenset(LOGARITHMIC): (_logarithmic, 5.6, 4.0)}
    chosen = drawings.get(frozenset(_names(stage)))
    if chosen is None:
        roles = {f"detector.{name}" for name in _names(stage)}
        parts = [part for part in sheet.board.of_block("detector") if part.role in roles]
        return draw_listed(sheet, "detector.", (0.0, y), parts=parts) - 2.0
    draw, above, below = chosen
    draw(sheet, source, y - above)
    return y - above - below


def _named_filter(sheet: Sheet, wired: Wiring, path: str, nets: tuple[str, str]) -> float:
    """Draw a filter between the names of its two nets, and return the height below it."""
    if not wired.parts:
        return 0.0
    sheet.name(nets[0], (0.0, 0.0), side="left")
    end = draw_wiring(sheet, wired, path, sheet.wire((0.0, 0.0), (0.4, 0.0)))
    sheet.name_right_of(nets[1], end)
    return min(end[1] - 5.0, sheet.lowest - BELOW_OWN)


def _band(sheet: Sheet, front: Front) -> float:
    """Draw low-pass, high-pass and amplifier, and return the height at which the rectifier goes."""
    filtered = next(stage for stage in front.stages if isinstance(stage, Filtered) and stage.block == "overtone")
    path, chosen = "detector.band", filtered.filter
    wired = wiring_of(sheet, chosen, f"{path}.filter", highest=ROOM_AHEAD_OF_BAND)
    drawn, start = chosen.wired.end is not None, (0.0, 0.0)
    if not drawn:
        start = (0.0, _ahead_of_band(sheet, wired, filtered))
    sheet.name(filtered.source if drawn else filtered.end, start, side="left")
    if drawn and not chosen.is_wire:
        start = draw_wiring(sheet, chosen.wired, f"{path}.filter", sheet.wire(start, (0.4, 0.0)))
        start = sheet.wire(start, (start[0] + 0.8, start[1]))
    x, y = start
    coupled = sheet.part(f"{path}.capacitor", start, (x + 2.4, y))
    to_bias(sheet, f"{path}.resistor", coupled, left=True)
    feedback, ground = f"{path}.feedback_resistor", f"{path}.ground_resistor"
    point = sheet.wire(coupled, (x + 4.4, y))
    out = amplifier(sheet, f"{path}.amplifier", point, feedback=feedback, ground=ground)
    sheet.name_right_of("high", out)
    return (0.0 if drawn else start[1]) - 8.0


def _ahead_of_band(sheet: Sheet, wired: Wiring | None, filtered: Filtered) -> float:
    """Draw a network of the user's, or list it, with the follower that it needs, and return the height below."""
    path = f"detector.{filtered.setting}"
    if wired is None:
        height = draw_listed(sheet, f"{path}.", (0.0, 0.0)) - 2.0
    else:
        height = _named_filter(sheet, wired, path, (filtered.source, filtered.output))
    return _second_follower(sheet, filtered, height) - 0.5


def _rectifier(sheet: Sheet, y: float, rectifier: Rectifier) -> None:
    """Draw the precision full-wave rectifier."""
    negative = rectifier.sign < 0
    sheet.name(rectifier.source, (0.0, y), side="left")
    coupled = sheet.part(f"detector.{rectifier.coupling_setting}", (0.0, y), (2.4, y))
    minus = sheet.part("rectifier.input", coupled, (5.0, y))
    drive = amp(sheet, "rectifier.first", sheet.wire(minus, (6.0, y)) and (6.0, y - 0.5), plus_up=False)
    _biased(sheet, (6.0, y - 1.0))
    corner, half, other = sheet.wire(drive, (8.8, y - 0.5)), (11.4, y - 0.5), (8.8, y - 3.2)
    _diode(sheet, "rectifier.diode", half, corner, turned=negative)
    _diode(sheet, "rectifier.other_diode", corner, other, turned=negative)
    sheet.part("rectifier.feedback", sheet.wire(half, (11.4, y + 1.4)), (5.0, y + 1.4))
    sheet.wire((5.0, y + 1.4), minus)
    sheet.wire(sheet.part("rectifier.around", other, (5.0, y - 3.2)), minus)
    total = sheet.part("rectifier.link", half, (14.0, y - 0.5))
    out = amp(sheet, "rectifier.second", sheet.wire(total, (15.2, y - 0.5)) and (15.2, y - 1.0), plus_up=False)
    sheet.wire(other, (14.4, y - 3.2), (14.4, y - 1.5), (15.2, y - 1.5))
    end = sheet.part("rectifier.gain", sheet.wire(total, (14.0, y + 1.4)), (17.8, y + 1.4))
    sheet.wire(end, sheet.wire(out, (17.8, y - 1.0)))
    sheet.name(rectifier.output, sheet.wire((17.8, y - 1.0), (18.6, y - 1.0)), side="right")


def _diode(sheet: Sheet, role: str, anode: Point, cathode: Point, *, turned: bool) -> None:
    """Draw a diode, or have it point the other way."""
    sheet.part(role, *((cathode, anode) if turned else (anode, cathode)))


def _biased(sheet: Sheet, pin: Point) -> None:
    """Lead a pin to the bias rail below."""
    sheet.drop(BIAS, sheet.wire(pin, (pin[0] - 0.4, pin[1])), by=0.5)


def _blend(sheet: Sheet, y: float) -> None:
    """Draw the two resistors that add."""
    path = "detector.blend"
    sheet.name("rectified", (2.6, y), side="left")
    coupled = sheet.part(f"{path}.coupling", (2.6, y), (5.2, y))
    joint = sheet.wire(sheet.part(f"{path}.rectified_resistor", coupled, (7.8, y)), (8.4, y))
    sheet.name("note", (5.2, y - 2.0), side="left")
    sheet.wire(sheet.part(f"{path}.plain_resistor", (5.2, y - 2.0), (7.8, y - 2.0)), (8.4, y - 2.0), joint)
    sheet.name_right_of("blended", joint)


def _inverting(sheet: Sheet, role: str, minus: Point) -> Point:
    """Draw an op-amp whose minus input is led to from a point, its plus input at the bias, and return its output."""
    x, y = minus
    out = amp(sheet, role, sheet.wire(minus, (x + 0.8, y)) and (x + 0.8, y - 0.5), plus_up=False)
    _biased(sheet, (x + 0.8, y - 1.0))
    return out


def _gain(sheet: Sheet, source: str, y: float) -> None:
    """Draw the two amplifiers after the low-pass, and what couples them."""
    path = "detector.gain"
    sheet.name(source, (0.0, y), side="left")
    minus = sheet.part(f"{path}.input_resistor", (0.0, y), (2.6, y))
    first = sheet.wire(_inverting(sheet, f"{path}.amplifier", minus), (6.2, y - 0.5))
    back = sheet.part(f"{path}.feedback_resistor", sheet.wire(first, (6.2, y + 1.4)), (2.6, y + 1.4))
    sheet.wire(back, minus)
    between = sheet.part(f"{path}.coupling", first, (8.8, y - 0.5))
    to_bias(sheet, f"{path}.coupled_resistor", between, left=True)
    feedback, ground = f"{path}.second_feedback_resistor", f"{path}.second_ground_resistor"
    point = sheet.wire(between, (11.8, y - 0.5))
    loud = amplifier(sheet, f"{path}.second_amplifier", point, feedback=feedback, ground=ground)
    watched = sheet.part(f"{path}.last_coupling", loud, (loud[0] + 2.6, loud[1]))
    to_bias(sheet, f"{path}.last_resistor", watched)
    sheet.name_right_of("watched", sheet.wire(watched, (watched[0] + 1.6, watched[1])))


def _logarithmic(sheet: Sheet, source: str, y: float) -> None:
    """Draw the logarithmic amplifier with its resistor and its diodes either way."""
    path, count = "detector.amplifier", sheet.board.circuit.detector.model_dump()["amplifier"]["diodes"]
    sheet.name(source, (0.0, y), side="left")
    coupled = sheet.part(f"{path}.coupling", (0.0, y), (2.4, y))
    minus = sheet.part(f"{path}.input_resistor", coupled, (5.0, y))
    left, step = minus[0], max(2.2, 4.0 / count)
    right = left + step * count
    out = sheet.wire(_inverting(sheet, f"{path}.amplifier", minus), (right, y - 0.5))
    rows = (y + 1.4, y + 3.0, y + 4.6)
    sheet.part(f"{path}.feedback_resistor", (right, rows[0]), (left, rows[0]))
    for place in range(1, count + 1):
        start, end = left + step * (place - 1), left + step * place
        sheet.part(f"amplifier.falling.{place}", (start, rows[1]), (end, rows[1]))
        start, end = right - step * (place - 1), right - step * place
        sheet.part(f"amplifier.rising.{place}", (start, rows[2]), (end, rows[2]))
    for near, below in ((minus, left), (out, right)):
        sheet.wire(near, *((below, row) for row in rows))
    sheet.name_right_of("watched", out)


def _leveller(sheet: Sheet, y: float) -> None:
    """Draw the block of the leveller, and its store."""
    path = "detector.leveller"
    part = sheet.component(path)
    box(sheet, path, (3.0, y + 0.6), (3.4, 2.6), left=(("in", 0.6),), right=(("out", 0.6), ("store", 1.9)))
    sheet.name(part.net("in"), sheet.wire((3.0, y), (2.2, y)), side="left")
    sheet.name("levelled", sheet.wire((6.4, y), (7.4, y)), side="right")
    store = sheet.wire((6.4, y - 1.3), (8.0, y - 1.3))
    to_bias(sheet, f"{path}.hold_resistor", store)
    to_bias(sheet, f"{path}.hold_capacitor", sheet.wire(store, (10.4, y - 1.3)))
