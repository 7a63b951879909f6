"""When a comparator sets and resets: by what a peak store of either side holds, or at fixed volts."""

from __future__ import annotations

from dataclasses import dataclass

FRACTION_OHM = 100e3
"""Both resistors together that divide what a follower reads of a store; drawn choice."""
STEP_TIMES = 10.0
"""By how much what draws a fixed step's current is larger than the hold resistor; drawn choice."""


@dataclass(frozen=True)
class Side:
    """One side of the bias, in volts away from it: above it for the set, below it for the reset.

    The comparator acts above max(share · held + added_v, least_v). What its peak store holds empties towards rest_v,
    where it begins, and follows the signal's peaks as far as charge_shift_v above them.

    Attributes
    ----------
    rest_v
        What the store empties towards.
    share
        Share of what is held, 0 to 1; at 0 there is no store.
    added_v
        What comes on top: of ideal parts a fixed voltage, of real ones an offset and what currents drop too.
    charge_shift_v
        How far above a peak the store is charged: the offset of the op-amp that charges it, 0 of ideal parts.
    least_v
        Least threshold, whatever is held.
    """

    rest_v: float = 0.0
    share: float = 0.0
    added_v: float = 0.0
    charge_shift_v: float = 0.0
    least_v: float = 0.0

    @property
    def idle_v(self) -> float:
        """The threshold when nothing has been heard for long."""
        return max(self.share * self.rest_v + self.added_v, self.least_v)


@dataclass(frozen=True)
class Thresholds:
    """When the comparator sets, above the bias, and when it resets, likewise below it.

    Attributes
    ----------
    positive, negative
        Both sides.
    setting
        The setting below the detector that the idle thresholds come from, such as ``floor``.
    hold_ohm, hold_farad
        What empties each peak store: the settings ``hold_resistor`` and ``hold_capacitor``; 0 without stores.
    """

    positive: Side
    negative: Side
    setting: str
    hold_ohm: float = 0.0
    hold_farad: float = 0.0

    @property
    def sides(self) -> tuple[Side, Side]:
        """The positive and the negative side."""
        return self.positive, self.negative

    @property
    def fixed(self) -> bool:
        """Whether there are no peak stores."""
        return self.positive.share == self.negative.share == 0.0

    @property
    def least_v(self) -> float:
        """The lower of both idle thresholds, in volts."""
        return min(side.idle_v for side in self.sides)

    @property
    def hold_s(self) -> float:
        """Time constant of the peak stores in seconds."""
        return self.hold_ohm * self.hold_farad


def alike(side: Side, *, setting: str, hold_ohm: float = 0.0, hold_farad: float = 0.0) -> Thresholds:
    """Return thresholds that are the same on both sides."""
    return Thresholds(side, side, setting, hold_ohm, hold_farad)
