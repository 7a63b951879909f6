"""What `benchmark.py` holds the program's speed against: the least that any rendering does, and a plain script.

The plain script is what a player who knows NumPy and SciPy writes in an evening: everything at eight times the rate,
the comparator and the switching on whole samples. It uses nothing of the package.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
import soxr
from scipy.signal import butter, lfilter, resample_poly, sosfilt

from sublatch.arrays import Signal, Whole

OVERSAMPLING = 8
DETECTOR_HZ, HYSTERESIS = 150.0, 0.01
CORNER_HZ = 272.0


def floor(source: Path, target: Path) -> None:
    """Read a file, bring it to twice its rate and back, and write it: no rendering can take less."""
    samples, rate = soundfile.read(source)
    doubled = soxr.resample(samples, rate, 2 * rate, quality="VHQ")
    soundfile.write(target, soxr.resample(doubled, 2 * rate, rate, quality="VHQ"), rate, subtype="PCM_24")


def plain_octave(source: Path, target: Path) -> None:
    """Write the gated octave of a file behind a first-order low-pass, as a plain script makes it."""
    samples, rate = soundfile.read(source)
    fine = resample_poly(samples, OVERSAMPLING, 1)
    fast = OVERSAMPLING * rate
    detected = sosfilt(butter(2, DETECTOR_HZ, fs=fast, output="sos"), fine)
    gated = fine * (np.cumsum(_rises(detected)) % 2)
    pole = np.exp(-2.0 * np.pi * CORNER_HZ / fast)
    softened = lfilter([1.0 - pole], [1.0, -pole], gated)
    soundfile.write(target, resample_poly(softened, 1, OVERSAMPLING), rate, subtype="PCM_24")


def _rises(detected: Signal) -> Whole:
    """Return 1 at every sample where a comparator with hysteresis goes high, else 0."""
    outside = np.where(detected > HYSTERESIS, 1, np.where(detected < -HYSTERESIS, -1, 0))
    last = np.maximum.accumulate(np.where(outside != 0, np.arange(len(outside)), 0))
    high = outside[last] > 0
    return np.diff(high, prepend=False).clip(min=0).astype(np.int64) * high
