"""What the differential equations are solved for: a smooth line of two notes, a circuit's values as plain numbers."""

import numpy as np

from circuit_equations import Values
from sublatch.circuit.detectors.peak_latch import PeakLatch


def two_notes(t):
    """An E and, from 0.4 s on, the A above it, each with overtones, rising and dying smoothly; volts."""
    total = 0.0
    for start, pitch in ((0.02, 41.2034), (0.4, 55.0)):
        since = t - start
        if since > 0:
            envelope = since**4 / (since**4 + 0.012**4) * np.exp(-2.5 * since)
            for harmonic, share in ((1, 0.5), (2, 0.45), (3, 0.2), (5, 0.08)):
                total += 0.4 * envelope * share * np.sin(2 * np.pi * harmonic * pitch * since)
    return total


def by_hand(circuit):
    """The circuit's values as plain numbers."""
    filter_, mix, output, detector = circuit.filter, circuit.mix, circuit.output, circuit.detector
    latch = isinstance(detector, PeakLatch)
    lower, upper = output.pot.resistances(circuit.knobs.volume)
    direct_lower, direct_upper = mix.direct_pot.resistances(circuit.knobs.direct)
    gang, start = filter_.pot.resistances(circuit.tone)[1], filter_.start_resistor
    resistor = filter_.end_resistor + (gang if start is None else gang * start / (gang + start))
    return Values(
        input_c=circuit.input.coupling,
        input_r=circuit.input.resistance,
        detector_r=detector.filter.first_resistor,
        detector_c=(
            detector.filter.first_ground_capacitor,
            detector.filter.feedback_capacitor,
            detector.filter.second_ground_capacitor,
        ),
        fraction=detector.fraction if latch else 0.0,
        hold_s=detector.hold_resistor * detector.hold_capacitor if latch else 1.0,
        floor=detector.floor if latch else detector.hysteresis,
        gains=circuit.octave.gains,
        filter_r=resistor,
        filter_ground_c=getattr(filter_.ground_capacitor, circuit.peak),
        filter_feedback_c=getattr(filter_.feedback_capacitor, circuit.peak),
        mix_r=(mix.octave_resistor, mix.direct_resistor),
        direct_upper=direct_upper,
        direct_lower=direct_lower,
        coupling_c=output.coupling,
        volume_upper=upper + (output.trim_resistor or 0.0),
        volume_lower=lower,
        load=output.load,
        gain=1 + output.feedback_resistor / output.ground_resistor,
        limits=(output.low_margin - circuit.supply / 2, circuit.supply / 2 - output.high_margin),
    )
