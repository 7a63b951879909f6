"""The drawings of the detector: overtones, rectifier, blend, low-pass and leveller."""

from __future__ import annotations

from sublatch.board.netlist import BIAS
from sublatch.board.schematic.canvas import Point, Sheet
from sublatch.board.schematic.filters import draw_filter, draw_listed, has_drawing, to_bias
from sublatch.board.schematic.symbols import amp, amplifier, box, follower
from sublatch.circuit.detectors.base import BLENDED, NOTE
from sublatch.circuit.filters.base import FilterKind

DRAWN = {
    *("band.capacitor", "band.resistor", "band.follower", "blend.coupling", "blend.rectified_resistor"),
    *("blend.plain_resistor", "blend.amplifier", "blend.feedback_resistor", "blend.ground_resistor"),
}
"""Parts of the rectified path that there is a drawing of."""


def draw_overtone(sheet: Sheet) -> None:
    """Draw what is rectified, the rectifier and the blend; parts that nobody has drawn are listed."""
    path = sheet.board.circuit.detector.rectified_path
    assert path is not None
    drawn = {part.name for part in (*path.band, *path.blend)} == DRAWN
    height = _band(sheet, path.filter) if drawn else _listed(sheet)
    _rectifier(sheet, height, negative=path.sign < 0)
    if drawn:
        _blend(sheet, height - 6.4)


def _listed(sheet: Sheet) -> float:
    """List all but the rectifier, and return the height at which that goes."""
    parts = [part for part in sheet.board.of_block("overtone") if part.role.startswith("detector.")]
    return draw_listed(sheet, "detector.", (0.0, 0.0), parts=parts) - 4.5


def draw_low_pass(sheet: Sheet) -> None:
    """Draw the detector's low-pass and, where there is one, the leveller."""
    detector = sheet.board.circuit.detector
    source = NOTE if detector.rectified_path is None else BLENDED
    if has_drawing(detector.filter):
        height = _named_filter(sheet, detector.filter, "detector.filter", source, (0.0, 0.0), "detected") - 5.0
    else:
        height = draw_listed(sheet, "detector.filter.", (0.0, 0.0)) - 2.0
    if detector.leveller is not None:
        _leveller(sheet, height)


def _named_filter(sheet: Sheet, chosen: FilterKind, path: str, source: str, point: Point, name: str) -> float:
    """Draw a filter between the names of its two nets, and return the height of its output."""
    if not chosen.is_wire:
        sheet.name(source, point, side="left")
        end = draw_filter(sheet, chosen, path, sheet.wire(point, (point[0] + 0.4, point[1])))
        sheet.name_right_of(name, end)
        return end[1]
    return point[1] + 5.0


def _band(sheet: Sheet, chosen: FilterKind) -> float:
    """Draw high-pass and low-pass, and return the height at which the rectifier goes."""
    sheet.name("note", (0.0, 0.0), side="left")
    coupled = sheet.part("detector.band.capacitor", (0.0, 0.0), (2.4, 0.0))
    to_bias(sheet, "detector.band.resistor", coupled, left=True)
    out = follower(sheet, "detector.band.follower", sheet.wire(coupled, (3.4, 0.0)))
    path = "detector.band.filter"
    height = -7.4
    if has_drawing(chosen):
        end = draw_filter(sheet, chosen, path, sheet.wire(out, (out[0] + 0.8, out[1])))
        sheet.name_right_of("high" if chosen.is_wire else "band", end)
    else:
        sheet.name_right_of("high", out)
        height = draw_listed(sheet, f"{path}.", (0.0, -4.4)) - 4.5
    if sheet.has("detector.band.second_follower"):
        sheet.name("band", (9.8, 0.0), side="left")
        driven = follower(sheet, "detector.band.second_follower", sheet.wire((9.8, 0.0), (10.6, 0.0)))
        sheet.name_right_of("band.driven", driven)
    return height


def _rectifier(sheet: Sheet, y: float, *, negative: bool) -> None:
    """Draw the precision full-wave rectifier."""
    source = sheet.component("rectifier.input").net("a")
    sheet.name(source, (0.0, y), side="left")
    start = sheet.wire((0.0, y), (0.5, y))
    minus = sheet.part("rectifier.input", start, (3.5, y))
    drive = amp(sheet, "rectifier.first", sheet.wire(minus, (4.2, y)) and (4.2, y - 0.5), plus_up=False)
    _biased(sheet, (4.2, y - 1.0))
    corner = sheet.wire(drive, (6.8, y - 0.5))
    _diode(sheet, "rectifier.clamp", (6.8, y + 1.3), (3.5, y + 1.3), turned=negative)
    sheet.wire(corner, (6.8, y + 1.3))
    sheet.wire(minus, (3.5, y + 1.3), (3.5, y + 3.0))
    half = (9.4, y - 0.5)
    _diode(sheet, "rectifier.diode", half, corner, turned=negative)
    sheet.part("rectifier.feedback", sheet.wire(half, (9.4, y + 3.0)), (3.5, y + 3.0))
    total = sheet.part("rectifier.halved", half, (12.0, y - 0.5))
    out = amp(sheet, "rectifier.second", sheet.wire(total, (13.0, y - 0.5)) and (13.0, y - 1.0), plus_up=False)
    _biased(sheet, (13.0, y - 1.5))
    sheet.wire(start, (0.5, y - 3.2))
    sheet.wire(sheet.part("rectifier.plain", (0.5, y - 3.2), (12.0, y - 3.2)), total)
    end = sheet.part("rectifier.gain", sheet.wire(total, (12.0, y + 1.0)), (15.6, y + 1.0))
    sheet.wire(end, sheet.wire(out, (15.6, y - 1.0)))
    sheet.name("rectified", sheet.wire((15.6, y - 1.0), (16.4, y - 1.0)), side="right")


def _diode(sheet: Sheet, role: str, anode: Point, cathode: Point, *, turned: bool) -> None:
    """Draw a diode, or have it point the other way."""
    sheet.part(role, *((cathode, anode) if turned else (anode, cathode)))


def _biased(sheet: Sheet, pin: Point) -> None:
    """Lead a pin to the bias rail below."""
    sheet.drop(BIAS, sheet.wire(pin, (pin[0] - 0.4, pin[1])), by=0.5)


def _blend(sheet: Sheet, y: float) -> None:
    """Draw the two resistors that add, and the amplifier after them."""
    path = "detector.blend"
    sheet.name("rectified", (2.6, y), side="left")
    coupled = sheet.part(f"{path}.coupling", (2.6, y), (5.2, y))
    joint = sheet.wire(sheet.part(f"{path}.rectified_resistor", coupled, (7.8, y)), (8.4, y))
    sheet.name("note", (5.2, y - 2.0), side="left")
    sheet.wire(sheet.part(f"{path}.plain_resistor", (5.2, y - 2.0), (7.8, y - 2.0)), (8.4, y - 2.0), joint)
    point = sheet.wire(joint, (10.6, y))
    feedback, ground = f"{path}.feedback_resistor", f"{path}.ground_resistor"
    out = amplifier(sheet, f"{path}.amplifier", point, feedback=feedback, ground=ground)
    sheet.name_right_of("blended", out)


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
