"""Detectors whose parts are off: where offsets, input currents and leakage bring nets and thresholds, by hand.

Each op-amp's offset, each comparator's offset and input current and each store's diode's leakage acts at rest through
resistors alone, since capacitors carry nothing then.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from front_equations import Real
from sublatch.circuit.detectors.front import Front, Parts, Rectifier
from sublatch.circuit.detectors.logarithmic_latch import LogarithmicLatch
from sublatch.circuit.detectors.overtone import Overtone
from sublatch.circuit.detectors.thresholds import Side, Thresholds
from sublatch.circuit.model import Circuit

KINK = 22 / (15 + 150)
"""How far the rectifier's kink is off: its input resistor over both that lead from one minus input to the other."""


@dataclass(frozen=True)
class Most:
    """How far parts may be off: volts, and amperes."""

    op_amp: float = 10e-3
    comparator: float = 5e-3
    input_current: float = 250e-9
    leakage: float = 25e-9


def drawn(rng: np.random.Generator, *, limits: tuple[float, float], most: Most = Most()) -> Real:
    """Return parts that are off at random, evenly up to the most; every comparator input draws alike."""
    names = ("input", "band filter", "band", "rectifier.first", "rectifier.second", "low-pass", "first", "second")
    names += ("amplifier", "store +", "store -")
    return Real(
        offset={name: float(rng.uniform(-most.op_amp, most.op_amp)) for name in names},
        comparator=(float(rng.uniform(-1, 1)) * most.comparator, float(rng.uniform(-1, 1)) * most.comparator),
        input_current=float(rng.uniform(0, most.input_current)),
        leakage=float(rng.uniform(0, most.leakage)),
        limits=limits,
    )


def with_parts_off(circuit: Circuit, real: Real) -> Circuit:
    """Return the circuit with its detector's fronts and thresholds where such parts bring them."""
    detector = circuit.detector
    made = _overtone(detector, real) if isinstance(detector, Overtone) else _logarithmic(detector, real)
    front, thresholds = made

    class Off(type(detector)):  # type: ignore[misc]
        """The same detector, its parts off."""

        @property
        def front(self) -> Front:
            return front

        @property
        def thresholds(self) -> Thresholds:
            return thresholds

    settings = {name: getattr(detector, name) for name in type(detector).model_fields}
    return circuit.model_copy(update={"detector": Off.model_construct(**settings)})


def _overtone(detector: Overtone, real: Real) -> tuple[Front, Thresholds]:
    """Front and thresholds of the overtone detector."""
    band, gain = detector.band, detector.gain
    ratio = gain.feedback_resistor / gain.input_resistor
    low_pass_v = real.of("input") + real.of("low-pass")
    idle_v = {
        "high": (1 + band.feedback_resistor / band.ground_resistor) * real.of("band"),
        "rectifier.coupled": KINK * real.of("rectifier.second"),
        "amplified": (1 + ratio) * real.of("first") - ratio * low_pass_v,
        "loud": (1 + gain.second_feedback_resistor / gain.second_ground_resistor) * real.of("second"),
    }
    lower = detector.fraction * detector.hold_resistor
    sides = _sides(detector.thresholds, real, upper=detector.hold_resistor - lower, lower=lower)
    return _at_rest(detector.front, idle_v, 2 * real.input_current * gain.last_resistor), sides


def _logarithmic(detector: LogarithmicLatch, real: Real) -> tuple[Front, Thresholds]:
    """Front and thresholds of the logarithmic latch; its amplifier's offset is at its output as it is."""
    sides = _sides(detector.thresholds, real, upper=0.0, lower=detector.hold_resistor)
    return _at_rest(detector.front, {}, real.of("amplifier")), sides


def _at_rest(front: Front, idle_v: dict[str, float], output_v: float) -> Front:
    """Return the front with its nets where they are at rest."""
    stages = []
    for stage in front.stages:
        bends = tuple(replace(bend, idle_v=idle_v.get(bend.input, 0.0)) for bend in stage.bends)
        if isinstance(stage, Rectifier):
            stages.append(replace(stage, kink_v=bends[0].idle_v))
        else:
            stages.append(replace(stage, bends=bends) if isinstance(stage, Parts) else stage)
    return replace(front, stages=tuple(stages), idle_v=output_v)


def _sides(ideal: Thresholds, real: Real, *, upper: float, lower: float) -> Thresholds:
    """Return thresholds with a current into each tap, a leak from each store, and offsets.

    Below the bias all is turned round, but for the currents and the op-amps' offsets.
    """
    made: list[Side] = []
    for sign, side, name, beyond in zip((1.0, -1.0), ideal.sides, ("store +", "store -"), real.comparator, strict=True):
        into = sign * real.input_current
        made.append(
            replace(
                side,
                rest_v=side.rest_v + into * lower - real.leakage * (upper + lower),
                added_v=side.added_v + into * upper * lower / (upper + lower) + beyond,
                charge_shift_v=sign * real.of(name),
            )
        )
    return replace(ideal, positive=made[0], negative=made[1])
