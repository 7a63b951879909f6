"""What is measured of one sound of an audition, and kept for the next run."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sublatch.arrays import Signal
from sublatch.audition.listen.balance import REGIONS_HZ, audible_powers
from sublatch.sampling.bands import band_edges_hz, powers_between
from sublatch.sampling.levels import SINE_DB, Levels, levels


@dataclass(frozen=True)
class Measurements:
    """What is measured of a sound, before any gain.

    Attributes
    ----------
    levels
        Relative to full scale.
    regions
        Its mean square in weight, body and bite, of full scale squared; 0 where there is nothing.
    bands_db
        Third-octave levels relative to a full-scale sine, 20 Hz to 5 kHz; None in a band without anything.
    at_limit_share
        Share of time that the circuit's output was at its limits, 0 to 1.
    """

    levels: Levels
    regions: tuple[float, ...]
    bands_db: tuple[float | None, ...]
    at_limit_share: float = 0.0


def measure(
    samples: Signal, *, sample_rate: int, full_scale_volts: float = 1.0, at_limit_share: float = 0.0
) -> Measurements:
    """Return what is measured of a sound.

    Parameters
    ----------
    samples
        Volts (n,).
    sample_rate
        Samples per second.
    full_scale_volts
        What 0 dBFS stands for.
    at_limit_share
        Share of time that the circuit's output was at its limits, 0 to 1, from the rendering.
    """
    regions, bands = _powers(samples / full_scale_volts, sample_rate)
    return Measurements(
        levels=levels(samples, sample_rate=sample_rate, full_scale_volts=full_scale_volts),
        regions=tuple(float(power) for power in audible_powers(regions)),
        bands_db=tuple(float(10.0 * np.log10(power)) + SINE_DB if power > 0.0 else None for power in bands),
        at_limit_share=at_limit_share,
    )


def _powers(samples: Signal, sample_rate: int) -> tuple[Signal, Signal]:
    """Return the mean square in weight, body and bite (3,) and in third octaves (25,), from one spectrum."""
    edges_hz = np.union1d(REGIONS_HZ, band_edges_hz())
    powers = powers_between(samples, sample_rate=sample_rate, edges_hz=edges_hz)
    regions, bands = (
        np.array([np.sum(powers[first:last]) for first, last in pairwise(np.searchsorted(edges_hz, band_edges))])
        for band_edges in (REGIONS_HZ, band_edges_hz())
    )
    return regions, bands
