"""A detector's thresholds with the devices that it is built of: offsets, bias currents, leakage.

What each does follows from how `board.latch` builds a side: a store that a follower reads, whose output is divided; a
store whose hold resistor is divided; or a store with a tap a fixed step below it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from sublatch.circuit.detectors.thresholds import FRACTION_OHM, STEP_TIMES, Side, Thresholds
from sublatch.circuit.devices.errors import (
    comparator_bias_a,
    comparator_offset_v,
    diode_leakage_a,
    op_amp_bias_a,
    op_amp_offset_v,
)
from sublatch.circuit.model import Circuit

COMPARATORS = ("latch.set", "latch.reset")
"""Their roles: the one above the bias, and the one below it."""


def real_thresholds(circuit: Circuit) -> Thresholds:
    """Return when a circuit's comparators set and reset, as its devices have it.

    Notes
    -----
    A comparator's bias current is taken to flow all the time; its sign is that of its class.
    """
    thresholds = circuit.detector.thresholds
    if circuit.devices.values == "ideal":
        return thresholds
    positive = _Half(circuit, "positive", COMPARATORS[0], 1.0)
    negative = _Half(circuit, "negative", COMPARATORS[1], -1.0)
    return replace(thresholds, positive=positive.side(thresholds), negative=negative.side(thresholds))


@dataclass(frozen=True)
class _Half:
    """One side of the bias: its name, its comparator's, and 1 above the bias, −1 below it."""

    circuit: Circuit
    name: str
    comparator: str
    sign: float

    def side(self, thresholds: Thresholds) -> Side:
        """Return the side's law with what its devices are off."""
        law, devices = self._ideal(thresholds), self.circuit.devices
        offset_v = comparator_offset_v(devices, self.comparator)
        law = replace(law, added_v=law.added_v - offset_v, least_v=law.least_v - offset_v if law.least_v else 0.0)
        if law.share == 0.0:
            return law
        charge, hold_ohm = f"latch.{self.name}.charge", thresholds.hold_ohm
        lost_a = diode_leakage_a(devices, f"latch.{self.name}.diode") + self.sign * op_amp_bias_a(devices, charge)
        law = replace(
            law,
            rest_v=law.rest_v - lost_a * hold_ohm,
            charge_shift_v=self.sign * op_amp_offset_v(devices, charge),
        )
        given_a = -self.sign * comparator_bias_a(devices, self.comparator)
        if self._ideal(thresholds).rest_v == 0.0:
            return self._followed(law, given_a, hold_ohm)
        if law.share == 1.0:
            return self._stepped(law, given_a, hold_ohm, thresholds)
        return _tapped(law, given_a, hold_ohm)

    def _ideal(self, thresholds: Thresholds) -> Side:
        """Return the side's law as drawn."""
        return thresholds.positive if self.sign > 0.0 else thresholds.negative

    def _followed(self, law: Side, given_a: float, hold_ohm: float) -> Side:
        """Return the law of a store that a follower reads, whose output is divided."""
        follower, devices = f"latch.{self.name}.follower", self.circuit.devices
        added_v = self.sign * law.share * op_amp_offset_v(devices, follower)
        added_v += given_a * law.share * (1.0 - law.share) * FRACTION_OHM
        rest_v = law.rest_v - self.sign * op_amp_bias_a(devices, follower) * hold_ohm
        return replace(law, added_v=law.added_v + added_v, rest_v=rest_v)

    def _stepped(self, law: Side, given_a: float, hold_ohm: float, thresholds: Thresholds) -> Side:
        """Return the law of a store with a tap a fixed step below it, by a string to the supply's far end."""
        ideal = self._ideal(thresholds)
        idle_v = self.circuit.output.bias * self.circuit.supply
        far_v = idle_v if self.sign > 0.0 else self.circuit.supply - idle_v
        step_ohm = -ideal.added_v / (far_v + ideal.rest_v) * STEP_TIMES * hold_ohm
        return replace(law, rest_v=law.rest_v + given_a * hold_ohm, added_v=law.added_v + given_a * step_ohm)


def _tapped(law: Side, given_a: float, hold_ohm: float) -> Side:
    """Return the law of a store whose hold resistor is divided, with a current into the tap.

    At rest the current flows through the lower part alone, which lifts store and tap; what the store does not hold up
    besides lies across both parts side by side.
    """
    lower_ohm = law.share * hold_ohm
    lifted_v = given_a * lower_ohm
    return replace(law, rest_v=law.rest_v + lifted_v, added_v=law.added_v + lifted_v * (1.0 - law.share))
