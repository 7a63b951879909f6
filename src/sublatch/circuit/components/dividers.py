"""Two resistors that divide a voltage, of values that are sold."""

from __future__ import annotations

from sublatch.circuit.components.preferred import nearest, values_between
from sublatch.errors import CircuitError

STRING_AMP = 100e-6
"""Current of a divider from the supply: much more than what it feeds draws, little for a battery."""
SPREAD = 2.0
"""How far a divider's total may lie from what was asked, as a ratio, for the sake of a truer share."""


def divider(share: float, *, total_ohm: float) -> tuple[float, float]:
    """Return two E24 resistors, upper and lower, of which the lower is a share of both.

    Parameters
    ----------
    share
        Lower over both, above 0 and below 1.
    total_ohm
        About what both come to, in ohms; half to twice of it is taken for a truer share.

    Returns
    -------
    tuple
        Upper and lower resistor in ohms; of equally true ones those nearest to the total.

    Raises
    ------
    CircuitError
        When the share is not between 0 and 1.
    """
    if not 0.0 < share < 1.0:
        raise CircuitError(f"a divider's share must be above 0 and below 1, got {share:g}")
    wanted = share / (1.0 - share)
    best: tuple[float, float, float, float] | None = None
    for lower in values_between(total_ohm * share / SPREAD, total_ohm * share * SPREAD):
        upper = nearest(float(lower) / wanted)
        ratio = float(lower) / upper / wanted
        error, away = max(ratio, 1 / ratio), (upper + float(lower)) / total_ohm
        key = (round(error, 9), round(max(away, 1 / away), 9), upper, float(lower))
        best = key if best is None else min(best, key)
    assert best is not None
    return best[2], best[3]


def loaded_v(far: float, near: float, *, available_v: float, drawn_a: float) -> float:
    """Return what a divider of two resistors gives of so many volts while a current is drawn from it."""
    return (available_v - drawn_a * far) * near / (far + near)


def reference_divider(wanted_v: float, *, available_v: float, name: str, drawn_a: float = 0.0) -> tuple[float, float]:
    """Return the two resistors that make a small reference of the supply on one side of the bias.

    Parameters
    ----------
    wanted_v
        The reference, in volts from the bias.
    available_v
        How far the supply's end is from there.
    name
        The setting that it is for.
    drawn_a
        What is drawn from it.

    Raises
    ------
    CircuitError
        When the supply does not reach so far.
    """
    if wanted_v >= available_v:
        raise CircuitError(
            f"{name} must lie between the bias and the supply's end, got {wanted_v:g} V where there are "
            f"{available_v:g} V; is the supply too low, or was it meant in millivolts?"
        )
    if drawn_a == 0.0:
        return divider(wanted_v / available_v, total_ohm=available_v / STRING_AMP)
    least = wanted_v / STRING_AMP / SPREAD
    pairs = (
        (nearest(float(near) * (available_v - wanted_v) / (wanted_v + drawn_a * float(near))), float(near))
        for near in values_between(least, least * SPREAD**2)
    )
    return min(pairs, key=lambda pair: abs(loaded_v(*pair, available_v=available_v, drawn_a=drawn_a) - wanted_v))
