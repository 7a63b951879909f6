"""The classes of parts that a circuit file can name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, TypeVar

from sublatch.circuit.devices.classes import (
    ComparatorClass,
    DeviceClass,
    DiodeClass,
    OpAmpClass,
    PairClass,
    Spread,
    SwitchClass,
)

OpAmpName = Literal["fet-input", "low-power-fet-input", "bipolar", "single-supply", "rail-to-rail"]
ComparatorName = Literal["open-collector", "open-collector-low-offset", "cmos-open-drain"]
DiodeName = Literal["switching", "low-leakage", "schottky"]
SwitchName = Literal["cmos"]
PairName = Literal["transconductance"]

MEMORY = "makers' data sheets, from memory"
THERMAL_V = 25.69e-3
"""kT/q at 25 °C (CODATA 2018: k/q = 86.17 µV/K, times 298.15 K)."""

Class = TypeVar("Class", bound=DeviceClass)


def _named(*classes: Class) -> Mapping[str, Class]:
    """Return classes by their names."""
    return {one.name: one for one in classes}


OP_AMPS: Mapping[str, OpAmpClass] = _named(
    OpAmpClass(
        name="fet-input",
        what="dual op-amp with junction-FET inputs",
        types=("TL072", "TL082", "LF353"),
        least_v=7.0,
        most_v=36.0,
        source="Texas Instruments TL072 data sheet: swing and input range at ±15 V, noise; the rest from memory",
        offset_v=Spread(3e-3, 10e-3),
        bias_a=Spread(65e-12, 200e-12),
        gain_bandwidth_hz=3e6,
        swing_low_v=Spread(1.5, 3.0),
        swing_high_v=Spread(1.5, 3.0),
        input_low_v=Spread(3.0, 4.0),
        input_high_v=Spread(0.0, 4.0),
        quiescent_a=Spread(1.4e-3, 2.5e-3),
        noise_v_rthz=15e-9,
    ),
    OpAmpClass(
        name="low-power-fet-input",
        what="dual op-amp with junction-FET inputs that draws little",
        types=("TL062",),
        least_v=7.0,
        most_v=36.0,
        source=MEMORY,
        offset_v=Spread(3e-3, 15e-3),
        bias_a=Spread(30e-12, 400e-12),
        gain_bandwidth_hz=1e6,
        swing_low_v=Spread(1.5, 3.0),
        swing_high_v=Spread(1.5, 3.0),
        input_low_v=Spread(3.0, 4.0),
        input_high_v=Spread(0.0, 4.0),
        quiescent_a=Spread(0.2e-3, 0.25e-3),
        noise_v_rthz=42e-9,
    ),
    OpAmpClass(
        name="bipolar",
        what="dual op-amp with bipolar inputs",
        types=("RC4558", "NJM4558"),
        least_v=8.0,
        most_v=36.0,
        source=MEMORY,
        offset_v=Spread(0.5e-3, 6e-3),
        bias_a=Spread(-150e-9, -500e-9),
        gain_bandwidth_hz=3e6,
        swing_low_v=Spread(1.0, 3.0),
        swing_high_v=Spread(1.0, 3.0),
        input_low_v=Spread(1.0, 3.0),
        input_high_v=Spread(1.0, 3.0),
        quiescent_a=Spread(1.25e-3, 2.8e-3),
        noise_v_rthz=8e-9,
    ),
    OpAmpClass(
        name="single-supply",
        what="dual op-amp whose inputs and output reach the negative end",
        types=("LM358", "LM2904"),
        least_v=3.0,
        most_v=32.0,
        source="Texas Instruments LM358 data sheet: swing, noise; the rest from memory",
        offset_v=Spread(3e-3, 7e-3),
        bias_a=Spread(-20e-9, -250e-9),
        gain_bandwidth_hz=0.7e6,
        swing_low_v=Spread(0.005, 0.02),
        swing_high_v=Spread(1.5, 2.0),
        input_low_v=Spread(0.0, 0.0),
        input_high_v=Spread(1.5, 2.0),
        quiescent_a=Spread(0.35e-3, 0.6e-3),
        noise_v_rthz=45e-9,
    ),
    OpAmpClass(
        name="rail-to-rail",
        what="dual CMOS op-amp whose output reaches both ends",
        types=("TLC2272",),
        least_v=4.4,
        most_v=16.0,
        source=MEMORY,
        offset_v=Spread(0.3e-3, 2.5e-3),
        bias_a=Spread(1e-12, 100e-12),
        gain_bandwidth_hz=2.2e6,
        swing_low_v=Spread(0.02, 0.15),
        swing_high_v=Spread(0.02, 0.15),
        input_low_v=Spread(0.0, 0.0),
        input_high_v=Spread(1.0, 1.5),
        quiescent_a=Spread(1.1e-3, 1.5e-3),
        noise_v_rthz=9e-9,
    ),
)

COMPARATORS: Mapping[str, ComparatorClass] = _named(
    ComparatorClass(
        name="open-collector",
        what="dual comparator with open collectors",
        types=("LM393", "LM2903"),
        least_v=2.0,
        most_v=36.0,
        source=MEMORY,
        offset_v=Spread(1e-3, 5e-3),
        bias_a=Spread(-25e-9, -250e-9),
        output="open-collector",
        input_high_v=Spread(1.5, 2.0),
        quiescent_a=Spread(0.2e-3, 0.5e-3),
    ),
    ComparatorClass(
        name="open-collector-low-offset",
        what="dual comparator with open collectors, of the better grade",
        types=("LM393A", "LM393B"),
        least_v=2.0,
        most_v=36.0,
        source=MEMORY,
        offset_v=Spread(1e-3, 2.5e-3),
        bias_a=Spread(-25e-9, -250e-9),
        output="open-collector",
        input_high_v=Spread(1.5, 2.0),
        quiescent_a=Spread(0.2e-3, 0.5e-3),
    ),
    ComparatorClass(
        name="cmos-open-drain",
        what="dual CMOS comparator with open drains",
        types=("TLC393",),
        least_v=3.0,
        most_v=16.0,
        source=MEMORY,
        offset_v=Spread(1.4e-3, 5e-3),
        bias_a=Spread(5e-12, 1e-9),
        output="open-collector",
        input_high_v=Spread(1.0, 1.5),
        quiescent_a=Spread(11e-6, 20e-6),
    ),
)

DIODES: Mapping[str, DiodeClass] = _named(
    DiodeClass("switching", "silicon switching diode", ("1N4148", "1N914"), 0.0, 75.0, MEMORY, Spread(5e-9, 25e-9)),
    DiodeClass(
        "low-leakage", "silicon diode of low leakage", ("1N3595", "BAV45"), 0.0, 35.0, MEMORY, Spread(10e-12, 1e-9)
    ),
    DiodeClass("schottky", "small-signal Schottky diode", ("BAT85", "BAT42"), 0.0, 30.0, MEMORY, Spread(0.2e-6, 2e-6)),
)

SWITCHES: Mapping[str, SwitchClass] = _named(
    SwitchClass(
        name="cmos",
        what="standard CMOS switch and flip-flops",
        types=("CD4053B", "CD4013B"),
        least_v=3.0,
        most_v=18.0,
        source="Texas Instruments SCHS047 and SCHS023E (CD4053B, CD4013B): supply; the rest from memory",
        resistance_ohm=Spread(180.0, 400.0),
        leakage_a=Spread(0.3e-9, 100e-9),
        charge_c=Spread(5e-12, 30e-12),
    ),
)

PAIRS: Mapping[str, PairClass] = _named(
    PairClass(
        name="transconductance",
        what="dual transconductance amplifier",
        types=("LM13700",),
        least_v=6.0,
        most_v=36.0,
        source="Texas Instruments LM13700 data sheet: the law of its pair; the rest from memory",
        offset_v=Spread(0.4e-3, 4e-3),
        bias_a=Spread(0.4e-6, 5e-6),
        linear_range_v=2 * THERMAL_V,
        noise_v_rthz=10e-9,
        most_control_a=2e-3,
    ),
)
