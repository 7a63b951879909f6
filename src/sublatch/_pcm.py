"""Samples as the 24-bit integers of a sound file, and what is wrong with those that cannot be."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sublatch.errors import AudioDataError

MOST_CHANNELS = 8
"""Most channels that are written."""
FULL_SCALE = 2.0**23
"""Value of a 24-bit sample at full scale."""


def quantised(samples: NDArray[np.float64], sample_rate: int) -> NDArray[np.int32]:
    """Return samples as 24-bit integers in the upper bytes of 32, of shape (n, channels), for `write_audio`."""
    samples = np.asarray(samples)
    if samples.dtype.kind != "f":
        raise AudioDataError(f"samples must be floats within ±1, got {samples.dtype}; divide by their full scale")
    columns = samples[:, None] if samples.ndim == 1 else samples
    if columns.ndim != 2 or not 1 <= columns.shape[1] <= MOST_CHANNELS or len(columns) == 0:
        hint = "; is it transposed?" if columns.ndim == 2 and 1 <= len(columns) <= MOST_CHANNELS else ""
        raise AudioDataError(
            f"samples must be of shape (n,) or (n, 1 to {MOST_CHANNELS} channels), got {samples.shape}{hint}"
        )
    if not (columns.min() >= -1.0 and columns.max() <= 1.0):
        raise AudioDataError(_what_does_not_fit(columns, sample_rate))
    scaled = columns * FULL_SCALE
    np.minimum(np.rint(scaled, out=scaled), FULL_SCALE - 1, out=scaled)
    return np.ascontiguousarray(scaled.astype(np.int32) << 8)


def _what_does_not_fit(columns: NDArray[np.float64], sample_rate: int) -> str:
    """Return the message about samples that are no numbers or beyond full scale."""
    bad = ~np.isfinite(columns)
    if bad.any():
        first_s = np.flatnonzero(bad.any(axis=1))[0] / sample_rate
        return f"every sample must be a number, got {np.count_nonzero(bad)} that are not, first at {first_s:.4f} s"
    peak = np.max(np.abs(columns))
    first_s = np.flatnonzero((np.abs(columns) > 1.0).any(axis=1))[0] / sample_rate
    return (
        f"samples must be within ±1 (0 dBFS), got a peak of {peak:.4g} ({20 * np.log10(peak):+.1f} dBFS), over first "
        f"at {first_s:.4f} s; lower the level"
    )
