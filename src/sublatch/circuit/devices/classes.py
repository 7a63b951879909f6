"""Classes of parts: what matters of op-amps, comparators, diodes, switches and transconductance pairs.

Values are those of makers' data sheets at 25 °C, **from memory** unless a class's source says otherwise; typical is
what most have, worst is what all of them keep. Where makers differ, the plain grade counts.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Spread:
    """A value's typical size and its worst, both in the unit that the field's name has."""

    typical: float
    worst: float


@dataclass(frozen=True)
class DeviceClass:
    """What every class of part has.

    Attributes
    ----------
    name
        Its word in a circuit file.
    what
        What it is, in a few words.
    types
        Common industry types that qualify, to buy.
    least_v, most_v
        The supply that it needs and the one that it bears, in volts from end to end.
    source
        Where the values are from.
    """

    name: str
    what: str
    types: tuple[str, ...]
    least_v: float
    most_v: float
    source: str


@dataclass(frozen=True)
class OpAmpClass(DeviceClass):
    """An op-amp.

    Attributes
    ----------
    offset_v
        Input offset voltage, of either sign.
    bias_a
        Input bias current, into the input where positive and out of it where negative.
    gain_bandwidth_hz
        Frequency at which its gain has fallen to 1.
    swing_low_v, swing_high_v
        How near its output comes to the supply's negative and positive end, with a light load.
    input_low_v, input_high_v
        How near its inputs may go to the supply's negative and positive end.
    quiescent_a
        What one op-amp of it draws.
    noise_v_rthz
        Input noise in the middle of the audio band, volts over the root of a hertz.
    """

    offset_v: Spread
    bias_a: Spread
    gain_bandwidth_hz: float
    swing_low_v: Spread
    swing_high_v: Spread
    input_low_v: Spread
    input_high_v: Spread
    quiescent_a: Spread
    noise_v_rthz: float


@dataclass(frozen=True)
class ComparatorClass(DeviceClass):
    """A comparator.

    Attributes
    ----------
    offset_v, bias_a
        As of an op-amp.
    output
        ``open-collector``: it only pulls down and needs a pull-up resistor; ``push-pull`` drives both ways.
    input_high_v
        How near its inputs may go to the supply's positive end; they may go to its negative end.
    quiescent_a
        What one comparator of it draws.
    """

    offset_v: Spread
    bias_a: Spread
    output: str
    input_high_v: Spread
    quiescent_a: Spread


@dataclass(frozen=True)
class DiodeClass(DeviceClass):
    """A small-signal diode; it has no supply of its own, and bears what `most_v` says in reverse.

    Attributes
    ----------
    leakage_a
        What it lets through in reverse at a few volts.
    """

    leakage_a: Spread


@dataclass(frozen=True)
class SwitchClass(DeviceClass):
    """An analogue switch and the flip-flops of the same family.

    Attributes
    ----------
    resistance_ohm
        When closed, at a supply of 9 to 10 V.
    leakage_a
        When open.
    charge_c
        What a change of its control pushes into its output.
    """

    resistance_ohm: Spread
    leakage_a: Spread
    charge_c: Spread


@dataclass(frozen=True)
class PairClass(DeviceClass):
    """A transconductance amplifier.

    Attributes
    ----------
    offset_v, bias_a
        As of an op-amp; the bias current at a control current of 0.5 mA.
    linear_range_v
        Input at which its tanh has an argument of 1: 2 kT/q.
    noise_v_rthz
        Input noise, volts over the root of a hertz.
    most_control_a
        The largest control current.
    """

    offset_v: Spread
    bias_a: Spread
    linear_range_v: float
    noise_v_rthz: float
    most_control_a: float
