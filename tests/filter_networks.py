"""Networks of the ready-made kinds of filter with any values, those that no circuit file may have too."""

from __future__ import annotations

from sublatch.circuit.components.controls import Pot, SwitchedCapacitor
from sublatch.circuit.components.pots import FULL_TURN
from sublatch.circuit.filters.first_order import FirstOrder
from sublatch.circuit.filters.none import NoFilter
from sublatch.circuit.filters.second_order import SecondOrder
from sublatch.circuit.filters.swept_second_order import SweptSecondOrder
from sublatch.circuit.filters.third_order import ThirdOrder
from sublatch.circuit.networks.solver import Network


def none() -> Network:
    """Return a plain wire."""
    return NoFilter().network(tone=None, peak=None)


def first_order(*, resistor_ohm: float, capacitor_farad: float) -> Network:
    """Return a resistor into a capacitor to ground, and a follower."""
    made = FirstOrder.model_construct(resistor=resistor_ohm, capacitor=capacitor_farad)
    return made.network(tone=None, peak=None)


def second_order(*, first_ohm: float, second_ohm: float, ground_farad: float, feedback_farad: float) -> Network:
    """Return a Sallen-Key low-pass."""
    made = SecondOrder.model_construct(
        first_resistor=first_ohm,
        second_resistor=second_ohm,
        ground_capacitor=ground_farad,
        feedback_capacitor=feedback_farad,
    )
    return made.network(tone=None, peak=None)


def limited_second_order(
    *, gang_ohm: float, start_ohm: float, end_ohm: float, ground_farad: float, feedback_farad: float
) -> Network:
    """Return a swept low-pass with start resistors, so much left of each gang."""
    made = SweptSecondOrder.model_construct(
        pot=Pot.model_construct(value=gang_ohm or 1.0, taper="linear"),
        start_resistor=start_ohm,
        end_resistor=end_ohm,
        ground_capacitor=SwitchedCapacitor.model_construct(flat=ground_farad, peaked=ground_farad),
        feedback_capacitor=SwitchedCapacitor.model_construct(flat=feedback_farad, peaked=feedback_farad),
    )
    return made.network(tone=0.0 if gang_ohm else FULL_TURN, peak="flat")


def third_order(
    *,
    first_ohm: float,
    second_ohm: float,
    third_ohm: float,
    first_ground_farad: float,
    feedback_farad: float,
    second_ground_farad: float,
) -> Network:
    """Return a third-order low-pass."""
    made = ThirdOrder.model_construct(
        first_resistor=first_ohm,
        second_resistor=second_ohm,
        third_resistor=third_ohm,
        first_ground_capacitor=first_ground_farad,
        feedback_capacitor=feedback_farad,
        second_ground_capacitor=second_ground_farad,
    )
    return made.network(tone=None, peak=None)
