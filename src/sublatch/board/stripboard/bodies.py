"""What parts take up on a board: their legs in holes, their bodies in millimetres.

Sizes are those of common makes, from memory; a part that is larger needs a layout of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sublatch.board.input_and_supply import PROTECTION
from sublatch.board.netlist import Component
from sublatch.board.parts_list import CERAMIC_BELOW_FARAD, FILM_UP_TO_FARAD
from sublatch.errors import CircuitError

PITCH_MM = 2.54
"""From hole to hole of stripboard: a tenth of an inch."""
SOLD_PITCH_MM = 2.5
"""Lead pitches of boxes come in steps of this, a little less than a hole's."""
LEAD_MM = 0.6
"""Thickness of a lead or a bare link."""
WIRE_MM = 1.5
"""Thickness of an insulated wire off the board."""
GAP_MM = 0.2
"""The least air between two bodies."""
Outline = Literal["rod", "box", "can", "chip", "wire"]


@dataclass(frozen=True)
class Body:
    """What a part takes up.

    Attributes
    ----------
    outline
        A rod has a lead at each end and lies or stands, a box and a round can stand on both legs.
    length_mm, width_mm
        Along the line through its legs, and across.
    spans
        How many holes apart its legs may be, the part lying or upright on both legs.
    standing_spans
        The same with a rod on its end.
    pins
        How many pins, of a chip.
    small_width_mm
        Of a film capacitor that is also sold on leads 2.5 mm apart: its width then.
    pitch_mm
        Of a round can, how far apart its leads are as it is sold.
    """

    outline: Outline
    length_mm: float
    width_mm: float
    spans: tuple[int, ...] = ()
    standing_spans: tuple[int, ...] = ()
    pins: int = 2
    small_width_mm: float = 0.0
    pitch_mm: float = 0.0

    def sold_pitch_mm(self, span: int) -> float:
        """Return the lead pitch at which a part is sold whose legs stand so many holes apart."""
        return self.pitch_mm or SOLD_PITCH_MM * span

    def sold_size_mm(self, span: int) -> tuple[float, float]:
        """Return length and width of the body that is sold with legs so many holes apart."""
        small = span == 1 and self.small_width_mm > 0.0
        return (SMALL_FILM_MM, self.small_width_mm) if small else (self.length_mm, self.width_mm)


@dataclass(frozen=True)
class Stance:
    """One way in which a part can stand.

    Attributes
    ----------
    legs
        Column and row of each leg's hole from the first leg's.
    boxes_mm
        Left, top, right and bottom of what it takes up, from the first leg; the body first, then a lead beside it.
    standing
        Whether a rod stands on its end.
    """

    legs: tuple[tuple[int, int], ...]
    boxes_mm: tuple[tuple[float, float, float, float], ...]
    standing: bool = False


RESISTOR = Body("rod", 6.3, 2.3, (3, 4, 5, 6), (1, 2))
"""Metal film of 0.25 W; a lead is bent no nearer to the body than its own thickness."""
SIGNAL_DIODE = Body("rod", 4.0, 2.0, (3, 4, 5), (1, 2))
"""DO-35."""
POWER_DIODE = Body("rod", 5.2, 2.7, (3, 4, 5), (1, 2))
"""DO-41."""
CERAMIC = Body("box", 4.0, 2.5, (1, 2))
"""Several layers, on leads 2.5 mm or 5 mm apart."""
FILM = ((150e-9, 2.5), (220e-9, 3.0), (470e-9, 3.5), (1e-6, 5.0), (2.2e-6, 7.2))
"""Width in millimetres of polyester boxes of 63 V, on leads 5 mm apart, up to each capacitance."""
SMALL_FILM = ((33e-9, 2.5), (100e-9, 3.0))
"""The same of boxes on leads 2.5 mm apart."""
FILM_MM, SMALL_FILM_MM = 7.2, 4.6
"""Their lengths."""
CANS = ((22e-6, 5.0, 2.0), (100e-6, 6.3, 2.5), (220e-6, 8.0, 3.5), (470e-6, 10.0, 5.0))
"""Diameter and lead pitch in millimetres of electrolytic capacitors of up to 25 V, up to each capacitance; on a board
their legs are spread or pinched to the next holes."""
CAN_V = 25.0
"""Rated voltage up to which they are no larger."""
BIPOLAR_TIMES = 4.0
"""A bipolar electrolytic capacitor is as large as an ordinary one of so many times its value, about."""
WIRE = Body("wire", WIRE_MM, WIRE_MM, pins=1)


def chip(pins: int) -> Body:
    """Return a dual in-line package, its pin rows 7.62 mm apart, in the ordinary socket, which is as long as wide."""
    return Body("chip", PITCH_MM * pins / 2, 4 * PITCH_MM, pins=pins)


def body_of(part: Component) -> Body:
    """Return the body of a resistor, capacitor or diode.

    Raises
    ------
    CircuitError
        When a part's size is not known.
    """
    amount = part.amount or 0.0
    if part.kind == "resistor":
        return RESISTOR
    if part.kind == "diode":
        return POWER_DIODE if part.value == PROTECTION else SIGNAL_DIODE
    if part.kind == "electrolytic":
        return _can(part, amount)
    if part.kind == "capacitor":
        if part.role.startswith("decoupling.") or amount < CERAMIC_BELOW_FARAD:
            return CERAMIC
        if amount > FILM_UP_TO_FARAD:
            return _can(part, BIPOLAR_TIMES * amount)
        small = next((width for most, width in SMALL_FILM if amount <= most), 0.0)
        width = next(width for most, width in FILM if amount <= most)
        return Body("box", FILM_MM, width, (2,), small_width_mm=small)
    raise CircuitError(
        f"a layout needs parts of a known size, got {part.reference}, {part.value or part.kind} ({part.kind}); "
        "known are resistors, capacitors up to 470 µF, diodes and the chips of the parts list"
    )


def _can(part: Component, amount: float) -> Body:
    """Return the body of a round electrolytic capacitor."""
    for most, diameter_mm, pitch_mm in CANS:
        if amount <= most:
            spans = (1, 2) if diameter_mm > 7.0 else (1,)
            return Body("can", diameter_mm, diameter_mm, spans, pitch_mm=pitch_mm)
    raise CircuitError(
        f"a layout needs parts of a known size, got {part.reference}, {part.value} ({part.kind}); the largest known is "
        f"{CANS[-1][0] * 1e6:g} µF, {CANS[-1][1]:g} mm across"
    )


def stances(body: Body) -> list[Stance]:
    """Return every way in which a part can stand, its first leg on one hole."""
    if body.outline == "wire":
        half = body.width_mm / 2
        return [Stance(((0, 0),), ((-half, -half, half, half),))]
    if body.outline == "chip":
        return [_chip(body, turned=turned) for turned in (False, True)]
    if body.outline == "box" and body.small_width_mm:
        small = Body("box", *body.sold_size_mm(1), (1,))
        return [*_two_legged(body), *_two_legged(small)]
    return _two_legged(body)


def _two_legged(body: Body) -> list[Stance]:
    """Return every way in which a part with two legs can stand."""
    found = []
    for across in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        found += [_on_both(body, span, across) for span in body.spans]
        for span in body.standing_spans:
            found += [_on_end(body, span, across, on_first=on_first) for on_first in (True, False)]
    return found


def _chip(body: Body, *, turned: bool) -> Stance:
    """Return a chip with pin 1 on top left, or turned half round; its rows run across the strips."""
    rows, sign = body.pins // 2, -1 if turned else 1
    legs = [(0, row) for row in range(rows)] + [(3, row) for row in reversed(range(rows))]
    middle = 1.5 * PITCH_MM * sign, (rows - 1) / 2 * PITCH_MM * sign
    holes = tuple((sign * column, sign * row) for column, row in legs)
    return Stance(holes, (_box(middle, body.width_mm, body.length_mm),))


def _on_both(body: Body, span: int, across: tuple[int, int]) -> Stance:
    """Return a part that lies, or stands on both legs, its second leg so many holes away."""
    end = span * across[0], span * across[1]
    middle = PITCH_MM * end[0] / 2, PITCH_MM * end[1] / 2
    boxes = [_box(middle, *_turned(body.length_mm, body.width_mm, across))]
    if body.outline == "rod":
        boxes.append(_box(middle, *_turned(span * PITCH_MM + LEAD_MM, LEAD_MM, across)))
    return Stance(((0, 0), end), tuple(boxes))


def _on_end(body: Body, span: int, across: tuple[int, int], *, on_first: bool) -> Stance:
    """Return a rod on its end over one of its legs, the other lead led down beside it."""
    end = span * across[0], span * across[1]
    foot = (0.0, 0.0) if on_first else (PITCH_MM * end[0], PITCH_MM * end[1])
    middle = PITCH_MM * end[0] / 2, PITCH_MM * end[1] / 2
    lead = _box(middle, *_turned(span * PITCH_MM + LEAD_MM, LEAD_MM, across))
    return Stance(((0, 0), end), (_box(foot, body.width_mm, body.width_mm), lead), standing=True)


def _turned(length: float, width: float, across: tuple[int, int]) -> tuple[float, float]:
    """Return width and height of what lies along a direction."""
    return (length, width) if across[0] else (width, length)


def _box(middle: tuple[float, float], width: float, height: float) -> tuple[float, float, float, float]:
    """Return left, top, right and bottom of a rectangle."""
    return middle[0] - width / 2, middle[1] - height / 2, middle[0] + width / 2, middle[1] + height / 2
