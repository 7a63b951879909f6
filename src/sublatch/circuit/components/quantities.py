"""Quantities as fields: texts such as ``"4k7"`` become floats in SI units, within what can be built."""

from __future__ import annotations

from numbers import Real
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from sublatch import units
from sublatch.checked import Unit, shown

UNITY: Literal["unity"] = "unity"
"""The word for the volume knob's position at which the effect is as loud as the bypassed take."""


def _position(value: Any) -> float:
    """Return a knob's position, or say what it must be."""
    if isinstance(value, bool) or not isinstance(value, Real):
        hint = "; only the volume knob can stand at unity" if value == UNITY else ""
        raise ValueError(f"a knob's position is a number from 0 to 10, got {shown(value)}{hint}")
    try:
        position = float(value)
    except OverflowError:
        raise ValueError(f"a knob's position must be 0 (fully anticlockwise) to 10, got {shown(value)}") from None
    if not 0.0 <= position <= 10.0:
        tenth = f"; was it meant as {position / 10:g}?" if 10.0 < position <= 100.0 and position != 11 else ""
        raise ValueError(f"a knob's position must be 0 (fully anticlockwise) to 10, got {position:g}{tenth}")
    return position


def _position_or_unity(value: Any) -> Any:
    """Return the volume knob's position, or the word unity, or say what it must be."""
    if isinstance(value, str):
        if value.strip() != UNITY:
            raise ValueError(f'the volume knob\'s position is a number from 0 to 10 or "{UNITY}", got {shown(value)}')
        return UNITY
    return _position(value)


def _part_or_none(value: Any) -> Any:
    """Return nothing for the word none, by which a part is taken out of a circuit file."""
    return None if value == "none" else value


LEFT_OUT = BeforeValidator(_part_or_none)
"""For a field of a part that may be left out."""

Ohms = Annotated[float, BeforeValidator(units.ohms), Unit("Ω"), Field(ge=0.1, le=100e6)]
"""A resistance, 0.1 Ω to 100 MΩ."""

OptionalOhms = Annotated[Ohms | None, LEFT_OUT]
"""A resistance, or ``"none"`` for a resistor that is not there."""

Farads = Annotated[float, BeforeValidator(units.farads), Unit("F"), Field(ge=1e-12, le=0.1)]
"""A capacitance, 1 pF to 0.1 F."""

Volts = Annotated[float, BeforeValidator(units.volts), Unit("V"), Field(ge=0.0, le=100.0)]
"""A voltage, 0 to 100 V."""

OptionalVolts = Annotated[Volts | None, LEFT_OUT]
"""A voltage, or ``"none"`` for a setting that is not there."""

Amperes = Annotated[float, BeforeValidator(units.amperes), Unit("A"), Field(ge=-1e-3, le=1e-3)]
"""A current, −1 mA to 1 mA; of the sign that its setting says."""

OptionalAmps = Annotated[Amperes | None, LEFT_OUT]
"""A current, or ``"none"`` for a setting that is not there."""

Supply = Annotated[float, BeforeValidator(units.volts), Unit("V"), Field(ge=1.0, le=60.0)]
"""A supply voltage, 1 to 60 V."""

Seconds = Annotated[float, BeforeValidator(units.seconds), Unit("s"), Field(ge=0.0, le=10.0)]
"""A duration, 0 to 10 s."""

Decibels = Annotated[float, BeforeValidator(units.decibels), Unit("dB"), Field(ge=-200.0, le=60.0)]
"""A gain, −200 to 60 dB."""

Share = Annotated[float, BeforeValidator(units.fraction), Field(ge=0.0, le=1.0)]
"""A share of the whole, 0 to 1 or 0 % to 100 %."""

Position = Annotated[float, BeforeValidator(_position)]
"""A knob's position, 0 (fully anticlockwise) to 10 (fully clockwise)."""

VolumePosition = Annotated[Position | Literal["unity"], BeforeValidator(_position_or_unity)]
"""The volume knob's position, or ``"unity"``: found on a take before anything is worked out with it."""
