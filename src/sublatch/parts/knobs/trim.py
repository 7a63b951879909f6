"""The fixed resistor ahead of the volume pot that puts unity where the player wants it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from sublatch.circuit.components import preferred
from sublatch.circuit.model import Circuit
from sublatch.circuit.with_settings import with_settings
from sublatch.errors import CircuitError
from sublatch.signal.node_voltages import OutputSources
from sublatch.signal.unity import Measure, effect_gain_db, unity, volume_gain_db

LEAST_OHM, MOST_OHM = 1.0, 100e6
"""Between them a trim resistor is worth soldering, and can be bought."""
LEAST_GROUND_OHM = 100.0
"""Less asks more current of the output buffer than its gain is worth."""
NOTHING_DB = 0.05
"""A trim that takes out less is not worth its resistor."""


@dataclass(frozen=True)
class Trim:
    """A trim resistor and what it does.

    Attributes
    ----------
    wanted_position
        Where unity shall be, 0 to 10.
    resistor_ohm
        The E24 value for `output.trim_resistor`; None where no trim is needed, or none helps.
    exact_ohm
        The value that would put unity exactly there.
    takes_out_db
        Gain that it takes out with the knob fully clockwise, in dB.
    position, excess_gain_db
        Unity and the gain in hand above it with that value, measured again; without a trim where there is none.
    possible
        Whether unity can be there; where it cannot, it is above that position even without a trim.
    missing_db
        Gain that would have to be added where it cannot, in dB; None elsewhere, and where the knob is off.
    ground_resistor_ohm
        E24 value for `output.ground_resistor` that would add it; None where it is not missing, or no value can.
    """

    wanted_position: float
    resistor_ohm: float | None
    exact_ohm: float | None
    takes_out_db: float
    position: float | None
    excess_gain_db: float
    possible: bool = True
    missing_db: float | None = None
    ground_resistor_ohm: float | None = None


def trim(source: OutputSources, circuit: Circuit, *, position: float, measure: Measure = "loudness") -> Trim:
    """Return the trim resistor that puts unity at a position of the volume knob.

    Parameters
    ----------
    source
        The take, from `output_sources`.
    circuit
        The circuit; the trim resistor that it has is left out first.
    position
        Where unity shall be, 0 to 10.
    measure
        As for `unity`.

    Raises
    ------
    CircuitError
        When the position is not 0 to 10.
    AudioDataError
        When the take is silent.
    """
    check_position(position)
    plain = with_settings(circuit, {"output.trim_resistor": None})
    untrimmed = unity(source, plain, measure=measure)
    none = Trim(position, None, None, 0.0, untrimmed.position, untrimmed.excess_gain_db)
    excess_db = effect_gain_db(source, with_settings(plain, {"knobs.volume": position}), measure=untrimmed.measure)
    if excess_db is None:
        return replace(none, possible=False)
    if excess_db < -NOTHING_DB:
        more_gain_ohm = _more_gain_ohm(plain, -excess_db)
        return replace(none, possible=False, missing_db=-excess_db, ground_resistor_ohm=more_gain_ohm)
    exact_ohm = exact_trim_ohm(plain, position, excess_db)
    if excess_db < NOTHING_DB or exact_ohm is None:
        return none
    return _trimmed(source, plain, position, exact_ohm, excess_db, untrimmed.measure)


def check_position(position: float) -> None:
    """Refuse a position for unity that a knob does not have.

    Raises
    ------
    CircuitError
        When it is not 0 to 10.
    """
    if not 0.0 <= position <= 10.0:
        tenth = f"; was it meant as {position / 10.0:g}?" if 10.0 < position <= 100.0 else ""
        raise CircuitError(f"unity can be at 0 to 10 of the volume knob, got {position:g}{tenth}")


def _trimmed(
    source: OutputSources, plain: Circuit, position: float, exact_ohm: float, excess_db: float, measure: Measure
) -> Trim:
    """Return the better of the two E24 values around the exact one, measured again."""
    near = {preferred.nearest(exact_ohm), preferred.below(exact_ohm), preferred.above(exact_ohm)}
    best = min(sorted(near), key=lambda ohm: abs(taken_out_db(plain, position, ohm) - excess_db))
    trimmed = unity(source, with_settings(plain, {"output.trim_resistor": best}), measure=measure)
    return Trim(
        wanted_position=position,
        resistor_ohm=best,
        exact_ohm=exact_ohm,
        takes_out_db=taken_out_db(plain, 10.0, best),
        position=trimmed.position,
        excess_gain_db=trimmed.excess_gain_db,
    )


def exact_trim_ohm(plain: Circuit, position: float, excess_db: float) -> float | None:
    """Return the resistance that takes out a gain at a position; None where none does."""

    def miss(log_ohm: float) -> float:
        ohm = min(float(np.exp(log_ohm)), MOST_OHM)  # the logarithm of the most is rounded
        return taken_out_db(plain, position, ohm) - excess_db

    low, high = np.log(LEAST_OHM), np.log(MOST_OHM)
    if miss(low) > 0.0 or miss(high) < 0.0:
        return None
    return float(np.exp(brentq(miss, low, high, xtol=1e-9)))


def taken_out_db(plain: Circuit, position: float, trim_ohm: float) -> float:
    """Return the gain in dB that a trim resistor takes out at a position."""
    return volume_gain_db(plain, position) - volume_gain_db(
        with_settings(plain, {"output.trim_resistor": trim_ohm}), position
    )


def _more_gain_ohm(circuit: Circuit, missing_db: float) -> float | None:
    """Return the ground resistor that raises the output buffer's gain 1 + Rf/Rg by at least so much."""
    output = circuit.output
    gain = (1.0 + output.feedback_resistor / output.ground_resistor) * 10.0 ** (missing_db / 20.0)
    exact_ohm = output.feedback_resistor / (gain - 1.0)
    return preferred.below(exact_ohm) if exact_ohm > LEAST_GROUND_OHM else None
