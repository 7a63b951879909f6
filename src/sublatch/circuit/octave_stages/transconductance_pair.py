"""A gate made of a transconductance pair on a single supply: its parts' values from the circuit's settings.

The pair gives I tanh(u / 2V) for u volts between its inputs, V = kT/q (Texas Instruments LM13700 data sheet, from
ln(I5/I4) = u/V; from memory). A divider brings the note down to u = k x, so that tanh has an argument of 1 at
r = 2V / k, the circuit's linear range. An op-amp turns the pair's current into volts, −R I, the note going to the minus
input so that its sign is kept. With I R = r the gain for a small note is k I R / 2V = 1, and the output r tanh(x / r).
"""

from __future__ import annotations

from dataclasses import dataclass

from sublatch.circuit.components.preferred import below, nearest, values_between
from sublatch.circuit.devices.catalogue import PAIRS
from sublatch.errors import CircuitError
from sublatch.units import format_volts

PAIR = PAIRS["transconductance"]
LEAST_RANGE_V, MOST_RANGE_V = 10e-3, 10.0
"""Linear ranges that are drawn: below, offsets and noise are no longer small beside the note; above, no note bends."""
MOST_SHARE = 0.5
"""What the divider passes at most: for a smaller linear range an amplifier goes ahead of it."""
SHUNT_OHM = (1e3, 3.9e3)
"""Range of the divider's lower resistor: so small that the pair's bias current, and with it the drive, hardly shows."""
LOAD_OHM = 10e3
"""About what turns the pair's current into volts; drawn choice."""
CONTROL_A = (20e-6, 200e-6)
"""Least and most control current: little beside what the flip-flop that gives it can drive."""
CONTROL_V = 1.3
"""Two base-emitter voltages from the control pin to the negative end (data sheet's schematic; from memory)."""
MISS = 1.01
"""By how large a ratio resistors may miss, far within what the control pin's voltage and the warmth of the room do."""
TRIM_OHM, LEAST_TRIM_V, NOTE_V = 100e3, 10e-3, 30e-3
"""The trimmer, the least offset that it takes away to either side, and that of the note which it takes away too, since
what stands at the input at rest is switched like the note."""


@dataclass(frozen=True)
class PairStage:
    """The parts' values, all in ohms.

    Attributes
    ----------
    lift
        Feedback and ground resistor of an amplifier ahead of the divider; None without one.
    source, shunt
        The divider: from the note to the pair's minus input, and from there to the bias.
    balance
        From the pair's plus input to the bias: as much as the minus input sees.
    trim
        From the trimmer's wiper to the plus input.
    control
        From the drive to the control pin.
    load
        From the pair's output to that of the op-amp that keeps it at the bias.
    control_a
        The control current while the drive is high, in amperes.
    trim_v
        What the trimmer takes away between the pair's inputs, to either side at least, in volts.
    """

    lift: tuple[float, float] | None
    source: float
    shunt: float
    balance: float
    trim: float
    control: float
    load: float
    control_a: float
    trim_v: float

    @property
    def share(self) -> float:
        """What of the note is between the pair's inputs."""
        lifted = 1.0 if self.lift is None else 1.0 + self.lift[0] / self.lift[1]
        return lifted * self.shunt / (self.source + self.shunt)

    @property
    def linear_range_v(self) -> float:
        """Input at which tanh has an argument of 1."""
        return PAIR.linear_range_v / self.share

    @property
    def gain(self) -> float:
        """Gain for a small note while the drive is high."""
        return self.control_a * self.load / self.linear_range_v

    def feedthrough_v(self, offset_v: float) -> float:
        """Return the drive that reaches the output, peak, by an offset between the pair's inputs that nobody trims."""
        return 0.5 * offset_v * self.control_a * self.load / PAIR.linear_range_v


def pair_stage(linear_range_v: float, *, supply_v: float, bias_v: float) -> PairStage:
    """Return the values of the gate's parts.

    Parameters
    ----------
    linear_range_v
        Input at which tanh shall have an argument of 1.
    supply_v, bias_v
        The supply from end to end, and the bias above its negative end.

    Raises
    ------
    CircuitError
        When the linear range cannot be drawn, or the supply drives no current into the control pin.

    Notes
    -----
    Values are of the E24 series, or E96 where those miss by more than 1 %: linear range and gain each come out within
    1 % of what is wanted.
    """
    _must_fit(linear_range_v, supply_v)
    wanted = PAIR.linear_range_v / linear_range_v
    lift, share = None, wanted
    if wanted > MOST_SHARE:
        lift, share = _two(2.0 * wanted - 1.0, low=5.1e3, high=20e3), MOST_SHARE
    source, shunt = _two((1.0 - share) / share, low=SHUNT_OHM[0], high=SHUNT_OHM[1])
    balance = nearest(source * shunt / (source + shunt))
    least, most = CONTROL_A
    amps = min(max(linear_range_v / LOAD_OHM, least), most)
    across_v = supply_v - CONTROL_V
    lifted = 1.0 if lift is None else 1.0 + lift[0] / lift[1]
    drawn_v = PAIR.linear_range_v * (source + shunt) / shunt / lifted
    load, control = _two(drawn_v / across_v, low=across_v / amps / 1.5, high=across_v / amps * 1.2)
    trim_v = max(LEAST_TRIM_V, PAIR.offset_v.worst + NOTE_V * wanted)
    trim = below(min(bias_v, supply_v - bias_v) * balance / trim_v)
    return PairStage(lift, source, shunt, balance, trim, control, load, across_v / control, trim_v)


def _must_fit(linear_range_v: float, supply_v: float) -> None:
    """Refuse what cannot be drawn."""
    if not LEAST_RANGE_V <= linear_range_v <= MOST_RANGE_V:
        hint = "leave it out, and the gate is a switch" if linear_range_v > MOST_RANGE_V else "give it more"
        raise CircuitError(
            f"octave.linear_range must be from {format_volts(LEAST_RANGE_V)} to {format_volts(MOST_RANGE_V)} for a "
            f"board, got {format_volts(linear_range_v)}; {hint} (what is only rendered may have any)"
        )
    if supply_v <= 2.0 * CONTROL_V:
        raise CircuitError(
            f"supply must be above {format_volts(2.0 * CONTROL_V)} to drive the transconductance pair of "
            f"octave.linear_range, got {format_volts(supply_v)}"
        )


def _two(ratio: float, *, low: float, high: float) -> tuple[float, float]:
    """Return two resistors of a ratio, the second of E24 in a range, the first of E96 where E24 misses by 1 %."""
    best = (ratio, 1.0)
    for series in ("E24", "E96"):
        pairs = [(nearest(ratio * float(second), series), float(second)) for second in values_between(low, high)]
        best = min(pairs, key=lambda pair: (_away(pair[0] / pair[1], ratio), pair))
        if _away(best[0] / best[1], ratio) <= MISS:
            break
    return best


def _away(value: float, wanted: float) -> float:
    """Return by how large a ratio a value misses another, 1 or more."""
    return max(value / wanted, wanted / value)
